package share

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/sync/settle"
)

// Question is a length that the build takes from its reader's own saw and
// stock.
type Question struct {
	Name   string `json:"name"`
	Ask    string `json:"ask"`
	Theirs string `json:"theirs"`          // as in the bundle
	Yours  string `json:"yours,omitempty"` // as in your shop.yaml; then it need not be asked
}

// Swap is a kind of stock of the bundle and what would stand for it here.
type Swap struct {
	Theirs  string   `json:"theirs"`
	Form    string   `json:"form"`
	Thick   string   `json:"thick"` // theirs
	Choices []Choice `json:"choices"`
	Parts   []string `json:"parts"` // cut from it
}

// Choice is one kind of stock of the reader.
type Choice struct {
	Stock   string   `json:"stock"`
	Thick   string   `json:"thick"`
	Differs string   `json:"differs,omitempty"` // by how much it is thicker or thinner
	Changes []string `json:"changes,omitempty"` // parts and machining that would change with it
	by      measure.Length
}

// Proposal is everything to settle before a build is taken in.
type Proposal struct {
	Job       string     `json:"job"`
	Name      string     `json:"name"`
	By        string     `json:"by,omitempty"`
	Version   string     `json:"version"`
	Units     string     `json:"units"`
	Questions []Question `json:"questions"`
	Swaps     []Swap     `json:"swaps"`
	Missing   []string   `json:"missing,omitempty"` // cutters, machines, clamps and places the shop lacks
	Update    bool       `json:"update"`            // an earlier version is in this shop
}

// Answers settle a proposal.
type Answers struct {
	As       string            // id of the new job; empty: the bundle's
	Measures map[string]string // by name, as the reader writes them
	Stock    map[string]string // theirs to yours
}

// Propose compares a bundle with the reader's shop.
func Propose(b *Bundle, shop *job.Shop) *Proposal {
	u := shop.Units.Length
	p := &Proposal{Job: b.Job.ID, Name: b.Job.Name, By: b.Manifest.By, Version: b.Manifest.Version,
		Units: b.Shop.Units.Length.System.Name(), Questions: []Question{}, Swaps: []Swap{}}
	if b.Job.Units != nil {
		p.Units = b.Job.Units.Name()
	}
	own := map[string]job.Measure{}
	for _, m := range shop.Measures {
		own[m.Name] = m
	}
	for _, m := range append(append([]job.Measure{}, b.Shop.Measures...), asked(b.Job.Measures)...) {
		q := Question{Name: m.Name, Ask: m.Ask, Theirs: measure.FormatUnit(m.Length, u)}
		if q.Ask == "" {
			q.Ask = m.Name
		}
		if o, ok := own[m.Name]; ok {
			q.Yours = measure.FormatUnit(o.Length, u)
		}
		p.Questions = append(p.Questions, q)
	}
	for i := range b.Shop.Stock {
		p.Swaps = append(p.Swaps, swap(b, &b.Shop.Stock[i], shop))
	}
	p.Missing = missing(b.Shop, shop)
	p.Update = shop.Job(b.Job.ID) != nil
	return p
}

// asked are the job's own measures that ask something.
func asked(ms []job.Measure) []job.Measure {
	var out []job.Measure
	for _, m := range ms {
		if m.Ask != "" {
			out = append(out, m)
		}
	}
	return out
}

func thickOf(s *job.Stock) measure.Length {
	if s.Thick.Set {
		return s.Thick.Length
	}
	return s.Size[2].Length
}

func swap(b *Bundle, st *job.Stock, shop *job.Shop) Swap {
	u := shop.Units.Length
	s := Swap{Theirs: st.ID, Form: st.Form, Thick: measure.FormatUnit(thickOf(st), u), Choices: []Choice{}, Parts: []string{}}
	for _, p := range b.Job.Parts {
		if p.From == st.ID {
			s.Parts = append(s.Parts, p.ID)
		}
	}
	for i := range shop.Stock {
		o := &shop.Stock[i]
		if o.Form != st.Form {
			continue
		}
		c := Choice{Stock: o.ID, Thick: measure.FormatUnit(thickOf(o), u), by: thickOf(o) - thickOf(st)}
		if c.by != 0 {
			word := "thicker"
			if c.by < 0 {
				word = "thinner"
			}
			c.Differs = measure.FormatUnit(c.by.Abs(), u) + " " + word
			for _, e := range thickEdits(b.Job, st) {
				c.Changes = append(c.Changes, e.what)
			}
		}
		s.Choices = append(s.Choices, c)
	}
	// The same kind first, then the same species, then the nearest thickness.
	rank := func(c Choice) int {
		o := shop.StockByID(c.Stock)
		switch {
		case o.ID == st.ID:
			return 0
		case o.Species == st.Species && st.Species != "":
			return 1
		}
		return 2
	}
	sort.SliceStable(s.Choices, func(i, k int) bool {
		if a, b := rank(s.Choices[i]), rank(s.Choices[k]); a != b {
			return a < b
		}
		return s.Choices[i].by.Abs() < s.Choices[k].by.Abs()
	})
	return s
}

// thickEdit is one number of job.yaml that stands for the thickness of a
// stock.
type thickEdit struct {
	what string
	path job.Path
	text func(thick string) string
}

// thickEdits finds what follows the thickness of a sheet: the thickness of
// parts left as thick as they come, and grooves, dados and rabbets as wide as
// it. Boards are milled to size, so their parts keep theirs.
func thickEdits(j *job.Job, st *job.Stock) []thickEdit {
	if st.Form != "sheet" {
		return nil
	}
	t := thickOf(st)
	nominal := st.Size[2].Length
	same := func(l measure.Length) bool { return l == t || nominal != 0 && l == nominal }
	var out []thickEdit
	for _, p := range j.Parts {
		if p.From == st.ID && same(p.Size[2].Length) && len(strings.Fields(p.Size[2].Src)) > 0 {
			x, y := p.Size[0].Src, p.Size[1].Src
			out = append(out, thickEdit{what: "thickness of " + p.ID, path: job.Path{"parts", p.ID, "size"},
				text: func(thick string) string { return x + " x " + y + " x " + thick }})
		}
	}
	for _, p := range j.Parts {
		for k, f := range p.Machining {
			if f.Width.Set && same(f.Width.Length) && (f.Kind == "groove" || f.Kind == "dado" || f.Kind == "rabbet") {
				out = append(out, thickEdit{what: fmt.Sprintf("width of the %s in %s", f.Kind, p.ID),
					path: job.Path{"parts", p.ID, "machining", fmt.Sprintf("#%d", k), f.Kind, "width"},
					text: func(thick string) string { return thick }})
			}
		}
	}
	return out
}

func missing(theirs, ours *job.Shop) []string {
	out := []string{}
	for _, c := range theirs.Cutters {
		if ours.CutterByID(c.ID) == nil {
			out = append(out, fmt.Sprintf("cutter %s (%s)", c.ID, c.Kind))
		}
	}
	for _, m := range theirs.Machines {
		have := false
		for _, o := range ours.Machines {
			have = have || o.ID == m.ID || o.Kind == m.Kind && m.Kind != ""
		}
		if !have {
			out = append(out, "machine "+m.ID)
		}
	}
	for _, c := range theirs.Clamps {
		if ours.ClampByID(c.ID) == nil {
			out = append(out, fmt.Sprintf("clamps of kind %s", c.ID))
		}
	}
	for _, p := range theirs.Places {
		if ours.PlaceByID(p.ID) == nil {
			out = append(out, "place "+p.ID)
		}
	}
	for _, g := range theirs.Glues {
		if ours.GlueByID(g.ID) == nil {
			out = append(out, "glue "+g.ID)
		}
	}
	return out
}

// from is the folder of a taken job that keeps the build as it came, so that a
// later version can be settled with the reader's own changes.
const from = "from"

// ErrAnswer reports that something of a proposal is not settled.
var ErrAnswer = errors.New("not settled")

// adapt gives job.yaml as the reader's shop wants it.
func adapt(b *Bundle, shop *job.Shop, a Answers) ([]byte, error) {
	data := b.Files["jobs/"+b.Job.ID+"/job.yaml"]
	var err error
	set := func(path job.Path, v string) {
		if err == nil {
			if data, err = job.SetValue(data, path, v); err != nil {
				err = fmt.Errorf("%s: %w", path, err)
			}
		}
	}
	p := Propose(b, shop)
	for _, q := range p.Questions {
		v, ok := a.Measures[q.Name]
		switch {
		case ok:
			l, perr := measure.ParseLength(v, shop.Units.Length.System)
			if perr != nil {
				return nil, fmt.Errorf("%s: %w", q.Name, perr)
			}
			set(job.Path{"measures", q.Name}, measure.Exact(l, shop.Units.Length))
		case q.Yours != "":
			// the shop's own stands, wherever the job does not say
		default:
			return nil, fmt.Errorf("%w: %s (theirs: %s)", ErrAnswer, q.Ask, q.Theirs)
		}
	}
	for i, s := range p.Swaps {
		st := &b.Shop.Stock[i]
		yours := a.Stock[s.Theirs]
		if yours == "" && shop.StockByID(s.Theirs) != nil {
			yours = s.Theirs
		}
		o := shop.StockByID(yours)
		if o == nil {
			return nil, fmt.Errorf("%w: which of your stock stands for %s, %s thick", ErrAnswer, s.Theirs, s.Thick)
		}
		if thickOf(o) != thickOf(st) {
			thick := measure.Exact(thickOf(o), shop.Units.Length)
			for _, e := range thickEdits(b.Job, st) {
				set(e.path, e.text(thick))
			}
		}
		if o.ID != st.ID {
			for _, part := range s.Parts {
				set(job.Path{"parts", part, "from"}, o.ID)
			}
		}
	}
	return data, err
}

// Taken says what taking in did.
type Taken struct {
	Job   string   `json:"job"`
	Files []string `json:"files"`
	Notes []string `json:"notes,omitempty"`
}

// Take writes the build into the reader's shop as a job of its own, or settles
// a later version with the copy that is there. The whole shop must read clean
// with it, or nothing is written.
func Take(b *Bundle, shop *job.Shop, a Answers, at time.Time) (*Taken, error) {
	id := b.Job.ID
	if a.As != "" {
		id = a.As
	}
	files := map[string][]byte{}
	dir := "jobs/" + id
	if shop.Job(id) != nil {
		return update(b, shop, id, at)
	}
	data, err := adapt(b, shop, a)
	if err != nil {
		return nil, err
	}
	files[dir+"/job.yaml"] = data
	for p, c := range b.Files {
		rest, ok := strings.CutPrefix(p, "jobs/"+b.Job.ID+"/")
		switch {
		case !ok || strings.HasPrefix(rest, "log/") || rest == "job.yaml":
			// the log is what happened in another shop: it stays with the build as it came
		default:
			files[dir+"/"+rest] = c
		}
		if ok && !strings.HasPrefix(rest, "photos/") {
			files[dir+"/"+from+"/"+rest] = c
		}
	}
	raw, err := marshalManifest(b.Manifest)
	if err != nil {
		return nil, err
	}
	files[dir+"/"+from+"/bundle.yaml"] = raw
	return write(shop, id, files, nil)
}

// update settles a later version of a build with the reader's copy of the
// earlier, by the rules that two machines are settled by.
func update(b *Bundle, shop *job.Shop, id string, at time.Time) (*Taken, error) {
	dir := "jobs/" + id
	read := func(p string) settle.File {
		data, err := job.ReadFile(shop.Dir, p)
		return settle.File{Exists: err == nil, Data: data}
	}
	if !read(dir + "/" + from + "/bundle.yaml").Exists {
		return nil, &Refused{Why: fmt.Sprintf("a job %q is here already, and it was not taken in from a shared build; take this one in under another name with --as", id)}
	}
	files := map[string][]byte{}
	var notes []string
	mine := settle.Side{Machine: "mine", When: at}
	theirs := settle.Side{Machine: "shared", When: at.Add(-time.Second)} // where both changed one value, the reader's own stands
	for _, name := range []string{"job.yaml", "build.md"} {
		base, ours := read(dir+"/"+from+"/"+name), read(dir+"/"+name)
		data, ok := b.Files["jobs/"+b.Job.ID+"/"+name]
		next := settle.File{Exists: ok, Data: data}
		if !ok || base.Exists && bytes.Equal(base.Data, next.Data) {
			continue
		}
		out := settle.Settle(dir+"/"+name, base, ours, next, mine, theirs, settle.Options{Reread: job.CheckFile})
		for _, f := range out.Files {
			if !f.Deleted {
				files[f.Path] = f.Data
			}
		}
		for _, r := range out.BothWays {
			files[r.Name()] = r.Marshal()
			notes = append(notes, fmt.Sprintf("%s, %s: changed by you and in the new version; yours stands, theirs is kept: caul both-ways", r.Path, r.What))
		}
		notes = append(notes, out.Notes...)
	}
	for p, c := range b.Files {
		rest, ok := strings.CutPrefix(p, "jobs/"+b.Job.ID+"/")
		switch {
		case ok && strings.HasPrefix(rest, "photos/"):
			if !read(dir + "/" + rest).Exists {
				files[dir+"/"+rest] = c
			}
		case ok:
			files[dir+"/"+from+"/"+rest] = c
		}
	}
	raw, err := marshalManifest(b.Manifest)
	if err != nil {
		return nil, err
	}
	files[dir+"/"+from+"/bundle.yaml"] = raw
	return write(shop, id, files, notes)
}

// write checks the shop with the new files in it and writes them, job.yaml
// last, so that a cut-off taking-in leaves no job that only looks whole.
func write(shop *job.Shop, id string, files map[string][]byte, notes []string) (*Taken, error) {
	if err := readsWith(shop.Dir, files); err != nil {
		return nil, err
	}
	paths := make([]string, 0, len(files))
	for p := range files {
		paths = append(paths, p)
	}
	sort.Slice(paths, func(a, b int) bool {
		x, y := strings.HasSuffix(paths[a], id+"/job.yaml"), strings.HasSuffix(paths[b], id+"/job.yaml")
		if x != y {
			return y
		}
		return paths[a] < paths[b]
	})
	for _, p := range paths {
		full := filepath.Join(shop.Dir, filepath.FromSlash(p))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return nil, err
		}
		if err := job.WriteFile(full, files[p]); err != nil {
			return nil, err
		}
	}
	return &Taken{Job: id, Files: paths, Notes: notes}, nil
}
