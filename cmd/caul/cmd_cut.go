package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/cutting"
)

type cutOptions struct {
	drawings string
	stages   int
	made     string
	sheets   []int
	where    string
}

func newCut(e *env) *cobra.Command {
	var o cutOptions
	c := &cobra.Command{
		Use: "cut [JOB...]", Short: "which part from which sheet, and the order of cuts",
		RunE: func(cmd *cobra.Command, args []string) error { return runCut(cmd.Context(), e, args, o) },
	}
	c.Flags().StringVar(&o.drawings, "drawings", "", "also draw each sheet as SVG into this `folder`")
	c.Flags().StringVar(&o.made, "made", "", "the cuts of this `layout` are made: stock.yaml takes the offcuts, the log the parts")
	c.Flags().IntSliceVar(&o.sheets, "sheets", nil, "with --made, only these sheets by number, as 1,3")
	c.Flags().StringVar(&o.where, "where", "", "with --made, where the offcuts go")
	c.Flags().IntVar(&o.stages, "stages", 0, "turn the saw's direction at most this often (0: as often as wanted)")
	return c
}

func runCut(ctx context.Context, e *env, jobs []string, o cutOptions) error {
	switch {
	case o.stages < 0 || o.stages > 1000:
		return usage("--stages %d: from 1 turn of the saw on, or 0 for as many as wanted", o.stages)
	case o.made == "" && (len(o.sheets) > 0 || o.where != ""):
		return &fault{code: exitUsage, msg: "--sheets and --where go with --made", hint: "`caul cut` ends with the mark of the layout: caul cut --made MARK --sheets 1"}
	}
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, jobs); err != nil {
		return err
	}
	done := e.progress("laying out the cuts")
	cut, err := cutting.Make(ctx, s, cutting.Options{Jobs: jobs, MaxStages: o.stages})
	done()
	if err != nil {
		return err
	}
	if o.made != "" && o.made != cut.Mark {
		// the step that cuts may have been finished before the layout was written down
		done := e.progress("laying out the cuts")
		before, err := cutting.Make(ctx, s, cutting.Options{Jobs: jobs, MaxStages: o.stages, Entries: true})
		done()
		if err == nil && before.Mark == o.made {
			cut = before
		}
	}
	if o.made != "" {
		return runMade(e, s, cut, o)
	}
	if o.drawings != "" {
		dir := e.path(o.drawings)
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
		for i := range cut.Sheets {
			svg := cutting.SVG(cut, i, cutting.SVGOptions{Units: s.Units.Length})
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("sheet-%d.svg", i+1)), svg, 0o644); err != nil {
				return err
			}
		}
	}
	if err := e.print("cut", cut, func() error {
		_, err := fmt.Fprint(e.out, cutting.Text(cut, e.columns(), s.Units.Length))
		return err
	}); err != nil {
		return err
	}
	return unfit(cut)
}

// unfit gives parts that no stock can give their exit code, after the answer
// for the rest was printed.
func unfit(c *cutting.Cut) error {
	if len(c.Unfit) == 0 {
		return nil
	}
	u := c.Unfit[0]
	return &fault{code: exitNoFit, msg: fmt.Sprintf("%s%s/%s: %s", place(u.At), u.Job, u.Part, u.Why), hint: u.Hint}
}

// place is the file:line:col: in front of a message, empty when unknown.
func place(p job.Pos) string {
	if p.File == "" {
		return ""
	}
	return fmt.Sprintf("%s:%d:%d: ", p.File, p.Line, p.Col)
}
