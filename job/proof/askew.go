package proof

import (
	"math"
	"math/big"

	"caul/job/measure"
)

// askew tells a slot that runs neither along its face nor across it.
func (v *Volume) askew() bool {
	return v.slot() && v.Ends[0][0] != v.Ends[1][0] && v.Ends[0][1] != v.Ends[1][1]
}

// radius is how far a rounded cut reaches round its outline, doubled.
func (v *Volume) radius() measure.Length {
	if v.rounded() {
		return v.Width()
	}
	return 0
}

// outline is what core is, as the corners of a convex figure in order: a point,
// the two ends of a line, or four corners; doubled.
func (v *Volume) outline() [][2]measure.Length {
	if v.slot() {
		return [][2]measure.Length{{2 * v.Ends[0][0], 2 * v.Ends[0][1]}, {2 * v.Ends[1][0], 2 * v.Ends[1][1]}}
	}
	u, w, _ := v.core()
	if v.Round {
		return [][2]measure.Length{{u.a, w.a}}
	}
	return [][2]measure.Length{{u.a, w.a}, {u.b, w.a}, {u.b, w.b}, {u.a, w.b}}
}

// sides are the lines that bound a figure; a point is a line of no length.
func sides(ps [][2]measure.Length) [][2][2]measure.Length {
	if len(ps) < 3 {
		return [][2][2]measure.Length{{ps[0], ps[len(ps)-1]}}
	}
	var out [][2][2]measure.Length
	for i, p := range ps {
		out = append(out, [2][2]measure.Length{p, ps[(i+1)%len(ps)]})
	}
	return out
}

// nearer tells whether two convex figures are less than r apart, exactly. Two
// that share a point are nought apart; r must be above nought.
func nearer(a, b [][2]measure.Length, r measure.Length) bool {
	if within(a, b[0]) || within(b, a[0]) {
		return true
	}
	for _, s := range sides(a) {
		for _, t := range sides(b) {
			if crosses(s, t) || pointNearer(s[0], t, r) || pointNearer(s[1], t, r) || pointNearer(t[0], s, r) || pointNearer(t[1], s, r) {
				return true
			}
		}
	}
	return false
}

// turn is above nought where c lies left of the way from a to b, below where
// right, nought on its line; exact.
func turn(a, b, c [2]measure.Length) int {
	x, y := product(b[0]-a[0], c[1]-a[1]), product(b[1]-a[1], c[0]-a[0])
	return x.Cmp(y)
}

func product(a, b measure.Length) *big.Int {
	return new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b)))
}

// within tells whether a point lies inside a figure of four corners or on it.
func within(ps [][2]measure.Length, p [2]measure.Length) bool {
	if len(ps) < 4 {
		return false
	}
	return p[0] >= ps[0][0] && p[0] <= ps[2][0] && p[1] >= ps[0][1] && p[1] <= ps[2][1]
}

// crosses tells whether two lines cross between their ends; that they touch is
// seen by their ends.
func crosses(s, t [2][2]measure.Length) bool {
	return turn(s[0], s[1], t[0])*turn(s[0], s[1], t[1]) < 0 && turn(t[0], t[1], s[0])*turn(t[0], t[1], s[1]) < 0
}

// pointNearer tells whether a point is less than r from a line between two
// ends, exactly: by the ends, or by the foot where it falls between them.
func pointNearer(p [2]measure.Length, s [2][2]measure.Length, r measure.Length) bool {
	if shorter(p[0]-s[0][0], p[1]-s[0][1], r) || shorter(p[0]-s[1][0], p[1]-s[1][1], r) {
		return true
	}
	dx, dy, px, py := s[1][0]-s[0][0], s[1][1]-s[0][1], p[0]-s[0][0], p[1]-s[0][1]
	long := new(big.Int).Add(square(dx), square(dy))
	foot := new(big.Int).Add(product(dx, px), product(dy, py))
	if foot.Sign() <= 0 || foot.Cmp(long) >= 0 {
		return false
	}
	off := new(big.Int).Sub(product(dx, py), product(dy, px))
	return off.Mul(off, off).Cmp(long.Mul(long, square(r))) < 0
}

// apartBy is how far two figures that do not meet are apart, doubled, in inches.
func apartBy(a, b [][2]measure.Length) float64 {
	best := math.Inf(1)
	from := func(p [2]measure.Length, s [2][2]measure.Length) {
		dx, dy, px, py := (s[1][0] - s[0][0]).Inches(), (s[1][1] - s[0][1]).Inches(), (p[0] - s[0][0]).Inches(), (p[1] - s[0][1]).Inches()
		t := 0.0
		if long := dx*dx + dy*dy; long > 0 {
			t = math.Max(0, math.Min(1, (dx*px+dy*py)/long))
		}
		best = math.Min(best, math.Hypot(px-t*dx, py-t*dy))
	}
	for _, s := range sides(a) {
		for _, t := range sides(b) {
			from(s[0], t)
			from(s[1], t)
			from(t[0], s)
			from(t[1], s)
		}
	}
	return best
}
