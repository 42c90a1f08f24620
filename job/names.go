package job

import (
	"fmt"
	"maps"
	"slices"
)

// place is where an entry names something, by key; the entry's beginning where
// that is not known.
func (e *Entry) place(key string) Pos {
	if p, ok := e.places[key]; ok {
		return p
	}
	return e.At
}

// stranger is the doubt about a step or check that the job does not have.
func (j *Job) stranger(e *Entry) []Doubt {
	var out []Doubt
	if e.Check != "" && j.Check(e.Check) == nil {
		out = append(out, Doubt{e.place("check"), fmt.Sprintf("%s reads the check %q, which the job does not have", e.ID, e.Check), suggest(e.Check, checkIDs(j), "checks")})
	}
	if e.Step != "" && j.Step(e.Step) == nil {
		out = append(out, Doubt{e.place("step"), fmt.Sprintf("%s is about the step %q, which the job does not have; it is kept and not counted", e.ID, e.Step), suggest(e.Step, j.StepIDs(), "steps")})
	}
	return out
}

// Strangers are the names in a job's log that nothing in the shop bears: steps,
// checks, parts, kinds of clamp, and what was bought where it looks like a slip
// of the pen. The entries are kept, and what they name does not count. What was
// taken back is not looked at. Each doubt stands at the name itself.
func (sh *Shop) Strangers(j *Job) []Doubt {
	var clamps, parts []string
	for _, c := range sh.Clamps {
		clamps = append(clamps, c.ID)
	}
	for _, p := range j.Parts {
		parts = append(parts, p.ID)
	}
	var items []string // only needed for what was bought
	var out []Doubt
	for _, e := range j.Counting() {
		out = append(out, j.stranger(&e)...)
		for _, k := range slices.Sorted(maps.Keys(e.Clamps)) {
			if sh.ClampByID(k) == nil {
				out = append(out, Doubt{e.place("clamps/" + k), fmt.Sprintf("%s puts on %d of the clamp %q, which the shop does not have; no plan holds them back", e.ID, e.Clamps[k], k), lacking(k, clamps, "clamps")})
			}
		}
		switch e.Did {
		case DidCut, DidSpoil:
			if j.Part(e.Item) == nil {
				out = append(out, Doubt{e.place("item"), fmt.Sprintf("%s is about the part %q, which the job does not have; it is kept and not counted", e.ID, e.Item), suggest(e.Item, parts, "parts")})
			}
		case DidBuy:
			if items == nil {
				items = sh.ItemNames()
			}
			if near := nearest(e.Item, items); near != "" && near != e.Item && !slices.Contains(items, e.Item) {
				out = append(out, Doubt{e.place("item"), fmt.Sprintf("nothing else names %q, which %s bought; it counts as money spent only", e.Item, e.ID), fmt.Sprintf("did you mean %q?", near)})
			}
		}
	}
	return out
}
