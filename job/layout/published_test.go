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
		ctx, cancel := context.WithTimeout(context.Background(), time.Duration(*pubSeconds*float64(time.Second)))
		start := time.Now()
		r, err := Solve(ctx, p, Options{Work: 1 << 40, Seed: *pubSeed})
		cancel()
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
			t.Logf("%s: %d, bound %d, reference %d..%d %s, %.1f s %d rounds, %d work", ref["instance"], r.Used.Value, r.Used.Bound, lb, ub, mark, time.Since(start).Seconds(), testRounds, r.Work)
		}
	}
	t.Logf("%s: %d instances, %d bins (reference bound %d, layout %d), %d proved", *pubSet, n, total, lbs, ubs, proved)
}
