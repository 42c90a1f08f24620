package plan

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"caul/job"
	"caul/job/glue"
)

// deed is one hands-on thing of the second opinion: a step, or taking the
// clamps off one.
type deed struct {
	j    *job.Job
	st   *job.Step
	off  bool
	work time.Duration
}

// opinion finds the earliest finish by trying every order of the maker's
// deeds, each begun as early as its waits, the hours and the clamps allow. With
// one maker and no last moments the order decides everything. It shares with
// the planner only the list of sessions and the glue's waits.
type opinion struct {
	sh    *job.Shop
	now   time.Time
	ss    []session
	air   *glue.Air
	deeds []deed
	waits map[string]time.Time
	best  time.Time
	used  []bool
	begun map[*job.Step]time.Time
	ended map[*job.Step]time.Time
	outAt map[*job.Step]time.Time
}

func upToMinute(t time.Time) time.Time {
	if r := t.Truncate(time.Minute); r.Before(t) {
		return r.Add(time.Minute)
	}
	return t
}

// ready is when the clamps may come off, or the joint may be machined.
func (o *opinion) ready(st *job.Step, cure bool) time.Time {
	on := o.ended[st]
	key := st.GlueUp.Glue + on.String()
	if cure {
		key += "cure"
	}
	if t, ok := o.waits[key]; ok {
		return t
	}
	k, _ := glue.Find(st.GlueUp.Glue)
	w := o.air.Wait(k.Clamp, k.Lowest, on)
	t := w.Ready
	if cure {
		if m := o.air.Wait(k.Machine, k.Lowest, on); m.Ready.After(t) {
			t = m.Ready
		}
	}
	t = upToMinute(t)
	o.waits[key] = t
	return t
}

// open gives the moment at which so many open minutes have passed since t.
func (o *opinion) open(t time.Time, d time.Duration) time.Time {
	for _, s := range o.ss {
		a := later(s.from, t)
		if d <= 0 {
			return t
		}
		if !a.Before(s.to) {
			continue
		}
		if s.to.Sub(a) >= d {
			return a.Add(d)
		}
		d -= s.to.Sub(a)
	}
	return time.Time{}
}

// begin is the earliest beginning of a deed in the hours from t on, and its
// end; warm tells for each minute whether its glue may be spread.
func (o *opinion) begin(d deed, t time.Time) (time.Time, time.Time, bool) {
	for _, s := range o.ss {
		a := later(s.from, t)
		if !a.Before(s.to) {
			continue
		}
		if d.st.Split && d.st.GlueUp == nil && !d.off {
			return a, o.open(a, d.work), true
		}
		for ; !a.Add(d.work).After(s.to); a = a.Add(time.Minute) {
			cold := false
			if d.st.GlueUp != nil && !d.off {
				k, _ := glue.Find(d.st.GlueUp.Glue)
				for m := a; m.Before(a.Add(d.work)); m = m.Add(time.Minute) {
					cold = cold || o.air.At(m) < k.Lowest
				}
			}
			if !cold {
				return a, a.Add(d.work), true
			}
		}
	}
	return time.Time{}, time.Time{}, false
}

// after is the earliest moment the waits of a step allow, and false while one
// of them is not known yet.
func (o *opinion) after(d deed) (time.Time, bool) {
	t := o.now
	if d.off {
		if _, ok := o.ended[d.st]; !ok {
			return t, false
		}
		return later(t, o.ready(d.st, false)), true
	}
	for _, l := range d.st.After {
		p := d.j.Step(l.Step)
		end, ok := o.ended[p]
		if !ok {
			return t, false
		}
		at := end
		switch {
		case l.From == job.FromBegun:
			at = o.begun[p]
		case p.GlueUp == nil || l.From == job.FromClampsOn:
		default:
			out, ok := o.outAt[p]
			if !ok {
				return t, false
			}
			at = out
			if l.From != job.FromOff {
				t = later(t, out)
				at = o.ready(p, true)
			}
		}
		t = later(t, at.Add(l.Least.Duration()))
	}
	return t, true
}

// try goes on with every deed that can come next.
func (o *opinion) try(n int, free time.Time, states map[string]string, clamps, table int) {
	if n == len(o.deeds) {
		fin := free
		for st := range o.ended {
			if st.GlueUp != nil {
				fin = later(fin, o.ready(st, true))
			}
		}
		if o.best.IsZero() || fin.Before(o.best) {
			o.best = fin
		}
		return
	}
	for i, d := range o.deeds {
		if o.used[i] {
			continue
		}
		t, ok := o.after(d)
		if !ok {
			continue
		}
		need, place := 0, 0
		if d.st.GlueUp != nil && !d.off {
			need = d.st.GlueUp.Clamps["bar"]
		}
		if d.st.Place != "" && !d.off {
			place = 1
		}
		if need > clamps || place > table {
			continue
		}
		was := states[d.st.Machine]
		since := free
		if d.st.Machine != "" && !d.off && was != d.st.State {
			m := o.sh.MachineByID(d.st.Machine)
			change := m.SetUp.Duration()
			if change == 0 {
				change = 10 * time.Minute
			}
			if since = o.open(since, change); since.IsZero() {
				continue
			}
		}
		a, e, ok := o.begin(d, later(t, since))
		if !ok || e.IsZero() || !o.best.IsZero() && !e.Before(o.best) {
			continue
		}
		o.used[i] = true
		next := states
		if d.st.Machine != "" && !d.off {
			next = map[string]string{}
			for k, v := range states {
				next[k] = v
			}
			next[d.st.Machine] = d.st.State
		}
		switch {
		case d.off:
			o.outAt[d.st] = e
			back := 0
			if d.st.Place != "" {
				back = 1
			}
			o.try(n+1, e, next, clamps+d.st.GlueUp.Clamps["bar"], table+back)
			delete(o.outAt, d.st)
		default:
			o.begun[d.st], o.ended[d.st] = a, e
			if d.st.GlueUp == nil {
				place = 0 // given back when it is done
			}
			o.try(n+1, e, next, clamps-need, table-place)
			delete(o.begun, d.st)
			delete(o.ended, d.st)
		}
		o.used[i] = false
	}
}

// Every proved finish of a small random shop is the one that trying all orders
// finds.
func TestSecondOpinion(t *testing.T) {
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		sh, now := randomShop(t)
		o := &opinion{sh: sh, air: profile(&sh.Air, sh.Zone), waits: map[string]time.Time{},
			begun: map[*job.Step]time.Time{}, ended: map[*job.Step]time.Time{}, outAt: map[*job.Step]time.Time{}}
		for _, j := range sh.Jobs {
			j.Due = time.Time{}
			for i := range j.Steps {
				st := &j.Steps[i]
				for k := range st.After {
					st.After[k].HasMost = false
				}
				o.deeds = append(o.deeds, deed{j, st, false, st.Takes.Duration()})
				if st.GlueUp != nil {
					o.deeds = append(o.deeds, deed{j, st, true, 5 * time.Minute})
				}
			}
		}
		if len(o.deeds) > 7 {
			t.Skip("too many orders")
		}
		p := makeRandom(t, sh, now)
		if p == nil || !p.Proved {
			return
		}
		o.now = upToMinute(now)
		o.ss = sessionsBetween(&sh.Hours, sh.Zone, now, now.AddDate(0, 2, 0))
		o.used = make([]bool, len(o.deeds))
		o.try(0, o.now, map[string]string{}, sh.Clamps[0].Qty, 1)
		compared++
		if !o.best.Equal(finishOf(p)) {
			t.Fatalf("trying every order it finishes %s, planned and proved is %s\n%s", o.best, finishOf(p), Text(p, 100, sh.Units))
		}
	})
	t.Logf("%d shops compared", compared)
	if compared == 0 {
		t.Error("nothing was compared")
	}
}
