package proof

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/demo"
	"caul/job/measure"
)

// Parts that share a dimension share a setting, and each setting is visited
// once.
func TestSetUpsAreVisitedOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	require.NoError(t, demo.Write(dir, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), time.UTC))
	s, err := job.Load(dir)
	require.NoError(t, err)
	for _, j := range s.Jobs {
		sets := SetUps(s, j)
		type key struct {
			machine, cutter string
			bit             measure.Length
			fence, height   measure.Length
			hasFence        bool
			angle           float64
			through         bool
		}
		seen := map[key]bool{}
		left := map[string]bool{}
		last := ""
		ops := 0
		for i, m := range sets {
			require.Equal(t, i+1, m.N)
			k := key{m.Machine, m.Cutter, m.Bit, m.Fence, m.Height, m.HasFence, m.Angle, m.Through}
			require.False(t, seen[k], "%v twice", k)
			seen[k] = true
			if m.Machine != last {
				require.False(t, left[m.Machine], "%s: back to %s", j.ID, m.Machine)
				left[last], last = true, m.Machine
			}
			require.NotEmpty(t, m.Notes)
			ops += len(m.Ops)
		}
		want := 0
		for _, p := range j.Parts {
			for i := range p.Machining {
				want += 1 + len(mouths(&p.Machining[i]))
			}
		}
		require.Equal(t, want, ops, "every cut stands in one set-up")
		t.Log("\n" + SetUpText(sets, s.Units.Length, 80))
	}
}
