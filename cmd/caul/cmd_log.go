package main

import (
	"context"
	"fmt"
	"path"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
	"caul/job/proof"
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
	args       cobra.PositionalArgs
	step       bool // the first argument names a step

	// check looks at what needs no job to be seen; nil for nothing.
	check func([]string, logOptions) error

	// find finds the job where no step names it; nil for the one that --job
	// names, or the only one there is.
	find func(*job.Shop, []string, logOptions) (*job.Job, error)
	fill func(*env, *job.Shop, *job.Job, *job.Entry, []string, logOptions) error
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
		{use: "undo [ENTRY]", short: "take back what this machine wrote last, or the entry named", did: job.DidUndo, args: cobra.MaximumNArgs(1), find: undoJob, fill: fillUndo},
		{use: "note [TEXT...]", short: "write a note into a job's log", did: job.DidNote, args: cobra.ArbitraryArgs, check: checkNote, find: benchJob, fill: fillNote, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().BoolVar(&o.private, "private", false, "never goes out with a shared build")
			c.Flags().StringSliceVar(&o.picture, "picture", nil, "a picture `file` to keep with the note")
		}},
		{use: "reading CHECK [LENGTH...]", short: "write down a reading of a check", did: job.DidRead, args: atLeast(1, "a check, as CHECK or JOB/CHECK"), find: checkJob, fill: fillReading, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().StringSliceVar(&o.value, "value", nil, "the reading, as 0.003 in; five-cut: the two widths and the strip's length, a,b,l")
		}},
		{use: "air TEMPERATURE", short: "write down the shop's air", did: job.DidAir, args: exactly(1, "a temperature, as 16C or 61F"), find: airJob, fill: fillAir},
		{use: "bought ITEM", short: "something was bought", did: job.DidBuy, args: exactly(1, "an item of the price book"), check: checkQty("packs"), find: itemJob, fill: fillBought, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().IntVar(&o.qty, "packs", 1, "how many packs")
			c.Flags().StringVar(&o.paid, "paid", "", "what was paid in all, as 12.50")
		}},
		{use: "used [JOB]", short: "the finished jig was used, for checks that are due by uses", did: job.DidUse, args: cobra.MaximumNArgs(1), check: checkQty("times"), find: usedJob, fill: fillUsed, flags: func(c *cobra.Command, o *logOptions) {
			c.Flags().IntVar(&o.qty, "times", 1, "how many times")
		}},
		{use: "spoiled PART", short: "a part was spoiled and must be cut again", did: job.DidSpoil, args: exactly(1, "a part, as PART or JOB/PART"), check: checkQty("qty"), find: partJob, fill: fillSpoiled, flags: func(c *cobra.Command, o *logOptions) {
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
	c.Flags().StringVar(&o.at, "at", "", "when it was, as 19:05 or 2026-03-14T19:05 (default: now); a time more than 12 h ahead is yesterday's")
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
	if _, err := time.Parse("15:04", o.at); err == nil && when.Sub(e.now()) > 12*time.Hour {
		when = when.AddDate(0, 0, -1) // said after midnight of the evening before: what is written down has happened
	}
	if v.check != nil {
		if err := v.check(args, o); err != nil {
			return err
		}
	}
	en := job.Entry{Did: v.did, Time: when, Text: strings.TrimSpace(o.note), Private: o.private}
	var j *job.Job
	switch {
	case v.step:
		var st *job.Step
		if st, j, err = findStep(s, args[0], o.jobID); err == nil {
			en.Step = st.ID
		}
	case v.find != nil:
		j, err = v.find(s, args, o)
	default:
		j, err = findJob(s, o.jobID)
	}
	if err != nil {
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
		hint := "write the hands-on time, as \"40 min\" or 1h30m"
		if en.Minutes, err = measure.ParseSpan(o.minutes); err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--took %q: %v", o.minutes, err), hint: hint}
		}
		if en.Minutes <= 0 {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--took %q is no time at all", o.minutes), hint: hint}
		}
	}
	if v.fill != nil {
		if err := v.fill(e, s, j, &en, args, o); err != nil {
			return err
		}
	}
	if o.at == "" {
		en.Time = inOrder(s, en.Time)
	}
	machine := machineName(s.Dir)
	s.Write(&en, machine, e.now())
	looks := plan.Looks(s, j, en)
	if last, ahead := s.LogAhead(e.now()); ahead && o.at == "" {
		looks = append(looks, fmt.Sprintf("this machine's clock says %s, and the log goes on to %s: set the clock, and mend `at:` in the entry, or give --at",
			en.Time.Format("Mon 2 Jan 2006 15:04"), last.In(zoneOf(s)).Format("Mon 2 Jan 2006 15:04")))
	}
	before, _ := plan.At(s, e.now(), 0, nil)
	file, err := job.AddEntry(s.Dir, j.ID, en, machine)
	if err != nil {
		return err
	}
	return afterLog(ctx, e, s, j, file, en, looks, before)
}

// inOrder is a time after the newest entry of the shop: the log counts whole
// seconds, and two commands in one second are to stand in the order they were
// given in. An entry that is dated further ahead has a clock of its own.
func inOrder(s *job.Shop, at time.Time) time.Time {
	newest := at.Add(-time.Second)
	for _, j := range s.Jobs {
		for i := range j.Log {
			if t := j.Log[i].Time; t.After(newest) && t.Sub(at) < time.Minute {
				newest = t
			}
		}
	}
	return newest.Add(time.Second).In(at.Location())
}

// entryAnswer is what a log verb says with --json.
type entryAnswer struct {
	File     string         `json:"file"`
	Job      string         `json:"job"`
	Step     string         `json:"step,omitempty"`
	Did      string         `json:"did"`
	TookBack *tookBack      `json:"took_back,omitempty"` // what an undo took back
	Reading  *proof.Reading `json:"reading,omitempty"`   // a reading with its verdict
	Uses     []usesOf       `json:"uses,omitempty"`      // the checks that uses count for
	Looks    []string       `json:"looks"`               // what looks odd about the entry; it was written all the same
	Now      *plan.Now      `json:"now,omitempty"`
}

// usesOf is a check that is due by uses, and how many there were since it was
// last read.
type usesOf struct {
	Check   string `json:"check"`
	Measure string `json:"measure"`
	Uses    int    `json:"uses"`
	Due     int    `json:"uses_due"`
	Read    bool   `json:"read"` // false: never read, so that nothing is counted yet
}

type tookBack struct {
	Entry string    `json:"entry"`
	Did   string    `json:"did"`
	Step  string    `json:"step,omitempty"`
	At    time.Time `json:"at"`
	Text  string    `json:"text"`
}

// afterLog reads the shop again and tells what the entry changed, and what
// looks odd about it.
func afterLog(ctx context.Context, e *env, s *job.Shop, j *job.Job, file string, en job.Entry, looks []string, before *plan.Now) error {
	defer autoSync(ctx, e, s.Dir)
	a := entryAnswer{File: file, Job: j.ID, Step: en.Step, Did: en.Did, Looks: looks}
	if en.Did == job.DidUndo {
		a.TookBack = takenBack(s, j, en.Entry)
	}
	s, err := job.Load(s.Dir)
	if err != nil {
		return err
	}
	if en.Did == job.DidRead {
		a.Reading = proof.ReadingOf(s, s.Job(j.ID), strings.TrimSuffix(path.Base(file), ".md"))
	}
	if en.Did == job.DidUse {
		a.Uses = usesSince(s, s.Job(j.ID), e.now())
	}
	a.Now, err = plan.At(s, e.now(), 0, nil)
	if err == nil && before != nil {
		a.Looks = append(a.Looks, plan.NewDoubts(before, a.Now)...) // those that were there before are told by now
	}
	if a.Looks == nil {
		a.Looks = []string{}
	}
	return e.print("entry", a, func() error {
		e.printf("wrote %s\n", file)
		if a.TookBack != nil {
			e.printf("took back: %s\n", a.TookBack.Text)
		}
		if a.Reading != nil {
			e.printf("%s: %s\n", s.Job(j.ID).Check(en.Check).Measure, a.Reading.Text)
			if a.Reading.Shim != "" {
				e.printf("%s\n", a.Reading.Shim)
			}
		}
		if en.Did == job.DidSpoil {
			e.printf("%d %s to be cut again: caul cut %s\n", en.Qty, en.Item, j.ID)
		}
		for _, u := range a.Uses {
			switch {
			case !u.Read:
				e.printf("%s: never read; uses count from its first reading: caul reading %s/%s --value ...\n", u.Measure, j.ID, u.Check)
			case u.Uses >= u.Due:
				e.printf("%s: %d use%s since the last reading, due every %d: caul reading %s/%s --value ...\n", u.Measure, u.Uses, plural(u.Uses), u.Due, j.ID, u.Check)
			default:
				e.printf("%s: %d use%s since the last reading, of %d\n", u.Measure, u.Uses, plural(u.Uses), u.Due)
			}
		}
		if a.Now != nil && aboutSteps(en.Did) {
			for _, t := range a.Now.Timers {
				if t.Job == j.ID && (en.Step == "" || t.Step == en.Step) {
					e.printf("%s, %s: %s\n", t.Name, t.Kind, readyWords(t, s, "Mon 2 Jan 15:04"))
				}
			}
		}
		for _, l := range a.Looks {
			e.printf("look: %s\n", l)
		}
		return nil
	})
}

// aboutSteps tells an entry that may change when something is ready.
func aboutSteps(did string) bool {
	switch did {
	case job.DidNote, job.DidRead, job.DidBuy, job.DidSpoil, job.DidUse:
		return false
	}
	return true
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
