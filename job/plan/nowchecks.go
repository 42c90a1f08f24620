package plan

import (
	"fmt"
	"time"

	"caul/job"
	"caul/job/proof"
)

// checks finds the readings of a finished jig whose time has come: by the
// calendar, by the uses logged since the last, or never read at all.
func (v *nowView) checks(jv *jobView) {
	var finished time.Time
	done := len(jv.steps) > 0
	for _, sv := range jv.steps {
		if sv.state != job.Done && !(sv.state == job.Aside && sv.step.Optional) {
			done = false
		}
		finished = later(finished, sv.done)
	}
	for _, se := range proof.Readings(v.w.shop, jv.job, v.w.now) {
		d := DueCheck{Job: jv.job.ID, Check: se.Check}
		what := se.Measure
		if what == "" {
			what = se.Check
		}
		if n := len(se.Readings); n > 0 {
			d.Last = se.Readings[n-1].At.In(v.w.ax.loc)
		}
		switch {
		case len(se.Readings) == 0 && done && !finished.After(v.w.now):
			d.Due = finished.In(v.w.ax.loc)
			d.Text = fmt.Sprintf("%s: %s, never read", jv.job.Name, what)
		case se.Overdue && se.UsesDue > 0:
			d.Due = v.w.now
			d.Text = fmt.Sprintf("%s: %s, last read %s, %s since then, due %s", jv.job.Name, what, dayWords(d.Last, v.w.now), count(se.Uses, "use"), everyWords(jv.job.Check(se.Check).Every))
		case se.Overdue:
			d.Due = se.Due.In(v.w.ax.loc)
			d.Text = fmt.Sprintf("%s: %s, last read %s, due %s", jv.job.Name, what, dayWords(d.Last, v.w.now), everyWords(jv.job.Check(se.Check).Every))
		default:
			continue
		}
		v.n.Checks = append(v.n.Checks, d)
	}
}

// everyWords says how often a check is due: "every 3 months", "every use", or
// "with the seasons", which is every three months.
func everyWords(every string) string {
	n, unit, err := job.ParseEvery(every)
	switch {
	case err != nil:
		return "again"
	case every == "seasonal":
		return "with the seasons, every 3 months"
	case n == 1:
		return "every " + unit
	}
	return "every " + count(n, unit)
}
