package bench

import (
	"fmt"
	"html/template"
	"net/http"
	"path"
	"slices"
	"strings"
	"time"

	"caul/job"
	"caul/job/drawing"
	"caul/job/measure"
	"caul/job/plan"
	"caul/site"
)

type stepView struct {
	Job      *job.Job
	Step     *job.Step
	State    job.State
	By       string // what it waits for
	Acts     *actsView
	Timers   []timerView
	Cautions []string
	More     []string // further cautions
	SetUp    *setUpView
	Glue     *glueView
	Parts    []partView
	Body     template.HTML
	Tasks    []job.Task
	Checks   []job.Check
	Readings map[string]*readView // the newest of every check
	Last     *lastView
}

// setUpView is what to lay out and how the machine is set.
type setUpView struct {
	Machine, Setting string
	Cutters          []string
	Parts, Hardware  []string
	Needs, Place     string
	Takes            string
}

// glueView is the glue-up worked out for now.
type glueView struct {
	*plan.GlueUpSheet
	Air       string
	OpenTime  int64 // seconds
	OpenText  string
	Hands     string
	Pour      string
	OffAt     string
	MachineAt string
	DryFit    []string
	Trouble   string // why there is no sheet
}

// readView is a reading with its verdict.
type readView struct {
	Text, Shim, At string
	True           bool
}

type partView struct {
	Name, Size string
	SVG        template.HTML
}

// cautionsOpen is how many cautions stand open; the rest are one tap away.
const cautionsOpen = 3

func (s *Server) step(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	j := shop.Job(r.PathValue("job"))
	if j == nil {
		s.gone(w, r)
		return
	}
	st := j.Step(r.PathValue("step"))
	if st == nil {
		s.gone(w, r)
		return
	}
	path := r.URL.RequestURI()
	v := stepView{Job: j, Step: st, Checks: j.Checks}
	over := false
	v.State, v.By, v.Timers, over = s.stateOf(shop, j, st, path)
	v.Acts = acts(shop, j.ID, st.ID, v.State, over, path)
	all := cautionsOf(shop, j, st.ID)
	v.Cautions = all[:min(len(all), cautionsOpen)]
	v.More = all[len(v.Cautions):]
	v.SetUp = setUp(shop, j, st)
	if st.GlueUp != nil {
		v.Glue = s.glueUp(shop, j, st)
	}
	v.Parts = parts(shop, j, st)
	v.Body, v.Tasks = story(j, st)
	_, newest := verdicts(shop, j)
	v.Readings = map[string]*readView{}
	for id, r := range newest {
		v.Readings[id] = &readView{r.Text, r.Shim, dayTime(r.At, zone(shop)), r.True}
	}
	if e := s.lastEntry(j); e != nil && s.cfg.Now().Sub(e.WrittenAt()) <= lastFor {
		v.Last = &lastView{Job: j.ID, Entry: e.ID, What: entryWords(j, e), At: dayTime(e.Time, zone(shop))}
	}
	s.show(w, r, "step", stepName(st), v)
}

// stateOf is a step's state with the waits worked out, what it waits for, and
// what runs about it; over tells that the clamps may come off.
func (s *Server) stateOf(shop *job.Shop, j *job.Job, st *job.Step, path string) (job.State, string, []timerView, bool) {
	states, _ := j.States()
	state := states[st.ID].State
	n, err := s.now(shop, 0)
	if err != nil {
		return state, "", nil, true
	}
	var timers []timerView
	curing, over := false, false
	for _, t := range n.Timers {
		if t.Job == j.ID && t.Step == st.ID {
			tv := s.timer(shop, t, path)
			tv.Acts = nil
			timers = append(timers, tv)
			curing = curing || t.Kind == plan.Cure
			over = over || t.Kind == plan.Clamped && tv.Over
		}
	}
	if state == job.Curing && !curing {
		state = job.Done
	}
	if state == job.Waiting {
		state = job.Ready
		for _, b := range n.Blocked {
			if b.Job == j.ID && b.Step == st.ID {
				return job.Waiting, b.By, timers, over
			}
		}
	}
	return state, "", timers, over
}

func setUp(shop *job.Shop, j *job.Job, st *job.Step) *setUpView {
	v := &setUpView{Setting: st.SetUp, Place: placeName(shop, st.Place)}
	if m := shop.MachineByID(st.Machine); m != nil {
		v.Machine = m.Name
	}
	if st.Takes > 0 {
		v.Takes = st.Takes.String()
	}
	copies := max(1, j.Copies)
	for _, id := range usedParts(st) {
		if p := j.Part(id); p != nil {
			v.Parts = append(v.Parts, fmt.Sprintf("%d %s", p.Qty*copies, partName(p)))
			v.Cutters = append(v.Cutters, cuttersOf(shop, p, st.Machine)...)
		}
	}
	slices.Sort(v.Cutters)
	v.Cutters = slices.Compact(v.Cutters)
	for _, h := range j.Hardware {
		if h.Step == st.ID {
			v.Hardware = append(v.Hardware, fmt.Sprintf("%d %s", h.Qty*copies, h.Item))
		}
	}
	for _, c := range j.Consumes {
		if c.Step == st.ID {
			v.Hardware = append(v.Hardware, c.Item)
		}
	}
	var needs []string
	for _, c := range shop.Clamps {
		if n := st.Needs[c.ID]; n > 0 {
			needs = append(needs, fmt.Sprintf("%d %s", n, c.ID))
		}
	}
	v.Needs = strings.Join(needs, ", ")
	return v
}

// cuttersOf are the cutters that a machine needs for a part.
func cuttersOf(shop *job.Shop, p *job.Part, machine string) []string {
	var out []string
	for _, f := range p.Machining {
		if f.Cutter == "" || f.Machine != "" && f.Machine != machine || machine == "" {
			continue
		}
		for _, c := range shop.Cutters {
			if c.ID == f.Cutter && f.Machine == machine {
				name := c.Name
				if name == "" {
					name = c.ID
				}
				out = append(out, name)
			}
		}
	}
	return out
}

func placeName(shop *job.Shop, id string) string {
	if p := shop.PlaceByID(id); p != nil && p.Name != "" {
		return p.Name
	}
	return id
}

// usedParts are the parts a step or its glue-up names, each once.
func usedParts(st *job.Step) []string {
	ids := slices.Clone(st.Uses)
	if st.GlueUp != nil {
		ids = append(ids, st.GlueUp.Joins...)
	}
	var out []string
	for _, id := range ids {
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

func partName(p *job.Part) string {
	if p.Name == "" {
		return p.ID
	}
	return p.Name
}

// parts draws the parts a step uses.
func parts(shop *job.Shop, j *job.Job, st *job.Step) []partView {
	var out []partView
	u := shop.Units.Length
	for _, id := range usedParts(st) {
		p := j.Part(id)
		if p == nil || !p.Size[0].Set {
			continue
		}
		svg := drawing.Part(shop, j, p, drawing.Options{Units: u, Bare: true})
		out = append(out, partView{
			Name: fmt.Sprintf("%d %s", p.Qty*max(1, j.Copies), partName(p)),
			Size: measure.Format(p.Size[0].Length, u) + " × " + measure.Format(p.Size[1].Length, u) + " × " + measure.FormatUnit(p.Size[2].Length, u),
			SVG:  template.HTML(svg), //nolint:gosec // drawn and escaped by our own package
		})
	}
	return out
}

// glueUp works the glue-up out: for now, or for when the clamps went on. Once
// they are on, the log says when they come off, by the air that was written
// down; a sheet reckons from the first glue and would say something else.
func (s *Server) glueUp(shop *job.Shop, j *job.Job, st *job.Step) *glueView {
	at, z := s.cfg.Now(), zone(shop)
	states, _ := j.States()
	closed := !states[st.ID].Clamped.IsZero()
	if closed {
		at = states[st.ID].Clamped
	}
	v := &glueView{OpenTime: int64(plan.OpenTime(shop, st.GlueUp, at).Duration().Seconds())}
	sheet, err := plan.GlueSheet(shop, j, st, at)
	if err != nil {
		v.Trouble = err.Error()
		return v
	}
	v.GlueUpSheet = sheet
	g, scale := sheet.Sheet, measure.Celsius
	if shop.Units.Temp == "F" {
		scale = measure.Fahrenheit
	}
	v.Air = g.At.FormatIn(scale)
	v.OpenText = g.Open.String()
	v.Hands = fmt.Sprintf("%s + %s", g.Spread, g.Close)
	v.Pour = fmt.Sprintf("%.0f g, %.0f ml", g.Grams, g.Millilitres)
	switch {
	case closed:
		sheet.Why = ""
		v.running(s.planned(), j.ID, st.ID, z)
	default:
		if !g.ClampsOff.Never {
			v.OffAt = dayTime(g.ClampsOff.Ready, z)
		}
		if !g.Machine.Never {
			v.MachineAt = dayTime(g.Machine.Ready, z)
		}
	}
	v.DryFit = append(v.DryFit, sheet.Parts...)
	v.DryFit = append(v.DryFit, sheet.Take...)
	if sheet.Place != "" {
		v.DryFit = append(v.DryFit, placeName(shop, sheet.Place))
	}
	return v
}

// running fills in the waits of a joint that is closed, as the plan has them
// from the log.
func (v *glueView) running(p *plan.Plan, jobID, step string, z *time.Location) {
	if p == nil {
		return
	}
	for _, it := range p.Items {
		if it.Job != jobID || it.Step != step || !it.Started || it.Never {
			continue
		}
		switch it.Kind {
		case plan.Clamped:
			v.OffAt, v.Why = dayTime(it.Earliest, z), it.Because
		case plan.Cure:
			v.MachineAt = dayTime(it.Earliest, z)
		}
	}
}

// story is what build.md says of a step, its tasks apart.
func story(j *job.Job, st *job.Step) (template.HTML, []job.Task) {
	var body strings.Builder
	var tasks []job.Task
	for _, sec := range j.Build.Sections {
		if sec.Step == st.ID {
			body.WriteString(sec.Body + "\n\n")
			tasks = append(tasks, sec.Tasks...)
		}
	}
	html, err := site.Prose(withoutTasks(body.String()), j.Dir, func(file string) string { return photoAt(j, file) })
	if err != nil {
		return "", tasks
	}
	return html, tasks
}

// photoAt is the page's address of a job's picture, "" for a file elsewhere.
func photoAt(j *job.Job, file string) string {
	if path.Dir(file) != j.Dir+"/photos" {
		return ""
	}
	return "/photos/" + j.ID + "/" + path.Base(file)
}

// withoutTasks leaves out task items, which the page draws as buttons.
func withoutTasks(md string) string {
	var out []string
	for _, l := range strings.Split(md, "\n") {
		t := strings.TrimLeft(l, " \t")
		if len(t) > 5 && strings.ContainsAny(t[:1], "-*+") && (strings.HasPrefix(t[1:], " [ ]") || strings.HasPrefix(t[1:], " [x]") || strings.HasPrefix(t[1:], " [X]")) {
			continue
		}
		out = append(out, l)
	}
	return strings.Join(out, "\n")
}
