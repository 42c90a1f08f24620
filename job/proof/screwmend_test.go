package proof

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What a finding about a screw says to do, done, takes the finding away. The
// sizes are ASME B18.6.1's (0.060 + 0.013 N for the shank) and the ones that
// the mend line itself names.
func TestScrewMendsHold(t *testing.T) {
	two := func(a, b string) string {
		return piece("24 x 12 x 3/4") + "\n      - holes: {id: p, at: [6, 6], mates: b/q, " + a + "}\n" +
			"  - id: b\n    qty: 1\n    size: 24 x 12 x 3/4\n    from: ply\n    machining:\n      - holes: {id: q, at: [6, 6], " + b + "}\n"
	}
	const pilot = "diameter: 7/64, depth: 3/4, screw: screw-8x1-1/4, pilot: true"
	for _, c := range []struct{ name, rule, mend, job, old, by string }{
		{"a name that does not read", "hole-for-screw", "call it by its number and length, as screw-8x1-1/4, or in millimetres, as screw-4x30",
			two("diameter: 3/16, through: true, screw: screw-long", pilot), "screw-long", "screw-8x1-1/4"},
		{"a pilot wider than the root", "hole-for-screw", "drill 1/8 or less",
			two("diameter: 3/16, through: true, screw: screw-8x1-1/4", "diameter: 5/32, depth: 3/4, screw: screw-8x1-1/4, pilot: true"), "5/32", "1/8"},
		{"a pilot too narrow", "hole-for-screw", "drill 3/32 (NDS",
			two("diameter: 3/16, through: true, screw: screw-8x1-1/4", "diameter: 1/16, depth: 3/4, screw: screw-8x1-1/4, pilot: true"), "1/16", "3/32"},
		{"a hole that the shank grips", "hole-for-screw", "drill 11/64, or write `pilot: true`",
			two("diameter: 1/8, through: true, screw: screw-8x1-1/4", pilot), "1/8", "11/64"},
		{"a hole that is too wide", "hole-for-screw", "drill 11/64",
			two("diameter: 1/4, through: true, screw: screw-8x1-1/4", pilot), "diameter: 1/4", "diameter: 11/64"},
		{"a pilot less deep than the screw goes", "hole-for-screw", "bore it 1/2 in deep",
			two("diameter: 3/16, through: true, screw: screw-8x1-1/4", "diameter: 7/64, depth: 1/4, screw: screw-8x1-1/4, pilot: true"), "depth: 1/4", "depth: 1/2"},
		{"a point that comes out", "point-through-face", "take a screw of 1-3/8 in at most",
			two("diameter: 3/16, through: true, screw: screw-8x2", "diameter: 7/64, depth: 1/2, screw: screw-8x2, pilot: true"), "screw-8x2", "screw-8x1-3/8"},
	} {
		found := func(text string) (mends []string) {
			for _, f := range Check(shopWith(t, text), Options{Now: now}).Findings {
				if f.Check == c.rule {
					mends = append(mends, f.Mend)
				}
			}
			return mends
		}
		before := found(c.job)
		require.NotEmpty(t, before, c.name)
		require.Contains(t, strings.Join(before, "\n"), c.mend, c.name)
		require.Empty(t, found(strings.ReplaceAll(c.job, c.old, c.by)), c.name)
	}
}
