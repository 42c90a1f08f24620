package schedule

import "fmt"

// Always is the calendar of what runs day and night.
const Always = -1

// maxTick bounds every time in a problem, so that sums cannot overflow.
const maxTick = int64(1) << 40

// Problem is one scheduling problem. Indices in its parts count from 0.
type Problem struct {
	Horizon    int64 // no activity ends after this tick
	Resources  []Resource
	Calendars  []Calendar
	Activities []Activity
	Lags       []Lag
	Setups     []Setup
	Projects   []Project
}

// Resource is something there is a fixed number of: the maker, bar clamps, a
// flat table. Use returns to the pool when the activity or hold ends.
type Resource struct {
	Name     string
	Capacity int
}

// Window is the half-open interval of ticks [Open, Close).
type Window struct {
	Open, Close int64
}

// Calendar lists the hours of work: sorted, disjoint, non-empty windows.
type Calendar struct {
	Name    string
	Windows []Window
}

// Need is a quantity of a resource taken from start to end of an activity.
type Need struct {
	Resource, Qty int
}

// Hold is a quantity of a resource taken from the start of the activity that
// lists it until the end of activity Until.
type Hold struct {
	Resource, Qty, Until int
}

// State asks that set-up Setup is in state State while the activity runs.
type State struct {
	Setup, State int
}

// Activity is a step: so much work, what it needs, and when it may be.
type Activity struct {
	Name     string
	Work     int64 // ticks of work (of plain duration on calendar Always)
	Calendar int   // index into Problem.Calendars, or Always
	// Split allows the work to pause where the calendar closes and to continue
	// in the next window. Without it the work fits one window whole.
	Split  bool
	Needs  []Need
	Holds  []Hold
	States []State
	// Release is the earliest start. Latest, unless 0, is the latest end.
	Release, Latest int64
	// Fixed pins the start of an activity that is under way or done. FixedEnd,
	// optional beside it, pins the end too; without it the end is start + Work,
	// or, for Split, the tick at which Work open ticks have passed.
	Fixed, FixedEnd *int64
	// Stretch, if set, gives the end for every start (At(start) >= start); Work,
	// Split and Calendar (which must be Always) play no part then.
	Stretch *Curve
}

// Lag ties a moment of activity To (its start, or its end with ToEnd) to a
// moment of activity From (its start, or its end with FromEnd):
//
//	from + Min <= to <= from + Max        (the right part only with HasMax)
//	Curve.At(from) <= to                  (with Curve; Min then plays no part)
//
// Min may be negative.
type Lag struct {
	Name           string // for explanations only
	From, To       int
	FromEnd, ToEnd bool
	Min            int64
	HasMax         bool
	Max            int64
	Curve          *Curve
}

// Setup is something that keeps the state it was last given, such as a saw
// with its fence. Change[a][b] is the number of ticks of hands-on time to go
// from state a to state b; Change[a][a] is 0. Resource is the capacity-one
// resource that makes the change; every activity that asks for a state of the
// set-up needs it. A Change to another state counts as one set-up change even
// when it takes no time.
type Setup struct {
	Name     string
	Resource int
	Initial  int
	Change   [][]int64
}

// Project is a set of activities with a due time. Its lateness is the time by
// which the last end of its members exceeds Due, times Weight. Due 0 is none.
type Project struct {
	Name    string
	Due     int64
	Weight  int64 // 0 counts as 1
	Members []int
}

func (pr *Project) weight() int64 {
	if pr.Weight == 0 {
		return 1
	}
	return pr.Weight
}

// ProblemError reports a problem that is not well formed.
type ProblemError struct {
	What string
}

func (e *ProblemError) Error() string { return "schedule: " + e.What }

func badf(format string, args ...any) error {
	return &ProblemError{What: fmt.Sprintf(format, args...)}
}

func badTick(t int64) bool { return t > maxTick || t < -maxTick }

// Validate reports the first way in which the problem is not well formed: an
// index out of range, a negative duration, windows out of order. It does not
// look for contradictions between well-formed parts; Solve does.
func (p *Problem) Validate() error {
	if p.Horizon <= 0 || badTick(p.Horizon) {
		return badf("horizon %d is not a positive number of ticks", p.Horizon)
	}
	for i, r := range p.Resources {
		if r.Capacity < 0 || r.Capacity > 1<<30 {
			return badf("resource %d (%s): capacity %d", i, r.Name, r.Capacity)
		}
	}
	for i, c := range p.Calendars {
		for k, w := range c.Windows {
			if w.Open >= w.Close || badTick(w.Open) || badTick(w.Close) {
				return badf("calendar %d (%s): window %d from %d to %d is empty or out of range", i, c.Name, k, w.Open, w.Close)
			}
			if k > 0 && c.Windows[k-1].Close > w.Open {
				return badf("calendar %d (%s): window %d opens at %d, before the one ahead of it closes", i, c.Name, k, w.Open)
			}
		}
	}
	if err := p.validateSetups(); err != nil {
		return err
	}
	for i := range p.Activities {
		if err := p.validateActivity(i); err != nil {
			return err
		}
	}
	n := len(p.Activities)
	for i, l := range p.Lags {
		switch {
		case l.From < 0 || l.From >= n || l.To < 0 || l.To >= n:
			return badf("lag %d (%s): from %d to %d, but there are %d activities", i, l.Name, l.From, l.To, n)
		case badTick(l.Min) || badTick(l.Max):
			return badf("lag %d (%s): time out of range", i, l.Name)
		}
	}
	for i, pr := range p.Projects {
		if pr.Weight < 0 || pr.Weight > 1<<20 || badTick(pr.Due) {
			return badf("project %d (%s): weight %d, due %d", i, pr.Name, pr.Weight, pr.Due)
		}
		for _, m := range pr.Members {
			if m < 0 || m >= n {
				return badf("project %d (%s): member %d, but there are %d activities", i, pr.Name, m, n)
			}
		}
	}
	return nil
}

func (p *Problem) validateSetups() error {
	for i, s := range p.Setups {
		k := len(s.Change)
		if s.Resource < 0 || s.Resource >= len(p.Resources) || p.Resources[s.Resource].Capacity != 1 {
			return badf("set-up %d (%s): resource %d is not one of capacity 1", i, s.Name, s.Resource)
		}
		if s.Initial < 0 || s.Initial >= k {
			return badf("set-up %d (%s): initial state %d of %d", i, s.Name, s.Initial, k)
		}
		for a, row := range s.Change {
			if len(row) != k {
				return badf("set-up %d (%s): row %d has %d of %d entries", i, s.Name, a, len(row), k)
			}
			for b, c := range row {
				if c < 0 || badTick(c) || (a == b && c != 0) {
					return badf("set-up %d (%s): change from %d to %d takes %d", i, s.Name, a, b, c)
				}
			}
		}
	}
	return nil
}

func (p *Problem) validateActivity(i int) error {
	a := &p.Activities[i]
	switch {
	case a.Work < 0 || badTick(a.Work):
		return badf("activity %d (%s): work of %d ticks", i, a.Name, a.Work)
	case a.Calendar < Always || a.Calendar >= len(p.Calendars):
		return badf("activity %d (%s): calendar %d", i, a.Name, a.Calendar)
	case badTick(a.Release) || badTick(a.Latest):
		return badf("activity %d (%s): release or latest end out of range", i, a.Name)
	case a.Fixed != nil && badTick(*a.Fixed):
		return badf("activity %d (%s): fixed start out of range", i, a.Name)
	case a.FixedEnd != nil && (a.Fixed == nil || *a.FixedEnd < *a.Fixed || badTick(*a.FixedEnd)):
		return badf("activity %d (%s): fixed end without a fixed start before it", i, a.Name)
	case a.Stretch != nil && a.Calendar != Always:
		return badf("activity %d (%s): both a calendar and a start-dependent duration", i, a.Name)
	}
	if a.Stretch != nil {
		if t, ok := a.Stretch.early(); !ok {
			return badf("activity %d (%s): would end before it starts at %d", i, a.Name, t)
		}
	}
	for _, q := range a.Needs {
		if q.Resource < 0 || q.Resource >= len(p.Resources) || q.Qty < 0 {
			return badf("activity %d (%s): needs %d of resource %d", i, a.Name, q.Qty, q.Resource)
		}
	}
	for _, h := range a.Holds {
		if h.Resource < 0 || h.Resource >= len(p.Resources) || h.Qty < 0 || h.Until < 0 || h.Until >= len(p.Activities) {
			return badf("activity %d (%s): holds %d of resource %d until activity %d", i, a.Name, h.Qty, h.Resource, h.Until)
		}
	}
	seen := map[int]bool{}
	for _, s := range a.States {
		if s.Setup < 0 || s.Setup >= len(p.Setups) || s.State < 0 || s.State >= len(p.Setups[s.Setup].Change) || seen[s.Setup] {
			return badf("activity %d (%s): state %d of set-up %d", i, a.Name, s.State, s.Setup)
		}
		seen[s.Setup] = true
		if a.Work == 0 || a.Stretch != nil {
			return badf("activity %d (%s): asks for a set-up but has no work", i, a.Name)
		}
		needs := false
		for _, q := range a.Needs {
			needs = needs || (q.Resource == p.Setups[s.Setup].Resource && q.Qty > 0)
		}
		if !needs {
			return badf("activity %d (%s): asks for set-up %s but does not need the resource that changes it", i, a.Name, p.Setups[s.Setup].Name)
		}
		if p.Setups[s.Setup].Resource != p.Setups[a.States[0].Setup].Resource {
			return badf("activity %d (%s): its set-ups are changed by different resources", i, a.Name)
		}
	}
	return nil
}
