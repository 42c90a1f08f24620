package site

import (
	"cmp"
	"fmt"
	"html/template"
	"path"
	"strings"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
	"caul/job/proof"
)

type entryView struct {
	ID, When, ISO string
	Did, What     string
	Facts         string
	Private       bool
	Body          template.HTML
}

// sayings say what an entry tells, as a maker would.
var sayings = map[string]string{
	job.DidBegin: "began", job.DidClamp: "into the clamps", job.DidUnclamp: "clamps off", job.DidFinish: "done", job.DidUndo: "taken back",
	job.DidAside: "set aside", job.DidResume: "taken up again", job.DidNote: "note", job.DidRead: "reading", job.DidBuy: "bought",
	job.DidUse: "used", job.DidCut: "cut", job.DidSpoil: "spoiled", job.DidAir: "air",
}

// log draws the log, latest first. An entry that was taken back, and the
// taking back, are left out: the files keep them.
func (r *renderer) log(j *job.Job, v *jobView) error {
	es := j.Counting()
	for i := len(es) - 1; i >= 0; i-- {
		e := es[i]
		pics := r.pictures(j, "A picture of "+r.day(e.Time)+", without a description")
		body, err := markdown([]byte(e.Text), reading{below: 2, dir: path.Dir(e.File), pictures: pics})
		if err != nil {
			return err
		}
		ev := entryView{ID: e.ID, When: r.when(e.Time), ISO: r.iso(e.Time), Did: cmp.Or(sayings[e.Did], e.Did), What: r.about(j, e),
			Facts: r.entryFacts(e), Private: e.Private, Body: body}
		if r.in.Shared {
			ev.When = e.Time.Format("2 Jan 2006")
			ev.ISO = e.Time.Format("2006-01-02")
		}
		v.Log = append(v.Log, ev)
		if !e.Private && !r.in.Shared {
			title := v.Name + ": " + ev.Did
			if ev.What != "" {
				title += ", " + ev.What
			}
			r.feed = append(r.feed, feedEntry{job: j.ID, id: e.ID, at: e.Time, title: title, facts: ev.Facts, body: string(body)})
		}
	}
	return nil
}

// about names what an entry is about.
func (r *renderer) about(j *job.Job, e job.Entry) string {
	if s := j.Step(e.Step); s != nil {
		return cmp.Or(s.Name, s.ID)
	}
	if c := j.Check(e.Check); c != nil {
		return c.Measure
	}
	if e.Item != "" {
		name := e.Item
		if p := j.Part(e.Item); p != nil {
			name = cmp.Or(p.Name, p.ID)
		}
		if e.Qty > 0 {
			return fmt.Sprintf("%d × %s", e.Qty, name)
		}
		return name
	}
	return e.Step + e.Check
}

func (r *renderer) entryFacts(e job.Entry) string {
	u := r.in.Shop.Units.Length
	var out []string
	if e.Value.Set {
		out = append(out, exactly(e.Value.Length, u))
	}
	if len(e.Five) == 3 {
		out = append(out, fmt.Sprintf("last strip %s and %s wide over %s", exactly(e.Five[0].Length, u), exactly(e.Five[1].Length, u), exactly(e.Five[2].Length, u)))
	}
	if len(e.Clamps) > 0 {
		out = append(out, plan.ClampWords(r.in.Shop, e.Clamps))
	}
	if e.Air != nil {
		out = append(out, "air "+r.temp(*e.Air))
	}
	if !r.in.Shared {
		if e.Paid != nil {
			out = append(out, "paid "+e.Paid.String())
		}
		if e.Minutes > 0 {
			out = append(out, e.Minutes.String()+" at it")
		}
	}
	return strings.Join(out, ", ")
}

// exactly writes a length in the shop's mark where that says it, else to the
// last unit.
func exactly(l measure.Length, u measure.Units) string {
	s := measure.FormatUnit(l, u)
	if back, err := measure.ParseLength(s, u.System); err == nil && back == l {
		return s
	}
	return measure.Exact(l, u)
}

// readOff writes what a feeler gauge or a dial can tell, and no further: to
// 0.0001 in or 0.001 mm, where the shop's mark is coarser.
func readOff(l measure.Length, u measure.Units) string {
	s := measure.FormatUnit(l, u)
	if back, err := measure.ParseLength(s, u.System); err == nil && back == l {
		return s
	}
	step := measure.MM / 1000
	if u.System == measure.Inches {
		step = measure.Inch / 10_000
	}
	half := step / 2
	if l < 0 {
		half = -half
	}
	return measure.Exact((l+half)/step*step, u)
}

// wants says what a check asks for.
func wants(c *job.Check, u measure.Units, otherwise string) string {
	switch {
	case c.Within.Set:
		return exactly(c.Nominal.Length, u) + ", within " + exactly(c.Within.Length, u)
	case c.AtMost.Set && c.AtLeast.Set:
		return exactly(c.AtLeast.Length, u) + " to " + exactly(c.AtMost.Length, u)
	case c.AtMost.Set:
		return "at most " + exactly(c.AtMost.Length, u)
	case c.AtLeast.Set:
		return "at least " + exactly(c.AtLeast.Length, u)
	}
	return otherwise
}

// seriesView is a check with its readings over time.
type seriesView struct {
	ID, Measure, Wants string
	Due                string
	Overdue            bool
	Chart              template.HTML
	Rows               []readingRow
}

type readingRow struct{ When, ISO, Value, Verdict, Shim string }

func (r *renderer) readings(j *job.Job, v *jobView) {
	for _, s := range proof.Readings(r.in.Shop, j, r.in.Now) {
		sv := seriesView{ID: s.Check, Measure: s.Measure, Wants: s.Wants}
		if c := j.Check(s.Check); c != nil {
			sv.Wants = wants(c, r.in.Shop.Units.Length, s.Wants)
			s.Wants = sv.Wants
		}
		if !r.in.Shared && !s.Due.IsZero() {
			sv.Due, sv.Overdue = r.day(s.Due), s.Overdue
		}
		for i := len(s.Readings) - 1; i >= 0; i-- {
			x := s.Readings[i]
			row := readingRow{When: r.when(x.At), ISO: r.iso(x.At), Value: readOff(x.Value, r.in.Shop.Units.Length), Verdict: "out", Shim: x.Shim}
			if r.in.Shared {
				row.When, row.ISO = x.At.Format("2 Jan 2006"), x.At.Format("2006-01-02")
			}
			if x.True {
				row.Verdict = "true"
			}
			sv.Rows = append(sv.Rows, row)
		}
		if c := j.Check(s.Check); c != nil && len(s.Readings) > 0 {
			sv.Chart = r.chart(j, c, s)
		}
		v.Series = append(v.Series, sv)
	}
}
