package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"caul/job/proof"
	"caul/site/bench"
)

func newProof(e *env) *cobra.Command {
	return &cobra.Command{
		Use: "proof [JOB...]", Short: "can it be made: machining, fits, hardware, cautions",
		RunE: func(_ *cobra.Command, args []string) error { return runProof(e, args) },
	}
}

func runProof(e *env, jobs []string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, jobs); err != nil {
		return err
	}
	p := proof.Check(s, proof.Options{Jobs: jobs, Now: e.now()})
	if err := e.print("proof", p, func() error {
		if len(s.Jobs) == 0 {
			e.printf("%s\n", bench.Nothing(s, false))
			return nil
		}
		if p.Checked == 0 {
			e.printf("nothing to look at yet; write the parts and steps of a job into its job.yaml\n")
			return nil
		}
		_, err := fmt.Fprint(e.out, proof.Text(p, e.columns()))
		return err
	}); err != nil {
		return err
	}
	if p.Stops > 0 {
		return &fault{code: exitStops}
	}
	return nil
}
