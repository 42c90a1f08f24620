package plan

import (
	"context"
	"fmt"
	"sort"
	"time"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
	"caul/job/schedule"
)

// variant is one change to the shop that may bring the finish forward.
type variant struct {
	change string
	shop   *job.Shop
}

// helps solves what might help, one change at a time, and keeps those with
// which the work finishes earlier, best first.
func (w *world) helps(ctx context.Context, s *solved, p *Plan, opts Options) []Help {
	base := s.res.Levels[schedule.Finish].Value
	late := s.res.Levels[schedule.Lateness].Value
	if len(p.Items) == 0 {
		return []Help{}
	}
	type found struct {
		Help
		late int64
	}
	var out []found
	for _, v := range w.variants(s, p) {
		if ctx.Err() != nil {
			break
		}
		vw, err := newWorld(v.shop, w.now, opts.Jobs)
		if err != nil {
			continue
		}
		o := opts
		o.levels = schedule.Finish + 1
		o.Budget = helpBudget
		if opts.Budget > 0 {
			o.Budget = min(helpBudget, opts.Budget)
		}
		vs, err := vw.solve(ctx, o, v.change)
		if err != nil {
			continue
		}
		lv := vs.res.Levels
		fin := lv[schedule.Finish].Value
		if lv[schedule.Lateness].Value > late || lv[schedule.Lateness].Value == late && fin >= base {
			continue
		}
		out = append(out, found{late: lv[schedule.Lateness].Value, Help: Help{
			Change: v.change, Finish: w.ax.at(fin), Saves: time.Duration(base-fin) * time.Minute,
			Proved: lv[schedule.Finish].Proved, LessLate: time.Duration(late-lv[schedule.Lateness].Value) * time.Minute,
		}})
	}
	sort.SliceStable(out, func(i, k int) bool {
		if out[i].late != out[k].late {
			return out[i].late < out[k].late
		}
		return out[i].Finish.Before(out[k].Finish)
	})
	helps := make([]Help, len(out))
	for i := range out {
		helps[i] = out[i].Help
	}
	return helps
}

// variants are the changes worth trying.
func (w *world) variants(s *solved, p *Plan) []variant {
	var out []variant
	out = append(out, w.moreHours(p)...)
	out = append(out, w.moreClamps(s)...)
	out = append(out, w.morePlaces(s)...)
	out = append(out, w.fasterGlue(s)...)
	out = append(out, w.heater(s)...)
	return out
}

// anHour is how much longer the shop is open in a variant.
const anHour = 60

// datesTried is how many dates are given an hour more.
const datesTried = 10

// moreHours gives each date up to the finish one more hour: before its first
// session, after its last, or where the shop is shut at the time it opens on
// other days.
func (w *world) moreHours(p *Plan) []variant {
	usual := 19 * 60
	for wd := time.Monday; wd <= time.Friday; wd++ {
		if ws := w.shop.Hours.Week[wd]; len(ws) > 0 {
			usual = ws[len(ws)-1].From
			break
		}
	}
	var out []variant
	for i, d := range p.Days {
		if i == datesTried {
			break
		}
		dt := dateOf(d.Date)
		ws, _ := dayHours(&w.shop.Hours, dt)
		day := dayWords(d.Date, p.Now)
		try := func(change string, from, to int, longer []job.Window) {
			if dt.minute(w.ax.loc, from).After(w.now) && from < to { // it has not begun yet
				out = append(out, variant{fmt.Sprintf(change, day), w.withHours(dt, d.Date, longer)})
			}
		}
		n := len(ws)
		if n == 0 {
			from := min(usual, 1440-anHour)
			try("an hour in the shop on %s, from "+clockWords(from), from, from+anHour, []job.Window{{From: from, To: from + anHour}})
			continue
		}
		late := append([]job.Window(nil), ws...)
		late[n-1].To = min(late[n-1].To+anHour, 1440)
		try("one more hour on %s, until "+clockWords(late[n-1].To), ws[n-1].To, late[n-1].To, late)
		soon := append([]job.Window(nil), ws...)
		soon[0].From = max(soon[0].From-anHour, 0)
		try("one more hour on %s, from "+clockWords(soon[0].From)+" on", soon[0].From, ws[0].From, soon)
	}
	return out
}

// withHours is the shop with other windows on one date.
func (w *world) withHours(dt date, midnight time.Time, ws []job.Window) *job.Shop {
	shop := *w.shop
	shop.Hours.Except = nil
	for _, e := range w.shop.Hours.Except {
		if dateOf(e.Date) != dt {
			shop.Hours.Except = append(shop.Hours.Except, e)
		}
	}
	shop.Hours.Except = append(shop.Hours.Except, job.DayHours{Date: midnight, Windows: ws})
	return &shop
}

func clockWords(minute int) string { return fmt.Sprintf("%02d:%02d", minute/60, minute%60) }

// moreClamps gives as many more of a kind as the largest glue-up takes, for
// each kind that the plan uses.
func (w *world) moreClamps(s *solved) []variant {
	most := map[string]int{}
	uses := map[string]int{}
	for _, a := range s.t.acts {
		if a.role == roleStep && a.sv.glue != nil {
			for id, n := range w.clampsOf(a.sv) {
				most[id] = max(most[id], n)
				uses[id]++
			}
		}
	}
	var out []variant
	for k, c := range w.shop.Clamps {
		if uses[c.ID] == 0 || most[c.ID] == 0 {
			continue
		}
		shop := *w.shop
		shop.Clamps = append([]job.Clamp(nil), w.shop.Clamps...)
		shop.Clamps[k].Qty += most[c.ID]
		out = append(out, variant{fmt.Sprintf("%d more %s", most[c.ID], clampName(w.shop, most[c.ID], c.ID)), &shop})
	}
	return out
}

// morePlaces gives room for one more glue-up at each place that is used.
func (w *world) morePlaces(s *solved) []variant {
	uses := map[string]int{}
	for _, a := range s.t.acts {
		if a.role == roleStep && a.sv.step.Place != "" {
			uses[a.sv.step.Place]++
		}
		if a.role == roleOff && a.sv.state == job.InClamps {
			uses[a.sv.step.Place]++
		}
	}
	var out []variant
	for k, pl := range w.shop.Places {
		if uses[pl.ID] < 2 {
			continue
		}
		shop := *w.shop
		shop.Places = append([]job.Place(nil), w.shop.Places...)
		shop.Places[k].Qty++
		out = append(out, variant{"room for one more at " + placeName(w.shop, pl.ID), &shop})
	}
	return out
}

// fasterGlue puts, for each glue the plan uses, one that may be machined or
// unclamped sooner and is at least as water-resistant in its place. Thirty
// minutes of open time are not given up for five: it must allow the same
// spreading.
func (w *world) fasterGlue(s *solved) []variant {
	used := map[string]*gluing{}
	spread := map[string]measure.Span{}
	for _, a := range s.t.acts {
		if a.role == roleStep && a.sv.glue != nil && a.sv.state == job.Waiting {
			g := a.sv.glue
			used[g.up.Glue] = g
			spread[g.up.Glue] = max(spread[g.up.Glue], g.up.Spread)
		}
	}
	ids := make([]string, 0, len(used))
	for id := range used {
		ids = append(ids, id)
	}
	sort.Strings(ids)
	at := measure.InCelsius(20)
	var out []variant
	for _, id := range ids {
		g := used[id]
		for _, k := range glue.Kinds() {
			if k.ID == g.k.ID || k.Clamp.None() || glue.ClassRank(k.Class) < glue.ClassRank(g.k.Class) ||
				k.Class == "" || k.Lowest > g.k.Lowest+measure.InCelsius(5) || k.Total.At(at) < max(spread[id], 5*measure.Minute) {
				continue
			}
			sooner := k.Machine.At(at) < g.k.Machine.At(at) && k.Clamp.At(at) <= 2*g.k.Machine.At(at) ||
				k.Machine.At(at) <= g.k.Machine.At(at) && k.Clamp.At(at) < g.k.Clamp.At(at)
			if !sooner {
				continue
			}
			out = append(out, variant{fmt.Sprintf("%s in place of %s", k.Name, g.k.Name), w.otherGlue(id, k.ID)})
		}
	}
	return out
}

// otherGlue is the shop with one glue in place of another in every glue-up
// that is not begun.
func (w *world) otherGlue(from, to string) *job.Shop {
	shop := *w.shop
	shop.Jobs = nil
	for _, jv := range w.jobs {
		j := *jv.job
		j.Steps = append([]job.Step(nil), jv.job.Steps...)
		for i := range j.Steps {
			up := j.Steps[i].GlueUp
			if up == nil || up.Glue != from || jv.steps[i].state != job.Waiting {
				continue
			}
			g := *up
			g.Glue = to
			j.Steps[i].GlueUp = &g
		}
		shop.Jobs = append(shop.Jobs, &j)
	}
	return &shop
}

// heater leaves the heater on: the air is never colder than its warmest.
func (w *world) heater(s *solved) []variant {
	any := false
	for _, a := range s.t.acts {
		any = any || a.sv != nil && a.sv.glue != nil
	}
	steps := w.shop.Air.Steps
	if !any || len(steps) < 2 {
		return nil
	}
	warm, cold := steps[0].Temp, steps[0].Temp
	for _, st := range steps {
		warm, cold = max(warm, st.Temp), min(cold, st.Temp)
	}
	if warm == cold {
		return nil
	}
	shop := *w.shop
	shop.Air.Steps = []job.AirStep{{From: 0, Temp: warm}}
	return []variant{{fmt.Sprintf("the heater on at night (%s)", warm.FormatIn(w.air.scale)), &shop}}
}
