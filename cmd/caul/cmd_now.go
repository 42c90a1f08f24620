package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"caul/job/measure"
	"caul/job/plan"
)

type nowOptions struct{ span string }

func newNow(e *env) *cobra.Command {
	var o nowOptions
	c := &cobra.Command{
		Use: "now", Short: "what is in the clamps, and what can be done now",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runNow(cmd.Context(), e, o) },
	}
	c.Flags().StringVar(&o.span, "for", "", "the time you have, as 50m or \"1 h 30 min\"")
	return c
}

func runNow(_ context.Context, e *env, o nowOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	var span measure.Span
	if o.span != "" {
		if span, err = measure.ParseSpan(o.span); err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--for %q: %v", o.span, err), hint: "write it as 50m, 50 min or 1 h 30 min"}
		}
	}
	n, err := plan.At(s, e.now(), span, nil)
	if err != nil {
		return noFit(err)
	}
	return e.print("now", n, func() error {
		_, err := fmt.Fprint(e.out, plan.NowText(n, e.columns(), s.Units))
		return err
	})
}
