package plan

import (
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/schedule"
)

// role says what an activity of the scheduling problem is in the shop.
type role int

const (
	roleNow    role = iota // the present: holds what is in clamps already
	roleStep               // a step, or the rest of one
	roleOff                // taking the clamps off
	roleScrape             // scraping the squeeze-out
	roleCured              // the cure that nothing else waits for
)

// act is what an activity of the problem stands for.
type act struct {
	role role
	sv   *stepView
}

// lagKind says why one activity waits for another.
type lagKind int

const (
	lagAfter   lagKind = iota // a step's own after:
	lagClamps                 // clamp time
	lagScrape                 // scrape window
	lagCure                   // the end of the cure
	lagOut                    // the clamps have to be off
	lagNothing                // bookkeeping
)

// lagNote is what a lag of the problem stands for.
type lagNote struct {
	kind lagKind
	src  *job.Lag  // the lag as written, for lagAfter
	pred *stepView // the step waited for
	past bool      // counted from an instant of the log
	most bool      // it sets a latest moment
	// shy is by how much the problem's Max is less than the most as written:
	// a minute where the moment itself was rounded up to one.
	shy int64
}

// task is the scheduling problem with its way back to the shop.
type task struct {
	w       *world
	prob    schedule.Problem
	acts    []act
	notes   []lagNote
	main    map[*stepView]int
	off     map[*stepView]int
	scrape  map[*stepView]int
	clampID []string // clamp kind of each resource, "" for the maker and places
	clampAt map[string]int
	placeAt map[string]int
	late    []lateLag // last moments from the log that are no longer asked for
	horizon time.Time
	hours   int // index of the plain shop calendar
	cals    map[string]int
	err     error // the first failure
}

// lateLag is a last moment that is past, or that cannot be kept.
type lateLag struct {
	act  int
	sv   *stepView
	lag  *job.Lag
	last time.Time
}

const (
	maker   = 0 // resource index
	present = 0 // activity index
)

// translate builds the scheduling problem for the picked jobs up to a horizon.
// With dropPast, most-lags that count from what has already happened are left
// out.
func (w *world) translate(days int, dropPast bool) (*task, error) {
	t := &task{
		w: w, main: map[*stepView]int{}, off: map[*stepView]int{}, scrape: map[*stepView]int{},
		clampAt: map[string]int{}, placeAt: map[string]int{}, cals: map[string]int{},
	}
	t.horizon = dateOf(w.now).plus(days).minute(w.ax.loc, 0)
	t.prob.Horizon = w.ax.ceil(t.horizon)
	w.extend(t.horizon)
	t.resources()
	t.hours = t.calendar("shop", t.windows(nil, 0))
	zero := int64(0)
	t.add(act{role: roleNow}, schedule.Activity{Name: "now", Calendar: schedule.Always, Fixed: &zero, FixedEnd: &zero})
	for _, jv := range w.jobs {
		t.activities(jv)
	}
	for _, jv := range w.jobs {
		if jv.picked {
			t.lags(jv, dropPast)
		}
	}
	t.setups()
	t.projects()
	return t, t.err
}

// curve is the wait of a glue-up for every minute of the horizon.
func (t *task) curve(sv *stepView, cure bool, least measure.Span) *schedule.Curve {
	c, err := sv.glue.curve(t.w.ax, t.prob.Horizon, cure, least)
	if err != nil && t.err == nil {
		t.err = err
	}
	return c
}

// extend lists the shop's sessions up to a horizon, from long enough before
// now to count what a step on the bench has had.
func (w *world) extend(to time.Time) {
	w.sessions = sessionsBetween(&w.shop.Hours, w.ax.loc, w.now.AddDate(0, 0, -60), to)
}

func (t *task) resources() {
	add := func(name, clamp string, n int) int {
		t.prob.Resources = append(t.prob.Resources, schedule.Resource{Name: name, Capacity: n})
		t.clampID = append(t.clampID, clamp)
		return len(t.prob.Resources) - 1
	}
	add("the maker", "", 1)
	for _, c := range t.w.shop.Clamps {
		t.clampAt[c.ID] = add(c.ID, c.ID, c.Qty)
	}
	for _, p := range t.w.shop.Places {
		t.placeAt[p.ID] = add(p.ID, "", p.Qty)
	}
}

// windows are the shop's sessions as ticks; with a glue, only the hours in
// which its air lets it be spread for so long.
func (t *task) windows(g *gluing, takes measure.Span) []schedule.Window {
	var out []schedule.Window
	for _, s := range t.w.sessions {
		if !s.to.After(t.w.now) {
			continue
		}
		parts := []Stretch{{s.from, s.to}}
		if g != nil {
			parts = g.spreadable(s.from, s.to)
		}
		for _, p := range parts {
			a, b := max(t.w.ax.ceil(p.From), 0), min(t.w.ax.floor(p.To), t.prob.Horizon)
			if a < b {
				out = append(out, schedule.Window{Open: a, Close: b})
			}
		}
	}
	return out
}

func (t *task) calendar(name string, ws []schedule.Window) int {
	t.prob.Calendars = append(t.prob.Calendars, schedule.Calendar{Name: name, Windows: ws})
	return len(t.prob.Calendars) - 1
}

// glueCalendar is the calendar of a glue-up: the hours in which the shop is
// warm enough for its glue and its open time long enough for the spreading.
// Where that is always so it is the shop's own.
func (t *task) glueCalendar(sv *stepView) int {
	key := sv.glue.key()
	if c, ok := t.cals[key]; ok {
		return c
	}
	ws := t.windows(sv.glue, sv.step.Takes)
	c := t.hours
	if !sameWindows(ws, t.prob.Calendars[t.hours].Windows) {
		c = t.calendar("shop hours for "+sv.glue.name(), ws)
	}
	t.cals[key] = c
	return c
}

func sameWindows(a, b []schedule.Window) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

func (t *task) add(a act, sa schedule.Activity) int {
	t.acts = append(t.acts, a)
	t.prob.Activities = append(t.prob.Activities, sa)
	return len(t.acts) - 1
}

func (t *task) lag(l schedule.Lag, n lagNote) {
	t.prob.Lags = append(t.prob.Lags, l)
	t.notes = append(t.notes, n)
}

// held are the clamps and the place of a glue-up as resources.
func (t *task) held(clamps map[string]int, place string) []schedule.Need {
	var out []schedule.Need
	for _, id := range sortedKeys(clamps) {
		if r, ok := t.clampAt[id]; ok && clamps[id] > 0 {
			out = append(out, schedule.Need{Resource: r, Qty: clamps[id]})
		}
	}
	if r, ok := t.placeAt[place]; ok {
		out = append(out, schedule.Need{Resource: r, Qty: 1})
	}
	return out
}

// activities makes the activities of one job. A job that is not asked for
// gives only its clamps back.
func (t *task) activities(jv *jobView) {
	for _, sv := range jv.steps {
		if sv.state == job.InClamps {
			t.inClamps(sv)
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
func (t *task) inClamps(sv *stepView) {
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
		if last.After(t.w.now) {
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
