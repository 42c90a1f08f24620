package schedule

import (
	"context"
	"math/rand/v2"
	"sync"
)

// solver runs the levels of the objective one after the other, with one or
// several workers in lock-step: all work for the same number of units, then
// they share what they have found, in a fixed order. The clock plays no part.
type solver struct {
	m       *model
	opt     Options
	ctx     context.Context
	budget  int64
	gen     *generator
	rng     *rand.Rand
	workers []*worker
	best    *Result
	floor   [NumLevels]int64 // bounds that hold from the outset
	level   int              // being minimised
	err     error
}

func (m *model) solve(ctx context.Context, opt Options) (*Result, error) {
	s := &solver{m: m, opt: opt, ctx: ctx, budget: opt.Work, gen: newGenerator(m), rng: rand.New(rand.NewPCG(uint64(opt.Seed), 1))}
	if s.budget <= 0 {
		s.budget = DefaultWork
	}
	for i := range m.tm {
		s.floor[Finish] = max(s.floor[Finish], m.tm[i].end(m.lb0[i]))
		s.floor[StartSum] += m.lb0[i]
	}
	levels := opt.Levels
	if levels <= 0 || levels > NumLevels {
		levels = NumLevels
	}
	if len(opt.Hint) == m.n {
		s.offer(opt.Hint)
	}
	if m.n == 0 {
		s.offer(nil)
		for k := range s.best.Levels {
			s.best.Levels[k].Proved = true
		}
		return s.best, nil
	}
	s.generate()
	s.walk()
	if err := s.hire(); err != nil {
		return nil, err
	}
	if s.best == nil {
		if err := s.first(); err != nil {
			return nil, err
		}
	}
	proved := true
	for k := 0; k < levels; k++ {
		if err := s.minimise(k, levels); err != nil {
			return nil, err
		}
		lv := &s.best.Levels[k]
		proved = proved && lv.Bound == lv.Value
		lv.Proved = proved
		if s.ctx.Err() != nil {
			break
		}
	}
	if p := s.workers[0].e.proof; p != nil {
		s.workers[0].e.backTo(0)
		if p.done(s.workers[0].e); p.err != nil {
			return nil, p.err
		}
	}
	s.best.Work = s.spent()
	for _, w := range s.workers {
		s.best.Conflicts += w.e.conflicts
	}
	return s.best, nil
}

// hire makes the workers, each with an engine of its own.
func (s *solver) hire() error {
	count := max(1, s.opt.Workers)
	if s.opt.Proof != nil {
		count = 1
	}
	for i := 0; i < count; i++ {
		w, err := newWorker(s, i)
		if err != nil {
			return err
		}
		if i == 0 && s.opt.Proof != nil {
			w.e.proof = newProofLog(s.opt.Proof, w.e)
		}
		if !w.e.rootPropagate() {
			if w.e.proof != nil && w.e.proof.err != nil {
				return w.e.proof.err
			}
			return s.m.infeasible(s.ctx)
		}
		if s.best != nil {
			w.e.model = s.best.Start
		}
		s.workers = append(s.workers, w)
	}
	return nil
}

// first looks for any schedule at all.
func (s *solver) first() error {
	e := s.workers[0].e
	switch e.search(s.ctx, nil, limits{work: s.budget}) {
	case found:
		start := s.workers[0].starts()
		if s.offer(start); s.best == nil {
			return s.err
		}
		for _, w := range s.workers {
			w.e.model = s.best.Start
		}
		return nil
	case closed, refuted:
		return s.m.infeasible(s.ctx)
	}
	return &ErrBudget{Work: s.spent(), Cause: s.ctx.Err()}
}

// spent is the work done so far by a worker, generation included.
func (s *solver) spent() int64 {
	most := int64(0)
	for _, w := range s.workers {
		most = max(most, w.spent())
	}
	return s.gen.work + most
}

// offer takes a set of starts as the best so far if it is feasible and better.
func (s *solver) offer(start []int64) bool {
	out, err := Evaluate(s.m.p, start)
	if err != nil {
		s.err = err
		return false
	}
	if s.best != nil && !less(out.Values, s.best) {
		return false
	}
	r := &Result{Start: append([]int64(nil), start...), End: out.End, Changes: out.Changes}
	for k := range r.Levels {
		r.Levels[k] = Level{Name: levelNames[k], Value: out.Values[k]}
		r.Levels[k].Bound = s.floor[k]
		if s.best != nil {
			r.Levels[k].Bound, r.Levels[k].Proved = s.best.Levels[k].Bound, s.best.Levels[k].Proved
		}
	}
	s.best = r
	s.progress(s.level)
	return true
}

func less(v [NumLevels]int64, r *Result) bool {
	for k := range v {
		if v[k] != r.Levels[k].Value {
			return v[k] < r.Levels[k].Value
		}
	}
	return false
}

func (s *solver) progress(k int) {
	if s.opt.Progress == nil {
		return
	}
	p := Progress{Level: k, Work: s.spent(), Bound: s.best.Levels[k].Bound}
	for i := range p.Values {
		p.Values[i] = s.best.Levels[i].Value
	}
	s.opt.Progress(p)
}

// generate makes first schedules by serial generation.
func (s *solver) generate() {
	prio := make([]int64, s.m.n)
	limit := min(s.budget/20, int64(s.m.n)*200)
	for try := 0; (s.gen.work < limit || try == 0) && s.ctx.Err() == nil && try < 200; try++ {
		for i := range prio {
			prio[i] = s.m.ub0[i]
			if try > 0 {
				prio[i] -= s.rng.Int64N(1 + (s.m.ub0[i]-s.m.lb0[i])/4)
			}
		}
		if s.gen.run(prio) {
			s.offer(s.gen.start)
		}
	}
}

// share is the part of the budget, in percent, that may be spent by the end of
// each level.
var share = [NumLevels]int64{40, 80, 90, 100}

// minimise proves or bounds one level and then holds it.
func (s *solver) minimise(k, levels int) error {
	s.level = k
	if s.workers[0].goal[k] < 0 {
		s.best.Levels[k].Bound = s.best.Levels[k].Value
		return nil
	}
	until := s.budget
	if k < levels-1 {
		until = s.budget / 100 * share[k]
	}
	for _, w := range s.workers {
		if err := w.begin(k); err != nil {
			return err
		}
	}
	units := int64(20_000)
	for {
		if err := s.gather(k); err != nil {
			return err
		}
		if lv := &s.best.Levels[k]; lv.Bound >= lv.Value || s.ctx.Err() != nil {
			break
		}
		left := until - s.spent()
		if left <= 0 {
			break
		}
		s.epoch(k, min(units, left))
		units = min(units+units/4, 400_000)
	}
	s.progress(k)
	if k+1 < levels {
		for _, w := range s.workers {
			if err := w.hold(k, s.best.Levels[k].Value); err != nil {
				return err
			}
		}
	}
	return nil
}

// epoch lets every worker do so many units of work.
func (s *solver) epoch(k int, units int64) {
	if len(s.workers) == 1 {
		s.workers[0].run(k, units)
		return
	}
	var wg sync.WaitGroup
	for _, w := range s.workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w.run(k, units)
		}()
	}
	wg.Wait()
}

// gather shares schedules and bounds among the workers.
func (s *solver) gather(k int) error {
	for _, w := range s.workers {
		if w.err != nil {
			return w.err
		}
		if w.found != nil {
			s.err = nil
			if !s.offer(w.found) && s.err != nil {
				return s.err
			}
			w.found = nil
		}
	}
	lv := &s.best.Levels[k]
	bound := lv.Bound
	for _, w := range s.workers {
		bound = max(bound, min(w.bound, lv.Value))
	}
	if bound > lv.Bound {
		lv.Bound = bound
		s.progress(k)
	}
	for _, w := range s.workers {
		if err := w.told(k, s.best, bound); err != nil {
			return err
		}
	}
	return nil
}

// debugChecks makes the engine check its own explanations; tests set it.
var debugChecks = false
