package schedule

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestBreed holds the bred schedules of some published instances against the
// best known: feasible, never below a proved bound, and together within 6 % of
// the best known after a short run.
func TestBreed(t *testing.T) {
	for _, set := range []string{"j60", "j120"} {
		refs := references(t, set)
		sum, best := int64(0), int64(0)
		for k := 5; k < len(refs); k += 40 {
			r := refs[k]
			m, err := compile(readPublished(t, r))
			require.NoError(t, err)
			b := newBreeder(m.pack(), 1)
			b.run(150_000)
			start := make([]int64, m.n)
			for i, s := range b.best {
				start[i] = int64(s)
			}
			out, err := Evaluate(m.p, start)
			require.NoError(t, err, r.name)
			require.Equal(t, int64(b.bestEnd), out.Values[Finish], r.name)
			require.GreaterOrEqual(t, out.Values[Finish], r.lb, r.name)
			sum += out.Values[Finish]
			best += r.ub
		}
		t.Logf("%s: finishes together %d, best known %d", set, sum, best)
		require.LessOrEqual(t, 100*sum, 106*best, set)
	}
}

// TestBreedWide invents plain problems and adds idle resources, so that the free
// amounts need two words: that must change nothing. Two runs are alike.
func TestBreedWide(t *testing.T) {
	for seed := uint64(0); seed < 8; seed++ {
		rng := rand.New(rand.NewPCG(seed, 31))
		p := &Problem{Horizon: 2000}
		for r := 0; r < 3; r++ {
			p.Resources = append(p.Resources, Resource{fmt.Sprint("r", r), 4 + rng.IntN(5)})
		}
		n := 12 + rng.IntN(30)
		for i := 0; i < n; i++ {
			a := Activity{Work: rng.Int64N(9), Calendar: Always}
			if rng.IntN(6) == 0 {
				a.Release = rng.Int64N(20)
			}
			for r := range p.Resources {
				if q := rng.IntN(5); q > 0 {
					a.Needs = append(a.Needs, Need{r, q})
				}
			}
			p.Activities = append(p.Activities, a)
			for k := rng.IntN(3); k > 0 && i > 0; k-- {
				p.Lags = append(p.Lags, Lag{From: rng.IntN(i), FromEnd: true, To: i, Min: rng.Int64N(3)})
			}
		}
		run := func(p *Problem) *breeder {
			m, err := compile(p)
			require.NoError(t, err)
			k := m.pack()
			require.NotNil(t, k)
			b := newBreeder(k, seed)
			b.run(20_000)
			start := make([]int64, n)
			for i, s := range b.best {
				start[i] = int64(s)
			}
			out, err := Evaluate(p, start)
			require.NoError(t, err)
			require.Equal(t, int64(b.bestEnd), out.Values[Finish])
			return b
		}
		one := run(p)
		require.Equal(t, one.best, run(p).best)
		require.Equal(t, 1, one.k.words)
		wide := *p
		wide.Resources = append(append([]Resource(nil), p.Resources...), Resource{"idle", 3}, Resource{"none", 0})
		two := run(&wide)
		require.Equal(t, 2, two.k.words)
		require.Equal(t, one.best, two.best)
	}
}
