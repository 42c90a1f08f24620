package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"caul/job/proof"
)

func newSetUps(e *env) *cobra.Command {
	return &cobra.Command{
		Use: "set-ups JOB", Short: "every machine setting of a job, once, with all that is cut at it",
		Args: exactly(1, "a job"),
		RunE: func(_ *cobra.Command, a []string) error { return runSetUps(e, a[0]) },
	}
}

func runSetUps(e *env, id string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, []string{id}); err != nil {
		return err
	}
	sets := proof.SetUps(s, s.Job(id))
	return e.print("set-ups", sets, func() error {
		_, err := fmt.Fprint(e.out, proof.SetUpText(sets, s.Units.Length, e.columns()))
		return err
	})
}
