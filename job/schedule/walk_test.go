package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWalk walks through the hours of shops with two hundred steps: what comes
// of it passes the independent checker, is the same twice, is no worse than
// serial generation alone, and stops with the context.
func TestWalk(t *testing.T) {
	var walked, serial [NumLevels]int64
	for k := range 4 {
		p := manyJobs(k)
		values := func(ctx context.Context, walk bool) ([]int64, [NumLevels]int64) {
			m, err := compile(p)
			require.NoError(t, err)
			s := &solver{m: m, ctx: ctx, budget: 300_000, gen: newGenerator(m), rng: rand.New(rand.NewPCG(0, 1))}
			s.generate()
			if walk {
				s.walk()
			}
			if s.best == nil {
				return nil, [NumLevels]int64{}
			}
			require.NoError(t, Check(p, s.best.Start))
			var v [NumLevels]int64
			for l := range v {
				v[l] = s.best.Levels[l].Value
			}
			return s.best.Start, v
		}
		a, with := values(context.Background(), true)
		b, _ := values(context.Background(), true)
		require.Equal(t, a, b)
		_, without := values(context.Background(), false)
		require.LessOrEqual(t, slices.Compare(with[:], without[:]), 0, "shop %d: %v, %v without", k, with, without)
		for l := range with {
			walked[l] += with[l]
			serial[l] += without[l]
		}
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		c, _ := values(ctx, true)
		require.Nil(t, c)
	}
	require.Less(t, walked[Lateness], serial[Lateness])
	require.Less(t, walked[SetupChanges], serial[SetupChanges], "cut at one fence before it is moved")
}
