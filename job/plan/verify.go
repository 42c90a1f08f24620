package plan

import (
	"fmt"
	"sort"
	"time"

	"caul/job"
)

// verify checks a plan in the shop's own terms, from its items, the job files
// and the log alone: it shares nothing with the translation to the scheduler
// but the reading of the log.
func verify(w *world, t *task, p *Plan) error {
	v := verifier{w: w, p: p, bench: map[*stepView]*Item{}, off: map[*stepView]*Item{}}
	for i := range p.Items {
		it := &p.Items[i]
		sv := v.step(it.Job, it.Step)
		if sv == nil {
			return fmt.Errorf("%s/%s is no step", it.Job, it.Step)
		}
		switch {
		case it.Kind == ClampsOff:
			v.off[sv] = it
		case it.Kind == Bench && t.acts[it.act].role == roleStep:
			v.bench[sv] = it
		}
	}
	for _, check := range []func() error{v.complete, v.oneMaker, v.inHours, v.order, v.clamps, v.warm, v.settings} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

type verifier struct {
	w     *world
	p     *Plan
	bench map[*stepView]*Item
	off   map[*stepView]*Item
}

func (v *verifier) step(jobID, step string) *stepView {
	for _, jv := range v.w.jobs {
		if jv.job.ID == jobID {
			return jv.byID[step]
		}
	}
	return nil
}

// each visits the steps of the jobs asked for, in order.
func (v *verifier) each(f func(sv *stepView) error) error {
	for _, jv := range v.w.jobs {
		for _, sv := range jv.steps {
			if !jv.picked {
				continue
			}
			if err := f(sv); err != nil {
				return err
			}
		}
	}
	return nil
}

// complete: every open step is in the plan once, with its hands-on time.
func (v *verifier) complete() error {
	return v.each(func(sv *stepView) error {
		it := v.bench[sv]
		switch {
		case !sv.open() || sv.state == job.InClamps || sv.state == job.Curing:
			if it != nil {
				return fmt.Errorf("%s is %s and is planned again", sv.name(), sv.state)
			}
			return nil
		case it == nil:
			return fmt.Errorf("%s is missing", sv.name())
		}
		var sum time.Duration
		for _, s := range stretches(*it) {
			sum += s.To.Sub(s.From)
		}
		want := time.Duration(max(v.w.remaining(sv).Minutes(), 1)+it.Change.Minutes()) * time.Minute
		if sum != want {
			return fmt.Errorf("%s has %s of hands-on time and wants %s", sv.name(), sum, want)
		}
		return nil
	})
}

// oneMaker: no two hands-on stretches at once.
func (v *verifier) oneMaker() error {
	type busy struct {
		Stretch
		name string
	}
	var all []busy
	for _, it := range v.p.Items {
		if it.Kind != Bench && it.Kind != ClampsOff {
			continue
		}
		for _, s := range stretches(it) {
			all = append(all, busy{s, benchName(it)})
		}
	}
	sort.SliceStable(all, func(i, k int) bool { return all[i].From.Before(all[k].From) })
	for i := 1; i < len(all); i++ {
		if all[i].From.Before(all[i-1].To) {
			return fmt.Errorf("%s and %s are both at the bench at %s", all[i-1].name, all[i].name, all[i].From)
		}
	}
	return nil
}

// inHours: hands-on work lies in shop hours, and what may not be stopped in
// one session. What is under way now is let be.
func (v *verifier) inHours() error {
	for _, it := range v.p.Items {
		if it.Kind != Bench && it.Kind != ClampsOff {
			continue
		}
		sv := v.step(it.Job, it.Step)
		ss := stretches(it)
		if it.Started && !ss[0].From.After(v.w.ax.origin) {
			continue
		}
		for _, s := range ss {
			in, ok := openAt(v.w.sessions, s.From)
			if !ok || s.To.After(in.to) {
				return fmt.Errorf("%s is at the bench %s to %s, when the shop is shut", benchName(it), s.From, s.To)
			}
		}
		if it.Kind == ClampsOff || !sv.step.Split || sv.glue != nil {
			var sum time.Duration
			for _, s := range ss {
				sum += s.To.Sub(s.From)
			}
			last := ss[len(ss)-1]
			if last.To.Sub(last.From) < sum-it.Change.Duration() {
				return fmt.Errorf("%s is split over sessions", benchName(it))
			}
		}
	}
	return nil
}

// start and end are the work of a step itself, without a change of set-up.
func (v *verifier) start(sv *stepView) (time.Time, bool) {
	it := v.bench[sv]
	if it == nil {
		return time.Time{}, false
	}
	left := it.Change.Duration()
	for _, s := range stretches(*it) {
		if d := s.To.Sub(s.From); d <= left {
			left -= d
			continue
		}
		return s.From.Add(left), true
	}
	return it.To, true
}

// when gives the instant of a moment of a step as planned or logged, the glue
// reckoned anew.
func (v *verifier) when(sv *stepView, from job.LagFrom) (time.Time, bool) {
	if t, ok := sv.moment(from); ok {
		return t, true
	}
	it := v.bench[sv]
	off := v.off[sv]
	if from == job.FromOff && sv.glue != nil && off != nil {
		return off.To, true
	}
	if it == nil {
		return time.Time{}, false
	}
	if from == job.FromBegun || from == job.FromClampsOn && sv.glue == nil {
		return v.start(sv)
	}
	if sv.glue == nil || from == job.FromClampsOn || from == job.FromOff {
		return it.To, true
	}
	w := v.w.air.air.Wait(sv.glue.k.Machine, sv.glue.k.Lowest, it.To)
	c := v.w.air.air.Wait(sv.glue.k.Clamp, sv.glue.k.Lowest, it.To)
	if w.Never || c.Never {
		return time.Time{}, false
	}
	return later(w.Ready, c.Ready), true
}

// order: every wait of every step is kept, least and most.
func (v *verifier) order() error {
	lateOK := map[string]bool{}
	for _, s := range v.p.Warnings {
		lateOK[s] = true
	}
	return v.each(func(sv *stepView) error {
		begin, ok := v.start(sv)
		if !ok || sv.state == job.OnBench {
			return nil
		}
		if begin.Before(v.w.now) {
			return fmt.Errorf("%s begins %s, before now", sv.name(), begin)
		}
		for k := range sv.step.After {
			l := &sv.step.After[k]
			pred := sv.jv.byID[l.Step]
			if pred == nil || pred.left && pred.step.Optional {
				continue
			}
			at, known := v.when(pred, l.From)
			if !known {
				return fmt.Errorf("%s is planned, but what it waits for is not: %s", sv.name(), l.Src)
			}
			if off := v.off[pred]; off != nil && l.From != job.FromBegun && l.From != job.FromClampsOn && begin.Before(off.To) {
				return fmt.Errorf("%s begins %s, and %s is in the clamps until %s", sv.name(), begin, pred.name(), off.To)
			}
			if begin.Before(at.Add(l.Least.Duration())) {
				return fmt.Errorf("%s begins %s, too soon: %s", sv.name(), begin, l.Src)
			}
			if l.HasMost && begin.After(at.Add(l.Most.Duration())) && !lateOK[lateWords(v.w, sv, l, at.Add(l.Most.Duration()))] {
				return fmt.Errorf("%s begins %s, too late: %s", sv.name(), begin, l.Src)
			}
		}
		return nil
	})
}

// clamps: clamps come off when the glue lets them, and at no moment are more
// clamps or places in use than the shop has.
func (v *verifier) clamps() error {
	type use struct {
		at   time.Time
		id   string
		qty  int
		name string
	}
	var uses []use
	take := func(sv *stepView, from, to time.Time, clamps map[string]int) {
		for _, id := range sortedKeys(clamps) {
			uses = append(uses, use{from, "clamp " + id, clamps[id], sv.name()}, use{to, "clamp " + id, -clamps[id], sv.name()})
		}
		if sv.step.Place != "" {
			uses = append(uses, use{from, "place " + sv.step.Place, 1, sv.name()}, use{to, "place " + sv.step.Place, -1, sv.name()})
		}
	}
	own := map[string]int{}
	for _, c := range v.w.shop.Clamps {
		own["clamp "+c.ID] = c.Qty
	}
	for _, c := range v.w.shop.Places {
		own["place "+c.ID] = c.Qty
	}
	held := map[string]int{} // already in use, whatever the shop is said to own
	for _, jv := range v.w.jobs {
		for _, sv := range jv.steps {
			it, off := v.bench[sv], v.off[sv]
			if sv.state == job.InClamps {
				if off == nil {
					return fmt.Errorf("%s stays in the clamps", sv.name())
				}
				if off.From.Before(sv.ready) {
					return fmt.Errorf("%s comes out of the clamps %s, before %s", sv.name(), off.From, sv.ready)
				}
				hc := v.w.heldClamps(sv)
				take(sv, v.w.now, off.To, hc)
				for id, n := range hc {
					held["clamp "+id] += n
				}
				if sv.step.Place != "" {
					held["place "+sv.step.Place]++
				}
				continue
			}
			if it == nil {
				continue
			}
			begin, _ := v.start(sv)
			if sv.pressed {
				hc := v.w.heldClamps(sv)
				take(sv, v.w.now, it.To, hc)
				for id, n := range hc {
					held["clamp "+id] += n
				}
				continue
			}
			if sv.glue == nil || !sv.glue.clamped() {
				take(sv, begin, it.To, v.w.clampsOf(sv))
				continue
			}
			if off == nil {
				return fmt.Errorf("%s stays in the clamps", sv.name())
			}
			wait := v.w.air.air.Wait(sv.glue.k.Clamp, sv.glue.k.Lowest, it.To)
			if wait.Never || off.From.Before(wait.Ready) {
				return fmt.Errorf("%s comes out of the clamps %s, before %s", sv.name(), off.From, wait.Ready)
			}
			take(sv, begin, off.To, v.w.clampsOf(sv))
		}
	}
	for id, n := range held {
		own[id] = max(own[id], n)
	}
	sort.SliceStable(uses, func(i, k int) bool {
		if !uses[i].at.Equal(uses[k].at) {
			return uses[i].at.Before(uses[k].at)
		}
		return uses[i].qty < uses[k].qty
	})
	inUse := map[string]int{}
	for _, u := range uses {
		inUse[u.id] += u.qty
		if u.qty > 0 && inUse[u.id] > own[u.id] {
			return fmt.Errorf("%s takes more than there are: %d of %s in use at %s, of %d", u.name, inUse[u.id], u.id, u.at, own[u.id])
		}
	}
	return nil
}

// warm: no glue is spread where it is too cold for it, or faster than it can
// be closed.
func (v *verifier) warm() error {
	return v.each(func(sv *stepView) error {
		it := v.bench[sv]
		if it == nil || sv.glue == nil || it.Started {
			return nil
		}
		begin, _ := v.start(sv)
		for t := begin; t.Before(it.To); t = t.Add(time.Minute) {
			if at := v.w.air.air.At(t); at < sv.glue.k.Lowest {
				return fmt.Errorf("%s is spread at %s, below %s", sv.name(), at, sv.glue.k.Lowest)
			} else if s, c := handsFor(sv.step); sv.step.GlueUp.Spread > 0 && (!sv.glue.k.Open.None() && s > sv.glue.k.Open.At(at) ||
				!sv.glue.k.Total.None() && s+c > sv.glue.k.Total.At(at)) {
				return fmt.Errorf("%s takes %s to spread and %s to close, longer than the glue gives at %s", sv.name(), s, c, at)
			}
		}
		return nil
	})
}

// settings: every machine is set for a step as it wants, unless the step
// before it on that machine left it so.
func (v *verifier) settings() error {
	type turn struct {
		at time.Time
		sv *stepView
		u  use
		it *Item
	}
	var turns []turn
	if err := v.each(func(sv *stepView) error {
		if it := v.bench[sv]; it != nil {
			at, _ := v.start(sv)
			for _, u := range sv.uses {
				if sv.state == job.OnBench {
					u.settings = u.settings[len(u.settings)-1:]
				}
				turns = append(turns, turn{at, sv, u, it})
			}
		}
		return nil
	}); err != nil {
		return err
	}
	sort.SliceStable(turns, func(i, k int) bool { return turns[i].at.Before(turns[k].at) })
	left, need := map[string]setting{}, map[*Item]time.Duration{}
	for _, x := range turns {
		was, ok := left[x.u.machine]
		if !ok {
			was = v.w.leftAs(x.u.machine)
		}
		if was.key != x.u.first().key {
			need[x.it] += changeTime(v.w.shop, x.u.machine, was, x.u.first()).Duration()
		}
		left[x.u.machine] = x.u.last()
	}
	for _, x := range turns {
		if x.it.Change.Duration() != need[x.it] {
			return fmt.Errorf("%s has %s to set its machines and wants %s", x.sv.name(), x.it.Change, need[x.it])
		}
	}
	return nil
}

// lateWords says that a last moment is past or cannot be kept.
func lateWords(w *world, sv *stepView, l *job.Lag, last time.Time) string {
	s := fmt.Sprintf("%s: the last moment was %s (%s)", sv.name(), when(last.In(w.ax.loc), w.now), l.Src)
	if last.After(w.now) {
		s = fmt.Sprintf("%s: cannot be begun by %s (%s) in the hours there are", sv.name(), when(last.In(w.ax.loc), w.now), l.Src)
	}
	if sv.step.Finish {
		return s + "; sand before the next coat, as its label says"
	}
	return s + "; planned all the same: check whether it must be done over"
}
