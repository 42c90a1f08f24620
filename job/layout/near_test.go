package layout

import (
	"math/rand/v2"
	"testing"
)

// The list of all patterns worth enough tells what the trial of everything
// tells, which shares neither the values nor the cover, and its layouts pass the
// checker. Patterns are held to fit in few of their copies only, so that the
// list has some that do not fit and the cover must find that out.
func TestNearAgainstEverything(t *testing.T) {
	never := func(int64) bool { return false }
	told := map[verdict]int{}
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 15))
		p := &Problem{Kerf: r.Int64N(3), Stocks: []Stock{{X: 16 + r.Int64N(12), Y: 13 + r.Int64N(10), Price: 1, Qty: -1}}}
		for n := 5 + r.IntN(4); n > 0; n-- {
			p.Parts = append(p.Parts, Part{X: 2 + r.Int64N(11), Y: 2 + r.Int64N(9), Qty: 1 + r.IntN(2)*r.IntN(2), Turn: r.IntN(2) == 0})
		}
		in, want := everything(t, seed, p)
		if want == nil {
			continue
		}
		o := in.newOnce(never)
		o.exact = 1 + r.IntN(3)
		q := o.newProof(nil)
		q.gap = -1 // not before the values are those of the end
		if q.exceed(len(want)) != nil {
			t.Fatalf("list %d: %d sheets do, and are refuted", seed, len(want))
		}
		for k := max(len(want)-1, 1); k <= len(want); k++ {
			q.gap = 1 << 40
			v := q.near(k)
			if told[v]++; v == refuted && k == len(want) || v == reached && k < len(want) {
				t.Fatalf("list %d: %d sheets do, told %d of %d: %+v", seed, len(want), v, k, p)
			}
			if v == reached {
				passes(t, seed, in, p, o.e.bins(q.sheet))
			}
		}
	}
	if told[reached] < 50 || told[refuted] < 50 {
		t.Errorf("%d layouts found, %d refuted: too few", told[reached], told[refuted])
	}
}
