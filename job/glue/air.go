package glue

import (
	"fmt"
	"math"
	"sort"
	"time"

	"caul/job/measure"
)

// Air is the shop's air: what it is without heating over a day, the hours it is heated, and
// what the thermometer said.
type Air struct {
	Loc *time.Location // the shop's clock; nil is UTC

	// Without heating: coldest at ColdestAt and warmest at WarmestAt, in a straight line
	// between. Equal temperatures make it steady. With both times zero they are 05:00 and 15:00.
	Night     measure.Temperature
	Day       measure.Temperature
	ColdestAt Clock
	WarmestAt Clock

	Heated   []Heated
	Readings []Reading // in any order

	// Carry is how long a reading's difference from the profile is carried on: it fades
	// in a straight line over this time. Zero means four hours.
	Carry measure.Span
}

// Clock is a time of day in minutes after midnight, 0 to 1440.
type Clock int

func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// Heated is a stretch of the day when the shop is heated to a temperature. To before From runs
// past midnight. Days is a bit for each weekday on which it begins, Sunday the lowest; zero is
// every day.
type Heated struct {
	Days     uint8
	From, To Clock
	At       measure.Temperature
}

func (h Heated) on(d time.Weekday) bool { return h.Days == 0 || h.Days&(1<<uint(d)) != 0 }

func (h Heated) covers(d time.Weekday, c Clock) bool {
	switch {
	case h.From == h.To:
		return h.on(d)
	case h.From < h.To:
		return h.on(d) && c >= h.From && c < h.To
	case c >= h.From:
		return h.on(d)
	}
	return c < h.To && h.on((d+6)%7)
}

// Reading is what the thermometer said.
type Reading struct {
	At   time.Time
	Temp measure.Temperature
}

// Steady is air that never changes.
func Steady(t measure.Temperature) *Air { return &Air{Night: t, Day: t} }

// Check refuses a profile that cannot be.
func (a *Air) Check() error {
	if a.Day < a.Night {
		return fmt.Errorf("the day's warmest, %v, is colder than the night's coldest, %v", a.Day, a.Night)
	}
	for _, c := range []Clock{a.ColdestAt, a.WarmestAt} {
		if c < 0 || c >= 1440 {
			return fmt.Errorf("%v is no time of day", c)
		}
	}
	for _, h := range a.Heated {
		if h.From < 0 || h.From > 1440 || h.To < 0 || h.To > 1440 {
			return fmt.Errorf("heating from %v to %v is not within a day", h.From, h.To)
		}
	}
	if a.Carry < 0 {
		return fmt.Errorf("a reading cannot be carried for %v", a.Carry)
	}
	return nil
}

func (a *Air) loc() *time.Location {
	if a.Loc == nil {
		return time.UTC
	}
	return a.Loc
}

// profile is the temperature by the clock alone.
func (a *Air) profile(d time.Weekday, c Clock) measure.Temperature {
	t := a.swing(c)
	for _, h := range a.Heated {
		if h.At > t && h.covers(d, c) {
			t = h.At
		}
	}
	return t
}

// swing is the unheated air: straight lines from coldest to warmest and back.
func (a *Air) swing(c Clock) measure.Temperature {
	if a.Night == a.Day {
		return a.Night
	}
	cold, warm := a.ColdestAt, a.WarmestAt
	if cold == 0 && warm == 0 {
		cold, warm = 5*60, 15*60
	}
	since := (c - cold + 1440) % 1440
	rise := (warm - cold + 1440) % 1440
	if since <= rise && rise > 0 {
		return a.Night + (a.Day-a.Night)*measure.Temperature(since)/measure.Temperature(rise)
	}
	return a.Day - (a.Day-a.Night)*measure.Temperature(since-rise)/measure.Temperature(1440-rise)
}

// reader walks over the minutes with the readings in order.
type reader struct {
	a     *Air
	loc   *time.Location
	at    []int64 // Unix seconds of the readings
	diff  []measure.Temperature
	carry int64

	// the stretch of time for which the zone's offset is known, in Unix seconds
	off        int64
	from, till int64
}

func (a *Air) reader() *reader {
	r := &reader{a: a, loc: a.loc(), carry: int64(a.Carry)}
	if r.carry <= 0 {
		r.carry = int64(4 * measure.Hour)
	}
	rs := append([]Reading(nil), a.Readings...)
	sort.SliceStable(rs, func(i, j int) bool { return rs[i].At.Before(rs[j].At) })
	for _, x := range rs {
		sec := x.At.Unix()
		d := x.Temp - r.byClock(sec)
		if n := len(r.at); n > 0 && r.at[n-1] == sec {
			r.diff[n-1] = d // the later of two at one instant stands
			continue
		}
		r.at, r.diff = append(r.at, sec), append(r.diff, d)
	}
	return r
}

func (r *reader) byClock(unix int64) measure.Temperature {
	if unix < r.from || unix >= r.till {
		r.zone(unix)
	}
	// days since Thursday 1 January 1970 and minutes within the day, by the shop's clock
	sec := unix + r.off
	day := sec / 86400
	if sec%86400 < 0 {
		day--
	}
	return r.a.profile(time.Weekday(((day+4)%7+7)%7), Clock((sec-day*86400)/60))
}

// zone looks up the clock's offset at an instant and how long it stands.
func (r *reader) zone(unix int64) {
	t := time.Unix(unix, 0).In(r.loc)
	_, off := t.Zone()
	start, end := t.ZoneBounds()
	r.off, r.from, r.till = int64(off), math.MinInt64, math.MaxInt64
	if !start.IsZero() {
		r.from = start.Unix()
	}
	if !end.IsZero() {
		r.till = end.Unix()
	}
}

// temp is the air at an instant. A reading shifts the profile from then on: to the next reading,
// if that comes within Carry, in a straight line from difference to difference; else fading
// away over Carry.
func (r *reader) temp(unix int64) measure.Temperature {
	t := r.byClock(unix)
	i := sort.Search(len(r.at), func(i int) bool { return r.at[i] > unix }) - 1
	if i < 0 {
		return t
	}
	since := unix - r.at[i]
	if i+1 < len(r.at) {
		if gap := r.at[i+1] - r.at[i]; gap <= r.carry {
			return t + r.diff[i] + (r.diff[i+1]-r.diff[i])*measure.Temperature(since)/measure.Temperature(gap)
		}
	}
	if since >= r.carry {
		return t
	}
	return t + r.diff[i]*measure.Temperature(r.carry-since)/measure.Temperature(r.carry)
}

// At is the air at an instant, by the minute.
func (a *Air) At(t time.Time) measure.Temperature {
	return a.reader().temp(floorMinute(t.Unix()))
}

func floorMinute(unix int64) int64 {
	m := unix % 60
	if m < 0 {
		m += 60
	}
	return unix - m
}
