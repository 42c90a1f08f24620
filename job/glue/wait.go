package glue

import (
	"fmt"
	"time"

	"caul/job/measure"
)

// Wait is one wait worked out: from clamps on to ready.
type Wait struct {
	Start   time.Time           `json:"start,omitzero"`
	Ready   time.Time           `json:"ready,omitzero"`  // zero when Never
	Never   bool                `json:"never,omitempty"` // the air stays too cold for the whole of MaxWait
	Mean    measure.Temperature `json:"mean"`
	Coldest measure.Temperature `json:"coldest"`
	Still   measure.Span        `json:"still,omitempty"` // time in which nothing happened, because it was too cold
	Cold    []Spell             `json:"cold,omitempty"`  // the stretches of that, in order
	At20    measure.Span        `json:"at_20c"`          // what the same wait is at a steady 20 °C
	lowest  measure.Temperature
}

// Spell is a stretch of air below the glue's lowest temperature.
type Spell struct {
	From    time.Time           `json:"from"`
	To      time.Time           `json:"to"`
	Coldest measure.Temperature `json:"coldest"`
}

// MaxWait is how far ahead a wait is followed before it is called never.
const MaxWait = 90 * 24 * measure.Hour

// Takes is the length of the wait.
func (w Wait) Takes() measure.Span {
	if w.Never {
		return MaxWait
	}
	return measure.SpanOf(w.Ready.Sub(w.Start))
}

// Wait follows the air from start until the rate's work is done, standing still below lowest.
// The start counts to the second, the answer is rounded up to the second, and a later start
// never has an earlier answer.
func (a *Air) Wait(r Rate, lowest measure.Temperature, start time.Time) Wait {
	w := Wait{Start: start, Ready: start, lowest: lowest, At20: r.At(measure.InCelsius(20))}
	air := a.reader()
	loc := a.loc()
	begin := start.Unix()
	if start.Nanosecond() > 0 {
		begin++ // the fraction is lost, never gained
	}
	first := air.temp(floorMinute(begin))
	w.Mean, w.Coldest = first, first
	if r.None() {
		return w
	}
	speeds := speeds{rate: r, lowest: lowest}
	left := whole
	var degrees, seconds int64 // the mean's sum; 900 parts a degree over 90 days fits
	cold := -1
	at := begin
	end := begin + int64(MaxWait)
	for at < end {
		t := air.temp(floorMinute(at))
		per := speeds.at(t)
		n := floorMinute(at) + 60 - at
		if per > 0 && left <= per*n {
			n = (left + per - 1) / per
			left = 0
		} else {
			left -= per * n
		}
		degrees += int64(t) * n
		seconds += n
		w.Coldest = min(w.Coldest, t)
		if per == 0 {
			w.Still += measure.Span(n)
			if cold < 0 {
				cold = len(w.Cold)
				w.Cold = append(w.Cold, Spell{From: time.Unix(at, 0).In(loc), Coldest: t})
			}
			s := &w.Cold[cold]
			s.To, s.Coldest = time.Unix(at+n, 0).In(loc), min(s.Coldest, t)
		} else {
			cold = -1
		}
		at += n
		if left == 0 {
			break
		}
	}
	w.Mean = measure.Temperature(degrees / max(seconds, 1))
	if left > 0 {
		w.Never, w.Ready = true, time.Time{}
		return w
	}
	w.Ready = time.Unix(at, 0).In(loc)
	return w
}

// speeds remembers the work per second at each temperature met.
type speeds struct {
	rate   Rate
	lowest measure.Temperature
	known  map[measure.Temperature]int64
	last   measure.Temperature
	lastV  int64
	warm   bool
}

func (s *speeds) at(t measure.Temperature) int64 {
	if s.warm && t == s.last {
		return s.lastV
	}
	if s.known == nil {
		s.known = map[measure.Temperature]int64{}
	}
	v, ok := s.known[t]
	if !ok {
		v = s.rate.perSecond(t, s.lowest)
		s.known[t] = v
	}
	s.last, s.lastV, s.warm = t, v, true
	return v
}

// Warnings says in words what the cold does to the wait, naming the night.
func (w Wait) Warnings(sc measure.Scale) []string {
	var out []string
	for _, s := range w.Cold {
		if w.Never && len(out) == 3 {
			break
		}
		if w.Never && s.To.Sub(s.From) > 36*time.Hour {
			continue // it ends where the looking ended
		}
		out = append(out, fmt.Sprintf("%s it is below %s from %s to %s (coldest %s), and the glue stands still",
			spellName(s), w.lowest.FormatIn(sc), s.From.Format("15:04"), s.To.Format("15:04"), s.Coldest.FormatIn(sc)))
	}
	if w.Never {
		out = append(out, fmt.Sprintf("in this air the glue is never ready within %d days: heat the shop or use a glue that cures colder",
			int64(MaxWait/(24*measure.Hour))))
	}
	return out
}

// spellName names the night, or the day for a spell that does not touch one.
func spellName(s Spell) string {
	from, to := s.From, s.To
	if to.Sub(from) > 36*time.Hour {
		return fmt.Sprintf("from %s to %s", from.Format("Mon 2 Jan"), to.Format("Mon 2 Jan"))
	}
	switch {
	case from.YearDay() != to.YearDay():
		return fmt.Sprintf("in the night of %s to %s", from.Format("Mon 2 Jan"), to.Format("Mon 2 Jan"))
	case from.Hour() < 12 && to.Hour() <= 12:
		return "in the early hours of " + from.Format("Mon 2 Jan")
	case from.Hour() >= 17:
		return "in the evening of " + from.Format("Mon 2 Jan")
	}
	return "on " + from.Format("Mon 2 Jan")
}

// Why says in one line how the air made the wait what it is.
func (w Wait) Why(sc measure.Scale) string {
	if w.Never {
		return "never ready: the air stays below " + w.lowest.FormatIn(sc)
	}
	if w.At20 == 0 {
		return "no wait"
	}
	s := fmt.Sprintf("%s at a mean of %s; at a steady %s it is %s",
		wholeMinutes(w.Takes()), w.Mean.FormatIn(sc), measure.InCelsius(20).FormatIn(sc), w.At20)
	if w.Still > 0 {
		s += fmt.Sprintf("; %s of it stood still below %s", w.Still, w.lowest.FormatIn(sc))
	}
	return s
}

// wholeMinutes is a wait of ten minutes or more in whole minutes, never told short: no
// glue keeps seconds.
func wholeMinutes(s measure.Span) measure.Span {
	if s < 10*measure.Minute {
		return s
	}
	return s.MinutesUp()
}
