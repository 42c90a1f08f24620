package proof

import (
	"slices"
	"strings"

	"caul/job"
	"caul/job/glue"
	"caul/job/machine"
	"caul/job/measure"
	"caul/job/wood"
)

// StepCautions are the words that stand beside a step; see Cautions.
func StepCautions(s *job.Shop, j *job.Job, step string) []string {
	var out []string
	for _, c := range Cautions(s, j, step) {
		out = append(out, c.Text)
	}
	return out
}

// Cautions are what belongs beside a step: those of its machine, its cutters
// and the cuts made in it, its adhesive, its finish and the material it works, then the job's own, each once. They
// defer to the label, the manual, local rules and qualified people.
func Cautions(s *job.Shop, j *job.Job, step string) []measure.Caution {
	st := j.Step(step)
	if st == nil {
		return nil
	}
	var out []measure.Caution
	seen := map[string]bool{}
	add := func(cs []measure.Caution) {
		for _, c := range cs {
			if !seen[c.Text] {
				seen[c.Text] = true
				out = append(out, c)
			}
		}
	}
	m := s.MachineByID(st.Machine)
	if m != nil {
		if k, ok := machine.Find(m.Kind); ok {
			add(k.Cautions)
		}
	}
	c := cutsOf(s, j, st)
	for _, kind := range c.cutters {
		add(machine.CutterCautions(kind))
	}
	for _, o := range c.ops {
		add(machine.OperationCautions(o.kind, o.machine, o.stopped))
	}
	if st.GlueUp != nil {
		if k := glueOf(s, st.GlueUp.Glue); k != nil {
			add(k.Cautions)
		}
	}
	if st.Finish {
		if oily(j, step) {
			add(machine.MaterialCautions("oil"))
		}
		add(machine.MaterialCautions("finish"))
	}
	if m != nil && saws[m.Kind] {
		for _, id := range st.Uses {
			add(materialCautions(s, j.Part(id)))
		}
	}
	for _, text := range j.Cautions {
		add([]measure.Caution{{Text: text, Source: measure.Source{Ref: "the job's own"}}})
	}
	return out
}

// cutOf is one kind of cut on a kind of machine.
type cutOf struct {
	kind, machine string
	stopped       bool
}

// stepCuts are the kinds of cutter and of cut that a step works with.
type stepCuts struct {
	cutters []string
	ops     []cutOf
}

// cutsOf finds what is cut in a step: the cuts that the set-up sheet gives it,
// and the cutter that its own `setup:` names.
func cutsOf(s *job.Shop, j *job.Job, st *job.Step) stepCuts {
	var out stepCuts
	cutter := func(id string) {
		if cu := s.CutterByID(id); cu != nil && cu.Kind != "" && !slices.Contains(out.cutters, cu.Kind) {
			out.cutters = append(out.cutters, cu.Kind)
		}
	}
	for _, w := range strings.Split(st.State, ",") {
		cutter(strings.TrimSpace(w))
	}
	if st.GlueUp != nil || st.Finish {
		return out
	}
	for _, o := range operations(s, j) {
		if o.step != st.ID {
			continue
		}
		cutter(o.set.Cutter)
		m := o.set.Machine
		if mc := s.MachineByID(m); mc != nil {
			m = mc.Kind
		}
		if c := (cutOf{o.kind, m, o.stopped}); !slices.Contains(out.ops, c) {
			out.ops = append(out.ops, c)
		}
	}
	return out
}

// glueOf is a glue by its generic type, or the type that a label starts from.
func glueOf(s *job.Shop, id string) *glue.Kind {
	if l := s.GlueByID(id); l != nil && l.Type != "" {
		id = l.Type
	}
	k, ok := glue.Find(id)
	if !ok {
		return nil
	}
	return k
}

// oily tells whether a step puts on an oil, whose rags heat themselves.
func oily(j *job.Job, step string) bool {
	for _, c := range j.Consumes {
		if c.Step == step && strings.Contains(strings.ToLower(c.Item), "oil") {
			return true
		}
	}
	return false
}

func materialCautions(s *job.Shop, p *job.Part) []measure.Caution {
	if p == nil {
		return nil
	}
	st := s.StockByID(p.From)
	if st == nil {
		return nil
	}
	if strings.Contains(strings.ToLower(st.Species+" "+st.ID), "mdf") {
		return machine.MaterialCautions("mdf")
	}
	if sp, ok := wood.Find(st.Species); ok {
		if sp.Softwood {
			return machine.MaterialCautions("softwood")
		}
		return machine.MaterialCautions("hardwood")
	}
	return nil
}
