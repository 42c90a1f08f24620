package plan

import (
	"time"
)

// axis counts whole minutes from an origin: the scheduler's ticks. Every
// minute of elapsed time is one tick, through a change of the clocks too,
// because glue does not know of daylight saving.
type axis struct {
	origin time.Time // on a whole minute
	loc    *time.Location
}

// newAxis puts tick 0 at the first whole minute that is not before now.
func newAxis(now time.Time, loc *time.Location) axis {
	if loc == nil {
		loc = time.UTC
	}
	o := now.Truncate(time.Minute)
	if o.Before(now) {
		o = o.Add(time.Minute)
	}
	return axis{origin: o.In(loc), loc: loc}
}

// ceil is the first tick that is not before t.
func (a axis) ceil(t time.Time) int64 {
	d := t.Sub(a.origin)
	k := int64(d / time.Minute)
	if d > 0 && d%time.Minute != 0 {
		k++
	}
	return k
}

// floor is the last tick that is not after t.
func (a axis) floor(t time.Time) int64 {
	d := t.Sub(a.origin)
	k := int64(d / time.Minute)
	if d < 0 && d%time.Minute != 0 {
		k--
	}
	return k
}

// at is the instant of a tick, in the shop's zone.
func (a axis) at(tick int64) time.Time {
	return a.origin.Add(time.Duration(tick) * time.Minute).In(a.loc)
}

// wall gives the instant of a local date and a minute of that day (0 to 1440,
// or beyond) by the rule of RFC 5545, section 3.3.5: a time that comes twice
// means the first, and a time that the clocks skip is read with the offset
// from before the gap. time.Date does not promise either.
func wall(loc *time.Location, year int, month time.Month, day, minute int) time.Time {
	naive := time.Date(year, month, day, 0, minute, 0, 0, time.UTC)
	before := offsetAt(loc, naive.Add(-24*time.Hour))
	after := offsetAt(loc, naive.Add(24*time.Hour))
	first := naive.Add(-before)
	second := naive.Add(-after)
	if second.Before(first) {
		first, second = second, first
	}
	for _, t := range []time.Time{first, second} {
		if t.Add(offsetAt(loc, t)).Equal(naive) {
			return t.In(loc)
		}
	}
	return naive.Add(-before).In(loc)
}

// offsetAt is the zone's offset from UTC at an instant.
func offsetAt(loc *time.Location, t time.Time) time.Duration {
	_, s := t.In(loc).Zone()
	return time.Duration(s) * time.Second
}

// date is a day of the calendar without a time or a zone.
type date struct {
	y int
	m time.Month
	d int
}

func dateOf(t time.Time) date {
	y, m, d := t.Date()
	return date{y, m, d}
}

// plus steps by whole days of the calendar.
func (d date) plus(n int) date {
	return dateOf(time.Date(d.y, d.m, d.d+n, 12, 0, 0, 0, time.UTC))
}

func (d date) weekday() time.Weekday {
	return time.Date(d.y, d.m, d.d, 12, 0, 0, 0, time.UTC).Weekday()
}

// minute is the instant of a minute of this day.
func (d date) minute(loc *time.Location, minute int) time.Time {
	return wall(loc, d.y, d.m, d.d, minute)
}

func (d date) before(e date) bool {
	if d.y != e.y {
		return d.y < e.y
	}
	if d.m != e.m {
		return d.m < e.m
	}
	return d.d < e.d
}
