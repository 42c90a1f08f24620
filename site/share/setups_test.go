package share

import (
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/measure"
)

// A set-up taken into other units says which its lengths are in: 12 in is
// 304.8 mm, 1-1/2 in 38.1 mm (the international inch, 25.4 mm). What may be an
// angle, a number of a cutter or has a unit already stays as it is.
func TestSetUpsSayTheirUnit(t *testing.T) {
	inch := measure.Inches
	b := &Bundle{Shop: &job.Shop{Machines: []job.Machine{{ID: "planer", Kind: "planer"}, {ID: "mitre", Kind: "mitre-saw"}}},
		Job: &job.Job{Units: &inch, Steps: []job.Step{{SetUp: "planer, 2", Machine: "planer"}, {SetUp: "mitre saw, 45", Machine: "mitre"}}}}
	m := &matcher{b: b, shop: &job.Shop{Units: job.Units{Length: measure.Units{System: measure.Metric}}}}
	for setup, want := range map[string]string{
		"table saw, rip fence 12":           "table saw, rip fence 12 in (304.8 mm)",
		"router table, spiral-3/8, fence 6": "router table, spiral-3/8, fence 6 in (152.4 mm)",
		"table saw, stop 1-1/2, flat-top":   "table saw, stop 1-1/2 in (38.1 mm), flat-top",
		"planer, 3/4":                       "planer, 3/4 in (19.05 mm)",
		"planer, 2":                         "planer, 2 in (50.8 mm)",
		"table saw, fence 2.5":              "table saw, fence 2.5 in (63.5 mm)",
		"mitre saw, 45":                     "mitre saw, 45",
		"table saw, fence 12 in":            "table saw, fence 12 in",
		"table saw, fence 300 mm":           "table saw, fence 300 mm",
		"drill press, countersink-82":       "drill press, countersink-82",
		"router table, 10 in from the stop": "router table, 10 in from the stop",
		"by hand":                           "by hand",
		"table saw, two-blade stack":        "table saw, two-blade stack",
	} {
		require.Equal(t, want, m.withUnits(setup))
	}
}
