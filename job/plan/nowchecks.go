package plan

import (
	"fmt"
	"time"

	"caul/job"
)

// checks finds the readings of a finished jig whose time has come.
func (v *nowView) checks(jv *jobView) {
	var finished time.Time
	done := len(jv.steps) > 0
	for _, sv := range jv.steps {
		if sv.state != job.Done && !(sv.state == job.Aside && sv.step.Optional) {
			done = false
		}
		finished = later(finished, sv.done)
	}
	last := map[string]time.Time{}
	for _, e := range jv.job.Counting() {
		if e.Did == job.DidRead && e.Check != "" {
			last[e.Check] = later(last[e.Check], e.Time)
		}
	}
	for _, c := range jv.job.Checks {
		read, ever := last[c.ID]
		if !ever && !done {
			continue
		}
		due := finished
		if ever {
			if c.Every == "" {
				continue
			}
			n, unit, err := job.ParseEvery(c.Every)
			if err != nil || unit == "use" {
				continue // uses are not counted by the clock
			}
			due = addEvery(read.In(v.w.ax.loc), n, unit)
		}
		if due.After(v.w.now) {
			continue
		}
		d := DueCheck{Job: jv.job.ID, Check: c.ID, Due: due.In(v.w.ax.loc)}
		what := c.Measure
		if what == "" {
			what = c.ID
		}
		d.Text = fmt.Sprintf("%s: %s, never read", jv.job.Name, what)
		if ever {
			d.Last = read.In(v.w.ax.loc)
			d.Text = fmt.Sprintf("%s: %s, last read %s, due every %s", jv.job.Name, what, dayWords(d.Last, v.w.now), c.Every)
		}
		v.n.Checks = append(v.n.Checks, d)
	}
}

// addEvery counts on by the calendar; a month that is too short ends on its
// last day.
func addEvery(t time.Time, n int, unit string) time.Time {
	switch unit {
	case "week":
		return t.AddDate(0, 0, 7*n)
	case "year":
		n *= 12
	}
	d := dateOf(t)
	first := time.Date(d.y, d.m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	days := first.AddDate(0, 1, -1).Day()
	out := date{first.Year(), first.Month(), min(d.d, days)}
	return out.minute(t.Location(), t.Hour()*60+t.Minute())
}
