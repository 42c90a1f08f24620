package layout

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

var (
	shopLists   = flag.Int("shoplists", 24, "how many generated shop cut lists to lay out")
	shopUnits   = flag.Int64("shopunits", 100_000, "work for each of them")
	shopVerbose = flag.Bool("shopverbose", false, "a line for each list")
)

const (
	inch      = int64(10_160_000) // of the unit that the project counts lengths in
	sixteenth = inch / 16
)

// shopList makes a cut list as a shop might have: 5 to 150 parts, two or three
// sizes of sheet, some offcuts on hand, a kerf of 1/8 in, half the parts locked
// to the grain, some groups that must come from one sheet.
func shopList(seed uint64) *Problem {
	r := rand.New(rand.NewPCG(seed, 77))
	p := &Problem{Kerf: inch / 8, KeepX: 6 * inch, KeepY: 3 * inch}
	trim := Trim{inch / 4, inch / 4, inch / 4, inch / 4}
	p.Stocks = []Stock{
		{Name: "full", X: 96 * inch, Y: 48 * inch, Trim: trim, Price: 6400 + int64(r.IntN(2000)), Qty: -1},
		{Name: "half", X: 48 * inch, Y: 48 * inch, Trim: trim, Price: 3800 + int64(r.IntN(800)), Qty: -1},
	}
	if r.IntN(2) == 0 {
		p.Stocks = append(p.Stocks, Stock{Name: "project", X: 48 * inch, Y: 24 * inch, Price: 1900 + int64(r.IntN(900)), Qty: -1})
	}
	for range r.IntN(3) {
		p.Stocks = append(p.Stocks, Stock{Name: "offcut", X: int64(200+r.IntN(700)) * sixteenth, Y: int64(150+r.IntN(500)) * sixteenth, Qty: 1 + r.IntN(2), OnHand: true})
	}
	want := 5 + r.IntN(146)
	groups := 0
	for n := 0; n < want; {
		q := Part{X: int64(32+r.IntN(640)) * sixteenth, Y: int64(24+r.IntN(300)) * sixteenth, Qty: min(1+r.IntN(6), want-n), Turn: r.IntN(2) == 0}
		if q.Qty <= 3 && r.IntN(8) == 0 {
			groups++
			q.Group = fmt.Sprint("g", groups)
		}
		n += q.Qty
		p.Parts = append(p.Parts, q)
	}
	return p
}

func TestShopLists(t *testing.T) {
	var proved, costProved int
	var gap float64
	var slowest, total time.Duration
	open := 0
	for i := range *shopLists {
		p := shopList(uint64(i))
		start := time.Now()
		first := time.Duration(0)
		r, err := Solve(context.Background(), p, Options{Work: *shopUnits, Progress: func(Progress) {
			if first == 0 {
				first = time.Since(start)
			}
		}})
		if err != nil {
			t.Fatal(err)
		}
		took := time.Since(start)
		total += took
		slowest = max(slowest, first)
		if err := Check(p, r); err != nil {
			t.Fatalf("list %d: %v", i, err)
		}
		if len(r.Unplaced) > 0 {
			t.Errorf("list %d: %v not placed", i, r.Unplaced)
		}
		if r.Cost.Proved {
			costProved++
		}
		if r.Cost.Proved && r.Bought.Proved && r.Used.Proved {
			proved++
		} else {
			open++
			g := float64(r.Cost.Value-r.Cost.Bound) / float64(max(r.Cost.Value, 1))
			gap += g
		}
		if *shopVerbose {
			t.Logf("list %d: %d parts, cost %d of %d, bought %d of %d, sheets %d of %d, offcut %.0f sq in of %.0f, %d settings, first %v, all %v",
				i, count(p), r.Cost.Value, r.Cost.Bound, r.Bought.Value, r.Bought.Bound, r.Used.Value, r.Used.Bound,
				float64(r.Offcut.Value)/float64(inch*inch), float64(r.Offcut.Bound)/float64(inch*inch), r.Settings.Value, first, took)
		}
	}
	t.Logf("%d lists: all pass the checker; proved best on cost %d, on cost and sheets %d; mean cost gap of the rest %.1f %%; slowest first layout %v; mean time %v",
		*shopLists, costProved, proved, 100*gap/float64(max(open, 1)), slowest, total/time.Duration(*shopLists))
}

func count(p *Problem) (n int) {
	for _, q := range p.Parts {
		n += q.Qty
	}
	return n
}
