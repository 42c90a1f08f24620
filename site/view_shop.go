package site

import (
	"cmp"
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"caul/job"
	"caul/job/plan"
	"caul/job/proof"
)

type indexView struct {
	Title    string
	Groups   []jobGroup
	Jobs     int
	Timers   []timerCard
	CanDo    []choiceCard
	Checks   []checkCard
	BothWays int
	NoPlan   string
	Finish   string
	Calendar bool
	Bare     int
}

// jobGroup are the jobs of one sort.
type jobGroup struct {
	ID, Title string
	Jobs      template.HTML // their cards
}

type jobCard struct {
	ID, Name, For    string
	State            job.State
	StepsDone, Steps int
	Finish           string
}

type timerCard struct {
	Job, Name, Ready, ISO, Held, Note, Link string
	State                                   job.State
	Past, Never                             bool // Never: too cold to set, and Ready is empty
}

type choiceCard struct{ Job, Name, Takes, SetUp, Why, Link string }

type checkCard struct{ Text, Link string }

func (r *renderer) indexView() (indexView, error) {
	in := r.in
	v := indexView{Title: in.Shop.Name, BothWays: len(in.BothWays), NoPlan: in.NoPlan, Calendar: in.Plan != nil, Jobs: len(in.Shop.Jobs), Bare: r.bare}
	names := map[string]string{}
	groups := []jobGroup{{ID: "going", Title: "Under way"}, {ID: "waiting", Title: "Not begun"}, {ID: "done", Title: "Finished"}}
	var cards [3]strings.Builder
	for _, j := range in.Shop.Jobs {
		names[j.ID] = cmp.Or(j.Name, j.ID)
		d := r.out.jobs[j.ID]
		c := jobCard{ID: j.ID, Name: names[j.ID], For: j.For, Steps: d.steps, State: d.state, StepsDone: d.stepsDone}
		if jp := r.plans[j.ID]; jp != nil && !jp.Done && c.State != job.Done {
			if c.Finish = r.when(jp.Finish); jp.Never {
				c.Finish = noFinish
			}
		}
		at := 0
		switch {
		case c.State == job.Done:
			at = 2
		case c.State == job.Waiting:
			at = 1
		}
		if d.card == "" {
			card, err := r.execute("card", c)
			if err != nil {
				return v, err
			}
			d.card = string(card)
		}
		cards[at].WriteString(d.card)
	}
	for i, g := range groups {
		if g.Jobs = template.HTML(cards[i].String()); g.Jobs != "" { //nolint:gosec // drawn by the template
			v.Groups = append(v.Groups, g)
		}
	}
	if in.Live == nil {
		return v, nil
	}
	link := func(job, step string) string { return "jobs/" + job + "/index.html#step-" + step }
	for _, t := range in.Live.Timers {
		st := job.Curing
		if t.Kind == plan.Clamped {
			st = job.InClamps
		}
		c := timerCard{Job: names[t.Job], Name: t.Name, Held: plan.ClampWords(in.Shop, t.Clamps), Note: t.Note, State: st,
			Link: link(t.Job, t.Step), Never: t.Never}
		if !t.Never {
			c.Ready, c.ISO, c.Past = r.when(t.Ready), r.iso(t.Ready), t.Ready.Before(in.Now)
		}
		v.Timers = append(v.Timers, c)
	}
	for _, c := range append(append([]plan.Choice{}, in.Live.OnBench...), in.Live.CanDo...) {
		v.CanDo = append(v.CanDo, choiceCard{Job: names[c.Job], Name: c.Name, Takes: c.Takes.String(), SetUp: c.SetUp, Why: c.Why, Link: link(c.Job, c.Step)})
	}
	for _, c := range in.Live.Checks {
		v.Checks = append(v.Checks, checkCard{Text: c.Text, Link: "jobs/" + c.Job + "/log.html#check-" + c.Check})
	}
	return v, nil
}

// noFinish stands in the place of a finish that hangs on a glue that does not
// set.
const noFinish = "not in this air: it is too cold for a glue to set"

type fittingsView struct {
	Rows  []fittingRow
	Dated bool // the day one was cut is known
}

type fittingRow struct{ Name, Kind, Job, Link, Goes, Angle, Cut, Hangs, Warn string }

func (r *renderer) fittingsView() fittingsView {
	var v fittingsView
	names := map[string]string{}
	for _, j := range r.in.Shop.Jobs {
		names[j.ID] = cmp.Or(j.Name, j.ID)
	}
	for _, f := range proof.FindFittings(r.in.Shop, "", nil) {
		row := fittingRow{Name: cmp.Or(f.Fitting.Name, f.Fitting.ID), Kind: f.Fitting.Kind, Job: names[f.Job], Link: "jobs/" + f.Job + "/index.html",
			Goes: cmp.Or(f.Fitting.Blade, f.Fitting.Cutter), Hangs: f.Fitting.Hangs, Warn: f.Warn}
		if b := r.in.Shop.BladeByID(f.Fitting.Blade); b != nil {
			row.Goes = cmp.Or(b.Name, b.ID)
		} else if c := r.in.Shop.CutterByID(f.Fitting.Cutter); c != nil {
			row.Goes = cmp.Or(c.Name, c.ID)
		}
		row.Angle = strconv.FormatFloat(f.Fitting.Angle, 'f', -1, 64) + "°"
		if !f.Fitting.Cut.IsZero() {
			row.Cut, v.Dated = f.Fitting.Cut.Format("2 Jan 2006"), true
		}
		v.Rows = append(v.Rows, row)
	}
	return v
}

type bothWaysView struct{ Rows []bothWayRow }

type bothWayRow struct {
	BothWay
	N                     int
	StandsWhen, OtherWhen string
}

func (r *renderer) bothWaysView() bothWaysView {
	var v bothWaysView
	for i, b := range r.in.BothWays {
		v.Rows = append(v.Rows, bothWayRow{b, i + 1, r.when(b.StandsAt), r.when(b.OtherAt)})
	}
	return v
}

// buildView is the first page of a build to send.
type buildView struct {
	Job                 *jobView
	By, Version, Link   string
	Changes             []string
	Asked               []measureView
	Stock, Tools, Glues []string
}

func (r *renderer) buildView() buildView {
	v := buildView{By: r.in.Build.By, Version: r.in.Build.Version, Changes: r.in.Build.Changes}
	s := r.in.Shop
	if len(s.Jobs) == 0 {
		return v
	}
	j := s.Jobs[0]
	v.Link = "jobs/" + j.ID + "/"
	v.Job = &jobView{Name: cmp.Or(j.Name, j.ID), For: j.For}
	u := s.Units.Length
	for _, m := range s.Measures {
		v.Asked = append(v.Asked, measureView{Name: m.Name, Is: exactly(m.Length, u), Why: m.Ask})
	}
	for _, m := range j.Measures {
		if m.Ask != "" && m.Set {
			v.Asked = append(v.Asked, measureView{Name: m.Name, Is: exactly(m.Length, u), Why: m.Ask})
		}
	}
	for _, x := range s.Stock {
		t := x.Size[2].Length
		if x.Thick.Set {
			t = x.Thick.Length
		}
		v.Stock = append(v.Stock, fmt.Sprintf("%s, %s thick", cmp.Or(x.Name, x.ID), exactly(t, u)))
	}
	for _, x := range s.Machines {
		v.Tools = append(v.Tools, strings.ReplaceAll(cmp.Or(x.Kind, x.ID), "-", " "))
	}
	for _, x := range s.Cutters {
		t := "cutter " + x.ID
		if x.Diameter.Set {
			t += ", " + x.Kind + ", " + exactly(x.Diameter.Length, u)
		}
		v.Tools = append(v.Tools, t)
	}
	for _, x := range s.Clamps {
		v.Tools = append(v.Tools, fmt.Sprintf("%d %s clamps", x.Qty, strings.TrimSuffix(cmp.Or(x.Kind, x.ID), "-clamp")))
	}
	for _, x := range s.Glues {
		v.Glues = append(v.Glues, cmp.Or(x.Name, x.ID)+", "+x.Type)
	}
	return v
}
