package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/drawing"
)

type drawOptions struct {
	out      string
	both     bool
	template string // paper
	on       string
}

func newDraw(e *env) *cobra.Command {
	var o drawOptions
	c := &cobra.Command{
		Use: "draw JOB [PART]", Short: "draw the parts of a job, every cut located once",
		Args: cobra.RangeArgs(1, 2),
		RunE: func(_ *cobra.Command, a []string) error { return runDraw(e, a, o) },
	}
	c.Flags().StringVarP(&o.out, "out", "o", "drawings", "the `folder` to draw into")
	c.Flags().StringVar(&o.template, "template", "", "draw at full size as PDF for this `paper`: A4 or Letter")
	c.Flags().StringVar(&o.on, "on", "face", "with --template: the `face` to draw: face, back, near-edge, far-edge, left-end, right-end")
	c.Flags().BoolVar(&o.both, "both-units", false, "inches with millimetres beside, or the other way round")
	return c
}

func partIDs(j *job.Job) []string {
	ids := []string{}
	for i := range j.Parts {
		ids = append(ids, j.Parts[i].ID)
	}
	return ids
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
		return &fault{code: exitUsage, msg: j.ID + " has no part " + args[1], hint: "its parts are: " + strings.Join(partIDs(j), ", ")}
	}
	if len(j.Parts) == 0 {
		return &fault{code: exitUsage, msg: j.ID + " has no parts to draw yet", hint: "write them under `parts:` in jobs/" + j.ID + "/job.yaml"}
	}
	var paper drawing.Paper
	if o.template != "" {
		var ok bool
		if paper, ok = drawing.FindPaper(o.template); !ok {
			return &fault{code: exitUsage, msg: "no paper called " + o.template, hint: "write A4 or Letter"}
		}
		if !slices.Contains([]string{"face", "back", "near-edge", "far-edge", "left-end", "right-end"}, o.on) {
			return &fault{code: exitUsage, msg: "no face called " + o.on, hint: "write face, back, near-edge, far-edge, left-end or right-end"}
		}
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
		if o.template != "" {
			f := filepath.Join(dir, j.ID+"-"+p.ID+"-"+o.on+".pdf")
			var b bytes.Buffer
			if err := drawing.Template(&b, s, j, p, job.Face(o.on), paper); err != nil {
				return err
			}
			if err := os.WriteFile(f, b.Bytes(), 0o644); err != nil {
				return err
			}
			files = append(files, f)
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
