package job

import "slices"

// ItemNames are the items of the price book that a job names, and what its
// parts are cut from.
func (j *Job) ItemNames(s *Shop) []string {
	var out []string
	for _, h := range j.Hardware {
		out = append(out, h.Item)
	}
	for _, c := range j.Consumes {
		out = append(out, c.Item)
	}
	for _, p := range j.Parts {
		out = append(out, p.From)
		if st := s.StockByID(p.From); st != nil {
			out = append(out, st.Price)
		}
	}
	return out
}

// ItemNames are all names that something bought can have, sorted.
func (sh *Shop) ItemNames() []string {
	var out []string
	for _, p := range sh.Prices.Items {
		out = append(out, p.Item)
	}
	for _, x := range sh.Shelf {
		out = append(out, x.Item)
	}
	for _, x := range sh.Stock {
		out = append(out, x.ID, x.Price)
	}
	for _, g := range sh.Glues {
		out = append(out, g.Item)
	}
	for _, j := range sh.Jobs {
		out = append(out, j.ItemNames(sh)...)
	}
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(n string) bool { return n == "" })
}

// CountsUses tells whether a check of the job is due by how often the jig was
// used.
func (j *Job) CountsUses() bool {
	for i := range j.Checks {
		if _, unit, err := ParseEvery(j.Checks[i].Every); err == nil && unit == "use" {
			return true
		}
	}
	return false
}
