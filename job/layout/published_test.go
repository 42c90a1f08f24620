package layout

import (
	"bufio"
	"context"
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

var (
	cuttingDir = flag.String("cutting", "../../../shared/data/cutting", "folder with the published cutting sets")
	pubSet     = flag.String("set", "", "published set to sweep: turn, upright, bars or gcut; empty for a quick sample")
	pubStride  = flag.Int("stride", 1, "take every n-th instance of the set")
	pubOffset  = flag.Int("offset", 0, "start from this instance")
	pubSeconds = flag.Float64("seconds", 3, "time for an instance")
	pubWork    = flag.Int64("units", 0, "work for an instance, in place of -seconds")
	pubMatch   = flag.String("match", "", "only instances whose name holds this")
	pubOpen    = flag.Bool("open", false, "only instances that the reference leaves open")
	pubSeed    = flag.Uint64("seed", 1, "seed of the search")
)

func readNumbers(t testing.TB, path string) []int64 {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var ns []int64
	sc := bufio.NewScanner(f)
	sc.Split(bufio.ScanWords)
	for sc.Scan() {
		n, err := strconv.ParseInt(sc.Text(), 10, 64)
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		ns = append(ns, n)
	}
	return ns
}

// classProblem reads an instance of the two-dimensional class set.
func classProblem(t testing.TB, path string, turn bool) *Problem {
	ns := readNumbers(t, path)
	p := &Problem{Stocks: []Stock{{X: ns[1], Y: ns[2], Price: 1, Qty: -1}}}
	for ns = ns[3:]; len(ns) >= 3; ns = ns[3:] {
		p.Parts = append(p.Parts, Part{X: ns[1], Y: ns[2], Qty: 1, Turn: turn})
	}
	return p
}

func readReference(t testing.TB, name string) []map[string]string {
	f, err := os.Open(filepath.Join(*cuttingDir, "reference", name))
	if err != nil {
		t.Skipf("published sets are not here (%v); give their folder with -cutting", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, v := range row {
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

func atoi(t testing.TB, s string) int64 {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// solvePublished runs with the work or the time that the flags give.
func solvePublished(p *Problem) (*Result, error) {
	if *pubWork > 0 {
		return Solve(context.Background(), p, Options{Work: *pubWork, Seed: *pubSeed})
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(*pubSeconds*float64(time.Second)))
	defer cancel()
	return Solve(ctx, p, Options{Work: 1 << 40, Seed: *pubSeed})
}

func TestPublishedSheets(t *testing.T) {
	col := "rg"
	switch *pubSet {
	case "turn":
	case "upright":
		col = "og"
	default:
		t.Skip("run with -set turn or -set upright")
	}
	var total, lbs, ubs, proved, n int64
	for i, ref := range readReference(t, "2d-class.csv") {
		if i%*pubStride != *pubOffset || !strings.Contains(ref["instance"], *pubMatch) || *pubOpen && ref[col+"_status"] != "open" {
			continue
		}
		p := classProblem(t, filepath.Join(*cuttingDir, "2d-class", ref["instance"]+".txt"), col == "rg")
		lb, ub := atoi(t, ref[col+"_lb"]), atoi(t, ref[col+"_ub"])
		start := time.Now()
		r, err := solvePublished(p)
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, r); err != nil {
			t.Fatalf("%s: %v", ref["instance"], err)
		}
		if r.Used.Bound > ub {
			t.Errorf("%s: bound %d passes the known layout with %d", ref["instance"], r.Used.Bound, ub)
		}
		n++
		total += r.Used.Value
		lbs += lb
		ubs += ub
		if r.Used.Proved {
			proved++
		}
		mark := ""
		if r.Used.Value != ub {
			mark = fmt.Sprintf("%+d", r.Used.Value-ub)
		}
		if *pubOpen || mark != "" || r.Used.Value > lb || r.Used.Bound < lb {
			t.Logf("%s: %d, bound %d, reference %d..%d %s, %.1f s, %d work", ref["instance"], r.Used.Value, r.Used.Bound, lb, ub, mark, time.Since(start).Seconds(), r.Work)
		}
	}
	t.Logf("%s: %d instances, %d bins (reference bound %d, layout %d), %d proved", *pubSet, n, total, lbs, ubs, proved)
}

func TestPublishedBars(t *testing.T) {
	if *pubSet != "bars" {
		t.Skip("run with -set bars")
	}
	type sum struct{ n, total, low, proved, ref int64 }
	sums := map[string]*sum{}
	var names []string
	all := &sum{}
	worst := 0.0
	for i, ref := range readReference(t, "1d.csv") {
		if i%*pubStride != *pubOffset || !strings.Contains(ref["set"]+"/"+ref["instance"], *pubMatch) || *pubOpen && ref["status"] != "open" && ref["lb"] == ref["ub"] {
			continue
		}
		ns := readNumbers(t, filepath.Join(*cuttingDir, "1d", ref["set"], ref["instance"]+".txt"))
		p := &Problem{Stocks: []Stock{{X: ns[1], Price: 1, Qty: -1}}}
		for _, w := range ns[2:] {
			p.Parts = append(p.Parts, Part{X: w, Qty: 1})
		}
		start := time.Now()
		r, err := solvePublished(p)
		if err != nil {
			t.Fatal(err)
		}
		took := time.Since(start).Seconds()
		if err := Check(p, r); err != nil {
			t.Fatalf("%s: %v", ref["instance"], err)
		}
		want := atoi(t, ref["reference"])
		if r.Used.Bound > atoi(t, ref["ub"]) || r.Used.Value < atoi(t, ref["lb"]) {
			t.Errorf("%s: %d, bound %d, against a reference of %s to %s", ref["instance"], r.Used.Value, r.Used.Bound, ref["lb"], ref["ub"])
		}
		for _, s := range []*sum{all, sums[ref["set"]]} {
			if s == nil {
				s = &sum{}
				sums[ref["set"]] = s
				names = append(names, ref["set"])
			}
			s.n++
			s.total += r.Used.Value
			s.low += r.Used.Bound
			s.ref += want
			if r.Used.Proved {
				s.proved++
			}
		}
		if ref["set"] != "hard28" {
			worst = max(worst, took)
		}
		if r.Used.Value != want || !r.Used.Proved || took > 1 {
			t.Logf("%s: %d, bound %d, reference %d, %.2f s, %d work", ref["instance"], r.Used.Value, r.Used.Bound, want, took, r.Work)
		}
	}
	for _, n := range names {
		s := sums[n]
		t.Logf("%-14s %4d instances, %6d bars, bound %6d, reference %6d, %4d proved", n, s.n, s.total, s.low, s.ref, s.proved)
	}
	t.Logf("all: %d instances, %d bars, bound %d, reference %d, %d proved, slowest outside hard28 %.2f s", all.n, all.total, all.low, all.ref, all.proved, worst)
}
