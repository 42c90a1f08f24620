package job

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
	"time"
)

// clocksApart is how far the clocks of two machines of one shop are believed
// to disagree: an evening's mistake in the zone, not a wrong date.
const clocksApart = 24 * time.Hour

// aheadOfNow is how far in the future an entry may be dated before it is said.
const aheadOfNow = 10 * time.Minute

// States folds the log into the state of each step. The fold looks only at
// the entries: the same entries give the same states in whatever order they
// arrived, an entry that came twice counts once, and one that was taken back
// counts as if it had never been written. Entries of different machines within
// a day of each other that are the wrong way round are taken as clocks that
// disagree: the further state stands. What the log says twice or against
// itself is told as doubts. Waits are not worked out here.
func (j *Job) States() (map[string]StepState, []Doubt) {
	f := &fold{j: j, states: map[string]*StepState{}, by: map[string]string{}, kept: map[string]Entry{}}
	for _, s := range j.Steps {
		f.states[s.ID] = &StepState{Step: s.ID, State: Waiting}
	}
	es := j.once()
	void := f.takenBack(es)
	taps := map[string]string{}
	for _, e := range es {
		if void[e.ID] || e.Did == DidUndo {
			continue
		}
		if e.Tap != "" {
			if _, twice := taps[e.Tap]; twice {
				continue // one tap sent twice is one event
			}
			taps[e.Tap] = e.ID
		}
		f.apply(e)
	}
	f.order()
	out := map[string]StepState{}
	for id, s := range f.states {
		out[id] = *s
	}
	sort.SliceStable(f.doubts, func(a, b int) bool {
		if f.doubts[a].Entry.File != f.doubts[b].Entry.File {
			return f.doubts[a].Entry.File < f.doubts[b].Entry.File
		}
		return f.doubts[a].Text < f.doubts[b].Text
	})
	return out, f.doubts
}

// fewAhead is how many entries dated after now are told one by one.
const fewAhead = 2

// Doubts are those of the log itself, and entries dated after now: each where
// they are few, for then one was mistyped; together where they are more, for
// then it is rather the clock that says now.
func (j *Job) Doubts(now time.Time) []Doubt {
	_, ds := j.States()
	void := j.TakenBack()
	var ahead []Entry
	for _, e := range j.Log {
		if e.Time.After(now.Add(aheadOfNow)) && !void[e.ID] {
			ahead = append(ahead, e)
		}
	}
	const stamp = "2006-01-02 15:04 -07:00"
	if len(ahead) > fewAhead {
		SortEntries(ahead)
		return append(ds, Doubt{Entry: ahead[0].At, // the first, and no count: one more entry is the same doubt
			Text: fmt.Sprintf("this and later entries are dated after now, which is %s", now.Format(stamp)),
			Hint: "set this machine's clock if it is behind; else mend `at:` in those entries by hand"})
	}
	for _, e := range ahead {
		ds = append(ds, Doubt{Entry: e.At,
			Text: fmt.Sprintf("%s is dated %s, which has not come yet", e.ID, e.Time.Format(stamp)),
			Hint: "take it back with `caul undo " + e.ID + "`, or mend its `at:` by hand, and check the clock of the machine that wrote it"})
	}
	return ds
}

// LogAhead is the time of the newest entry of the shop that counts, where it
// lies more than a day after now: the clock that says now is behind.
func (sh *Shop) LogAhead(now time.Time) (time.Time, bool) {
	var newest time.Time
	for _, j := range sh.Jobs {
		for _, e := range j.Counting() {
			if e.Time.After(newest) {
				newest = e.Time
			}
		}
	}
	return newest, newest.After(now.Add(clocksApart))
}

// Counting gives the entries that stand: in order, each once, without those
// that were taken back and without the taking back.
func (j *Job) Counting() []Entry {
	f := &fold{j: j}
	es := j.once()
	void := f.takenBack(es)
	taps := map[string]bool{}
	var out []Entry
	for _, e := range es {
		if void[e.ID] || e.Did == DidUndo || e.Tap != "" && taps[e.Tap] {
			continue
		}
		if e.Tap != "" {
			taps[e.Tap] = true
		}
		out = append(out, e)
	}
	return out
}

// TakenBack tells which entries do not count because another that counts takes
// them back, by id.
func (j *Job) TakenBack() map[string]bool { return (&fold{j: j}).takenBack(j.once()) }

// once gives the log in order, each entry once.
func (j *Job) once() []Entry {
	es := slices.Clone(j.Log)
	SortEntries(es)
	seen := map[string]bool{}
	return slices.DeleteFunc(es, func(e Entry) bool {
		twice := seen[e.ID]
		seen[e.ID] = true
		return twice
	})
}

type fold struct {
	j      *Job
	states map[string]*StepState
	by     map[string]string // step -> machine of the entry that set its state
	kept   map[string]Entry  // step -> the unclamping or finishing that came before its clamping
	doubts []Doubt
}

// wrong is what to do about an entry that was not meant.
func wrong(e Entry) string { return "if that is wrong, take it back with `caul undo " + e.ID + "`" }

func (f *fold) doubt(e Entry, hint, format string, args ...any) {
	f.doubts = append(f.doubts, Doubt{Entry: e.At, Text: fmt.Sprintf(format, args...), Hint: hint})
}

// takenBack finds the entries that do not count: those that an entry which
// counts takes back. Times play no part, so clocks may disagree.
func (f *fold) takenBack(es []Entry) map[string]bool {
	undos := map[string][]Entry{} // target -> the entries that take it back
	known := map[string]bool{}
	for _, e := range es {
		known[e.ID] = true
		if e.Did == DidUndo {
			undos[e.Entry] = append(undos[e.Entry], e)
		}
	}
	void := map[string]bool{}
	state := map[string]int{}
	var isVoid func(id string) bool
	isVoid = func(id string) bool {
		switch state[id] {
		case 1:
			return false // a round of undoing: none of it counts for another
		case 2:
			return void[id]
		}
		state[id] = 1
		v := false
		for _, u := range undos[id] {
			if u.ID != id && !isVoid(u.ID) {
				v = true
			}
		}
		state[id], void[id] = 2, v
		return v
	}
	for _, e := range es {
		isVoid(e.ID)
		if e.Did == DidUndo && !known[e.Entry] {
			f.doubt(e, "the entry may still be on another machine; `caul sync` brings it", "%s takes back %s, which is not in the log", e.ID, e.Entry)
		}
	}
	return void
}

// rank orders the states a step goes through.
var rank = map[State]int{Waiting: 0, Aside: 0, OnBench: 1, InClamps: 2, Curing: 3, Done: 4}

func (f *fold) apply(e Entry) {
	f.doubts = append(f.doubts, f.j.stranger(&e)...)
	s := f.states[e.Step]
	if s == nil {
		return
	}
	switch e.Did {
	case DidBegin, DidClamp, DidUnclamp, DidFinish, DidAside, DidResume:
	default:
		s.Entries = append(s.Entries, e.ID)
		return
	}
	s.Entries = append(s.Entries, e.ID)
	glue := f.j.Step(e.Step).GlueUp != nil
	to := map[string]State{DidBegin: OnBench, DidResume: OnBench, DidClamp: InClamps, DidUnclamp: Curing, DidFinish: Done, DidAside: Aside}[e.Did]
	back := rank[to] < rank[s.State] && to != Aside
	if back && f.clocksDisagree(e, s) {
		f.doubt(e, "look at both entries; take back the wrong one with `caul undo ENTRY`",
			"%s says %q was %s after it was %s by another machine; taken as clocks that disagree", e.ID, e.Step, e.Did, s.State)
		f.late(e, s)
		return
	}
	switch e.Did {
	case DidBegin, DidResume:
		if e.Did == DidResume && s.State == Aside && s.Begun.IsZero() {
			s.State = Waiting // it was set aside before anybody began it
			break
		}
		if s.State == Done || s.State == Curing || s.State == InClamps {
			f.doubt(e, wrong(e), "%s begins %q again, which was %s; it counts as begun again", e.ID, e.Step, s.State)
			*s = StepState{Step: s.Step, Entries: s.Entries}
		}
		if s.Begun.IsZero() {
			s.Begun = e.Time
		}
		s.State = OnBench
	case DidClamp:
		switch s.State {
		case InClamps:
			f.doubt(e, "if it was one clamping, take one of them back with `caul undo ENTRY`", "%s clamps %q, which is in clamps already; the later time counts", e.ID, e.Step)
		case Done, Curing:
			f.doubt(e, wrong(e), "%s clamps %q again, which was %s; it counts as clamped again", e.ID, e.Step, s.State)
			*s = StepState{Step: s.Step, Begun: s.Begun, Entries: s.Entries}
		}
		if s.Begun.IsZero() {
			s.Begun = e.Time
		}
		s.Clamped, s.State, s.Air, s.Held = e.Time, InClamps, e.Air, maps.Clone(e.Clamps)
	case DidUnclamp:
		if s.State == Curing {
			break // said twice: the first time stands
		}
		if s.Clamped.IsZero() {
			f.doubt(e, "add the clamping by hand if it was forgotten", "%s takes the clamps off %q, but no entry puts them on", e.ID, e.Step)
			f.kept[e.Step] = e
			s.Clamped = e.Time
		}
		if s.Begun.IsZero() {
			s.Begun = s.Clamped
		}
		s.Unclamped, s.Held = e.Time, nil
		if s.State != Done {
			s.State = Curing
			if !glue {
				s.State = OnBench
			}
		}
	case DidFinish:
		if s.State == Done {
			break
		}
		if s.State == InClamps {
			f.doubt(e, "log the clamps off if they are off", "%s finishes %q, but no entry takes its clamps off; they count as off", e.ID, e.Step)
			s.Unclamped, s.Held = e.Time, nil
		}
		if s.Begun.IsZero() {
			s.Begun = e.Time
		}
		s.Finished, s.State = e.Time, Done
	case DidAside:
		if s.State == Done || s.State == InClamps || s.State == Curing {
			f.doubt(e, wrong(e), "%s sets %q aside, which was %s; it stays %s", e.ID, e.Step, s.State, s.State)
			return
		}
		s.State = Aside
	}
	f.by[e.Step] = e.Machine
}

// clocksDisagree tells whether an entry that goes back comes from another
// machine, near enough in time to be a wrong clock.
func (f *fold) clocksDisagree(e Entry, s *StepState) bool {
	if e.Machine == f.by[s.Step] || e.Machine == "" && f.by[s.Step] == "" {
		return false
	}
	latest := s.Begun
	for _, t := range []time.Time{s.Clamped, s.Unclamped, s.Finished} {
		if t.After(latest) {
			latest = t
		}
	}
	return e.Time.Sub(latest) <= clocksApart
}

// late takes from an entry that came the wrong way round what the further
// state does not know yet.
func (f *fold) late(e Entry, s *StepState) {
	if e.Did == DidClamp {
		if _, stood := f.kept[e.Step]; stood || s.Clamped.IsZero() {
			s.Clamped = e.Time
			if s.Unclamped.Before(e.Time) && !s.Unclamped.IsZero() {
				s.Unclamped = e.Time
			}
		}
		if s.Air == nil {
			s.Air = e.Air
		}
	}
}

// order says which steps were begun before one they come after.
func (f *fold) order() {
	for i := range f.j.Steps {
		st := &f.j.Steps[i]
		s := f.states[st.ID]
		if s.State == Waiting || len(s.Entries) == 0 {
			continue
		}
		var missing []string
		for _, l := range st.After {
			if t := f.states[l.Step]; t != nil && t.State == Waiting && !f.optional(l.Step) {
				missing = append(missing, l.Step)
			}
		}
		if len(missing) > 0 {
			f.doubts = append(f.doubts, Doubt{Entry: f.entryPos(s.Entries[0]),
				Text: fmt.Sprintf("%q is %s, but %s, which comes before it, was never begun in the log", st.ID, s.State, strings.Join(missing, ", ")),
				Hint: "log what was done there, or mend `after:` in job.yaml"})
		}
	}
}

func (f *fold) optional(id string) bool {
	s := f.j.Step(id)
	return s != nil && s.Optional
}

func (f *fold) entryPos(id string) Pos {
	for _, e := range f.j.Log {
		if e.ID == id {
			return e.At
		}
	}
	return Pos{}
}

func checkIDs(j *Job) []string {
	out := []string{}
	for _, c := range j.Checks {
		out = append(out, c.ID)
	}
	return out
}
