package wood

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

const in, ft = measure.Inch, measure.Foot

// NHLA board-foot rule (surface measure to the nearest whole, times nominal thickness): rows worked
// out by hand.
func TestHardwoodBoardFeet(t *testing.T) {
	for _, x := range []struct {
		width, length, thick measure.Length
		sm                   int64
		bf                   BoardFeet
	}{
		{8 * in, 10 * ft, in, 7, 700}, {8 * in, 10 * ft, 2 * in, 7, 1400}, {measure.Frac(6, 1, 2), 8 * ft, in, 4, 400},
		{measure.Frac(7, 1, 4), 10*ft + ft*9/10, measure.Frac(1, 1, 4), 6, 750}, {measure.Frac(9, 1, 2), 8 * ft, in, 6, 600},
		{8 * in, 10 * ft, in * 3 / 4, 7, 700}, // under one inch counts as one
		{9 * in, 2 * ft, in, 2, 200},          // a half counts up
	} {
		sm, bf, err := Hardwood(x.width, x.length, x.thick)
		require.NoError(t, err)
		assert.Equal(t, x.sm, sm)
		assert.Equal(t, x.bf, bf)
	}
	assert.InDelta(t, 8.232, Volume(measure.Frac(1, 1, 4), measure.Frac(7, 1, 4), 10*ft+ft*9/10), 0.001)
	_, _, err := Hardwood(0, ft, in)
	assert.Error(t, err)
	// 144 cubic inches are 2359.737 cm³, and a cubic metre 423.776 board feet
	assert.InDelta(t, 423.776, Volume(measure.Metre, measure.Metre, measure.Metre), 0.001)
	assert.Equal(t, "7.50 bd ft", BoardFeet(750).String())
}

// Softwood board-foot rule, to a hundredth: the rows of a tally book.
func TestSoftwoodBoardFeet(t *testing.T) {
	for _, x := range []struct {
		t, w, l int64
		bf      BoardFeet
	}{{1, 2, 8, 133}, {1, 4, 8, 267}, {1, 6, 8, 400}, {2, 4, 8, 533}, {2, 6, 10, 1000}, {2, 12, 16, 3200}} {
		bf, err := Softwood(measure.Length(x.t)*in, measure.Length(x.w)*in, measure.Length(x.l)*ft)
		require.NoError(t, err)
		assert.Equal(t, x.bf, bf, "%d x %d x %d", x.t, x.w, x.l)
	}
	_, err := Softwood(-in, in, ft)
	assert.Error(t, err)
}

// Hardwood thicknesses, NHLA practice, as reprinted twice: rough, S1S, S2S in 1/16 in.
func TestHardwoodThicknesses(t *testing.T) {
	want := map[string][3]int64{"3/4": {12, 10, 9}, "4/4": {16, 14, 13}, "5/4": {20, 18, 17}, "6/4": {24, 22, 21}, "7/4": {28, 0, 24}, "8/4": {32, 29, 28},
		"12/4": {48, 45, 44}, "14/4": {56, 0, 52}, "16/4": {64, 61, 60}}
	thin := map[measure.Length][2]int64{in * 3 / 8: {4, 3}, in / 2: {6, 5}, in * 5 / 8: {8, 7}}
	n := 0
	for _, r := range Thicknesses() {
		s16 := func(x int64) measure.Length { return in / 16 * measure.Length(x) }
		if r.Nominal == "" {
			w := thin[r.Rough]
			assert.Equal(t, [2]measure.Length{s16(w[0]), s16(w[1])}, [2]measure.Length{r.OneSide, r.Both})
			continue
		}
		w := want[r.Nominal]
		assert.Equal(t, [3]measure.Length{s16(w[0]), s16(w[1]), s16(w[2])}, [3]measure.Length{r.Rough, r.OneSide, r.Both}, r.Nominal)
		// the pattern of the table: S2S takes 3/16 off to 6/4 and 1/4 above
		off := in / 4
		if r.Rough <= in*3/2 {
			off = in * 3 / 16
		}
		assert.Equal(t, r.Rough-off, r.Both, r.Nominal)
		n++
	}
	assert.Equal(t, 9, n)
	row, spare, ok := RoughFor(in * 3 / 4)
	require.True(t, ok)
	assert.Equal(t, "4/4", row.Nominal)
	assert.Equal(t, in/16, spare)
	row, _, ok = RoughFor(in * 7 / 8)
	require.True(t, ok)
	assert.Equal(t, "5/4", row.Nominal)
	_, _, ok = RoughFor(5 * in)
	assert.False(t, ok)
	_, ok = FindThickness("9/4")
	assert.False(t, ok)
}

// US Voluntary Product Standard PS 20, minimum dressed sizes, dry and green, in 1/32 in.
func TestDressedSizes(t *testing.T) {
	s32 := func(x int64) measure.Length { return in / 32 * measure.Length(x) }
	thick := [][3]int64{{24, 20, 22}, {32, 24, 25}, {40, 32, 33}, {48, 40, 41}, {64, 48, 50}, {80, 64, 66}, {96, 80, 82}, {112, 96, 98}, {128, 112, 114}}
	require.Len(t, DressedThicknesses(), len(thick))
	for i, d := range DressedThicknesses() {
		assert.Equal(t, Dressed{s32(thick[i][0]), s32(thick[i][1]), s32(thick[i][2])}, d)
	}
	width := [][3]int64{{2, 24, 25}, {3, 40, 41}, {4, 56, 57}, {5, 72, 74}, {6, 88, 90}, {7, 104, 106}, {8, 116, 120}, {10, 148, 152}, {12, 180, 184}, {14, 212, 216}}
	require.Len(t, DressedWidths(), len(width))
	for i, d := range DressedWidths() {
		assert.Equal(t, Dressed{in * measure.Length(width[i][0]), in / 16 * measure.Length(width[i][1]), in / 16 * measure.Length(width[i][2])}, d)
	}
	for _, x := range []struct{ t, w, dt, dw measure.Length }{
		{in, 2 * in, in * 3 / 4, in * 3 / 2}, {in, 4 * in, in * 3 / 4, in * 7 / 2}, {in, 6 * in, in * 3 / 4, in * 11 / 2}, {in, 8 * in, in * 3 / 4, in * 29 / 4},
		{2 * in, 4 * in, in * 3 / 2, in * 7 / 2}, {2 * in, 6 * in, in * 3 / 2, in * 11 / 2},
	} {
		dt, dw, err := DressedSize(x.t, x.w)
		require.NoError(t, err)
		assert.Equal(t, x.dt, dt)
		assert.Equal(t, x.dw, dw)
	}
	_, _, err := DressedSize(in, 9*in)
	assert.Error(t, err)
}

// PS 1-19 tolerances; EN 315 sanded limits by +(0.2 + 0.03 t), -(0.4 + 0.03 t) mm; ANSI A208.2.
func TestSheetTolerances(t *testing.T) {
	for _, x := range []struct{ t, plus, minus float64 }{
		{4, 0.32, 0.52}, {6.5, 0.395, 0.595}, {9, 0.47, 0.67}, {12, 0.56, 0.76}, {15, 0.65, 0.85}, {18, 0.74, 0.94}, {21, 0.83, 1.03}, {24, 0.92, 1.12},
	} {
		tol, err := ThicknessTolerance(EN315Sanded, measure.FromMillimetres(x.t))
		require.NoError(t, err)
		assert.Equal(t, measure.FromMillimetres(x.plus), tol.Plus, "%v", x.t)
		assert.Equal(t, measure.FromMillimetres(x.minus), tol.Minus, "%v", x.t)
	}
	_, err := ThicknessTolerance(EN315Sanded, 3*measure.MM)
	assert.Error(t, err)
	for _, x := range []struct {
		st  Standard
		t   measure.Length
		tol measure.Length
	}{
		{PS1Sanded, in * 3 / 4, in / 64}, {PS1Sanded, in, in * 3 / 100}, {PS1Unsanded, in * 13 / 16, in / 32}, {PS1Unsanded, in, in / 20},
		{A2082MDF, in * 3 / 4, measure.MM / 8},
	} {
		tol, err := ThicknessTolerance(x.st, x.t)
		require.NoError(t, err)
		assert.Equal(t, [2]measure.Length{x.tol, x.tol}, [2]measure.Length{tol.Minus, tol.Plus}, "%s", x.st)
		low, high := tol.Limits(x.t)
		assert.Equal(t, 2*x.tol, high-low)
	}
	_, err = ThicknessTolerance("none", in)
	assert.Error(t, err)
	// 8 ft long: 1/64 in a foot is 1/8 in
	assert.Equal(t, in/8, SquarenessPS1(8*ft))
}

// PS 1-19 performance categories, inches.
func TestPerformanceCategories(t *testing.T) {
	want := map[string][2]float64{"1/4": {0.219, 0.281}, "11/32": {0.313, 0.375}, "3/8": {0.344, 0.406}, "7/16": {0.406, 0.469}, "15/32": {0.438, 0.5}, "1/2": {0.469, 0.531},
		"19/32": {0.563, 0.625}, "5/8": {0.594, 0.656}, "23/32": {0.688, 0.750}, "3/4": {0.719, 0.781}, "7/8": {0.831, 0.919}, "1": {0.950, 1.050}, "1-1/8": {1.069, 1.181}}
	require.Len(t, Categories(), len(want))
	for _, c := range Categories() {
		assert.InDelta(t, want[c.Name][0], c.Low.Inches(), 1e-9, c.Name)
		assert.InDelta(t, want[c.Name][1], c.High.Inches(), 1e-9, c.Name)
		stated, err := measure.ParseLength(c.Name, measure.Inches)
		require.NoError(t, err)
		assert.True(t, c.Low < stated && stated < c.High, c.Name)
	}
}

// Birch plywood: the plies mills list, which 2 round(t/3) + 1 gives from 9 to 18 mm; and an 18 mm
// sheet sold as 3/4 measures 0.709 in.
func TestBirch(t *testing.T) {
	for mm, n := range map[int64]int{4: 3, 9: 7, 12: 9, 15: 11, 18: 13, 21: 15, 24: 17, 27: 19, 30: 21} {
		got, ok := Plies(measure.Length(mm) * measure.MM)
		assert.True(t, ok)
		assert.Equal(t, n, got, "%d", mm)
		if mm >= 9 && mm <= 18 {
			assert.Equal(t, int(2*((mm+1)/3)+1), got)
		}
	}
	_, ok := Plies(10 * measure.MM)
	assert.False(t, ok)
	labels, _ := Labels(in * 3 / 4)
	require.Len(t, labels, 3)
	assert.InDelta(t, 0.709, labels[0].Thickness.Inches(), 0.0005)
	assert.InDelta(t, 0.719, labels[1].Thickness.Inches(), 0.0005)
	none, _ := Labels(in * 7 / 16)
	assert.Empty(t, none)
}
