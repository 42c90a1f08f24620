package site

import (
	"fmt"
	"html/template"
	"path"
	"strings"
	"time"

	"caul/job"
	"caul/job/cutting"
	partdraw "caul/job/drawing"
	"caul/job/measure"
	"caul/job/picture"
	"caul/job/plan"
	"caul/job/proof"
)

type jobView struct {
	ShopName, Name, For string
	State               job.State
	Finish, HandsOn     string
	Proved              string
	Findings            []proof.Finding
	Story               template.HTML
	Steps               []stepView
	DaySheet            template.HTML
	Parts               []partView
	Drawings            []drawing
	Hardware            []string
	Sheets              []drawing
	CutAnswer           string
	CutOrder            []cutView
	Bill                *billView
	Checks              []string
	Log                 []entryView
}

type stepView struct {
	ID, Name, Facts, When string
	State                 job.State
	Cautions              []string
	Body                  template.HTML
}

type partView struct {
	Name, Size, From, Note string
	Qty                    int
}

type drawing struct {
	SVG     template.HTML
	Caption string
}

type cutView struct {
	N                                  int
	Piece, Kind, Fence, Gives, Caution string
}

type billView struct {
	Lines          []billLine
	Total, Summary string
}

type billLine struct{ Item, Need, Buy, Cost, Left string }

type entryView struct {
	ID, When, ISO, What string
	Body                template.HTML
}

func (r *renderer) jobView(j *job.Job) (*jobView, error) {
	in := r.in
	v := &jobView{ShopName: in.Shop.Name, Name: j.Name, For: j.For, State: r.jobState(j)}
	if jp := r.jobPlan(j.ID); jp != nil && !jp.Done {
		v.Finish, v.HandsOn = r.when(jp.Finish), jp.HandsOn.String()
	}
	if in.Proof != nil {
		for _, f := range in.Proof.Findings {
			if f.Job == j.ID {
				v.Findings = append(v.Findings, f)
			}
		}
	}
	if err := r.story(j, v); err != nil {
		return nil, err
	}
	if in.Plan != nil && v.State != job.Done {
		v.DaySheet = svg(plan.DaySheet(onlyJob(in.Plan, j.ID), plan.SheetOptions{}))
	}
	u := in.Shop.Units.Length
	for _, p := range j.Parts {
		pv := partView{Name: p.Name, Qty: p.Qty * max(1, j.Copies), From: p.From, Note: p.Note,
			Size: measure.Format(p.Size[0].Length, u) + " × " + measure.Format(p.Size[1].Length, u) + " × " + measure.FormatUnit(p.Size[2].Length, u)}
		if pv.Name == "" {
			pv.Name = p.ID
		}
		v.Parts = append(v.Parts, pv)
	}
	for i := range j.Parts {
		if p := &j.Parts[i]; len(p.Machining) > 0 {
			name := p.Name
			if name == "" {
				name = p.ID
			}
			v.Drawings = append(v.Drawings, drawing{SVG: svg(partdraw.Part(in.Shop, j, p, partdraw.Options{Units: u})), Caption: name})
		}
	}
	for _, h := range j.Hardware {
		v.Hardware = append(v.Hardware, fmt.Sprintf("%d %s", h.Qty*max(1, j.Copies), h.Item))
	}
	r.cuts(j, v)
	r.bill(j, v)
	return v, r.log(j, v)
}

// onlyJob keeps one job's items of a plan, for its own day sheet.
func onlyJob(p *plan.Plan, id string) *plan.Plan {
	q := *p
	q.Items, q.Chain = nil, nil
	for _, it := range p.Items {
		if it.Job == id {
			q.Items = append(q.Items, it)
		}
	}
	return &q
}

// svg marks a drawing of ours as safe to stand in a page.
func svg(b []byte) template.HTML { return template.HTML(b) } //nolint:gosec // drawn and escaped by our own packages

func (r *renderer) story(j *job.Job, v *jobView) error {
	states, _ := j.States()
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
	var err error
	if v.Story, err = markdown([]byte(story.String()), 0, j.Dir, r.pictures(j)); err != nil {
		return err
	}
	for _, s := range j.Steps {
		sv := stepView{ID: s.ID, Name: s.Name, State: states[s.ID].State, Cautions: proof.StepCautions(r.in.Shop, j, s.ID)}
		if sv.Name == "" {
			sv.Name = s.ID
		}
		if sv.State == "" {
			sv.State = job.Waiting
		}
		var facts []string
		if s.Takes != 0 {
			facts = append(facts, s.Takes.String()+" hands-on")
		}
		if s.SetUp != "" {
			facts = append(facts, "set-up: "+s.SetUp)
		}
		if g := s.GlueUp; g != nil {
			facts = append(facts, "glue: "+g.Glue)
		}
		sv.Facts = strings.Join(facts, " · ")
		sv.When = r.stepWhen(j.ID, s.ID)
		if sv.Body, err = markdown([]byte(strings.Join(bodies[s.ID], "\n\n")), 2, j.Dir, r.pictures(j)); err != nil {
			return err
		}
		v.Steps = append(v.Steps, sv)
	}
	return nil
}

// stepWhen says when the plan has a step.
func (r *renderer) stepWhen(jobID, step string) string {
	if r.in.Plan == nil {
		return ""
	}
	var out []string
	for _, it := range r.in.Plan.Items {
		if it.Job == jobID && it.Step == step {
			out = append(out, fmt.Sprintf("%s %s to %s", it.Kind, r.when(it.From), r.when(it.To)))
		}
	}
	return strings.Join(out, "; ")
}

func (r *renderer) cuts(j *job.Job, v *jobView) {
	c := r.in.Cuts[j.ID]
	if c == nil {
		return
	}
	u := r.in.Shop.Units.Length
	v.CutAnswer = c.Answer
	for i, s := range c.Sheets {
		v.Sheets = append(v.Sheets, drawing{SVG: svg(cutting.SVG(c, i, cutting.SVGOptions{Units: u})), Caption: s.Name})
	}
	for _, s := range c.Order {
		v.CutOrder = append(v.CutOrder, cutView{N: s.N, Piece: s.Piece, Kind: s.Kind, Fence: measure.FormatUnit(s.Fence, u),
			Gives: strings.Join(s.Gives, "; "), Caution: s.Caution})
	}
}

func (r *renderer) bill(j *job.Job, v *jobView) {
	b := r.in.Bills[j.ID]
	if b == nil {
		return
	}
	bv := &billView{Total: b.Total.String()}
	for _, l := range b.Buy {
		buy := ""
		if l.Packs > 0 {
			buy = fmt.Sprintf("%d × %s", l.Packs, l.Pack)
		}
		bv.Lines = append(bv.Lines, billLine{Item: l.Item, Need: l.Need, Buy: buy, Cost: l.Cost.String(), Left: l.Left})
	}
	bv.Summary = fmt.Sprintf("Goes into the jig: %s. Left over: %s. Spent so far: %s.", b.Used, b.Left, b.Spent)
	v.Bill = bv
}

func (r *renderer) log(j *job.Job, v *jobView) error {
	names := map[string]string{}
	for _, s := range j.Steps {
		names[s.ID] = s.Name
	}
	for i := len(j.Log) - 1; i >= 0; i-- {
		e := j.Log[i]
		body, err := markdown([]byte(e.Text), 3, path.Dir(e.File), r.pictures(j))
		if err != nil {
			return err
		}
		what := e.Did
		if e.Step != "" {
			what += " " + e.Step
			if n := names[e.Step]; n != "" {
				what = e.Did + ": " + n
			}
		}
		if e.Check != "" {
			what += " " + e.Check
			if e.Value.Set {
				what += ": " + measure.FormatUnit(e.Value.Length, r.in.Shop.Units.Length)
			}
		}
		v.Log = append(v.Log, entryView{ID: e.ID, When: r.when(e.Time), ISO: e.Time.In(r.zone()).Format(time.RFC3339), What: what, Body: body})
	}
	return nil
}

// pictures cleans each picture once, puts it beside the job's page and gives
// its address there.
func (r *renderer) pictures(j *job.Job) func(file, alt string) string {
	return func(file, _ string) string {
		if r.in.Open == nil || !strings.HasPrefix(file, j.Dir+"/") {
			return ""
		}
		data, err := r.in.Open(file)
		if err != nil {
			return ""
		}
		out, ext, err := picture.Clean(data, picture.Keep)
		if err != nil {
			return ""
		}
		name := strings.TrimSuffix(path.Base(file), path.Ext(file)) + ext
		r.out[path.Join("jobs", j.ID, "photos", name)] = out
		return "photos/" + name
	}
}
