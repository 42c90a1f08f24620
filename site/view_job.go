package site

import (
	"cmp"
	"fmt"
	"html/template"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"caul/job"
	"caul/job/cutting"
	partdraw "caul/job/drawing"
	"caul/job/measure"
	"caul/job/plan"
	"caul/job/proof"
)

// jobPage is one page of a job.
type jobPage struct {
	File, Title string
	Here        bool
	template    string
}

type jobView struct {
	ID, Name, For string
	Shared, Done  bool
	State         job.State
	Copies        int
	Finish, Due   string
	Late          string
	HandsOn       string
	Finished      string // of a job that is done: the day, and the hours its log has
	Logged        string
	Figures       []figure
	Findings      []proof.Finding // what stops the job first
	More          []proof.Finding // to be opened: a long list would hide the build
	Story         template.HTML
	HowTo         template.JS
	Steps         []stepView
	DaySheet      []template.HTML // for a phone and for wider
	Parts         []partView
	Drawings      []picView
	Hardware      []hardwareView
	Consumes      []string
	Measures      []measureView
	Sheets        []picView
	Cut           *cutAnswer
	Bill          *billView
	Series        []seriesView
	Log           []entryView
	Bare          int
	Pages         []jobPage
	Page          jobPage
	Wall          []wallStep
	Cautions      []string // of the whole job, each once
	stepsDone     int
}

// figure is one number of the overview.
type figure struct{ What, Is, Link string }

type partView struct {
	Name, Size, From, Note string
	Qty                    int
	Drawn                  string // id of its drawing
}

type picView struct {
	ID, Caption string
	SVG         template.HTML
}

type hardwareView struct {
	Item, Step, Note string
	Qty              int
}

type measureView struct{ Name, Is, Why string }

type cutAnswer struct {
	Answer   string
	Cautions []string
	Warn     []string
	Unfit    []string
	Panels   []string
	Order    []cutView
	Kerf     string
}

type cutView struct {
	N                                 int
	Piece, Kind, Fence, Gives, Beware string
	Same                              bool
}

// on gives the view as one page of the job has it.
func (v *jobView) on(p jobPage) *jobView {
	c := *v
	c.Pages = make([]jobPage, len(v.Pages))
	for i, q := range v.Pages {
		q.Here = q.File == p.File
		c.Pages[i] = q
	}
	c.Page = p
	return &c
}

func (r *renderer) jobView(j *job.Job) (*jobView, error) {
	in := r.in
	v := &jobView{ID: j.ID, Name: cmp.Or(j.Name, j.ID), For: j.For, Shared: in.Shared, Copies: j.Copies}
	states, _ := j.States()
	v.State, v.stepsDone = r.jobState(j, states)
	v.Done = v.State == job.Done && !in.Shared
	if jp := r.plans[j.ID]; jp != nil && !jp.Done && !v.Done {
		if v.Finish = r.when(jp.Finish); jp.HandsOn > 0 {
			v.HandsOn = jp.HandsOn.String()
		}
		if jp.Never {
			v.Finish = noFinish
		}
		if !jp.Due.IsZero() {
			v.Due = r.day(jp.Due)
		}
		if jp.Late > 0 {
			v.Late = measure.SpanOf(jp.Late).String()
		}
	}
	if v.Done {
		v.Finished, v.Logged = r.made(j, states)
	} else {
		v.Findings = slices.Clone(r.finds[j.ID])
		slices.SortStableFunc(v.Findings, func(a, b proof.Finding) int { return cmp.Compare(grave(a), grave(b)) })
		if n := len(v.Findings); n > findingsMost+1 {
			most := max(findingsMost, slices.IndexFunc(v.Findings, func(f proof.Finding) bool { return grave(f) > 0 }))
			if grave(v.Findings[n-1]) == 0 {
				most = n
			}
			v.Findings, v.More = v.Findings[:most], v.Findings[most:]
		}
	}
	if err := r.story(j, v, states); err != nil {
		return nil, err
	}
	r.parts(j, v)
	r.cuts(j, v)
	r.bill(j, v)
	r.readings(j, v)
	if err := r.log(j, v); err != nil {
		return nil, err
	}
	v.Bare = r.bare
	v.wall()
	if in.Plan != nil && !v.Done && len(r.items[j.ID]) > 0 {
		for _, o := range []plan.SheetOptions{{ID: "days-narrow", Width: 344}, {ID: "days"}} {
			o.Jobs, o.Bare, o.Days, o.Title = []string{j.ID}, true, true, "Day sheet"
			v.DaySheet = append(v.DaySheet, svg(plan.DaySheet(in.Plan, o)))
		}
	}
	r.figures(v)
	howTo, err := r.howTo(j, v)
	if err != nil {
		return nil, err
	}
	v.HowTo = howTo
	v.Pages = []jobPage{{File: "index.html", Title: "the build", template: "job"}}
	add := func(there bool, file, title, tmpl string) {
		if there {
			v.Pages = append(v.Pages, jobPage{File: file, Title: title, template: tmpl})
		}
	}
	add(len(v.Parts)+len(v.Hardware) > 0, "parts.html", "parts", "parts")
	add(v.Cut != nil, "cuts.html", "cuts", "cuts")
	add(v.Bill != nil, "cost.html", "cost", "cost")
	add(v.DaySheet != nil, "days.html", "day sheet", "days")
	add(len(v.Log)+len(v.Series) > 0, "log.html", "log and readings", "log")
	add(true, "sheet.html", "job sheet to print", "sheet")
	return v, nil
}

// svg marks a drawing of ours as safe to stand in a page.
func svg(b []byte) template.HTML { return template.HTML(b) } //nolint:gosec // drawn and escaped by our own packages

// figures are the numbers at the head of the job.
func (r *renderer) figures(v *jobView) {
	add := func(what, is, link string) {
		if is != "" {
			v.Figures = append(v.Figures, figure{what, is, link})
		}
	}
	days := "days.html"
	if v.DaySheet == nil {
		days = ""
	}
	add("finish", v.Finish, days)
	add("due", v.Due, "")
	if v.Late != "" {
		add("late by", v.Late, "")
	}
	add("hands-on, still to do", v.HandsOn, "")
	add("finished", v.Finished, "log.html")
	add("hands-on, as logged", v.Logged, "log.html")
	if v.Bill != nil {
		if v.Bill.ToPay != "" {
			add("to pay", strings.TrimSuffix(v.Bill.ToPay+", "+v.Bill.Short, ", "), "cost.html")
		}
		add("spent", v.Bill.Spent, "cost.html")
	}
	if n := len(v.Sheets); n > 0 {
		add("sheets and boards", fmt.Sprint(n), "cuts.html")
	}
	parts := 0
	for _, p := range v.Parts {
		parts += p.Qty
	}
	if parts > 0 {
		add("parts", fmt.Sprint(parts), "parts.html")
	}
	if v.Copies > 1 {
		add("copies", fmt.Sprint(v.Copies), "")
	}
}

// findingsMost are as many findings as stand open at the head of a job.
const findingsMost = 5

// grave is 0 for what stops a job.
func grave(f proof.Finding) int {
	if f.Severity == proof.Stop {
		return 0
	}
	return 1
}

// made says when a job was finished and how long it was worked at, as far as
// the log tells.
func (r *renderer) made(j *job.Job, states map[string]job.StepState) (finished, logged string) {
	var last time.Time
	for _, s := range states {
		if s.Finished.After(last) {
			last = s.Finished
		}
	}
	if !last.IsZero() {
		finished = r.day(last)
	}
	total := measure.Span(0)
	for _, e := range j.Counting() {
		total += e.Minutes
	}
	if total > 0 {
		logged = total.String()
	}
	return finished, logged
}

// jobState is the state of a job's liveliest step, and how many are done.
func (r *renderer) jobState(j *job.Job, states map[string]job.StepState) (job.State, int) {
	if r.in.Shared {
		return "", 0
	}
	rank := map[job.State]int{job.OnBench: 5, job.InClamps: 4, job.Curing: 3, job.Ready: 2, job.Waiting: 1}
	best, done, finished := job.State(""), len(j.Steps) > 0, 0
	for _, s := range j.Steps {
		st := states[s.ID].State
		if st == "" {
			st = job.Waiting
		}
		if st == job.Done {
			finished++
		}
		if st != job.Done && st != job.Aside && (!s.Optional || st != job.Waiting) {
			done = false
		}
		if rank[st] > rank[best] {
			best = st
		}
	}
	switch {
	case done:
		best = job.Done
	case best == "" || best == job.Waiting && finished == 0:
		best = job.Waiting
	case best == job.Waiting:
		best = job.Ready // begun, and something of it comes next
	}
	return best, finished
}

func (r *renderer) size(d [3]job.Dim) string {
	u := r.in.Shop.Units.Length
	return measure.Format(d[0].Length, u) + " × " + measure.Format(d[1].Length, u) + " × " + measure.FormatUnit(d[2].Length, u)
}

func (r *renderer) parts(j *job.Job, v *jobView) {
	u := r.in.Shop.Units.Length
	copies := max(1, j.Copies)
	for i := range j.Parts {
		p := &j.Parts[i]
		pv := partView{Name: cmp.Or(p.Name, p.ID), Qty: p.Qty * copies, From: r.stockName(p.From), Size: r.size(p.Size)}
		var notes []string
		if p.Oversize.Set && p.Oversize.Length > 0 {
			notes = append(notes, "cut "+measure.FormatUnit(p.Oversize.Length, u)+" over, trimmed after the glue-up")
		}
		if p.FitToMeasure {
			notes = append(notes, "measure, then cut")
		}
		if p.Held != "" {
			notes = append(notes, "held "+p.Held)
		}
		if p.Note != "" {
			notes = append(notes, p.Note)
		}
		pv.Note = strings.Join(notes, "; ")
		if len(p.Machining) > 0 {
			pv.Drawn = "part-" + p.ID
			v.Drawings = append(v.Drawings, picView{ID: pv.Drawn, Caption: fmt.Sprintf("%s: make %d", pv.Name, pv.Qty),
				SVG: svg(partdraw.Part(r.in.Shop, j, p, partdraw.Options{Units: u, ID: "d-" + p.ID, Bare: true}))})
		}
		v.Parts = append(v.Parts, pv)
	}
	for _, h := range j.Hardware {
		hv := hardwareView{Item: h.Item, Qty: h.Qty * copies, Note: h.Note}
		if s := j.Step(h.Step); s != nil {
			hv.Step = cmp.Or(s.Name, s.ID)
		}
		v.Hardware = append(v.Hardware, hv)
	}
	seen := map[string]bool{}
	for _, c := range j.Consumes {
		if !seen[c.Item] {
			seen[c.Item] = true
			v.Consumes = append(v.Consumes, c.Item)
		}
	}
	for _, m := range j.Measures {
		if !m.Set {
			continue
		}
		mv := measureView{Name: m.Name, Is: measure.FormatUnit(m.Length, u), Why: m.Ask}
		if m.Src != "" && m.Src != mv.Is && strings.ContainsAny(m.Src, "abcdefghijklmnopqrstuvwxyz") {
			mv.Why = strings.TrimPrefix(mv.Why+"; "+m.Src, "; ")
		}
		v.Measures = append(v.Measures, mv)
	}
}

var across = regexp.MustCompile(`([0-9]) x ([0-9])`)

// by writes the sizes in a text with the sign for times.
func by(s string) string { return across.ReplaceAllString(s, "$1 × $2") }

func (r *renderer) stockName(id string) string {
	if s := r.in.Shop.StockByID(id); s != nil && s.Name != "" {
		return s.Name
	}
	return id
}

func (r *renderer) cuts(j *job.Job, v *jobView) {
	c := r.in.Cuts[j.ID]
	if c == nil || v.Done || len(c.Sheets)+len(c.Unfit) == 0 {
		return
	}
	u := r.in.Shop.Units.Length
	a := &cutAnswer{Answer: c.Answer, Cautions: c.Cautions, Warn: c.Warn}
	if c.Kerf > 0 {
		a.Kerf = measure.FormatUnit(c.Kerf, u)
	}
	for i, s := range c.Sheets {
		v.Sheets = append(v.Sheets, picView{ID: "sheet-" + s.Label, Caption: fmt.Sprintf("%s, %d %% used", s.Name, int(s.Yield*100+0.5)),
			SVG: svg(cutting.SVG(c, i, cutting.SVGOptions{Units: u, Bare: true}))})
	}
	for _, x := range c.Unfit {
		a.Unfit = append(a.Unfit, fmt.Sprintf("%d %s: %s", x.Qty, x.Part, x.Why))
	}
	for _, p := range c.Panels {
		a.Panels = append(a.Panels, p.Text)
	}
	minded, first := "", 0
	for _, s := range c.Order {
		cv := cutView{N: s.N, Piece: s.Piece, Kind: s.Kind, Fence: measure.FormatUnit(s.Fence, u), Same: s.SameAs, Gives: by(strings.Join(s.Gives, "; "))}
		cv.Beware = strings.TrimPrefix(strings.Join([]string{"", s.Caution, s.Note}, "; "), "; ")
		cv.Beware = strings.Trim(strings.ReplaceAll(cv.Beware, "; ; ", "; "), "; ")
		// What is to be minded is said in full at the first of several cuts alike.
		if cv.Beware != "" && cv.Beware == minded {
			cv.Beware = "as at cut " + strconv.Itoa(first)
		} else {
			minded, first = cv.Beware, cv.N
		}
		a.Order = append(a.Order, cv)
	}
	v.Cut = a
}
