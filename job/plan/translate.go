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
	hard    []string  // what is told of squeeze-out that cannot be scraped in time
	horizon time.Time
	states  [][]machineState // of each set-up of the problem
	hours   int              // index of the plain shop calendar
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
		t.activities(jv, dropPast)
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
