package plan

import (
	"testing"
	"time"

	"caul/job"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	l, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// RFC 5545 (September 2009), section 3.3.5, gives the two New York cases of
// 2007 itself; the others apply its rule to the clock changes of 2026 in the
// time zone database.
func TestWallFollowsTheCalendarStandard(t *testing.T) {
	for _, c := range []struct {
		zone    string
		y, m, d int
		minute  int
		want    string
	}{
		{"America/New_York", 2007, 11, 4, 90, "2007-11-04T05:30:00Z"},  // twice: the first
		{"America/New_York", 2007, 3, 11, 150, "2007-03-11T07:30:00Z"}, // skipped: the offset before
		{"America/New_York", 2026, 3, 8, 150, "2026-03-08T07:30:00Z"},
		{"America/New_York", 2026, 11, 1, 90, "2026-11-01T05:30:00Z"},
		{"Europe/Berlin", 2026, 3, 29, 150, "2026-03-29T01:30:00Z"},
		{"Europe/Berlin", 2026, 10, 25, 150, "2026-10-25T00:30:00Z"},
		{"Europe/Berlin", 2026, 10, 25, 179, "2026-10-25T00:59:00Z"},
		{"Europe/Berlin", 2026, 10, 25, 180, "2026-10-25T02:00:00Z"},
		{"Australia/Lord_Howe", 2026, 4, 5, 105, "2026-04-04T14:45:00Z"}, // half an hour twice
		{"Asia/Kathmandu", 2026, 6, 1, 0, "2026-05-31T18:15:00Z"},
		{"Europe/Berlin", 2026, 6, 1, 1440, "2026-06-01T22:00:00Z"},
	} {
		got := wall(zone(t, c.zone), c.y, time.Month(c.m), c.d, c.minute)
		if want := instant(t, c.want); !got.Equal(want) {
			t.Errorf("%s %04d-%02d-%02d minute %d is %s, want %s", c.zone, c.y, c.m, c.d, c.minute, got.UTC().Format(time.RFC3339), c.want)
		}
	}
}

// Every minute of the days around each clock change, in three zones: a time
// that exists reads back as itself, and time never runs backwards along a day.
func TestWallReadsBack(t *testing.T) {
	for _, z := range []string{"America/New_York", "Europe/Berlin", "Australia/Lord_Howe"} {
		loc := zone(t, z)
		for _, d := range []date{{2026, 3, 8}, {2026, 11, 1}, {2026, 3, 29}, {2026, 10, 25}, {2026, 4, 5}, {2026, 10, 4}} {
			for m := 0; m < 1440; m++ {
				got := d.minute(loc, m)
				h, min, _ := got.Clock()
				same := h*60+min == m && dateOf(got) == d
				twice := offsetAt(loc, got.Add(-3*time.Hour)) > offsetAt(loc, got)
				if !same {
					before, after := offsetAt(loc, got.Add(-3*time.Hour)), offsetAt(loc, got)
					if after <= before {
						t.Fatalf("%s %v minute %d reads back as %s", z, d, m, got)
					}
				} else if twice {
					if e := got.Add(-time.Hour); dateOf(e) == d && e.Hour()*60+e.Minute() == m {
						t.Fatalf("%s %v minute %d is the second of two", z, d, m)
					}
				}
			}
		}
	}
}

// Sessions through the clock changes last as long as they do, not as the
// clock says: 01:00 to 04:00 has two hours in the spring night and four in the
// autumn night.
func TestSessionsThroughClockChanges(t *testing.T) {
	h := &job.Hours{Week: map[time.Weekday][]job.Window{time.Sunday: {{From: 60, To: 240}}}}
	for _, c := range []struct {
		zone, from string
		want       time.Duration
	}{
		{"America/New_York", "2026-03-07T12:00:00Z", 2 * time.Hour},
		{"America/New_York", "2026-10-31T12:00:00Z", 4 * time.Hour},
		{"Europe/Berlin", "2026-03-28T12:00:00Z", 2 * time.Hour},
		{"Europe/Berlin", "2026-10-24T12:00:00Z", 4 * time.Hour},
		{"Europe/Berlin", "2026-06-06T12:00:00Z", 3 * time.Hour},
		{"Australia/Lord_Howe", "2026-04-04T00:00:00Z", 3*time.Hour + 30*time.Minute},
	} {
		from := instant(t, c.from)
		ss := sessionsBetween(h, zone(t, c.zone), from, from.Add(48*time.Hour))
		if len(ss) != 1 || ss[0].length() != c.want {
			t.Errorf("%s: %v, want one session of %s", c.zone, ss, c.want)
		}
	}
}

func TestSessionsMeetAtMidnight(t *testing.T) {
	h := &job.Hours{Week: map[time.Weekday][]job.Window{
		time.Friday: {{From: 22 * 60, To: 1440}}, time.Saturday: {{From: 0, To: 60}, {From: 600, To: 660}},
	}}
	from := instant(t, "2026-03-02T00:00:00Z")
	ss := sessionsBetween(h, time.UTC, from, from.Add(7*24*time.Hour))
	if len(ss) != 2 || ss[0].length() != 3*time.Hour {
		t.Fatalf("got %v", ss)
	}
	h.Except = []job.DayHours{{Date: time.Date(2026, 3, 7, 0, 0, 0, 0, time.UTC)}}
	ss = sessionsBetween(h, time.UTC, from, from.Add(7*24*time.Hour))
	if len(ss) != 1 || ss[0].length() != 2*time.Hour {
		t.Fatalf("with Saturday shut: %v", ss)
	}
}

func TestTicks(t *testing.T) {
	ax := newAxis(instant(t, "2026-03-07T18:00:30Z"), time.UTC)
	if got := ax.at(0); !got.Equal(instant(t, "2026-03-07T18:01:00Z")) {
		t.Errorf("tick 0 is %s", got)
	}
	for _, c := range []struct {
		at          string
		floor, ceil int64
	}{
		{"2026-03-07T18:01:00Z", 0, 0}, {"2026-03-07T18:01:01Z", 0, 1}, {"2026-03-07T18:00:59Z", -1, 0}, {"2026-03-07T17:59:00Z", -2, -2},
	} {
		x := instant(t, c.at)
		if ax.floor(x) != c.floor || ax.ceil(x) != c.ceil {
			t.Errorf("%s: floor %d, ceil %d", c.at, ax.floor(x), ax.ceil(x))
		}
	}
}
