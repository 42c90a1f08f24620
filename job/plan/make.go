package plan

import (
	"context"
	"errors"
	"fmt"
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
	dropPast := false
	for k := 0; k < len(horizons); k++ {
		if k+1 < len(horizons) && !w.mayFit(horizons[k]) {
			continue
		}
		t, err := w.translate(horizons[k], dropPast)
		if err != nil {
			return nil, err
		}
		if inf := w.cannot(t); inf != nil {
			if k+1 < len(horizons) && inf.far {
				last = &inf.Infeasible
				continue
			}
			return nil, &inf.Infeasible
		}
		s, err := t.run(ctx, opts, what)
		if err == nil {
			return s, nil
		}
		var none *schedule.InfeasibleError
		if !errors.As(err, &none) {
			return nil, err
		}
		last = err
		if k+1 < len(horizons) {
			continue
		}
		if t.hasPastMost() && !dropPast {
			// what the log began cannot be followed up in time: say so and plan on
			dropPast = true
			k = -1
			continue
		}
		return nil, t.explainNone(ctx, opts, none)
	}
	return nil, last
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
	so := schedule.Options{Work: opts.Budget, Workers: opts.Workers}
	if so.Work == 0 {
		so.Work = defaultBudget
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
	res, err := schedule.Solve(ctx, &t.prob, so)
	if err != nil {
		var budget *schedule.ErrBudget
		if errors.As(err, &budget) {
			return nil, fmt.Errorf("%w: %w", ErrNoTime, err)
		}
		return nil, err
	}
	if err := schedule.Check(&t.prob, res.Start); err != nil {
		return nil, fmt.Errorf("the plan does not hold: %w", err)
	}
	return &solved{t: t, res: res}, nil
}
