package job

import "time"

// WrittenAt orders the entries of one machine as they were written: when it
// was written down, which is when it happened unless the entry says otherwise.
func (e *Entry) WrittenAt() time.Time {
	if e.Written.IsZero() {
		return e.Time
	}
	return e.Written
}

// LastWritten is the entry that counts and that a machine wrote last, in any
// of the jobs, with its job; nil where the machine wrote none. An empty
// machine means any.
func LastWritten(jobs []*Job, machine string) (*Job, *Entry) {
	var of *Job
	var last *Entry
	for _, j := range jobs {
		es := j.Counting()
		for i := range es {
			e := &es[i]
			if machine != "" && e.Machine != nameWord(machine, 24) {
				continue
			}
			if last == nil || !e.WrittenAt().Before(last.WrittenAt()) {
				of, last = j, e
			}
		}
	}
	return of, last
}

// Write sets when an entry is written down, in whole seconds: by the clock, or
// a second after the last that the machine wrote where the clock is behind
// that. So the last one written is known although a clock was wrong, or the
// entry is dated back, and entries of two machines need not agree on the time.
// An entry that is dated ahead by more than the clock holds nothing up.
func (sh *Shop) Write(e *Entry, machine string, now time.Time) {
	at := now.Truncate(time.Second)
	if e.Time.Sub(at).Abs() < time.Minute {
		at = e.Time.Truncate(time.Second) // moved by seconds so that two entries stand in order, or by a slow network
	}
	if machine == "" {
		machine = "shop"
	}
	if _, last := LastWritten(sh.Jobs, machine); last != nil && !at.After(last.WrittenAt()) {
		at = last.WrittenAt().Add(time.Second)
	}
	if e.Written = at.In(e.Time.Location()); at.Equal(e.Time.Truncate(time.Second)) {
		e.Written = time.Time{}
	}
}
