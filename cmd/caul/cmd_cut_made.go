package main

import (
	"fmt"

	"caul/job"
	"caul/job/cutting"
)

// runMade writes down that the cuts of a layout are made: first the parts into
// the log, then the shelf. The layout is named by its mark, so that a list
// printed before something changed is not taken for today's.
func runMade(e *env, s *job.Shop, cut *cutting.Cut, o cutOptions) error {
	if o.made != cut.Mark {
		return &fault{code: exitUsage, msg: fmt.Sprintf("the layout is %s now, not %q: the jobs, the stock or the log have changed since", cut.Mark, o.made),
			hint: "print it again with `caul cut`, or mend stock.yaml and log the parts by hand"}
	}
	var sheets []int
	for _, n := range o.sheets {
		sheets = append(sheets, n-1)
	}
	var done *cutting.Applied
	file := "stock.yaml"
	// worked out once before anything is written, so that a mistake changes nothing
	data, err := job.ReadFile(s.Dir, file)
	if err != nil {
		return err
	}
	if done, err = cutting.Apply(data, s, cut, o.where, sheets...); err != nil {
		return &fault{code: exitUsage, msg: err.Error(), hint: "sheets are numbered as `caul cut` prints them"}
	}
	var wrote []string
	machine := machineName(s.Dir)
	for _, l := range done.Log {
		l.Entry.Time = e.now().In(s.Zone)
		s.Write(&l.Entry, machine, e.now())
		name, err := job.AddEntry(s.Dir, l.Job, l.Entry, machine)
		if err != nil {
			return err
		}
		wrote = append(wrote, name)
	}
	if err := job.UpdateFile(s.Dir, file, func(old []byte) ([]byte, error) {
		a, err := cutting.Apply(old, s, cut, o.where, sheets...)
		if err != nil {
			return nil, err
		}
		return a.Stock, nil
	}); err != nil {
		return err
	}
	return e.print("made", map[string]any{"log": wrote, "took": done.Took, "kept": done.Kept}, func() error {
		for _, w := range wrote {
			e.printf("wrote %s\n", w)
		}
		for _, t := range done.Took {
			e.printf("off the shelf: %s\n", t)
		}
		for _, k := range done.Kept {
			e.printf("on the shelf: %s\n", k)
		}
		return nil
	})
}
