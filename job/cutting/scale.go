package cutting

import "caul/job/measure"

// maxCount is the largest length handed to the engine, in units: areas of a
// hundred sheets then still add up well inside an int64. In the finest mix of
// marks, 0.0001 in with 0.01 mm, it is 5.3 m.
const maxCount = 1 << 28

// scale turns lengths into whole numbers of one unit: their greatest common
// divisor, so that nothing is rounded. Only where the numbers would pass what
// is sound to reckon with (a length that falls on no mark of any rule, on stock
// over 0.6 m) is a larger unit used: then parts and the kerf are rounded up and
// stock down, by less than a ten-thousandth of a millimetre on stock to 10 m,
// and the answer says so.
type scale struct {
	unit    measure.Length
	rounded bool
}

func newScale(ls ...measure.Length) *scale {
	var g, most measure.Length
	for _, l := range ls {
		if l < 0 {
			l = -l
		}
		most = max(most, l)
		for l != 0 {
			g, l = l, g%l
		}
	}
	s := &scale{unit: max(1, g)}
	for int64(most/s.unit) > maxCount {
		s.unit *= 2
		s.rounded = true
	}
	return s
}

// down is for stock, up for parts, kerf, trim and defects.
func (s *scale) down(l measure.Length) int64 { return int64(l / s.unit) }

func (s *scale) up(l measure.Length) int64 { return int64((l + s.unit - 1) / s.unit) }

// length reads a number of the engine back.
func (s *scale) length(v int64) measure.Length { return measure.Length(v) * s.unit }
