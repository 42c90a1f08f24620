package schedule

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestBreed(t *testing.T) {
	for _, set := range []string{"j60", "j120"} {
		refs := references(t, set)
		gap, ref := 0.0, 0.0
		begin := time.Now()
		n := 0
		for k := *rcpspFrom; k < len(refs); k += max(1, *rcpspStride) {
			r := refs[k]
			m, err := compile(readPublished(t, r))
			require.NoError(t, err)
			b := newBreeder(m.pack(), 1)
			b.run(*rcpspWork)
			start := make([]int64, m.n)
			for i, s := range b.best {
				start[i] = int64(s)
			}
			out, err := Evaluate(m.p, start)
			require.NoError(t, err)
			require.Equal(t, int64(b.bestEnd), out.Values[Finish])
			gap += float64(out.Values[Finish]-r.cpm) / float64(r.cpm)
			ref += float64(r.ub-r.cpm) / float64(r.cpm)
			n++
		}
		t.Logf("%s: %d, gap %.2f best known %.2f, %.1fs", set, n, 100*gap/float64(n), 100*ref/float64(n), time.Since(begin).Seconds())
	}
}
