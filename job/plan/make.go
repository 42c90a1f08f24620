package plan

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"caul/job"
	"caul/job/schedule"
)

// The horizons tried, in days, until the work fits.
var horizons = []int{28, 84, 252, 730}

// defaultBudget is the search's budget in work units for a plan, helpBudget
// for each variant that might help.
const (
	defaultBudget = 4_000_000
	helpBudget    = 1_000_000
)

// solved is a task with its answer.
type solved struct {
	t   *task
	res *schedule.Result
}

// Make plans the open jobs of the shop from now on. Every plan has passed the
// scheduler's own checker and a second one in the shop's terms. The error is
// an *Infeasible when the work cannot be planned as it stands.
func Make(ctx context.Context, shop *job.Shop, now time.Time, opts Options) (*Plan, error) {
	w, err := newWorld(shop, now, opts.Jobs)
	if err != nil {
		return nil, err
	}
	s, err := w.solve(ctx, opts, "the plan")
	if err != nil {
		return nil, err
	}
	p := s.read()
	if err := verify(w, s.t, p); err != nil {
		return nil, fmt.Errorf("the plan does not hold: %w", err)
	}
	if p.foresee(w); len(p.Never) > 0 {
		return p, nil // what binds the finish is told by Never; there is no finish to help
	}
	if opts.Explain {
		p.Chain = s.chain(p)
	}
	if opts.Helps {
		p.Helps = w.helps(ctx, s, p, opts)
	}
	return p, nil
}

// solve translates and solves, with a longer horizon when the work does not
// fit the first.
func (w *world) solve(ctx context.Context, opts Options, what string) (*solved, error) {
	var last error
	for k := 0; k < len(horizons); k++ {
		final := k+1 == len(horizons)
		if !final && !w.mayFit(horizons[k]) {
			continue
		}
		s, err := w.within(ctx, opts, what, horizons[k], false)
		var far *obstacle
		var none *noPlan
		switch {
		case err == nil:
			return s, nil
		case errors.As(err, &far):
			if final || !far.far {
				return nil, &far.Infeasible
			}
			last = &far.Infeasible
			continue
		case !errors.As(err, &none):
			return nil, err
		}
		if none.t.hasPastMost() {
			// what the log began may not be followed up in time: say so and plan on
			if s, err := w.within(ctx, opts, what, horizons[k], true); err == nil {
				return s, nil
			}
		}
		// Without its last moments the work fits in half the time, and no other
		// hours come later: waiting longer would change nothing.
		end, fits := none.t.relaxed(ctx, nil)
		if final || fits && end < none.t.prob.Horizon/2 && !w.moreLater(none.t) {
			return nil, none.t.explainNone(ctx, none.cause)
		}
		last = err
	}
	return nil, last
}

// noPlan is a problem without a schedule.
type noPlan struct {
	t     *task
	cause *schedule.InfeasibleError
}

func (e *noPlan) Error() string { return e.cause.Error() }

// within plans up to a horizon of so many days. The error is an *obstacle, a
// *noPlan, or the search's own.
func (w *world) within(ctx context.Context, opts Options, what string, days int, dropPast bool) (*solved, error) {
	t, err := w.translate(days, dropPast)
	if err != nil {
		return nil, err
	}
	if o := w.cannot(t); o != nil {
		return nil, o
	}
	s, err := t.run(ctx, opts, what)
	var none *schedule.InfeasibleError
	if errors.As(err, &none) {
		return nil, &noPlan{t, none}
	}
	return s, err
}

// mayFit tells whether the open minutes of so many days could hold the
// hands-on time at all.
func (w *world) mayFit(days int) bool {
	to := dateOf(w.now).plus(days).minute(w.ax.loc, 0)
	w.extend(to)
	var work int64
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			if jv.picked && sv.open() && sv.state != job.Curing && sv.state != job.InClamps {
				work += w.remaining(sv).Minutes()
			}
		}
	}
	return openMinutes(w.sessions, w.now, to) >= work
}

func (t *task) hasPastMost() bool {
	for i, n := range t.notes {
		if n.past && t.prob.Lags[i].HasMax {
			return true
		}
	}
	return false
}

// run solves the problem and has the answer checked.
func (t *task) run(ctx context.Context, opts Options, what string) (*solved, error) {
	so := schedule.Options{Work: opts.Budget, Workers: opts.Workers, Levels: opts.levels}
	if so.Work == 0 {
		so.Work = defaultBudget
	}
	if so.Workers == 0 && len(t.acts) > manyActs {
		so.Workers = 2
	}
	if opts.Progress != nil {
		so.Progress = func(p schedule.Progress) {
			pr := Progress{What: what, Finish: t.w.ax.at(p.Values[schedule.Finish])}
			if p.Level == schedule.Finish {
				pr.Earliest = t.w.ax.at(p.Bound)
			}
			opts.Progress(pr)
		}
	}
	so.Levels = schedule.Finish + 1
	res, err := schedule.Solve(ctx, &t.prob, so)
	if err != nil {
		var budget *schedule.ErrBudget
		if errors.As(err, &budget) {
			return nil, fmt.Errorf("%w: %w", ErrNoTime, err)
		}
		return nil, err
	}
	if opts.levels == 0 {
		res = t.longer(ctx, t.tidy(ctx, res, opts), opts)
	}
	if err := schedule.Check(&t.prob, res.Start); err != nil {
		return nil, fmt.Errorf("the plan does not hold: %w", err)
	}
	return &solved{t: t, res: res}, nil
}

// manyActs is how much there is to plan before a second search is run beside
// the first: small shops are proved sooner by one.
const manyActs = 80

// tidyBudget is the search's budget for the two lesser aims, fewest changes of
// set-up and earliest starts, once the finish stands.
const tidyBudget = 400_000

// tidy looks among the plans that are no later, and finish no later, for one
// with fewer changes of set-up and earlier starts. A budget of its own keeps it
// from using up the time for the finish, and the other way round.
func (t *task) tidy(ctx context.Context, res *schedule.Result, opts Options) *schedule.Result {
	p := t.prob
	p.Activities = append([]schedule.Activity(nil), t.prob.Activities...)
	p.Horizon = max(res.Levels[schedule.Finish].Value, 1)
	if res.Levels[schedule.Lateness].Value == 0 {
		for _, pr := range p.Projects {
			for _, m := range pr.Members {
				a := &p.Activities[m]
				if pr.Due != 0 && a.Fixed == nil && (a.Latest == 0 || a.Latest > pr.Due) {
					a.Latest = pr.Due
				}
			}
		}
	}
	better, err := schedule.Solve(ctx, &p, schedule.Options{Work: tidyBudget, Workers: opts.Workers, Hint: res.Start})
	if err != nil {
		return res
	}
	before, err := schedule.Evaluate(&t.prob, res.Start)
	if err != nil {
		return res
	}
	after, err := schedule.Evaluate(&t.prob, better.Start)
	if err != nil || slices.Compare(after.Values[:], before.Values[:]) > 0 {
		return res
	}
	out := *res
	out.Start, out.End, out.Changes = better.Start, after.End, after.Changes
	for k := schedule.SetupChanges; k < schedule.NumLevels; k++ {
		out.Levels[k] = better.Levels[k]
		out.Levels[k].Value = after.Values[k]
		out.Levels[k].Proved = out.Levels[k].Proved && out.Levels[k-1].Proved
	}
	return &out
}
