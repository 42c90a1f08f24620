package plan

import (
	"sort"
	"time"

	"caul/job"
)

// session is one stretch in which the maker is in the shop.
type session struct {
	from, to time.Time
	day      date // the date it begins on
	minutes  [2]int
	at       job.Pos
}

func (s session) length() time.Duration { return s.to.Sub(s.from) }

// dayHours gives the windows of one date and why they differ from the week's.
func dayHours(h *job.Hours, d date) ([]job.Window, string) {
	for i := range h.Except {
		e := &h.Except[i]
		if dateOf(e.Date) == d {
			return e.Windows, e.Why
		}
	}
	return h.Week[d.weekday()], ""
}

// sessionsBetween lists the shop's sessions that end after from and begin
// before to, by time. Windows that touch or overlap, over midnight too, are
// one session: a glue-up may run through.
func sessionsBetween(h *job.Hours, loc *time.Location, from, to time.Time) []session {
	var out []session
	last := dateOf(to.In(loc)).plus(1)
	for d := dateOf(from.In(loc)).plus(-2); !last.before(d); d = d.plus(1) {
		ws, _ := dayHours(h, d)
		for _, w := range ws {
			s := session{
				from: d.minute(loc, w.From), to: d.minute(loc, w.To),
				day: d, minutes: [2]int{w.From, w.To}, at: w.At,
			}
			if s.from.Before(s.to) { // the clocks may skip a window whole
				out = append(out, s)
			}
		}
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].from.Before(out[k].from) })
	merged := out[:0]
	for _, s := range out {
		if n := len(merged); n > 0 && !merged[n-1].to.Before(s.from) {
			if s.to.After(merged[n-1].to) {
				merged[n-1].to = s.to
			}
			continue
		}
		merged = append(merged, s)
	}
	kept := merged[:0]
	for _, s := range merged {
		if s.to.After(from) && s.from.Before(to) {
			kept = append(kept, s)
		}
	}
	return kept
}

// openAt tells whether t lies in a session, and which.
func openAt(ss []session, t time.Time) (session, bool) {
	i := sort.Search(len(ss), func(i int) bool { return ss[i].to.After(t) })
	if i < len(ss) && !ss[i].from.After(t) {
		return ss[i], true
	}
	return session{}, false
}

// nextOpen gives the first session that begins after t.
func nextOpen(ss []session, t time.Time) (session, bool) {
	i := sort.Search(len(ss), func(i int) bool { return ss[i].from.After(t) })
	if i < len(ss) {
		return ss[i], true
	}
	return session{}, false
}

// openMinutes counts the minutes of [from, to) that lie in sessions.
func openMinutes(ss []session, from, to time.Time) int64 {
	var sum time.Duration
	for _, s := range ss {
		a, b := s.from, s.to
		if a.Before(from) {
			a = from
		}
		if b.After(to) {
			b = to
		}
		if a.Before(b) {
			sum += b.Sub(a)
		}
	}
	return int64(sum / time.Minute)
}
