package plan

import (
	"time"

	"caul/job/schedule"
)

// setups gives every machine the states its steps ask for. A machine is as the
// last step on it left it; one that no step has used yet has to be set up.
func (t *task) setups() {
	type use struct {
		act   int
		state string
	}
	uses := map[string][]use{}
	for i, a := range t.acts {
		if a.role == roleStep && a.sv.step.Machine != "" && a.sv.step.State != "" {
			m := a.sv.step.Machine
			uses[m] = append(uses[m], use{i, a.sv.step.State})
		}
	}
	for mi := range t.w.shop.Machines {
		m := &t.w.shop.Machines[mi]
		us := uses[m.ID]
		if len(us) == 0 {
			continue
		}
		states := []string{t.w.leftAs(m.ID)}
		at := map[string]int{states[0]: 0}
		for _, u := range us {
			if _, ok := at[u.state]; !ok {
				at[u.state] = len(states)
				states = append(states, u.state)
			}
		}
		change := make([][]int64, len(states))
		for a := range change {
			change[a] = make([]int64, len(states))
			for b := range change[a] {
				if a != b {
					change[a][b] = setUpTime(m).Minutes()
				}
			}
		}
		t.prob.Setups = append(t.prob.Setups, schedule.Setup{Name: m.ID, Resource: maker, Initial: 0, Change: change})
		for _, u := range us {
			t.prob.Activities[u.act].States = []schedule.State{{Setup: len(t.prob.Setups) - 1, State: at[u.state]}}
		}
	}
}

// leftAs is the state the last step begun on a machine left it in, or "".
func (w *world) leftAs(machine string) string {
	state, last := "", time.Time{}
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			if sv.step.Machine == machine && !sv.begun.IsZero() && sv.begun.After(last) {
				state, last = sv.step.State, sv.begun
			}
		}
	}
	return state
}

// projects gives every job its members and its due time.
func (t *task) projects() {
	for _, jv := range t.w.jobs {
		if !jv.picked {
			continue
		}
		pr := schedule.Project{Name: jv.job.ID, Weight: int64(max(jv.job.Weight, 1))}
		if d := deadline(jv.job, t.w.ax.loc); !d.IsZero() {
			pr.Due = t.w.ax.floor(d)
			if pr.Due == 0 {
				pr.Due = -1 // 0 means none
			}
		}
		for i, a := range t.acts {
			if a.sv != nil && a.sv.jv == jv {
				pr.Members = append(pr.Members, i)
			}
		}
		if len(pr.Members) > 0 {
			t.prob.Projects = append(t.prob.Projects, pr)
		}
	}
}
