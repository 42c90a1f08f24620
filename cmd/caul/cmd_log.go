package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
)

// logOptions are the flags of every command that adds an entry to a job's log.
type logOptions struct {
	jobID   string
	note    string
	air     string
	at      string
	private bool
	value   []string
	qty     int
	paid    string
	picture []string
	minutes string
}

// logVerb is one command that adds an entry.
type logVerb struct {
	use, short string
	did        string
	flags      func(*cobra.Command, *logOptions)
	fill       func(*env, *job.Shop, *job.Job, *job.Entry, []string, logOptions) error
	args       cobra.PositionalArgs
	step       bool // the first argument names a step
}

func newLogCommands(e *env) []*cobra.Command {
	airFlag := func(c *cobra.Command, o *logOptions) {
		c.Flags().StringVar(&o.air, "air", "", "the shop's air, as 16C or 61F")
	}
	verbs := []logVerb{
		{use: "begin STEP", short: "begin a step", did: job.DidBegin, step: true},
		{use: "clamp STEP", short: "the clamps are on", did: job.DidClamp, step: true, flags: airFlag},
		{use: "unclamp STEP", short: "the clamps are off", did: job.DidUnclamp, step: true, flags: airFlag},
		{use: "finish STEP", short: "a step is done", did: job.DidFinish, step: true, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().StringVar(&o.minutes, "took", "", "hands-on time it took, as \"40 min\"")
		}},
		{use: "aside STEP", short: "set a step aside", did: job.DidAside, step: true},
		{use: "take-up STEP", short: "take up again a step that was set aside", did: job.DidResume, step: true},
		{use: "undo", short: "take back the last entry of a job", did: job.DidUndo, args: cobra.NoArgs, fill: fillUndo},
		{use: "note TEXT...", short: "write a note into a job's log", did: job.DidNote, fill: fillNote, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().BoolVar(&o.private, "private", false, "never goes out with a shared build")
			c.Flags().StringSliceVar(&o.picture, "picture", nil, "a picture `file` to keep with the note")
		}},
		{use: "reading CHECK", short: "write down a reading of a check", did: job.DidRead, fill: fillReading, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().StringSliceVar(&o.value, "value", nil, "the reading, as 0.003 in; five-cut: the two widths and the strip's length, a,b,l")
		}},
		{use: "air TEMPERATURE", short: "write down the shop's air", did: job.DidAir, fill: fillAir},
		{use: "bought ITEM", short: "something was bought", did: job.DidBuy, fill: fillItem, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().IntVar(&o.qty, "packs", 1, "how many packs")
			c.Flags().StringVar(&o.paid, "paid", "", "what was paid in all, as 12.50")
		}},
		{use: "spoiled PART", short: "a part was spoiled and must be cut again", did: job.DidSpoil, fill: fillItem, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().IntVar(&o.qty, "qty", 1, "how many")
		}},
	}
	var out []*cobra.Command
	for _, v := range verbs {
		out = append(out, newLogCommand(e, v))
	}
	return append(out, newTick(e))
}

func newLogCommand(e *env, v logVerb) *cobra.Command {
	var o logOptions
	args := v.args
	if args == nil {
		args = cobra.MinimumNArgs(1)
	}
	if v.step {
		args = exactly(1, "a step, as STEP or JOB/STEP")
	}
	c := &cobra.Command{Use: v.use, Short: v.short, Args: args,
		RunE: func(cmd *cobra.Command, a []string) error { return runLog(cmd.Context(), e, v, a, o) }}
	c.Flags().StringVarP(&o.jobID, "job", "j", "", "the `job`, where its name is needed")
	c.Flags().StringVarP(&o.note, "note", "m", "", "a line to go with it")
	c.Flags().StringVar(&o.at, "at", "", "when it was, as 19:05 or 2026-03-14T19:05 (default: now)")
	if v.flags != nil {
		v.flags(c, &o)
	}
	return c
}

func runLog(ctx context.Context, e *env, v logVerb, args []string, o logOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	when, err := parseWhen(o.at, e.now(), s.Zone)
	if err != nil {
		return err
	}
	en := job.Entry{Did: v.did, Time: when, Text: o.note, Private: o.private}
	var j *job.Job
	if v.step {
		st, jb, err := findStep(s, args[0], o.jobID)
		if err != nil {
			return err
		}
		j, en.Step = jb, st.ID
	} else if j, err = findJob(s, o.jobID); err != nil {
		return err
	}
	if o.air != "" {
		t, err := measure.ParseTemperature(o.air)
		if err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--air %q: %v", o.air, err), hint: "write it as 16C or 61F"}
		}
		en.Air = &t
	}
	if o.minutes != "" {
		if en.Minutes, err = measure.ParseSpan(o.minutes); err != nil {
			return usage("--took %q: %v", o.minutes, err)
		}
	}
	if v.fill != nil {
		if err := v.fill(e, s, j, &en, args, o); err != nil {
			return err
		}
	}
	file, err := job.AddEntry(s.Dir, j.ID, en, machineName(s.Dir))
	if err != nil {
		return err
	}
	return afterLog(ctx, e, s, j.ID, file, en)
}

// afterLog reads the shop again and tells what the entry changed.
func afterLog(ctx context.Context, e *env, s *job.Shop, jobID, file string, en job.Entry) error {
	defer autoSync(ctx, e, s.Dir)
	s, err := job.Load(s.Dir)
	if err != nil {
		return err
	}
	n, err := plan.At(s, e.now(), 0, nil)
	if err != nil {
		return e.print("entry", map[string]any{"file": file}, func() error {
			e.printf("wrote %s\n", file)
			return nil
		})
	}
	return e.print("entry", map[string]any{"file": file, "job": jobID, "step": en.Step, "did": en.Did, "now": n}, func() error {
		e.printf("wrote %s\n", file)
		for _, t := range n.Timers {
			if t.Job == jobID && (en.Step == "" || t.Step == en.Step) {
				e.printf("%s, %s: ready %s\n", t.Name, t.Kind, t.Ready.In(s.Zone).Format("Mon 2 Jan 15:04"))
			}
		}
		for _, d := range n.Doubts {
			e.printf("look: %s\n", d)
		}
		return nil
	})
}

// findJob is the named job, or the only one there is.
func findJob(s *job.Shop, id string) (*job.Job, error) {
	if id == "" && len(s.Jobs) == 1 {
		return s.Jobs[0], nil
	}
	if id == "" {
		names, _ := pickJobs(s, nil)
		return nil, &fault{code: exitUsage, msg: "which job is it for?", hint: "name it with --job: " + strings.Join(names, ", ")}
	}
	if _, err := pickJobs(s, []string{id}); err != nil {
		return nil, err
	}
	for _, j := range s.Jobs {
		if j.ID == id {
			return j, nil
		}
	}
	return nil, usage("no job %q", id)
}

// findStep is the step an argument names: STEP where only one job has it, or
// JOB/STEP.
func findStep(s *job.Shop, arg, jobID string) (*job.Step, *job.Job, error) {
	step := arg
	if j, st, ok := strings.Cut(arg, "/"); ok {
		jobID, step = j, st
	}
	type hit struct {
		st *job.Step
		j  *job.Job
	}
	var hits []hit
	var known []string
	for _, j := range s.Jobs {
		if jobID != "" && j.ID != jobID {
			continue
		}
		for i := range j.Steps {
			known = append(known, j.ID+"/"+j.Steps[i].ID)
			if j.Steps[i].ID == step {
				hits = append(hits, hit{&j.Steps[i], j})
			}
		}
	}
	switch len(hits) {
	case 1:
		return hits[0].st, hits[0].j, nil
	case 0:
		hint := "see `caul plan`"
		if len(known) > 0 && len(known) <= 30 {
			hint = "the steps are: " + strings.Join(known, ", ")
		}
		return nil, nil, &fault{code: exitUsage, msg: fmt.Sprintf("no step %q", arg), hint: hint}
	}
	var in []string
	for _, h := range hits {
		in = append(in, h.j.ID+"/"+step)
	}
	return nil, nil, &fault{code: exitUsage, msg: fmt.Sprintf("more than one job has a step %q", step), hint: "say which: " + strings.Join(in, ", ")}
}

// parseWhen reads an instant as a maker says it: a time of today, or a date
// and time, in the shop's zone.
func parseWhen(s string, now time.Time, zone *time.Location) (time.Time, error) {
	if zone == nil {
		zone = time.Local
	}
	now = now.In(zone)
	if s == "" {
		return now.Truncate(time.Second), nil
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return t, nil
		}
	}
	if t, err := time.Parse("15:04", s); err == nil {
		return time.Date(now.Year(), now.Month(), now.Day(), t.Hour(), t.Minute(), 0, 0, zone), nil
	}
	return time.Time{}, &fault{code: exitUsage, msg: fmt.Sprintf("--at %q is not a time", s), hint: "write it as 19:05 or 2026-03-14T19:05"}
}

func fillUndo(_ *env, _ *job.Shop, j *job.Job, en *job.Entry, _ []string, _ logOptions) error {
	if es := j.Counting(); len(es) > 0 {
		last := es[len(es)-1]
		en.Entry, en.Step = last.ID, last.Step
		return nil
	}
	return &fault{code: exitUsage, msg: fmt.Sprintf("nothing in the log of %s to take back", j.ID)}
}

func fillNote(e *env, s *job.Shop, j *job.Job, en *job.Entry, args []string, o logOptions) error {
	text := strings.Join(args, " ")
	if text == "-" {
		b, err := io.ReadAll(io.LimitReader(e.in, 1<<20))
		if err != nil {
			return err
		}
		text = string(b)
	}
	en.Text = strings.TrimSpace(text + "\n" + o.note)
	return addPictures(e, s, j, en, o.picture)
}

func fillReading(_ *env, s *job.Shop, j *job.Job, en *job.Entry, args []string, o logOptions) error {
	var known []string
	for _, c := range j.Checks {
		known = append(known, c.ID)
		if c.ID == args[0] {
			en.Check = c.ID
		}
	}
	if en.Check == "" {
		return &fault{code: exitUsage, msg: fmt.Sprintf("%s has no check %q", j.ID, args[0]), hint: "its checks are: " + strings.Join(known, ", ")}
	}
	if len(o.value) == 0 {
		return usage("a reading needs --value")
	}
	system := s.Units.Length.System
	if j.Units != nil {
		system = *j.Units
	}
	var dims []job.Dim
	for _, v := range o.value {
		l, err := measure.ParseLength(v, system)
		if err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--value %q: %v", v, err), hint: "write a length, as 0.003 in or 0.08 mm"}
		}
		dims = append(dims, job.Dim{Length: l, Set: true, Exact: true, Src: v})
	}
	five := j.Check(en.Check).FiveCut
	switch {
	case five && len(dims) != 3:
		return &fault{code: exitUsage, msg: fmt.Sprintf("a five-cut reading is three lengths, and here are %d", len(dims)), hint: "the strip's width at the end cut first, at the other end, and its length: --value 1.250,1.247,20"}
	case five:
		en.Five = dims
	case len(dims) != 1:
		return &fault{code: exitUsage, msg: fmt.Sprintf("%s takes one length, and here are %d", en.Check, len(dims)), hint: "give one --value a reading"}
	default:
		en.Value = dims[0]
	}
	return nil
}

func fillAir(_ *env, _ *job.Shop, _ *job.Job, en *job.Entry, args []string, _ logOptions) error {
	t, err := measure.ParseTemperature(args[0])
	if err != nil {
		return &fault{code: exitUsage, msg: fmt.Sprintf("%q: %v", args[0], err), hint: "write it as 16C or 61F"}
	}
	en.Air = &t
	return nil
}

func fillItem(_ *env, s *job.Shop, _ *job.Job, en *job.Entry, args []string, o logOptions) error {
	en.Item, en.Qty = args[0], o.qty
	if o.paid != "" {
		m, err := measure.ParseMoney(o.paid, s.Units.Money)
		if err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--paid %q: %v", o.paid, err), hint: "write it as 12.50"}
		}
		en.Paid = &m
	}
	return nil
}
