package plan

import (
	"time"

	"caul/job"
	"caul/job/schedule"
)

// machineState is a state of a machine as the scheduler counts them: the
// setting with which a step takes it up, and the one in which it leaves it.
type machineState struct{ in, out setting }

// setups gives every machine the states its steps ask for. A machine is as the
// last step on it left it; one that no step has used yet has to be set up. A
// step that makes several settings is a state of its own, entered at its first
// and left at its last.
func (t *task) setups() {
	type asks struct {
		act int
		use use
	}
	var machines []string
	by := map[string][]asks{}
	for i, a := range t.acts {
		if a.role != roleStep {
			continue
		}
		for _, u := range a.sv.uses {
			if a.sv.state == job.OnBench { // its first settings are behind it
				u.settings = u.settings[len(u.settings)-1:]
			}
			if by[u.machine] == nil {
				machines = append(machines, u.machine)
			}
			by[u.machine] = append(by[u.machine], asks{i, u})
		}
	}
	for _, m := range machines {
		was := t.w.leftAs(m)
		states := []machineState{{was, was}}
		at := map[string]int{was.key: 0}
		setup := len(t.prob.Setups)
		for _, u := range by[m] {
			n, ok := at[u.use.first().key]
			if !ok || len(u.use.settings) > 1 {
				n = len(states)
				states = append(states, machineState{u.use.first(), u.use.last()})
				if len(u.use.settings) == 1 {
					at[u.use.first().key] = n
				}
			}
			a := &t.prob.Activities[u.act]
			a.States = append(a.States, schedule.State{Setup: setup, State: n})
		}
		change := make([][]int64, len(states))
		for a := range change {
			change[a] = make([]int64, len(states))
			for b := range change[a] {
				if a != b && states[a].out.key != states[b].in.key {
					change[a][b] = changeTime(t.w.shop, m, states[a].out, states[b].in).Minutes()
				}
			}
		}
		t.states = append(t.states, states)
		t.prob.Setups = append(t.prob.Setups, schedule.Setup{Name: m, Resource: maker, Initial: 0, Change: change})
	}
}

// leftAs is the setting in which the last step begun on a machine left it.
func (w *world) leftAs(machine string) setting {
	var left setting
	last := time.Time{}
	for _, jv := range w.jobs {
		for _, sv := range jv.steps {
			for _, u := range sv.uses {
				if u.machine == machine && !sv.begun.IsZero() && sv.begun.After(last) {
					left, last = u.last(), sv.begun
				}
			}
		}
	}
	return left
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
