package plan

import (
	"fmt"
	"slices"
	"time"

	"caul/job"
	"caul/job/measure"
)

// world is the shop as it is at one instant: the log read, the waits worked
// out.
type world struct {
	shop     *job.Shop
	now      time.Time
	ax       axis
	air      *airOfShop
	jobs     []*jobView
	doubts   []string
	sessions []session // from a while before now to the end of the horizon
}

// jobView is one job with the state of its steps.
type jobView struct {
	shop   *job.Shop
	job    *job.Job
	steps  []*stepView
	byID   map[string]*stepView
	picked bool // asked for; other jobs only hold their clamps
}

// stepView is one step and what the log says of it. Instants are zero when
// they are not known.
type stepView struct {
	jv    *jobView
	step  *job.Step
	log   job.StepState
	state job.State // with the waits applied: waiting and ready are told apart by canBegin
	glue  *gluing   // glue-ups only

	begun time.Time
	on    time.Time // clamps on
	ready time.Time // clamps may come off
	off   time.Time // clamps were taken off
	cured time.Time // may be machined
	done  time.Time

	uses  []use        // machine settings, in the order they are made
	inner measure.Span // for the settings made within the step, after the first

	pressed bool // clamps on, without glue
	left    bool // set aside, or waiting for a step that is: not in the plan
}

func (sv *stepView) name() string {
	if sv.step.Name != "" {
		return sv.step.Name
	}
	return sv.step.ID
}

// open tells whether the step is still to be planned.
func (sv *stepView) open() bool { return sv.state != job.Done && !sv.left }

// newWorld reads the log of every job at now.
func newWorld(shop *job.Shop, now time.Time, pick []string) (*world, error) {
	w := &world{shop: shop, now: now, ax: newAxis(now, shop.Zone)}
	w.now = now.In(w.ax.loc)
	air, err := newAir(shop, w.now)
	if err != nil {
		return nil, err
	}
	w.air = air
	want := map[string]bool{}
	for _, id := range pick {
		want[id] = true
	}
	for _, j := range shop.Jobs {
		jv := &jobView{shop: shop, job: j, byID: map[string]*stepView{}, picked: len(pick) == 0 || want[j.ID]}
		delete(want, j.ID)
		if err := w.readJob(jv); err != nil {
			return nil, err
		}
		w.jobs = append(w.jobs, jv)
	}
	for _, id := range pick {
		if want[id] {
			return nil, fmt.Errorf("no job is called %q", id)
		}
	}
	return w, nil
}

// readJob turns the folded log into instants.
func (w *world) readJob(jv *jobView) error {
	states, _ := jv.job.States()
	doubts := jv.job.Doubts(w.now)
	for _, d := range w.shop.Strangers(jv.job) {
		if !slices.Contains(doubts, d) {
			doubts = append(doubts, d)
		}
	}
	for _, d := range doubts {
		s := d.Text
		if p := posWords(d.Entry); p != "" {
			s = p + ": " + s
		}
		if d.Hint != "" {
			s += " (" + d.Hint + ")"
		}
		w.doubts = append(w.doubts, s)
	}
	uses := usesOf(w.shop, jv.job)
	for i := range jv.job.Steps {
		st := &jv.job.Steps[i]
		sv := &stepView{jv: jv, step: st, log: states[st.ID], uses: uses[st.ID]}
		sv.inner = within(w.shop, sv.uses)
		if st.GlueUp != nil {
			g, err := w.air.gluing(st.GlueUp)
			if err != nil {
				return err
			}
			sv.glue = g
		}
		w.readStep(sv)
		jv.steps = append(jv.steps, sv)
		jv.byID[st.ID] = sv
	}
	w.leaveOut(jv)
	return nil
}

// readStep works out the instants of one step and its state now.
func (w *world) readStep(sv *stepView) {
	l := sv.log
	sv.state = l.State
	sv.begun, sv.on, sv.off, sv.done = l.Begun, l.Clamped, l.Unclamped, l.Finished
	if sv.state == "" {
		sv.state = job.Waiting
	}
	if sv.glue == nil {
		if sv.state == job.InClamps {
			sv.state, sv.pressed = job.OnBench, true // clamps without glue: it is still being worked on
		}
		if sv.state == job.Done {
			sv.off, sv.on = firstKnown(sv.off, sv.done), firstKnown(sv.on, sv.begun, sv.done)
			sv.begun = firstKnown(sv.begun, sv.on)
			sv.cured = sv.done
		}
		return
	}
	switch sv.state {
	case job.Done:
		if !sv.on.IsZero() && sv.glue.cured(sv.on).After(later(w.now, sv.done)) {
			// called finished, but the glue goes by its own clock
			sv.off = firstKnown(sv.off, sv.done)
			sv.ready, sv.cured = sv.glue.clampsOff(sv.on), sv.glue.cured(sv.on)
			sv.begun = firstKnown(sv.begun, sv.on)
			sv.state, sv.done = job.Curing, time.Time{}
			return
		}
		sv.on = firstKnown(sv.on, sv.done)
		sv.off = firstKnown(sv.off, sv.done)
		sv.begun = firstKnown(sv.begun, sv.on)
		sv.ready, sv.cured = sv.off, sv.done
		if c := sv.glue.cured(sv.on); c.After(sv.cured) && sv.log.Clamped.Equal(sv.on) {
			sv.cured = c
		}
	case job.InClamps, job.Curing:
		sv.begun = firstKnown(sv.begun, sv.on)
		sv.ready = sv.glue.clampsOff(sv.on)
		sv.cured = sv.glue.cured(sv.on)
		if sv.state == job.InClamps && !sv.glue.clamped() {
			sv.state, sv.off = job.Curing, sv.on
		}
		if sv.state == job.Curing && !sv.cured.After(w.now) {
			sv.state = job.Done
			sv.done = sv.cured
		}
	}
}

func firstKnown(ts ...time.Time) time.Time {
	for _, t := range ts {
		if !t.IsZero() {
			return t
		}
	}
	return time.Time{}
}

// leaveOut finds the steps that are set aside and all that wait for them. An
// optional step that is set aside holds nothing up.
func (w *world) leaveOut(jv *jobView) {
	for changed := true; changed; {
		changed = false
		for _, sv := range jv.steps {
			if sv.left || sv.state == job.Done {
				continue
			}
			leave := sv.state == job.Aside
			for _, l := range sv.step.After {
				if p := jv.byID[l.Step]; p != nil && p.left && !p.step.Optional {
					leave = true
				}
			}
			if leave {
				sv.left, changed = true, true
			}
		}
	}
}

// moment gives the instant of a moment of a step when it has happened or is
// certain from the log alone.
func (sv *stepView) moment(from job.LagFrom) (time.Time, bool) {
	var t time.Time
	switch from {
	case job.FromBegun:
		t = sv.begun
	case job.FromClampsOn:
		t = sv.on
		if sv.glue == nil {
			t = sv.begun
		}
	case job.FromOff:
		t = sv.off
		if sv.glue == nil {
			t = sv.done
		}
	case job.FromCured:
		t = sv.cured
	default:
		t = sv.done
		if sv.glue != nil {
			t = sv.cured
		}
	}
	return t, !t.IsZero()
}

// remaining is the hands-on time a step still needs: all of it, or what is
// left of a step on the bench after the shop minutes since it was begun.
func (w *world) remaining(sv *stepView) measure.Span {
	takes := sv.hands()
	if sv.state != job.OnBench || sv.begun.IsZero() || sv.begun.After(w.now) { // dated by a clock that is ahead
		return takes
	}
	from := sv.begun
	spent := openMinutes(w.sessions, from, w.now)
	if _, in := openAt(w.sessions, from); !in {
		// begun outside the hours: the maker was there all the same
		until := w.now
		if n, ok := nextOpen(w.sessions, from); ok {
			until = earlier(until, n.from)
		}
		until = earlier(until, from.Add(takes.Duration()))
		spent += int64(until.Sub(from) / time.Minute)
	}
	rest := takes - measure.Span(spent)*measure.Minute
	return max(rest, leastRest)
}

// leastRest is what a step on the bench is still given when its time is up.
const leastRest = 5 * measure.Minute

// takenOff is the hands-on time to take clamps off and clear up: common
// practice, no source.
func takenOff(clamps map[string]int) measure.Span {
	n := 0
	for _, q := range clamps {
		n += q
	}
	return measure.Span(max(5, (n+1)/2)) * measure.Minute
}

// scraping is the hands-on time to scrape squeeze-out: common practice, no
// source.
const scraping = 10 * measure.Minute

// deadline is the last instant of a job's due date.
func deadline(j *job.Job, loc *time.Location) time.Time {
	if j.Due.IsZero() {
		return time.Time{}
	}
	return dateOf(j.Due.In(loc)).plus(1).minute(loc, 0)
}
