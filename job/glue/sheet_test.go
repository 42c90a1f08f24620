package glue

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

func TestKindsAreSound(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Kinds() {
		assert.NoError(t, k.Check(), k.ID)
		assert.False(t, seen[k.ID], k.ID)
		seen[k.ID] = true
		assert.NotEmpty(t, k.Cautions, k.ID)
		for _, src := range []measure.Source{k.Open.Source, k.Full.Source, k.LowestSource, k.Spread.Source, k.Pressure.Source} {
			assert.NotEmpty(t, src.String(), k.ID)
		}
		if k.Class != "" {
			assert.NotZero(t, ClassRank(k.Class), k.ID)
			assert.NotEmpty(t, ClassUse(k.Class), k.ID)
		}
	}
	_, ok := Find("pva")
	assert.True(t, ok)
	_, ok = Find("nothing")
	assert.False(t, ok)
}

// Glue characteristics table of a US woodworking magazine (archived page): open assembly and
// clamp times near room temperature.
func TestTimesFromTheTable(t *testing.T) {
	for _, x := range []struct {
		id          string
		open, clamp measure.Span
	}{
		{"pva", 5 * minutes, 1 * hours}, {"pva-yellow", 5 * minutes, 30 * minutes}, {"pva-d3", 5 * minutes, 1 * hours},
		{"hide-liquid", 10 * minutes, 12 * hours}, {"urea", 20 * minutes, 12 * hours}, {"resorcinol", 15 * minutes, 10 * hours},
	} {
		k, ok := Find(x.id)
		require.True(t, ok)
		assert.Equal(t, x.open, k.Open.At(c(20)), x.id)
		assert.Equal(t, x.clamp, k.Clamp.At(c(20)), x.id)
	}
	k, _ := Find("pva") // article on glue temperature: 55 °F
	assert.InDelta(t, 55, k.Lowest.F(), 1e-9)
}

// "Dealing with pressure", US woodworking magazine, September 2021: an edge of 1 in x 25 in at
// 150 psi wants 3,750 lbf: 9 clamps of 420 lbf, 8 of 470. The rest of the row is reckoned from
// the mean forces of clamps.
func TestClampsByForce(t *testing.T) {
	need := measure.PSI(150).Times(measure.Rect(measure.Inch, 25*measure.Inch))
	assert.InDelta(t, 3750, need.Lbf(), 1e-6)
	for lbf, want := range map[float64]int{420: 9, 470: 8, 370: 11, 680: 6, 1050: 4, 1350: 3} {
		assert.Equal(t, want, ByForce(need, measure.Lbf(lbf)), "%v", lbf)
	}
	assert.InDelta(t, 11_400, float64(measure.KPa(1000).Times(measure.Rect(600*measure.MM, 19*measure.MM))), 1e-6)
	assert.InDelta(t, 16_547, float64(measure.PSI(10).Times(measure.Rect(600*measure.MM, 400*measure.MM))), 1)
	for id, lbf := range map[string]float64{"parallel-jaw": 370, "trigger": 470, "bar": 680, "pipe": 1050, "i-beam": 1350} {
		k, ok := FindClamp(id)
		require.True(t, ok)
		assert.InDelta(t, lbf, k.Force.Lbf(), 1e-9)
	}
	assert.Zero(t, ByForce(need, 0))
}

// psi to kPa, by 1 psi = 6.894757 kPa; lbf to N, by 1 lbf = 4.448222 N.
func TestPressureUnits(t *testing.T) {
	for psi, kpa := range map[float64]float64{50: 344.7, 100: 689.5, 125: 861.8, 150: 1034.2, 175: 1206.6, 200: 1379.0, 250: 1723.7, 300: 2068.4} {
		assert.InDelta(t, kpa, measure.PSI(psi).KPa(), 0.05)
	}
	for lbf, n := range map[float64]float64{370: 1646, 470: 2091, 680: 3025, 1050: 4671, 1350: 6005} {
		assert.InDelta(t, n, float64(measure.Lbf(lbf)), 0.5)
	}
}

// 45-degree spread (clamp placement note of a US woodworking magazine, May 2010): pad 32 mm and a
// board of 75 mm press 182 mm, so 900 mm takes 5 clamps; with a caul of 40 mm, 262 mm and 4.
func TestClampsBySpacing(t *testing.T) {
	mm := measure.MM
	assert.Equal(t, 182*mm, Coverage(32*mm, 75*mm, 0))
	assert.Equal(t, 5, BySpacing(900*mm, 182*mm))
	assert.Equal(t, 262*mm, Coverage(32*mm, 75*mm, 40*mm))
	assert.Equal(t, 4, BySpacing(900*mm, 262*mm))
	// a school handout on edge gluing: never more than 15 in apart
	assert.Equal(t, 4, BySpacing(60*measure.Inch, 40*measure.Inch))
	assert.Zero(t, BySpacing(0, mm))
	assert.Equal(t, []measure.Length{2 * measure.Inch, 6 * measure.Inch, 10 * measure.Inch}, Places(12*measure.Inch, 3))
}

// label is an invented one, so that no usual figure is taken for a fact: open 6 min, 12 min in all,
// 45 min in clamps, 20 h to machining, 24 h to full strength at 20 °C, nothing below 10 °C, 200 g/m².
func label() *Kind {
	r := func(s measure.Span) Rate { return rate(Point{c(20), s}) }
	return &Kind{ID: "label", Name: "a label", Class: "D2", Open: r(6 * minutes), Total: r(12 * minutes), Clamp: r(45 * minutes), Machine: r(20 * hours), Full: r(24 * hours),
		Lowest: c(10), Spread: Spread{OneFace: 200, TwoFaces: 400, Density: 1.1}, Pressure: firm, Cautions: waterBased}
}

// slow is another, slower and for colder air.
func slow() *Kind {
	k := label()
	k.ID, k.Class, k.Lowest = "slow", "D3", c(5)
	k.Open, k.Total = rate(Point{c(20), 15 * minutes}), rate(Point{c(20), 30 * minutes})
	return k
}

func edge(t *testing.T) Ask {
	t.Helper()
	require.NoError(t, label().Check())
	return Ask{Glue: label(), Alts: []*Kind{label(), slow()}, Start: time.Date(2026, 5, 4, 19, 0, 0, 0, time.UTC), Air: Steady(c(20)),
		Bond: measure.Rect(900*measure.MM, 19*measure.MM), Lines: 1, Length: 900 * measure.MM, Width: 19 * measure.MM, ToLine: 75 * measure.MM,
		Spread: 3 * minutes, Close: 5 * minutes, Owned: []Owned{{Kind: "bar", Count: 8}}}
}

func TestSheetFits(t *testing.T) {
	s, err := Work(edge(t))
	require.NoError(t, err)
	assert.True(t, s.Fits)
	assert.Equal(t, 1, s.Split)
	assert.EqualValues(t, 4, s.MarginMin)
	// 0.9 m x 0.019 m x 200 g/m² x 1.15
	assert.InDelta(t, 0.9*0.019*200*1.15, s.Grams, 1e-9)
	assert.InDelta(t, s.Grams/1.10, s.Millilitres, 1e-9)
	assert.Equal(t, 5, s.BySpacing)
	assert.Equal(t, 1, s.Rows)
	// G 0.55: 100 + 150 * 0.2/0.35 = 185.7 psi on 26.505 sq in = 4922 lbf = 7.24 light bar clamps
	assert.InDelta(t, 185.71, s.Pressure.PSI(), 0.01)
	assert.Equal(t, 8, s.ByForce)
	assert.Equal(t, 8, s.Take)
	assert.Zero(t, s.Short)
	assert.Len(t, s.Positions, 8)
	// clamps go on 8 minutes after the start
	assert.Equal(t, "19:53", s.ClampsOff.Ready.Format("15:04"))
	assert.Equal(t, 20*hours, s.Machine.Takes())
	assert.Empty(t, s.Warnings)
	assert.Equal(t, "dry fit", s.Order[0][:7])

	a := edge(t)
	a.Both, a.Waste = true, -1
	s, err = Work(a)
	require.NoError(t, err)
	assert.InDelta(t, 0.9*0.019*400, s.Grams, 1e-9)
}

func TestSheetDoesNotFit(t *testing.T) {
	a := edge(t)
	a.Spread, a.Close = 13*minutes, 10*minutes
	s, err := Work(a)
	require.NoError(t, err)
	assert.False(t, s.Fits)
	assert.Equal(t, 3, s.Split, "13/3 = 4.3 min open, 23/3 = 7.7 min in all; halves would be 6.5 and 11.5")
	require.Len(t, s.Slower, 1)
	assert.Equal(t, "slow", s.Slower[0].ID)
	assert.Contains(t, s.Warnings[0], "split it into 3 sub-assemblies")
	a.Spread = 3 * hours
	s, err = Work(a)
	require.NoError(t, err)
	assert.Zero(t, s.Split)
	assert.Empty(t, s.Slower)
	// a glue of a lower class is no way out
	a = edge(t)
	a.Spread, a.Glue.Class = 13*minutes, "D4"
	s, err = Work(a)
	require.NoError(t, err)
	assert.Empty(t, s.Slower)
}

func TestSheetCold(t *testing.T) {
	a := edge(t)
	a.Air = Steady(c(9))
	s, err := Work(a)
	require.NoError(t, err)
	assert.True(t, s.TooCold)
	assert.False(t, s.Fits)
	assert.Zero(t, s.Split)
	assert.True(t, s.ClampsOff.Never)
	require.Len(t, s.Slower, 1)
	assert.Equal(t, "slow", s.Slower[0].ID)
}

// A skin of 48 x 24 in is out of reach of hands; spacing rules, and the sheet says so.
func TestSheetSkin(t *testing.T) {
	a := edge(t)
	a.Bond, a.Length, a.Width = measure.Rect(48*measure.Inch, 24*measure.Inch), 48*measure.Inch, 24*measure.Inch
	a.ToLine, a.Caul = 12*measure.MM, 40*measure.MM
	s, err := Work(a)
	require.NoError(t, err)
	assert.False(t, s.HandsCan)
	// coverage 32 + 2*52 = 136 mm: 9 along 1219.2 mm, 5 across 609.6 mm
	assert.Equal(t, 45, s.BySpacing)
	assert.Equal(t, 8, s.Take)
	assert.Equal(t, 37, s.Short)
}

// A skin of 46 x 22 in, 0.472 in thick, under cauls of 1-1/2 in and pads of 1 in: by hand, at 45
// degrees each side, a pad presses 1 + 2 x (0.472 + 1.5) = 4.944 in; 46 / 4.944 = 9.3 so 10 along,
// 22 / 4.944 = 4.45 so 5 across, 50 in all. A clamp reaches only the edges of such a face: with 12 of
// them 6 cauls go across, each for 46 / 6 = 7.667 in, so (7.667 - 1) / 2 - 0.472 = 2.861 in thick, in
// eighths 2-7/8. With 16 it is 8 of 5.75 in, 1.903, so 2 in. With 6 it would be 3 of 15.33 in, which
// is over the 15 in of RuleSpread: 10 cauls of the thickness there is take 20 clamps, 14 more.
func TestSheetFewClamps(t *testing.T) {
	a := edge(t)
	in := func(x float64) measure.Length { return measure.Length(x * float64(measure.Inch)) }
	a.Bond, a.Length, a.Width = measure.Rect(309*measure.Inch, in(0.472)), 46*measure.Inch, 22*measure.Inch
	a.ToLine, a.Caul, a.Pad = in(0.472), in(1.5), measure.Inch
	for _, c := range []struct {
		have, cauls int
		thick       measure.Length
		says        string
	}{
		{12, 6, in(2.875), "lay 6 stiff cauls right across instead, each 2-7/8 in thick"},
		{16, 8, in(2), "lay 8 stiff cauls right across instead, each 2 in thick"},
		{6, 0, 0, "10 stiff cauls right across, with a clamp at each end, take 14 more"},
		{24, 10, in(1.5), "lay 10 stiff cauls right across instead, each 1-1/2 in thick"},
	} {
		a.Owned = []Owned{{Kind: "bar", Count: c.have}}
		s, err := Work(a)
		require.NoError(t, err)
		assert.Equal(t, 50, s.BySpacing)
		assert.Equal(t, c.cauls, s.Cauls, "%d clamps", c.have)
		assert.Equal(t, c.thick, s.CaulThick, "%d clamps", c.have)
		assert.Contains(t, s.Warnings[len(s.Warnings)-1], c.says)
		if c.cauls > 0 {
			assert.Len(t, s.Positions, c.cauls)
			assert.GreaterOrEqual(t, Coverage(a.Pad, a.ToLine, s.CaulThick)*measure.Length(c.cauls), a.Length, "what is advised presses everywhere")
		}
	}
	// one row: an edge joint of 24 in, 1/2 in to the line, without cauls: 1 + 2 x 1/2 = 2 in, so 12;
	// with 4 each has 6 in, so (6 - 1) / 2 - 1/2 = 2 in of caul
	a.Length, a.Width, a.ToLine, a.Caul = 24*measure.Inch, measure.Inch, measure.Inch/2, 0
	a.Owned = []Owned{{Kind: "bar", Count: 4}}
	s, err := Work(a)
	require.NoError(t, err)
	assert.Contains(t, s.Warnings[len(s.Warnings)-1], "12 clamps press everywhere, and 4 are to hand: cauls 2 in thick")
	assert.Zero(t, s.Cauls)
}

func TestSheetRefuses(t *testing.T) {
	_, err := Work(Ask{})
	assert.Error(t, err)
	a := edge(t)
	a.Bond = measure.Area{}
	_, err = Work(a)
	assert.Error(t, err)
	a = edge(t)
	a.Pad = -1
	_, err = Work(a)
	assert.Error(t, err)
}

// About 250 sq ft to the US gallon at 6 mils: 231 / (250 * 144) = 0.006417 in of wet film = 163.0 mL/m²
// = 179.3 g/m² at 1.10 kg/L, which is where the PVA spread rate lies.
func TestSpreadIsAFilm(t *testing.T) {
	film := 231. / (250 * 144) * 25.4 // mm, which is L/m²
	assert.InDelta(t, 0.1630, film, 0.0001)
	k, _ := Find("pva")
	assert.InDelta(t, film*k.Spread.Density*1000, k.Spread.OneFace, 1)
}
