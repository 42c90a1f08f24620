package schedule

import (
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
