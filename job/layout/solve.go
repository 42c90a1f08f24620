package layout

import "context"

// Solve finds a layout. It gives an error only for a problem that is not well
// stated; parts that fit nowhere are listed in the result. When the context
// ends it gives the best layout so far, with Ended set.
func Solve(ctx context.Context, p *Problem, o Options) (*Result, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	r := quick(p)
	bound(p, r)
	return r, nil
}

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
