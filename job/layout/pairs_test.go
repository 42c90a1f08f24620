package layout

import (
	"context"
	"math/rand/v2"
	"testing"
)

// Branch and price against the general-purpose solver's model: lists with so
// little waste that a layout often needs a bar more than the lengths' sum says.
func TestSecondOpinionOnPairs(t *testing.T) {
	refutations, layouts := 0, 0
	for seed := range uint64(220) {
		r := rand.New(rand.NewPCG(seed, 7))
		p := &Problem{Kerf: int64(r.IntN(2))}
		p.Stocks = []Stock{{X: int64(20 + r.IntN(30)), Price: 1, Qty: -1}}
		size := p.Stocks[0].X + p.Kerf
		var sum int64
		for n := 5 + r.IntN(4); n > 0; n-- {
			q := Part{X: size/6 + r.Int64N(size/2), Qty: 1}
			sum += q.X + p.Kerf
			p.Parts = append(p.Parts, q)
		}
		want := barsModel(p).least()
		in := prepare(p)
		b := in.newBars()
		b.rng = rand.New(rand.NewPCG(seed, 8))
		b.limit = func(ops int64) bool { return ops > 100_000*opsPerUnit }
		for n := int((sum + size - 1) / size); n <= want; n++ {
			v := b.decide(n)
			switch {
			case n < want && v != refuted:
				t.Errorf("list %d: %d bars: verdict %d, by the model it takes %d: %+v", seed, n, v, want, p)
			case n < want:
				refutations++
			case v != reached || len(b.best) > n:
				t.Errorf("list %d: %d bars are enough by the model: verdict %d: %+v", seed, n, v, p)
			default:
				layouts++
			}
		}
		res, err := Solve(context.Background(), p, Options{Work: 40_000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, res); err != nil {
			t.Fatalf("list %d: %v", seed, err)
		}
		if res.Used.Value != int64(want) || !res.Used.Proved {
			t.Errorf("list %d: %d bars, bound %d, by the model %d: %+v", seed, res.Used.Value, res.Used.Bound, want, p)
		}
	}
	if refutations < 20 || layouts < 200 {
		t.Errorf("only %d counts refuted and %d layouts found", refutations, layouts)
	}
	t.Logf("%d counts refuted, %d layouts found", refutations, layouts)
}
