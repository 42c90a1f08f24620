package proof

import (
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/require"

	"caul/job"
)

// oddShop reads a shop of parts such as makers draw for jigs: bases, fences,
// bars, inserts, wedges, notched shelves, in inches, millimetres and both.
func oddShop(t *testing.T, name string) *job.Shop {
	a, err := txtar.ParseFile(filepath.Join("testdata", "odd", name))
	require.NoError(t, err)
	m := fstest.MapFS{}
	for _, f := range a.Files {
		m[f.Name] = &fstest.MapFile{Data: f.Data}
	}
	s, err := job.LoadFS(m, "")
	require.NoError(t, err)
	return s
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// Every number of the set-up sheet for fifteen odd parts, worked out by hand in
// the comment beside it.
func TestOddPartsSetUps(t *testing.T) {
	for _, c := range []struct{ shop, job, want string }{
		// The dado's middle is 13-1/2 - 5-13/16 - 3/8 = 7-5/16 from the end, its near
		// side 7-5/16 - 3/8 = 6-15/16; a 1/2 in cutter cuts the far side at
		// 6-15/16 + 3/4 - 1/2 = 7-3/16. 3/8 deep in steps of at most 1/4: two of 3/16.
		{"inches", "inch", "straight-1/2: fence 6-15/16 in to the cutter, height 3/8 in 2 x base: dado left, left-end against the fence; 3/4 in wide: a second cut with the fence 7-3/16 in to the cutter 2 x base: dado right, right-end"},
		{"inches", "inch", "2 passes, set to 3/16, 3/8;"},
		// A kerf of 1/8 with its middle at 13-1/2: 13-1/2 - 1/16; its ends 1/16 beyond
		// their middles.
		{"inches", "inch", "fence 13-7/16 in to the cutter, right through 2 x base: slot kerf, left-end against the fence; cut from 1-15/16 in to 16-1/16 in, counted from the near-edge"},
		// Bored into the near edge, the fence's back lies against the drill's fence:
		// 1/2 is counted through the thickness from the back. 1-1/2 + 3 x 8 = 25-1/2.
		{"inches", "inch", "7/64 in bit: fence 1/2 in to the middle, 1 in deep 2 x fence: hole pilots, 4 in each, back against the fence; from the left-end: 1-1/2, 9-1/2, 17-1/2, 25-1/2"},
		// The dovetail is 1/2 at its bottom: 1 - 1/4 = 3/4; its relief 1/4: 1 - 1/8 = 7/8,
		// in three passes of at most 1/8: 5/16 / 3 = 0.104, up to 7/64 on the rule.
		{"inches", "inch", "dovetail-1/2: fence 3/4 in to the cutter, height 3/8 in 2 x fence: dovetail stop-way, far-edge"},
		{"inches", "inch", "straight-1/4: fence 7/8 in to the cutter, height 5/16 in 2 x fence: groove relief, far-edge against the fence - test cut"},
		{"inches", "inch", "3 passes, set to 7/64, 7/32, 5/16;"},
		// No. 8: head 2 x 0.164 = 0.328, hole 0.1875; sunk flush at 82 degrees
		// (0.328 - 0.1875) / 2 / tan 41 = 0.0808 = 5/64 + 0.0027. Two copies of two bars.
		{"inches", "inch", "countersink-82: fence 3/8 in to the middle, 5/64 in (+0.003) deep 4 x bar: countersink of hole shim, 3 in each"},
		// Two rabbets of one depth and two widths are two settings; 5/8 is wider than
		// the cutter's 1/2.
		{"inches", "inch", "straight-1/2: 3/8 in of the cutter in front of the fence, height 1/8 in 6 x insert: rabbet lip, 2 in each, left-end, near-edge against the fence"},
		{"inches", "inch", "straight-1/2: 5/8 in of the cutter in front of the fence, height 1/8 in 6 x insert: rabbet wide, far-edge against the fence; first with 1/2 in in front of the fence, then on to 5/8 in"},
		{"inches", "inch", "6 x insert: hole level, 4 in each; marked out from the left-end and the near-edge: 1 x 1, 12-1/4 x 1, 1 x 2-3/4, 12-1/4 x 2-3/4"},
		// (6 - 2) over 24: atan 1/6 = 9.46 degrees.
		{"inches", "inch", "table-saw: 9.46 degrees 2 x wedge: taper; far-edge: 6 in wide at the left end, 2 in at the right"},
		{"inches", "inch", "mitre-saw: 45 degrees 8 x brace: angle-cut; the left-end, its long point at the near-edge"},
		{"inches", "inch", "mitre-saw: -22.5 degrees 8 x brace: angle-cut; the right-end, its long point at the far-edge"},
		// A way 1/4 wide at 1-1/2: 1-3/8; the wider one under it 5/8: 1-3/16, from
		// 2 - 5/16 to 22 + 5/16, and cut first. Two copies.
		{"inches", "inch", "fence 1-3/16 in to the cutter, height 3/8 in 2 x track: counterbore of slot way, near-edge against the fence; cut from 1-11/16 in to 22-5/16 in, counted from the left-end; 5/8 in wide"},
		{"inches", "inch", "straight-1/4: fence 1-3/8 in to the cutter, right through 2 x track: slot way, near-edge against the fence; cut from 1-7/8 in to 22-1/8 in, counted from the left-end; stop blocks for the cutter's middle at 2 in and 22 in"},
		// Into an end the back lies against the fence and the places count across.
		{"inches", "inch", "3/8 in bit: fence 3/8 in to the middle, 1-1/4 in deep 4 x lug: hole ends, 2 in each, back against the fence; from the near-edge: 1, 2"},
		// 50 mm - 6 mm = 44 mm = 1.73228 = 1-47/64 - 0.0021; the far side with a 1/4 in
		// cutter 44 + 12 - 6.35 = 49.65 mm = 1.95472 = 1-61/64 + 0.0016; 6 mm = 15/64 + 0.0018.
		{"inches", "mixed", "fence 1-47/64 in (-0.002) to the cutter, height 15/64 in (+0.002) 1 x deck: groove fence-way, far-edge against the fence; 12 mm wide: a second cut with the fence 1-61/64 in (+0.002) to the cutter"},
		// 100 mm = 3.93701 = 3-15/16 - 0.0005.
		{"inches", "mixed", "20 mm bit: right through 1 x deck: hole dogs, 6 in each; marked out from the left-end and the near-edge: 3-15/16 (-0.0005) x 3, 3-15/16 (-0.0005) x 9, 11-13/16 (-0.001) x 3"},
		// A notch open at the near edge is sawn standing on it, 2 high; the other from 2
		// to 4 stands on the far edge, 2 high too. 5 - 0.23622 = 4.76378 = 4-49/64 - 0.0018.
		{"inches", "mixed", "table-saw: fence 4-49/64 in (-0.002) to the cutter, height 2 in 2 x shelf: dado notch, left-end against the fence; stood on its near-edge; 12 mm wide 2 x shelf: dado notch-2, right-end against the fence; stood on its far-edge"},
		// A slot that runs askew has no fence.
		{"inches", "mixed", "straight-3/8: right through 1 x cap: slot askew; 3/8 in wide, its middle marked out from 3 x 2 to 9 x 6, counted from the left-end and the near-edge"},
		{"inches", "mixed", "round-1/8: height 1/8 in 1 x cap: round-over, 3 in each, left-end, near-edge, far-edge against the fence"},
		// A screw of 4 mm has a head of 8: (8 - 4.5) / 2 = 1.75 at 90 degrees.
		{"millimetres", "metric", "countersink-90: fence 20 mm to the middle, 1.8 mm deep 1 x plate: countersink of hole fix, 4 in each, near-edge"},
		// 11.8 in steps of at most 4: three, full steps and the rest.
		{"millimetres", "metric", "straight-8: fence 121 mm to the cutter, height 11.8 mm 1 x plate: groove g, near-edge against the fence; cut from 40 mm to 360 mm, counted from the left-end"},
		{"millimetres", "metric", "3 passes, set to 4, 8, 11.8;"},
		{"millimetres", "metric", "2.8 mm bit: fence 10 mm to the middle, 30 mm deep 2 x rail: hole pilot, 4 in each, back against the fence; from the left-end: 50, 150, 250, 350"},
		{"millimetres", "metric", "dovetail-14: fence 23 mm to the cutter, height 9 mm 1 x guide: dovetail dt"}, // 30 - 7
		{"millimetres", "metric", "straight-8: fence 26 mm to the cutter, height 8 mm 1 x guide: groove clear"}, // 30 - 4
		// 25 - 6 = 19; 19 + 12 - 8 = 23; 40 - 6 and 120 + 6.
		{"millimetres", "metric", "straight-8: fence 19 mm to the cutter, height 10 mm 2 x stop: slot way, near-edge against the fence; cut from 34 mm to 126 mm, counted from the left-end; 12 mm wide: a second cut with the fence 23 mm to the cutter"},
		{"millimetres", "metric", "3 passes, set to 3.4, 6.8, 10;"}, // 10 in steps of at most 4: 3.33, up to 3.4
	} {
		s := oddShop(t, c.shop+".txtar")
		sets := SetUps(s, s.Job(c.job))
		text := flat(SetUpText(sets, s.Units.Length, 100))
		require.Contains(t, text, c.want)
	}
}

// What the proof says of the odd parts, every figure by hand.
func TestOddPartsProof(t *testing.T) {
	for _, c := range []struct {
		shop, job string
		stops     int
		say       []string
	}{
		{"inches", "inch", 3, []string{
			"stop stock-too-thin: fence is 1-1/2 in thick and maple gives 13/16 in once dressed from 1 in", // 1 - 3/16
			"stop stock-too-thin: insert is 1/2 in thick and ply-12 gives 15/32 in (+0.004)",               // 12 mm = 0.47244
			"stop stock-too-thin: lug is 1 in thick and maple gives 13/16 in",
		}},
		{"inches", "mixed", 1, []string{"stop stock-too-thin: shelf is 1/2 in thick"}},
		{"millimetres", "metric", 1, []string{
			"look thin-web: plate: the groove g leaves 5.8 mm of 17.6 mm; usual is at least 5.9 mm", // 17.6 - 11.8; a third is 5.867
			"stop small-part: stop: 160 mm by 50 mm is too small",                                   // under 2 in wide and 12 in long
			"look features-meet: stop: the slot way runs into the hole bolt",
			// the bolt's counterbore is 8 deep, the way on the back 10: 2 of 20 is left
			"between the counterbore bolt and the slot way on the other side only 2 mm is left of 20 mm",
		}},
	} {
		s := oddShop(t, c.shop+".txtar")
		p := Check(s, Options{Jobs: []string{c.job}, Now: now})
		text := flat(Text(p, 100))
		require.Equal(t, c.stops, p.Stops, "%s", Text(p, 100))
		for _, say := range c.say {
			require.Contains(t, text, say)
		}
	}
}

// A part that is trimmed after the glue-up is larger when it is machined than on
// its drawing, and the sheet says so (common practice, no source).
func TestSetUpsTellOfOversize(t *testing.T) {
	part := func(over string) string {
		s := shopWith(t, `
name: x
parts:
  - id: skin
    qty: 2
    size: 24 x 12 x 3/4
    from: ply
`+over+`    machining:
      - groove: {id: way, cutter: straight-1/4, depth: 1/8, at: 6 from near-edge}
`)
		return SetUpText(SetUps(s, s.Jobs[0]), s.Units.Length, 200)
	}
	require.Contains(t, part("    oversize: 1/8\n"), "skin is sawn 1/8 in over: what is set and marked counts from its finished edges")
	require.NotContains(t, part(""), "sawn")
}

// The steps' order is the order of the sheet: what the step that bores makes
// comes after what the step that routs makes, though drilling stands first in
// the file, and each machine is gone to once.
func TestSetUpsFollowTheSteps(t *testing.T) {
	s := shopWith(t, piece("24 x 12 x 3/4")+`
      - holes: {id: late, diameter: 1/4, depth: 1/2, at: [2, 2]}
      - groove: {id: first, cutter: straight-1/4, depth: 1/8, at: 6 from near-edge}
  - id: b
    qty: 1
    size: 24 x 12 x 3/4
    from: ply
    machining:
      - holes: {id: early, diameter: 1/2, depth: 1/2, at: [2, 2], before: rout}
steps:
  - {id: rout, takes: 20 min, setup: router table, uses: [a]}
  - {id: bore, takes: 20 min, setup: drill press, uses: [a], after: [rout]}
  - {id: bore-b, takes: 20 min, setup: drill press, uses: [b]}
`)
	var order []string
	for _, m := range SetUps(s, s.Jobs[0]) {
		for _, o := range m.Ops {
			order = append(order, o.Feature)
		}
	}
	require.Equal(t, []string{"hole early", "groove first", "hole late"}, order)
}
