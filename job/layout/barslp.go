package layout

import (
	"math"
	"slices"
)

const (
	artificial = 100
	looseCost  = 1.5  // of a column that has to leave
	looseTop   = 1.01 // worth of the best bar found below which all is made exact
)

// root solves the relaxation of the whole problem.
func (r *bars) root() {
	m := len(r.w)
	b, sign, cost := make([]float64, m), make([]float64, m), make([]float64, m)
	for i, d := range r.d {
		b[i], sign[i], cost[i] = float64(d), 1, artificial
	}
	r.lp = newMaster(b, sign, cost)
	for i := range m {
		r.lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
	}
	for _, bar := range r.best {
		r.lp.add(r.column(bar))
	}
	r.loosely()
	r.generate(r.lp, r.d, func(value float64, values []int64, most int64, exact bool) bool {
		if !exact {
			return false
		}
		// What no bar can pass, all bars together can pass only so often.
		var want int64
		for i, v := range values {
			want += v * int64(r.d[i])
		}
		if n := int((want + most - 1) / most); n > r.low {
			r.low, r.lowBy = n, ByPatterns
			r.needOf = need{want: want, have: []int64{most}, by: ByPatterns}
		}
		return r.low >= len(r.best) || int(math.Ceil(value-1e-6)) <= r.low
	})
}

// loosely begins the relaxation with columns that put a shorter length where
// the next longer one has its place. The dual values then fall with the length
// from the start, as they do in the end, and few rounds lead there (J. M.
// Valerio de Carvalho, "Using extra dual cuts to accelerate column generation",
// INFORMS Journal on Computing 17 (2005)). Where a pattern may hold no more of a
// length than is wanted, that is not quite the truth, and the columns leave again.
func (r *bars) loosely() {
	lp := r.lp
	from := len(lp.cols)
	for i := range int32(lp.m - 1) {
		lp.add(column{rows: []int32{i, i + 1}, vals: []float64{-1, 1}})
	}
	to := len(lp.cols)
	r.generate(lp, r.d, func(_ float64, _ []int64, most int64, exact bool) bool {
		return exact || float64(most) < dualScale*looseTop
	})
	for j := from; j < to; j++ {
		if lp.cols[j].dead = true; lp.where[j] >= 0 {
			lp.cols[j].cost = looseCost
		}
	}
}

func (r *bars) column(bar []int) column {
	c := column{cost: 1}
	for i, n := range bar {
		if n > 0 {
			c.rows, c.vals = append(c.rows, int32(i)), append(c.vals, float64(n))
		}
	}
	return c
}

// generate adds columns until none improves or done says so.
func (r *bars) generate(lp *master, left []int, done func(value float64, values []int64, most int64, exact bool) bool) {
	values := make([]int64, len(left))
	c := r.newCentre(left)
	for range 5000 {
		before := lp.ops
		lp.solve(5000)
		r.ops += (lp.ops - before) / 3
		for i := range values {
			values[i] = int64(math.Max(lp.pi[i], 0) * dualScale)
		}
		// A good pattern will do as long as there is one; the best is needed to
		// see that there is none, and for the bound.
		most, bar := r.knap.good(values, left)
		r.ops += r.knap.steps
		r.knap.steps = 0
		if float64(most) <= dualScale*(1+1e-4) {
			asked := c.between(values)
			found, top := r.fill.fill(asked, nil, left, dualScale+dualScale>>23, 30, fillSteps)
			r.ops += r.fill.steps
			r.fill.steps = 0
			if done(lp.value(), asked, top, true) || r.limit(r.ops) {
				return
			}
			had := len(lp.cols)
			for i := range found {
				if found[i].worth(values) > dualScale+dualScale>>23 {
					lp.add(found[i].column())
				}
			}
			if !c.learn(asked, top, left, len(lp.cols) > had) {
				return
			}
			continue
		}
		if done(lp.value(), values, most, false) || r.limit(r.ops) {
			return
		}
		lp.add(r.column(bar))
		// Further patterns of what this one leaves save many rounds.
		rest := slices.Clone(left)
		for range 1 + len(left)/6 {
			for i, n := range bar {
				rest[i] -= n
			}
			var v int64
			v, bar = r.knap.good(values, rest)
			if float64(v) <= dualScale*(1+1e-6) {
				break
			}
			lp.add(r.column(bar))
		}
		r.ops += r.knap.steps
		r.knap.steps = 0
	}
}

// learn takes over patterns that a dive found, for the next.
func (r *bars) learn(lp *master, known int) {
	if len(r.lp.cols) > 6*len(r.w)+2000 {
		return
	}
	for j := known; j < len(lp.cols); j++ {
		c := lp.cols[j]
		c.cost, c.dead = 1, false
		r.lp.add(c)
	}
	before := r.lp.ops
	r.lp.solve(2000)
	r.ops += (r.lp.ops - before) / 3
}
