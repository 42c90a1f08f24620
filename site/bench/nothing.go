package bench

import (
	"fmt"

	"caul/job"
)

// Nothing says why there is nothing to do in a shop, or "" where there is
// something: there is no job yet, no job has steps yet, or everything is done.
// running tells that something still sets by itself.
func Nothing(s *job.Shop, running bool) string {
	if len(s.Jobs) == 0 {
		return words["no-jobs"]
	}
	steps, aside := 0, 0
	for _, j := range s.Jobs {
		states, _ := j.States()
		for i := range j.Steps {
			steps++
			switch states[j.Steps[i].ID].State {
			case job.Aside:
				aside++
			case job.Done, job.Curing:
			default:
				return ""
			}
		}
	}
	switch {
	case steps == 0:
		return fmt.Sprintf(words["no-steps"], s.Jobs[0].ID)
	case running:
		return ""
	case aside == steps:
		return words["all-aside"]
	case aside > 0:
		return fmt.Sprintf(words["rest-aside"], aside)
	}
	return words["all-done"]
}
