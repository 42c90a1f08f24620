package plan

import (
	"encoding/json"
	"fmt"
	"time"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
)

// Never is a joint that is closed and whose glue does not set: the air stays
// below the lowest temperature at which it works. Nothing that waits for it has
// a time.
type Never struct {
	Job    string              `json:"job"`
	Step   string              `json:"step"`
	Name   string              `json:"name"`
	Glue   string              `json:"glue"`
	Lowest measure.Temperature `json:"lowest"` // the least at which the glue sets
	What   string              `json:"what"`   // in a sentence
	Change string              `json:"change"` // the smallest change that would do
}

// foresee takes out of a plan what hangs on a joint that never sets. Inside the
// search such a joint is over a time beyond every plan (see never), so that the
// rest can be planned round it; that time means nothing and is not told. The
// wait itself stays, open at its end.
func (p *Plan) foresee(w *world) {
	var cut time.Time
	for _, it := range p.Items {
		if it.Never && (cut.IsZero() || it.Earliest.Before(cut)) {
			cut = it.Earliest
		}
	}
	if cut.IsZero() {
		return
	}
	end := p.Now
	for _, it := range p.Items {
		if !it.Never && it.From.Before(cut) {
			end = later(end, it.To)
		}
	}
	end = later(end, dateOf(p.Now).plus(1).minute(w.ax.loc, 0))
	stuck := map[string]bool{}
	var items []Item
	for _, it := range p.Items {
		if it.Never || !it.From.Before(cut) {
			stuck[it.Job] = true
		}
		if !it.From.Before(cut) {
			continue
		}
		if it.Never {
			it.To, it.Earliest = end, time.Time{}
		}
		items = append(items, it)
	}
	p.Items = items
	for i := range p.Jobs {
		if j := &p.Jobs[i]; stuck[j.Job] {
			j.Never, j.Finish, j.Late = true, time.Time{}, 0
		}
	}
	p.Proved, p.Earliest, p.Within, p.SetUps, p.Until = false, time.Time{}, 0, 0, earlier(p.Until, end)
	for _, it := range p.Items {
		for _, m := range it.Settings {
			if !m.Kept {
				p.SetUps++
			}
		}
	}
	days := p.Days
	p.Days = []Day{}
	for _, d := range days {
		if !d.Date.After(end) {
			p.Days = append(p.Days, d)
		}
	}
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			if (sv.state == job.InClamps || sv.state == job.Curing) && sv.never(job.FromCured) {
				p.Never = append(p.Never, sv.neverSet())
			}
		}
	}
}

// MarshalJSON leaves out the moment at which a timer is ready where the glue
// does not set: it is a time beyond every plan and means nothing.
func (t Timer) MarshalJSON() ([]byte, error) {
	type plain Timer
	p := struct {
		plain
		Ready time.Time `json:"ready,omitzero"`
	}{plain(t), t.Ready}
	if t.Never {
		p.Ready = time.Time{}
	}
	return json.Marshal(p)
}

// neverSet says of a closed joint that its glue does not set, and what would
// make it: the warmth of the shop's own heater where that is enough, else the
// glue's lowest temperature.
func (sv *stepView) neverSet() Never {
	g := sv.glue
	sc := g.a.scale
	n := Never{Job: sv.jv.job.ID, Step: sv.step.ID, Name: sv.name(), Glue: g.k.Name, Lowest: g.k.Lowest,
		What: fmt.Sprintf("%s: %s sets at %s or above, and the shop's air stays below it: the joint does not set, and what waits for it has no time",
			sv.name(), g.k.Name, g.k.Lowest.FormatIn(sc))}
	at := g.k.Lowest
	how := fmt.Sprintf("warm the joint to %s or more and keep it so", at.FormatIn(sc))
	if warm, ok := g.a.heated(); ok && warm >= at {
		at = warm
		how = fmt.Sprintf("leave the heater on at night (%s)", warm.FormatIn(sc))
	}
	r := g.k.Machine
	if r.None() {
		r = g.k.Clamp
	}
	n.Change = fmt.Sprintf("%s: at %s it may be machined %s after the clamps went on; then write the air down with `caul air`, or correct `air:` in shop.yaml",
		how, at.FormatIn(sc), r.At(at).MinutesUp())
	if sv.state == job.InClamps {
		n.Change += "; till then leave the clamps on"
	}
	return n
}

// heated is the warmest the shop's air is in a day, where it is not always the
// same.
func (a *airOfShop) heated() (measure.Temperature, bool) {
	steps := a.shop.Air.Steps
	if len(steps) < 2 {
		return 0, false
	}
	warm := steps[0].Temp
	for _, st := range steps {
		warm = max(warm, st.Temp)
	}
	return warm, true
}

// colderGlue names a glue, at least as water-resistant and clamped like the
// first, that may be spread at an instant and sets in the shop's air after it;
// "" where none does.
func (g *gluing) colderGlue(spread, on time.Time) string {
	for _, o := range glue.Kinds() {
		if o.ID == g.k.ID || glue.ClassRank(o.Class) < glue.ClassRank(g.k.Class) || o.Clamp.None() != g.k.Clamp.None() ||
			g.a.air.At(spread) < o.Lowest || g.up.Spread > spreadMost(o, g.a.air.At(spread)) {
			continue
		}
		if g.a.air.Wait(o.Machine, o.Lowest, on).Never || g.a.air.Wait(o.Clamp, o.Lowest, on).Never {
			continue
		}
		return fmt.Sprintf("%s (%s or above)", o.Name, o.Lowest.FormatIn(g.a.scale))
	}
	return ""
}

// orColder adds the other glue to a change, where there is one.
func (g *gluing) orColder(change string, spread, on time.Time) string {
	if o := g.colderGlue(spread, on); o != "" {
		return change + ", or take " + o
	}
	return change + "; no other glue of its class or above sets in this air"
}
