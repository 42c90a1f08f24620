package schedule

import (
	"context"
	"math/rand/v2"
)

// solver runs the levels of the objective one after the other.
type solver struct {
	m      *model
	e      *engine
	goal   goals
	opt    Options
	ctx    context.Context
	budget int64
	gen    *generator
	rng    *rand.Rand
	best   *Result
	floor  [NumLevels]int64 // bounds that hold from the outset
	level  int // being minimised
	err    error
}

func (m *model) solve(ctx context.Context, opt Options) (*Result, error) {
	s := &solver{m: m, opt: opt, ctx: ctx, budget: opt.Work, gen: newGenerator(m), rng: rand.New(rand.NewPCG(uint64(opt.Seed), 1))}
	for i := range m.tm {
		s.floor[Finish] = max(s.floor[Finish], m.tm[i].end(m.lb0[i]))
		s.floor[StartSum] += m.lb0[i]
	}
	if s.budget <= 0 {
		s.budget = DefaultWork
	}
	levels := opt.Levels
	if levels <= 0 || levels > NumLevels {
		levels = NumLevels
	}
	if len(opt.Hint) == m.n {
		s.offer(opt.Hint)
	}
	s.generate()
	var err error
	s.e, s.goal, err = m.build()
	if err != nil {
		return nil, err
	}
	e := s.e
	e.trans = true
	e.debug = debugChecks
	if e.startSum >= 0 && len(e.sums) > 0 {
		e.sums[e.startSum].off = true
	}
	if !e.rootPropagate() {
		return nil, s.infeasible()
	}
	if s.best == nil {
		switch e.search(ctx, nil, limits{work: s.budget}) {
		case found:
			if err := s.take(); err != nil {
				return nil, err
			}
		case closed, refuted:
			return nil, s.infeasible()
		default:
			return nil, &ErrBudget{Work: s.spent(), Cause: ctx.Err()}
		}
	}
	for k := 0; k < levels; k++ {
		if err := s.minimise(k, levels); err != nil {
			return nil, err
		}
		if !s.best.Levels[k].Proved {
			break
		}
	}
	s.best.Work, s.best.Conflicts = s.spent(), e.conflicts
	return s.best, nil
}

func (s *solver) spent() int64 {
	w := s.gen.work
	if s.e != nil {
		w += s.e.work
	}
	return w
}

// infeasible reports that the search has shown that no schedule exists.
func (s *solver) infeasible() error {
	e := &InfeasibleError{What: "the search has ruled out every order"}
	for i := 0; i < s.m.n; i++ {
		e.Activities = append(e.Activities, i)
	}
	return e
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
	if s.e != nil {
		s.e.model = r.Start
	}
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

// take reads the schedule that the engine has found.
func (s *solver) take() error {
	start := make([]int64, s.m.n)
	for i := range start {
		start[i] = s.e.lb[2*i]
	}
	s.err = nil
	if !s.offer(start) {
		if s.err != nil {
			return s.err
		}
		return badf("internal: a schedule found is no better than the last one")
	}
	return nil
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
	limit := min(s.budget/20, int64(s.m.n)*4000)
	for try := 0; s.gen.work < limit && s.ctx.Err() == nil && try < 500; try++ {
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

// minimise proves or bounds one level and then holds it.
func (s *solver) minimise(k, levels int) error {
	s.level = k
	e, lv := s.e, &s.best.Levels[k]
	x := s.goal[k]
	if x < 0 {
		lv.Bound, lv.Proved = lv.Value, true
		return nil
	}
	if k == StartSum {
		e.backTo(0)
		e.wakeSum(e.startSum)
		if !e.propagate() {
			e.fail()
			return badf("internal: the sum of starts contradicts its schedule")
		}
	}
	e.backTo(0)
	s.probe(x, s.best.Levels[k].Value)
	for {
		lv = &s.best.Levels[k]
		lv.Bound = max(lv.Bound, e.lo(x))
		if lv.Bound >= lv.Value {
			lv.Proved = true
			break
		}
		s.progress(k)
		st := e.search(s.ctx, []atom{{2*x + 1, -(lv.Value - 1)}}, limits{work: s.budget - s.gen.work})
		switch st {
		case found:
			if err := s.take(); err != nil {
				return err
			}
		case closed:
			return badf("internal: the search contradicts its own schedule")
		case refuted:
			lv.Bound, lv.Proved = lv.Value, true
		}
		e.backTo(0)
		if st == refuted {
			break
		}
		if st == spent {
			lv = &s.best.Levels[k]
			lv.Bound = max(lv.Bound, e.lo(x))
			s.progress(k)
			return nil
		}
	}
	s.progress(k)
	if k+1 < levels && !e.unsat {
		if !e.raise(2*x+1, -s.best.Levels[k].Value, byDecision, 0, 0, 0, 0) || !e.propagate() {
			e.unsat = true
			return badf("internal: the best value of %s contradicts its schedule", levelNames[k])
		}
	}
	return nil
}

// probe raises the lower bound of a goal as far as propagation alone refutes
// lower values, by halving.
func (s *solver) probe(x int32, value int64) {
	e := s.e
	for hi := value; e.lo(x) < hi && !e.unsat && s.ctx.Err() == nil; {
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
}

// debugChecks makes the engine check its own explanations; tests set it.
var debugChecks = false
