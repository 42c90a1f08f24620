package plan

import "time"

// Event is one event of the calendar, for whoever wants its facts and not its
// RFC 5545 text.
type Event struct {
	UID     string    `json:"uid"`
	From    time.Time `json:"from"`
	To      time.Time `json:"to,omitzero"` // zero: a moment
	Summary string    `json:"summary"`
	Text    string    `json:"text,omitempty"`
	Busy    bool      `json:"busy"`          // the maker is wanted all through it
	Ring    time.Time `json:"ring,omitzero"` // when its alarm rings
}

// Events are the events that Calendar writes, in the same order.
func Events(p *Plan, opts CalendarOptions) []Event {
	if opts.Before == 0 {
		opts.Before = 15 * time.Minute
	}
	if opts.Latest == 0 {
		opts.Latest = time.Hour
	}
	evs := momentEvents(p, opts)
	if !opts.Moments {
		evs = append(evs, sessionEvents(p, opts)...)
	}
	out := []Event{}
	for _, e := range evs {
		x := Event{UID: e.id, From: e.from, Summary: e.summary, Text: e.text, Busy: e.busy}
		if e.to.After(e.from) {
			x.To = e.to
		}
		if e.ring && !opts.Silent {
			x.Ring = e.from.Add(-e.ringBefore)
		}
		out = append(out, x)
	}
	return out
}
