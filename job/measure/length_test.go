package measure

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// One inch is 25.4 mm by definition (International Yard and Pound agreement, 1959).
func TestParseLength(t *testing.T) {
	in64 := Inch / 64
	for _, c := range []struct {
		text string
		def  System
		want Length
	}{
		{"12 1/8", Inches, 12*Inch + 8*in64},
		{"12-1/8", Inches, 12*Inch + 8*in64},
		{"12⅛\"", Metric, 12*Inch + 8*in64},
		{"12 ⅛”", Metric, 12*Inch + 8*in64},
		{"⅞", Inches, 56 * in64},
		{"1' 6-1/2\"", Metric, 18*Inch + 32*in64},
		{"1'-6 1/2\"", Metric, 18*Inch + 32*in64},
		{"1’ 6½”", Metric, 18*Inch + 32*in64},
		{"1′6″", Metric, 18 * Inch},
		{"1 ft 6 in", Metric, 18 * Inch},
		{"1 ft 6", Metric, 18 * Inch},
		{"2'", Metric, 24 * Inch},
		{"2''", Metric, 2 * Inch},
		{"5/32 in", Metric, 10 * in64},
		{"5⁄32 in", Metric, 10 * in64},
		{"9/8", Inches, 72 * in64},
		{"0.472 in", Metric, 4_795_520},
		{".472", Inches, 4_795_520},
		{"0.0001 in", Inches, 1016},
		{"1/128\"", Inches, 79_375},
		{"308 mm", Inches, 308 * MM},
		{"308", Metric, 308 * MM},
		{"308mm", Inches, 308 * MM},
		{"30.8 cm", Inches, 308 * MM},
		{"30,8 cm", Inches, 308 * MM},
		{"0,125 m", Inches, 125 * MM},
		{"1.2 m", Inches, 1200 * MM},
		{"0.01 mm", Inches, 4000},
		{" -3/8 ", Inches, -24 * in64},
		{"−3/8", Inches, -24 * in64},
		{"+3/8", Inches, 24 * in64},
		{"1250", Metric, 1250 * MM},
		{"25.4 mm", Inches, Inch},
		{"25 1/2 mm", Inches, 25*MM + MM/2},
		{"100 000 mm", Metric, 0},
	} {
		got, err := ParseLength(c.text, c.def)
		if c.want == 0 {
			assert.Error(t, err, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, got, c.text)
	}
}

func TestParseLengthRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		col  int
		msg  string
	}{
		{"", 1, "nothing is here"},
		{"   ", 4, "nothing is here"},
		{"abc", 1, "a number is wanted"},
		{"12 foo", 4, "unknown unit"},
		{"12 in 3", 7, "cannot read what follows"},
		{"1/3 in", 1, "finer than can be kept"},
		{"0.00001 in", 1, "finer than can be kept"},
		{"1/0", 1, "over zero"},
		{"12 9/8", 4, "under one"},
		{"12-9/8", 4, "under one"},
		{"1.5' 6\"", 1, "feet with a fraction"},
		{"1' 12\"", 4, "under 12"},
		{"1' 6 mm", 4, "only inches"},
		{"1,250 mm", 1, "decimal or part thousands"},
		{"1.250,5 mm", 1, "more than one point"},
		{"1.2.3", 1, "more than one point"},
		{"3/4.5", 1, "fraction of decimals"},
		{"101 km", 5, "unknown unit"},
		{"100001 m", 1, "longer than 100 km"},
		{"9999999999999999999999999999 mm", 1, "too many digits"},
		{"\xff", 1, "UTF-8"},
		{"ü12", 1, "a number is wanted"},
		{"- 3/4 ⅛", 7, "cannot read what follows"},
	} {
		_, err := ParseLength(c.text, Inches)
		var pe *ParseError
		require.ErrorAs(t, err, &pe, c.text)
		assert.Contains(t, pe.Msg, c.msg, c.text)
		assert.Equal(t, c.col, pe.Col, c.text)
	}
	// columns count characters, not bytes
	_, err := ParseLength("⅛ zoll", Inches)
	var pe *ParseError
	require.ErrorAs(t, err, &pe)
	assert.Equal(t, 3, pe.Col)
	assert.Equal(t, "zoll", pe.Text)
}

func TestFormat(t *testing.T) {
	in := Units{System: Inches, Mark: 64}
	for _, c := range []struct {
		l    Length
		u    Units
		want string
	}{
		{Frac(12, 1, 8), in, "12-1/8"},
		{Frac(0, 5, 32), in, "5/32"},
		{-Frac(12, 1, 8), in, "-12-1/8"},
		{3 * Inch, in, "3"},
		{0, in, "0"},
		{Frac(12, 1, 8) + 3*Inch/1000, Units{Inches, 16}, "12-1/8 (+0.003)"},
		{Frac(0, 709, 1000), in, "45/64 (+0.006)"}, // 0.709 - 0.703125 = 0.005875
		{Frac(0, 3, 4) - Inch/1000, Units{Inches, 16}, "3/4 (-0.001)"},
		{Inch/2 + Inch/10000, in, "1/2 (+0.0001)"},
		{Inch/2 + 1, in, "1/2 (+<0.0001)"},
		{18 * MM, Units{Inches, 32}, "23/32 (-0.010)"}, // 0.70866 - 0.71875 = -0.01009
		{Frac(0, 1, 128), in, "1/64 (-0.008)"},         // a half mark goes up
		{308 * MM, Units{Metric, 1}, "308"},
		{Frac(0, 3, 4), Units{Metric, 1}, "19.1"},
		{Frac(0, 3, 4), Units{Metric, 2}, "19.05"},
		{-Frac(0, 3, 4), Units{Metric, 1}, "-19.1"},
		{MM / 25, Units{Metric, 1}, "0"},
		{-MM / 25, Units{Metric, 1}, "0"},
	} {
		assert.Equal(t, c.want, Format(c.l, c.u), "%v %v", c.l, c.u)
	}
	assert.Equal(t, "12-1/8 in (+0.003)", FormatUnit(Frac(12, 1, 8)+3*Inch/1000, Units{Inches, 16}))
	assert.Equal(t, "308 mm", FormatUnit(308*MM, Units{Metric, 1}))
	assert.Equal(t, "0.396875 mm", Frac(0, 1, 64).String())
	assert.Equal(t, "-0.0000025 mm", Length(-1).String())
	assert.Error(t, Units{Inches, 48}.Check())
	assert.Error(t, Units{Metric, 3}.Check())
	assert.NoError(t, Units{Inches, 128}.Check())
}

func TestAddDoesNotOverflow(t *testing.T) {
	const most = Length(1<<63 - 1)
	_, err := Add(most, 1)
	assert.Error(t, err)
	_, err = Add(-most, -2)
	assert.Error(t, err)
	l, err := Add(MM, -MM, Inch)
	require.NoError(t, err)
	assert.Equal(t, Inch, l)
	_, _, err = FromRat((MaxLength + 1).Rat())
	assert.Error(t, err)
}
