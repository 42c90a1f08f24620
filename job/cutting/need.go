package cutting

import (
	"fmt"
	"slices"

	"caul/job"
)

// need is one kind of part and how many of it are still to be cut.
type need struct {
	job    *job.Job
	part   *job.Part
	copies int
	total  int // wanted over all copies
	cut    int // of those, there already
	why    string
}

// jobsOf picks the jobs to lay out.
func jobsOf(shop *job.Shop, o *Options) ([]*job.Job, error) {
	if len(o.Jobs) == 0 {
		var open []*job.Job
		for _, j := range shop.Jobs {
			if !finished(j) {
				open = append(open, j)
			}
		}
		return open, nil
	}
	var out []*job.Job
	for _, id := range o.Jobs {
		i := slices.IndexFunc(shop.Jobs, func(j *job.Job) bool { return j.ID == id })
		if i < 0 {
			return nil, fmt.Errorf("no job %q in this shop", id)
		}
		if !slices.Contains(out, shop.Jobs[i]) {
			out = append(out, shop.Jobs[i])
		}
	}
	return out, nil
}

// finished says whether no step of a job is left to do by hand.
func finished(j *job.Job) bool {
	states, _ := j.States()
	any := false
	for _, s := range j.Steps {
		if s.Optional {
			continue
		}
		switch states[s.ID].State {
		case job.Done, job.Curing:
			any = true
		default:
			return false
		}
	}
	return any
}

// needs lists the parts of a job and what the log says of each: entries that
// say it was cut or spoiled, and, unless only entries count, steps that cannot
// have been done without it.
func needs(j *job.Job, copies int, everything, entries bool) []need {
	out := make([]need, len(j.Parts))
	at := map[string]int{}
	for i := range j.Parts {
		p := &j.Parts[i]
		out[i] = need{job: j, part: p, copies: copies, total: max(p.Qty, 0) * copies}
		at[p.ID] = i
	}
	if everything {
		return out
	}
	uses := map[string][]string{}
	for _, s := range j.Steps {
		uses[s.ID] = append(uses[s.ID], s.Uses...)
		if s.GlueUp != nil {
			uses[s.ID] = append(uses[s.ID], s.GlueUp.Joins...)
		}
	}
	for i := range j.GlueUps {
		uses[j.GlueUps[i].ID] = append(uses[j.GlueUps[i].ID], j.GlueUps[i].Joins...)
	}
	for _, e := range j.Counting() {
		switch e.Did {
		case job.DidCut:
			if i, ok := at[e.Item]; ok {
				n := &out[i]
				n.cut, n.why = min(n.total, n.cut+max(1, e.Qty)), "logged as cut"
			}
		case job.DidSpoil:
			if i, ok := at[e.Item]; ok {
				out[i].cut = max(0, out[i].cut-max(1, e.Qty))
			}
		case job.DidFinish, job.DidClamp, job.DidUnclamp:
			if entries {
				continue
			}
			for _, id := range uses[e.Step] {
				if i, ok := at[id]; ok && out[i].cut < out[i].total {
					n := &out[i]
					n.cut, n.why = n.total, fmt.Sprintf("%s has been %s", e.Step, e.Did)
				}
			}
		}
	}
	return out
}
