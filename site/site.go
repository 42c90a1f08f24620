package site

import (
	"embed"
	"fmt"
	"html/template"
	"path"
	"sort"
	"time"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
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
	Shared   bool      // a build to send: nothing of the shop itself

	// Open reads a picture of the shop by its slash path; nil draws no pictures.
	Open func(path string) ([]byte, error)
}

// BothWay is a value that two machines changed.
type BothWay struct {
	File, Path, What  string
	Stands, Other     string
	StandsBy, OtherBy string
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

// Render draws the whole site. The same input gives the same bytes.
func Render(in Input) (Files, error) {
	r := &renderer{in: in, out: Files{}}
	t, err := template.New("").Funcs(r.funcs()).ParseFS(assets, "templates/*.html")
	if err != nil {
		return nil, err
	}
	r.t = t
	css, err := assets.ReadFile("static/style.css")
	if err != nil {
		return nil, err
	}
	r.out["style.css"] = css
	if err := r.page("index.html", "index", r.indexView()); err != nil {
		return nil, err
	}
	for _, j := range in.Shop.Jobs {
		v, err := r.jobView(j)
		if err != nil {
			return nil, err
		}
		dir := path.Join("jobs", j.ID)
		if err := r.page(path.Join(dir, "index.html"), "job", v); err != nil {
			return nil, err
		}
		if err := r.page(path.Join(dir, "sheet.html"), "sheet", v); err != nil {
			return nil, err
		}
	}
	return r.out, nil
}

type renderer struct {
	in  Input
	t   *template.Template
	out Files
}

// page renders one template; every page knows the way back to the top, so that
// the site works under any path and from a folder.
func (r *renderer) page(file, name string, v any) error {
	var b writer
	up := ""
	for range countSlash(file) {
		up += "../"
	}
	data := struct {
		Up   string
		Shop *job.Shop
		Now  time.Time
		V    any
	}{up, r.in.Shop, r.in.Now.In(r.zone()), v}
	if err := r.t.ExecuteTemplate(&b, name+".html", data); err != nil {
		return fmt.Errorf("drawing %s: %w", file, err)
	}
	r.out[file] = b
	return nil
}

func (r *renderer) zone() *time.Location {
	if r.in.Shop.Zone != nil {
		return r.in.Shop.Zone
	}
	return time.UTC
}

type writer []byte

func (w *writer) Write(p []byte) (int, error) {
	*w = append(*w, p...)
	return len(p), nil
}

func countSlash(s string) (n int) {
	for _, c := range s {
		if c == '/' {
			n++
		}
	}
	return n
}
