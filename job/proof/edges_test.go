package proof

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// pattern is a second part of the same size with holes to line up with.
func pattern(at string) string {
	return "\n  - id: b\n    qty: 1\n    size: 24 x 12 x 3/4\n    from: ply\n    machining:\n      - holes: {id: q, through: 1/4, at: " + at + "}\n"
}

// breadboard is a second part of solid wood glued along the end of the first.
func breadboard(long string) string {
	return "\n  - id: b\n    qty: 1\n    size: " + long + " x 2 x 3/4\n    from: maple\nglue-ups:\n  - {id: g, joins: [a, b], glue: pva-yellow, faces: [a right-end, b near-edge]}\nsteps:\n  - {id: g, takes: 20 min}"
}

// tee is a second part of maple glued by the faces given.
func tee(size, faces, more string) string {
	return "\n  - id: b\n    qty: 1\n    size: " + size + "\n    from: maple\n" + more + "glue-ups:\n  - {id: g, joins: [a, b], glue: pva-yellow, faces: [" + faces + "]}\nsteps:\n  - {id: g, takes: 20 min}"
}

// dado is a housing of 3/4 in the first part.
func dado(along string) []string {
	return []string{"dado: {width: 3/4, depth: 1/4, along: " + along + ", at: 3 from " + map[string]string{"length": "near-edge", "width": "left-end"}[along] + "}"}
}

// thick is a second part so thick, with a pilot in its face.
func thick(t string) string {
	return "\n  - id: b\n    qty: 1\n    size: 24 x 12 x " + t + "\n    from: maple\n    machining:\n      - holes: {id: q, diameter: 7/64, depth: 3/4, at: [6, 6], screw: screw-8x1-1/2, pilot: true}\n"
}

// askew is a slot 6 along and 8 across, and a hole.
func askew(at string) []string {
	return []string{"slot: {width: 1/4, depth: 1/4, from: [2, 2], to: [8, 10]}", "holes: {diameter: 1/4, depth: 1/4, at: [" + at + "]}"}
}

// The checks at their limits: each case says by hand what is left, and what is
// to be said of it. An empty want means that the check says nothing.
func TestChecksAtTheirLimits(t *testing.T) {
	const ply, mate = "    size: 24 x 12 x 3/4\n    from: ply\n", `
  - id: b
    qty: 1
    size: 24 x 12 x 3/4
    from: ply
    machining:
      - holes: {id: q, diameter: 7/64, depth: %s, on: near-edge, at: [6, 3/8], screw: %s, pilot: true}
`
	const maple7 = "    size: 24 x 7 x 3/4\n    from: maple\n"
	hole := []string{"holes: {through: 1/4, at: [6, 3]}"}
	for _, c := range []struct {
		name, part string
		cuts       []string
		more       string
		check      string
		want       string
	}{
		// A taper from 12 to 6 over 24 is 12 - 18/4 = 7.5 wide at 18: a hole at 8 is in
		// the offcut, one at 7-3/8 with a radius of 1/8 cuts its line, one at 7 stands
		// (7.5 - 7) cos 14 = 0.485 - 0.125 clear of it.
		{"a hole in what a taper takes off", ply, []string{"taper: {edges: [far-edge], widths: [12, 6]}", "holes: {through: 1/4, at: [18, 8]}"}, "", "leaves-part", "the hole reaches into the wood that the taper takes off"},
		{"a hole over the line of a taper", ply, []string{"taper: {edges: [far-edge], widths: [12, 6]}", "holes: {through: 1/4, at: [18, 7-3/8]}"}, "", "leaves-part", "takes off"},
		{"a hole close to the line of a taper", ply, []string{"taper: {edges: [far-edge], widths: [12, 6]}", "holes: {through: 1/4, at: [18, 7-1/4]}"}, "", "thin-wall", "less than 1/8 in is left"},
		{"a hole clear of a taper", ply, []string{"taper: {edges: [far-edge], widths: [12, 6]}", "holes: {through: 1/4, at: [18, 7]}"}, "", "thin-wall", ""},
		{"a slot that runs into a taper", ply, []string{"taper: {edges: [far-edge], widths: [12, 6]}", "slot: {width: 1/4, through: true, from: [2, 9], to: [18, 9]}"}, "", "leaves-part", "the slot reaches into the wood that the taper takes off"},
		{"a groove that runs out of a taper", ply, []string{"taper: {edges: [far-edge], widths: [12, 6]}", "groove: {width: 1/4, depth: 1/8, at: 9 from near-edge}"}, "", "leaves-part", ""},
		{"a groove off the wood", ply, []string{"taper: {edges: [far-edge], widths: [8, 6]}", "groove: {width: 1/4, depth: 1/8, at: 9 from near-edge}"}, "", "leaves-part", "takes off"},
		{"a taper of both edges takes half off each", ply, []string{"taper: {edges: [near-edge, far-edge], widths: [12, 6]}", "holes: {through: 1/4, at: [18, 9]}"}, "", "leaves-part", ""},
		{"the far corner of a mitred end", ply, []string{"angle-cut: {on: left-end, angle: 45}", "holes: {through: 1/4, at: [4, 8]}"}, "", "leaves-part", "the wood that the angle-cut takes off"},
		{"the near corner of a mitred end", ply, []string{"angle-cut: {on: left-end, angle: 45}", "holes: {through: 1/4, at: [8, 4]}"}, "", "leaves-part", ""},
		{"an end mitred the other way", ply, []string{"angle-cut: {on: left-end, angle: -45}", "holes: {through: 1/4, at: [8, 3]}"}, "", "leaves-part", "takes off"},
		{"a taper wider than the part", ply, []string{"taper: {edges: [far-edge], widths: [12-1/8, 6]}"}, "", "leaves-part", "leaves 12-1/8 in of a width of 12 in"},

		// Walls: 3 - 2 = 1 between middles, less 1/2 and 3/8 is 1/8, enough; a sixteenth
		// less is too little; holes of 1/2 at 5/8 apart leave 1/8.
		{"a wall of an eighth between grooves", ply, []string{"groove: {width: 1, depth: 1/4, at: 2 from near-edge}", "groove: {width: 3/4, depth: 1/4, at: 3 from near-edge}"}, "", "thin-wall", ""},
		{"a wall of a sixteenth between grooves", ply, []string{"groove: {width: 1, depth: 1/4, at: 2 from near-edge}", "groove: {width: 7/8, depth: 1/4, at: 3 from near-edge}"}, "", "thin-wall", "between the groove and the groove only 1/16 in is left"},
		{"holes of one pattern", ply, []string{"holes: {through: 1/2, row: {count: 2, from: [2, 2], step: 9/16, along: length}}"}, "", "thin-wall", "only 1/16 in is left"},
		{"holes across a corner", ply, []string{"holes: {through: 1/2, at: [[2, 2], [2-3/8, 2-1/2]]}"}, "", "thin-wall", ""},                                                                                                                                      // 3/8, 1/2: 5/8 apart
		{"a bore in the edge under a groove", ply, []string{"groove: {width: 1/2, depth: 1/4, at: 6 from near-edge}", "holes: {diameter: 1/4, depth: 6, on: near-edge, at: [4, 5/16]}"}, "", "thin-wall", "between the hole and the groove only 1/16 in is left"}, // 1/2 - 5/16 - 1/8

		// The least wood by material and by the part's own word: 5/32 behind a bore is
		// more than 1/8 and less than MDF's 3/16.
		{"a blind hole in plywood", ply, []string{"holes: {diameter: 1/2, depth: 19/32, at: [6, 6]}"}, "", "thin-web", ""},
		{"a blind hole in MDF", "    size: 24 x 12 x 3/4\n    from: mdf\n", []string{"holes: {diameter: 1/2, depth: 19/32, at: [6, 6]}"}, "", "thin-web", "leaves 5/32 in of 3/4 in; usual is at least 3/16 in"},
		{"a groove with a web of one's own", ply + "    web: 1/8\n", []string{"groove: {width: 1/2, depth: 9/16, at: 6 from near-edge}"}, "", "thin-web", ""},
		{"a hole with a web of one's own", ply + "    web: 3/8\n", []string{"holes: {diameter: 1/2, depth: 1/2, at: [6, 6]}"}, "", "thin-web", "at least 3/8 in"},

		// A dovetail closed at both ends is let in by a bore as wide as the cutter.
		{"a dovetail with an entry", ply, []string{"dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 6 from near-edge, start: 2, stop: 20}", "holes: {diameter: 1/2, depth: 3/8, at: [2-1/4, 6]}"}, "", "dovetail-cannot-enter", ""},
		{"a dovetail with an entry too narrow", ply, []string{"dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 6 from near-edge, start: 2, stop: 20}", "holes: {diameter: 7/16, depth: 3/8, at: [2-1/4, 6]}"}, "", "dovetail-cannot-enter", "closed at both ends"},
		{"a dovetail with an entry too shallow", ply, []string{"dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 6 from near-edge, start: 2, stop: 20}", "holes: {diameter: 1/2, depth: 1/4, at: [2-1/4, 6]}"}, "", "dovetail-cannot-enter", "closed at both ends"},
		{"a dovetail with an entry beside it", ply, []string{"dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 6 from near-edge, start: 2, stop: 20}", "holes: {diameter: 1/2, depth: 3/8, at: [2-1/4, 6-1/8]}"}, "", "dovetail-cannot-enter", "closed at both ends"},

		// A No. 8 flat head is (0.328 - 0.164) / 2 / tan 41 = 0.094 = 3/32 high.
		{"a head that stands out", ply, []string{"holes: {diameter: 3/16, through: true, counterbore: {diameter: 1/2, depth: 1/16}, at: [6, 3/8], screw: screw-8x1-1/4}"}, "", "counterbore-head", "1/16 in deep and the screw's head about 3/32 in high"},
		{"a head below its face", ply, []string{"holes: {diameter: 3/16, through: true, counterbore: {diameter: 1/2, depth: 1/8}, at: [6, 3/8], screw: screw-8x1-1/4}"}, "", "counterbore-head", ""},
		{"a bolt's head", ply, []string{"holes: {through: 1/4, counterbore: {diameter: 5/16, depth: 1/4}, at: [6, 6], screw: bolt-1/4-20x2}"}, "", "counterbore-head", "a socket head, about 3/8 in"},
		{"a screw of four millimetres", ply, []string{"holes: {diameter: 3 mm, through: true, at: [6, 6], screw: screw-4x40}"}, "", "hole-for-screw", "the screw's shank about 5/32 in"}, // 4 mm = 0.1575
		{"a screw that cannot be read", ply, []string{"holes: {diameter: 3 mm, through: true, at: [6, 6], screw: screw-long}"}, "", "hole-for-screw", "cannot be read"},

		// The point: 1-1/4 less 3/4 is 1/2 in b, less than its 12 from the edge. Sunk by a
		// countersink of 1/2 under a head of 0.328, the screw sits 0.172 / 2 / tan 41 =
		// 0.099 lower, so that of 3/4 + 0.099 left in, 0.599 is wanted of the pilot.
		{"a pilot deep enough", ply, []string{"holes: {id: p, diameter: 3/16, through: true, countersink: {cutter: countersink-82}, at: [6, 3/8], screw: screw-8x1-1/4, mates: b/q}"}, fmt.Sprintf(mate, "1/2", "screw-8x1-1/4"), "hole-for-screw", ""},
		{"a pilot too short for a sunk head", ply, []string{"holes: {id: p, diameter: 3/16, through: true, countersink: {diameter: 1/2}, at: [6, 3/8], screw: screw-8x1-1/4, mates: b/q}"}, fmt.Sprintf(mate, "1/2", "screw-8x1-1/4"), "hole-for-screw", "goes in 19/32 in (+0.005)"},
		// A runner of 3/8 in a dado 3/16 deep in a base of 3/4: 9/16 of wood for the
		// 3/4 - 3/8 = 3/8 of a 3/4 screw; a 1 in one goes 5/8 in and comes out.
		{"a screw into a dado", "    size: 12 x 3/4 x 3/8\n    from: ply\n", []string{"holes: {diameter: 3/16, through: true, at: [6, 3/8], screw: screw-8x1, mates: b/way}"}, "\n  - id: b\n    qty: 1\n    size: 24 x 12 x 3/4\n    from: ply\n    machining:\n      - dado: {id: way, width: 3/4, depth: 3/16, at: 6 from left-end}\n", "point-through-face", "goes 5/8 in deep into b, which is 9/16 in there"},

		// Patterns: three holes of an L turned over line up, one hole on the other side
		// does not; the same steps begun 1 in further from the ends of parts of one
		// length are told.
		{"a pattern seen from behind", ply, []string{"holes: {id: p, through: 1/4, at: [[2, 2], [6, 2], [6, 5]], mates: b/q}"}, pattern("[[22, 2], [18, 2], [18, 5]]"), "mates-line-up", ""},
		{"a pattern in another order", ply, []string{"holes: {id: p, through: 1/4, at: [[2, 2], [6, 2], [6, 5]], mates: b/q}"}, pattern("[[6, 5], [2, 2], [6, 2]]"), "mates-line-up", ""},
		{"a hole on the other side", ply, []string{"holes: {id: p, through: 1/4, at: [[2, 4], [6, 6], [10, 2]], mates: b/q}"}, pattern("[[2, 4], [6, 6], [10, 6]]"), "mates-line-up", "2 in out of line"},
		{"holes begun further in", ply, []string{"holes: {id: p, through: 1/4, at: [[2, 2], [6, 2], [10, 2]], mates: b/q}"}, pattern("[[3, 2], [7, 2], [11, 2]]"), "mates-line-up", "a/p begins 2 in from the end of a and b/q 3 in from the end of b; both parts are 24 in there"},

		// Grain across grain: sugar maple's flat-sawn coefficient 0.00353 a percent
		// (Wood Handbook, Table 13-5) over the 6 points or so between the seasons moves
		// 7 in by about 9/64, as in testdata/checks/grain-across.txtar; 1-1/2 in by 1/32.
		{"a breadboard end", "    size: 24 x 7 x 3/4\n    from: maple\n", []string{"holes: {through: 1/4, at: [6, 3]}"}, breadboard("7"), "grain-across", "the right end of a is glued across the grain of b (g): sugar maple moves 9/64 in"},
		{"an end as narrow as a rail", "    size: 24 x 1-3/8 x 3/4\n    from: maple\n", []string{"holes: {through: 1/4, at: [6, 3/4]}"}, breadboard("7"), "grain-across", ""},
		{"edges glued along the grain", "    size: 24 x 7 x 3/4\n    from: maple\n", []string{"holes: {through: 1/4, at: [6, 3]}"}, strings.Replace(breadboard("24"), "a right-end", "a far-edge", 1), "grain-across", ""},

		// T-joints of the same maple. A rib as long as a panel of 7 is wide runs across
		// it: the panel's 9/64 again. A shelf's end across a side of its own width moves
		// with it; in a dado along the side it does not: that is the shelf's 7 in.
		{"a rib across a panel", maple7, hole, tee("7 x 2 x 3/4", "a face, b near-edge", ""), "grain-across", "the near edge of b is glued across the grain of the face of a (g): sugar maple moves 9/64 in"},
		{"a rib along a panel", maple7, hole, tee("24 x 2 x 3/4", "a face, b near-edge", ""), "grain-across", ""},
		{"a rib that may lie either way", maple7, hole, tee("6 x 2 x 3/4", "a face, b near-edge", ""), "grain-across", ""},
		{"a rib in a dado across", maple7, dado("width"), tee("6 x 2 x 3/4", "b near-edge, a face", ""), "grain-across", "across the grain of the face of a (g): sugar maple moves 1/8 in"},
		{"a rib in a groove along", maple7, dado("length"), tee("6 x 2 x 3/4", "b near-edge, a face", ""), "grain-across", ""},
		{"a short rib", maple7, dado("width"), tee("1-3/8 x 2 x 3/4", "b near-edge, a face", ""), "grain-across", ""},
		{"a shelf across a side", maple7, hole, tee("20 x 7 x 3/4", "a face, b left-end", ""), "grain-across", ""},
		{"a shelf along a side", maple7, dado("length"), tee("20 x 7 x 3/4", "a face, b left-end", ""), "grain-across", "the left end of b is glued along the grain of the face of a, and its own grain stands across (g): sugar maple moves 9/64 in"},

		// A point in 3/4 less than 1/8 from coming out: 1-1/2 through a counterbored
		// 3/4 - 1/16 has 1-1/2 - 11/16 = 13/16 in the mate, out; of 7/8 it leaves 1/16;
		// through 3/4 whole 3/4 goes in and leaves 1/8, enough.
		{"a point that nearly comes out", ply, []string{"holes: {id: p, diameter: 3/16, through: true, counterbore: {diameter: 1/2, depth: 1/16}, at: [6, 6], screw: screw-8x1-1/2, mates: b/q}"}, thick("7/8"), "point-through-face", "goes about 13/16 in deep into b, which is 7/8 in there: only about 1/16 in is left before its point"},
		{"a point that has its eighth", ply, []string{"holes: {id: p, diameter: 3/16, through: true, at: [6, 6], screw: screw-8x1-1/2, mates: b/q}"}, thick("7/8"), "point-through-face", ""},

		// A slot askew, 6 along and 8 across, so 10 long (3-4-5): at right angles to its
		// middle (5, 6) lies (0.8, -0.6). Radii of 1/8 and 1/8 leave 3/4 at 1, 1/16 at
		// 5/16, nothing at 3/16. The box round the slot holds all of them.
		{"a hole beside an askew slot", ply, askew("5.8, 5.4"), "", "features-meet", ""},
		{"a hole well clear of it", ply, askew("5.8, 5.4"), "", "thin-wall", ""},
		{"a hole close to it", ply, askew("5-1/4, 5-13/16"), "", "thin-wall", "between the hole and the slot only 1/16 in is left"},
		{"a hole close to it on the other side", ply, askew("4-3/4, 6-3/16"), "", "thin-wall", "only 1/16 in is left"},
		{"a hole into it", ply, askew("5.15, 5.8875"), "", "features-meet", "runs into"},
		{"a hole beyond its end", ply, askew("8.18, 10.24"), "", "thin-wall", "only 3/64 in (+0.003) is left"}, // 0.3 on along (0.6, 0.8), less 1/4: 0.05
		{"a groove over it", ply, []string{"slot: {width: 1/4, depth: 1/4, from: [2, 2], to: [8, 10]}", "groove: {width: 1, depth: 1/4, at: 6 from near-edge}"}, "", "features-meet", "runs into"},
		{"a groove in its box's corner", ply, []string{"slot: {width: 1/4, depth: 1/4, from: [2, 2], to: [8, 10]}", "groove: {width: 1, depth: 1/4, at: 9 from near-edge, stop: 6}"}, "", "features-meet", ""},
		{"a slot across it", ply, []string{"slot: {width: 1/4, depth: 1/4, from: [2, 2], to: [8, 10]}", "slot: {width: 1/4, depth: 1/4, from: [2, 10], to: [8, 2]}"}, "", "features-meet", "runs into"},
		{"a slot beside it", ply, []string{"slot: {width: 1/4, depth: 1/4, from: [2, 2], to: [8, 10]}", "slot: {width: 1/4, depth: 1/4, from: [4, 2], to: [10, 10]}"}, "", "features-meet", ""},

		// 5 x 3 is under 6 long: too small for a router table, whatever the cutter is.
		{"a dovetail in a small part", "    size: 5 x 3 x 3/4\n    from: ply\n", []string{"dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 1 from near-edge}"}, "", "small-part", "too small to hold by hand at the router"},
		{"a hole in a small part", "    size: 5 x 3 x 3/4\n    from: ply\n", []string{"holes: {through: 1/4, at: [2, 1]}"}, "", "small-part", ""},

		// Rabbets of one depth meet in a corner.
		{"rabbets at a corner", ply, []string{"rabbet: {edges: [near-edge], width: 1/2, depth: 1/4}", "rabbet: {edges: [left-end], width: 3/8, depth: 1/4}"}, "", "features-meet", ""},
		{"a rabbet on one edge twice", ply, []string{"rabbet: {edges: [near-edge], width: 1/2, depth: 1/4}", "rabbet: {edges: [near-edge], width: 3/8, depth: 1/4}"}, "", "features-meet", "runs into"},
		{"rabbets of two depths", ply, []string{"rabbet: {edges: [near-edge], width: 1/2, depth: 1/4}", "rabbet: {edges: [left-end], width: 3/8, depth: 3/16}"}, "", "features-meet", "runs into"},

		// Slots are round at their ends: middles 3/4 apart, radii 1/4 and 3/8.
		{"a hole beyond a slot's round end", ply, []string{"slot: {width: 1/2, depth: 1/4, from: [4, 6], to: [8, 6]}", "holes: {diameter: 3/4, depth: 1/4, at: [8-1/2, 6-1/2]}"}, "", "features-meet", ""},        // 0.707 against 0.625
		{"a hole into a slot's round end", ply, []string{"slot: {width: 1/2, depth: 1/4, from: [4, 6], to: [8, 6]}", "holes: {diameter: 3/4, depth: 1/4, at: [8-3/8, 6-3/8]}"}, "", "features-meet", "runs into"}, // 0.530
	} {
		yaml := "name: x\nparts:\n  - id: a\n    qty: 1\n" + c.part + "    machining:\n      - " + strings.Join(c.cuts, "\n      - ") + c.more + "\n"
		got := only(Check(shopWith(t, yaml), Options{Now: now}), c.check)
		if c.want == "" {
			require.Empty(t, got, "%s", c.name)
			continue
		}
		require.NotEmpty(t, got, "%s", c.name)
		var all []string
		for _, f := range got {
			all = append(all, f.Text)
		}
		require.Contains(t, strings.Join(all, "\n"), c.want, "%s", c.name)
	}
}
