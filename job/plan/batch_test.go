package plan

import (
	"context"
	"testing"

	"caul/job/schedule"
)

// Two hundred steps in ten jobs: working through the hours with one fence
// setting after another is a plan that the scheduler's own judge accepts, twice
// the same; and the plan made from it is within 5 % of the earliest finish that
// is possible, at a quarter of the default budget.
func TestManyStepsNearBound(t *testing.T) {
	if testing.Short() {
		t.Skip("a large plan")
	}
	sh, now := largeShop(200)
	w, err := newWorld(sh, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	k, err := w.translate(84, false)
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	start := k.batch(context.Background(), func(int64) { told++ })
	if start == nil || told == 0 {
		t.Fatal("no plan was drawn")
	}
	if err := schedule.Check(&k.prob, start); err != nil {
		t.Fatal(err)
	}
	again := k.batch(context.Background(), func(int64) {})
	for i := range start {
		if start[i] != again[i] {
			t.Fatalf("%s begins at %d and then at %d", k.prob.Activities[i].Name, start[i], again[i])
		}
	}
	p, err := Make(context.Background(), sh, now, Options{Budget: defaultBudget / 4})
	if err != nil {
		t.Fatal(err)
	}
	if end := p.Earliest.Add(p.Within); p.Within.Seconds() > 0.05*end.Sub(now).Seconds() {
		t.Errorf("%v from the earliest finish possible, of %v", p.Within, end.Sub(now))
	}
}

// A stopped search draws no more plans.
func TestBatchStops(t *testing.T) {
	sh, now := largeShop(100)
	w, err := newWorld(sh, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	k, err := w.translate(84, false)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if s := k.batch(ctx, func(int64) { t.Error("told of a plan") }); s != nil {
		t.Error("a plan after the stop")
	}
}
