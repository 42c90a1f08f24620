package plan

import (
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/schedule"
)

// lags makes the waits between the steps of one job.
func (t *task) lags(jv *jobView, dropPast bool) {
	for _, sv := range jv.steps {
		i, ok := t.main[sv]
		if !ok || sv.state == job.OnBench {
			continue // what is begun has its waits behind it
		}
		for k := range sv.step.After {
			l := &sv.step.After[k]
			p := jv.byID[l.Step]
			if p == nil || (p.left && p.step.Optional) {
				continue
			}
			t.after(sv, i, p, l, dropPast)
		}
	}
}

func (t *task) after(sv *stepView, i int, p *stepView, l *job.Lag, dropPast bool) {
	note := lagNote{kind: lagAfter, src: l, pred: p, most: l.HasMost}
	if at, known := p.moment(l.From); known {
		if p.glue != nil && (l.From == job.FromCured || l.From == job.FromDone) {
			t.outOfClamps(p, i)
		}
		t.afterPast(sv, i, at, l, note, dropPast)
		return
	}
	name := sv.step.ID + " after " + l.Src
	least, most := l.Least.Minutes(), int64(l.Most/measure.Minute)
	main := t.main[p]
	sl := schedule.Lag{Name: name, From: main, FromEnd: true, To: i, Min: least, HasMax: l.HasMost, Max: most}
	from := l.From
	if p.glue == nil && (from == job.FromClampsOn || from == job.FromOff || from == job.FromCured) {
		if from == job.FromClampsOn {
			from = job.FromBegun
		} else {
			from = job.FromDone
		}
	}
	off, hasOff := t.off[p]
	switch {
	case from == job.FromBegun:
		if p.state == job.OnBench {
			return
		}
		sl.FromEnd = false
	case p.glue != nil && from == job.FromOff && hasOff:
		sl.From = off
	case p.glue != nil && (from == job.FromCured || from == job.FromDone):
		t.outOfClamps(p, i)
		if l.HasMost {
			t.curedMost(p, i, l, sl, note)
			return
		}
		sl.Min, sl.Curve = 0, t.curve(p, true, l.Least)
	}
	t.lag(sl, note)
}

// outOfClamps keeps a joint that is still in the clamps from being machined,
// cured or not.
func (t *task) outOfClamps(p *stepView, i int) {
	if off, ok := t.off[p]; ok {
		t.lag(schedule.Lag{Name: p.step.ID + " out of the clamps", From: off, FromEnd: true, To: i},
			lagNote{kind: lagOut, pred: p})
	}
}

// curedMost ties a step to the end of a cure from both sides: the cure becomes
// an activity of its own, begun when the clamps are on.
func (t *task) curedMost(p *stepView, i int, l *job.Lag, sl schedule.Lag, note lagNote) {
	c := t.add(act{roleCured, p}, schedule.Activity{
		Name: p.jv.job.ID + "/" + p.step.ID + " cured", Calendar: schedule.Always,
		Stretch: t.curve(p, true, 0),
	})
	t.lag(schedule.Lag{Name: "cure begins", From: t.main[p], FromEnd: true, To: c, HasMax: true},
		lagNote{kind: lagNothing, pred: p})
	sl.From = c
	note.shy = 1
	sl.Max -= note.shy
	t.lag(sl, note)
}

// afterPast makes a wait that counts from an instant of the log.
func (t *task) afterPast(sv *stepView, i int, at time.Time, l *job.Lag, note lagNote, dropPast bool) {
	note.past = true
	least := t.w.ax.ceil(at.Add(l.Least.Duration()))
	sl := schedule.Lag{Name: sv.step.ID + " after " + l.Src, From: present, FromEnd: true, To: i, Min: max(least, 0)}
	if l.HasMost {
		last := at.Add(l.Most.Duration())
		sl.Max = t.w.ax.floor(last)
		if dropPast || sl.Max < sl.Min {
			note.most = false
			t.late = append(t.late, lateLag{i, sv, l, last})
		} else {
			sl.HasMax = true
		}
	}
	if sl.Min == 0 && !sl.HasMax {
		return
	}
	t.lag(sl, note)
}
