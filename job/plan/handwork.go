package plan

import (
	"time"

	"caul/job"
	"caul/job/measure"
)

// Hands is the time at the bench that one step takes.
type Hands struct {
	Step   measure.Span // its own, as `takes:` says
	Scrape measure.Span // scraping its squeeze-out
	Off    measure.Span // taking its clamps off
}

// Handwork is the time at the bench for each step of a job, made once, as a
// plan counts it. Changing the settings of machines comes on top: how often
// that is done hangs on the order of the steps, which only a plan has.
func Handwork(shop *job.Shop, j *job.Job) (map[string]Hands, error) {
	a, err := newAir(shop, time.Time{})
	if err != nil {
		return nil, err
	}
	out := map[string]Hands{}
	for i := range j.Steps {
		st := &j.Steps[i]
		h := Hands{Step: st.Takes}
		if up := st.GlueUp; up != nil {
			g, err := a.gluing(up)
			if err != nil {
				return nil, err
			}
			if g.clamped() {
				h.Off = takenOff(clampsOfStep(shop, j, st, g))
			}
			if up.Scrape != nil {
				h.Scrape = scraping
			}
		}
		out[st.ID] = h
	}
	return out, nil
}
