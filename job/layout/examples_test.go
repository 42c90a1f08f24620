package layout

import (
	"context"
	"testing"
)

// Worked examples with printed optima.
func TestWorkedExamplesOfBars(t *testing.T) {
	type bar struct {
		x int64
		n int
	}
	for _, ex := range []struct {
		source string
		stock  int64
		parts  []bar
		want   int64
	}{
		// The relaxation is worth 452 1/4; 453 raws are cut.
		{"V. Chvatal, Linear Programming (1983), chapter 13", 100,
			[]bar{{45, 97}, {36, 610}, {31, 395}, {14, 211}}, 453},
		{"the paper machine of the encyclopedia article on the cutting stock problem", 5600,
			[]bar{{1380, 22}, {1520, 25}, {1560, 12}, {1710, 14}, {1820, 18}, {1880, 18}, {1930, 20},
				{2000, 10}, {2050, 12}, {2100, 14}, {2140, 16}, {2150, 18}, {2200, 20}}, 73},
	} {
		p := &Problem{Stocks: []Stock{{X: ex.stock, Qty: -1}}}
		for _, b := range ex.parts {
			p.Parts = append(p.Parts, Part{X: b.x, Qty: b.n})
		}
		r, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, r); err != nil {
			t.Errorf("%s: %v", ex.source, err)
		}
		if r.Used.Value != ex.want || !r.Used.Proved {
			t.Errorf("%s: %d bars, bound %d, printed %d", ex.source, r.Used.Value, r.Used.Bound, ex.want)
		}
	}
}

// Lists whose answer can be seen by hand.
func TestAnswersSeenByHand(t *testing.T) {
	for _, ex := range []struct {
		name       string
		p          Problem
		cost, used int64
		unplaced   int
	}{
		{"the kerf takes the last part", Problem{Kerf: 1, Stocks: []Stock{{X: 30, Y: 10, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 3}}}, 10, 2, 0},
		{"the last cut may run off the sheet", Problem{Kerf: 3, Stocks: []Stock{{X: 24, Y: 10, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 2}}}, 5, 1, 0},
		{"the trim is lost", Problem{Stocks: []Stock{{X: 22, Y: 12, Trim: Trim{1, 1, 1, 1}, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 3}}}, 10, 2, 0},
		{"grain keeps a part from turning", Problem{Stocks: []Stock{{X: 20, Y: 10, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 20, Qty: 1}}}, 0, 0, 1},
		{"a part may turn", Problem{Stocks: []Stock{{X: 20, Y: 10, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 20, Qty: 1, Turn: true}}}, 5, 1, 0},
		{"what is on hand goes first", Problem{Stocks: []Stock{{X: 20, Y: 10, Price: 5, Qty: -1}, {X: 11, Y: 10, Qty: 2, OnHand: true}}, Parts: []Part{{X: 10, Y: 10, Qty: 2}}}, 0, 2, 0},
		{"a group shares a sheet", Problem{Stocks: []Stock{{X: 20, Y: 10, Price: 5, Qty: -1}, {X: 30, Y: 10, Price: 20, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 3, Group: "a"}}}, 20, 1, 0},
		{"a group too large for any sheet", Problem{Stocks: []Stock{{X: 20, Y: 10, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 3, Group: "a"}}}, 0, 0, 3},
		{"a cheap small sheet beats a large one", Problem{Stocks: []Stock{{X: 20, Y: 10, Price: 9, Qty: -1}, {X: 10, Y: 10, Price: 5, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 3}}}, 14, 2, 0},
		{"stock that runs out", Problem{Stocks: []Stock{{X: 10, Y: 10, Price: 5, Qty: 2}}, Parts: []Part{{X: 10, Y: 10, Qty: 3}}}, 10, 2, 1},
		{"only the stock that is allowed", Problem{Stocks: []Stock{{X: 10, Y: 10, Price: 1, Qty: -1}, {X: 10, Y: 10, Price: 7, Qty: -1}}, Parts: []Part{{X: 10, Y: 10, Qty: 1, Stocks: []int{1}}}}, 7, 1, 0},
		{"a defect in the middle of a board", Problem{Stocks: []Stock{{X: 30, Y: 10, Price: 5, Qty: -1, Defects: []Rect{{10, 2, 5, 3}}}}, Parts: []Part{{X: 10, Y: 10, Qty: 2}}}, 5, 1, 0},
		{"a defect that splits a bar", Problem{Kerf: 1, Stocks: []Stock{{X: 30, Price: 5, Qty: -1, Defects: []Rect{{14, 0, 2, 1}}}}, Parts: []Part{{X: 14, Qty: 2}, {X: 15, Qty: 1}}}, 5, 1, 1},
		// Round a middle piece: five parts that no straight cut can part.
		{"a pinwheel cannot be cut", Problem{Stocks: []Stock{{X: 3, Y: 3, Price: 5, Qty: -1}}, Parts: []Part{{X: 2, Y: 1, Qty: 2}, {X: 1, Y: 2, Qty: 2}, {X: 1, Y: 1, Qty: 1}}}, 10, 2, 0},
		{"one stage makes strips only", Problem{MaxStages: 1, Stocks: []Stock{{X: 20, Y: 20, Price: 5, Qty: -1}}, Parts: []Part{{X: 20, Y: 10, Qty: 2}, {X: 20, Y: 5, Qty: 1}}}, 10, 2, 0},
	} {
		r, err := Solve(context.Background(), &ex.p, Options{Work: 100_000})
		if err != nil {
			t.Fatalf("%s: %v", ex.name, err)
		}
		if err := Check(&ex.p, r); err != nil {
			t.Errorf("%s: %v", ex.name, err)
		}
		n := 0
		for _, u := range r.Unplaced {
			n += u.Qty
		}
		if r.Cost.Value != ex.cost || r.Used.Value != ex.used || n != ex.unplaced {
			t.Errorf("%s: cost %d, %d sheets, %d unplaced; want %d, %d, %d", ex.name, r.Cost.Value, r.Used.Value, n, ex.cost, ex.used, ex.unplaced)
		}
	}
}
