package plan

import (
	"fmt"
	"slices"
	"time"

	"caul/job"
	"caul/job/measure"
)

// block says what keeps a step from being begun now, and until when if that is
// known.
func (v *nowView) block(sv *stepView) (by string, until time.Time) {
	w := v.w
	if sv.state == job.Aside {
		return "set aside", until
	}
	var waits []string
	for k := range sv.step.After {
		l := &sv.step.After[k]
		p := sv.jv.byID[l.Step]
		if p == nil || p.left && p.step.Optional {
			continue
		}
		at, known := p.moment(l.From)
		if !known {
			waits = append(waits, waitWords(p, l))
			continue
		}
		if p.open() && p.never(l.From) {
			waits = append(waits, p.name()+", where it is too cold for the glue to set")
			continue
		}
		ready := measure.MinuteUp(at.Add(l.Least.Duration())).In(w.ax.loc)
		if !ready.After(w.now) {
			if p.state == job.InClamps && l.From != job.FromBegun && l.From != job.FromClampsOn {
				waits = append(waits, p.name()+" to come out of the clamps")
			}
			continue
		}
		if l.Least > 0 && !at.After(w.now) {
			v.runs(sv, p, l, at, ready)
		}
		if by == "" || ready.After(until) {
			by, until = readyWords(p, l, whenNear(ready, w.now)), ready
		}
	}
	if len(waits) > 0 {
		return "waits for " + list(once(waits)), time.Time{} // two waits on one step are one name
	}
	if by != "" {
		return by, until
	}
	return v.short(sv)
}

// once is each word of a list, the first time it stands there.
func once(words []string) []string {
	var out []string
	for _, w := range words {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

func waitWords(p *stepView, l *job.Lag) string {
	switch {
	case p.left:
		return p.name() + ", which is set aside"
	case l.From == job.FromOff && p.glue != nil:
		return p.name() + " to come out of the clamps"
	case l.From == job.FromClampsOn && p.glue != nil:
		return p.name() + " to be in the clamps"
	case l.From == job.FromBegun:
		return p.name() + " to be begun"
	}
	return p.name()
}

func readyWords(p *stepView, l *job.Lag, at string) string {
	if l.Least > 0 {
		return fmt.Sprintf("%s after %s, %s", l.Least, p.name(), at)
	}
	if p.glue != nil {
		return fmt.Sprintf("%s may be machined from %s", p.name(), at)
	}
	return "from " + at
}

// runs adds the timer of a plain wait, once.
func (v *nowView) runs(sv, p *stepView, l *job.Lag, at, ready time.Time) {
	t := v.timer(sv, Wait, at, ready)
	t.Name = fmt.Sprintf("%s: %s after %s", sv.name(), l.Least, p.name())
	v.n.Timers = append(v.n.Timers, t)
}

// short says which clamps or place are in use, or that the air is wrong for
// the glue.
func (v *nowView) short(sv *stepView) (string, time.Time) {
	w := v.w
	if sv.glue != nil {
		if at := w.air.air.At(w.now); at < sv.glue.k.Lowest {
			return fmt.Sprintf("the air is %s, and %s must not be spread below %s", at.FormatIn(w.air.scale), sv.glue.k.Name, sv.glue.k.Lowest.FormatIn(w.air.scale)),
				v.warmAgain(sv)
		} else if !sv.glue.spreadAt(w.now) {
			return fmt.Sprintf("it takes %s to spread and close, and %s allows %s at %s", sv.step.GlueUp.Spread, sv.glue.k.Name, spreadMost(sv.glue.k, at), at.FormatIn(w.air.scale)), time.Time{}
		}
	}
	inUse := map[string]int{}
	places := map[string]int{}
	var back time.Time
	for _, jv := range w.jobs {
		for _, o := range jv.steps {
			if o.state != job.InClamps && !(o.state == job.OnBench && (o.pressed || o.glue != nil || len(o.step.Needs) > 0)) {
				continue
			}
			for id, n := range w.heldClamps(o) {
				inUse[id] += n
			}
			if o.step.Place != "" {
				places[o.step.Place]++
			}
			if o.state == job.InClamps && (back.IsZero() || o.ready.Before(back)) {
				back = o.ready
			}
		}
	}
	if !back.IsZero() {
		back = measure.MinuteUp(back).In(w.ax.loc)
	}
	for id, n := range sortedCounts(w.clampsOf(sv)) {
		own := 0
		if c := w.shop.ClampByID(id); c != nil {
			own = c.Qty
		}
		if n > own-inUse[id] {
			return fmt.Sprintf("takes %s, and %d of %d are free", countClamps(w.shop, n, id), max(own-inUse[id], 0), own), back
		}
	}
	if pl := sv.step.Place; pl != "" {
		if p := w.shop.PlaceByID(pl); p != nil && places[pl] >= p.Qty {
			return placeName(w.shop, pl) + " is taken", back
		}
	}
	return "", time.Time{}
}

// warmAgain is the next moment in shop hours at which the glue may be spread.
func (v *nowView) warmAgain(sv *stepView) time.Time {
	for _, s := range v.w.sessions {
		if !s.to.After(v.w.now) {
			continue
		}
		for t := measure.MinuteUp(later(s.from, v.w.now)); t.Before(s.to); t = t.Add(time.Minute) {
			if sv.glue.spreadAt(t) {
				return t.In(v.w.ax.loc)
			}
		}
		if s.from.Sub(v.w.now) > 7*24*time.Hour {
			break
		}
	}
	return time.Time{}
}
