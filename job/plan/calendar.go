package plan

import (
	"fmt"
	"strings"
	"time"
)

// CalendarOptions steer Calendar.
type CalendarOptions struct {
	Shop    string        // the shop's name: heads the calendar and keeps the ids apart
	Moments bool          // only what the glue sets; the shop sessions are left out
	Before  time.Duration // how long before a shop session its alarm rings; 0 is a quarter of an hour
	Latest  time.Duration // how long before a last moment its alarm rings; 0 is an hour
	Silent  bool          // no alarms
}

// event is one VEVENT.
type event struct {
	id         string
	from, to   time.Time // to zero: a moment
	summary    string
	text       string
	ring       bool
	ringBefore time.Duration
	busy       bool
}

// Calendar writes the plan as an iCalendar object (RFC 5545): when clamps may
// come off, when a joint may be machined, the last moment for what must follow
// soon, and the shop sessions with what is planned in them. All times are UTC
// instants; ids are stable; the same plan gives the same bytes.
func Calendar(p *Plan, opts CalendarOptions) []byte {
	if opts.Before == 0 {
		opts.Before = 15 * time.Minute
	}
	if opts.Latest == 0 {
		opts.Latest = time.Hour
	}
	var w icalWriter
	w.line("BEGIN", "VCALENDAR")
	w.line("VERSION", "2.0")
	w.line("PRODID", "-//caul//shop plan//EN")
	w.line("CALSCALE", "GREGORIAN")
	name := opts.Shop
	if name == "" {
		name = "Shop"
	}
	w.text("NAME", name) // RFC 7986, section 5.1
	w.text("X-WR-CALNAME", name)
	evs := momentEvents(p, opts)
	if !opts.Moments {
		evs = append(evs, sessionEvents(p, opts)...)
	}
	for _, e := range evs {
		writeEvent(&w, p.Now, e, opts)
	}
	w.line("END", "VCALENDAR")
	return w.buf.Bytes()
}

func writeEvent(w *icalWriter, stamp time.Time, e event, opts CalendarOptions) {
	w.line("BEGIN", "VEVENT")
	w.line("UID", e.id)
	w.instant("DTSTAMP", stamp)
	w.instant("DTSTART", e.from)
	if e.to.After(e.from) {
		w.instant("DTEND", e.to)
	}
	w.text("SUMMARY", e.summary)
	if e.text != "" {
		w.text("DESCRIPTION", e.text)
	}
	if e.busy {
		w.line("TRANSP", "OPAQUE")
	} else {
		w.line("TRANSP", "TRANSPARENT")
	}
	if e.ring && !opts.Silent {
		w.line("BEGIN", "VALARM")
		w.line("ACTION", "DISPLAY")
		w.line("TRIGGER", alarm(e.ringBefore))
		w.text("DESCRIPTION", e.summary)
		w.line("END", "VALARM")
	}
	w.line("END", "VEVENT")
}

// momentEvents are the instants that the glue sets, not the maker.
func momentEvents(p *Plan, opts CalendarOptions) []event {
	var out []event
	names := jobNames(p)
	for _, it := range foreseen(p) {
		of := names[it.Job]
		if (it.Kind == Clamped || it.Kind == Cure) && it.Earliest.IsZero() {
			continue
		}
		switch it.Kind {
		case Clamped:
			text := of
			if c := ClampWords(p.shop, it.Clamps); c != "" {
				text += "\n" + c
			}
			if it.Place != "" {
				text += "\non " + placeName(p.shop, it.Place)
			}
			out = append(out, event{
				id: uid(opts.Shop, it.Job, it.Step, "off"), from: it.Earliest, ring: true,
				summary: "Clamps may come off: " + it.Name,
				text:    text + "\n" + planningOnly,
			})
		case Cure:
			out = append(out, event{
				id: uid(opts.Shop, it.Job, it.Step, "cured"), from: it.Earliest, ring: true,
				summary: "May be machined: " + it.Name,
				text:    of + "\n" + planningOnly,
			})
		case Bench, ClampsOff, Wait:
			if it.Kind == Wait || it.Latest.IsZero() || it.Started {
				continue
			}
			out = append(out, event{
				id: uid(opts.Shop, it.Job, it.Step, string(it.Kind), "latest"), from: it.Latest,
				ring: true, ringBefore: opts.Latest,
				summary: "Latest to begin: " + it.Name,
				text:    strings.TrimSpace(of + "\n" + it.Because),
			})
		}
	}
	return out
}

// foreseen are the items of a plan without what waits for a glue that does not
// set in this air: there is no such moment to put in a calendar.
func foreseen(p *Plan) []Item {
	var out []Item
	for _, it := range p.Items {
		if !it.Never {
			out = append(out, it)
		}
	}
	return out
}

const planningOnly = "A planning figure: the label on the glue comes first."

// sessionEvents are the shop's windows in which something is planned.
func sessionEvents(p *Plan, opts CalendarOptions) []event {
	var out []event
	names, items := jobNames(p), foreseen(p)
	for _, d := range p.Days {
		for k, w := range d.Windows {
			var lines, heads []string
			for _, it := range items {
				if it.Kind != Bench && it.Kind != ClampsOff {
					continue
				}
				for _, s := range stretches(it) {
					a, b := later(s.From, w.From), earlier(s.To, w.To)
					if !a.Before(b) {
						continue
					}
					what := benchName(it)
					lines = append(lines, fmt.Sprintf("%s-%s %s (%s)", a.Format("15:04"), b.Format("15:04"), what, names[it.Job]))
					if len(heads) == 0 || heads[len(heads)-1] != what {
						heads = append(heads, what)
					}
				}
			}
			if len(heads) == 0 {
				continue
			}
			head := heads[0]
			if n := len(heads) - 1; n > 0 {
				head += fmt.Sprintf(" and %d more", n)
			}
			out = append(out, event{
				id:   uid(opts.Shop, "session", d.Date.Format("2006-01-02"), fmt.Sprint(k)),
				from: w.From, to: w.To, ring: true, ringBefore: opts.Before, busy: true,
				summary: "Shop: " + head, text: strings.Join(lines, "\n"),
			})
		}
	}
	return out
}

// stretches are an item's hands-on times, whether it is split or not.
func stretches(it Item) []Stretch {
	if len(it.Sessions) > 0 {
		return it.Sessions
	}
	return []Stretch{{From: it.From, To: it.To}}
}

func benchName(it Item) string {
	if it.Kind == ClampsOff {
		return "Clamps off: " + it.Name
	}
	return it.Name
}

func jobNames(p *Plan) map[string]string {
	m := map[string]string{}
	for _, j := range p.Jobs {
		m[j.Job] = j.Name
		if j.Name == "" {
			m[j.Job] = j.Job
		}
	}
	return m
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
