package machine

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"caul/job/measure"
)

const in, mm = measure.Inch, measure.MM

func TestKinds(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Kinds() {
		assert.False(t, seen[k.ID], k.ID)
		seen[k.ID] = true
		require.NotEmpty(t, k.Cautions, k.ID)
		for _, c := range k.Cautions {
			assert.NotEmpty(t, c.Text)
			assert.NotEmpty(t, c.Source.String(), c.Text)
		}
	}
	k, ok := Find("table-saw")
	require.True(t, ok)
	assert.Equal(t, in/8, k.Kerf)
	_, ok = Find("loom")
	assert.False(t, ok)
	assert.NotEmpty(t, MaterialCautions("mdf"))
}

// Width of a dovetail cutter at a height, w = D - 2 h tan(angle): rows worked out apart from this
// code from that formula.
func TestDovetailWidths(t *testing.T) {
	heights := []measure.Length{in / 8, in / 4, in * 5 / 16, in * 3 / 8, in * 7 / 16, in / 2}
	for _, x := range []struct {
		d     Dovetail
		w     []float64
		metre bool
	}{
		{Dovetail{Diameter: in / 2, Angle: 14}, []float64{0.4377, 0.3753, 0.3442, 0.3130, 0.2818, 0.2507}, false},
		{Dovetail{Diameter: in / 2, Angle: 8}, []float64{0.4649, 0.4297, 0.4122, 0.3946, 0.3770, 0.3595}, false},
		{Dovetail{Diameter: in * 3 / 4, Angle: 14}, []float64{0.6877, 0.6253, 0.5942, 0.5630, 0.5318, 0.5007}, false},
	} {
		for i, h := range heights {
			w, err := x.d.WidthAt(h)
			require.NoError(t, err)
			assert.InDelta(t, x.w[i], w.Inches(), 0.00006, "%v at %v", x.d, h)
		}
	}
	metric := Dovetail{Diameter: 127 * mm / 10, Angle: 14}
	for h, want := range map[float64]float64{3: 11.204, 6: 9.708, 8: 8.711, 9.5: 7.963, 10: 7.713, 12: 6.716} {
		w, err := metric.WidthAt(measure.FromMillimetres(h))
		require.NoError(t, err)
		assert.InDelta(t, want, w.Millimetres(), 0.0006, "%v", h)
	}
	for _, bad := range []Dovetail{{}, {Diameter: in, Angle: 90}, {Diameter: in / 8, Angle: 40}, {Diameter: in, Angle: math.NaN()}, {Diameter: in / 2, Angle: 14, Height: in / 4}} {
		_, err := bad.WidthAt(in / 2)
		assert.Error(t, err, "%v", bad)
	}
	_, err := Dovetail{Diameter: in, Angle: 14}.WidthAt(-in)
	assert.Error(t, err)
}

// Slopes of hand-cut dovetails and widths of V grooves, by trigonometry.
func TestAngles(t *testing.T) {
	assert.InDelta(t, 9.462, SlopeAngle(6), 0.0005)
	assert.InDelta(t, 8.130, SlopeAngle(7), 0.0005)
	assert.InDelta(t, 7.125, SlopeAngle(8), 0.0005)
	w, err := VGrooveWidth(3*mm, 60)
	require.NoError(t, err)
	assert.InDelta(t, 3.464, w.Millimetres(), 0.0005)
	w, err = VGrooveWidth(3*mm, 90)
	require.NoError(t, err)
	assert.Equal(t, 6*mm, w)
	_, err = VGrooveWidth(mm, 180)
	assert.Error(t, err)
}

// A 10 in blade at 3,450 turns: 45.88 m/s (9,032 ft/min); a 1 in bit at 22,000: 29.26 m/s.
func TestRimSpeed(t *testing.T) {
	assert.InDelta(t, 45.88, RimSpeed(10*in, 3450), 0.005)
	assert.InDelta(t, 9032, RimSpeed(10*in, 3450)*60/0.3048, 0.5)
	assert.InDelta(t, 29.26, RimSpeed(in, 22000), 0.005)
	c, err := ChipLoad(3, 18000, 2)
	require.NoError(t, err)
	assert.InDelta(t, 0.0833, c.Millimetres(), 0.00005)
	_, err = ChipLoad(3, 0, 2)
	assert.Error(t, err)
}

func TestPasses(t *testing.T) {
	p, err := Passes(in*3/8, in/2, 0)
	require.NoError(t, err)
	assert.Equal(t, []measure.Length{in * 3 / 16, in * 3 / 8}, p)
	rapid.Check(t, func(t *rapid.T) {
		depth := measure.Length(rapid.Int64Range(1, int64(2*in)).Draw(t, "depth"))
		d := measure.Length(rapid.Int64Range(int64(in/16), int64(in)).Draw(t, "diameter"))
		p, err := Passes(depth, d, 0)
		require.NoError(t, err)
		last := measure.Length(0)
		for _, x := range p {
			require.LessOrEqual(t, x-last, min(d/2, in/4)+1)
			last = x
		}
		require.Equal(t, depth, last)
	})
	_, err = Passes(in, 0, 0)
	assert.Error(t, err)
	_, err = Passes(in*100, 2, 0)
	assert.Error(t, err)
	assert.Equal(t, in/4, LeftUnder(in*3/4, in/4, in/4))
	keep, _ := KeepUnder(in/2, true)
	assert.Equal(t, in/4, keep)
}

// ASME B18.6.1: D = 0.060 + 0.013 N in; threads an inch for 2 to 8 read in a supplier's quotation of
// it, the others unverified; root diameters NDS Appendix L Table L3 (unverified).
func TestWoodScrews(t *testing.T) {
	for _, x := range []struct {
		n, threads int
		d, mm      float64
		root       float64
	}{
		{0, 32, 0.060, 1.52, 0}, {2, 26, 0.086, 2.18, 0}, {3, 24, 0.099, 2.51, 0}, {4, 22, 0.112, 2.84, 0}, {5, 20, 0.125, 3.18, 0}, {6, 18, 0.138, 3.51, 0.113},
		{7, 16, 0.151, 3.84, 0.122}, {8, 15, 0.164, 4.17, 0.131}, {9, 14, 0.177, 4.50, 0.142}, {10, 13, 0.190, 4.83, 0.152}, {12, 11, 0.216, 5.49, 0.171},
		{14, 10, 0.242, 6.15, 0.196}, {16, 9, 0.268, 6.81, 0.209}, {18, 8, 0.294, 7.47, 0.232}, {20, 8, 0.320, 8.13, 0.255}, {24, 7, 0.372, 9.45, 0.298},
	} {
		s, ok := Screw(x.n)
		require.True(t, ok)
		assert.InDelta(t, x.d, s.Shank.Inches(), 1e-9, "%d", x.n)
		assert.InDelta(t, x.mm, s.Shank.Millimetres(), 0.0051, "%d", x.n)
		assert.Equal(t, x.threads, s.Threads, "%d", x.n)
		assert.InDelta(t, x.root, s.Root.Inches(), 1e-9, "%d", x.n)
	}
	for n, head := range map[int]float64{6: 0.276, 8: 0.328, 10: 0.380} {
		s, _ := Screw(n)
		assert.InDelta(t, head, s.HeadDiameter().Inches(), 1e-9)
	}
	assert.Len(t, WoodScrews(), 16)
}

// NDS lead holes: 90 % of the root over G 0.6, 70 % from over 0.5, none at 0.5 and under; lateral 7/8.
func TestLeadHoles(t *testing.T) {
	for _, x := range []struct {
		n                      int
		p70, p90, r78, shank78 float64
	}{
		{6, 0.0791, 0.1017, 0.0989, 0.1208}, {8, 0.0917, 0.1179, 0.1146, 0.1435}, {10, 0.1064, 0.1368, 0.1330, 0.1663}, {12, 0.1197, 0.1539, 0.1496, 0.1890}, {14, 0.1372, 0.1764, 0.1715, 0.2118},
	} {
		s, _ := Screw(x.n)
		h, err := s.Holes(0.55)
		require.NoError(t, err)
		assert.InDelta(t, x.p70, h.Pilot.Inches(), 0.00006, "%d", x.n)
		h, err = s.Holes(0.63)
		require.NoError(t, err)
		assert.InDelta(t, x.p90, h.Pilot.Inches(), 0.00006, "%d", x.n)
		assert.Equal(t, s.Shank, h.Clearance)
		shank, thread, _ := s.LateralHoles(0.5)
		assert.InDelta(t, x.r78, thread.Inches(), 0.00006, "%d", x.n)
		assert.InDelta(t, x.shank78, shank.Inches(), 0.00006, "%d", x.n)
		shank, thread, _ = s.LateralHoles(0.61)
		assert.Equal(t, [2]measure.Length{s.Shank, s.Root}, [2]measure.Length{shank, thread})
	}
	s, _ := Screw(8)
	h, err := s.Holes(0.5)
	require.NoError(t, err)
	assert.Zero(t, h.Pilot)
	_, err = s.Holes(0)
	assert.Error(t, err)
	s0, _ := Screw(0)
	_, err = s0.Holes(0.6)
	assert.Error(t, err)
	// Wood Handbook ch. 8 eq. (8-10b) (unverified): G 0.63, number 8, 1 in of thread: 1,022 lbf
	f, _ := s.Withdrawal(0.63, in)
	assert.InDelta(t, 1022, f.Lbf(), 0.5)
}

// ASME B1.1 threads: tap drills and external minor diameters as in tap-drill charts; internal minor,
// pitch diameter and percent by formula, worked out apart from this code.
func TestInchThreads(t *testing.T) {
	for _, x := range []struct {
		name                             string
		major, minor, pitch, ext, tap, p float64
		drill                            string
		travel                           float64
	}{
		{"6-32", 0.1380, 0.1042, 0.1177, 0.0997, 0.1065, 77.6, "No. 36", 0.79375}, {"8-32", 0.1640, 0.1302, 0.1437, 0.1257, 0.1360, 69.0, "No. 29", 0.79375},
		{"10-24", 0.1900, 0.1449, 0.1629, 0.1389, 0.1495, 74.8, "No. 25", 1.0583}, {"10-32", 0.1900, 0.1562, 0.1697, 0.1517, 0.1590, 76.4, "No. 21", 0.79375},
		{"1/4-20", 0.2500, 0.1959, 0.2175, 0.1887, 0.2010, 75.4, "No. 7", 1.27}, {"5/16-18", 0.3125, 0.2524, 0.2764, 0.2443, 0.2570, 76.9, "F", 1.4111},
		{"3/8-16", 0.3750, 0.3073, 0.3344, 0.2983, 0.3125, 77.0, "5/16", 1.5875},
	} {
		th, ok := FindThread(x.name)
		require.True(t, ok)
		for i, pair := range [][2]float64{{x.major, th.Major.Inches()}, {x.minor, th.InternalMinor().Inches()}, {x.pitch, th.PitchDiameter().Inches()},
			{x.ext, th.ExternalMinor().Inches()}, {x.tap, th.Tap.Inches()}} {
			assert.InDelta(t, pair[0], pair[1], 0.00006, "%s column %d", x.name, i)
		}
		assert.InDelta(t, x.p, th.Percent(), 0.06, x.name)
		assert.Equal(t, x.drill, th.TapDrill)
		d, err := DrillSize(th.TapDrill)
		require.NoError(t, err)
		assert.Equal(t, th.Tap, d, x.name)
		travel, err := th.Travel(1, 1)
		require.NoError(t, err)
		assert.InDelta(t, x.travel, travel.Millimetres(), 0.00006, x.name)
	}
	// a quarter turn of a micro-adjuster: 0.0078125 in of 32 threads, 0.0125 in of 20
	th, _ := FindThread("10-32")
	q, err := th.Travel(1, 4)
	require.NoError(t, err)
	assert.Equal(t, in/128, q)
	th, _ = FindThread("1/4-20")
	q, err = th.Travel(1, 4)
	require.NoError(t, err)
	assert.Equal(t, in/80, q)
	_, err = th.Travel(1, 0)
	assert.Error(t, err)
}

// ISO 262 coarse pitches and ISO 273 clearance holes, as reprinted; the rest by formula.
func TestMetricThreads(t *testing.T) {
	for _, x := range []struct {
		name                                              string
		pitch, tap, minor, pd, percent, fine, med, coarse float64
	}{
		{"M3", 0.5, 2.5, 2.459, 2.675, 77.0, 3.2, 3.4, 3.6}, {"M4", 0.7, 3.3, 3.242, 3.545, 77.0, 4.3, 4.5, 4.8}, {"M5", 0.8, 4.2, 4.134, 4.480, 77.0, 5.3, 5.5, 5.8},
		{"M6", 1.0, 5.0, 4.917, 5.350, 77.0, 6.4, 6.6, 7.0}, {"M8", 1.25, 6.8, 6.647, 7.188, 73.9, 8.4, 9.0, 10.0},
	} {
		th, ok := FindThread(x.name)
		require.True(t, ok)
		for i, pair := range [][2]float64{{x.pitch, th.Pitch.Millimetres()}, {x.tap, th.Tap.Millimetres()}, {x.minor, th.InternalMinor().Millimetres()}, {x.pd, th.PitchDiameter().Millimetres()},
			{x.fine, th.Close.Millimetres()}, {x.med, th.Normal.Millimetres()}, {x.coarse, th.Loose.Millimetres()}} {
			assert.InDelta(t, pair[0], pair[1], 0.0006, "%s column %d", x.name, i)
		}
		assert.InDelta(t, x.percent, th.Percent(), 0.06, x.name)
	}
}

// ASME B18.2.8 (normal drills and loose minima read in a reprint, close drills unverified) and a
// shop chart, inches.
func TestInchClearance(t *testing.T) {
	for _, x := range []struct {
		name                                    string
		close, normal, loose, chart, chartLoose float64
		closeMM                                 float64
	}{
		{"8-32", 0.180, 0.196, 0.213, 0.1695, 0.1770, 4.6}, {"10-24", 0.2055, 0.221, 0, 0.1960, 0.2010, 5.2}, {"1/4-20", 0.266, 0.281, 0.297, 0.2570, 0.2660, 6.7},
		{"5/16-18", 0.328, 0.344, 0.359, 0.3230, 0.3320, 8.3}, {"3/8-16", 0.391, 0.406, 0.422, 0.3860, 0.3970, 0},
	} {
		th, _ := FindThread(x.name)
		assert.InDelta(t, x.close, th.Close.Inches(), 0.0005, x.name)
		assert.InDelta(t, x.normal, th.Normal.Inches(), 0.0005, x.name)
		assert.InDelta(t, x.chart, th.ChartClose.Inches(), 1e-9, x.name)
		assert.InDelta(t, x.chartLoose, th.ChartFree.Inches(), 1e-9, x.name)
		if x.loose > 0 {
			assert.InDelta(t, x.loose, th.Loose.Inches(), 1e-9, x.name)
		}
		if x.closeMM > 0 { // the standard's metric equivalents, to 0.1 mm
			assert.InDelta(t, x.closeMM, th.Close.Millimetres(), 0.06, x.name)
		}
	}
	_, err := DrillSize("No. 99")
	assert.Error(t, err)
	chart, _ := Chart()
	for _, r := range chart {
		s, _ := Screw(r.Number)
		shank, err := DrillSize(r.Shank)
		require.NoError(t, err)
		assert.LessOrEqual(t, (shank - s.Shank).Abs(), in/64, "the plate's shank drill is the screw's shank to 1/64 in")
	}
}

func TestNearestDrill(t *testing.T) {
	inch, metric := measure.Units{System: measure.Inches, Mark: 64}, measure.Units{System: measure.Metric}
	assert.Equal(t, "7/64", NearestDrill(in*1179/10000, inch).Name)
	assert.Equal(t, "1/16", NearestDrill(in/100, inch).Name)
	assert.Equal(t, "2.9 mm", NearestDrill(in*1179/10000, metric).Name)
	assert.Equal(t, "11/64", NearestClearance(in*164/1000, inch).Name)
	assert.Equal(t, "4.2 mm", NearestClearance(in*164/1000, metric).Name)
	assert.Equal(t, "1/4", NearestClearance(in/4, inch).Name)
}

func TestParseScrewLabel(t *testing.T) {
	for _, text := range []string{"8x1-1/4", "#8 x 1-1/4", "No. 8 x 1 1/4\"", "screw-8x1-1/4", "8 × 1.25"} {
		l, err := ParseScrewLabel(text)
		require.NoError(t, err, text)
		assert.Equal(t, ScrewLabel{8, in * 5 / 4}, l)
	}
	for _, text := range []string{"", "8", "x", "11 x 1", "8 x 0", "8 x 40", "8 x a"} {
		_, err := ParseScrewLabel(text)
		assert.Error(t, err, text)
	}
}

func FuzzParseScrewLabel(f *testing.F) {
	f.Add("8x1-1/4")
	f.Add("#8 × 32 mm")
	f.Fuzz(func(t *testing.T, text string) {
		l, err := ParseScrewLabel(text)
		if err == nil && (l.Length <= 0 || l.Length > measure.Foot) {
			t.Fatalf("%q gave %v", text, l)
		}
	})
}
