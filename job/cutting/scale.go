package cutting

import (
	"caul/job/layout"
	"caul/job/measure"
)

// scale turns lengths into whole numbers of one unit: their greatest common
// divisor, so that nothing is rounded. Only where the numbers would pass what
// the engine takes (a length that is no mark of any rule, on very large stock)
// is a larger unit used: then parts and the kerf are rounded up and stock down,
// by less than a thousandth of a millimetre, and read back exactly.
type scale struct {
	unit measure.Length
	back map[int64]measure.Length // part sizes that were rounded
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
	if g == 0 {
		g = 1
	}
	s := &scale{unit: g, back: map[int64]measure.Length{}}
	for int64(most/s.unit) > layout.MaxLength {
		s.unit *= 2
	}
	return s
}

// down is for stock, up for kerf, trim and defects, part for parts.
func (s *scale) down(l measure.Length) int64 { return int64(l / s.unit) }

func (s *scale) up(l measure.Length) int64 { return int64((l + s.unit - 1) / s.unit) }

func (s *scale) part(l measure.Length) int64 {
	v := s.up(l)
	if measure.Length(v)*s.unit != l {
		s.back[v] = l
	}
	return v
}

// length reads a number of the engine back.
func (s *scale) length(v int64) measure.Length {
	if l, ok := s.back[v]; ok {
		return l
	}
	return measure.Length(v) * s.unit
}
