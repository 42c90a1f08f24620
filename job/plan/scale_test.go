package plan

import (
	"context"
	"fmt"
	"math/rand"
	"testing"
	"time"

	"caul/job"
	"caul/job/measure"
)

// largeShop draws jobs of twenty steps each: two in five steps on a machine,
// one in five a glue-up, each after one or two before it.
func largeShop(steps int) (*job.Shop, time.Time) {
	r := rand.New(rand.NewSource(int64(steps)))
	sh := &job.Shop{Name: "large", Zone: time.UTC}
	sh.Units.Temp = "C"
	sh.Hours.Week = map[time.Weekday][]job.Window{time.Saturday: {{From: 9 * 60, To: 13 * 60}}}
	for d := time.Monday; d <= time.Friday; d++ {
		sh.Hours.Week[d] = []job.Window{{From: 19 * 60, To: 21*60 + 30}}
	}
	sh.Air.Steps = []job.AirStep{{From: 8 * 60, Temp: measure.InCelsius(18)}, {From: 22 * 60, Temp: measure.InCelsius(11)}}
	sh.Clamps = []job.Clamp{{ID: "bar", Kind: "bar", Qty: 12}}
	sh.Places = []job.Place{{ID: "table", Qty: 1}}
	sh.Machines = []job.Machine{{ID: "saw", Kind: "table-saw"}, {ID: "router", Kind: "router-table"}}
	for left, n := steps, 0; left > 0; n++ {
		j := &job.Job{ID: fmt.Sprintf("job-%02d", n), Weight: 1}
		ups := make([]job.GlueUp, 20)
		for i := 0; i < min(left, 20); i++ {
			st := job.Step{ID: fmt.Sprintf("s%02d", i), Name: fmt.Sprintf("step %d", i), Takes: measure.Span(10+5*r.Intn(8)) * measure.Minute}
			switch k := r.Intn(10); {
			case k < 2:
				ups[i] = job.GlueUp{ID: st.ID, Glue: "pva-yellow", Clamps: map[string]int{"bar": 4 + r.Intn(6)}}
				st.GlueUp, st.Place = &ups[i], []string{"", "table"}[r.Intn(2)]
			case k < 4:
				st.Machine, st.State = "saw", fmt.Sprintf("fence %d", r.Intn(3))
			case k < 6:
				st.Machine, st.State, st.Split = "router", fmt.Sprintf("bit %d", r.Intn(3)), true
			}
			for e := r.Intn(3); e > 0 && i > 0; e-- {
				p := r.Intn(i)
				from := job.FromDone
				if j.Steps[p].GlueUp != nil && r.Intn(2) == 0 {
					from = job.FromOff
				}
				st.After = append(st.After, job.Lag{Step: j.Steps[p].ID, From: from, Src: "after " + j.Steps[p].ID})
			}
			j.Steps = append(j.Steps, st)
		}
		left -= len(j.Steps)
		sh.Jobs = append(sh.Jobs, j)
	}
	return sh, time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
}

// BenchmarkPlanSteps shows how the time of a plan grows with the steps; the
// share that is proved is reported beside it.
func BenchmarkPlanSteps(b *testing.B) {
	for _, n := range []int{10, 20, 40, 80, 160, 200} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			sh, now := largeShop(n)
			proved, within := 0.0, time.Duration(0)
			for b.Loop() {
				p, err := Make(context.Background(), sh, now, Options{})
				if err != nil {
					b.Fatal(err)
				}
				if p.Proved {
					proved = 1
				}
				within = p.Within
			}
			b.ReportMetric(proved, "proved")
			b.ReportMetric(within.Hours(), "h-within")
		})
	}
}
