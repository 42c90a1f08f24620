package main

import (
	"cmp"
	"context"
	"os"

	"github.com/spf13/cobra"

	"caul/job/plan"
	"caul/site/bench"
)

func newCalendar(e *env) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use: "calendar [JOB...]", Short: "the plan as a calendar file (iCalendar, RFC 5545)",
		RunE: func(cmd *cobra.Command, args []string) error { return runCalendar(cmd.Context(), e, args, out) },
	}
	c.Flags().StringVarP(&out, "out", "o", "", "the `file` to write (default: standard output)")
	return c
}

func runCalendar(ctx context.Context, e *env, jobs []string, out string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, jobs); err != nil {
		return err
	}
	done := e.progress("planning")
	p, err := plan.Make(ctx, s, e.now(), plan.Options{Jobs: jobs})
	done()
	if err != nil {
		return noFit(err)
	}
	opts := plan.CalendarOptions{Shop: s.Name}
	if out != "" {
		if err := os.WriteFile(e.path(out), plan.Calendar(p, opts), 0o644); err != nil {
			return err
		}
	}
	type calendar struct {
		File   string       `json:"file,omitempty"` // where the iCalendar text was written
		Name   string       `json:"name"`
		Events []plan.Event `json:"events"`
	}
	a := calendar{Name: s.Name, Events: plan.Events(p, opts)}
	if out != "" {
		a.File = e.path(out)
	}
	return e.print("calendar", a, func() error {
		if out == "" {
			_, err := e.out.Write(plan.Calendar(p, opts))
			return err
		}
		e.printf("wrote %s: %d event%s\n", a.File, len(a.Events), plural(len(a.Events)))
		if len(a.Events) == 0 {
			e.printf("%s\n", cmp.Or(bench.Nothing(s, false), "nothing is planned"))
		}
		return nil
	})
}
