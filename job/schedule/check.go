package schedule

import (
	"fmt"
	"sort"
)

// This file is the judge. It works from the problem and the starts alone, by
// plain scanning, and shares nothing with the engine.

// Outcome is what a feasible set of starts amounts to.
type Outcome struct {
	End     []int64
	Changes []Change
	Values  [NumLevels]int64 // lateness, finish, set-up changes, sum of starts
}

// Change is one set-up change made before an activity: hands-on time in the
// open hours between Start and End (the start of the activity).
type Change struct {
	Setup, Activity int
	From, To        int
	Start, End      int64
}

// Violation says which rule a set of starts breaks, and where.
type Violation struct {
	Activities []int
	Lag        int // index of the lag broken, or -1
	What       string
}

func (v *Violation) Error() string { return "schedule: " + v.What }

// Check reports the first rule of the problem that the starts break, as a
// *Violation, or nil. It is independent of the engine.
func Check(p *Problem, start []int64) error {
	_, err := Evaluate(p, start)
	return err
}

// Evaluate checks the starts and works out ends, set-up changes and the value
// of each objective level.
func Evaluate(p *Problem, start []int64) (*Outcome, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	n := len(p.Activities)
	if len(start) != n {
		return nil, badf("%d starts for %d activities", len(start), n)
	}
	c := checker{p: p, start: start, end: make([]int64, n)}
	for i := range p.Activities {
		if err := c.activity(i); err != nil {
			return nil, err
		}
	}
	for k := range p.Lags {
		if err := c.lag(k); err != nil {
			return nil, err
		}
	}
	if err := c.capacities(); err != nil {
		return nil, err
	}
	changes, err := c.setups()
	if err != nil {
		return nil, err
	}
	out := &Outcome{End: c.end, Changes: changes}
	for _, pr := range p.Projects {
		late := int64(0)
		for _, m := range pr.Members {
			if pr.Due != 0 && c.end[m]-pr.Due > late {
				late = c.end[m] - pr.Due
			}
		}
		out.Values[Lateness] += late * pr.weight()
	}
	for i := range start {
		out.Values[Finish] = max(out.Values[Finish], c.end[i])
		out.Values[StartSum] += start[i]
	}
	out.Values[SetupChanges] = int64(len(changes))
	return out, nil
}

type checker struct {
	p          *Problem
	start, end []int64
}

func (c *checker) name(i int) string {
	if s := c.p.Activities[i].Name; s != "" {
		return fmt.Sprintf("%d (%s)", i, s)
	}
	return fmt.Sprint(i)
}

func (c *checker) fail(lag int, acts []int, format string, args ...any) error {
	return &Violation{Activities: acts, Lag: lag, What: fmt.Sprintf(format, args...)}
}

// activity works out the end of one activity and checks its hours.
func (c *checker) activity(i int) error {
	a, s := &c.p.Activities[i], c.start[i]
	if a.Fixed != nil {
		if s != *a.Fixed {
			return c.fail(-1, []int{i}, "activity %s starts at %d, not at its fixed %d", c.name(i), s, *a.Fixed)
		}
		switch {
		case a.FixedEnd != nil:
			c.end[i] = *a.FixedEnd
		case a.Stretch != nil:
			c.end[i] = a.Stretch.At(s)
		case a.Split && a.Calendar != Always && a.Work > 0:
			e, ok := workFrom(c.p.Calendars[a.Calendar].Windows, s, a.Work)
			if !ok {
				return c.fail(-1, []int{i}, "activity %s cannot be finished in the hours given", c.name(i))
			}
			c.end[i] = e
		default:
			c.end[i] = s + a.Work
		}
		if c.end[i] > c.p.Horizon {
			return c.fail(-1, []int{i}, "activity %s ends at %d, after the horizon", c.name(i), c.end[i])
		}
		return nil
	}
	if s < a.Release {
		return c.fail(-1, []int{i}, "activity %s starts at %d, before its release at %d", c.name(i), s, a.Release)
	}
	switch {
	case a.Stretch != nil:
		c.end[i] = a.Stretch.At(s)
		if c.end[i] < s {
			return c.fail(-1, []int{i}, "activity %s ends at %d, before its start at %d", c.name(i), c.end[i], s)
		}
	case a.Calendar == Always:
		c.end[i] = s + a.Work
	default:
		ws := c.p.Calendars[a.Calendar].Windows
		in := false
		for _, w := range ws {
			if a.Split && a.Work > 0 {
				in = in || (w.Open <= s && s < w.Close)
			} else {
				in = in || (w.Open <= s && s+a.Work <= w.Close)
			}
		}
		if !in {
			return c.fail(-1, []int{i}, "activity %s does not fit its hours when started at %d", c.name(i), s)
		}
		c.end[i] = s + a.Work
		if a.Split && a.Work > 0 {
			e, ok := workFrom(ws, s, a.Work)
			if !ok {
				return c.fail(-1, []int{i}, "activity %s cannot be finished in the hours given", c.name(i))
			}
			c.end[i] = e
		}
	}
	if c.end[i] > c.p.Horizon {
		return c.fail(-1, []int{i}, "activity %s ends at %d, after the horizon", c.name(i), c.end[i])
	}
	if a.Latest != 0 && c.end[i] > a.Latest {
		return c.fail(-1, []int{i}, "activity %s ends at %d, after its latest end %d", c.name(i), c.end[i], a.Latest)
	}
	return nil
}

// workFrom gives the tick at which work open ticks have passed since s.
func workFrom(ws []Window, s, work int64) (int64, bool) {
	for _, w := range ws {
		from := max(s, w.Open)
		if from >= w.Close {
			continue
		}
		if w.Close-from >= work {
			return from + work, true
		}
		work -= w.Close - from
	}
	return 0, false
}

func (c *checker) lag(k int) error {
	l := &c.p.Lags[k]
	if c.p.Activities[l.From].Fixed != nil && c.p.Activities[l.To].Fixed != nil {
		return nil
	}
	from, to := c.start[l.From], c.start[l.To]
	if l.FromEnd {
		from = c.end[l.From]
	}
	if l.ToEnd {
		to = c.end[l.To]
	}
	least := from + l.Min
	if l.Curve != nil {
		least = l.Curve.At(from)
	}
	acts := []int{l.From, l.To}
	if to < least {
		return c.fail(k, acts, "lag %d %s: activity %s is at %d, before %d allowed by activity %s", k, l.Name, c.name(l.To), to, least, c.name(l.From))
	}
	if l.HasMax && to > from+l.Max {
		return c.fail(k, acts, "lag %d %s: activity %s is at %d, after the most of %d from activity %s", k, l.Name, c.name(l.To), to, from+l.Max, c.name(l.From))
	}
	return nil
}

// capacities checks every resource by walking through starts and ends.
func (c *checker) capacities() error {
	type event struct {
		at  int64
		qty int
		act int
	}
	for r, res := range c.p.Resources {
		var evs []event
		take := func(act, qty int, from, to int64) {
			from = max(from, 0)
			if from < to && qty > 0 {
				evs = append(evs, event{from, qty, act}, event{to, -qty, act})
			}
		}
		for i := range c.p.Activities {
			for _, q := range c.p.Activities[i].Needs {
				if q.Resource == r {
					take(i, q.Qty, c.start[i], c.end[i])
				}
			}
			for _, h := range c.p.Activities[i].Holds {
				if c.p.Activities[i].Fixed == nil || c.p.Activities[h.Until].Fixed == nil {
					if c.end[h.Until] < c.end[i] {
						return c.fail(-1, []int{i, h.Until}, "activity %s ends before activity %s, which holds %s until then", c.name(h.Until), c.name(i), res.Name)
					}
				}
				if h.Resource == r {
					take(i, h.Qty, c.start[i], c.end[h.Until])
				}
			}
		}
		sort.Slice(evs, func(a, b int) bool {
			if evs[a].at != evs[b].at {
				return evs[a].at < evs[b].at
			}
			if (evs[a].qty < 0) != (evs[b].qty < 0) {
				return evs[a].qty < 0
			}
			return evs[a].act < evs[b].act
		})
		used := 0
		for _, e := range evs {
			used += e.qty
			if used > res.Capacity {
				return c.fail(-1, []int{e.act}, "%d of resource %d (%s) in use at %d when activity %s starts, of %d", used, r, res.Name, e.at, c.name(e.act), res.Capacity)
			}
		}
	}
	return nil
}

// setups follows each capacity-one resource through its activities and checks
// that the changes of set-up fit between them.
func (c *checker) setups() ([]Change, error) {
	var changes []Change
	for r := range c.p.Resources {
		state := map[int]int{} // set-up -> its present state
		for k, s := range c.p.Setups {
			if s.Resource == r {
				state[k] = s.Initial
			}
		}
		if len(state) == 0 {
			continue
		}
		// occupations of the resource: activities and holds
		type busy struct {
			from, to int64
			act      int
			whole    bool // an activity, not a hold
		}
		var line []busy
		for i := range c.p.Activities {
			for _, q := range c.p.Activities[i].Needs {
				if q.Resource == r && q.Qty > 0 && c.end[i] > c.start[i] {
					line = append(line, busy{c.start[i], c.end[i], i, true})
					break
				}
			}
			for _, h := range c.p.Activities[i].Holds {
				if h.Resource == r && h.Qty > 0 && c.end[h.Until] > c.start[i] {
					line = append(line, busy{c.start[i], c.end[h.Until], i, false})
				}
			}
		}
		sort.SliceStable(line, func(a, b int) bool { return line[a].from < line[b].from })
		free := int64(0) // end of the last occupation
		for _, b := range line {
			if !b.whole {
				free = max(free, b.to)
				continue
			}
			a := &c.p.Activities[b.act]
			total := int64(0)
			first := len(changes)
			for _, s := range a.States {
				from := state[s.Setup]
				state[s.Setup] = s.State
				if from == s.State || a.Fixed != nil {
					continue
				}
				total += c.p.Setups[s.Setup].Change[from][s.State]
				changes = append(changes, Change{Setup: s.Setup, Activity: b.act, From: from, To: s.State, End: b.from})
			}
			begin, ok := c.workBefore(a.Calendar, b.from, total)
			if a.Fixed == nil && (!ok || begin < free) {
				return nil, c.fail(-1, []int{b.act}, "activity %s starts at %d, but its set-up changes take %d open ticks after %d", c.name(b.act), b.from, total, free)
			}
			rest := int64(0)
			for k := len(changes) - 1; k >= first; k-- {
				ch := &changes[k]
				rest += c.p.Setups[ch.Setup].Change[ch.From][ch.To]
				ch.Start, _ = c.workBefore(a.Calendar, b.from, rest)
			}
			free = max(free, b.to)
		}
	}
	sort.SliceStable(changes, func(a, b int) bool { return changes[a].End < changes[b].End })
	return changes, nil
}

// workBefore gives the latest tick from which there are at least work open
// ticks until t.
func (c *checker) workBefore(cal int, t, work int64) (int64, bool) {
	if work == 0 {
		return t, true
	}
	if cal == Always {
		return t - work, true
	}
	ws := c.p.Calendars[cal].Windows
	for k := len(ws) - 1; k >= 0; k-- {
		till := min(t, ws[k].Close)
		if till <= ws[k].Open {
			continue
		}
		if till-ws[k].Open >= work {
			return till - work, true
		}
		work -= till - ws[k].Open
	}
	return 0, false
}
