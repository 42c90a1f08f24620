package proof

import (
	"cmp"
	"fmt"
	"slices"

	"caul/job"
)

// after tells, for every step, which steps are certainly done before it.
func after(j *job.Job) map[string]map[string]bool {
	direct := map[string][]string{}
	for i := range j.Steps {
		for _, l := range j.Steps[i].After {
			direct[j.Steps[i].ID] = append(direct[j.Steps[i].ID], l.Step)
		}
	}
	out := map[string]map[string]bool{}
	var walk func(id string, seen map[string]bool)
	walk = func(id string, seen map[string]bool) {
		for _, d := range direct[id] {
			if !seen[d] {
				seen[d] = true
				walk(d, seen)
			}
		}
	}
	for i := range j.Steps {
		seen := map[string]bool{}
		walk(j.Steps[i].ID, seen)
		out[j.Steps[i].ID] = seen
	}
	return out
}

// saws are the kinds of machine that run a blade or a cutter through a part.
var saws = map[string]bool{"table-saw": true, "mitre-saw": true, "band-saw": true, "track-saw": true, "router-table": true, "router": true, "planer": true, "jointer": true}

// cutsParts are the kinds of machine that part a piece from its stock.
var cutsParts = map[string]bool{"table-saw": true, "mitre-saw": true, "band-saw": true, "track-saw": true, "planer": true, "jointer": true}

// order looks at what the steps do to the parts one after another.
func (c *checker) order() {
	j := c.job
	before := after(j)
	usedBy := map[string][]*job.Step{}
	for i := range j.Steps {
		st := &j.Steps[i]
		for _, id := range usesOf(st) {
			usedBy[id] = append(usedBy[id], st)
		}
	}
	anyUses := len(usedBy) > 0
	for i := range j.Parts {
		p := &j.Parts[i]
		c.proof.Checked++
		if anyUses && len(usedBy[p.ID]) == 0 {
			c.say("part-without-step", Look, p.ID, p.At, fmt.Sprintf("%s: no step uses it", p.ID), "name it in the `uses:` of the step that cuts it and of those that work on it")
			continue
		}
		c.cutFirst(p, usedBy[p.ID], before)
	}
	c.metal(before)
	c.finished(before)
}

func usesOf(st *job.Step) []string {
	if st.GlueUp == nil {
		return st.Uses
	}
	out := append([]string{}, st.Uses...)
	for _, id := range st.GlueUp.Joins {
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

// cutFirst finds the step that cuts a part, and steps that use the part
// without waiting for it.
func (c *checker) cutFirst(p *job.Part, users []*job.Step, before map[string]map[string]bool) {
	var cut *job.Step
	for _, st := range users {
		m := c.shop.MachineByID(st.Machine)
		if st.GlueUp == nil && m != nil && cutsParts[m.Kind] {
			cut = st
			break
		}
	}
	if cut == nil {
		return
	}
	for _, st := range users {
		if st == cut || before[st.ID][cut.ID] || before[cut.ID][st.ID] && st.GlueUp == nil {
			continue
		}
		c.say("part-before-cut", Stop, p.ID, st.At,
			fmt.Sprintf("%s uses %s and does not wait for %s, which cuts it", st.ID, p.ID, cut.ID),
			fmt.Sprintf("write `after: [%s]` with %s", cut.ID, st.ID))
	}
}

// metal finds blades and cutters that go where metal was put before.
func (c *checker) metal(before map[string]map[string]bool) {
	for i := range c.job.Hardware {
		h := &c.job.Hardware[i]
		if !h.Metal || h.Step == "" {
			continue
		}
		c.proof.Checked++
		for k := range c.job.Steps {
			st := &c.job.Steps[k]
			m := c.shop.MachineByID(st.Machine)
			if m == nil || !saws[m.Kind] || !before[st.ID][h.Step] {
				continue
			}
			for _, id := range usesOf(st) {
				if slices.Contains(h.Joins, id) {
					c.say("metal-in-cut", Stop, id, st.At,
						fmt.Sprintf("%s runs %s through %s after %s has put %d %s into it", st.ID, cmp.Or(m.Name, m.ID), id, h.Step, h.Qty, h.Item),
						"cut first and fit the metal afterwards, or make sure that the cut clears it and take the part out of `joins:`")
					break
				}
			}
		}
		for k := range c.job.Parts {
			c.metalAcross(&c.job.Parts[k], h)
		}
	}
}

// metalAcross finds a groove or slot of a part that crosses the hole of a
// metal screw in the same part.
func (c *checker) metalAcross(p *job.Part, h *job.Hardware) {
	vols := Volumes(c.shop, p)
	for i := range vols {
		a := &vols[i]
		if p.Machining[a.Feature].Screw != h.Item || a.What != "hole" {
			continue
		}
		for k := range vols {
			b := &vols[k]
			f := &p.Machining[b.Feature]
			if b.Feature == a.Feature || b.Round || f.Screw == h.Item || !a.meets(b) || f.Before == h.Step {
				continue
			}
			c.say("metal-in-cut", Stop, p.ID, b.At,
				fmt.Sprintf("%s: the %s crosses the hole of %s", p.ID, c.name(p, b), h.Item),
				fmt.Sprintf("move one of them; if it is cut before the metal goes in, write `before: %s`", h.Step))
			return
		}
	}
}

// finished finds joints that are glued after a finish was put on their parts.
func (c *checker) finished(before map[string]map[string]bool) {
	for i := range c.job.Steps {
		st := &c.job.Steps[i]
		if st.GlueUp == nil {
			continue
		}
		c.proof.Checked++
		for k := range c.job.Steps {
			fin := &c.job.Steps[k]
			if !fin.Finish || !before[st.ID][fin.ID] {
				continue
			}
			on := usesOf(fin)
			for _, id := range usesOf(st) {
				if len(on) == 0 || slices.Contains(on, id) {
					c.say("glue-on-finish", Stop, id, st.At,
						fmt.Sprintf("%s glues %s after %s has put a finish on it", st.ID, id, fin.ID),
						"glue first, or keep the finish off the faces that meet and name the finished parts with `uses:`")
					break
				}
			}
		}
	}
}
