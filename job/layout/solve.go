package layout

import (
	"context"
	"math"
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
	s := in.newSearch(ctx, o.Seed)
	s.limit = o.Work * opsPerUnit
	s.first()
	area := 0.0
	for _, u := range in.units {
		area += u.area
	}
	lb := 0.0
	if len(in.bases) == 1 {
		lb = math.Ceil(area / in.bases[0].area)
	}
	if testLower > 0 {
		lb = float64(testLower)
	}
	s.improve(func() bool { return s.bestOutArea == 0 && float64(s.bestW.used) <= lb })
	r := in.emit(s.best, s.bestOut)
	r.Work = s.ops / opsPerUnit
	testRounds = s.rounds
	bound(p, r)
	return r, nil
}

var testLower, testRounds int64

// bound states what is certain at once.
func bound(p *Problem, r *Result) {
	r.Offcut.Bound = r.Offcut.Value
	for _, s := range p.Stocks {
		u := s.usable()
		if u.W > 0 && u.H >= 0 {
			r.Offcut.Bound = max(r.Offcut.Bound, p.sizeOf(u))
		}
	}
	for _, l := range []*Level{&r.Cost, &r.Bought, &r.Used, &r.Offcut, &r.Settings} {
		if l.Proved = l.Bound == l.Value; l.Proved {
			l.By = ByNecessity
		}
	}
}
