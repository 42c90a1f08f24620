package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"caul/job/plan"
)

type planOptions struct {
	why, helps bool
	sheet      string
}

func newPlan(e *env) *cobra.Command {
	var o planOptions
	c := &cobra.Command{
		Use: "plan [JOB...]", Short: "what to do when, around the glue and the shop's hours",
		Long: `plan spreads the open jobs over the shop's hours, starting from what the log
says has happened. It says whether any plan could finish earlier.`,
		RunE: func(cmd *cobra.Command, args []string) error { return runPlan(cmd.Context(), e, args, o) },
	}
	c.Flags().BoolVar(&o.why, "why", false, "say what binds the finish, step by step")
	c.Flags().BoolVar(&o.helps, "helps", false, "say what change to the shop would help most")
	c.Flags().StringVar(&o.sheet, "day-sheet", "", "also draw the day sheet into this SVG `file`")
	return c
}

func runPlan(ctx context.Context, e *env, jobs []string, o planOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, jobs); err != nil {
		return err
	}
	done := e.progress("planning")
	p, err := plan.Make(ctx, s, e.now(), plan.Options{Jobs: jobs, Explain: o.why, Helps: o.helps})
	done()
	if err != nil {
		return noFit(err)
	}
	if o.sheet != "" {
		if err := os.WriteFile(e.path(o.sheet), plan.DaySheet(p, plan.SheetOptions{}), 0o644); err != nil {
			return err
		}
	}
	return e.print("plan", p, func() error {
		if len(s.Jobs) == 0 {
			e.printf("nothing to plan yet; make a job with `caul new job ID`\n")
			return nil
		}
		_, err := fmt.Fprint(e.out, plan.Text(p, e.columns(), s.Units))
		return err
	})
}

// noFit gives an infeasible plan its exit code.
func noFit(err error) error {
	var inf *plan.Infeasible
	if errors.As(err, &inf) {
		return &fault{code: exitNoFit, msg: inf.Error(), hint: inf.Hint(), err: err}
	}
	return err
}
