package job

import (
	"io/fs"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

// machined reads features into the 48 x 24 skin of testdata/shop.
func machined(t *testing.T, features string) ([]Feature, error) {
	data, err := fs.ReadFile(fuzzShop("x", nil), jobFile)
	require.NoError(t, err)
	text := string(data)
	a := strings.Index(text, "    machining:")
	b := strings.Index(text, "  - {id: rib")
	text = text[:a] + "    machining:\n" + features + text[b:]
	text = strings.Replace(text, "copies: 1\n", "copies: 1\nmeasures: {inset: 2, gap: inset + 1/2}\n", 1)
	shop, err := LoadFS(fuzzShop(jobFile, []byte(text)), "")
	if err != nil {
		return nil, err
	}
	return shop.Jobs[0].Parts[0].Machining, nil
}

func in(t *testing.T, text string) measure.Length {
	l, err := measure.ParseLength(text, measure.Inches)
	require.NoError(t, err)
	return l
}

func points(f Feature) [][2]float64 {
	var out [][2]float64
	for _, p := range f.Points {
		out = append(out, [2]float64{p.X.Inches(), p.Y.Inches()})
	}
	return out
}

func TestMachining(t *testing.T) {
	fs, err := machined(t, `      - groove: {cutter: straight-1/4, depth: 3/16, along: length, at: gap from far-edge, start: 1, stop: 40}
      - dado: {width: 1/2, through: true, at: 9 from right-end}
      - dovetail: {width: 1/2, depth: 3/8, angle: 14, along: width, at: 9}
      - rabbet: {edges: [near-edge, left-end], width: 3/8, depth: 1/4}
      - holes: {through: 1/4, counterbore: {cutter: forstner-1/2, depth: 1/4}, at: [[inset, 2], [2 from right-end, inset from far-edge]], mates: rib/pilots}
      - holes: {diameter: 1/8, depth: 1/4, on: near-edge, row: {count: 3, from: 1, across: 1/4, step: 3, along: length}, screw: screw-8x1-1/4, pilot: true}
      - holes: {through: true, cutter: forstner-1/2, row: {count: 4, from: [1, 2], to: 2, along: length}}
      - holes: {diameter: 5 mm, depth: 10 mm, countersink: {diameter: 3/8}, grid: {count: [2, 3], from: [1, 1], step: [4, 5]}}
      - slot: {cutter: straight-1/4, through: true, from: [2, 3], to: [8, 3]}
      - chamfer: {edges: [near-edge], width: 1/8}
      - round-over: {edges: [far-edge], radius: 1/8, before: mill}
      - taper: {edges: [far-edge], widths: [24, 20]}
      - angle-cut: {on: left-end, angle: 45, tilt: 5}
`)
	require.NoError(t, err)
	require.Len(t, fs, 13)
	g := fs[0]
	require.Equal(t, in(t, "2-1/2"), g.Offset.Length)
	require.Equal(t, "gap", g.Offset.Src)
	require.Equal(t, EdgeFar, g.From)
	require.Equal(t, in(t, "40"), g.Stop.Length)
	require.Equal(t, Pos{File: jobFile, Line: 13, Col: 9}, g.At)
	require.Equal(t, "width", fs[1].Along, "a dado runs across the grain")
	require.Equal(t, EndRight, fs[1].From)
	require.True(t, fs[1].Through)
	require.Equal(t, 14.0, fs[2].Angle)
	require.Equal(t, EndLeft, fs[2].From)
	require.Equal(t, []Face{EdgeNear, EndLeft}, fs[3].Edges)
	require.Equal(t, [][2]float64{{2, 2}, {46, 22}}, points(fs[4]))
	require.Equal(t, in(t, "1/2"), fs[4].Counterbore.Diameter.Length, "the cutter's")
	require.Equal(t, [][2]float64{{1, 0.25}, {4, 0.25}, {7, 0.25}}, points(fs[5]))
	require.Equal(t, EdgeNear, fs[5].On)
	third := fs[6].Points[1].X
	require.False(t, third.Exact, "a third of an inch is rounded, and says so")
	require.Equal(t, in(t, "2"), fs[6].Points[3].X.Length)
	require.Equal(t, in(t, "1/2"), fs[6].Diameter.Length)
	require.Equal(t, [][2]float64{{1, 1}, {1, 6}, {1, 11}, {5, 1}, {5, 6}, {5, 11}}, points(fs[7]))
	require.Equal(t, 5*measure.MM, fs[7].Diameter.Length)
	require.Equal(t, [][2]float64{{2, 3}, {8, 3}}, points(fs[8]))
	require.Equal(t, 45.0, fs[9].Angle)
	require.Equal(t, "mill", fs[10].Before)
	require.Equal(t, in(t, "20"), fs[11].To[1].Length)
	require.Equal(t, 5.0, fs[12].Tilt)
}

func TestMachiningRefused(t *testing.T) {
	for _, c := range []struct{ text, say string }{
		{`groove: {cutter: straight-1/4, at: 2}`, `has no "depth"`},
		{`groove: {depth: 1/4, at: 2}`, `has no "width"`},
		{`groove: {cutter: straight-1/4, depth: 1/4}`, `has no "at"`},
		{`groove: {cutter: straight-1/4, depth: 1/4, at: 2 from near-egde}`, `did you mean "near-edge"?`},
		{`groove: {cutter: straight-1/4, depth: 1/4, at: 2, start: 5, stop: 3}`, "stops before it starts"},
		{`holes: {through: 1/4}`, `has no "at"`},
		{`holes: {at: [2, 2], diameter: 1/4}`, `has no "depth"`},
		{`holes: {through: 1/4, at: [[2, 2, 2]]}`, "a point has two numbers"},
		{`holes: {through: 1/4, at: [[2 from far-edge, 2]]}`, "cannot be measured from the far-edge"},
		{`holes: {through: 1/4, depth: 1/4, at: [2, 2]}`, "go through and have a depth"},
		{`holes: {through: 1/4, row: {count: 3, from: [1, 1]}}`, `has no "step"`},
		{`holes: {through: 1/4, row: {count: 3, from: [1, 1], step: 0}}`, "the step of the row is zero"},
		{`holes: {through: 1/4, row: {count: 99999, from: [1, 1], step: 1}}`, `"count" is 99999`},
		{`holes: {through: 1/4, at: [2, 2], mates: ribb/x}`, `no part called "ribb"`},
		{`chamfer: {edges: [front], width: 1/8}`, "no face or edge of a part: front"},
		{`taper: {widths: [1]}`, "a taper has two widths"},
		{`angle-cut: {angle: 120}`, `"angle" is 120 degrees`},
		{`{groove: {}, dado: {}}`, "holds one feature, not 2"},
	} {
		_, err := machined(t, "      - "+c.text+"\n")
		require.ErrorContains(t, err, c.say, c.text)
	}
}

// TestLags reads every form of `after:` that the format names.
func TestLags(t *testing.T) {
	for _, c := range []struct {
		text string
		want Lag
	}{
		{"mill", Lag{Step: "mill", From: FromDone}},
		{"core cured", Lag{Step: "core", From: FromCured}},
		{"core clamps-off", Lag{Step: "core", From: FromOff}},
		{"mill begun", Lag{Step: "mill", From: FromBegun}},
		{"mill + 2 h", Lag{Step: "mill", From: FromDone, Least: 2 * measure.Hour}},
		{"core clamps-off + 1 h 30 min", Lag{Step: "core", From: FromOff, Least: 90 * measure.Minute}},
		{"within 24 h of first-coat", Lag{Step: "first-coat", From: FromDone, Most: 24 * measure.Hour, HasMost: true}},
		{"2 h after mill", Lag{Step: "mill", From: FromDone, Least: 2 * measure.Hour}},
		{"30 min to 60 min after core clamps-on", Lag{Step: "core", From: FromClampsOn, Least: 30 * measure.Minute, Most: measure.Hour, HasMost: true}},
	} {
		got, err := ParseLag(c.text)
		require.NoError(t, err, c.text)
		c.want.Src = c.text
		require.Equal(t, c.want, got)
	}
	for _, bad := range []string{"", "mill soon", "within 24 h", "2 h to 1 h after mill", "mill + 2", "mill + 2 days", "-1 h after mill", "within 0 min of mill"} {
		_, err := ParseLag(bad)
		require.Error(t, err, bad)
	}
}
