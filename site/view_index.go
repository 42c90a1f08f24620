package site

import (
	"sort"
	"strconv"
	"strings"

	"caul/job"
	"caul/job/plan"
)

type indexView struct {
	Title    string
	Jobs     []jobCard
	Timers   []timerCard
	CanDo    []choiceCard
	BothWays []BothWay
	NoPlan   string
}

type jobCard struct {
	ID, Name, For    string
	State            job.State
	StepsDone, Steps int
	Finish           string
}

type timerCard struct {
	Job, Name, Ready, ISO, Held, Note string
	State                             job.State
}

type choiceCard struct {
	Job, Name, Takes, SetUp, Why, Link string
}

func (r *renderer) indexView() indexView {
	in := r.in
	v := indexView{Title: in.Shop.Name, BothWays: in.BothWays, NoPlan: in.NoPlan}
	names := map[string]string{}
	for _, j := range in.Shop.Jobs {
		names[j.ID] = j.Name
		c := jobCard{ID: j.ID, Name: j.Name, For: j.For, Steps: len(j.Steps), State: job.Waiting}
		states, _ := j.States()
		for _, s := range j.Steps {
			if states[s.ID].State == job.Done {
				c.StepsDone++
			}
		}
		c.State = r.jobState(j)
		if jp := r.jobPlan(j.ID); jp != nil && !jp.Done {
			c.Finish = r.when(jp.Finish)
		}
		v.Jobs = append(v.Jobs, c)
	}
	if in.Live == nil {
		return v
	}
	for _, t := range in.Live.Timers {
		st := job.Curing
		if t.Kind == plan.Clamped {
			st = job.InClamps
		}
		v.Timers = append(v.Timers, timerCard{Job: names[t.Job], Name: t.Name, Ready: r.when(t.Ready), ISO: r.iso(t.Ready),
			Held: counts(t.Clamps), Note: t.Note, State: st})
	}
	for _, c := range append(append([]plan.Choice{}, in.Live.OnBench...), in.Live.CanDo...) {
		v.CanDo = append(v.CanDo, choiceCard{Job: names[c.Job], Name: c.Name, Takes: c.Takes.String(), SetUp: c.SetUp, Why: c.Why,
			Link: "jobs/" + c.Job + "/index.html#step-" + c.Step})
	}
	return v
}

func (r *renderer) jobPlan(id string) *plan.JobPlan {
	if r.in.Plan == nil {
		return nil
	}
	for i := range r.in.Plan.Jobs {
		if r.in.Plan.Jobs[i].Job == id {
			return &r.in.Plan.Jobs[i]
		}
	}
	return nil
}

// jobState is the state of a job's liveliest step.
func (r *renderer) jobState(j *job.Job) job.State {
	states, _ := j.States()
	rank := map[job.State]int{job.OnBench: 5, job.InClamps: 4, job.Curing: 3, job.Ready: 2, job.Waiting: 1}
	best, done := job.State(""), len(j.Steps) > 0
	for _, s := range j.Steps {
		st := states[s.ID].State
		if st == "" {
			st = job.Waiting
		}
		if st != job.Done && st != job.Aside {
			done = false
		}
		if rank[st] > rank[best] {
			best = st
		}
	}
	switch {
	case done:
		return job.Done
	case best == "":
		return job.Waiting
	}
	return best
}

// counts writes "8 bar, 2 parallel-jaw".
func counts(m map[string]int) string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for i, k := range keys {
		keys[i] = strconv.Itoa(m[k]) + " " + k
	}
	return strings.Join(keys, ", ")
}
