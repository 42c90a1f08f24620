package main

import (
	"context"
	"os"

	"github.com/spf13/cobra"

	"caul/job/plan"
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
	b := plan.Calendar(p, plan.CalendarOptions{Shop: s.Name})
	if out == "" {
		_, err = e.out.Write(b)
		return err
	}
	if err := os.WriteFile(e.path(out), b, 0o644); err != nil {
		return err
	}
	return e.print("calendar", map[string]any{"file": e.path(out)}, func() error {
		e.printf("wrote %s\n", e.path(out))
		return nil
	})
}
