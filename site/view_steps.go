package site

import (
	"cmp"
	"fmt"
	"html/template"
	"strings"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
	"caul/job/proof"
)

type stepView struct {
	ID, Name     string
	N            int
	Takes, SetUp string
	After        string
	Uses         string
	Notes        []string
	When         []string // what the plan has for it
	State        job.State
	Cautions     []string
	CautionsAs   int // number of the step that has the same ones before; they stand to be opened
	Body         template.HTML
	Glue         *glueView
	Past         bool
}

// glueView is the sheet of a glue-up beside its step.
type glueView struct {
	Figures  []figure
	Order    []string
	Warnings []string
	Parts    []string
	Trouble  string
}

// story fills in the prose: what stands above the steps, and each step's own.
func (r *renderer) story(j *job.Job, v *jobView, states map[string]job.StepState) error {
	bodies := map[string][]string{}
	var story strings.Builder
	for _, s := range j.Build.Sections {
		if s.Step != "" {
			bodies[s.Step] = append(bodies[s.Step], s.Body)
			continue
		}
		if s.Heading != "" && s.Level > 1 {
			fmt.Fprintf(&story, "%s %s\n\n", strings.Repeat("#", s.Level), s.Heading)
		}
		story.WriteString(s.Body + "\n\n")
	}
	pics := r.pictures(j, "A picture of "+v.Name+", without a description")
	said := map[string]int{}
	var err error
	if v.Story, err = markdown([]byte(story.String()), reading{below: 1, dir: j.Dir, pictures: pics}); err != nil {
		return err
	}
	for i := range j.Steps {
		s := &j.Steps[i]
		sv := stepView{ID: s.ID, Name: cmp.Or(s.Name, s.ID), N: i + 1, SetUp: s.SetUp,
			Cautions: proof.StepCautions(r.in.Shop, j, s.ID)}
		if s.Takes != 0 {
			sv.Takes = s.Takes.String()
		}
		if !r.in.Shared {
			if sv.State = states[s.ID].State; sv.State == "" {
				sv.State = job.Waiting
			}
			if sv.State == job.Done {
				sv.Past = true // its cautions stand on the job sheet, for the next time
			} else {
				sv.When = r.stepWhen(j.ID, s.ID)
			}
		}
		for _, l := range s.After {
			if l.Least > 0 || l.HasMost || l.From == job.FromCured || l.From == job.FromOff {
				sv.Notes = append(sv.Notes, "begin "+r.lagWords(j, l))
			}
		}
		if s.Optional {
			sv.Notes = append(sv.Notes, "may be left out")
		}
		if key := strings.Join(sv.Cautions, "\n"); !sv.Past && key != "" {
			if sv.CautionsAs = said[key]; sv.CautionsAs == 0 {
				said[key] = sv.N
			}
		}
		var uses []string
		for _, id := range s.Uses {
			if p := j.Part(id); p != nil {
				uses = append(uses, cmp.Or(p.Name, p.ID))
			}
		}
		sv.Uses = strings.Join(uses, ", ")
		if s.GlueUp != nil && sv.State != job.Done {
			sv.Glue = r.glueView(j, s, states[s.ID])
		}
		if sv.Body, err = markdown([]byte(strings.Join(bodies[s.ID], "\n\n")), reading{below: 3, dir: j.Dir, pictures: pics}); err != nil {
			return err
		}
		v.Steps = append(v.Steps, sv)
	}
	return nil
}

// lagWords says when a step may begin, after a moment of another.
func (r *renderer) lagWords(j *job.Job, l job.Lag) string {
	name := l.Step
	if s := j.Step(l.Step); s != nil {
		name = "“" + cmp.Or(s.Name, s.ID) + "”"
	}
	moment := map[job.LagFrom]string{job.FromDone: " is done", job.FromBegun: " was begun", job.FromClampsOn: " went into the clamps",
		job.FromOff: " is out of the clamps", job.FromCured: " has cured"}[l.From]
	switch {
	case l.Least > 0 && l.HasMost:
		return fmt.Sprintf("%s to %s after %s%s", l.Least, l.Most, name, moment)
	case l.HasMost:
		return fmt.Sprintf("within %s after %s%s", l.Most, name, moment)
	case l.Least > 0:
		return fmt.Sprintf("at least %s after %s%s", l.Least, name, moment)
	}
	return "once " + name + moment
}

// stepWhen says when the plan has a step, in as few words as will do.
func (r *renderer) stepWhen(jobID, step string) []string {
	var out []string
	for _, it := range r.items[jobID] {
		if it.Step != step {
			continue
		}
		switch it.Kind {
		case plan.Bench:
			ss := it.Sessions
			if len(ss) == 0 {
				ss = []plan.Stretch{{From: it.From, To: it.To}}
			}
			for k, s := range ss {
				if k == 3 {
					out = append(out, fmt.Sprintf("and %d sessions more", len(ss)-k))
					break
				}
				out = append(out, r.span(s.From, s.To))
			}
			if !it.Latest.IsZero() {
				out = append(out, "begin by "+r.when(it.Latest))
			}
		case plan.Clamped:
			if it.Never {
				out = append(out, "clamps stay on: too cold to set")
			} else if !it.Earliest.IsZero() {
				out = append(out, "clamps off from "+r.when(it.Earliest))
			}
		case plan.Cure:
			if it.Never {
				out = append(out, "not to be machined: too cold to set")
			} else if !it.Earliest.IsZero() {
				out = append(out, "machining from "+r.when(it.Earliest))
			}
		}
	}
	return out
}

// temp writes a temperature in the shop's scale.
func (r *renderer) temp(t measure.Temperature) string {
	if r.in.Shop.Units.Temp == "F" {
		return t.FormatIn(measure.Fahrenheit)
	}
	return t.FormatIn(measure.Celsius)
}

// glueView works the glue-up out for the hour the plan has it, or for now where
// there is no plan. Once the clamps are on, the timer has the one time at which
// they come off, by the air that was written down; a sheet reckons from the
// first glue and would say something else.
func (r *renderer) glueView(j *job.Job, s *job.Step, st job.StepState) *glueView {
	at := r.in.Now
	closed := !st.Clamped.IsZero()
	if closed {
		at = st.Clamped
	}
	for _, it := range r.items[j.ID] {
		if it.Step == s.ID && it.Kind == plan.Bench && !closed {
			at = it.From
			break
		}
	}
	g, err := plan.GlueSheet(r.in.Shop, j, s, at)
	if err != nil {
		return &glueView{Trouble: err.Error()}
	}
	u := r.in.Shop.Units
	v := &glueView{Order: g.Sheet.Order, Warnings: g.Sheet.Warnings, Parts: g.Parts}
	add := func(what, is string) {
		if is != "" && is != "0 s" {
			v.Figures = append(v.Figures, figure{What: what, Is: is})
		}
	}
	name := g.Glue
	if g.Class != "" {
		name += ", " + g.Class
	}
	sh := g.Sheet
	add("glue", name)
	add("pour", fmt.Sprintf("%.0f g", sh.Grams))
	if !r.in.Shared {
		add("at", r.when(at)+", "+r.temp(sh.At))
	} else {
		add("at", r.temp(sh.At))
	}
	add("stays open", atMost(sh.Open))
	add("under pressure within", atMost(sh.Total))
	if sh.BySpacing > 0 {
		add("clamps to reach everywhere", fmt.Sprintf("%d, no more than %s apart", sh.BySpacing, measure.FormatUnit(sh.Coverage.Round(u.Length), u.Length)))
	}
	if sh.Cauls > 0 {
		add("stiff cauls right across", fmt.Sprintf("%d, %s thick, a clamp at each end", sh.Cauls, measure.FormatUnit(sh.CaulThick, u.Length)))
	}
	if len(g.Take) > 0 {
		add("clamps to lay out", strings.Join(g.Take, ", "))
	}
	switch {
	case closed:
		for _, t := range r.timers(j.ID, s.ID) {
			what := map[plan.Kind]string{plan.Clamped: "clamps off from", plan.Cure: "machining from"}[t.Kind]
			switch {
			case t.Never:
				add(strings.TrimSuffix(what, " from"), "not in this air")
			case t.Ready.After(r.in.Now) || t.Kind == plan.Clamped:
				add(what, r.when(t.Ready))
			}
		}
	case sh.ClampsOff.Never:
		add("clamps off", "not in this air")
	default:
		add("clamps off after", atLeast(sh.ClampsOff.Takes()))
		add("machining after", atLeast(sh.Machine.Takes()))
	}
	if p := r.in.Shop.PlaceByID(g.Place); p != nil {
		add("where", cmp.Or(p.Name, p.ID))
	}
	return v
}

// timers are what the log says of a step that runs by itself: its time in the
// clamps and its cure, without a squeeze-out to scrape.
func (r *renderer) timers(jobID, step string) []plan.Timer {
	var out []plan.Timer
	if r.in.Live == nil {
		return nil
	}
	for _, t := range r.in.Live.Timers {
		if t.Job == jobID && t.Step == step && t.Kind != plan.Wait {
			out = append(out, t)
		}
	}
	return out
}

// atMost writes a time that may not be overrun: in whole minutes, or halves of
// one where it is short, and never more than it is.
func atMost(s measure.Span) string {
	step := measure.Minute
	if s < 10*measure.Minute {
		step /= 2
	}
	return (s / step * step).String()
}

// atLeast writes a wait in whole minutes, never less than it is.
func atLeast(s measure.Span) string {
	return s.MinutesUp().String()
}
