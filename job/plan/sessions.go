package plan

import (
	"context"

	"caul/job/measure"
	"caul/job/schedule"
)

// usualSession is the shortest session worth giving a step that may be
// stopped, where shop.yaml has no `least:` under `hours:`: common practice, no
// source. Taking the work up and putting it away again would eat up less.
const usualSession = 15 * measure.Minute

// sessionTries bounds how often the search is asked for longer sessions, and
// sessionBudget what each time may cost.
const (
	sessionTries  = 4
	sessionBudget = 60_000
)

func (w *world) leastSession() int64 {
	if l := w.shop.Hours.Least; l > 0 {
		return l.Minutes()
	}
	return usualSession.Minutes()
}

// short is a step that is given too short a session at its beginning or its
// end, and what would mend it.
type short struct {
	act     int
	release int64 // do not begin before
	latest  int64 // be done by then, 0: no limit
}

// shorts finds the steps that are stopped or taken up again for less than the
// shortest session. A setting of a machine that is made right before closing
// counts with the work, and alone when it is made whole.
func (t *task) shorts(start, end []int64, changes []schedule.Change) []short {
	least := t.w.leastSession()
	wins := t.prob.Calendars[t.hours].Windows
	var out []short
	for i := range t.acts {
		a := &t.prob.Activities[i]
		if t.acts[i].role != roleStep || !a.Split || a.Fixed != nil || a.Calendar != t.hours {
			continue
		}
		begin := start[i]
		for _, c := range changes {
			if c.Activity == i {
				begin = min(begin, c.Start)
			}
		}
		var at []schedule.Window // the pieces, and beside them the windows they lie in
		var in []schedule.Window
		for _, w := range wins {
			if p := (schedule.Window{Open: max(begin, w.Open), Close: min(end[i], w.Close)}); p.Open < p.Close {
				at, in = append(at, p), append(in, w)
			}
		}
		n := len(at)
		if n < 2 {
			continue
		}
		first, last := at[0].Close-at[0].Open, at[n-1].Close-at[n-1].Open
		switch {
		case first < least && start[i] < at[0].Close && in[0].Close-in[0].Open >= least:
			out = append(out, short{act: i, release: in[1].Open})
		case last < least && in[n-1].Close-in[n-1].Open >= least:
			out = append(out, short{act: i, latest: in[n-2].Close})
		}
	}
	return out
}

// longer looks for a plan that is no later, and finishes no later, without
// sessions too short to be worth it. The finish comes first: where a short
// session is what it takes, it stays.
func (t *task) longer(ctx context.Context, res *schedule.Result, opts Options) *schedule.Result {
	bad := t.shorts(res.Start, res.End, res.Changes)
	if len(bad) == 0 {
		return res
	}
	p := t.prob
	p.Activities = append([]schedule.Activity(nil), t.prob.Activities...)
	p.Horizon = max(res.Levels[schedule.Finish].Value, 1)
	kept := map[short]bool{} // tried, and no help
	for try := 0; try < sessionTries && ctx.Err() == nil; try++ {
		var next *short
		for k := range bad {
			if !kept[bad[k]] {
				next = &bad[k]
				break
			}
		}
		if next == nil {
			break
		}
		kept[*next] = true
		a := &p.Activities[next.act]
		was := *a
		a.Release = max(a.Release, next.release)
		if next.latest != 0 && (a.Latest == 0 || next.latest < a.Latest) {
			a.Latest = next.latest
		}
		got, err := schedule.Solve(ctx, &p, schedule.Options{Work: sessionBudget, Workers: opts.Workers, Hint: res.Start})
		if err != nil {
			*a = was
			continue
		}
		after, err := schedule.Evaluate(&t.prob, got.Start)
		if err != nil || after.Values[schedule.Lateness] > res.Levels[schedule.Lateness].Value || after.Values[schedule.Finish] > res.Levels[schedule.Finish].Value {
			*a = was
			continue
		}
		now := t.shorts(got.Start, after.End, after.Changes)
		if len(now) >= len(bad) {
			*a = was
			continue
		}
		out := *res
		out.Start, out.End, out.Changes = got.Start, after.End, after.Changes
		out.Levels[schedule.Lateness].Value = after.Values[schedule.Lateness]
		out.Levels[schedule.Finish].Value = after.Values[schedule.Finish]
		for k := schedule.SetupChanges; k < schedule.NumLevels; k++ {
			out.Levels[k].Value, out.Levels[k].Proved = after.Values[k], false
		}
		res, bad = &out, now
	}
	return res
}
