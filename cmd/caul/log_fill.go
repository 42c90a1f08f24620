package main

import (
	"cmp"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// fillUndo takes back the entry that is named, else the last one that this
// machine wrote: what another machine wrote since is not meant, and clocks play
// no part.
func fillUndo(_ *env, s *job.Shop, j *job.Job, en *job.Entry, args []string, _ logOptions) error {
	if len(args) > 0 {
		id := entryID(args[0])
		x := entryOf(j, id)
		if j.TakenBack()[id] {
			return &fault{code: exitUsage, msg: fmt.Sprintf("%s is taken back already", id), hint: "`caul now` says where things stand"}
		}
		en.Entry, en.Step = x.ID, x.Step
		return nil
	}
	machine := machineName(s.Dir)
	if _, last := job.LastWritten([]*job.Job{j}, machine); last != nil {
		en.Entry, en.Step = last.ID, last.Step
		return nil
	}
	if _, last := job.LastWritten([]*job.Job{j}, ""); last != nil {
		return &fault{code: exitUsage, msg: fmt.Sprintf("this machine, %s, wrote nothing into the log of %s that could be taken back", machine, j.ID),
			hint: fmt.Sprintf("the last entry there is another's: `caul undo %s/%s` takes it back", j.ID, last.ID)}
	}
	return &fault{code: exitUsage, msg: fmt.Sprintf("nothing in the log of %s to take back", j.ID), hint: "`caul now` says where things stand"}
}

// entryID is the name of an entry as it may be given: alone, behind its job, or
// as the path of its file.
func entryID(arg string) string {
	return strings.TrimSuffix(path.Base(strings.ReplaceAll(arg, "\\", "/")), ".md")
}

func entryOf(j *job.Job, id string) *job.Entry {
	for i := range j.Log {
		if j.Log[i].ID == id {
			return &j.Log[i]
		}
	}
	return nil
}

// takenBack says in words what an entry was that is taken back.
func takenBack(s *job.Shop, j *job.Job, id string) *tookBack {
	x := entryOf(j, id)
	if x == nil {
		return nil
	}
	t := &tookBack{Entry: x.ID, Did: x.Did, Step: x.Step, At: x.Time}
	about := x.Item
	if st := j.Step(x.Step); st != nil {
		about = stepName(st)
	} else if c := j.Check(x.Check); c != nil {
		about = c.Measure
	}
	t.Text = x.Did
	if about != "" {
		t.Text += " " + about
	}
	if line, _, _ := strings.Cut(x.Text, "\n"); x.Did == job.DidNote && line != "" {
		t.Text += fmt.Sprintf(" %q", cutShort(line, 50))
	}
	t.Text += fmt.Sprintf(", %s (%s)", x.Time.In(zoneOf(s)).Format("Mon 2 Jan 15:04"), j.ID)
	return t
}

func stepName(st *job.Step) string {
	if st.Name == "" {
		return st.ID
	}
	return st.Name
}

func cutShort(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return strings.TrimSpace(string(r[:most-1])) + "…"
}

func checkNote(args []string, o logOptions) error {
	if strings.TrimSpace(strings.Join(args, "")+o.note) == "" && len(o.picture) == 0 {
		return errEmptyNote
	}
	return nil
}

var errEmptyNote = &fault{code: exitUsage, msg: "the note is empty", hint: "give its words, `-` to read them from standard input, or --picture FILE"}

// checkQty wants at least one of something.
func checkQty(flag string) func([]string, logOptions) error {
	return func(_ []string, o logOptions) error {
		if o.qty < 1 {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--%s %d: there must be at least one", flag, o.qty), hint: "what was written by mistake is taken back with `caul undo`"}
		}
		return nil
	}
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
	en.Text = strings.TrimSpace(strings.TrimSpace(text) + "\n" + o.note)
	if en.Text == "" && len(o.picture) == 0 {
		return errEmptyNote
	}
	return addPictures(e, s, j, en, o.picture)
}

func fillReading(_ *env, s *job.Shop, j *job.Job, en *job.Entry, args []string, o logOptions) error {
	en.Check = path.Base(args[0])
	values := append(slices.Clone(o.value), args[1:]...)
	if len(values) == 0 {
		return &fault{code: exitUsage, msg: "a reading needs its length", hint: fmt.Sprintf("such as: caul reading %s \"0.003 in\", or \"0.08 mm\"", args[0])}
	}
	system := s.Units.Length.System
	if j.Units != nil {
		system = *j.Units
	}
	var dims []job.Dim
	for _, v := range values {
		l, err := measure.ParseLength(v, system)
		if err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("the reading %q: %v", v, err), hint: "write a length, as 0.003 in or 0.08 mm"}
		}
		dims = append(dims, job.Dim{Length: l, Set: true, Exact: true, Src: v})
	}
	five := j.Check(en.Check).FiveCut
	switch {
	case five && len(dims) != 3:
		return &fault{code: exitUsage, msg: fmt.Sprintf("a five-cut reading is three lengths, and here %s", areThere(len(dims))), hint: "the strip's width at the end cut first, at the other end, and its length: --value 1.250,1.247,20"}
	case five:
		for _, d := range dims {
			if d.Length <= 0 {
				return &fault{code: exitUsage, msg: fmt.Sprintf("a strip cannot measure %s", d.Src), hint: "the strip's width at the end cut first, at the other end, and its length"}
			}
		}
		en.Five = dims
	case len(dims) != 1:
		return &fault{code: exitUsage, msg: fmt.Sprintf("%s takes one length, and here %s", en.Check, areThere(len(dims))), hint: "give each reading a command of its own, and write decimals with a point, as 0.004"}
	default:
		en.Value = dims[0]
	}
	return nil
}

func areThere(n int) string {
	if n == 1 {
		return "is 1"
	}
	return fmt.Sprintf("are %d", n)
}

func fillAir(_ *env, _ *job.Shop, _ *job.Job, en *job.Entry, args []string, _ logOptions) error {
	t, err := measure.ParseTemperature(args[0])
	if err != nil {
		return &fault{code: exitUsage, msg: fmt.Sprintf("%q: %v", args[0], err), hint: "write it as 16C or 61F"}
	}
	en.Air = &t
	return nil
}

func fillBought(_ *env, s *job.Shop, _ *job.Job, en *job.Entry, args []string, o logOptions) error {
	en.Item, en.Qty = args[0], o.qty
	if o.paid != "" {
		m, err := measure.ParseMoney(o.paid, s.Units.Money)
		if err != nil {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--paid %q: %v", o.paid, err), hint: "write it as 12.50"}
		}
		if m.Minor < 0 {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--paid %q is less than nothing", o.paid), hint: "write what was paid in all, as 12.50"}
		}
		en.Paid = &m
	}
	return nil
}

func fillSpoiled(_ *env, _ *job.Shop, j *job.Job, en *job.Entry, args []string, o logOptions) error {
	en.Item, en.Qty = path.Base(args[0]), o.qty
	return nil
}

// fillUsed counts a use of the jig itself: the entry names the job.
func fillUsed(_ *env, _ *job.Shop, j *job.Job, en *job.Entry, _ []string, o logOptions) error {
	en.Item, en.Qty = j.ID, o.qty
	return nil
}

// usesSince are a job's checks that are due by uses.
func usesSince(s *job.Shop, j *job.Job, now time.Time) []usesOf {
	var out []usesOf
	for _, se := range proof.Readings(s, j, now) {
		n, unit, err := job.ParseEvery(j.Check(se.Check).Every)
		if err == nil && unit == "use" {
			out = append(out, usesOf{se.Check, cmp.Or(se.Measure, se.Check), se.Uses, n, len(se.Readings) > 0})
		}
	}
	return out
}
