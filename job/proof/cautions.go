package proof

import (
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

// Cautions are what belongs beside a step: those of its machine, its adhesive,
// its finish and the material it works, then the job's own, each once. They
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
	if st.GlueUp != nil {
		if k := glueOf(s, st.GlueUp.Glue); k != nil {
			add(k.Cautions)
		}
	}
	if st.Finish && oily(j, step) {
		add(machine.MaterialCautions("oil"))
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
