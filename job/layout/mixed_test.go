package layout

import (
	"context"
	"math/rand/v2"
	"testing"
)

// mixedList is a short cut list over two or three kinds of stock, with counts
// of sheets that just may do; slack is the most area that may be to spare, in
// hundredths.
func mixedList(seed uint64, long, slack int64, groups bool) (*Problem, []int) {
	r := rand.New(rand.NewPCG(seed, 21))
	p := &Problem{Kerf: r.Int64N(3)}
	var counts []int
	for range 2 + r.IntN(2) {
		p.Stocks = append(p.Stocks, Stock{X: long + r.Int64N(long), Y: long - r.Int64N(long/2), Price: 1 + r.Int64N(9)})
		counts = append(counts, r.IntN(3))
	}
	var room int64
	for i, n := range counts {
		p.Stocks[i].Qty = n
		room += int64(n) * p.Stocks[i].X * p.Stocks[i].Y
	}
	room -= room * r.Int64N(slack) / 100
	for n := 0; n < 8; {
		q := Part{X: 1 + r.Int64N(long), Y: 1 + r.Int64N(long*3/4), Qty: 1 + r.IntN(2), Turn: r.IntN(2) == 0}
		if room -= int64(q.Qty) * (q.X + p.Kerf) * (q.Y + p.Kerf); room < 0 {
			break
		}
		if groups && r.IntN(2) == 0 {
			q.Group = "a"
		}
		n += q.Qty
		p.Parts = append(p.Parts, q)
	}
	return p, counts
}

// ask decides by assemblies, and holds a layout against the checker.
func ask(t *testing.T, seed uint64, p *Problem, counts []int) verdict {
	t.Helper()
	in := prepare(p)
	if count(p) < 3 || len(in.lost) > 0 {
		return unknown
	}
	m := in.newMixed(func(int64) bool { return false })
	if m == nil {
		t.Fatalf("list %d is not taken on: %+v", seed, p)
	}
	bins, told := m.decide(counts)
	if told == reached {
		res := in.emit(bins, nil)
		res.Offcut.Bound = 1 << 40 // any: it is not what is tried here
		if err := Check(p, res); err != nil {
			t.Fatalf("list %d: %v: %+v", seed, err, p)
		}
	}
	return told
}

// Where parts are told not to fit given sheets, a general-purpose
// pseudo-boolean solver says so too (gophersat, see cutsModel). Where they are
// told to fit, the layout is held against the checker.
func TestMixedAgainstSecondOpinion(t *testing.T) {
	yes, no := 0, 0
	for seed := uint64(0); seed < 400 && no < 6; seed++ {
		p, counts := mixedList(seed, 4, 1, false)
		switch ask(t, seed, p, counts) {
		case reached:
			yes++
		case refuted:
			no++
			if want := cutsModel(p).least(); want >= 0 {
				t.Fatalf("list %d on %v: refuted, the model has a layout for %d: %+v", seed, counts, want, p)
			}
		}
	}
	if yes < 20 || no < 6 {
		t.Errorf("%d fit, %d do not: too few of a sort", yes, no)
	}
}

// The same for longer lists, with groups, against the trial of everything.
func TestMixedAgainstEverything(t *testing.T) {
	yes, no := 0, 0
	for seed := range uint64(400) {
		p, counts := mixedList(seed, 24, 12, true)
		told := ask(t, seed, p, counts)
		e := prepare(p).newExact()
		if told == unknown || e == nil {
			continue
		}
		bins, ok := e.solve(func(int64) bool { return false })
		if !ok {
			continue
		}
		if (bins != nil) != (told == reached) {
			t.Fatalf("list %d on %v: verdict %d, but everything gives %d sheets: %+v", seed, counts, told, len(bins), p)
		}
		if told == reached {
			yes++
		} else {
			no++
		}
	}
	if yes < 30 || no < 30 {
		t.Errorf("%d fit, %d do not: too few of a sort", yes, no)
	}
}

// With counts refuted the lightest counts left are those that a trial of all
// counts finds.
func TestCoverRefuted(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 22))
	for round := range 300 {
		k := 1 + r.IntN(3)
		p := &Problem{Parts: []Part{{X: 1, Y: 1, Qty: 5}}}
		ws := make([]weight, k)
		for i := range k {
			p.Stocks = append(p.Stocks, Stock{X: 9, Y: 9, Qty: r.IntN(5)})
			ws[i] = weight{r.Int64N(4), r.Int64N(2), 1}
		}
		c := prepare(p).newCover()
		n := need{want: r.Int64N(12)}
		for range k {
			n.have = append(n.have, r.Int64N(4))
		}
		c.needs = append(c.needs, n)
		for range r.IntN(4) {
			g := make([]int, k)
			for i := range g {
				g[i] = r.IntN(4)
			}
			c.refute(g)
		}
		var best *weight
		cur := make([]int, k)
		var walk func(i int)
		walk = func(i int) {
			if i < k {
				for cur[i] = 0; cur[i] <= p.Stocks[i].Qty; cur[i]++ {
					walk(i + 1)
				}
				cur[i] = 0
				return
			}
			var w weight
			for s, n := range cur {
				w = w.add(weight{ws[s].cost * int64(n), ws[s].bought * int64(n), int64(n)})
			}
			if !n.broken(cur) && !c.refuted(cur) && (best == nil || w.cmp(*best) < 0) {
				best = &w
			}
		}
		walk(0)
		counts, w, done, ok := c.least(ws)
		if !done || ok != (best != nil) || ok && (w != *best || n.broken(counts) || c.refuted(counts)) {
			t.Fatalf("round %d: %v of weight %v, want %v; never %v, need %+v", round, counts, w, best, c.never, n)
		}
	}
}

// What Solve proves by assemblies is proved: generated shop lists whose other
// bounds leave room for a cheaper layout.
func TestMixedProves(t *testing.T) {
	for _, seed := range []uint64{306, 422} {
		p := shopList(seed)
		r, err := Solve(context.Background(), p, Options{Work: 600_000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, r); err != nil {
			t.Fatal(err)
		}
		if !r.Cost.Proved || !r.Used.Proved || r.Cost.By != BySearch && r.Used.By != BySearch {
			t.Errorf("list %d: cost %+v, sheets %+v", seed, r.Cost, r.Used)
		}
	}
}
