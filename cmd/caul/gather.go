package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
	"caul/job/plan"
	"caul/job/proof"
	"caul/site"
)

// results are answers that were worked out before, so that they are not again.
type results struct {
	now  time.Time // the instant of the plan
	plan *plan.Plan
}

// gather works out everything the pages show, but for the jobs whose pages are
// kept.
func gather(ctx context.Context, e *env, s *job.Shop, kept *site.Memory, known results) (site.Input, error) {
	in := site.Input{Shop: s, Now: e.now(), Kept: kept, Plan: known.plan, Cuts: map[string]*cutting.Cut{}, Bills: map[string]*cost.Bill{},
		Open: func(p string) ([]byte, error) { return os.ReadFile(filepath.Join(s.Dir, filepath.FromSlash(p))) }}
	var err error
	var inf *plan.Infeasible
	if in.Plan != nil {
		in.Now = known.now
	} else if in.Plan, err = plan.Make(ctx, s, in.Now, plan.Options{}); errors.As(err, &inf) {
		in.NoPlan = inf.Error()
	} else if err != nil {
		return in, err
	}
	if in.Live, err = plan.At(s, in.Now, 0, in.Plan); err != nil && !errors.As(err, &inf) {
		return in, err
	}
	drawn := []string{}
	for _, j := range s.Jobs {
		if kept.Holds(j.ID) {
			continue
		}
		drawn = append(drawn, j.ID)
		if len(j.Parts) == 0 && len(j.Hardware) == 0 {
			continue
		}
		if len(j.Steps) > 0 && finished(j) && len(j.Counting()) > 0 {
			// nothing is cut or bought any more: only what it cost is told
			cut := &cutting.Cut{Jobs: []string{j.ID}}
			if in.Bills[j.ID], err = cost.Make(s, cut, cost.Options{Jobs: []string{j.ID}}); err != nil {
				return in, err
			}
			continue
		}
		cut, err := cutting.Make(ctx, s, cutting.Options{Jobs: []string{j.ID}})
		if err != nil {
			return in, err
		}
		in.Cuts[j.ID] = cut
		if in.Bills[j.ID], err = cost.Make(s, cut, cost.Options{Jobs: []string{j.ID}}); err != nil {
			return in, err
		}
	}
	if in.Proof = new(proof.Proof); len(drawn) > 0 {
		in.Proof = proof.Check(s, proof.Options{Jobs: drawn, Now: in.Now})
	}
	in.BothWays = bothWaysFor(s.Dir)
	return in, nil
}

// finished tells whether every step of a job is done or set aside.
func finished(j *job.Job) bool {
	states, _ := j.States()
	for _, s := range j.Steps {
		if st := states[s.ID].State; st != job.Done && st != job.Aside {
			return false
		}
	}
	return true
}
