package proof

import (
	"math"
	"math/big"

	"caul/job"
	"caul/job/measure"
)

// Spans are the limits of a cut on its own face: along the face's first and
// second direction.
func (v *Volume) Spans() (u, w [2]measure.Length) {
	return [2]measure.Length{v.U.a, v.U.b}, [2]measure.Length{v.V.a, v.V.b}
}

// Width is the narrower side of a cut on its face: a hole's diameter, a
// groove's width.
func (v *Volume) Width() measure.Length {
	if v.slot() {
		return v.U.b - v.U.a - (v.Ends[1][0] - v.Ends[0][0]).Abs()
	}
	return min(v.U.b-v.U.a, v.V.b-v.V.a)
}

// rounded tells a bore or a slot, whose sides only touch what lies beside them
// at a point or a line, where it tears out.
func (v *Volume) rounded() bool { return v.Round || v.slot() }

func (v *Volume) slot() bool { return v.Ends != [2][2]measure.Length{} }

// core is a cut on its face with its roundness taken off: the middle of a bore,
// the middle line of a slot, a box as it is; and the radius round it. All is
// doubled, so that middles are whole. A slot that runs askew has its middle
// line in outline.
func (v *Volume) core() (u, w span, r measure.Length) {
	d := measure.Length(0)
	if v.rounded() {
		d = v.Width()
	}
	return span{2*v.U.a + d, 2*v.U.b - d}, span{2*v.V.a + d, 2*v.V.b - d}, d
}

// meets tells whether two cuts share wood. Bores and slots that run the same
// way as the other cut are taken as round; where two cuts come from faces at
// right angles a bore counts as the box round it.
func (v *Volume) meets(o *Volume) bool {
	if !v.X.meets(o.X) || !v.Y.meets(o.Y) || !v.Z.meets(o.Z) {
		return false
	}
	return axisOf(v.On) != axisOf(o.On) || v.over(o)
}

// over tells whether two cuts on one face, or on opposite faces, lie over one
// another in plan. Exact.
func (v *Volume) over(o *Volume) bool {
	if !v.U.meets(o.U) || !v.V.meets(o.V) {
		return false
	}
	if v.askew() || o.askew() {
		return nearer(v.outline(), o.outline(), v.radius()+o.radius())
	}
	du, dv, r := v.apart(o)
	return r == 0 || shorter(du, dv, r)
}

// apart is how far the cores of two cuts are apart in both directions, and the
// sum of the radii round them; all doubled.
func (v *Volume) apart(o *Volume) (du, dv, r measure.Length) {
	au, av, ar := v.core()
	bu, bv, br := o.core()
	return away(au, bu), away(av, bv), ar + br
}

func away(a, b span) measure.Length { return max(a.a-b.b, b.a-a.b, 0) }

// between is the wood left between two cuts that run the same way, where it is
// less than least; ok is false when there is as much as that, or none.
func (v *Volume) between(o *Volume, least measure.Length) (left measure.Length, ok bool) {
	if v.askew() || o.askew() {
		a, b, r := v.outline(), o.outline(), v.radius()+o.radius()
		if !nearer(a, b, r+2*least) || nearer(a, b, r) {
			return 0, false
		}
		return measure.FromInches((apartBy(a, b) - r.Inches()) / 2), true
	}
	du, dv, r := v.apart(o)
	if r == 0 && du == 0 && dv == 0 || !shorter(du, dv, r+2*least) || shorter(du, dv, r) {
		return 0, false
	}
	if du == 0 || dv == 0 {
		left = (du + dv - r) / 2
	} else {
		left = measure.FromInches((math.Hypot(du.Inches(), dv.Inches()) - r.Inches()) / 2)
	}
	return left, left > 0 || r > 0 // two boxes that touch are one wider cut
}

// shorter tells whether the way (x, y) is shorter than r, exactly.
func shorter(x, y, r measure.Length) bool {
	if x.Abs() >= r || y.Abs() >= r {
		return false
	}
	return new(big.Int).Add(square(x), square(y)).Cmp(square(r)) < 0
}

func square(l measure.Length) *big.Int {
	b := big.NewInt(int64(l))
	return b.Mul(b, b)
}

// Offcut is a straight line across the face of a part along which a taper or an
// angled cut takes wood off, from A to B with the wood that stays on its left.
type Offcut struct {
	Feature int
	A, B    [2]measure.Length
}

// Offcuts lists the lines of a part's tapers and angled ends, in the order of
// its machining. A taper of both edges takes the same off each. An end cut off
// square keeps its long point at the near edge when the angle is above nought,
// at the far edge below.
func Offcuts(p *job.Part) []Offcut {
	x, y := p.Size[0].Length, p.Size[1].Length
	var out []Offcut
	for i := range p.Machining {
		f := &p.Machining[i]
		switch f.Kind {
		case "taper":
			a, b := y-f.To[0].Length, y-f.To[1].Length // taken off at both ends
			if len(f.Edges) == 2 {
				a, b = a/2, b/2
			}
			for _, e := range f.Edges {
				switch e {
				case job.EdgeNear:
					out = append(out, Offcut{i, [2]measure.Length{0, a}, [2]measure.Length{x, b}})
				case job.EdgeFar:
					out = append(out, Offcut{i, [2]measure.Length{x, y - b}, [2]measure.Length{0, y - a}})
				}
			}
		case "angle-cut":
			off := y
			if t := math.Abs(f.Angle); t != 45 {
				off = measure.FromInches(y.Inches() * math.Tan(t*math.Pi/180))
			}
			switch {
			case f.Angle == 0:
			case f.On == job.EndLeft && f.Angle > 0:
				out = append(out, Offcut{i, [2]measure.Length{off, y}, [2]measure.Length{}})
			case f.On == job.EndLeft:
				out = append(out, Offcut{i, [2]measure.Length{0, y}, [2]measure.Length{off, 0}})
			case f.On == job.EndRight && f.Angle > 0:
				out = append(out, Offcut{i, [2]measure.Length{x, 0}, [2]measure.Length{x - off, y}})
			case f.On == job.EndRight:
				out = append(out, Offcut{i, [2]measure.Length{x - off, 0}, [2]measure.Length{x, y}})
			}
		}
	}
	return out
}

// Keeps tells whether a place of the face, and all that is nearer to it than r,
// is left by the cut. Exact.
func (o *Offcut) Keeps(at [2]measure.Length, r measure.Length) bool {
	dx, dy := big.NewInt(int64(o.B[0]-o.A[0])), big.NewInt(int64(o.B[1]-o.A[1]))
	px, py := big.NewInt(int64(at[0]-o.A[0])), big.NewInt(int64(at[1]-o.A[1]))
	side := new(big.Int).Mul(dx, py)
	side.Sub(side, new(big.Int).Mul(dy, px))
	if side.Sign() < 0 {
		return false
	}
	long := new(big.Int).Add(new(big.Int).Mul(dx, dx), new(big.Int).Mul(dy, dy))
	return side.Mul(side, side).Cmp(long.Mul(long, square(r))) >= 0
}

// Waist is how wide a dovetail groove is at its face, where that is known.
func Waist(s *job.Shop, f *job.Feature) (measure.Length, bool) {
	c := checker{shop: s}
	d, ok := c.dovetailOf(f)
	if !ok {
		return 0, false
	}
	w, err := d.WidthAt(f.Depth.Length)
	return w, err == nil
}
