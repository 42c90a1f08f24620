package share

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
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
	Name    string `json:"name"`
	Ask     string `json:"ask"`
	Theirs  string `json:"theirs"`            // as in the bundle
	Yours   string `json:"yours,omitempty"`   // as in your shop.yaml; then it need not be asked
	Follows string `json:"follows,omitempty"` // stock of theirs whose thickness it is: yours follows from the stock you choose
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
	Needs     []Need     `json:"needs,omitempty"` // what your shop has under another name, or not at all
	Update    bool       `json:"update"`          // an earlier version is in this shop
}

// Answers settle a proposal.
type Answers struct {
	As       string            // id of the new job; empty: the bundle's
	Measures map[string]string // by name, as the reader writes them
	Stock    map[string]string // theirs to yours, as are the following
	Cutters  map[string]string
	Machines map[string]string
	Blades   map[string]string
	Glues    map[string]string
	// AddMissing puts cutters, machines and kinds of stock that the shop lacks
	// into its shop.yaml and stock.yaml, as the build has them.
	AddMissing bool
}

// Propose compares a bundle with the reader's shop, as far as answers have
// settled it.
func Propose(b *Bundle, shop *job.Shop, a Answers) *Proposal {
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
		q := Question{Name: m.Name, Ask: m.Ask, Theirs: exactly(m.Length, u)}
		for i := range b.Shop.Stock {
			if st := &b.Shop.Stock[i]; st.Form == "sheet" && thickOf(st) == m.Length {
				q.Follows = st.ID
			}
		}
		if q.Ask == "" {
			q.Ask = m.Name
		}
		if o, ok := own[m.Name]; ok {
			q.Yours = exactly(o.Length, u)
		}
		p.Questions = append(p.Questions, q)
	}
	for i := range b.Shop.Stock {
		p.Swaps = append(p.Swaps, swap(b, &b.Shop.Stock[i], shop))
	}
	p.Needs = match(b, shop, a).needs
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
	s := Swap{Theirs: st.ID, Form: st.Form, Thick: exactly(thickOf(st), u), Choices: []Choice{}, Parts: []string{}}
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
		c := Choice{Stock: o.ID, Thick: exactly(thickOf(o), u), by: thickOf(o) - thickOf(st)}
		if c.by != 0 {
			word := "thicker"
			if c.by < 0 {
				word = "thinner"
			}
			c.Differs = exactly(c.by.Abs(), u) + " " + word
			c.Changes = thickUsers(b.Job, st)
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

// from is the folder of a taken job that keeps the build as it was taken in,
// and the answers it was taken in with, so that a later version can be settled
// with the reader's own changes.
const from = "from"

// ErrAnswer reports that something of a proposal is not settled.
var ErrAnswer = errors.New("not settled")

// adapted is a build as the reader's shop wants it.
type adapted struct {
	job   []byte
	shop  []addition
	stock []addition
	notes []string
}

// adapt gives job.yaml as the reader's shop wants it, and what has to be added
// to the shop for it.
func adapt(b *Bundle, shop *job.Shop, a Answers) (*adapted, error) {
	out := &adapted{job: b.Files["jobs/"+b.Job.ID+"/job.yaml"]}
	var err error
	set := func(path job.Path, v string) {
		if err == nil {
			if out.job, err = job.SetValue(out.job, path, v); err != nil {
				err = fmt.Errorf("%s: %w", path, err)
			}
		}
	}
	measured := len(b.Job.Measures) > 0
	length := func(name string, l measure.Length) {
		if text := measure.Exact(l, shop.Units.Length); measured {
			set(job.Path{"measures", name}, text)
		} else if err == nil {
			measured = true
			out.job = append(bytes.TrimRight(bytes.Clone(out.job), "\n"), fmt.Sprintf("\nmeasures:\n  %s: %s\n", name, text)...)
		}
	}
	m := match(b, shop, a)
	open := m.problems
	p := Propose(b, shop, a)
	chosen := map[string]measure.Length{} // thickness of what stands for each stock of theirs
	for i, s := range p.Swaps {
		st := &b.Shop.Stock[i]
		yours, asked := a.Stock[s.Theirs]
		o := shop.StockByID(yours)
		if !asked {
			o = shop.StockByID(s.Theirs)
		}
		switch {
		case o != nil:
		case asked:
			open = append(open, fmt.Errorf("%w: your shop has no stock %q to stand for %s", ErrAnswer, yours, s.Theirs))
			continue
		case a.AddMissing:
			item, ierr := itemOf(b.Files["stock.yaml"], "stock", s.Theirs)
			if ierr != nil {
				return nil, ierr
			}
			out.stock = append(out.stock, addition{"stock", item, "stock " + s.Theirs})
			out.notes = append(out.notes, "stock "+s.Theirs+", "+s.Thick+": added to your stock.yaml as theirs is; measure what you buy")
			chosen[s.Theirs] = thickOf(st)
			continue
		default:
			open = append(open, fmt.Errorf("%w: which of your stock stands for %s, %s thick", ErrAnswer, s.Theirs, s.Thick))
			continue
		}
		chosen[s.Theirs] = thickOf(o)
		if by := thickOf(o) - thickOf(st); by != 0 && st.Form == "sheet" {
			thick := measure.Exact(thickOf(o), shop.Units.Length)
			for _, e := range thickEdits(b.Job, st) {
				set(e.path, e.text(thick))
				out.notes = append(out.notes, fmt.Sprintf("%s is now %s", e.what, thick))
			}
			out.notes = append(out.notes, fmt.Sprintf("stock %s: %s, for theirs of %s", o.ID, exactly(thickOf(o), shop.Units.Length), s.Thick))
		}
		if o.ID != st.ID {
			for _, part := range s.Parts {
				set(job.Path{"parts", part, "from"}, o.ID)
			}
		}
	}
	for _, q := range p.Questions {
		v, ok := a.Measures[q.Name]
		thick, follows := chosen[q.Follows]
		switch {
		case ok:
			l, perr := measure.ParseLength(v, shop.Units.Length.System)
			if perr != nil {
				return nil, fmt.Errorf("%s: %w", q.Name, perr)
			}
			length(q.Name, l)
		case q.Yours != "":
			// the shop's own stands, wherever the job does not say
			out.notes = append(out.notes, fmt.Sprintf("%s: %s, from your shop.yaml (theirs: %s)", q.Name, q.Yours, q.Theirs))
		case follows:
			length(q.Name, thick)
			out.notes = append(out.notes, fmt.Sprintf("%s: %s, as your stock for %s is thick (theirs: %s)", q.Name, exactly(thick, shop.Units.Length), q.Follows, q.Theirs))
		default:
			open = append(open, fmt.Errorf("%w: %s, --measure %s=length (theirs: %s)", ErrAnswer, q.Ask, q.Name, q.Theirs))
		}
	}
	for _, n := range m.open() {
		what := n.Theirs
		if n.What != "" {
			what += " (" + n.What + ")"
		}
		open = append(open, fmt.Errorf("%w: your shop has no %s %s", ErrAnswer, n.Kind, what))
	}
	if err == nil {
		err = errors.Join(open...)
	}
	if err != nil {
		return nil, err
	}
	for _, n := range m.needs {
		out.notes = append(out.notes, strings.TrimSpace(n.Kind+" "+n.Theirs)+": "+n.Settled)
	}
	out.shop = m.toShop
	out.job, err = m.apply(out.job)
	return out, err
}

// grow adds items to a file of the shop.
func grow(shop *job.Shop, file string, items []addition, files map[string][]byte) error {
	if len(items) == 0 {
		return nil
	}
	data, err := job.ReadFile(shop.Dir, file)
	if errors.Is(err, fs.ErrNotExist) {
		data, err = nil, nil
	}
	for _, it := range items {
		if err == nil {
			if data, err = job.AppendItem(data, job.Path{it.list}, it.item); err != nil {
				err = fmt.Errorf("%s: %s: %w", file, it.what, err)
			}
		}
	}
	files[file] = data
	return err
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
		return update(b, shop, id, a, at)
	}
	ad, err := adapt(b, shop, a)
	if err != nil {
		return nil, err
	}
	files[dir+"/job.yaml"] = ad.job
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
	files[dir+"/"+from+"/job.yaml"] = ad.job
	if err := keep(dir, a, files); err != nil {
		return nil, err
	}
	if err := grow(shop, "shop.yaml", ad.shop, files); err != nil {
		return nil, err
	}
	if err := grow(shop, "stock.yaml", ad.stock, files); err != nil {
		return nil, err
	}
	raw, err := marshalManifest(b.Manifest)
	if err != nil {
		return nil, err
	}
	files[dir+"/"+from+"/bundle.yaml"] = raw
	return write(shop, id, files, ad.notes)
}

// update settles a later version of a build with the reader's copy of the
// earlier, by the rules that two machines are settled by.
func update(b *Bundle, shop *job.Shop, id string, a Answers, at time.Time) (*Taken, error) {
	dir := "jobs/" + id
	read := func(p string) settle.File {
		data, err := job.ReadFile(shop.Dir, p)
		return settle.File{Exists: err == nil, Data: data}
	}
	if !read(dir + "/" + from + "/bundle.yaml").Exists {
		return nil, &Refused{Why: fmt.Sprintf("a job %q is here already, and it was not taken in from a shared build; take this one in under another name with --as", id)}
	}
	kept, err := answersIn(shop.Dir, dir)
	if err != nil {
		return nil, err
	}
	a = kept.and(a)
	ad, err := adapt(b, shop, a)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	notes := ad.notes
	mine := settle.Side{Machine: "mine", When: at}
	theirs := settle.Side{Machine: "shared", When: at.Add(-time.Second)} // where both changed one value, the reader's own stands
	for _, name := range []string{"job.yaml", "build.md"} {
		base, ours := read(dir+"/"+from+"/"+name), read(dir+"/"+name)
		data, ok := b.Files["jobs/"+b.Job.ID+"/"+name]
		if name == "job.yaml" {
			data = ad.job
		}
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
	files[dir+"/"+from+"/job.yaml"] = ad.job
	if err := keep(dir, a, files); err != nil {
		return nil, err
	}
	if err := grow(shop, "shop.yaml", ad.shop, files); err != nil {
		return nil, err
	}
	if err := grow(shop, "stock.yaml", ad.stock, files); err != nil {
		return nil, err
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
