package layout

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
)

// The choices of sheets are held against a trial of every choice there is.
func TestMixesAgainstAllChoices(t *testing.T) {
	some := 0
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 11))
		p := &Problem{}
		for range 2 + r.IntN(2) {
			p.Stocks = append(p.Stocks, Stock{X: int64(4 + r.IntN(5)), Y: int64(4 + r.IntN(5)), Price: int64(r.IntN(6)), Qty: r.IntN(6) - 1, OnHand: r.IntN(3) == 0})
		}
		p.Stocks[0].Qty = -1
		for range 6 {
			p.Parts = append(p.Parts, Part{X: int64(1 + r.IntN(4)), Y: int64(1 + r.IntN(4)), Qty: 1})
		}
		if err := p.Validate(); err != nil {
			t.Fatal(err)
		}
		in := prepare(p)
		s := in.newSearch(context.Background(), seed)
		s.limit = 1 << 40
		s.first()
		if s.bestOutArea > 0 {
			continue
		}
		s.cover = in.newCover()
		s.cover.byArea()
		got := s.mixes()
		parts := 0.0
		for _, u := range in.units {
			parts += u.area
		}
		lighter := func(n []int) bool {
			var w weight
			for k, c := range n {
				for range c {
					w = w.add(in.bases[k].weight)
				}
			}
			return w.cmp(s.bestW) < 0
		}
		want := 0
		n := make([]int, len(in.bases))
		var walk func(k int)
		walk = func(k int) {
			if k == len(n) {
				area, full := 0.0, true
				for k, c := range n {
					area += float64(c) * in.bases[k].area
					if n[k]++; n[k] <= s.cover.most[k] && lighter(n) {
						full = false
					}
					n[k]--
				}
				if !lighter(n) || !full || area < parts || slices.ContainsFunc(s.cover.needs, func(d need) bool { return d.broken(n) }) {
					return
				}
				want++
				if !slices.ContainsFunc(got, func(m mix) bool { return slices.Equal(m.counts, n) }) && len(got) < mixKeep {
					t.Errorf("list %d: %v is missing among %v", seed, n, got)
				}
				return
			}
			for n[k] = 0; n[k] <= s.cover.most[k]; n[k]++ {
				walk(k + 1)
			}
			n[k] = 0
		}
		walk(0)
		if len(got) != min(want, mixKeep) {
			t.Errorf("list %d: %d choices, by the trial of all %d", seed, len(got), want)
		}
		if !slices.IsSortedFunc(got, func(a, b mix) int {
			if a.hope < b.hope {
				return 1
			}
			return 0
		}) {
			t.Errorf("list %d: not the most hopeful first: %v", seed, got)
		}
		if want > 0 {
			some++
		}
	}
	if some < 40 {
		t.Errorf("only %d lists had choices", some)
	}
}
