package proof

import (
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

// How a screw's item is read: in an inch shop by number and inches (ASME
// B18.6.1: 0.060 + 0.013 N), with millimetres where two plain numbers make no
// such screw; in a metric shop in millimetres, unless that makes no screw.
func TestScrewsByName(t *testing.T) {
	in := func(f float64) measure.Length { return measure.FromInches(f) }
	mm := func(f float64) measure.Length { return measure.FromMillimetres(f) }
	for _, c := range []struct {
		item        string
		sys         measure.System
		shank, long measure.Length
	}{
		{"screw-8x1-1/4", measure.Inches, in(0.164), in(1.25)},
		{"screw-8x2", measure.Inches, in(0.164), in(2)},
		{"screw-8x32mm", measure.Inches, in(0.164), mm(32)},
		{"screw-4x30", measure.Inches, mm(4), mm(30)},
		{"screw-4x12", measure.Inches, mm(4), mm(12)},
		{"screw-3.5x35", measure.Inches, mm(3.5), mm(35)},
		{"screw-4x30", measure.Metric, mm(4), mm(30)},
		{"screw-3.5x35", measure.Metric, mm(3.5), mm(35)},
		{"screw-5x60mm", measure.Metric, mm(5), mm(60)},
		{"screw-8x1-1/4", measure.Metric, in(0.164), in(1.25)},
		{"screw-8x1", measure.Metric, in(0.164), in(1)},
	} {
		s, ok := screwOf(c.item, c.sys)
		require.True(t, ok, c.item)
		require.Equal(t, c.shank, s.Shank, "%s", c.item)
		require.Equal(t, c.long, s.Length, "%s", c.item)
	}
	for _, bad := range []string{"screw-", "screw-long", "screw-99x30", "knob-1/4-20", "screw-4"} {
		_, ok := screwOf(bad, measure.Metric)
		require.False(t, ok, bad)
	}
}
