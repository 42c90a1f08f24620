package plan

import (
	"context"
	"testing"

	"caul/job/schedule"
)

// Two hundred steps in ten jobs: the plan made at a quarter of the default
// budget passes the scheduler's own judge and is within 5 % of the earliest
// finish that is possible.
func TestManyStepsNearBound(t *testing.T) {
	if testing.Short() {
		t.Skip("a large plan")
	}
	sh, now := largeShop(200)
	p, err := Make(context.Background(), sh, now, Options{Budget: defaultBudget / 4})
	if err != nil {
		t.Fatal(err)
	}
	if end := p.Earliest.Add(p.Within); p.Within.Seconds() > 0.05*end.Sub(now).Seconds() {
		t.Errorf("%v from the earliest finish possible, of %v", p.Within, end.Sub(now))
	}
	w, err := newWorld(sh, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	k, err := w.translate(84, false)
	if err != nil {
		t.Fatal(err)
	}
	res, err := schedule.Solve(context.Background(), &k.prob, schedule.Options{Work: 200_000, Levels: schedule.Finish + 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := schedule.Check(&k.prob, res.Start); err != nil {
		t.Fatal(err)
	}
}
