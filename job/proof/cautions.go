package proof

import "caul/job"

// StepCautions lists the cautions that belong beside a step: of its machine,
// its adhesive and its finish. They defer to labels and manuals.
func StepCautions(s *job.Shop, j *job.Job, step string) []string {
	for i := range j.Steps {
		if st := &j.Steps[i]; st.ID == step {
			return cautions(s, st)
		}
	}
	return nil
}

func cautions(_ *job.Shop, _ *job.Step) []string { return nil }
