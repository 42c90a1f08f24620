package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
	"caul/job/plan"
	"caul/job/proof"
	"caul/site"
)

// gather works out everything the pages show.
func gather(ctx context.Context, e *env, s *job.Shop) (site.Input, error) {
	in := site.Input{Shop: s, Now: e.now(), Cuts: map[string]*cutting.Cut{}, Bills: map[string]*cost.Bill{},
		Open: func(p string) ([]byte, error) { return os.ReadFile(filepath.Join(s.Dir, filepath.FromSlash(p))) }}
	var err error
	var inf *plan.Infeasible
	if in.Plan, err = plan.Make(ctx, s, e.now(), plan.Options{}); errors.As(err, &inf) {
		in.NoPlan = inf.Error()
	} else if err != nil {
		return in, err
	}
	if in.Live, err = plan.At(s, e.now(), 0, in.Plan); err != nil && !errors.As(err, &inf) {
		return in, err
	}
	for _, j := range s.Jobs {
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
	in.Proof = proof.Check(s, proof.Options{Now: e.now()})
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
