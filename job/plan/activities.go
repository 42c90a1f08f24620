package plan

import (
	"fmt"

	"caul/job"
	"caul/job/measure"
	"caul/job/schedule"
)

// activities makes the activities of one job. A job that is not asked for
// gives only its clamps back.
func (t *task) activities(jv *jobView, dropPast bool) {
	for _, sv := range jv.steps {
		if sv.state == job.InClamps {
			t.inClamps(sv, dropPast)
			continue
		}
		if !jv.picked || !sv.open() {
			continue
		}
		if sv.state == job.Curing {
			if !t.curedAwaited(sv) {
				t.addCured(sv, max(t.w.ax.ceil(sv.cured), 0))
			}
			continue
		}
		t.step(sv)
	}
}

// inClamps makes the activity that takes clamps off a glue-up that sits in
// them now. The present holds them until then.
func (t *task) inClamps(sv *stepView, dropPast bool) {
	clamps := t.w.heldClamps(sv)
	off := t.add(act{roleOff, sv}, schedule.Activity{
		Name: sv.step.ID + " clamps off", Work: takenOff(clamps).Minutes(), Calendar: t.hours,
		Needs: []schedule.Need{{Resource: maker, Qty: 1}},
	})
	t.off[sv] = off
	t.holdNow(t.held(clamps, sv.step.Place), off)
	t.lag(schedule.Lag{
		Name: sv.step.ID + " in clamps", From: present, FromEnd: true, To: off,
		Min: max(t.w.ax.ceil(sv.ready), 0),
	}, lagNote{kind: lagClamps, pred: sv, past: true})
	if g := sv.step.GlueUp; g != nil && g.Scrape != nil && g.Scrape.HasMost && sv.jv.picked {
		last := sv.on.Add(g.Scrape.Most.Duration())
		switch {
		case !last.After(t.w.now): // done or too late: nothing to plan
		case dropPast:
			t.hard = append(t.hard, fmt.Sprintf("%s: the squeeze-out cannot be scraped by %s in the hours there are; once it is hard, take it off with a chisel or a plane",
				sv.name(), when(last.In(t.w.ax.loc), t.w.now)))
		default:
			i := t.addScrape(sv)
			t.lag(schedule.Lag{
				Name: sv.step.ID + " scrape", From: present, FromEnd: true, To: i,
				Min:    max(t.w.ax.ceil(sv.on.Add(g.Scrape.Least.Duration())), 0),
				HasMax: true, Max: t.w.ax.floor(last),
			}, lagNote{kind: lagScrape, src: g.Scrape, pred: sv, past: true, most: true})
		}
	}
	if sv.jv.picked && !t.curedAwaited(sv) {
		t.addCured(sv, max(t.w.ax.ceil(sv.cured), 0))
	}
}

// holdNow has the present hold clamps and a place until an activity is over.
// What the log says is in clamps is in clamps: where that is more than the
// shop is said to own, the shop owns as many.
func (t *task) holdNow(held []schedule.Need, until int) {
	now := &t.prob.Activities[present]
	for _, n := range held {
		now.Holds = append(now.Holds, schedule.Hold{Resource: n.Resource, Qty: n.Qty, Until: until})
	}
	use := map[int]int{}
	for _, h := range now.Holds {
		use[h.Resource] += h.Qty
	}
	for r, n := range use {
		t.prob.Resources[r].Capacity = max(t.prob.Resources[r].Capacity, n)
	}
}

// heldClamps are the clamps on a glue-up: as logged, or as the job says.
func (w *world) heldClamps(sv *stepView) map[string]int {
	if len(sv.log.Held) > 0 {
		return sv.log.Held
	}
	return w.clampsOf(sv)
}

// step makes the activities of a step that is not done: the hands-on work, and
// for a glue-up the scraping, the taking off and, when nothing else waits for
// it, the cure.
func (t *task) step(sv *stepView) {
	takes := t.w.remaining(sv)
	a := schedule.Activity{
		Name: sv.jv.job.ID + "/" + sv.step.ID, Work: max(takes.Minutes(), 1), Calendar: t.hours,
		Split: sv.step.Split && sv.glue == nil,
		Needs: []schedule.Need{{Resource: maker, Qty: 1}},
	}
	clamps := t.w.clampsOf(sv)
	held := t.held(clamps, sv.step.Place)
	if (sv.glue == nil || !sv.glue.clamped()) && !sv.pressed {
		a.Needs = append(a.Needs, held...)
	}
	if sv.glue != nil {
		a.Calendar = t.glueCalendar(sv)
	}
	if sv.state == job.OnBench {
		t.onBench(sv, &a)
	}
	i := t.add(act{roleStep, sv}, a)
	t.main[sv] = i
	if sv.pressed {
		t.holdNow(t.held(t.w.heldClamps(sv), sv.step.Place), i)
	}
	if sv.glue == nil {
		return
	}
	if sv.glue.clamped() {
		off := t.add(act{roleOff, sv}, schedule.Activity{
			Name: a.Name + " clamps off", Work: takenOff(clamps).Minutes(), Calendar: t.hours,
			Needs: []schedule.Need{{Resource: maker, Qty: 1}},
		})
		t.off[sv] = off
		for _, n := range held {
			t.prob.Activities[i].Holds = append(t.prob.Activities[i].Holds,
				schedule.Hold{Resource: n.Resource, Qty: n.Qty, Until: off})
		}
		t.lag(schedule.Lag{
			Name: a.Name + " in clamps", From: i, FromEnd: true, To: off,
			Curve: t.curve(sv, false, 0),
		}, lagNote{kind: lagClamps, pred: sv})
	}
	if s := sv.step.GlueUp.Scrape; s != nil {
		k := t.addScrape(sv)
		t.lag(schedule.Lag{
			Name: a.Name + " scrape", From: i, FromEnd: true, To: k,
			Min: s.Least.Minutes(), HasMax: s.HasMost, Max: int64(s.Most / measure.Minute),
		}, lagNote{kind: lagScrape, src: s, pred: sv, most: s.HasMost})
	}
	if !t.curedAwaited(sv) {
		c := t.addCured(sv, 0)
		t.lag(schedule.Lag{
			Name: a.Name + " cure", From: i, FromEnd: true, To: c,
			Curve: t.curve(sv, true, 0),
		}, lagNote{kind: lagCure, pred: sv})
	}
}

func (t *task) addScrape(sv *stepView) int {
	i := t.add(act{roleScrape, sv}, schedule.Activity{
		Name: sv.jv.job.ID + "/" + sv.step.ID + " scrape", Work: scraping.Minutes(), Calendar: t.hours,
		Needs: []schedule.Need{{Resource: maker, Qty: 1}},
	})
	t.scrape[sv] = i
	return i
}

// addCured makes the moment at which a joint may be machined, when no step
// waits for it: the job is not finished before.
func (t *task) addCured(sv *stepView, release int64) int {
	i := t.add(act{roleCured, sv}, schedule.Activity{
		Name: sv.jv.job.ID + "/" + sv.step.ID + " cured", Calendar: schedule.Always, Release: release,
	})
	return i
}

// curedAwaited tells whether an open step of the job waits for the cure.
func (t *task) curedAwaited(sv *stepView) bool {
	for _, o := range sv.jv.steps {
		if !o.open() {
			continue
		}
		for _, l := range o.step.After {
			if l.Step == sv.step.ID && (l.From == job.FromCured || l.From == job.FromDone) {
				return true
			}
		}
	}
	return false
}

// onBench pins what is under way now, if the maker is in the shop: only the
// step begun last, and only one that is not left for another day.
func (t *task) onBench(sv *stepView, a *schedule.Activity) {
	if sv.step.Split && sv.glue == nil {
		return
	}
	if _, in := openAt(t.w.sessions, t.w.now); !in {
		return
	}
	for _, jv := range t.w.jobs {
		for _, o := range jv.steps {
			if o == sv || o.state != job.OnBench || !jv.picked || (o.step.Split && o.glue == nil) {
				continue
			}
			if o.begun.After(sv.begun) {
				return
			}
			if _, pinned := t.main[o]; pinned && o.begun.Equal(sv.begun) {
				return
			}
		}
	}
	zero, end := int64(0), a.Work
	a.Fixed, a.FixedEnd = &zero, &end
}
