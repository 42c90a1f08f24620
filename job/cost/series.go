package cost

import (
	"context"

	"caul/job"
	"caul/job/cutting"
	"caul/job/measure"
)

// Series reckons 1 to n copies of the jobs. More copies never come out cheaper
// in all: where the search found a cheaper layout for more of them, fewer are
// cut from that one.
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
		total := b.Total
		if total, err = total.Plus(b.Labour); err != nil {
			return nil, err
		}
		if c < n && len(cut.Unfit) == 0 && total.Minor > out[c].Total.Minor {
			total = out[c].Total
		}
		each, err := total.Times(1, int64(c), measure.Up)
		if err != nil {
			return nil, err
		}
		out[c-1] = Copy{Copies: c, Total: total, PerCopy: each}
	}
	return out, nil
}
