package main

import (
	"context"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/picture"
)

type tickOptions struct {
	jobID string
	off   bool
}

// newTick ticks a task of build.md by changing one byte.
func newTick(e *env) *cobra.Command {
	var o tickOptions
	c := &cobra.Command{
		Use: "tick WORDS...", Short: "tick a task of build.md, found by words of its text",
		Args: atLeast(1, "some words of the task"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runTick(cmd.Context(), e, strings.Join(args, " "), o)
		},
	}
	c.Flags().StringVarP(&o.jobID, "job", "j", "", "the `job`, where its name is needed")
	c.Flags().BoolVar(&o.off, "off", false, "clear the tick")
	return c
}

func runTick(ctx context.Context, e *env, words string, o tickOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if o.jobID != "" {
		if _, err := findJob(s, o.jobID); err != nil {
			return err
		}
	}
	type hit struct {
		j *job.Job
		t job.Task
	}
	var hits []hit
	for _, j := range s.Jobs {
		if o.jobID != "" && j.ID != o.jobID {
			continue
		}
		for _, t := range j.Build.Tasks() {
			switch {
			case t.Text == words:
				hits = []hit{{j, t}}
				goto found
			case strings.Contains(strings.ToLower(t.Text), strings.ToLower(words)):
				hits = append(hits, hit{j, t})
			}
		}
	}
found:
	if len(hits) != 1 {
		msg := fmt.Sprintf("no task with %q", words)
		hint := "the tasks are the `- [ ]` lines of build.md"
		if len(hits) > 1 {
			msg = fmt.Sprintf("%d tasks have %q", len(hits), words)
			var all []string
			for _, h := range hits {
				all = append(all, fmt.Sprintf("%q (%s)", h.t.Text, h.j.ID))
			}
			hint = "say which: " + strings.Join(all, ", ")
		}
		return &fault{code: exitUsage, msg: msg, hint: hint}
	}
	h := hits[0]
	if err := job.Tick(s.Dir, h.j.Build.File, h.t, !o.off); err != nil {
		return err
	}
	defer autoSync(ctx, e, s.Dir)
	return e.print("tick", map[string]any{"job": h.j.ID, "task": h.t.Text, "done": !o.off}, func() error {
		mark := "x"
		if o.off {
			mark = " "
		}
		e.printf("[%s] %s (%s)\n", mark, h.t.Text, h.j.ID)
		return nil
	})
}

// addPictures cleans pictures and keeps them with the entry.
func addPictures(e *env, s *job.Shop, j *job.Job, en *job.Entry, files []string) error {
	for _, f := range files {
		data, err := os.ReadFile(e.path(f))
		if err != nil {
			return err
		}
		clean, ext, err := picture.Clean(data, picture.Keep)
		if err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("%s: %v", f, err), hint: "save it as JPEG or PNG and try again"}
		}
		stem := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
		at, err := job.AddPicture(s.Dir, j.ID, stem+ext, clean)
		if err != nil {
			return err
		}
		en.Text += "\n\n![](../photos/" + path.Base(at) + ")"
	}
	en.Text = strings.TrimSpace(en.Text)
	return nil
}
