package layout

import (
	"math/rand/v2"
	"testing"
)

// Building all assemblies that waste little tells what the trial of everything
// tells, which knows no limit on waste, and its layouts pass the checker. The
// lists are cut from whole sheets, with at times a part a little larger, so that
// they fit by their area and often just do not in truth.
func TestTightAgainstEverything(t *testing.T) {
	never := func(int64) bool { return false }
	told := map[verdict]int{}
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 14))
		kerf := r.Int64N(3)
		p := &Problem{Kerf: kerf, Stocks: []Stock{{X: 30 + r.Int64N(20), Y: 20 + r.Int64N(20), Price: 1, Qty: -1}}}
		sheets := 1 + r.IntN(2)
		var pieces []size
		for range sheets {
			pieces = append(pieces, size{p.Stocks[0].X, p.Stocks[0].Y})
		}
		for len(pieces) < 4*sheets {
			i := r.IntN(len(pieces))
			a := &pieces[i]
			if r.IntN(2) == 0 && a.w >= 8+kerf {
				n := 3 + r.Int64N(a.w-6-kerf)
				if r.IntN(2) == 0 {
					n = (a.w - kerf) / 2 // two alike
				}
				pieces = append(pieces, size{n, a.h})
				a.w -= n + kerf
			} else if a.h >= 8+kerf {
				n := 3 + r.Int64N(a.h-6-kerf)
				pieces = append(pieces, size{a.w, n})
				a.h -= n + kerf
			}
		}
		for i, q := range pieces {
			if r.IntN(3) == 0 {
				q.w = max(q.w-r.Int64N(2), 1)
			}
			if i == 0 && r.IntN(2) == 0 {
				q.h++
			}
			x := Part{X: q.w, Y: q.h, Qty: 1, Turn: r.IntN(2) == 0}
			if x.Turn && r.IntN(2) == 0 {
				x.X, x.Y = x.Y, x.X
			}
			p.Parts = append(p.Parts, x)
		}
		in, want := everything(t, seed, p)
		if want == nil {
			continue
		}
		for k := max(len(want)-1, 1); k <= len(want); k++ {
			bins, v := in.newTight(never).decide(k)
			if told[v]++; (v == reached) != (k >= len(want)) || v == unknown {
				t.Fatalf("list %d: %d sheets do, told %d of %d: %+v", seed, len(want), v, k, p)
			}
			if v == reached {
				passes(t, seed, in, p, bins)
			}
		}
	}
	if told[reached] < 50 || told[refuted] < 50 {
		t.Errorf("%d layouts found, %d refuted: too few", told[reached], told[refuted])
	}
}
