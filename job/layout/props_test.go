package layout

import (
	"context"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// Equal input gives equal output.
func TestSolveRepeats(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		o := Options{Work: 2000, Seed: rapid.Uint64().Draw(t, "seed"), Workers: rapid.IntRange(0, 3).Draw(t, "workers")}
		a, err := Solve(context.Background(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Solve(context.Background(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("two answers:\n%+v\n%+v", a, b)
		}
		if err := Check(p, a); err != nil {
			t.Fatal(err)
		}
	})
}

// A bound holds for every layout, so also for what more work finds.
func TestBoundsHoldForBetterLayouts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		short, err := Solve(context.Background(), p, Options{Work: 500})
		if err != nil {
			t.Fatal(err)
		}
		long, err := Solve(context.Background(), p, Options{Work: 6_000, Seed: 7})
		if err != nil {
			t.Fatal(err)
		}
		if len(short.Unplaced) > 0 || len(long.Unplaced) > 0 {
			return
		}
		for _, a := range []*Result{short, long} {
			for _, b := range []*Result{short, long} {
				if a.Cost.Bound > b.Cost.Value {
					t.Fatalf("cost bound %d passes a layout that costs %d", a.Cost.Bound, b.Cost.Value)
				}
				if a.Cost.Value == b.Cost.Value && a.Cost.Proved && a.Bought.Bound > b.Bought.Value {
					t.Fatalf("bought bound %d passes a layout with %d", a.Bought.Bound, b.Bought.Value)
				}
				same := a.Cost.Value == b.Cost.Value && a.Bought.Value == b.Bought.Value && a.Cost.Proved && a.Bought.Proved
				if same && a.Used.Bound > b.Used.Value {
					t.Fatalf("sheet bound %d passes a layout with %d", a.Used.Bound, b.Used.Value)
				}
				if same && a.Used.Value == b.Used.Value && a.Offcut.Bound < b.Offcut.Value {
					t.Fatalf("offcut bound %d is passed by a layout with %d", a.Offcut.Bound, b.Offcut.Value)
				}
			}
		}
	})
}

// A context that has ended still gives a layout.
func TestEndedContextGivesLayout(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	p := shopList(3)
	r, err := Solve(ctx, p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := Check(p, r); err != nil {
		t.Fatal(err)
	}
	if !r.Ended || len(r.Unplaced) > 0 {
		t.Errorf("ended %v, %d parts not placed", r.Ended, len(r.Unplaced))
	}
}

// The checker must not pass a layout that is wrong in any one way.
func TestCheckFindsFaults(t *testing.T) {
	p := shopList(5)
	fresh := func() *Result {
		r, err := Solve(context.Background(), p, Options{Work: 5_000})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	leaf := func(r *Result) *Node {
		n := r.Sheets[0].Root
		for n.Near != nil {
			n = n.Near
		}
		return n
	}
	for name, spoil := range map[string]func(r *Result){
		"a part moved":           func(r *Result) { r.Sheets[0].Placed[0].X++ },
		"a part gone":            func(r *Result) { r.Sheets[0].Placed = r.Sheets[0].Placed[1:] },
		"a sheet gone":           func(r *Result) { r.Sheets = r.Sheets[1:] },
		"a sheet twice":          func(r *Result) { r.Sheets = append(r.Sheets, r.Sheets[0]) },
		"a cut moved":            func(r *Result) { r.Sheets[0].Root.At++ },
		"a piece resized":        func(r *Result) { leaf(r).W++ },
		"an offcut gone":         func(r *Result) { r.Sheets[0].Offcuts = nil },
		"a cost too low":         func(r *Result) { r.Cost.Value-- },
		"a bound past the value": func(r *Result) { r.Cost.Bound = r.Cost.Value + 1 },
		"a proof without bound":  func(r *Result) { r.Settings.Proved = !r.Settings.Proved },
		"cuts miscounted":        func(r *Result) { r.Cuts++ },
		"another stock":          func(r *Result) { r.Sheets[0].Stock = 1 - min(r.Sheets[0].Stock, 1) },
		"a part listed as left":  func(r *Result) { r.Unplaced = append(r.Unplaced, Unplaced{0, 1, OutOfStock, false}) },
	} {
		r := fresh()
		if name == "an offcut gone" && len(r.Sheets[0].Offcuts) == 0 {
			continue
		}
		spoil(r)
		if Check(p, r) == nil {
			t.Errorf("%s: passed", name)
		}
	}
	for name, spoil := range map[string]func(p *Problem){
		"grain":  func(p *Problem) { p.Parts = turnAll(p.Parts, false) },
		"kerf":   func(p *Problem) { p.Kerf++ },
		"trim":   func(p *Problem) { p.Stocks[0].Trim.Left++; p.Stocks[1].Trim.Left++ },
		"stages": func(p *Problem) { p.MaxStages = 1 },
		"defect": func(p *Problem) {
			for i := range p.Stocks {
				p.Stocks[i].Defects = []Rect{{0, 0, p.Stocks[i].X, p.Stocks[i].Y}}
			}
		},
		"qty": func(p *Problem) {
			for i := range p.Stocks {
				p.Stocks[i].Qty = 0
			}
		},
	} {
		q := *p
		q.Stocks = append([]Stock{}, p.Stocks...)
		q.Parts = append([]Part{}, p.Parts...)
		spoil(&q)
		if Check(&q, fresh()) == nil {
			t.Errorf("another %s: passed", name)
		}
	}
}

func turnAll(ps []Part, turn bool) []Part {
	for i := range ps {
		ps[i].Turn = turn
	}
	return ps
}
