package share

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"caul/job"
	"caul/job/measure"
)

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
	unsettled := map[string]bool{}
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
			unsettled[s.Theirs] = true
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
		case unsettled[q.Follows]: // it follows from the stock that is asked for
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
	if theirs := unitsOf(b); theirs != shop.Units.Length.System {
		out.notes = append(out.notes, fmt.Sprintf("units: job.yaml and the texts of the build are in %s; the lengths in set-ups say so and stand in %s too", inWords(theirs), inWords(shop.Units.Length.System)))
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
