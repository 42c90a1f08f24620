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
