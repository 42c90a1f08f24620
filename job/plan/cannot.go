package plan

import (
	"context"
	"fmt"
	"slices"
	"time"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
	"caul/job/schedule"
)

// obstacle is what rules a plan out, found without a search. It is far when a
// longer horizon might show hours that would do.
type obstacle struct {
	Infeasible
	far bool
}

func (o *obstacle) Error() string { return o.Infeasible.Error() }

// cannot looks for what no plan could ever satisfy, step by step, so that it
// can be said in the shop's own words.
func (w *world) cannot(t *task) *obstacle {
	if o := w.neverOpen(t); o != nil {
		return o
	}
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			i, ok := t.main[sv]
			if !ok || t.prob.Activities[i].Fixed != nil {
				continue
			}
			for _, look := range []func(*task, *stepView, int) *obstacle{w.tooManyClamps, w.tooLong, w.neverSets} {
				if o := look(t, sv, i); o != nil {
					o.Job, o.Step = jv.job.ID, sv.step.ID
					return o
				}
			}
		}
	}
	for k, l := range t.prob.Lags {
		if l.HasMax && t.notes[k].kind != lagNothing && !t.notes[k].past {
			if o := w.mostCloses(t, k); o != nil {
				return o
			}
		}
	}
	return nil
}

// neverOpen: there is work, and no shop hour ahead.
func (w *world) neverOpen(t *task) *obstacle {
	if len(t.prob.Calendars[t.hours].Windows) > 0 {
		return nil
	}
	for i, a := range t.acts {
		if a.role != roleNow && a.role != roleCured && t.prob.Activities[i].Fixed == nil {
			return &obstacle{far: true, Infeasible: Infeasible{
				Job: a.sv.jv.job.ID, Step: a.sv.step.ID, At: w.shop.Hours.At,
				What:   fmt.Sprintf("there is work left on %s, but the shop never opens after %s", a.sv.name(), when(w.now, w.now)),
				Change: "give a day hours, such as `sat: 9:00-12:00`, under `hours:` in shop.yaml",
			}}
		}
	}
	return nil
}

// tooManyClamps: a glue-up takes more clamps than there are.
func (w *world) tooManyClamps(t *task, sv *stepView, i int) *obstacle {
	for id, n := range sortedCounts(w.clampsOf(sv)) {
		r, ok := t.clampAt[id]
		if !ok {
			continue
		}
		if have := t.prob.Resources[r].Capacity; n > have {
			at := sv.step.At
			if sv.step.GlueUp != nil {
				at = sv.step.GlueUp.At
			}
			return &obstacle{Infeasible: Infeasible{
				At:     at,
				What:   fmt.Sprintf("%s takes %s at once, and the shop has %d", sv.name(), countClamps(w.shop, n, id), have),
				Change: fmt.Sprintf("%d more %s, or a glue-up in parts that takes %d at most", n-have, clampName(w.shop, n-have, id), have),
			}}
		}
	}
	return nil
}

// sortedCounts ranges over a map of counts in the order of its keys.
func sortedCounts(m map[string]int) func(yield func(string, int) bool) {
	return func(yield func(string, int) bool) {
		for _, k := range sortedKeys(m) {
			if !yield(k, m[k]) {
				return
			}
		}
	}
}

// tooLong: what may not be stopped fits no session, or the glue allows it in
// none.
func (w *world) tooLong(t *task, sv *stepView, i int) *obstacle {
	a := &t.prob.Activities[i]
	if a.Split {
		return nil
	}
	if nextFit(t.prob.Calendars[a.Calendar].Windows, 0, a.Work, false) >= 0 {
		return nil
	}
	plain := t.prob.Calendars[t.hours].Windows
	takes := measure.Span(a.Work) * measure.Minute
	if nextFit(plain, 0, a.Work, false) >= 0 {
		return w.wrongAir(t, sv, takes)
	}
	best := plain[0]
	for _, win := range plain {
		if win.Close-win.Open > best.Close-best.Open {
			best = win
		}
	}
	more := time.Duration(a.Work-(best.Close-best.Open)) * time.Minute
	st := w.stretch(best)
	change := fmt.Sprintf("keep the shop open %s longer on %s, until %s", spanWords(more), dayWords(st.From, w.now), whenNear(st.To.Add(more), st.From))
	if sv.glue != nil {
		change += ", or split the glue-up into parts that fit"
	} else {
		change += ", or write `split: true` if the step may be stopped and taken up again"
	}
	return &obstacle{far: w.moreLater(t), Infeasible: Infeasible{
		At: sv.step.At, Window: &st, Needs: takes, Change: change,
		What: fmt.Sprintf("%s takes %s in one go, and the longest session, %s to %s, is %s",
			sv.name(), takes, when(st.From, w.now), whenNear(st.To, st.From), spanWords(st.To.Sub(st.From))),
	}}
}

func (w *world) stretch(win schedule.Window) Stretch {
	return Stretch{w.ax.at(win.Open), w.ax.at(win.Close)}
}

// moreLater tells whether an exception beyond the horizon opens the shop.
func (w *world) moreLater(t *task) bool {
	for _, e := range w.shop.Hours.Except {
		if len(e.Windows) > 0 && e.Date.After(t.horizon) {
			return true
		}
	}
	return false
}

// wrongAir: the sessions are long enough, but in none of them is the air right
// for the glue.
func (w *world) wrongAir(t *task, sv *stepView, takes measure.Span) *obstacle {
	g := sv.glue
	warmest := measure.Temperature(-1 << 40)
	var at time.Time
	for _, win := range t.prob.Calendars[t.hours].Windows {
		for k := win.Open; k < win.Close; k += 15 {
			if x := g.a.air.At(w.ax.at(k)); x > warmest {
				warmest, at = x, w.ax.at(k)
			}
		}
	}
	in := g.up
	if warmest < g.k.Lowest {
		return &obstacle{Infeasible: Infeasible{
			At: in.At, Needs: takes,
			What: fmt.Sprintf("%s: %s must not be spread below %s, and in shop hours it is never above %s (%s)",
				sv.name(), g.k.Name, g.k.Lowest.FormatIn(g.a.scale), warmest.FormatIn(g.a.scale), when(at, w.now)),
			Change: g.orColder(fmt.Sprintf("heat the shop to %s while it is open and till the glue has set", g.k.Lowest.FormatIn(g.a.scale)), at, at.Add(takes.Duration())),
		}}
	}
	if total := spreadMost(g.k, warmest); in.Spread > total {
		n := (in.Spread + total - 1) / total
		change := fmt.Sprintf("split it into %d parts of %s each", n, measure.Span((int64(in.Spread)+int64(n)-1)/int64(n)))
		if s := slowerGlue(g.k, in.Spread, warmest); s != "" {
			change += ", or take " + s
		}
		return &obstacle{Infeasible: Infeasible{
			At: in.At, Needs: in.Spread, Change: change,
			What: fmt.Sprintf("%s takes %s to spread and close, and %s allows %s for it at %s",
				sv.name(), in.Spread, g.k.Name, total, warmest.FormatIn(g.a.scale)),
		}}
	}
	return &obstacle{Infeasible: Infeasible{
		At: in.At, Needs: takes,
		What: fmt.Sprintf("%s takes %s in one go, and in no session is the air right for %s for so long (at least %s)",
			sv.name(), takes, g.k.Name, g.k.Lowest.FormatIn(g.a.scale)),
		Change: fmt.Sprintf("heat the shop to %s for %s of a session", g.k.Lowest.FormatIn(g.a.scale), takes),
	}}
}

// slowerGlue names a glue at least as water-resistant that stays open for so
// long at a temperature.
func slowerGlue(k *glue.Kind, spread measure.Span, at measure.Temperature) string {
	for _, o := range glue.Kinds() {
		if o.ID != k.ID && glue.ClassRank(o.Class) >= glue.ClassRank(k.Class) && !o.Clamp.None() &&
			at >= o.Lowest && spreadMost(o, at) >= spread {
			return o.Name
		}
	}
	return ""
}

// neverSets: in the shop's air the glue would not set whenever it is spread.
func (w *world) neverSets(t *task, sv *stepView, i int) *obstacle {
	if sv.glue == nil {
		return nil
	}
	a := &t.prob.Activities[i]
	start := nextFit(t.prob.Calendars[a.Calendar].Windows, 0, a.Work, false)
	if start < 0 {
		return nil
	}
	on := w.ax.at(start + a.Work)
	if !sv.glue.cureWait(on).Never && !sv.glue.offWait(on).Never {
		return nil
	}
	return &obstacle{Infeasible: Infeasible{
		At: sv.step.GlueUp.At,
		What: fmt.Sprintf("%s: %s does not set in the shop's air, not in %d days: it wants %s or above, and the air is mostly below",
			sv.name(), sv.glue.k.Name, int64(glue.MaxWait/(24*measure.Hour)), sv.glue.k.Lowest.FormatIn(sv.glue.a.scale)),
		Change: sv.glue.orColder(fmt.Sprintf("keep the shop at %s or above", sv.glue.k.Lowest.FormatIn(sv.glue.a.scale)), w.ax.at(start), on),
	}}
}

// mostCloses: a step must follow another within a time, and whenever the first
// is done the shop is shut by then.
func (w *world) mostCloses(t *task, k int) *obstacle {
	l := t.prob.Lags[k]
	n := t.notes[k]
	from, to := &t.prob.Activities[l.From], &t.prob.Activities[l.To]
	if from.Fixed != nil || from.Calendar == schedule.Always && from.Stretch == nil {
		return nil
	}
	first := from // whose hours decide when the moment may be
	moment := func(start int64) int64 {
		if !l.FromEnd {
			return start
		}
		return w.endOf(t, first, start)
	}
	if from.Stretch != nil { // a cure, begun when the glue-up is clamped
		first = &t.prob.Activities[t.main[n.pred]]
		moment = func(start int64) int64 { return from.Stretch.At(w.endOf(t, first, start)) }
	}
	wins := t.prob.Calendars[to.Calendar].Windows
	leastMost, leastMore := int64(-1), int64(-1)
	var near, longer Stretch
	for _, win := range t.prob.Calendars[first.Calendar].Windows {
		for s := win.Open; s < win.Close; s++ {
			if !first.Split && s+first.Work > win.Close {
				break
			}
			m := moment(s)
			if m < 0 || m > t.prob.Horizon {
				break
			}
			x := nextFit(wins, m+l.Min, to.Work, to.Split)
			if x < 0 {
				continue
			}
			if x <= m+l.Max {
				return nil
			}
			if d := x - m; leastMost < 0 || d < leastMost {
				leastMost, near = d, Stretch{w.ax.at(m), w.ax.at(x)}
			}
			if own, in := windowAt(wins, m-1); in || win.Close >= m {
				if !in {
					own = win
				}
				if d := m + l.Min + to.Work - own.Close; d > 0 && (leastMore < 0 || d < leastMore) {
					leastMore, longer = d, w.stretch(own)
				}
			}
		}
	}
	if leastMost < 0 {
		return nil
	}
	succ := t.acts[l.To]
	at := n.src.At
	need := measure.Span(leastMost+n.shy) * measure.Minute
	what := fmt.Sprintf("%s must begin within %s of %s, and the shop is shut by then", s0(t, l.To), n.src.Most, momentWords(n))
	change := fmt.Sprintf("allow %s instead of %s", need, n.src.Most)
	if leastMore > 0 {
		more := time.Duration(leastMore) * time.Minute
		change += fmt.Sprintf(", or keep the shop open %s longer on %s, until %s", spanWords(more), dayWords(longer.From, w.now), whenNear(longer.To.Add(more), longer.From))
	}
	return &obstacle{far: w.moreLater(t), Infeasible: Infeasible{
		Job: succ.sv.jv.job.ID, Step: succ.sv.step.ID, At: at, Needs: need, Window: &near,
		What: what + fmt.Sprintf(": the nearest is %s, and then not before %s", when(near.From, w.now), whenNear(near.To, near.From)), Change: change,
	}}
}

// endOf is the end of an activity begun at a tick in its hours.
func (w *world) endOf(t *task, a *schedule.Activity, start int64) int64 {
	if !a.Split {
		return start + a.Work
	}
	left := a.Work
	for _, win := range t.prob.Calendars[a.Calendar].Windows {
		x := max(start, win.Open)
		if x >= win.Close {
			continue
		}
		if win.Close-x >= left {
			return x + left
		}
		left -= win.Close - x
	}
	return -1
}

// s0 is what an activity is called at the beginning of a sentence.
func s0(t *task, i int) string {
	a := t.acts[i]
	if a.role == roleScrape {
		return "scraping the squeeze-out of " + a.sv.name()
	}
	return a.sv.name()
}

func momentWords(n lagNote) string {
	p := n.pred.name()
	switch {
	case n.kind == lagScrape || n.src.From == job.FromClampsOn:
		return p + " going into the clamps"
	case n.src.From == job.FromOff:
		return p + " coming out of the clamps"
	case n.src.From == job.FromCured || n.pred.glue != nil && n.src.From == job.FromDone:
		return p + " being cured"
	case n.src.From == job.FromBegun:
		return "the beginning of " + p
	}
	return "the end of " + p
}

// triesBudget is the search's budget for each question asked to explain why
// there is no plan. A question it cannot settle counts as a no.
const triesBudget = 100_000

// mosts are the lags that set a last moment.
func (t *task) mosts() []int {
	var out []int
	for k, l := range t.prob.Lags {
		if l.HasMax && t.notes[k].kind != lagNothing {
			out = append(out, k)
		}
	}
	return out
}

// relaxed looks for a plan that keeps only some of the last moments, and gives
// its end.
func (t *task) relaxed(ctx context.Context, keep map[int]bool) (int64, bool) {
	p := t.prob
	p.Lags = append([]schedule.Lag(nil), t.prob.Lags...)
	for _, k := range t.mosts() {
		if !keep[k] {
			p.Lags[k].HasMax = false
		}
	}
	res, err := schedule.Solve(ctx, &p, schedule.Options{Work: triesBudget, Levels: 2})
	if err != nil {
		return 0, false
	}
	return res.Levels[schedule.Finish].Value, true
}

// explainNone finds which last moments together rule every plan out: those
// without which there would be one.
func (t *task) explainNone(ctx context.Context, none *schedule.InfeasibleError) error {
	keep := map[int]bool{}
	if _, ok := t.relaxed(ctx, keep); !ok {
		o := &Infeasible{
			At:     t.w.shop.Hours.At,
			What:   "the work left does not fit the shop's hours up to " + when(t.horizon, t.w.now),
			Change: "give the shop more hours, or set a job aside",
		}
		var names []string
		for _, a := range none.Activities {
			if sv := t.acts[a].sv; sv != nil && !slices.Contains(names, sv.name()) {
				names = append(names, sv.name())
			}
		}
		if len(names) > 0 {
			o.What += ": " + list(names) + " cannot be done by then"
		}
		if last, ahead := t.w.shop.LogAhead(t.w.now); ahead {
			o.Change = fmt.Sprintf("set this machine's clock: it says %s, and the log goes on to %s", t.w.now.Format("Mon 2 Jan 2006 15:04"), last.In(t.w.ax.loc).Format("Mon 2 Jan 2006 15:04"))
		}
		return o
	}
	// put them back one by one; the first that cannot go back is told
	out := -1
	for _, k := range t.mosts() {
		keep[k] = true
		if _, ok := t.relaxed(ctx, keep); !ok {
			delete(keep, k)
			if out < 0 {
				out = k
			}
		}
	}
	if out < 0 {
		return &Infeasible{At: t.w.shop.Hours.At, What: "the last moments asked for cannot all be kept: " + none.What, Change: "allow more time between steps"}
	}
	n := t.notes[out]
	a := t.acts[t.prob.Lags[out].To]
	inf := &Infeasible{Job: a.sv.jv.job.ID, Step: a.sv.step.ID, At: n.src.At,
		What: fmt.Sprintf("%s cannot begin within %s of %s together with all else that is asked for", s0(t, t.prob.Lags[out].To), n.src.Most, momentWords(n))}
	inf.Needs, inf.Change = t.leastMost(ctx, out, keep)
	return inf
}

// leastMost finds the smallest most of one lag with which there is a plan that
// keeps the others: to the minute below an hour, then to a quarter of an hour.
func (t *task) leastMost(ctx context.Context, k int, keep map[int]bool) (measure.Span, string) {
	try := func(most int64) bool {
		c := *t
		c.prob.Lags = append([]schedule.Lag(nil), t.prob.Lags...)
		c.prob.Lags[k].Max = most
		with := map[int]bool{k: true}
		for o := range keep {
			with[o] = true
		}
		_, ok := c.relaxed(ctx, with)
		return ok
	}
	was := t.prob.Lags[k].Max
	lo, hi := was, was+15 // lo has no plan
	for !try(hi) {
		if hi-was > 60*24*20 || ctx.Err() != nil {
			return 0, "loosen the time between these steps, or another that asks for a last moment"
		}
		lo, hi = hi, hi+2*(hi-was)
	}
	step := int64(1)
	if hi-was > 60 {
		step = 15
	}
	for hi-lo > step {
		if mid := lo + (hi-lo)/2; try(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	need := measure.Span(hi+t.notes[k].shy) * measure.Minute
	return need, fmt.Sprintf("allow %s instead of %s", need, t.notes[k].src.Most)
}
