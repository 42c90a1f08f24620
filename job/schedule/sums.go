package schedule

// sum says total >= sum of coef[k] * x[k] over integer variables, coef > 0.
type sum struct {
	x      []int32
	coef   []int64
	total  int32
	queued bool
	off    bool // not looked at for now
}

func (e *engine) addSum(total int32, x []int32, coef []int64) {
	k := int32(len(e.sums))
	e.sums = append(e.sums, sum{x: x, coef: coef, total: total})
	for _, v := range x {
		e.sumOf[2*v] = append(e.sumOf[2*v], k)
	}
	e.sumOf[2*total+1] = append(e.sumOf[2*total+1], k)
}

func (e *engine) runSum(k int32) bool {
	s := &e.sums[k]
	low := int64(0)
	for i, x := range s.x {
		low += s.coef[i] * e.lb[2*x]
	}
	e.work += int64(len(s.x)) / 8
	if !e.raise(2*s.total, low, bySum, 0, k, 0, 0) {
		return false
	}
	if k == e.startSum && e.turns != nil && !e.runTurns(low) {
		return false
	}
	slack := -e.lb[2*s.total+1] - low
	for i, x := range s.x {
		if most := e.lb[2*x] + slack/s.coef[i]; most < -e.lb[2*x+1] {
			if !e.raise(2*x+1, -most, bySum, 0, k, 0, 0) {
				return false
			}
		}
	}
	return true
}

func (e *engine) explainSum(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	s := &e.sums[t.rx]
	if t.b == 2*s.total {
		// the lower bounds add up to at least v; give away the surplus
		low := int64(0)
		for i, x := range s.x {
			low += s.coef[i] * e.at(2*x, k)
		}
		return e.sumAtoms(s, k, -1, low-v, out)
	}
	// x_i <= -v: with x_i at the next value the total is beyond its most
	low, ci, xi := int64(0), int64(0), int32(-1)
	for i, x := range s.x {
		if t.b == 2*x+1 {
			ci, xi = s.coef[i], x
			continue
		}
		low += s.coef[i] * e.at(2*x, k)
	}
	z := e.next(xi, -v+1)
	most := -e.at(2*s.total+1, k)
	out = append(out, atom{2*s.total + 1, -most})
	if z >= inf {
		return out
	}
	return e.sumAtoms(s, k, xi, low+ci*z-most-1, out)
}

// sumAtoms lists lower bounds of the terms, except one, lowered as long as the
// slack lasts.
func (e *engine) sumAtoms(s *sum, k, except int32, slack int64, out []atom) []atom {
	for i, x := range s.x {
		if x == except {
			continue
		}
		v := e.at(2*x, k)
		root := min(v, e.lb0(2*x))
		if v == root {
			continue
		}
		if d := (v - root) * s.coef[i]; d <= slack {
			slack -= d
			continue
		}
		if d := slack / s.coef[i]; d > 0 {
			if w := e.next(x, v-d); w < v {
				slack -= (v - w) * s.coef[i]
				v = w
			}
		}
		out = append(out, atom{2 * x, v})
	}
	return out
}
