package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"caul/job/measure"
	"caul/job/plan"
	"caul/site/bench"
)

type nowOptions struct {
	span     string
	given    bool // --for was written, if only with nothing in it
	cautions bool
}

func newNow(e *env) *cobra.Command {
	var o nowOptions
	c := &cobra.Command{
		Use: "now", Short: "what is in the clamps, and what can be done now",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.given = cmd.Flags().Changed("for")
			return runNow(cmd.Context(), e, o)
		},
	}
	c.Flags().StringVar(&o.span, "for", "", "the time you have, as 50m or \"1 h 30 min\"")
	c.Flags().BoolVar(&o.cautions, "cautions", false, "every caution, not only the first ones")
	return c
}

// fewCautions keeps the first cautions of every choice, so that the list of
// what can be done fits a screen; the rest stand on the job sheet too.
func fewCautions(n *plan.Now, most int, more string) *plan.Now {
	out := *n
	trim := func(cs []plan.Choice) []plan.Choice {
		cs = slices.Clone(cs)
		for i := range cs {
			if k := len(cs[i].Cautions) - most; k > 0 {
				cs[i].Cautions = append(slices.Clone(cs[i].Cautions[:most]), fmt.Sprintf("and %d more: %s", k, more))
			}
		}
		return cs
	}
	out.OnBench, out.CanDo = trim(n.OnBench), trim(n.CanDo)
	return &out
}

func runNow(_ context.Context, e *env, o nowOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	var span measure.Span
	if o.span != "" || o.given {
		if span, err = measure.ParseSpan(o.span); err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--for %q: %v", o.span, err), hint: "write it as 50m, 50 min or 1 h 30 min"}
		}
		if span <= 0 {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--for %q is no time to work in", o.span), hint: "write it as 50m, 50 min or 1 h 30 min"}
		}
	}
	n, err := plan.At(s, e.now(), span, nil)
	if err != nil {
		return noFit(err)
	}
	type now struct {
		*plan.Now
		Nothing  string `json:"nothing,omitempty"`   // why there is nothing to do
		BothWays int    `json:"both_ways,omitempty"` // values that two machines changed and nobody settled
	}
	why := bench.Nothing(s, len(n.Timers) > 0)
	waits := len(bothWaysFor(s.Dir))
	return e.print("now", now{n, why, waits}, func() error {
		if !o.cautions {
			n = fewCautions(n, 2, "caul now --cautions")
		}
		fmt.Fprint(e.out, plan.NowText(n, e.columns(), s.Units))
		if why != "" {
			e.printf("\n%s\n", why)
		}
		if waits > 0 {
			e.printf("\nlook: %d value%s changed on two machines; the newer stand%s: caul both-ways\n", waits, plural(waits), map[bool]string{true: "s"}[waits == 1])
		}
		return nil
	})
}
