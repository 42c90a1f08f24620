package schedule

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

func ptr(v int64) *int64 { return &v }

// A glue-up in an evening, clamps until the maker takes them off, a saw that
// has to be set: small enough to be worked out by hand.
func bench() *Problem {
	return &Problem{
		Horizon:   3 * 1440,
		Resources: []Resource{{"maker", 1}, {"clamps", 4}},
		Calendars: []Calendar{{Name: "evenings", Windows: []Window{{1080, 1200}, {2520, 2640}, {3960, 4080}}}},
		Setups:    []Setup{{Name: "saw", Resource: 0, Initial: 0, Change: [][]int64{{0, 15}, {15, 0}}}},
		Activities: []Activity{
			{Name: "mill", Work: 40, Split: true, Needs: []Need{{0, 1}}, States: []State{{0, 1}}},
			{Name: "glue", Work: 30, Needs: []Need{{0, 1}}, Holds: []Hold{{1, 4, 2}}},
			{Name: "clamps off", Work: 5, Needs: []Need{{0, 1}}},
		},
		Lags: []Lag{
			{From: 0, FromEnd: true, To: 1},
			{From: 1, FromEnd: true, To: 2, Min: 60},
		},
	}
}

func TestByHand(t *testing.T) {
	// 15 to set the saw, 40 milling, 30 gluing: 85 of the first evening's 120. An
	// hour in clamps ends after the evening, so the clamps come off the next day.
	r, err := Solve(context.Background(), bench(), Options{})
	require.NoError(t, err)
	require.Equal(t, []int64{1095, 1135, 2520}, r.Start)
	require.Equal(t, int64(2525), r.Levels[Finish].Value)
	require.Equal(t, []Change{{Setup: 0, Activity: 0, From: 0, To: 1, Start: 1080, End: 1095}}, r.Changes)
}

func TestCheckRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		start []int64
		edit  func(p *Problem)
	}{
		"no room for the change": {start: []int64{1080, 1135, 2520}},
		"lag too short":          {start: []int64{1095, 1135, 1190}},
		"out of hours":           {start: []int64{1095, 1135, 2000}},
		"does not fit":           {start: []int64{1095, 1180, 2520}},
		"maker twice":            {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) { p.Lags[0].FromEnd = false; p.Activities[0].Work = 41 }},
		"clamps": {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) {
			p.Activities[0].Holds = []Hold{{1, 1, 2}}
		}},
		"most lag": {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) { p.Lags[1].HasMax, p.Lags[1].Max = true, 1000 }},
		"released": {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) { p.Activities[2].Release = 2521 }},
		"latest":   {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) { p.Activities[2].Latest = 2524 }},
		"horizon":  {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) { p.Horizon = 2524 }},
		"fixed":    {start: []int64{1095, 1135, 2520}, edit: func(p *Problem) { p.Activities[2].Fixed = ptr(2521) }},
	} {
		p := bench()
		for i := range p.Activities {
			p.Activities[i].Calendar = 0
		}
		require.NoError(t, Check(p, []int64{1095, 1135, 2520}))
		if c.edit != nil {
			c.edit(p)
		}
		var v *Violation
		require.ErrorAs(t, Check(p, c.start), &v, name)
	}
}
