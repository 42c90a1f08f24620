package schedule

import "context"

type status int

const (
	found   status = iota // a schedule: every start is fixed
	refuted               // the assumptions cannot hold (root bounds say why)
	closed                // nothing holds any more, whatever is assumed
	spent                 // the budget ran out
)

// rootPropagate draws the conclusions that hold without any decision.
func (e *engine) rootPropagate() bool {
	for x := int32(0); x < int32(len(e.x)); x++ {
		for _, b := range []int32{2 * x, 2*x + 1} {
			if !e.runArcs(b) || !e.runHalves(b) {
				e.fail()
				return false
			}
		}
	}
	for k := range e.halves {
		if !e.runHalf(int32(k)) {
			e.fail()
			return false
		}
	}
	for k := range e.sums {
		if s := &e.sums[k]; !s.queued && !s.off {
			s.queued = true
			e.sumQ = append(e.sumQ, int32(k))
		}
	}
	if !e.propagate() {
		e.fail()
		return false
	}
	return true
}

func (e *engine) fail() {
	e.unsat = true
	if e.proof != nil {
		e.proof.closed(e)
	}
}

// wakeSum switches a sum on and puts it in the queue.
func (e *engine) wakeSum(k int32) {
	s := &e.sums[k]
	s.off = false
	if !s.queued {
		s.queued = true
		e.sumQ = append(e.sumQ, k)
	}
}

func luby(i int64) int64 {
	for k := int64(1); ; k++ {
		if i == 1<<k-1 {
			return 1 << (k - 1)
		}
		if i < 1<<k-1 {
			return luby(i - (1<<(k-1) - 1))
		}
	}
}

// decide opens a new level with an atom made true.
func (e *engine) decide(a atom) {
	if e.proof != nil && e.level() == 0 {
		e.proof.flush(e)
	}
	e.lim = append(e.lim, int32(len(e.trail)))
	if a.b < 0 {
		e.set(a.lit(), byDecision, 0, 0, 0)
		return
	}
	e.raise(a.b, a.v, byDecision, 0, 0, 0, 0)
}

// learn turns the analysed conflict into a clause and goes back.
func (e *engine) learn(back, lbd int32) bool {
	if back < 0 {
		e.fail()
		return false
	}
	e.backTo(back)
	e.learnt = e.learnt[:0]
	for _, a := range e.outAtoms {
		e.learnt = append(e.learnt, e.boundLit(a).not())
	}
	ls := e.learnt
	if e.proof != nil {
		e.proof.learned(e.outAtoms)
	}
	if len(ls) == 1 {
		a := e.atomOf(ls[0])
		ok := false
		if a.b < 0 {
			ok = e.set(a.lit(), byDecision, 0, 0, 0)
		} else {
			ok = e.raise(a.b, a.v, byDecision, 0, 0, 0, 0)
		}
		if !ok {
			e.fail()
		}
		return ok
	}
	// watch one literal of the level gone back to
	for k := 2; k < len(ls); k++ {
		if e.litLevel(ls[k]) > e.litLevel(ls[1]) {
			ls[1], ls[k] = ls[k], ls[1]
		}
	}
	for _, l := range ls {
		e.bump(l.v())
	}
	ref := e.addClause(ls, lbd)
	if e.proof != nil {
		e.proof.ids[ref] = e.proof.last
	}
	return e.imply(ls[0], ref)
}

// litLevel is the level at which a false literal became false.
func (e *engine) litLevel(l lit) int32 {
	k := e.atomPos(e.atomOf(l.not()))
	if k < 0 {
		return 0
	}
	return e.trail[k].level
}

// limits bound one run of the search.
type limits struct {
	work      int64 // stop when e.work passes this
	conflicts int64 // stop when e.conflicts passes this (0: none)
}

// search looks for a schedule under the assumptions.
func (e *engine) search(ctx context.Context, assume []atom, lim limits) status {
	if e.unsat {
		return closed
	}
	e.backTo(0)
	unit := e.restartUnit
	if unit == 0 {
		unit = 200
	}
	left := unit * luby(e.restarts+1)
	for {
		if !e.propagate() {
			e.conflicts++
			left--
			back, lbd := e.analyze()
			ok := e.learn(back, lbd)
			for !ok && !e.unsat { // the new clause met a conflict at once
				back, lbd = e.analyze()
				ok = e.learn(back, lbd)
			}
			if e.unsat {
				return closed
			}
			e.varInc /= 0.93
			e.claInc /= 0.999
			continue
		}
		if e.work > e.look {
			if e.look = e.work + 20_000; ctx.Err() != nil {
				return spent
			}
		}
		if e.work > lim.work || (lim.conflicts > 0 && e.conflicts > lim.conflicts) {
			return spent
		}
		if left <= 0 {
			e.restarts++
			left = unit * luby(e.restarts+1)
			e.backTo(0)
			if len(e.learnts) > e.maxLearnts {
				e.reduce()
				e.maxLearnts += e.maxLearnts / 20
			}
			continue
		}
		if int(e.level()) < len(assume) {
			a := assume[e.level()]
			if e.refutes(a) {
				return refuted
			}
			e.decide(a)
			continue
		}
		if !e.branch() {
			return found
		}
	}
}

// refutes reports whether an atom is false.
func (e *engine) refutes(a atom) bool {
	if a.b < 0 {
		return e.val[a.lit()] < 0
	}
	return a.v > -e.lb[a.b^1]
}

// branch takes the next decision, or reports false when nothing is open.
func (e *engine) branch() bool {
	for len(e.heap.heap) > 0 {
		v := e.heap.pop(e.act)
		l := mkLit(v)
		if e.val[l] != 0 {
			continue
		}
		if !e.wish(v) {
			l = l.not()
		}
		e.decide(e.atomOf(l))
		return true
	}
	best := int32(-1)
	for x := int32(0); x < int32(e.n); x++ {
		if e.lb[2*x] == -e.lb[2*x+1] {
			continue
		}
		if best < 0 || e.lb[2*x] < e.lb[2*best] || (e.lb[2*x] == e.lb[2*best] && -e.lb[2*x+1] < -e.lb[2*best+1]) {
			best = x
		}
	}
	if best < 0 {
		return false
	}
	e.decide(atom{2*best + 1, -e.lb[2*best]})
	return true
}

// wish is the value to try first for a variable: that of the best schedule so
// far.
func (e *engine) wish(v int32) bool {
	x := e.xOf[v]
	if x >= 0 {
		if e.model != nil && int(x) < e.n {
			return e.model[x] >= e.xVal[v]
		}
		return false
	}
	h := e.halfL[mkLit(v)]
	if h < 0 {
		h = e.halfL[mkLit(v).not()]
		if h < 0 {
			return false
		}
		hf := &e.halves[h]
		return !e.wishHalf(hf)
	}
	return e.wishHalf(&e.halves[h])
}

func (e *engine) wishHalf(h *half) bool {
	if int(h.u) >= e.n || int(h.a) >= e.n {
		return true
	}
	if e.model != nil {
		return e.end(h.u, e.model[h.u]) <= e.model[h.a]
	}
	return e.lb[2*h.u]-e.lb[2*h.u+1] <= e.lb[2*h.a]-e.lb[2*h.a+1]
}
