package schedule

import (
	"context"
	"strings"
)

// infeasible explains why no schedule exists, once that is proved: it leaves
// out activities, then lags, as long as the rest still has none. What remains
// cannot be thinned out further within the effort allowed.
func (m *model) infeasible(ctx context.Context) error {
	p := m.p
	keep := make([]bool, m.n)
	for i := range keep {
		keep[i] = true
	}
	drop := make([]bool, len(p.Lags))
	work := int64(0)
	try := func() bool { // still infeasible?
		if work > 400_000 || ctx.Err() != nil {
			return false
		}
		q := p.part(keep, drop)
		work += int64(len(q.Activities)*len(q.Activities))/8 + 200
		qm, err := compile(q)
		if err != nil {
			return true
		}
		g := newGenerator(qm)
		if g.run(qm.ub0) {
			return false
		}
		e, _, err := qm.build()
		if err != nil {
			return true
		}
		e.trans = true
		st := closed
		if e.rootPropagate() {
			st = e.search(ctx, nil, limits{work: 40_000})
		}
		work += e.work
		return st == closed || st == refuted
	}
	for size := m.n / 2; size >= 1; size /= 2 { // in blocks, then one by one
		for i := 0; i < m.n; i += size {
			var out []int
			for j := i; j < min(m.n, i+size); j++ {
				if keep[j] {
					keep[j] = false
					out = append(out, j)
				}
			}
			if len(out) > 0 && !try() {
				for _, j := range out {
					keep[j] = true
				}
			}
		}
	}
	for k, l := range p.Lags {
		if keep[l.From] && keep[l.To] {
			drop[k] = true
			if !try() {
				drop[k] = false
			}
		}
	}
	e := &InfeasibleError{}
	res := map[int]bool{}
	for i := range keep {
		if !keep[i] {
			continue
		}
		e.Activities = append(e.Activities, i)
		for _, nd := range p.Activities[i].Needs {
			res[nd.Resource] = true
		}
		for _, h := range p.Activities[i].Holds {
			res[h.Resource] = res[h.Resource] || keep[h.Until]
		}
	}
	for k, l := range p.Lags {
		if keep[l.From] && keep[l.To] && !drop[k] {
			e.Lags = append(e.Lags, k)
		}
	}
	var names []string
	for r := range p.Resources {
		if res[r] {
			e.Resources = append(e.Resources, r)
			names = append(names, p.Resources[r].Name)
		}
	}
	if q := p.part(keep, drop); len(e.Activities) < m.n || len(e.Lags) < len(p.Lags) {
		if _, err := compile(q); err != nil { // the plain bounds say it better
			if no, ok := err.(*InfeasibleError); ok {
				return p.restore(no, keep, drop)
			}
		}
	}
	e.What = "there is no time for " + nameList(p, e.Activities) + " together"
	if len(names) > 0 {
		e.What += ", with " + strings.Join(names, ", ") + " as they are"
	}
	return e
}

// part is the problem without some activities and lags.
func (p *Problem) part(keep, drop []bool) *Problem {
	q := &Problem{Horizon: p.Horizon, Resources: p.Resources, Calendars: p.Calendars, Setups: p.Setups}
	at := make([]int, len(keep))
	for i, a := range p.Activities {
		at[i] = -1
		if keep[i] {
			at[i] = len(q.Activities)
			q.Activities = append(q.Activities, a)
		}
	}
	for i := range q.Activities {
		a := &q.Activities[i]
		holds := a.Holds
		a.Holds = nil
		for _, h := range holds {
			if at[h.Until] >= 0 {
				a.Holds = append(a.Holds, Hold{h.Resource, h.Qty, at[h.Until]})
			}
		}
	}
	for k, l := range p.Lags {
		if at[l.From] >= 0 && at[l.To] >= 0 && !drop[k] {
			l.From, l.To = at[l.From], at[l.To]
			q.Lags = append(q.Lags, l)
		}
	}
	return q
}

// restore turns the indices of a part back into those of the whole.
func (p *Problem) restore(e *InfeasibleError, keep, drop []bool) *InfeasibleError {
	var acts, lags []int
	for i, k := range keep {
		if k {
			acts = append(acts, i)
		}
	}
	for k, l := range p.Lags {
		if keep[l.From] && keep[l.To] && !drop[k] {
			lags = append(lags, k)
		}
	}
	for i := range e.Activities {
		e.Activities[i] = acts[e.Activities[i]]
	}
	for i := range e.Lags {
		e.Lags[i] = lags[e.Lags[i]]
	}
	return e
}
