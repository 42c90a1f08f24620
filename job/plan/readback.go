package plan

import (
	"fmt"
	"sort"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/schedule"
)

// read turns the starts and ends of the schedule back into a shop's plan.
func (s *solved) read() *Plan {
	t, w := s.t, s.t.w
	p := &Plan{shop: w.shop, Now: w.now, Until: t.horizon, Jobs: []JobPlan{}, Items: []Item{}, Days: []Day{}}
	for i, a := range t.acts {
		switch a.role {
		case roleStep, roleScrape, roleOff:
			p.Items = append(p.Items, s.benchItem(i, s.because(i)))
		}
	}
	s.waits(p)
	sortItems(p.Items)
	s.jobPlans(p)
	lv := s.res.Levels
	p.Proved = lv[schedule.Finish].Proved
	p.Earliest = w.ax.at(max(lv[schedule.Finish].Bound, 0))
	if p.Proved {
		p.Earliest = w.ax.at(lv[schedule.Finish].Value)
	} else {
		p.Within = max(w.ax.at(lv[schedule.Finish].Value).Sub(p.Earliest), 0)
	}
	for _, it := range p.Items {
		for _, m := range it.Settings {
			if !m.Kept {
				p.SetUps++
			}
		}
	}
	p.Warnings = s.warnings()
	p.Days = s.days()
	return p
}

var kindOrder = map[Kind]int{ClampsOff: 0, Bench: 1, Clamped: 2, Cure: 3, Wait: 4}

func sortItems(items []Item) {
	sort.SliceStable(items, func(i, k int) bool {
		a, b := &items[i], &items[k]
		switch {
		case !a.From.Equal(b.From):
			return a.From.Before(b.From)
		case kindOrder[a.Kind] != kindOrder[b.Kind]:
			return kindOrder[a.Kind] < kindOrder[b.Kind]
		case a.Job != b.Job:
			return a.Job < b.Job
		}
		return a.Step < b.Step
	})
}

// benchItem is one hands-on activity, its set-up change included.
func (s *solved) benchItem(i int, because string) Item {
	t, w := s.t, s.t.w
	a := t.acts[i]
	start, end := s.res.Start[i], s.res.End[i]
	it := Item{
		Job: a.sv.jv.job.ID, Step: a.sv.step.ID, Name: a.sv.name(), Kind: Bench,
		From: w.ax.at(start), To: w.ax.at(end), Because: because, act: i,
	}
	switch a.role {
	case roleOff:
		it.Kind = ClampsOff
		it.Clamps = w.clampsOf(a.sv)
		if a.sv.state == job.InClamps {
			it.Clamps = w.heldClamps(a.sv)
		}
		it.Place = a.sv.step.Place
	case roleScrape:
		it.Name = "Scrape the squeeze-out: " + a.sv.name()
	case roleStep:
		it.SetUp, it.Settings = a.sv.setUpWords(), s.settings(i)
		it.Clamps, it.Place = w.clampsOf(a.sv), a.sv.step.Place
		it.Started = a.sv.state == job.OnBench
	}
	if len(it.Clamps) == 0 {
		it.Clamps = nil
	}
	begin := start
	for _, c := range s.res.Changes {
		if c.Activity == i {
			begin = min(begin, c.Start)
			su := t.prob.Setups[c.Setup]
			it.Change += measure.Span(su.Change[c.From][c.To]) * measure.Minute
		}
	}
	it.From = w.ax.at(begin)
	it.Sessions = s.sessionsOf(begin, end)
	if len(it.Sessions) == 1 && it.Sessions[0].From.Equal(it.From) && it.Sessions[0].To.Equal(it.To) {
		it.Sessions = nil
	}
	if t.prob.Activities[i].Fixed != nil { // under way: it goes on now, past closing time too
		it.Sessions = []Stretch{{it.From, it.To}}
		if a.sv.begun.Before(it.From) {
			it.From = a.sv.begun.In(w.ax.loc)
		}
	}
	it.Latest = s.latest(i)
	return it
}

// settings are the machine settings that an activity makes, and those it finds
// made. What is on the bench has made its own.
func (s *solved) settings(i int) []Setting {
	sv := s.t.acts[i].sv
	if sv.state == job.OnBench {
		return nil
	}
	left := map[string]setting{}
	for _, u := range sv.uses {
		left[u.machine] = u.first()
	}
	for _, c := range s.res.Changes {
		if c.Activity == i {
			left[s.t.prob.Setups[c.Setup].Name] = s.t.states[c.Setup][c.From].out
		}
	}
	return settingsMade(s.t.w.shop, sv.uses, left)
}

// sessionsOf cuts a stretch of hands-on time to the hours in which the shop is
// open. What is under way out of hours stays whole.
func (s *solved) sessionsOf(from, to int64) []Stretch {
	var out []Stretch
	var sum int64
	for _, win := range s.t.prob.Calendars[s.t.hours].Windows {
		a, b := max(from, win.Open), min(to, win.Close)
		if a < b {
			out = append(out, Stretch{s.t.w.ax.at(a), s.t.w.ax.at(b)})
			sum += b - a
		}
	}
	if sum == 0 {
		return []Stretch{{s.t.w.ax.at(from), s.t.w.ax.at(to)}}
	}
	return out
}

// latest is the last moment at which a most-lag lets an activity begin.
func (s *solved) latest(i int) time.Time {
	last := int64(-1)
	for k, l := range s.t.prob.Lags {
		if l.To != i || !l.HasMax || s.t.notes[k].kind == lagNothing {
			continue
		}
		if m := s.moment(l.From, l.FromEnd) + l.Max; last < 0 || m < last {
			last = m
		}
	}
	if last < 0 {
		return time.Time{}
	}
	return s.t.w.ax.at(last)
}

func (s *solved) moment(i int, end bool) int64 {
	if end {
		return s.res.End[i]
	}
	return s.res.Start[i]
}

// waits adds what runs by itself: clamps, cures and the other lags.
func (s *solved) waits(p *Plan) {
	t, w := s.t, s.t.w
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			if sv.glue != nil {
				s.glueWaits(p, sv)
			}
		}
	}
	seen := map[string]bool{}
	for k, l := range t.prob.Lags {
		n := t.notes[k]
		if n.kind != lagAfter || n.src.Least <= 0 {
			continue
		}
		at := s.momentOf(n.pred, n.src.From)
		to := at.Add(n.src.Least.Duration())
		if !to.After(w.now) || at.IsZero() {
			continue
		}
		succ := t.acts[l.To].sv
		it := Item{
			Job: succ.jv.job.ID, Step: succ.step.ID, Kind: Wait, From: at, To: to, Earliest: to,
			Name:    n.src.Least.String() + " after " + n.pred.name(),
			Started: !at.After(w.now), Because: "before " + succ.name(),
		}
		key := it.Name + it.Job + it.From.String()
		if !seen[key] {
			seen[key] = true
			p.Items = append(p.Items, it)
		}
	}
}

// momentOf is the instant of a moment of a step, from the log or as planned.
func (s *solved) momentOf(sv *stepView, from job.LagFrom) time.Time {
	if at, ok := sv.moment(from); ok {
		return at.In(s.t.w.ax.loc)
	}
	t, w := s.t, s.t.w
	i, has := t.main[sv]
	off, hasOff := t.off[sv]
	switch {
	case !has && from == job.FromOff && hasOff:
		return w.ax.at(s.res.End[off])
	case !has:
		return time.Time{}
	case from == job.FromBegun || (from == job.FromClampsOn && sv.glue == nil):
		return w.ax.at(s.res.Start[i])
	case sv.glue == nil || from == job.FromClampsOn:
		return w.ax.at(s.res.End[i])
	case from == job.FromOff && hasOff:
		return w.ax.at(s.res.End[off])
	case from == job.FromOff:
		return w.ax.at(s.res.End[i])
	}
	return sv.glue.cured(w.ax.at(s.res.End[i]))
}

// glueWaits adds the time in clamps and the cure of one glue-up.
func (s *solved) glueWaits(p *Plan, sv *stepView) {
	t, w := s.t, s.t.w
	var on, ready, cured time.Time
	started := true
	switch i, planned := t.main[sv]; {
	case planned:
		on = w.ax.at(s.res.End[i])
		ready, cured = sv.glue.clampsOff(on), sv.glue.cured(on)
		started = false
	case sv.state == job.InClamps || (sv.state == job.Curing && sv.jv.picked):
		on, ready, cured = sv.on, sv.ready, sv.cured
	default:
		return
	}
	it := Item{Job: sv.jv.job.ID, Step: sv.step.ID, Name: sv.name(), Place: sv.step.Place, Started: started}
	from := on
	if off, ok := t.off[sv]; ok {
		c := it
		c.Kind, c.From, c.To, c.Earliest = Clamped, on.In(w.ax.loc), w.ax.at(s.res.Start[off]), measure.MinuteUp(ready).In(w.ax.loc)
		c.Clamps = w.heldClamps(sv)
		c.Because, c.Never = sv.glue.airWords(on, false), sv.glue.offWait(on).Never
		p.Items = append(p.Items, c)
		from = w.ax.at(s.res.End[off])
	} else if !sv.off.IsZero() {
		from = sv.off
	}
	if cured.After(from) && sv.jv.picked {
		it.Place = ""
		it.Kind, it.From, it.To, it.Earliest = Cure, from.In(w.ax.loc), measure.MinuteUp(cured).In(w.ax.loc), measure.MinuteUp(cured).In(w.ax.loc)
		it.Because, it.Never = sv.glue.airWords(on, true), sv.glue.offWait(on).Never || sv.glue.cureWait(on).Never
		p.Items = append(p.Items, it)
	}
}

// jobPlans sums up every picked job.
func (s *solved) jobPlans(p *Plan) {
	t, w := s.t, s.t.w
	for _, jv := range w.jobs {
		if !jv.picked {
			continue
		}
		jp := JobPlan{Job: jv.job.ID, Name: jv.job.Name, Due: jv.job.Due, Done: len(jv.steps) > 0}
		end := int64(-1)
		for i, a := range t.acts {
			if a.sv == nil || a.sv.jv != jv {
				continue
			}
			end = max(end, s.res.End[i])
			if a.role != roleCured {
				jp.HandsOn += measure.Span(t.prob.Activities[i].Work) * measure.Minute
			}
			if a.role == roleStep && a.sv.state != job.OnBench {
				jp.HandsOn -= a.sv.inner
				for _, m := range s.settings(i) {
					jp.SettingUp += m.Takes
				}
			}
		}
		var last time.Time
		for _, sv := range jv.steps {
			last = later(last, firstKnown(sv.done, sv.cured, sv.begun))
			jp.Done = jp.Done && sv.state == job.Done || jp.Done && sv.state == job.Aside && sv.step.Optional
		}
		switch {
		case end >= 0:
			jp.Finish, jp.Done = w.ax.at(end), false
		case !last.IsZero():
			jp.Finish = last.In(w.ax.loc)
		}
		if d := deadline(jv.job, w.ax.loc); !d.IsZero() && jp.Finish.After(d) {
			jp.Late = jp.Finish.Sub(d)
		}
		p.Jobs = append(p.Jobs, jp)
	}
}

// days lists the dates from now to the finish with their shop windows.
func (s *solved) days() []Day {
	w := s.t.w
	var end int64
	for _, e := range s.res.End {
		end = max(end, e)
	}
	out := []Day{}
	last := dateOf(w.ax.at(end))
	for d := dateOf(w.now); !last.before(d); d = d.plus(1) {
		ws, why := dayHours(&w.shop.Hours, d)
		day := Day{Date: d.minute(w.ax.loc, 0), Windows: []Stretch{}, Why: why}
		for _, win := range ws {
			a, b := d.minute(w.ax.loc, win.From), d.minute(w.ax.loc, win.To)
			if a.Before(b) {
				day.Windows = append(day.Windows, Stretch{a, b})
			}
		}
		out = append(out, day)
	}
	return out
}

// warnings are the doubts of the log, what is late, cold nights, and what the
// plan leaves out.
func (s *solved) warnings() []string {
	t, w := s.t, s.t.w
	out := append([]string(nil), w.doubts...)
	for _, l := range t.late {
		if w.ax.at(s.res.Start[l.act]).After(l.last) {
			out = append(out, lateWords(w, l.sv, l.lag, l.last))
		}
	}
	out = append(out, t.hard...)
	seen := map[string]bool{}
	for _, jv := range w.jobs {
		if !jv.picked {
			continue
		}
		for _, sv := range jv.steps {
			if sv.left {
				what := "is set aside"
				if sv.state != job.Aside {
					what = "waits for a step that is set aside"
				}
				out = append(out, fmt.Sprintf("%s %s and is not in the plan", sv.name(), what))
				continue
			}
			if sv.glue == nil {
				continue
			}
			on := sv.on
			if i, ok := t.main[sv]; ok {
				on = w.ax.at(s.res.End[i])
			} else if sv.state != job.InClamps && sv.state != job.Curing {
				continue
			}
			wait := sv.glue.cureWait(on)
			if wait.Never {
				continue // Plan.Never says it, with what to do
			}
			for _, c := range wait.Warnings(w.air.scale) {
				text := sv.name() + ": " + c
				if !seen[text] {
					seen[text] = true
					out = append(out, text)
				}
			}
		}
	}
	return out
}
