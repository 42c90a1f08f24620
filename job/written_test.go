package job

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// logged writes an entry as the program does and reads the shop again.
func logged(t *testing.T, dir, job, machine string, now time.Time, e Entry) *Shop {
	t.Helper()
	sh, err := Load(dir)
	require.NoError(t, err)
	if e.Time.IsZero() {
		e.Time = now
	}
	sh.Write(&e, machine, now)
	_, err = AddEntry(dir, job, e, machine)
	require.NoError(t, err)
	sh, err = Load(dir)
	require.NoError(t, err)
	return sh
}

// The last entry is the one written last, whatever the clocks of the machines
// said: by definition of the word, no source.
func TestLastWrittenWhateverTheClock(t *testing.T) {
	dir := soundShop(t)
	jobs := func(s *Shop) string {
		_, e := LastWritten(s.Jobs, "shop")
		require.NotNil(t, e)
		return e.Text
	}
	note := func(s string) Entry { return Entry{Did: DidNote, Text: s} }
	day := time.Date(2026, 3, 20, 9, 0, 0, 0, time.UTC)
	const id = "torsion-table"
	require.Equal(t, "one", jobs(logged(t, dir, id, "shop", day, note("one"))))
	// the battery died: the clock says 2020
	back := time.Date(2020, 1, 1, 0, 10, 0, 0, time.UTC)
	require.Equal(t, "two", jobs(logged(t, dir, id, "shop", back, note("two"))))
	require.Equal(t, "three", jobs(logged(t, dir, id, "shop", back.Add(time.Minute), note("three"))))
	// what another machine writes, later and by a right clock, is not ours
	logged(t, dir, id, "home", day.Add(time.Hour), note("home's"))
	sh := logged(t, dir, id, "home", day.Add(2*time.Hour), note("home's other"))
	require.Equal(t, "three", jobs(sh))
	_, any := LastWritten(sh.Jobs, "")
	require.Equal(t, "home's other", any.Text)
	// the clock is set; then something is dated back
	require.Equal(t, "four", jobs(logged(t, dir, id, "shop", day.Add(3*time.Hour), note("four"))))
	e := note("five")
	e.Time = day.Add(-time.Hour)
	sh = logged(t, dir, id, "shop", day.Add(4*time.Hour), e)
	require.Equal(t, "five", jobs(sh))
	// one that is dated ahead by hand does not stay the last for ever
	e = note("six")
	e.Time = day.AddDate(0, 0, 7)
	require.Equal(t, "six", jobs(logged(t, dir, id, "shop", day.Add(5*time.Hour), e)))
	sh = logged(t, dir, id, "shop", day.Add(6*time.Hour), note("seven"))
	require.Equal(t, "seven", jobs(sh))
	for _, e := range sh.Job(id).Log {
		if e.Text == "seven" || e.Text == "one" {
			require.True(t, e.Written.IsZero(), "%s: a clock that goes right leaves no trace in the file", e.Text)
		}
	}
}

// A log of before entries said when they were written counts by their time.
func TestLastWrittenOfAnOldLog(t *testing.T) {
	j := foldJob(entryAt(0, "shop", DidBegin, "mill"), entryAt(30, "shop", DidFinish, "mill"), entryAt(40, "home", DidBegin, "core"))
	_, e := LastWritten([]*Job{j}, "shop")
	require.Equal(t, "e1", e.ID)
	_, e = LastWritten([]*Job{j}, "bench")
	require.Nil(t, e)
}
