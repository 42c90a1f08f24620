package plan

import (
	"cmp"
	"fmt"
	"sort"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/schedule"
)

// cause is one reason why an activity does not begin earlier.
type cause struct {
	ready int64 // from this tick on it no longer stands in the way
	start int64 // the first start in the activity's hours from then on
	pred  int   // activity that must be over, or present
	lag   int   // lag it comes from, or -1
	res   int   // resource it comes from, or -1
}

// causes lists what stands in the way of an activity, the most binding first.
func (s *solved) causes(i int) []cause {
	t := s.t
	var out []cause
	if t.prob.Activities[i].Fixed != nil {
		return nil
	}
	change := s.changeTicks(i)
	add := func(c cause) {
		c.start = s.nextStart(i, c.ready)
		if c.start >= 0 && c.start <= s.res.Start[i] {
			out = append(out, c)
		}
	}
	for k, l := range t.prob.Lags {
		if l.To != i || t.notes[k].kind == lagNothing && l.From == present {
			continue
		}
		from := s.moment(l.From, l.FromEnd)
		ready := from + l.Min
		if l.Curve != nil {
			ready = l.Curve.At(from)
		}
		add(cause{ready: ready, pred: l.From, lag: k, res: -1})
	}
	for k := range t.prob.Resources {
		r := (k + 1) % len(t.prob.Resources) // the maker last
		if ready, pred, ok := s.held(i, r); ok {
			if r == maker {
				ready = s.openAfter(ready, change)
			}
			add(cause{ready: ready, pred: pred, lag: -1, res: r})
		}
	}
	if len(out) == 0 {
		add(cause{ready: s.openAfter(0, change), pred: present, lag: -1, res: -1})
	}
	// the latest start first, then the latest moment, then the order above
	for a := 1; a < len(out); a++ {
		for b := a; b > 0 && (out[b].start > out[b-1].start || out[b].start == out[b-1].start && out[b].ready > out[b-1].ready); b-- {
			out[b], out[b-1] = out[b-1], out[b]
		}
	}
	return out
}

// changeTicks is the set-up time right before an activity.
func (s *solved) changeTicks(i int) int64 {
	var n int64
	for _, c := range s.res.Changes {
		if c.Activity == i {
			n += s.t.prob.Setups[c.Setup].Change[c.From][c.To]
		}
	}
	return n
}

// openAfter is the first tick at which so many open minutes have passed since
// a tick.
func (s *solved) openAfter(from, work int64) int64 {
	if work <= 0 {
		return from
	}
	for _, w := range s.t.prob.Calendars[s.t.hours].Windows {
		a := max(from, w.Open)
		if a >= w.Close {
			continue
		}
		if w.Close-a >= work {
			return a + work
		}
		work -= w.Close - a
	}
	return from
}

// nextStart is the first start from a tick on that the activity's own hours
// allow, or -1.
func (s *solved) nextStart(i int, from int64) int64 {
	a := &s.t.prob.Activities[i]
	if a.Calendar == schedule.Always {
		return from
	}
	return nextFit(s.t.prob.Calendars[a.Calendar].Windows, from, a.Work, a.Split)
}

// nextFit is the first start from a tick on at which work fits the windows, or
// -1.
func nextFit(ws []schedule.Window, from, work int64, split bool) int64 {
	k := sort.Search(len(ws), func(i int) bool { return ws[i].Close > from })
	for _, w := range ws[k:] {
		x := max(from, w.Open)
		if split && x < w.Close || !split && x+work <= w.Close {
			return x
		}
	}
	return -1
}

// held finds the last moment before an activity's start at which a resource it
// takes was short, and who gave it back then.
func (s *solved) held(i, r int) (ready int64, pred int, ok bool) {
	t := s.t
	want := 0
	for _, n := range t.prob.Activities[i].Needs {
		if n.Resource == r {
			want += n.Qty
		}
	}
	for _, h := range t.prob.Activities[i].Holds {
		if h.Resource == r {
			want += h.Qty
		}
	}
	if want == 0 {
		return 0, 0, false
	}
	type stay struct {
		from, to int64
		qty, by  int
	}
	var stays []stay
	for k := range t.prob.Activities {
		if k == i {
			continue
		}
		a := &t.prob.Activities[k]
		for _, n := range a.Needs {
			if n.Resource == r {
				stays = append(stays, stay{s.res.Start[k], s.res.End[k], n.Qty, k})
			}
		}
		for _, h := range a.Holds {
			if h.Resource == r {
				stays = append(stays, stay{s.res.Start[k], s.res.End[h.Until], h.Qty, h.Until})
			}
		}
	}
	start := s.res.Start[i]
	best := int64(-1)
	for _, c := range stays {
		if c.to > start || c.to <= best || c.from >= c.to {
			continue
		}
		used := 0 // just before c is over
		for _, o := range stays {
			if o.from < c.to && o.to >= c.to {
				used += o.qty
			}
		}
		if used+want > t.prob.Resources[r].Capacity {
			best, pred = c.to, c.by
		}
	}
	return best, pred, best >= 0
}

// because says in shop words what an activity waited for.
func (s *solved) because(i int) string {
	cs := s.causes(i)
	if len(cs) == 0 {
		return ""
	}
	c := cs[0]
	if c.pred == present && c.lag < 0 && c.start <= 0 {
		return ""
	}
	text := s.causeWords(i, c)
	if h := s.hoursWords(i, c); h != "" {
		if text != "" {
			text += "; "
		}
		text += h
	}
	return text
}

// causeWords says what stood in the way.
func (s *solved) causeWords(i int, c cause) string {
	t, w := s.t, s.t.w
	at := func(tick int64) string { return whenNear(w.ax.at(tick), w.ax.at(s.res.Start[i])) }
	switch {
	case c.lag >= 0:
		return s.lagWords(c, at)
	case c.res == maker:
		return "follows " + s.actName(c.pred) + s.otherJob(i, c.pred)
	case c.res >= 0 && t.clampID[c.res] != "":
		return fmt.Sprintf("waits for %s, back %s from %s", clampName(w.shop, 2, t.clampID[c.res]), at(c.ready), t.acts[c.pred].nameOr("the job in them")+s.otherJob(i, c.pred))
	case c.res >= 0:
		return fmt.Sprintf("waits for %s, free %s after %s", placeName(w.shop, t.prob.Resources[c.res].Name), at(c.ready), t.acts[c.pred].nameOr("the job on it")+s.otherJob(i, c.pred))
	}
	return ""
}

// otherJob names the job of an activity where it is another's than of the one
// spoken of.
func (s *solved) otherJob(i, other int) string {
	a, b := s.t.acts[i].sv, s.t.acts[other].sv
	if a == nil || b == nil || a.jv == b.jv {
		return ""
	}
	if b.jv.job.Name == "" {
		return " [" + b.jv.job.ID + "]"
	}
	return " [" + b.jv.job.Name + "]"
}

func (a act) nameOr(other string) string {
	if a.sv == nil {
		return other
	}
	return a.sv.name()
}

// actName is what an activity is called in a sentence.
func (s *solved) actName(i int) string {
	a := s.t.acts[i]
	switch a.role {
	case roleOff:
		return "clamps off: " + a.sv.name()
	case roleScrape:
		return "scraping: " + a.sv.name()
	case roleNow:
		return "the present"
	}
	return a.sv.name()
}

func (s *solved) lagWords(c cause, at func(int64) string) string {
	n := s.t.notes[c.lag]
	p := n.pred.name()
	switch n.kind {
	case lagClamps:
		if n.past && !n.pred.ready.After(s.t.w.now) {
			return "the clamps may come off since " + whenNear(measure.MinuteUp(n.pred.ready).In(s.t.w.ax.loc), s.t.w.now)
		}
		return "the clamps may come off " + at(c.ready)
	case lagScrape:
		return fmt.Sprintf("%s to %s after the clamps go on", n.src.Least, n.src.Most)
	case lagOut:
		return fmt.Sprintf("once %s is out of the clamps, %s", p, at(c.ready))
	case lagCure, lagNothing:
		return ""
	}
	from := n.src.From
	if n.pred.glue != nil && from == job.FromDone {
		from = job.FromCured
	}
	plus := ""
	if n.src.Least > 0 {
		plus = n.src.Least.String() + " after "
	}
	switch {
	case from == job.FromCured && n.src.Least == 0:
		return fmt.Sprintf("%s may be machined from %s", p, at(c.ready))
	case from == job.FromCured:
		return fmt.Sprintf("%s%s is cured, %s", plus, p, at(c.ready))
	case from == job.FromBegun:
		return fmt.Sprintf("%s%s is begun, %s", cmp.Or(plus, "once "), p, at(c.ready))
	case from == job.FromClampsOn && n.pred.glue != nil:
		return fmt.Sprintf("%s%s is in clamps, %s", cmp.Or(plus, "once "), p, at(c.ready))
	case from == job.FromOff && n.pred.glue != nil:
		return fmt.Sprintf("%s%s is out of the clamps, %s", cmp.Or(plus, "once "), p, at(c.ready))
	}
	return fmt.Sprintf("%s%s is done, %s", cmp.Or(plus, "once "), p, at(c.ready))
}

// hoursWords says what the shop's hours added: it was shut, or the work did
// not fit what was left of a session, or it was too cold to spread the glue.
func (s *solved) hoursWords(i int, c cause) string {
	t, w := s.t, s.t.w
	a := &t.prob.Activities[i]
	start := s.res.Start[i]
	if c.start < start {
		if f := s.followWords(i, c.start); f != "" {
			return f
		}
		return "could begin sooner, but the finish would be no earlier"
	}
	if c.start == c.ready || a.Calendar == schedule.Always {
		return ""
	}
	open := w.ax.at(s.sessionOpen(start))
	plain := nextFit(t.prob.Calendars[t.hours].Windows, c.ready, a.Work, a.Split)
	if a.Calendar != t.hours && plain < start {
		return t.acts[i].sv.glue.coldWords(whenNear(w.ax.at(start), w.ax.at(c.ready)))
	}
	if win, in := windowAt(t.prob.Calendars[t.hours].Windows, c.ready); in {
		left := time.Duration(win.Close-c.ready) * time.Minute
		return fmt.Sprintf("%s in one go do not fit the %s left then; the shop opens again %s",
			spanWords(time.Duration(a.Work)*time.Minute), spanWords(left), whenNear(open, w.ax.at(c.ready)))
	}
	if start > s.sessionOpen(start) {
		return ""
	}
	return "the shop opens " + whenNear(open, w.ax.at(c.ready))
}

// followWords says what could not follow in time if an activity began at a
// tick.
func (s *solved) followWords(i int, start int64) string {
	t, w := s.t, s.t.w
	a := &t.prob.Activities[i]
	for k, l := range t.prob.Lags {
		if l.From != i || !l.HasMax || t.notes[k].kind == lagNothing {
			continue
		}
		m := start
		if l.FromEnd {
			m = w.endOf(t, a, start)
		}
		to := &t.prob.Activities[l.To]
		if to.Calendar == schedule.Always || m < 0 {
			continue
		}
		x := nextFit(t.prob.Calendars[to.Calendar].Windows, m+l.Min, to.Work, to.Split)
		if x < 0 || x > m+l.Max {
			return fmt.Sprintf("begun %s, %s would have to follow %s to %s, when the shop is shut",
				whenNear(w.ax.at(start), w.ax.at(s.res.Start[i])), s.actName(l.To),
				whenNear(w.ax.at(m+l.Min), w.ax.at(start)), whenNear(w.ax.at(m+l.Max), w.ax.at(start)))
		}
	}
	return ""
}

func windowAt(ws []schedule.Window, tick int64) (schedule.Window, bool) {
	for _, w := range ws {
		if w.Open <= tick && tick < w.Close {
			return w, true
		}
	}
	return schedule.Window{}, false
}

// sessionOpen is the opening of the session a tick lies in.
func (s *solved) sessionOpen(tick int64) int64 {
	if w, in := windowAt(s.t.prob.Calendars[s.t.hours].Windows, tick); in {
		return w.Open
	}
	return tick
}

// chain walks back from the finish: what ends last, what it waited for, what
// that waited for, until nothing but the present is left. It is told forwards.
func (s *solved) chain(p *Plan) []Link {
	last := -1
	for i := range s.t.acts {
		if i != present && (last < 0 || s.res.End[i] > s.res.End[last]) {
			last = i
		}
	}
	if last < 0 {
		return nil
	}
	var back []Link
	seen := map[int]bool{}
	for i := last; i != present && !seen[i]; {
		seen[i] = true
		cs := s.causes(i)
		if k := s.itemOf(p, i); k >= 0 {
			busy := len(cs) > 0 && cs[0].res == maker && cs[0].start == cs[0].ready && cs[0].start == s.res.Start[i]
			back = append(back, Link{Item: k, Text: s.linkWords(p, k, i), Busy: busy})
		} else if s.t.acts[i].role == roleCured {
			back = append(back, s.waitLink(p, s.t.acts[i].sv, Cure)...)
		}
		if len(cs) == 0 {
			break
		}
		c := cs[0]
		if c.lag >= 0 {
			n := s.t.notes[c.lag]
			switch {
			case n.kind == lagClamps:
				back = append(back, s.waitLink(p, n.pred, Clamped)...)
			case n.kind == lagAfter && n.pred.glue != nil && (n.src.From == job.FromCured || n.src.From == job.FromDone):
				back = append(back, s.cureLink(p, n.pred)...)
			}
		}
		i = c.pred
	}
	out := make([]Link, 0, len(back))
	for k := len(back) - 1; k >= 0; k-- {
		if n := len(out); n > 0 && out[n-1].Item == back[k].Item {
			continue
		}
		out = append(out, back[k])
	}
	return out
}

func (s *solved) itemOf(p *Plan, i int) int {
	for k := range p.Items {
		if p.Items[k].act == i {
			return k
		}
	}
	return -1
}

func (s *solved) linkWords(p *Plan, k, i int) string {
	it := p.Items[k]
	text := fmt.Sprintf("%s to %s, %s%s", when(it.From, p.Now), whenNear(it.To, it.From), benchName(it), ofJob(p, it))
	if it.Change > 0 {
		text += fmt.Sprintf(" (%s of it set-up)", it.Change)
	}
	if it.Because != "" {
		text += ": " + it.Because
	}
	return text
}

// ofJob names the job of an item, where several are planned.
func ofJob(p *Plan, it Item) string {
	open := 0
	for _, j := range p.Jobs {
		if !j.Done {
			open++
		}
	}
	if open < 2 {
		return ""
	}
	return " [" + jobNames(p)[it.Job] + "]"
}

// waitLink is the link of a wait: how long, and what the air made of it.
func (s *solved) waitLink(p *Plan, sv *stepView, kind Kind) []Link {
	for k, it := range p.Items {
		if it.Kind != kind || it.Job != sv.jv.job.ID || it.Step != sv.step.ID {
			continue
		}
		what := "in clamps until " + whenNear(it.Earliest, it.From) + " at least"
		if kind == Cure {
			what = "cures until " + whenNear(it.Earliest, it.From)
		}
		text := fmt.Sprintf("%s, %s%s: %s", when(it.From, p.Now), it.Name, ofJob(p, it), what)
		if it.Because != "" {
			text += ": " + it.Because
		}
		return []Link{{Item: k, Text: text}}
	}
	return nil
}

// cureLink is the cure of a joint, or its time in clamps when that lasts as
// long.
func (s *solved) cureLink(p *Plan, sv *stepView) []Link {
	if l := s.waitLink(p, sv, Cure); l != nil {
		return l
	}
	return s.waitLink(p, sv, Clamped)
}
