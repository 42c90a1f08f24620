package demo

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
)

// TestAnyTime writes the demo at many moments in many zones: it reads clean,
// nothing is dated after now, the log has no doubts, and something is in the
// clamps.
func TestAnyTime(t *testing.T) {
	zones := []string{"UTC", "America/Denver", "Asia/Kathmandu", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Europe/Lisbon", "Australia/Lord_Howe"}
	start := time.Date(2026, 1, 1, 0, 7, 0, 0, time.UTC)
	for i := range 8 {
		z, err := time.LoadLocation(zones[i%len(zones)])
		require.NoError(t, err)
		now := start.Add(time.Duration(i) * (44*24*time.Hour + 5*time.Hour + 13*time.Minute))
		dir := t.TempDir()
		require.NoError(t, Write(dir, now, z))
		shop, err := job.Load(dir)
		require.NoError(t, err)
		require.Len(t, shop.Jobs, 3)
		for _, j := range shop.Jobs {
			require.Empty(t, j.Doubts(now), "%s in %s", now, z)
			for _, e := range j.Log {
				require.False(t, e.Time.After(now), "%s %s", e.ID, now)
				require.True(t, open(shop, e.Time.In(z)), "%s is outside shop hours", e.ID)
			}
		}
		states, _ := shop.Job("torsion-table").States()
		require.Equal(t, job.InClamps, states["core"].State)
		require.Equal(t, 8, states["core"].Held["bar"])
		states, _ = shop.Job("shooting-board").States()
		for id, s := range states {
			require.Equal(t, job.Done, s.State, id)
		}
		states, _ = shop.Job("frame-spline").States()
		for id, s := range states {
			require.Equal(t, job.Waiting, s.State, id)
		}
	}
}

// TestEveryHalfHour holds the log itself, without a disk, against the shop's
// hours at every half hour of a year: inside hours, in order, never after now.
func TestEveryHalfHour(t *testing.T) {
	z, err := time.LoadLocation("America/Denver")
	require.NoError(t, err)
	dir := t.TempDir()
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, z)
	require.NoError(t, Write(dir, start, z))
	shop, err := job.Load(dir)
	require.NoError(t, err)
	for now := start; now.Year() == 2026; now = now.Add(31 * time.Minute) {
		ss := sessions(shop, now)
		for _, evs := range [][]event{torsionTable(ss, now), shootingBoard(before(ss, now, 100), before(ss, now, 20)), frameSpline(before(ss, now, 3))} {
			last := time.Time{}
			for _, e := range evs {
				if e.at.After(now) || !open(shop, e.at.In(z)) || e.at.Before(last) {
					t.Fatalf("at %s: %s %s at %s", now, e.e.Did, e.e.Step, e.at)
				}
				last = e.at
			}
		}
	}
}

func open(shop *job.Shop, t time.Time) bool {
	m := t.Hour()*60 + t.Minute()
	for _, w := range shop.Hours.Week[t.Weekday()] {
		if m >= w.From && m <= w.To {
			return true
		}
	}
	return false
}

// TestSameBytes writes the demo twice at one moment.
func TestSameBytes(t *testing.T) {
	now := time.Date(2026, 3, 14, 20, 45, 0, 0, time.UTC)
	a, b := t.TempDir(), t.TempDir()
	require.NoError(t, Write(a, now, time.UTC))
	require.NoError(t, Write(b, now, time.UTC))
	require.Equal(t, tree(t, os.DirFS(a)), tree(t, os.DirFS(b)))
}

func TestNotOverAnything(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(dir+"/mine.txt", []byte("x"), 0o666))
	require.ErrorContains(t, Write(dir, time.Unix(1_800_000_000, 0), time.UTC), "mine.txt")
}

// TestMachineZone writes the demo in the machine's own zone, which has no name
// in Go.
func TestMachineZone(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, Write(dir, time.Unix(1_800_000_000, 0), time.Local))
	_, err := job.Load(dir)
	require.NoError(t, err)
}
