package layout

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sync"
)

// Solve finds a layout. It gives an error only for a problem that is not well
// stated; parts that fit nowhere are listed in the result. When the context
// ends it gives the best layout so far, with Ended set.
func Solve(ctx context.Context, p *Problem, o Options) (*Result, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if o.Work <= 0 {
		o.Work = DefaultWork
	}
	in := prepare(p)
	v := &solver{in: in, o: o, limit: min(o.Work, math.MaxInt64/opsPerUnit) * opsPerUnit}
	v.run(ctx)
	v.polish()
	return v.result(), nil
}

// firstWork is how long the search goes on before bounds that cost more, and
// firstEach how long for each part or group, so that a short list does not wait
// for a proof that is had at once.
const (
	firstWork = 100_000
	firstEach = 2_000
)

// solver joins the search for layouts and the search for bounds.
type solver struct {
	in    *inst
	o     Options
	s     *search
	c     *cover
	limit int64 // of elementary steps, all together
	spent int64 // on bounds

	low   weight // no layout weighs less, all parts placed
	none  bool   // proved: the stock does not hold all parts
	by    Proof
	tried bool // everything was: low is the least there is

	known []pattern // that the pattern relaxation has come by
}

func (v *solver) run(ctx context.Context) {
	v.s = v.in.newSearch(ctx, v.o.Seed)
	s := v.s
	s.limit = v.limit
	s.onBest = v.report
	s.first()
	v.c = v.in.newCover()
	s.cover = v.c
	v.c.byArea()
	v.bounds()
	if v.enough() {
		return
	}
	v.spent += v.c.byDuals()
	v.bounds()
	if v.bars(ctx) || v.enough() || v.everything(ctx) {
		return
	}
	s.limit = min(v.limit/20, firstWork*opsPerUnit, int64(len(v.in.units))*firstEach*opsPerUnit)
	s.improve(v.enough)
	s.limit = v.limit
	if !v.enough() && !s.ended {
		v.tightly(ctx)
	}
	if !v.enough() && !s.ended {
		v.relax(ctx)
	}
	if !v.enough() && !s.ended {
		v.eachOnce(ctx)
	}
	if !v.enough() && !s.ended {
		v.listed(ctx)
	}
	if !v.enough() && !s.ended {
		v.mixedly(ctx)
	}
	s.limit = v.limit - v.spent
	if v.o.Workers > 1 && !v.enough() {
		v.sideBySide(ctx)
		return
	}
	s.improve(v.enough)
}

// sideBySide runs several searches at once, each with its own luck and the
// whole budget, and keeps the best; of equal ones the first. None stops
// another, so that the answer does not depend on which is faster.
func (v *solver) sideBySide(ctx context.Context) {
	all := make([]*search, v.o.Workers)
	var wg sync.WaitGroup
	for i := range all {
		s := v.s
		if i > 0 {
			s = v.in.newSearch(ctx, v.o.Seed+uint64(i)*0x9e3779b9)
			s.limit, s.ops, s.cover = v.s.limit, v.s.ops, v.c
			s.have, s.bestOutArea, s.bestW = true, v.s.bestOutArea, v.s.bestW
			s.bestOut = slices.Clone(v.s.bestOut)
			for _, b := range v.s.best {
				s.best = append(s.best, s.keepCopy(b))
			}
		}
		all[i] = s
	}
	// None starts before all have taken over the best layout.
	for _, s := range all {
		wg.Go(func() {
			s.improve(func() bool { return s.bestOutArea == 0 && s.bestW.cmp(v.low) <= 0 })
		})
	}
	wg.Wait()
	for _, s := range all[1:] {
		if cmp.Or(cmp.Compare(s.bestOutArea, v.s.bestOutArea), s.bestW.cmp(v.s.bestW)) < 0 {
			s.onBest = v.report
			v.s = s
		}
	}
}

// past says that a road to a bound, which may take a part of the work and has
// done so much, must end.
func (v *solver) past(ctx context.Context, ops, share int64) bool {
	return ctx.Err() != nil || ops > v.limit/share || v.s.ops+v.spent+ops > v.limit
}

// polish betters the last levels with a tenth of the work.
func (v *solver) polish() {
	if v.s.ended {
		return
	}
	v.s.limit = v.s.ops + min(v.limit/10, polishWork*opsPerUnit)
	v.s.polish()
}

// polishWork is the most work that goes into the last levels.
const polishWork = 40_000

// everything tries all there is, where the list is short, and says whether it
// came to an end.
func (v *solver) everything(ctx context.Context) bool {
	e := v.in.newExact()
	if e == nil {
		return false
	}
	s := v.s
	bins, ok := e.solve(func(ops int64) bool {
		return ctx.Err() != nil || s.ops+v.spent+ops > v.limit/2
	})
	v.spent += e.ops
	if !ok {
		return false
	}
	if bins == nil {
		v.none = true
		return false
	}
	var w weight
	for _, b := range bins {
		w = w.add(v.in.bases[b.stock].weight)
	}
	v.low, v.by = w, BySearch
	v.tried = true
	if s.bestOutArea > 0 || w.cmp(s.bestW) < 0 {
		s.best, s.bestOut, s.bestOutArea, s.bestW = bins, nil, 0, w
		s.onBest()
	}
	return true
}

// bars takes the exact road where there is one, and says whether there was.
func (v *solver) bars(ctx context.Context) bool {
	r := v.in.newBars()
	if r == nil {
		return false
	}
	s := v.s
	r.rng = s.rng
	r.limit = func(ops int64) bool {
		if ctx.Err() != nil {
			s.ended = true
		}
		return s.ended || s.ops+v.spent+ops > v.limit
	}
	r.solve(int(v.low.used))
	v.spent += r.ops
	if r.needOf.want > 0 {
		v.c.needs = append(v.c.needs, r.needOf)
		v.bounds()
	}
	b := &v.in.bases[0]
	n := len(r.best)
	if b.qty >= 0 && n > b.qty {
		return false
	}
	w := weight{b.weight.cost * int64(n), b.weight.bought * int64(n), int64(n)}
	if !s.have || s.bestOutArea > 0 || w.cmp(s.bestW) < 0 {
		s.have, s.best, s.bestOut, s.bestOutArea, s.bestW = true, r.bins(), nil, 0, w
		s.onBest()
	}
	return true
}

// enough says whether the layout found is proved best on the first levels.
func (v *solver) enough() bool {
	return v.s.have && v.s.bestOutArea == 0 && v.s.bestW.cmp(v.low) <= 0
}

// bounds brings the least weight up to date with the inequalities.
func (v *solver) bounds() []int {
	ws := make([]weight, len(v.in.bases))
	for i := range ws {
		ws[i] = v.in.bases[i].weight
	}
	counts, w, done, ok := v.c.least(ws)
	if !ok {
		v.none = true
		return nil
	}
	if w.cmp(v.low) > 0 {
		v.low = w
		v.by = v.c.by()
	}
	if !done {
		return nil
	}
	return counts
}

// relax raises the bound by the pattern relaxation, count by count.
func (v *solver) relax(ctx context.Context) {
	r := v.in.newRelaxation(func(ops int64) bool {
		return v.s.ops+v.spent+ops > v.limit/2 || ctx.Err() != nil
	})
	if r == nil {
		return
	}
	r.addBins(v.s.best)
	if len(v.in.bases) > 1 {
		if n := r.prove(nil); n != nil {
			v.c.needs = append(v.c.needs, *n)
		}
	}
	for !v.enough() && !v.none {
		counts := v.bounds()
		if counts == nil || v.enough() || v.none {
			break
		}
		n := r.prove(counts)
		if n == nil {
			break
		}
		v.c.needs = append(v.c.needs, *n)
	}
	v.known = r.pool
	v.spent += r.ops
}

func (v *solver) report() {
	if v.o.Progress != nil {
		v.o.Progress(Progress{Work: (v.s.ops + v.spent) / opsPerUnit, Budget: v.o.Work, Best: v.result()})
	}
}

// result writes the best layout out, with its bounds.
func (v *solver) result() *Result {
	s := v.s
	r := v.in.emit(s.best, s.bestOut)
	r.Work = (s.ops + v.spent) / opsPerUnit
	r.Ended = s.ended
	if len(s.bestOut) == 0 && v.c != nil {
		v.levels(r)
	} else if v.none {
		for i := range r.Unplaced {
			r.Unplaced[i].Proved = true
		}
	}
	v.offcutBound(r)
	if r.Cuts > 0 {
		r.Settings.Bound = 1
	}
	for _, l := range []*Level{&r.Cost, &r.Bought, &r.Used, &r.Offcut, &r.Settings} {
		if l.Proved = l.Bound == l.Value; l.Proved && l.By == NoProof {
			l.By = ByNecessity
		}
	}
	return r
}

// levels states the bounds of the first three levels: each given the one
// before if that is proved, else for any layout.
func (v *solver) levels(r *Result) {
	r.Cost.Bound, r.Cost.By = v.low.cost, v.by
	ask := func(of func(w weight) weight) weight {
		ws := make([]weight, len(v.in.bases))
		for i := range ws {
			ws[i] = of(v.in.bases[i].weight)
		}
		_, w, _, ok := v.c.least(ws)
		if !ok {
			return weight{}
		}
		return w
	}
	if r.Cost.Bound == r.Cost.Value {
		r.Bought.Bound = v.low.bought
	} else {
		r.Bought.Bound = ask(func(w weight) weight { return weight{w.bought, 0, 0} }).cost
	}
	if r.Cost.Bound == r.Cost.Value && r.Bought.Bound == r.Bought.Value {
		r.Used.Bound = v.low.used
	} else {
		r.Used.Bound = ask(func(w weight) weight { return weight{w.used, 0, 0} }).cost
	}
	r.Bought.By, r.Used.By = v.by, v.by
}

// offcutBound bounds the largest offcut: no sheet is larger, and where one
// kind of stock is used, no more than all waste can lie in one piece.
func (v *solver) offcutBound(r *Result) {
	in := v.in
	for i := range in.bases {
		if b := &in.bases[i]; b.qty != 0 {
			r.Offcut.Bound = max(r.Offcut.Bound, in.p.sizeOf(in.p.Stocks[i].usable()))
		}
	}
	if len(r.Unplaced) == len(in.lost) && len(in.bases) == 1 && r.Used.Proved {
		waste := float64(r.Used.Value) * in.bases[0].area
		for i := range in.kinds {
			waste -= in.kinds[i].area * float64(len(in.kinds[i].parts))
		}
		k := float64(in.p.Kerf)
		if in.flat {
			waste -= k
		} else {
			side := max(math.Sqrt(max(waste, 0))-k, 0)
			waste = side * side
		}
		r.Offcut.Bound = min(r.Offcut.Bound, int64(max(waste, 0)*(1+1e-9))+1)
	}
	r.Offcut.Bound = max(r.Offcut.Bound, r.Offcut.Value)
}
