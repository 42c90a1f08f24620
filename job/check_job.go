package job

import (
	"fmt"
	"strings"
)

// checkJob looks at what the lists of a job say of each other.
func (r *jobReader) checkJob() {
	j := r.j
	seen := map[string]Pos{}
	once := func(kind, id string, at Pos) {
		if id == "" {
			return
		}
		k := kind + "\x00" + id
		if first, dup := seen[k]; dup {
			r.tell(at, id, "give one of them another id", "the %s %q is already there, on line %d", kind, id, first.Line)
			return
		}
		seen[k] = at
	}
	partIDs, stepIDs := []string{}, []string{}
	isPart := map[string]bool{}
	for _, p := range j.Parts {
		once("part", p.ID, p.At)
		partIDs = append(partIDs, p.ID)
		isPart[p.ID] = true
	}
	steps := map[string]*Step{}
	for i := range j.Steps {
		st := &j.Steps[i]
		once("step", st.ID, st.At)
		stepIDs = append(stepIDs, st.ID)
		if steps[st.ID] == nil {
			steps[st.ID] = st
		}
		if st.Name == "" {
			st.Name = st.ID
		}
	}
	for _, c := range j.Checks {
		once("check", c.ID, c.At)
	}
	for _, f := range j.Fittings {
		once("fitting", f.ID, f.At)
		if f.Blade != "" && r.shop.BladeByID(f.Blade) == nil && !r.lost["shop.yaml"] {
			ids := []string{}
			for _, b := range r.shop.Blades {
				ids = append(ids, b.ID)
			}
			r.tell(f.At, f.Blade, lacking(f.Blade, ids, "blades"), "the shop has no blade called %q", f.Blade)
		}
		if f.Cutter != "" && r.shop.CutterByID(f.Cutter) == nil && !r.lost["shop.yaml"] {
			r.tell(f.At, f.Cutter, lacking(f.Cutter, r.cutterIDs(), "cutters"), "the shop has no cutter called %q", f.Cutter)
		}
	}
	for _, f := range r.refs {
		switch {
		case f.part && !isPart[f.id]:
			r.s.add(f.at, f.id, suggest(f.id, partIDs, "parts"), "%s: the job has no part called %q", f.where, f.id)
		case !f.part && steps[f.id] == nil:
			r.s.add(f.at, f.id, suggest(f.id, stepIDs, "steps"), "%s: the job has no step called %q", f.where, f.id)
		}
	}
	for i := range j.GlueUps {
		g := &j.GlueUps[i]
		once("glue-up", g.ID, g.At)
		if g.ID == "" {
			continue
		}
		if st := steps[g.ID]; st == nil {
			r.tell(g.At, g.ID, "add a step with this id and the hands-on time to spread and clamp, such as `- {id: "+g.ID+", takes: 25 min}`", "the glue-up %q is not among the steps", g.ID)
		} else if st.GlueUp == nil {
			st.GlueUp = g
			if st.Place == "" {
				st.Place = g.Place
			}
		}
	}
	for _, f := range j.Assembly {
		once("assembly", f.ID, f.At)
	}
	for i := range j.Steps {
		st := &j.Steps[i]
		for _, l := range st.After {
			target := steps[l.Step]
			if target == nil {
				r.tell(l.At, l.Step, suggest(l.Step, stepIDs, "steps"), "after: the job has no step called %q", l.Step)
				continue
			}
			clamps := l.From == FromClampsOn || l.From == FromOff
			if l.From == FromCured && target.GlueUp == nil || clamps && target.GlueUp == nil && len(target.Needs) == 0 {
				r.tell(l.At, l.Step, "write `after: ["+l.Step+"]`, or add the glue-up to `glue-ups:`", "%q is no glue-up, so it has no %s", l.Step, l.From)
			}
		}
	}
	r.cycles(steps)
}

// cycles names every circle of `after:` in full, each once, from its first
// step in the job's order.
func (r *jobReader) cycles(steps map[string]*Step) {
	state := map[string]int{}
	var stack []string
	told := map[string]bool{}
	var visit func(id string)
	visit = func(id string) {
		state[id] = 1
		stack = append(stack, id)
		for _, l := range steps[id].After {
			switch t := l.Step; {
			case steps[t] == nil:
			case state[t] == 0:
				visit(t)
			case state[t] == 1:
				i := len(stack) - 1
				for stack[i] != t {
					i--
				}
				round := stack[i:]
				key := fmt.Sprint(round)
				if told[key] {
					continue
				}
				told[key] = true
				way := []string{}
				for k, id := range round {
					way = append(way, id+" after "+round[(k+1)%len(round)])
				}
				r.tell(l.At, l.Src, "take one of these out of `after:`", "steps wait for each other in a circle: %s", strings.Join(way, ", "))
			}
		}
		stack = stack[:len(stack)-1]
		state[id] = 2
	}
	for _, st := range r.j.Steps {
		if st.ID != "" && state[st.ID] == 0 {
			visit(st.ID)
		}
	}
}

// tell adds a problem at a place of job.yaml; the caret moves to the
// offending word when the line holds it.
func (r *jobReader) tell(at Pos, text, hint, format string, args ...any) {
	line := r.s.line(at.Line)
	rs := []rune(line)
	if text != "" && at.Col >= 1 && at.Col <= len(rs) {
		if i := strings.Index(string(rs[at.Col-1:]), text); i >= 0 {
			at.Col += len([]rune(string(rs[at.Col-1:])[:i]))
		}
	}
	r.s.add(at, text, hint, format, args...)
}

func (r *jobReader) cutterIDs() []string {
	ids := []string{}
	for _, c := range r.shop.Cutters {
		ids = append(ids, c.ID)
	}
	return ids
}
