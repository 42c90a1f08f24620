package schedule

import (
	"context"
	"math/rand/v2"
)

// solve runs the search within the budget.
func (m *model) solve(ctx context.Context, opt Options) (*Result, error) {
	budget := opt.Work
	if budget <= 0 {
		budget = DefaultWork
	}
	g := newGenerator(m)
	rng := rand.New(rand.NewPCG(uint64(opt.Seed), 1))
	prio := make([]int64, m.n)
	var best *Result
	for try := 0; try < 200 && g.work < budget && ctx.Err() == nil; try++ {
		for i := range prio {
			prio[i] = m.ub0[i]
			if try > 0 {
				prio[i] -= rng.Int64N(1 + (m.ub0[i]-m.lb0[i])/4)
			}
		}
		if !g.run(prio) {
			continue
		}
		out, err := Evaluate(m.p, g.start)
		if err != nil {
			continue
		}
		if best == nil || less(out.Values, best) {
			best = &Result{Start: append([]int64(nil), g.start...), End: out.End, Changes: out.Changes}
			for k := range best.Levels {
				best.Levels[k] = Level{Name: levelNames[k], Value: out.Values[k]}
			}
		}
	}
	if best == nil {
		return nil, &ErrBudget{Work: g.work, Cause: ctx.Err()}
	}
	best.Work = g.work
	return best, nil
}

func less(v [NumLevels]int64, r *Result) bool {
	for k := range v {
		if v[k] != r.Levels[k].Value {
			return v[k] < r.Levels[k].Value
		}
	}
	return false
}
