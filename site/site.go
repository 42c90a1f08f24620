package site

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"path"
	"runtime"
	"sort"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
	"caul/job/drawing"
	"caul/job/plan"
	"caul/job/proof"
)

//go:embed templates/*.html static/*
var assets embed.FS

// Input is everything the pages are drawn from. Maps are by job id; what is
// missing is left off the pages.
type Input struct {
	Shop  *job.Shop
	Now   time.Time
	Plan  *plan.Plan
	Live  *plan.Now
	Cuts  map[string]*cutting.Cut
	Bills map[string]*cost.Bill
	Proof *proof.Proof

	NoPlan   string    // why there is no plan, in shop words
	BothWays []BothWay // values two machines changed, not settled yet

	// Shared draws a build to send: nothing of the shop itself, and no job's
	// state; Build heads its first page.
	Shared bool
	Build  SharedBuild

	// Kept holds pages of finished jobs from an earlier drawing; nil draws all.
	Kept *Memory

	// Open reads a picture of the shop by its slash path; nil draws no pictures.
	Open func(path string) ([]byte, error)
}

// SharedBuild heads the first page of a build to send.
type SharedBuild struct {
	By, Version string
	Changes     []string // since the version before
}

// BothWay is a value that two machines changed.
type BothWay struct {
	File, Path, What  string
	Stands, Other     string
	StandsBy, OtherBy string    // machines
	StandsAt, OtherAt time.Time // zero: not known
	Before            string
}

// Files are pages and what they need: slash path to content.
type Files map[string][]byte

// Paths lists the paths in order.
func (f Files) Paths() []string {
	out := make([]string, 0, len(f))
	for p := range f {
		out = append(out, p)
	}
	sort.Strings(out)
	return out
}

// Site is a drawn site: its pages, and the pictures they show by their place
// in the site, each with its place in the shop. Pictures are cleaned when they
// are written, one at a time, so that a large shop does not have to fit into
// memory.
type Site struct {
	Pages    Files
	Pictures map[string]string

	standing []block           // pages and pictures that are there already
	jobs     map[string]*drawn // by job id
	lines    map[string]string // once written: the list of pages, by job folder, but for those
}

// All gives pages and cleaned pictures together, for a site that is small.
func (s *Site) All(open func(path string) ([]byte, error)) (Files, error) {
	out := Files{}
	for p, b := range s.Pages {
		out[p] = b
	}
	for p, from := range s.Pictures {
		data, err := open(from)
		if err != nil {
			return nil, err
		}
		out[p], _ = clean(data)
	}
	return out, nil
}

var templates = sync.OnceValues(func() (*template.Template, error) {
	return template.New("").Funcs(funcs()).ParseFS(assets, "templates/*.html")
})

// Render draws the whole site. The same input gives the same bytes, whether
// pages of finished jobs are held from an earlier drawing or not.
func Render(in Input) (*Site, error) {
	t, err := templates()
	if err != nil {
		return nil, err
	}
	r := &renderer{in: in, t: t, out: &Site{Pages: Files{}, Pictures: map[string]string{}, standing: in.Kept.standing(), jobs: map[string]*drawn{}}}
	r.byJob()
	all := make([]*drawn, len(in.Shop.Jobs))
	after := in.Kept.feedAfter(feedMost)
	var g errgroup.Group
	g.SetLimit(max(1, runtime.GOMAXPROCS(0)))
	for i, j := range in.Shop.Jobs {
		if in.Kept.Holds(j.ID) {
			all[i] = in.Kept.held[j.ID].drawn(after)
			continue
		}
		g.Go(func() (err error) {
			all[i], err = r.drawJob(j)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	var feeds [][]feedEntry
	for i, j := range in.Shop.Jobs {
		d := all[i]
		r.out.jobs[j.ID] = d
		if d.site != nil {
			maps.Copy(r.out.Pages, d.site.Pages)
			maps.Copy(r.out.Pictures, d.site.Pictures)
			d.site = nil
		}
		feeds = append(feeds, d.feed)
		r.bare += d.bare
	}
	feed := newest(feeds, feedMost)
	if err := in.Kept.fillFeed(feed); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrForgot, err)
	}
	if err := r.shopPages(feed); err != nil {
		return nil, err
	}
	return r.out, nil
}

// ErrForgot says that a Memory does not hold what it should; a site drawn
// without it is whole.
var ErrForgot = errors.New("what was kept of the pages does not read")

// drawn are the pages of one job, and what the shop's pages tell of it.
type drawn struct {
	held bool  // the pages stand already
	site *Site // nil when they do, and once they are in the whole site
	feed []feedEntry
	bare int // pictures without a description

	state            job.State
	steps, stepsDone int
	card             string // on the shop's first page, once that is drawn
}

type renderer struct {
	in    Input
	t     *template.Template
	out   *Site
	plans map[string]*plan.JobPlan
	items map[string][]plan.Item
	finds map[string][]proof.Finding
	bare  int
	feed  []feedEntry // of the job being drawn
	quiet bool        // of a job that is done, whose pages do not change with the day
}

// byJob sorts what belongs to a job out of the answers for the whole shop.
func (r *renderer) byJob() {
	r.plans, r.items, r.finds = map[string]*plan.JobPlan{}, map[string][]plan.Item{}, map[string][]proof.Finding{}
	if p := r.in.Plan; p != nil {
		for i := range p.Jobs {
			r.plans[p.Jobs[i].Job] = &p.Jobs[i]
		}
		for _, it := range p.Items {
			r.items[it.Job] = append(r.items[it.Job], it)
		}
	}
	if r.in.Proof != nil {
		for _, f := range r.in.Proof.Findings {
			r.finds[f.Job] = append(r.finds[f.Job], f)
		}
	}
}

// drawJob draws the pages of one job.
func (r *renderer) drawJob(j *job.Job) (*drawn, error) {
	one := *r
	one.out, one.feed, one.bare = &Site{Pages: Files{}, Pictures: map[string]string{}}, nil, 0
	v, err := one.jobView(j)
	if err != nil {
		return nil, err
	}
	one.quiet = v.Done
	for _, pg := range v.Pages {
		if err := one.page(path.Join("jobs", j.ID, pg.File), pg.template, v.on(pg)); err != nil {
			return nil, err
		}
	}
	return &drawn{site: one.out, feed: one.feed, bare: one.bare, state: v.State, steps: len(j.Steps), stepsDone: v.stepsDone}, nil
}

// shopPages draws what is about the shop as a whole.
func (r *renderer) shopPages(feed []feedEntry) error {
	css, err := styles()
	if err != nil {
		return err
	}
	r.out.Pages["style.css"] = css
	if r.out.Pages["site.js"], err = assets.ReadFile("static/site.js"); err != nil {
		return err
	}
	type sheet struct {
		file, name string
		view       func() (any, error)
	}
	sheets := []sheet{{"figures.html", "figures", func() (any, error) { return r.figuresView(), nil }}}
	if r.in.Shared {
		sheets = append(sheets, sheet{"index.html", "build", func() (any, error) { return r.buildView(), nil }})
	} else {
		sheets = append(sheets,
			sheet{"index.html", "index", func() (any, error) { return r.indexView() }},
			sheet{"fittings.html", "fittings", func() (any, error) { return r.fittingsView(), nil }},
			sheet{"both-ways.html", "bothways", func() (any, error) { return r.bothWaysView(), nil }})
	}
	drawn := make([][]byte, len(sheets))
	var g errgroup.Group
	for i, p := range sheets {
		g.Go(func() error {
			v, err := p.view()
			if err == nil {
				drawn[i], err = r.draw(p.file, p.name, v)
			}
			return err
		})
	}
	if !r.in.Shared {
		if r.in.Plan != nil {
			r.out.Pages["shop.ics"] = plan.Calendar(r.in.Plan, plan.CalendarOptions{Shop: r.in.Shop.Name})
		}
		r.out.Pages["feed.atom"], err = r.atom(feed)
	}
	if err := errors.Join(err, g.Wait()); err != nil {
		return err
	}
	for i, p := range sheets {
		r.out.Pages[p.file] = drawn[i]
	}
	return nil
}

// styles is the one style sheet: the pages' own, and those of the drawings, so
// that no page carries them again.
func styles() ([]byte, error) {
	css, err := assets.ReadFile("static/style.css")
	if err != nil {
		return nil, err
	}
	return []byte(cutting.SVGStyle + drawing.Style + plan.SheetCSS + string(css)), nil
}

func (r *renderer) page(file, name string, v any) (err error) {
	r.out.Pages[file], err = r.draw(file, name, v)
	return err
}

// draw executes a template; every page knows the way back to the top, so that
// the site works under any path and from a folder.
func (r *renderer) draw(file, name string, v any) ([]byte, error) {
	data := struct {
		Up     string
		Shop   string
		Shared bool
		Drawn  string
		V      any
	}{strings.Repeat("../", strings.Count(file, "/")), r.in.Shop.Name, r.in.Shared, r.drawnAt(), v}
	b, err := r.execute(name+".html", data)
	if err != nil {
		return nil, fmt.Errorf("drawing %s: %w", file, err)
	}
	return b, nil
}

// execute executes a template, of a page or of a part of one.
func (r *renderer) execute(name string, v any) ([]byte, error) {
	b := scratch.Get().(*bytes.Buffer)
	defer scratch.Put(b)
	b.Reset()
	err := r.t.ExecuteTemplate(b, name, v)
	return bytes.Clone(b.Bytes()), err
}

// drawnAt stands at the foot of a page: the day, so that pages do not differ
// by the minute they were drawn in. The pages of a job that is done tell
// nothing that passes, and have none.
func (r *renderer) drawnAt() string {
	if r.quiet {
		return ""
	}
	return r.in.Now.In(r.zone()).Format("2 January 2006")
}

func (r *renderer) zone() *time.Location {
	if r.in.Shop.Zone != nil {
		return r.in.Shop.Zone
	}
	return time.UTC
}

var scratch = sync.Pool{New: func() any { return new(bytes.Buffer) }}
