package schedule

import "math/rand/v2"

// worker is one search: an engine and the ways of using it.
type worker struct {
	s     *solver
	e     *engine
	goal  goals
	id    int
	rng   *rand.Rand
	breed *breeder
	value int64   // of the level under way, in the best schedule known
	start []int64 // that schedule
	bound int64   // proved for the level under way
	found []int64 // a better schedule found since the last sharing
	err   error

	from   int64 // work at the beginning of the level
	gained int64 // work at the last better schedule
	reach  int   // the destructive bound aims at 1/2^reach of the gap
	owed   [3]float64
	strong bool    // surrogate resources have been made
	relax  float64 // part of the activities set free by the neighbourhood search
}

func newWorker(s *solver, id int) (*worker, error) {
	e, g, err := s.m.build()
	if err != nil {
		return nil, err
	}
	e.trans = true
	e.debug = debugChecks
	if len(e.sums) > 0 && s.m.n > 0 {
		e.sums[e.startSum].off = true
	}
	w := &worker{s: s, e: e, goal: g, id: id, relax: 0.3, reach: 1,
		rng: rand.New(rand.NewPCG(uint64(s.opt.Seed), uint64(1000+id)))}
	if k := s.m.pack(); k != nil && g[Lateness] < 0 {
		w.breed = newBreeder(k, uint64(s.opt.Seed)*16+uint64(id))
	}
	return w, nil
}

func (w *worker) spent() int64 {
	n := w.e.work
	if w.breed != nil {
		n += w.breed.work
	}
	return n
}

// starts reads the schedule that the engine has found.
func (w *worker) starts() []int64 {
	start := make([]int64, w.s.m.n)
	for i := range start {
		start[i] = w.e.lb[2*i]
	}
	return start
}

// begin prepares the engine for a level.
func (w *worker) begin(k int) error {
	e := w.e
	e.backTo(0)
	if k == StartSum && e.sums[e.startSum].off {
		e.wakeSum(e.startSum)
		if !e.propagate() {
			e.fail()
			return badf("internal: the sum of starts contradicts its schedule")
		}
	}
	w.value = w.s.best.Levels[k].Value
	w.start = w.s.best.Start
	w.gained = w.spent()
	w.from = w.gained
	w.reach = 1
	w.probe(w.goal[k])
	w.bound = e.lo(w.goal[k])
	return nil
}

// hold keeps a level at its value from now on.
func (w *worker) hold(k int, value int64) error {
	e, x := w.e, w.goal[k]
	e.backTo(0)
	if x >= 0 && e.proof != nil {
		e.proof.held(e, x, value)
	}
	if x >= 0 && (!e.raise(2*x+1, -value, byDecision, 0, 0, 0, 0) || !e.propagate()) {
		e.unsat = true
		return badf("internal: the best value of %s contradicts its schedule", levelNames[k])
	}
	return nil
}

// told takes in what the workers together know.
func (w *worker) told(k int, best *Result, bound int64) error {
	e, x := w.e, w.goal[k]
	w.value, w.start = best.Levels[k].Value, best.Start
	e.model = best.Start
	e.backTo(0)
	if bound > e.lo(x) {
		if !e.raise(2*x, bound, byDecision, 0, 0, 0, 0) || !e.propagate() {
			return badf("internal: a shared bound contradicts a schedule")
		}
	}
	w.bound = max(w.bound, bound)
	return nil
}

// run works for so many units on level k, dividing them over proving from the
// best schedule down, raising the bound from below, and looking for better
// schedules nearby.
func (w *worker) run(k int, units int64) {
	if k == Finish && !w.strong && w.spent()-w.from > 20_000 && w.value-w.bound > 0 {
		w.strong = true
		w.e.backTo(0)
		w.strengthen(w.goal[k])
		if w.e.propagate() {
			w.probe(w.goal[k])
			w.bound = max(w.bound, w.e.lo(w.goal[k]))
		} else {
			w.e.fail()
			w.err = badf("internal: the search contradicts its own schedule")
			return
		}
	}
	parts := w.parts(k)
	stop := w.spent() + units
	for i := range parts {
		w.owed[i] += parts[i] * float64(units)
	}
	for w.spent() < stop && w.err == nil && w.bound < w.value && w.s.ctx.Err() == nil {
		way := 0
		for i := range w.owed {
			if w.owed[i] > w.owed[way] {
				way = i
			}
		}
		before := w.spent()
		part := min(max(int64(w.owed[way]), 5000), max(stop-before, 1))
		switch way {
		case 0:
			w.down(k, part)
		case 1:
			w.up(k, part)
		case 2:
			if k == Finish && w.breed != nil {
				w.cross(part)
			} else {
				w.nearby(k, part)
			}
		}
		w.owed[way] -= float64(max(w.spent()-before, 1))
	}
	w.e.backTo(0)
}

// parts says how a worker divides its units over down, up, and looking for
// better schedules by breeding or nearby.
func (w *worker) parts(k int) [3]float64 {
	since := w.spent() - w.gained // with no better schedule
	breeds := w.breed != nil && k == Finish
	far := breeds && w.s.m.n > 100 && (w.value-w.bound)*40 > w.value // from a proof
	switch many := len(w.s.workers) > 1; {
	case many && w.id > 0 && far:
		return [3]float64{0, 0.05, 0.95}
	case many && w.id > 0 && breeds: // large populations are slow to come to rest
		return [3]float64{0, 0.25, 0.75}
	case many && w.id > 0 && since > 6_000_000: // the schedule is likely the best
		return [3]float64{0, 0.65, 0.35}
	case many && w.id > 0:
		return [3]float64{0, 0.40, 0.60}
	case far:
		return [3]float64{0.20, 0.05, 0.75}
	case many:
		return [3]float64{0.95, 0, 0.05}
	case breeds && since > 300_000:
		return [3]float64{0.91, 0.05, 0.04}
	case breeds:
		return [3]float64{0.77, 0.10, 0.13}
	case since > 300_000:
		return [3]float64{0.88, 0.05, 0.07}
	}
	return [3]float64{0.65, 0.10, 0.25}
}

// take keeps a schedule that the engine has found.
func (w *worker) take(k int) {
	w.keep(w.starts(), w.e.lo(w.goal[k]))
}

func (w *worker) keep(start []int64, value int64) {
	w.found, w.start, w.value = start, start, value
	w.gained = w.spent()
	w.e.model = start
	w.e.backTo(0)
}

// down looks for a schedule better than the best, again and again.
func (w *worker) down(k int, units int64) {
	e, x := w.e, w.goal[k]
	stop := e.work + units
	for e.work < stop && w.bound < w.value {
		switch e.search(w.s.ctx, []atom{{2*x + 1, -(w.value - 1)}}, limits{work: stop}) {
		case found:
			w.take(k)
		case refuted:
			w.bound = w.value
		case closed:
			w.err = badf("internal: the search contradicts its own schedule")
			return
		case spent:
			e.backTo(0)
			w.bound = max(w.bound, e.lo(x))
			return
		}
		e.backTo(0)
		w.bound = max(w.bound, e.lo(x))
	}
}

// up tries to refute a low value of the goal (destructive bound).
func (w *worker) up(k int, units int64) {
	e, x := w.e, w.goal[k]
	stop := e.work + units
	for e.work < stop && w.bound < w.value {
		gap := w.value - w.bound
		mid := w.bound + (gap-1)>>min(w.reach, 40)
		switch e.search(w.s.ctx, []atom{{2*x + 1, -mid}}, limits{work: stop}) {
		case found:
			w.take(k)
		case refuted:
			w.bound = mid + 1
			w.reach = max(1, w.reach-1)
		case closed:
			w.err = badf("internal: the search contradicts its own schedule")
			return
		case spent:
			if w.reach++; gap>>w.reach == 0 {
				w.reach = 1
			}
		}
		e.backTo(0)
		w.bound = max(w.bound, e.lo(x))
	}
}

// cross breeds schedules of a plain problem.
func (w *worker) cross(units int64) {
	b := w.breed
	b.run(units)
	if int64(b.bestEnd) < w.value {
		start := make([]int64, w.s.m.n)
		for i, s := range b.best {
			start[i] = int64(s)
		}
		w.keep(start, int64(b.bestEnd))
	}
}

// nearby sets part of the best schedule free, keeps the order of the rest, and
// searches for a better one (large neighbourhood search, Shaw 1998).
func (w *worker) nearby(k int, units int64) {
	e, x := w.e, w.goal[k]
	stop := e.work + units
	for e.work < stop && w.bound < w.value && w.s.ctx.Err() == nil {
		assume := append([]atom{{2*x + 1, -(w.value - 1)}}, w.keepMost()...)
		switch e.search(w.s.ctx, assume, limits{work: min(stop, e.work+20_000), conflicts: e.conflicts + 300}) {
		case found:
			w.take(k)
		case refuted:
			w.relax = min(0.9, w.relax*1.03)
		case spent:
			w.relax = max(0.1, w.relax/1.03)
		case closed:
			w.err = badf("internal: the search contradicts its own schedule")
			return
		}
		e.backTo(0)
		w.bound = max(w.bound, e.lo(x))
	}
}

// keepMost chooses the activities to set free, by chance or within a stretch
// of time, and gives the order literals that hold the others in their order,
// or bounds near their starts where they have no such order.
func (w *worker) keepMost() []atom {
	m, e := w.s.m, w.e
	n := m.n
	free := make([]bool, n)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	for a := 1; a < n; a++ {
		v, b := order[a], a
		for ; b > 0 && w.start[order[b-1]] > w.start[v]; b-- {
			order[b] = order[b-1]
		}
		order[b] = v
	}
	count := max(2, int(w.relax*float64(n)))
	if w.rng.IntN(2) == 0 {
		at := w.rng.IntN(n)
		for j := at; j < min(n, at+count); j++ {
			free[order[j]] = true
		}
	} else {
		for j := 0; j < count; j++ {
			free[w.rng.IntN(n)] = true
		}
	}
	var out []atom
	ordered := make([]bool, n)
	for r := range m.p.Resources {
		if m.p.Resources[r].Capacity != 1 {
			continue
		}
		last := -1
		for _, i := range order {
			uses := false
			for _, t := range m.taskOf[i] {
				uses = uses || (m.tasks[t].res == r && m.tasks[t].u == i)
			}
			if !uses {
				continue
			}
			ordered[i] = true
			if free[i] {
				continue
			}
			if last >= 0 {
				if l := e.order[last*n+i]; l != noLit && e.end(int32(last), w.start[last]) <= w.start[i] {
					out = append(out, litAtom(l))
				}
			}
			last = i
		}
	}
	slack := (w.value - w.bound) / 8
	for i := range free {
		if !free[i] && !ordered[i] && !m.tm[i].pinned && w.rng.IntN(4) > 0 {
			b := int32(2 * i)
			if v := e.round(b, w.start[i]-1-slack); v > e.lb[b] && v <= e.hi(int32(i)) {
				out = append(out, atom{b, v})
			}
		}
	}
	return out
}

// probe raises the lower bound of a goal as far as propagation alone refutes
// lower values, by halving.
func (w *worker) probe(x int32) {
	e := w.e
	for hi := w.value; e.lo(x) < hi && !e.unsat && w.s.ctx.Err() == nil; {
		mid := e.lo(x) + (hi-e.lo(x)-1)/2
		e.decide(atom{2*x + 1, -mid})
		if e.propagate() {
			e.backTo(0)
			hi = mid
			continue
		}
		ok := false
		for !ok && !e.unsat {
			e.conflicts++
			back, lbd := e.analyze()
			ok = e.learn(back, lbd) && e.propagate()
		}
		if !e.unsat && e.lo(x) <= mid {
			hi = mid // cannot be; do not go round for ever
		}
	}
	if e.unsat {
		w.err = badf("internal: the search contradicts its own schedule")
	}
}
