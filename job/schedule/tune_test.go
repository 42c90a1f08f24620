package schedule

import (
	"context"
	"flag"
	"fmt"
	"strings"
	"testing"
)

var tuneNames = flag.String("tune", "", "set:instance,set:instance to run with the work budget")

// TestTune runs named instances with -work, for tuning.
func TestTune(t *testing.T) {
	if *tuneNames == "" {
		t.Skip("no instances named")
	}
	total, conf, closed := int64(0), int64(0), 0
	for _, s := range strings.Split(*tuneNames, ",") {
		set, name, _ := strings.Cut(s, ":")
		for _, r := range references(t, set) {
			if r.name != name {
				continue
			}
			res, err := Solve(context.Background(), readPublished(t, r), Options{Work: *rcpspWork, Workers: *rcpspWorker, Levels: 2})
			if err != nil {
				fmt.Println(s, err)
				continue
			}
			f := res.Levels[Finish]
			fmt.Printf("%s %d..%d ref %d..%d work %d conflicts %d\n", s, f.Bound, f.Value, r.lb, r.ub, res.Work, res.Conflicts)
			total += res.Work
			conf += res.Conflicts
			if f.Proved {
				closed++
			}
		}
	}
	fmt.Println("total work", total, "conflicts", conf, "closed", closed)
}
