package proof

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/measure"
)

// A month that is too short ends on its last day; the calendar of 2026 to 2029.
func TestAgain(t *testing.T) {
	for _, c := range []struct {
		last string
		n    int
		unit string
		want string
	}{
		{"2026-01-31T10:00:00Z", 1, "month", "2026-02-28T10:00:00Z"},
		{"2027-11-30T10:00:00Z", 3, "month", "2028-02-29T10:00:00Z"},
		{"2026-03-14T10:00:00Z", 2, "week", "2026-03-28T10:00:00Z"},
		{"2028-02-29T10:00:00Z", 1, "year", "2029-02-28T10:00:00Z"},
	} {
		last, err := time.Parse(time.RFC3339, c.last)
		require.NoError(t, err)
		require.Equal(t, c.want, again(last, c.n, c.unit).Format(time.RFC3339))
	}
}

// Five-cut readings of one check are a series, each with its verdict and, while
// it is out, the next shim. By hand: the strip is 15 in long, 0.534 in wide at
// the end that met the blade first and 0.522 in at the fence; four corners make
// up 0.012 in over 15 in, one is out by 0.003 in over the fence's 15 in, and the
// far end was too wide, so that the fence's left end comes towards the
// operator. After the shim 0.5265 and 0.526: 0.000125 in, within 0.001.
func TestFiveCutSeries(t *testing.T) {
	s := shopWith(t, `
name: x
checks:
  - {id: flat, measure: five-cut strip, five-cut: true, pivot: 15, at-most: 0.001, at-least: -0.001, every: seasonal}
`)
	j := s.Jobs[0]
	in := func(text string) job.Dim {
		l, err := measure.ParseLength(text+" in", measure.Inches)
		require.NoError(t, err)
		return job.Dim{Length: l, Set: true}
	}
	j.Log = []job.Entry{
		{ID: "a", Did: job.DidRead, Check: "flat", Time: now.AddDate(0, -5, 0), Five: []job.Dim{in("0.534"), in("0.522"), in("15")}},
		{ID: "b", Did: job.DidRead, Check: "flat", Time: now.AddDate(0, -4, 0), Five: []job.Dim{in("0.5265"), in("0.526"), in("15")}},
	}
	se := Readings(s, j, now)
	require.Len(t, se, 1)
	require.Len(t, se[0].Readings, 2)
	out, true2 := se[0].Readings[0], se[0].Readings[1]
	require.False(t, out.True)
	require.Equal(t, in("0.003").Length, out.Value)
	require.Contains(t, out.Shim, "left end")
	require.Contains(t, out.Shim, "towards the operator")
	require.Contains(t, out.Shim, "15 in from its pivot")
	require.True(t, true2.True)
	require.Equal(t, in("0.000125").Length, true2.Value)
	require.Empty(t, true2.Shim)
	require.Equal(t, now.AddDate(0, -1, 0), se[0].Due, "a season is three months")
	require.True(t, se[0].Overdue)
}
