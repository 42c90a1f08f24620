package schedule

import (
	"context"
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The published single-mode sets: PSPLIB (Kolisch, Sprecher, EJOR 96, 1997) and
// the sets with least and most lags (Kolisch, Schwindt, Sprecher 1999; Franck,
// Neumann, Schwindt, OR Spektrum 23, 2001). They are read in place.
var (
	rcpspDir    = flag.String("rcpsp", "../../../shared/data/rcpsp", "folder with the published instances")
	rcpspSets   = flag.String("sets", "j30,ubo10,ubo20,j10max,j20max", "sets to run")
	rcpspStride = flag.Int("stride", 0, "run every n-th instance (0: a small sample)")
	rcpspFrom   = flag.Int("first", 0, "index of the first instance")
	rcpspLimit  = flag.Duration("limit", 0, "time limit an instance (0: none, a fixed work budget)")
	rcpspWork   = flag.Int64("work", 3_000_000, "work budget an instance when there is no time limit")
	rcpspWorker = flag.Int("workers", 1, "searches side by side")
	rcpspList   = flag.Bool("each", false, "print every instance")
)

var numbers = regexp.MustCompile(`-?\d+`)

func ints(line string) []int {
	var out []int
	for _, s := range numbers.FindAllString(line, -1) {
		v, _ := strconv.Atoi(s)
		out = append(out, v)
	}
	return out
}

// readSM reads a PSPLIB single-mode file.
func readSM(text string) *Problem {
	p := &Problem{}
	section := ""
	var n int
	for _, line := range strings.Split(text, "\n") {
		switch {
		case strings.HasPrefix(line, "jobs (incl"):
			n = ints(line)[0]
			p.Activities = make([]Activity, n)
		case strings.HasPrefix(line, "horizon"):
			p.Horizon = int64(ints(line)[0])
		case strings.HasPrefix(line, "PRECEDENCE"), strings.HasPrefix(line, "REQUESTS"), strings.HasPrefix(line, "RESOURCEAVAIL"):
			section = line[:4]
		case strings.HasPrefix(line, "***"), strings.HasPrefix(line, "---"), strings.HasPrefix(line, "jobnr"):
		default:
			v := ints(line)
			if len(v) == 0 || strings.Contains(line, "R ") && section != "" {
				continue
			}
			switch section {
			case "PREC":
				for _, s := range v[3:] {
					p.Lags = append(p.Lags, Lag{From: v[0] - 1, FromEnd: true, To: s - 1})
				}
			case "REQU":
				a := &p.Activities[v[0]-1]
				a.Name, a.Work, a.Calendar = fmt.Sprint(v[0]), int64(v[2]), Always
				for r, q := range v[3:] {
					if q > 0 {
						a.Needs = append(a.Needs, Need{r, q})
					}
				}
			case "RESO":
				for r, c := range v {
					p.Resources = append(p.Resources, Resource{fmt.Sprintf("R%d", r+1), c})
				}
				section = ""
			}
		}
	}
	return p
}

// readSCH reads a ProGen/max file.
func readSCH(text string) *Problem {
	p := &Problem{}
	lines := strings.Split(strings.TrimSpace(text), "\n")
	n := ints(lines[0])[0] + 2
	p.Activities = make([]Activity, n)
	total := int64(0)
	for i := 0; i < n; i++ {
		v := ints(lines[1+i])
		m := v[2]
		worst := int64(0)
		for k := 0; k < m; k++ {
			d := int64(v[3+m+k])
			p.Lags = append(p.Lags, Lag{From: v[0], To: v[3+k], Min: d})
			worst = max(worst, d)
		}
		w := ints(lines[1+n+i])
		a := &p.Activities[w[0]]
		a.Name, a.Work, a.Calendar = fmt.Sprint(w[0]), int64(w[2]), Always
		for r, q := range w[3:] {
			if q > 0 {
				a.Needs = append(a.Needs, Need{r, q})
			}
		}
		total += max(worst, a.Work)
		if i < n-1 {
			p.Lags = append(p.Lags, Lag{From: i, FromEnd: true, To: n - 1})
		}
	}
	for r, c := range ints(lines[1+2*n]) {
		p.Resources = append(p.Resources, Resource{fmt.Sprintf("R%d", r+1), c})
	}
	p.Horizon = max(total, 1)
	return p
}

type reference struct {
	name   string
	cpm    int64
	lb, ub int64
	status string
	path   string
}

func references(t testing.TB, set string) []reference {
	dir, ext := filepath.Join(*rcpspDir, "rcpspmax", set), ".sch"
	if !strings.HasPrefix(set, "ubo") && !strings.HasSuffix(set, "max") {
		dir, ext = filepath.Join(*rcpspDir, "psplib", set), ".sm"
	}
	f, err := os.Open(filepath.Join(*rcpspDir, "reference", set+".csv"))
	if err != nil {
		t.Skipf("published instances not found: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []reference
	for _, r := range rows[1:] {
		ref := reference{name: r[0], status: r[7], path: filepath.Join(dir, r[0]+ext)}
		ref.cpm, _ = strconv.ParseInt(r[4], 10, 64)
		ref.lb, _ = strconv.ParseInt(r[5], 10, 64)
		ref.ub, _ = strconv.ParseInt(r[6], 10, 64)
		out = append(out, ref)
	}
	return out
}

func readPublished(t testing.TB, r reference) *Problem {
	text, err := os.ReadFile(r.path)
	require.NoError(t, err)
	if strings.HasSuffix(r.path, ".sm") {
		return readSM(string(text))
	}
	return readSCH(string(text))
}

// TestPublished solves published instances and holds every value, bound and
// claim against the best values known. With -limit it reports the figures of a
// whole sweep, as in:
//
//	go test ./job/schedule -run Published -rcpsp <dir> -sets j30 -stride 1 -limit 60s -timeout 0 -v
func TestPublished(t *testing.T) {
	for _, set := range strings.Split(*rcpspSets, ",") {
		t.Run(set, func(t *testing.T) { sweep(t, set) })
	}
}

func sweep(t *testing.T, set string) {
	refs := references(t, set)
	if *rcpspLimit > 0 {
		defer func(v bool) { debugChecks = v }(debugChecks)
		debugChecks = false
	}
	stride := *rcpspStride
	if stride <= 0 {
		stride = 17
	}
	var times []time.Duration
	var total time.Duration
	proved, count, feasible := 0, 0, 0
	gap, refGap, bestGap := 0.0, 0.0, 0.0
	var open []string
	for k := *rcpspFrom; k < len(refs); k += stride {
		r := refs[k]
		p := readPublished(t, r)
		ctx, opt := context.Background(), Options{Work: *rcpspWork, Workers: *rcpspWorker, Levels: 2}
		cancel := func() {}
		if *rcpspLimit > 0 {
			opt.Work = 1 << 60
			ctx, cancel = context.WithTimeout(ctx, *rcpspLimit)
		}
		begin := time.Now()
		res, err := Solve(ctx, p, opt)
		took := time.Since(begin)
		cancel()
		times = append(times, took)
		total += took
		count++
		line := ""
		switch e := err.(type) {
		case nil:
			out, cerr := Evaluate(p, res.Start)
			require.NoError(t, cerr, r.name)
			f := res.Levels[Finish]
			require.Equal(t, out.Values[Finish], f.Value, r.name)
			require.NotEqual(t, "infeasible", r.status, r.name)
			require.GreaterOrEqual(t, f.Value, r.lb, "%s: better than a proved bound", r.name)
			require.LessOrEqual(t, f.Bound, r.ub, "%s: bound above a known schedule", r.name)
			require.Equal(t, f.Value == f.Bound, f.Proved, r.name)
			if f.Proved {
				proved++
			} else {
				open = append(open, fmt.Sprintf("%s[%d..%d ref %d..%d]", r.name, f.Bound, f.Value, r.lb, r.ub))
			}
			feasible++
			gap += float64(f.Value-r.cpm) / float64(r.cpm)
			refGap += float64(r.ub-r.cpm) / float64(r.cpm)
			bestGap += float64(min(r.ub, f.Value)-r.cpm) / float64(r.cpm)
			line = fmt.Sprintf("%d..%d proved %v, reference %d..%d, conflicts %d, work %d", f.Bound, f.Value, f.Proved, r.lb, r.ub, res.Conflicts, res.Work)
		case *InfeasibleError:
			require.Equal(t, "infeasible", r.status, "%s: %v", r.name, e)
			proved++
			line = "infeasible"
		case *ErrBudget:
			open = append(open, r.name+"[nothing found, ref "+r.status+"]")
			line = e.Error()
		default:
			t.Fatalf("%s: %v", r.name, err)
		}
		if *rcpspList {
			fmt.Printf("%s %.3fs %s\n", r.name, took.Seconds(), line)
		}
	}
	sort.Slice(times, func(a, b int) bool { return times[a] < times[b] })
	t.Logf("%s: %d instances, %d closed, total %.2fs, median %.3fs, worst %.3fs", set, count, proved, total.Seconds(), times[len(times)/2].Seconds(), times[len(times)-1].Seconds())
	if feasible > 0 {
		t.Logf("%s: mean gap over the critical path %.2f %% (best known %.2f %%) over %d with a schedule", set, 100*gap/float64(feasible), 100*refGap/float64(feasible), feasible)
	}
	t.Logf("%s: open: %v", set, open)
}
