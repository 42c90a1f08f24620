package layout

import (
	"context"
	"math/rand/v2"
	"testing"
)

// hiddenList cuts sheets of several kinds into parts, shaves the parts a
// little, and gives the list of them with the price of the sheets: a layout of
// that price is there by construction.
func hiddenList(seed uint64) (p *Problem, price int64) {
	r := rand.New(rand.NewPCG(seed, 13))
	p = &Problem{Stocks: []Stock{
		{Name: "full", X: 960, Y: 480, Price: 6900 + int64(r.IntN(400)), Qty: -1},
		{Name: "half", X: 480, Y: 480, Price: 3900 + int64(r.IntN(400)), Qty: -1},
		{Name: "project", X: 480, Y: 240, Price: 2050 + int64(r.IntN(400)), Qty: -1},
	}}
	var cut func(x, y int64, n int)
	cut = func(x, y int64, n int) {
		switch {
		case n == 1:
			p.Parts = append(p.Parts, Part{X: x - x*int64(r.IntN(10))/100, Y: y - y*int64(r.IntN(10))/100, Qty: 1})
		case x > y:
			at := x * int64(30+r.IntN(41)) / 100
			cut(at, y, n/2)
			cut(x-at, y, n-n/2)
		default:
			at := y * int64(30+r.IntN(41)) / 100
			cut(x, at, n/2)
			cut(x, y-at, n-n/2)
		}
	}
	for s, n := range []int{3 + r.IntN(2), r.IntN(2), 1 + r.IntN(2)} {
		for range n {
			price += p.Stocks[s].Price
			cut(p.Stocks[s].X, p.Stocks[s].Y, []int{16, 8, 4}[s])
		}
	}
	return p, price
}

// The price of the sheets that the parts were cut from must be come by.
func TestSearchFindsHiddenChoice(t *testing.T) {
	found, lists := 0, 12
	for seed := range uint64(lists) {
		p, price := hiddenList(seed)
		r, err := Solve(context.Background(), p, Options{Work: 100_000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, r); err != nil {
			t.Fatalf("list %d: %v", seed, err)
		}
		if r.Cost.Bound > price {
			t.Errorf("list %d: bound %d, the sheets cost %d", seed, r.Cost.Bound, price)
		}
		if r.Cost.Value <= price {
			found++
		}
	}
	if found < lists/2 {
		t.Errorf("only %d of %d", found, lists)
	}
}

func BenchmarkSeveralStocks(b *testing.B) {
	var cost float64
	for b.Loop() {
		cost = 0
		for seed := range uint64(8) {
			r, err := Solve(context.Background(), shopList(seed), Options{Work: 100_000})
			if err != nil {
				b.Fatal(err)
			}
			cost += float64(r.Cost.Value)
		}
	}
	b.ReportMetric(cost, "cost")
}
