package share

import (
	"fmt"
	"strings"

	"caul/job"
	"caul/job/measure"
)

// thickEdit is one number of job.yaml that stands for the thickness of a
// stock.
type thickEdit struct {
	what   string
	byName bool // written by name, so that it follows the name
	path   job.Path
	text   func(thick string) string
}

// named tells whether a length is written by names and not as a number.
func named(src string) bool {
	e, err := measure.ParseExpr(src, measure.Inches)
	return err == nil && len(e.Names()) > 0
}

// thickEdits finds what follows the thickness of a sheet: the thickness of
// parts left as thick as they come, and grooves, dados and rabbets as wide as
// it. Boards are milled to size, so their parts keep theirs.
func thickEdits(j *job.Job, st *job.Stock) []thickEdit {
	var out []thickEdit
	for _, e := range thickness(j, st) {
		if !e.byName {
			out = append(out, e)
		}
	}
	return out
}

// thickUsers says in words all that changes with the thickness of a stock.
func thickUsers(j *job.Job, st *job.Stock) []string {
	var out []string
	for _, e := range thickness(j, st) {
		out = append(out, e.what)
	}
	return out
}

func thickness(j *job.Job, st *job.Stock) []thickEdit {
	if st.Form != "sheet" {
		return nil
	}
	t := thickOf(st)
	nominal := st.Size[2].Length
	same := func(d job.Dim) bool { return d.Length == t || nominal != 0 && d.Length == nominal }
	var out []thickEdit
	for _, p := range j.Parts {
		if p.From == st.ID && same(p.Size[2]) && len(strings.Fields(p.Size[2].Src)) > 0 {
			x, y := p.Size[0].Src, p.Size[1].Src
			out = append(out, thickEdit{what: "thickness of " + p.ID, byName: named(p.Size[2].Src), path: job.Path{"parts", p.ID, "size"},
				text: func(thick string) string { return x + " x " + y + " x " + thick }})
		}
	}
	for _, p := range j.Parts {
		for k, f := range p.Machining {
			if f.Width.Set && same(f.Width) && (f.Kind == "groove" || f.Kind == "dado" || f.Kind == "rabbet") {
				out = append(out, thickEdit{what: fmt.Sprintf("width of the %s in %s", f.Kind, p.ID), byName: named(f.Width.Src),
					path: job.Path{"parts", p.ID, "machining", fmt.Sprintf("#%d", k), f.Kind, "width"},
					text: func(thick string) string { return thick }})
			}
		}
	}
	return out
}
