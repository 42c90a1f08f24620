package proof

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

// Cautions come by machine, cutter, operation, adhesive and finish, each with
// its source where the trade facts have one: 29 CFR 1910.213(a) and California
// Title 8 section 4296(a) for cuts without the guard, the HSE's page on wood
// dust for dust, AC 43.13-1B for the mixing of epoxy; the rest says "common
// practice, no source".
func TestCautionsBesideSteps(t *testing.T) {
	s := shopWith(t, `
name: x
cautions: [mind the cat]
parts:
  - id: a
    qty: 1
    size: 24 x 12 x 3/4
    from: mdf
    machining:
      - dado: {width: 1/2, depth: 1/4, at: 6 from left-end, machine: table saw}
      - dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 6 from near-edge, start: 2}
      - taper: {edges: [far-edge], widths: [12, 10], machine: table saw}
glue-ups:
  - {id: join, joins: [a], glue: epoxy-30, bond: 2 x 2, clamps: {bar: 2}}
consumes:
  - {item: boiled-oil, amount: 10 ml, step: coat}
steps:
  - {id: saw, takes: 20 min, setup: table saw, uses: [a]}
  - {id: rout, takes: 20 min, setup: "router table, dovetail-1/2", uses: [a], after: [saw]}
  - {id: join, takes: 20 min, after: [rout]}
  - {id: coat, takes: 20 min, finish: true, after: [join]}
`)
	j := s.Jobs[0]
	for _, c := range []struct{ step, text, source string }{
		{"saw", "guard and riving knife on", "HSE"},
		{"saw", "a cut that does not go through", "1910.213(a)"},
		{"saw", "tapers in a carriage", ""},
		{"saw", "may hold formaldehyde", "wooddust"},
		{"rout", "feed against the turn of the cutter", ""},
		{"rout", "a dovetail goes at its full depth in one pass", ""},
		{"rout", "a stopped cut between clamped stop blocks", ""},
		{"join", "never change the mix", "43.13-1B"},
		{"coat", "oily rags", "fire-service"},
		{"coat", "air the room", ""},
		{"coat", "mind the cat", "the job's own"},
	} {
		found := false
		for _, k := range Cautions(s, j, c.step) {
			if !strings.Contains(k.Text, c.text) {
				continue
			}
			found = true
			require.Contains(t, k.Source.Ref, c.source, "%s: %s", c.step, c.text)
			if c.source == "" {
				require.NotEqual(t, measure.Standing(0), k.Source.Standing, "%s says neither a source nor that it has none", c.text)
			}
		}
		require.True(t, found, "%s: %q is not told: %v", c.step, c.text, StepCautions(s, j, c.step))
	}
	for _, k := range Cautions(s, j, "coat") {
		require.NotContains(t, k.Text, "riving knife")
	}
}
