package site

import (
	"fmt"
	"slices"
	"strings"
)

// wallStep is a step on the sheet for the shop wall: one to tick, with what is
// looked up from across the bench. The instructions stay on the job's page.
type wallStep struct {
	N        int
	ID, Name string
	Takes    string
	Facts    []string
	Cautions string // their numbers
}

// wallGlue are the figures of a glue-up that are wanted with wet hands.
var wallGlue = []string{"glue", "pour", "under pressure within", "clamps to lay out", "clamps off after", "machining after"}

// wall makes the sheet for the shop wall out of the steps. A caution that
// several steps share is written out once, in the order it is first met, and
// every step names those it needs by number.
func (v *jobView) wall() {
	for _, s := range v.Steps {
		w := wallStep{N: s.N, ID: s.ID, Name: s.Name, Takes: s.Takes}
		if s.SetUp != "" {
			w.Facts = append(w.Facts, s.SetUp)
		}
		w.Facts = append(append(w.Facts, s.Notes...), s.When...)
		if s.Glue != nil {
			for _, f := range s.Glue.Figures {
				if slices.Contains(wallGlue, f.What) {
					w.Facts = append(w.Facts, f.What+" "+f.Is)
				}
			}
		}
		var by []int
		for _, c := range s.Cautions {
			at := slices.Index(v.Cautions, c)
			if at < 0 {
				at = len(v.Cautions)
				v.Cautions = append(v.Cautions, c)
			}
			by = append(by, at+1)
		}
		slices.Sort(by)
		w.Cautions = strings.Trim(strings.Join(strings.Fields(fmt.Sprint(by)), ", "), "[]")
		v.Wall = append(v.Wall, w)
	}
}
