package plan

import (
	"fmt"
	"time"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
	"caul/job/schedule"
)

// airOfShop is the shop's air with its glues.
type airOfShop struct {
	shop  *job.Shop
	air   *glue.Air
	scale measure.Scale
	kinds map[string]*glue.Kind
	waits map[waitKey]glue.Wait
	lines map[lineKey]*schedule.Curve
}

// lineKey tells apart the curves that have been worked out.
type lineKey struct {
	glue    string
	cure    bool
	least   measure.Span
	horizon int64
}

// recall is how far back thermometer readings still matter: longer than any
// usual cure.
const recall = 21 * 24 * time.Hour

type waitKey struct {
	glue string
	cure bool
	on   int64
}

// newAir reads the shop's daily profile, and the thermometer readings of every
// job's log up to now.
func newAir(shop *job.Shop, now time.Time) (*airOfShop, error) {
	a := &airOfShop{shop: shop, scale: measure.Celsius, kinds: map[string]*glue.Kind{}, waits: map[waitKey]glue.Wait{}, lines: map[lineKey]*schedule.Curve{}}
	if shop.Units.Temp == "F" {
		a.scale = measure.Fahrenheit
	}
	a.air = profile(&shop.Air, shop.Zone)
	for _, j := range shop.Jobs {
		for _, e := range j.Counting() {
			if e.Air != nil && !e.Time.After(now) && now.Sub(e.Time) < recall {
				a.air.Readings = append(a.air.Readings, glue.Reading{At: e.Time, Temp: *e.Air})
			}
		}
	}
	if err := a.air.Check(); err != nil {
		return nil, fmt.Errorf("%s: the shop's air: %w", posWords(shop.Air.At), err)
	}
	return a, nil
}

// profile turns the temperatures by time of day into air: the coldest of them
// all day, and each warmer one in its hours.
func profile(sa *job.Air, loc *time.Location) *glue.Air {
	base := measure.InCelsius(20)
	for i, st := range sa.Steps {
		if i == 0 || st.Temp < base {
			base = st.Temp
		}
	}
	a := &glue.Air{Loc: loc, Night: base, Day: base}
	for i, st := range sa.Steps {
		if st.Temp == base {
			continue
		}
		next := sa.Steps[(i+1)%len(sa.Steps)].From
		a.Heated = append(a.Heated, glue.Heated{From: glue.Clock(st.From), To: glue.Clock(next), At: st.Temp})
	}
	return a
}

// kind is a glue by its generic type or by its id in glues.yaml, the label's
// figures in place of the handbook's.
func (a *airOfShop) kind(id string) (*glue.Kind, error) {
	if k, ok := a.kinds[id]; ok {
		return k, nil
	}
	k, ok := glue.Find(id)
	if l := a.shop.GlueByID(id); l != nil {
		var err error
		if k, err = labelled(l); err != nil {
			return nil, fmt.Errorf("%s: %w", posWords(l.At), err)
		}
	} else if !ok {
		return nil, fmt.Errorf("no glue is called %q", id)
	}
	a.kinds[id] = k
	return k, nil
}

// labelled puts what a label says in place of the figures of its generic type.
func labelled(l *job.GlueLabel) (*glue.Kind, error) {
	t := l.Type
	if t == "" {
		t = l.ID
	}
	k, ok := glue.Find(t)
	if !ok {
		return nil, fmt.Errorf("the glue %q starts from no known type: %q", l.ID, t)
	}
	k.ID = l.ID
	if l.Name != "" {
		k.Name = l.Name
	}
	src := measure.Source{Ref: "the label, " + posWords(l.At), Standing: measure.Read}
	at20 := func(s measure.Span) glue.Rate {
		return glue.Rate{Points: []glue.Point{{At: measure.InCelsius(20), Takes: s}}, Source: src}
	}
	points := func(ps []job.LabelPoint) glue.Rate {
		r := glue.Rate{Source: src}
		for _, p := range ps {
			r.Points = append(r.Points, glue.Point{At: p.Temp, Takes: p.Time})
		}
		return r
	}
	if l.Open > 0 {
		k.Open = at20(l.Open)
		if l.Closed == 0 && k.Total.At(measure.InCelsius(20)) < l.Open {
			k.Total = at20(l.Open)
		}
	}
	if l.Closed > 0 {
		k.Total = at20(k.Open.At(measure.InCelsius(20)) + l.Closed)
	}
	if len(l.Clamp) > 0 {
		k.Clamp = points(l.Clamp)
	}
	if len(l.Cure) > 0 {
		k.Machine = points(l.Cure)
	}
	if l.Lowest != nil {
		k.Lowest = *l.Lowest
	}
	for _, r := range []glue.Rate{k.Open, k.Total, k.Clamp, k.Machine} {
		if err := r.Check(); err != nil {
			return nil, fmt.Errorf("the glue %q: %w", l.ID, err)
		}
	}
	return k, nil
}

// gluing is one glue-up in the shop's air.
type gluing struct {
	a  *airOfShop
	up *job.GlueUp
	k  *glue.Kind
}

func (a *airOfShop) gluing(up *job.GlueUp) (*gluing, error) {
	k, err := a.kind(up.Glue)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", posWords(up.At), err)
	}
	return &gluing{a: a, up: up, k: k}, nil
}

func (g *gluing) name() string { return g.k.Name }

// key tells apart glue-ups with other hours in which they may be spread.
func (g *gluing) key() string { return fmt.Sprintf("%s %d", g.k.ID, g.up.Spread) }

// clamped tells whether the glue wants clamps at all.
func (g *gluing) clamped() bool { return !g.k.Clamp.None() }

// offWait is the wait from clamps on to clamps off.
func (g *gluing) offWait(on time.Time) glue.Wait { return g.wait(on, false) }

// cureWait is the wait from clamps on to machining. It is never shorter than
// the clamp time.
func (g *gluing) cureWait(on time.Time) glue.Wait { return g.wait(on, true) }

func (g *gluing) wait(on time.Time, cure bool) glue.Wait {
	key := waitKey{g.k.ID, cure, on.Unix()}
	w, ok := g.a.waits[key]
	if !ok {
		r := g.k.Clamp
		if cure {
			r = g.k.Machine
		}
		w = g.a.air.Wait(r, g.k.Lowest, on)
		g.a.waits[key] = w
	}
	return w
}

// never stands for a moment beyond every plan.
const never = 200 * 24 * time.Hour

func readyOf(w glue.Wait) time.Time {
	if w.Never {
		return w.Start.Add(never)
	}
	return w.Ready
}

// clampsOff is the first moment at which the clamps may come off.
func (g *gluing) clampsOff(on time.Time) time.Time { return readyOf(g.offWait(on)) }

// cured is the first moment at which the joint may be machined.
func (g *gluing) cured(on time.Time) time.Time {
	return later(readyOf(g.cureWait(on)), g.clampsOff(on))
}

// curve gives the wait for every minute the clamps may go on, with a further
// least time after it.
func (g *gluing) curve(ax axis, horizon int64, cure bool, least measure.Span) (*schedule.Curve, error) {
	key := lineKey{g.k.ID, cure, least, horizon}
	if c, ok := g.a.lines[key]; ok {
		return c, nil
	}
	rates := []glue.Rate{g.k.Clamp}
	if cure {
		rates = append(rates, g.k.Machine)
	}
	out := make([]int64, horizon+1)
	for _, r := range rates {
		for i, v := range g.a.air.Curve(r, g.k.Lowest, ax.origin, len(out)) {
			if v == glue.Never {
				v = int64(i) + int64(never/time.Minute)
			}
			out[i] = max(out[i], v)
		}
	}
	for i := range out {
		out[i] += least.Minutes()
		if i > 0 {
			out[i] = max(out[i], out[i-1])
		}
	}
	c, err := schedule.NewTableCurve(0, out)
	if err == nil {
		g.a.lines[key] = c
	}
	return c, err
}

// spreadable cuts a session to the minutes in which the air is warm enough for
// the glue and its assembly time long enough for the spreading.
func (g *gluing) spreadable(from, to time.Time) []Stretch {
	var out []Stretch
	for t := from; t.Before(to); t = t.Add(time.Minute) {
		if !g.spreadAt(t) {
			continue
		}
		if n := len(out); n > 0 && out[n-1].To.Equal(t) {
			out[n-1].To = t.Add(time.Minute)
		} else {
			out = append(out, Stretch{t, t.Add(time.Minute)})
		}
	}
	return out
}

func (g *gluing) spreadAt(t time.Time) bool {
	at := g.a.air.At(t)
	return at >= g.k.Lowest && (g.up.Spread <= 0 || g.up.Spread <= spreadMost(g.k, at))
}

// spreadMost is the longest a glue-up may take to spread and close at a
// temperature: under pressure within the total assembly time, and the share of
// it that is spreading within the open time.
func spreadMost(k *glue.Kind, at measure.Temperature) measure.Span {
	most := measure.MaxSpan
	if !k.Total.None() {
		most = k.Total.At(at)
	}
	if !k.Open.None() {
		most = min(most, k.Open.At(at)*(spreadShare+closeShare)/spreadShare)
	}
	return most
}

// airWords says how the air made a wait what it is.
func (g *gluing) airWords(on time.Time, cure bool) string {
	w := g.offWait(on)
	if cure {
		w = g.cureWait(on)
	}
	if w.Never {
		return w.Why(g.a.scale)
	}
	s := fmt.Sprintf("%s at a mean of %s; at a steady %s it is %s", spanWords(w.Ready.Sub(on)),
		w.Mean.FormatIn(g.a.scale), measure.InCelsius(20).FormatIn(g.a.scale), w.At20)
	if w.Still > 0 {
		s += fmt.Sprintf("; for %s of it the glue stands still, below %s", spanWords(w.Still.Duration()), g.k.Lowest.FormatIn(g.a.scale))
	}
	return s
}

// coldWords says why a glue could not be spread before a moment.
func (g *gluing) coldWords(until string) string {
	s := fmt.Sprintf("the air is below %s, the lowest for %s, until %s", g.k.Lowest.FormatIn(g.a.scale), g.k.Name, until)
	if g.up.Spread > 0 {
		s = fmt.Sprintf("before %s the air is too cold for %s (lowest %s) or too warm to spread and close in %s", until, g.k.Name, g.k.Lowest.FormatIn(g.a.scale), g.up.Spread)
	}
	return s
}

// clampsOf are the clamps a step takes.
func (w *world) clampsOf(sv *stepView) map[string]int {
	return clampsOfStep(w.shop, sv.jv.job, sv.step, sv.glue)
}

// clampsOfStep are the clamps a step takes: as the job says, or for `clamps:
// auto` as many of the shop's as the glue-up sheet lays out.
func clampsOfStep(shop *job.Shop, j *job.Job, st *job.Step, g *gluing) map[string]int {
	out := map[string]int{}
	for id, n := range st.Needs {
		out[id] += n
	}
	up := st.GlueUp
	if up == nil {
		return out
	}
	for id, n := range up.Clamps {
		out[id] += n
	}
	if up.Auto && g.clamped() {
		for id, n := range autoClamps(shop, j, up, g.k) {
			out[id] += n
		}
	}
	return out
}
