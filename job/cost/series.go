package cost

import (
	"context"

	"caul/job"
	"caul/job/cutting"
	"caul/job/measure"
)

// Series reckons 1 to n copies of the jobs. More copies never come out cheaper
// in all: where the search found a cheaper layout for more of them, fewer are
// cut from that one. Where the worth of offcuts is taken off, they may.
func Series(ctx context.Context, shop *job.Shop, n int, o Options, co cutting.Options) ([]Copy, error) {
	out := make([]Copy, n)
	for c := n; c >= 1; c-- {
		co.Jobs, co.Copies = o.Jobs, c
		o.Copies = c
		cut, err := cutting.Make(ctx, shop, co)
		if err != nil {
			return nil, err
		}
		b, err := Make(shop, cut, o)
		if err != nil {
			return nil, err
		}
		total := b.Planned // what was paid already is in it
		if total, err = total.Plus(b.Labour); err != nil {
			return nil, err
		}
		if o.Offcuts {
			if total, err = total.Minus(b.Offcuts); err != nil {
				return nil, err
			}
		} else if c < n && len(cut.Unfit) == 0 && total.Minor > out[c].Total.Minor {
			total = out[c].Total
		}
		each, err := total.Times(1, int64(c), measure.Up)
		if err != nil {
			return nil, err
		}
		out[c-1] = Copy{Copies: c, Total: total, PerCopy: each, Missing: b.Missing, Warn: b.Warn}
	}
	return out, nil
}
