package plan

import (
	"fmt"
	"sort"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// nowView is the shop at one instant with what the answer to "what now" needs.
type nowView struct {
	w     *world
	n     *Now
	limit time.Duration // time the maker has, 0: no limit known
	chain map[string]bool
	depth map[string]int // open steps before a blocked one
	tails map[*stepView]int64
	most  int64 // the longest tail
}

// At answers what can be done at an instant in a span of time (0: what is left
// of the session): what runs by itself, what is on the bench, what can be begun
// in the order that helps the finish most, and what is blocked by what. It
// reads the log and the air and needs no search; a plan, when there is one,
// tells which steps bind the finish.
func At(shop *job.Shop, now time.Time, span measure.Span, p *Plan) (*Now, error) {
	w, err := newWorld(shop, now, nil)
	if err != nil {
		return nil, err
	}
	w.extend(dateOf(w.now).plus(30).minute(w.ax.loc, 0))
	n := &Now{shop: w.shop, At: w.now, For: span, Timers: []Timer{}, OnBench: []Choice{}, CanDo: []Choice{}, Blocked: []Blocked{}, Doubts: w.doubts}
	v := &nowView{w: w, n: n, limit: span.Duration(), chain: map[string]bool{}, depth: map[string]int{}, tails: map[*stepView]int64{}}
	if s, in := openAt(w.sessions, w.now); in {
		n.Open = true
		if v.limit == 0 {
			v.limit = s.to.Sub(w.now)
		}
	}
	if s, ok := nextOpen(w.sessions, w.now); ok {
		n.Next = s.from
	}
	if p != nil {
		for _, l := range p.Chain {
			if l.Item >= 0 && l.Item < len(p.Items) {
				v.chain[p.Items[l.Item].Job+"/"+p.Items[l.Item].Step] = true
			}
		}
		for _, j := range p.Jobs {
			n.Finish = later(n.Finish, j.Finish)
		}
		if len(p.Never) > 0 {
			n.Finish = time.Time{} // not while a glue stands still
		}
	}
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			v.most = max(v.most, v.tail(sv))
		}
	}
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			v.look(sv)
		}
		v.checks(jv)
	}
	v.sort()
	return n, nil
}

// look sorts one step into what runs, what is on the bench, what can be done
// and what is blocked.
func (v *nowView) look(sv *stepView) {
	switch sv.state {
	case job.Done:
		return
	case job.InClamps:
		v.inClamps(sv)
		return
	case job.Curing:
		t := v.timer(sv, Cure, firstKnown(sv.off, sv.on), sv.cured)
		t.Note, t.Never = sv.stillWords(v.w.now), sv.never(job.FromCured)
		v.n.Timers = append(v.n.Timers, t)
		return
	case job.OnBench:
		c := v.choice(sv, sv.name(), v.w.remaining(sv))
		v.fits(sv, &c)
		v.n.OnBench = append(v.n.OnBench, c)
		return
	}
	if by, until := v.block(sv); by != "" {
		v.depth[sv.jv.job.ID+"/"+sv.step.ID] = v.before(sv, map[*stepView]bool{})
		v.n.Blocked = append(v.n.Blocked, Blocked{Job: sv.jv.job.ID, Step: sv.step.ID, Name: sv.name(), By: by, Until: until})
		return
	}
	change := v.change(sv)
	c := v.choice(sv, sv.name(), sv.hands()+change)
	c.State = job.Ready
	c.SetUp = sv.setUpWords()
	c.Latest = v.latest(sv)
	v.fits(sv, &c)
	v.n.CanDo = append(v.n.CanDo, c)
}

func (v *nowView) timer(sv *stepView, k Kind, since, ready time.Time) Timer {
	return Timer{Job: sv.jv.job.ID, Step: sv.step.ID, Name: sv.name(), Kind: k, Since: since.In(v.w.ax.loc), Ready: measure.MinuteUp(ready).In(v.w.ax.loc)}
}

func (v *nowView) inClamps(sv *stepView) {
	t := v.timer(sv, Clamped, sv.on, sv.ready)
	t.Clamps, t.Place = v.w.heldClamps(sv), sv.step.Place
	if len(t.Clamps) == 0 {
		t.Clamps = nil
	}
	t.Note, t.Never = sv.stillWords(v.w.now), sv.never(job.FromOff)
	v.n.Timers = append(v.n.Timers, t)
	if !sv.ready.After(v.w.now) {
		c := v.choice(sv, "Clamps off: "+sv.name(), takenOff(t.Clamps))
		c.Why = "the clamps may come off since " + whenNear(t.Ready, v.w.now)
		c.Off = true
		c.Fits = v.limit == 0 || c.Takes.Duration() <= v.limit
		v.n.CanDo = append(v.n.CanDo, c)
	}
	if s := sv.step.GlueUp.Scrape; s != nil {
		from, to := sv.on.Add(s.Least.Duration()), sv.on.Add(s.Most.Duration())
		switch {
		case s.HasMost && to.Before(v.w.now):
		case from.After(v.w.now):
			w := v.timer(sv, Wait, sv.on, from)
			w.Name = "Scrape the squeeze-out: " + sv.name()
			v.n.Timers = append(v.n.Timers, w)
		default:
			c := v.choice(sv, "Scrape the squeeze-out: "+sv.name(), scraping)
			c.Fits = v.limit == 0 || c.Takes.Duration() <= v.limit
			if s.HasMost {
				c.Latest = to.In(v.w.ax.loc)
			}
			v.n.CanDo = append(v.n.CanDo, c)
		}
	}
}

// never tells that the air stays too cold for a joint that is closed: for the
// clamps to come off, or for the cure.
func (sv *stepView) never(from job.LagFrom) bool {
	if sv.glue == nil || sv.on.IsZero() {
		return false
	}
	switch from {
	case job.FromOff:
		return sv.glue.offWait(sv.on).Never
	case job.FromCured, job.FromDone:
		return sv.glue.offWait(sv.on).Never || sv.glue.cureWait(sv.on).Never
	}
	return false
}

// stillWords says that the glue stands still now, and until when.
func (sv *stepView) stillWords(now time.Time) string {
	if sv.glue == nil || sv.on.IsZero() {
		return ""
	}
	w := sv.glue.cureWait(sv.on)
	if w.Never {
		return fmt.Sprintf("too cold for the glue to set: warm the joint to %s or more", sv.glue.k.Lowest.FormatIn(sv.glue.a.scale))
	}
	for _, c := range w.Cold {
		if !now.Before(c.From) && now.Before(c.To) {
			return fmt.Sprintf("below %s until %s: the glue stands still", sv.glue.k.Lowest.FormatIn(sv.glue.a.scale), whenNear(c.To, now))
		}
	}
	return ""
}

func (v *nowView) choice(sv *stepView, name string, takes measure.Span) Choice {
	return Choice{
		Job: sv.jv.job.ID, Step: sv.step.ID, Name: name, State: sv.state, Takes: takes,
		Helps: v.helps(sv), Cautions: cautions(v.w.shop, sv),
	}
}

// helps tells whether the finish hangs on a step: it is in the chain of the
// plan, or without one it has the longest way to the finish before it.
func (v *nowView) helps(sv *stepView) bool {
	if len(v.chain) > 0 {
		return v.chain[sv.jv.job.ID+"/"+sv.step.ID]
	}
	return v.tails[sv] == v.most
}

// cautions are what stands beside a step: its machine's, the job's own, and
// before the glue is on, the glue's.
func cautions(shop *job.Shop, sv *stepView) []string {
	if sv.state == job.Waiting || sv.state == job.OnBench {
		return proof.StepCautions(shop, sv.jv.job, sv.step.ID)
	}
	return sv.jv.job.Cautions
}

// change is the time to set a step's machines up, as far as they are not so
// already.
func (v *nowView) change(sv *stepView) measure.Span {
	var sum measure.Span
	for _, u := range sv.uses {
		if was := v.w.leftAs(u.machine); was.key != u.first().key {
			sum += changeTime(v.w.shop, u.machine, was, u.first())
		}
	}
	return sum
}

// fits tells whether a step fits the time there is, and whether what must
// follow it soon can follow.
func (v *nowView) fits(sv *stepView, c *Choice) {
	c.Fits = v.limit == 0 || c.Takes.Duration() <= v.limit
	switch {
	case !c.Fits && sv.step.Split && sv.glue == nil && int64(v.limit/time.Minute) < v.w.leastSession():
		c.Why = fmt.Sprintf("%s are left, and it is not worth taking up for less than %s", spanWords(v.limit), measure.Span(v.w.leastSession())*measure.Minute)
	case !c.Fits && sv.step.Split && sv.glue == nil:
		c.Fits = true
		c.Why = "may be stopped and taken up again"
	case !c.Fits:
		c.Why = fmt.Sprintf("%s, and there are %s", c.Takes, spanWords(v.limit))
	}
	end := v.w.now.Add(c.Takes.Duration())
	for _, f := range followUps(sv) {
		if !f.lag.HasMost {
			continue
		}
		at := end
		if f.lag.From == job.FromBegun {
			at = v.w.now.Add(v.change(sv).Duration())
		}
		from, to := at.Add(f.lag.Least.Duration()), at.Add(f.lag.Most.Duration())
		if v.present(from, to, f.takes, f.split) {
			if f.lag.Most <= 4*measure.Hour {
				c.Why = joinWords(c.Why, fmt.Sprintf("%s to follow %s to %s", f.name, whenNear(from, v.w.now), whenNear(to, v.w.now)))
			}
			continue
		}
		c.Fits = false
		c.Why = joinWords(c.Why, fmt.Sprintf("%s would have to follow %s to %s, when the shop is shut", f.name, whenNear(from, v.w.now), whenNear(to, v.w.now)))
	}
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// followUp is what must follow a step within a time.
type followUp struct {
	name  string
	lag   *job.Lag
	takes measure.Span
	split bool
}

// followUps are the last moments that doing a step sets. Those that count from
// clamps off or from the cure leave room to choose, and are not among them.
func followUps(sv *stepView) []followUp {
	var out []followUp
	if sv.glue != nil && sv.step.GlueUp.Scrape != nil {
		out = append(out, followUp{"scraping the squeeze-out", sv.step.GlueUp.Scrape, scraping, false})
	}
	for _, o := range sv.jv.steps {
		if !o.open() {
			continue
		}
		for k := range o.step.After {
			l := &o.step.After[k]
			if l.Step != sv.step.ID || l.From == job.FromOff || l.From == job.FromCured || l.From == job.FromDone && sv.glue != nil {
				continue
			}
			out = append(out, followUp{o.name(), l, o.hands(), o.step.Split && o.glue == nil})
		}
	}
	return out
}

// present tells whether the maker is in the shop for something of so long that
// begins between two moments: in a session, or in the time said to be there.
func (v *nowView) present(from, to time.Time, takes measure.Span, split bool) bool {
	d := takes.Duration()
	if split {
		d = time.Minute
	}
	if v.n.For > 0 && !from.Add(d).After(v.w.now.Add(v.n.For.Duration())) {
		return true
	}
	for _, s := range v.w.sessions {
		x := later(s.from, from)
		if !x.After(to) && !x.Add(d).After(s.to) {
			return true
		}
	}
	return false
}

// latest is the last moment at which a step may be begun.
func (v *nowView) latest(sv *stepView) time.Time {
	var last time.Time
	for k := range sv.step.After {
		l := &sv.step.After[k]
		p := sv.jv.byID[l.Step]
		if p == nil || !l.HasMost {
			continue
		}
		if at, ok := p.moment(l.From); ok {
			if t := at.Add(l.Most.Duration()); last.IsZero() || t.Before(last) {
				last = t
			}
		}
	}
	if last.IsZero() {
		return last
	}
	return last.In(v.w.ax.loc)
}

// tail is the longest way from the beginning of a step to the end of its job,
// in minutes: hands-on time and waits, the shop's hours left out.
func (v *nowView) tail(sv *stepView) int64 {
	if n, ok := v.tails[sv]; ok {
		return n
	}
	v.tails[sv] = 0
	if !sv.open() {
		return 0
	}
	own := v.w.remaining(sv).Minutes()
	var off, cured int64
	if sv.glue != nil {
		now := v.w.now
		if sv.state == job.InClamps || sv.state == job.Curing {
			own = 0
			off, cured = left(sv.ready, now), left(sv.cured, now)
		} else {
			off, cured = left(sv.glue.clampsOff(now), now), left(sv.glue.cured(now), now)
		}
	}
	most := own + cured
	for _, o := range sv.jv.steps {
		for k := range o.step.After {
			l := &o.step.After[k]
			if l.Step != sv.step.ID || !o.open() {
				continue
			}
			gap := own
			switch {
			case l.From == job.FromBegun:
				gap = 0
			case l.From == job.FromOff:
				gap += off
			case sv.glue != nil && (l.From == job.FromCured || l.From == job.FromDone):
				gap += cured
			}
			most = max(most, gap+l.Least.Minutes()+v.tail(o))
		}
	}
	v.tails[sv] = most
	return most
}

func left(t, now time.Time) int64 {
	if !t.After(now) {
		return 0
	}
	return int64(t.Sub(now) / time.Minute)
}

// before counts the open steps that must come before a step.
func (v *nowView) before(sv *stepView, seen map[*stepView]bool) int {
	n := 0
	for k := range sv.step.After {
		p := sv.jv.byID[sv.step.After[k].Step]
		if p == nil || !p.open() || seen[p] {
			continue
		}
		seen[p] = true
		n += 1 + v.before(p, seen)
	}
	return n
}

// sort puts timers by when they are over, and choices in the order that helps
// most: what fits, what will not wait, what the finish hangs on, what has the
// longest way before it.
func (v *nowView) sort() {
	sort.SliceStable(v.n.Timers, func(i, k int) bool { return v.n.Timers[i].Ready.Before(v.n.Timers[k].Ready) })
	tail := map[string]int64{}
	for sv, n := range v.tails {
		tail[sv.jv.job.ID+"/"+sv.step.ID] = n
	}
	sort.SliceStable(v.n.Blocked, func(i, k int) bool {
		a, b := v.n.Blocked[i], v.n.Blocked[k]
		switch {
		case a.Until.IsZero() != b.Until.IsZero():
			return !a.Until.IsZero()
		case !a.Until.Equal(b.Until):
			return a.Until.Before(b.Until)
		}
		return v.depth[a.Job+"/"+a.Step] < v.depth[b.Job+"/"+b.Step]
	})
	soon := func(c Choice) bool { return !c.Latest.IsZero() && c.Latest.Sub(v.w.now) < 24*time.Hour }
	sort.SliceStable(v.n.CanDo, func(i, k int) bool {
		a, b := v.n.CanDo[i], v.n.CanDo[k]
		switch {
		case a.Fits != b.Fits:
			return a.Fits
		case soon(a) != soon(b):
			return soon(a)
		case soon(a) && !a.Latest.Equal(b.Latest):
			return a.Latest.Before(b.Latest)
		case a.Helps != b.Helps:
			return a.Helps
		}
		return tail[a.Job+"/"+a.Step] > tail[b.Job+"/"+b.Step]
	})
}
