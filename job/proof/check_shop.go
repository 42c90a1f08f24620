package proof

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"caul/job"
	"caul/job/glue"
	"caul/job/machine"
	"caul/job/wood"
)

// clampsThere finds glue-ups and steps that take more clamps of a kind than
// the shop has: they can never be closed, and no plan can be made.
func (c *checker) clampsThere() {
	have := map[string]int{}
	for _, k := range c.shop.Clamps {
		have[k.ID] += k.Qty
	}
	short := func(id string, at job.Pos, takes map[string]int) {
		c.proof.Checked++
		for _, k := range slices.Sorted(maps.Keys(takes)) {
			if n := takes[k]; n > have[k] {
				c.say("clamps-short", Stop, "", at,
					fmt.Sprintf("%s takes %d %s clamps at once, and the shop has %d", id, n, k, have[k]),
					fmt.Sprintf("glue it up in parts that take %d at most, or write what you borrow or buy under `clamps:` in shop.yaml", have[k]))
			}
		}
	}
	for i := range c.job.GlueUps {
		g := &c.job.GlueUps[i]
		short(g.ID, g.At, g.Clamps)
	}
	for i := range c.job.Steps {
		st := &c.job.Steps[i]
		short(st.ID, st.At, st.Needs)
	}
}

// logNames finds names in the log that nothing bears: what such an entry says
// counts for nothing, and a slip of the pen would not be seen.
func (c *checker) logNames() {
	c.proof.Checked += len(c.job.Log)
	for _, d := range c.shop.Strangers(c.job) {
		c.say("log-names", Look, "", d.Entry, d.Text, strings.TrimSpace(d.Hint+" mend the entry by hand, or take it back with `caul undo ENTRY`"))
	}
}

// glueUpArea finds glue-ups of which nobody said where their parts meet: how
// much glue, how many clamps and whether it closes in time stay unknown.
func (c *checker) glueUpArea() {
	for i := range c.job.GlueUps {
		g := &c.job.GlueUps[i]
		c.proof.Checked++
		if g.Area.Sign() > 0 || len(g.Faces) >= 2 {
			continue
		}
		c.say("glue-up-area", Look, "", g.At,
			fmt.Sprintf("%s says nowhere how much is glued: its glue, its clamps and its time cannot be reckoned", g.ID),
			"write `bond: length x width`, or `faces: [PART face, PART near-edge]`")
	}
}

// cutterKinds are the kinds of cutter that some check or sum knows.
func cutterKinds() []string {
	out := []string{"flush-trim"}
	for _, ks := range makes {
		out = append(out, ks...)
	}
	return out
}

// shopKinds finds kinds of machine, cutter, clamp and wood in the shop's files
// that look like a slip of the pen. A kind of the maker's own is no fault, but
// one that nothing knows brings no cautions and no checks, and says nothing.
func (c *checker) shopKinds() {
	look := func(what, id, kind string, at job.Pos, known []string) {
		c.proof.Checked++
		if kind == "" || slices.Contains(known, kind) {
			return
		}
		near := job.Nearest(kind, known)
		if near == "" {
			return
		}
		c.say("unknown-kind", Look, "", at,
			fmt.Sprintf("the %s %s is of a kind %q that nothing knows; no check and no caution is kept for it", what, id, kind),
			fmt.Sprintf("did you mean %q?", near))
	}
	var machines, clamps []string
	for _, k := range machine.Kinds() {
		machines = append(machines, k.ID)
	}
	for _, k := range glue.ClampKinds() {
		clamps = append(clamps, k.ID)
	}
	for i := range c.shop.Machines {
		m := &c.shop.Machines[i]
		look("machine", m.ID, m.Kind, m.At, machines)
	}
	for i := range c.shop.Cutters {
		k := &c.shop.Cutters[i]
		look("cutter", k.ID, k.Kind, k.At, cutterKinds())
	}
	for i := range c.shop.Clamps {
		k := &c.shop.Clamps[i]
		look("clamp", k.ID, k.Kind, k.At, clamps)
	}
	for i := range c.shop.Stock {
		s := &c.shop.Stock[i]
		if s.Form != "board" {
			continue // a sheet does not move, and its name is its maker's
		}
		c.proof.Checked++
		name := s.Species
		if _, ok := wood.Find(name); ok || name == "" {
			continue
		}
		mend := "write the wood as handbooks name it, such as hard-maple, cherry or white-pine"
		if n := job.Nearest(strings.ReplaceAll(strings.ToLower(name), " ", "-"), wood.Names()); n != "" {
			mend = fmt.Sprintf("did you mean %q?", n)
		}
		c.say("unknown-kind", Look, "", s.At,
			fmt.Sprintf("%s is of a wood %q that is in no table here; how much it moves is not looked at", s.ID, name), mend)
	}
}
