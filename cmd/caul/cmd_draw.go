package main

import (
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"caul/job/drawing"
)

type drawOptions struct {
	out  string
	both bool
}

func newDraw(e *env) *cobra.Command {
	var o drawOptions
	c := &cobra.Command{
		Use: "draw JOB [PART]", Short: "draw the parts of a job, every cut located once",
		Args: cobra.RangeArgs(1, 2),
		RunE: func(_ *cobra.Command, a []string) error { return runDraw(e, a, o) },
	}
	c.Flags().StringVarP(&o.out, "out", "o", "drawings", "the `folder` to draw into")
	c.Flags().BoolVar(&o.both, "both-units", false, "inches with millimetres beside, or the other way round")
	return c
}

func runDraw(e *env, args []string, o drawOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, args[:1]); err != nil {
		return err
	}
	j := s.Job(args[0])
	if len(args) == 2 && j.Part(args[1]) == nil {
		return &fault{code: exitUsage, msg: j.ID + " has no part " + args[1], hint: "see its job.yaml"}
	}
	dir := e.path(o.out)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	files := []string{}
	for i := range j.Parts {
		p := &j.Parts[i]
		if len(args) == 2 && p.ID != args[1] {
			continue
		}
		f := filepath.Join(dir, j.ID+"-"+p.ID+".svg")
		if err := os.WriteFile(f, drawing.Part(s, j, p, drawing.Options{Units: s.Units.Length, Both: o.both}), 0o644); err != nil {
			return err
		}
		files = append(files, f)
	}
	return e.print("drawings", files, func() error {
		for _, f := range files {
			e.printf("%s\n", f)
		}
		return nil
	})
}
