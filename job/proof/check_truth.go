package proof

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"sort"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/reckon"
)

// Reading is one reading of a check with its verdict.
type Reading struct {
	At    time.Time        `json:"at"`
	Entry string           `json:"entry"`
	Value measure.Length   `json:"value"`
	Five  []measure.Length `json:"five,omitempty"` // far width, fence width, length of the strip
	True  bool             `json:"true"`
	Text  string           `json:"text"`
	Shim  string           `json:"shim,omitempty"` // what to move, and by how much
}

// Series is a check with all its readings, oldest first.
type Series struct {
	Job      string    `json:"job"`
	Check    string    `json:"check"`
	Measure  string    `json:"measure"`
	Wants    string    `json:"wants"` // the tolerance in words
	Readings []Reading `json:"readings"`
	Due      time.Time `json:"due,omitzero"`
	Overdue  bool      `json:"overdue,omitempty"`
	Uses     int       `json:"uses,omitempty"` // uses since the last reading, where those count
	UsesDue  int       `json:"uses_due,omitempty"`
}

// Readings gathers the readings of a job's checks and says when each is due
// again.
func Readings(s *job.Shop, j *job.Job, now time.Time) []Series {
	log := j.Counting()
	var out []Series
	for i := range j.Checks {
		ch := &j.Checks[i]
		se := Series{Job: j.ID, Check: ch.ID, Measure: ch.Measure, Wants: wants(ch, s.Units.Length.System), Readings: []Reading{}}
		var last time.Time
		for _, e := range log {
			if e.Did != job.DidRead || e.Check != ch.ID {
				continue
			}
			se.Readings = append(se.Readings, judge(s, ch, &e))
			last = e.Time
		}
		due(&se, s, j, log, ch, last, now)
		out = append(out, se)
	}
	return out
}

// ReadingOf is the reading that an entry wrote, held against its check; nil where
// it is not there.
func ReadingOf(s *job.Shop, j *job.Job, entry string) *Reading {
	if j == nil {
		return nil
	}
	for _, e := range j.Counting() {
		if ch := j.Check(e.Check); e.ID == entry && e.Did == job.DidRead && ch != nil {
			r := judge(s, ch, &e)
			return &r
		}
	}
	return nil
}

// Gauge writes a length as a gauge shows it, in decimals: to 0.0001 in or
// 0.001 mm, without closing zeros.
func Gauge(l measure.Length, sys measure.System) string {
	unit, places, name := measure.MM, 3, " mm"
	if sys == measure.Inches {
		unit, places, name = measure.Inch, 4, " in"
	}
	text := new(big.Rat).SetFrac64(int64(l), int64(unit)).FloatString(places)
	text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	if text == "-0" {
		text = "0"
	}
	return text + name
}

// wants is a check's tolerance in words.
func wants(ch *job.Check, sys measure.System) string {
	var w []string
	for _, x := range []struct {
		what string
		dim  job.Dim
	}{{"", ch.Nominal}, {"within ", ch.Within}, {"at least ", ch.AtLeast}, {"at most ", ch.AtMost}} {
		if x.dim.Set {
			w = append(w, x.what+Gauge(x.dim.Length, sys))
		}
	}
	return strings.Join(w, ", ")
}

// judge holds one reading against its tolerance. A five-cut reading is the
// two widths of the strip and its length; what is judged is how far the fence
// is out over its pivot distance, or over the strip where no pivot is given.
func judge(s *job.Shop, ch *job.Check, e *job.Entry) Reading {
	u := s.Units.Length
	r := Reading{At: e.Time, Entry: e.ID, Value: e.Value.Length}
	if len(e.Five) == 3 {
		a, b, l := e.Five[0].Length, e.Five[1].Length, e.Five[2].Length
		r.Five = []measure.Length{a, b, l}
		over := l
		if ch.Pivot.Set {
			over = ch.Pivot.Length
		}
		r.Value, r.Shim = fiveCut(a, b, l, over, u)
	}
	v := r.Value
	dist := v
	if ch.Nominal.Set {
		dist = v - ch.Nominal.Length
	}
	r.True = true
	switch {
	case ch.AtMost.Set && v > ch.AtMost.Length,
		ch.AtLeast.Set && v < ch.AtLeast.Length,
		ch.Within.Set && dist.Abs() > ch.Within.Length:
		r.True = false
	}
	r.Text = Gauge(v, u.System)
	if r.True {
		r.Shim = ""
		r.Text += ", true"
	} else {
		r.Text += ", out: wants " + wants(ch, u.System)
	}
	return r
}

// fiveCut gives how far the fence must move at a distance from its pivot, and
// which way, for a fence on the operator's side and a piece kept left of the
// blade.
func fiveCut(a, b, l, over measure.Length, u measure.Units) (measure.Length, string) {
	f, err := reckon.FiveCut(a, b, l, over, 0, true, false, false, u)
	if err != nil || f.Move == 0 {
		return 0, ""
	}
	way := "towards the operator"
	if f.Away {
		way = "away from the operator"
	}
	return f.Move, fmt.Sprintf("move the fence's %s end %s %s, measured %s from its pivot", f.FreeEnd, Gauge(f.Move, u.System), way, measure.FormatUnit(over, u))
}

// due works out when a check wants its next reading.
func due(se *Series, s *job.Shop, j *job.Job, log []job.Entry, ch *job.Check, last, now time.Time) {
	if ch.Every == "" || last.IsZero() {
		return
	}
	n, unit, err := job.ParseEvery(ch.Every)
	if err != nil {
		return
	}
	if unit == "use" {
		for _, e := range log {
			if e.Did == job.DidUse && e.Time.After(last) && !consumed(s, j, e.Item) {
				se.Uses += max(e.Qty, 1)
			}
		}
		se.UsesDue, se.Overdue = n, se.Uses >= n
		return
	}
	zone := s.Zone
	if zone == nil {
		zone = time.UTC
	}
	se.Due = again(last.In(zone), n, unit)
	se.Overdue = !se.Due.After(now)
}

// consumed tells whether an item is used up, such as screws, so that a `used`
// entry of it is no use of the jig.
func consumed(s *job.Shop, j *job.Job, item string) bool {
	for _, h := range j.Hardware {
		if h.Item == item {
			return true
		}
	}
	for _, c := range j.Consumes {
		if c.Item == item {
			return true
		}
	}
	for _, h := range s.Shelf {
		if h.Item == item {
			return true
		}
	}
	return false
}

// again counts on from a reading by the calendar: a month that is too short
// ends on its last day.
func again(t time.Time, n int, unit string) time.Time {
	switch unit {
	case "week":
		return t.AddDate(0, 0, 7*n)
	case "year":
		n *= 12
	}
	y, m, d := t.Date()
	if last := time.Date(y, m+time.Month(n)+1, 0, 0, 0, 0, 0, time.UTC).Day(); d > last {
		d = last
	}
	return time.Date(y, m+time.Month(n), d, t.Hour(), t.Minute(), t.Second(), 0, t.Location())
}

func (c *checker) truth(now time.Time) {
	for _, se := range Readings(c.shop, c.job, now) {
		c.proof.Checked++
		if !se.Overdue {
			continue
		}
		at := c.job.Check(se.Check).At
		text := fmt.Sprintf("%s: %s is due again since %s", c.job.ID, se.Measure, se.Due.Format("2 Jan 2006"))
		if se.UsesDue > 0 {
			text = fmt.Sprintf("%s: %s is due again: %d uses since the last reading, of %d", c.job.ID, se.Measure, se.Uses, se.UsesDue)
		}
		c.say("recheck-due", Look, "", at, text, fmt.Sprintf("read it: caul reading %s -j %s --value ...", se.Check, c.job.ID))
	}
}

// kerfs holds each fitting's kerf against that of the blade it is for now.
func (c *checker) kerfs() {
	for i := range c.job.Fittings {
		f := &c.job.Fittings[i]
		b := c.shop.BladeByID(f.Blade)
		if b == nil || !f.Kerf.Set || !b.Kerf.Set {
			continue
		}
		c.proof.Checked++
		if f.Kerf.Length != b.Kerf.Length {
			c.say("blade-kerf", Look, "", f.At,
				fmt.Sprintf("%s was cut by a kerf of %s and %s cuts %s", cmp.Or(f.Name, f.ID), c.len(f.Kerf.Length), cmp.Or(b.Name, b.ID), c.len(b.Kerf.Length)),
				"cut a new one with this blade, or note which blade it belongs to")
		}
	}
}

// Found is a fitting that answers a question, best first.
type Found struct {
	Job     string      `json:"job"`
	Fitting job.Fitting `json:"fitting"`
	Off     float64     `json:"off"` // degrees from the angle asked for
	Warn    string      `json:"warn,omitempty"`
}

// FindFittings answers which interchangeable piece goes with a blade or
// cutter at an angle. An empty tool finds every fitting; a nil angle any.
func FindFittings(s *job.Shop, tool string, angle *float64) []Found {
	var out []Found
	for _, j := range s.Jobs {
		for _, f := range j.Fittings {
			if tool != "" && f.Blade != tool && f.Cutter != tool && f.Kind != tool {
				continue
			}
			fd := Found{Job: j.ID, Fitting: f}
			if angle != nil {
				fd.Off = f.Angle - *angle
				if fd.Off < 0 {
					fd.Off = -fd.Off
				}
				if fd.Off > 0.5 {
					continue // another angle: not this piece
				}
			}
			if b := s.BladeByID(f.Blade); b != nil && f.Kerf.Set && b.Kerf.Set && b.Kerf.Length != f.Kerf.Length {
				fd.Warn = fmt.Sprintf("cut by a kerf of %s; %s cuts %s now", measure.FormatUnit(f.Kerf.Length, s.Units.Length), cmp.Or(b.Name, b.ID), measure.FormatUnit(b.Kerf.Length, s.Units.Length))
			}
			out = append(out, fd)
		}
	}
	sort.SliceStable(out, func(a, b int) bool {
		if (out[a].Warn == "") != (out[b].Warn == "") {
			return out[a].Warn == ""
		}
		return out[a].Off < out[b].Off
	})
	return out
}

// NearestFitting is the piece for a blade or cutter whose angle is closest to
// the one asked for; false where there is none for it at any angle.
func NearestFitting(s *job.Shop, tool string, angle float64) (Found, bool) {
	var best Found
	ok := false
	for _, f := range FindFittings(s, tool, nil) {
		f.Off = math.Abs(f.Fitting.Angle - angle)
		if !ok || f.Off < best.Off {
			best, ok = f, true
		}
	}
	return best, ok
}
