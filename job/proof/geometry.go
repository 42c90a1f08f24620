package proof

import (
	"fmt"

	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
)

// side is a rectangle in the two directions of a face, and how deep the wood
// goes behind it. Directions by face: face and back (along x, across y), the
// two edges (along x, up z), the two ends (across y, up z).
type side struct {
	u, v, deep measure.Length
}

func sideOf(p *job.Part, f job.Face) side {
	x, y, z := p.Size[0].Length, p.Size[1].Length, p.Size[2].Length
	switch f {
	case job.EdgeNear, job.EdgeFar:
		return side{x, z, y}
	case job.EndLeft, job.EndRight:
		return side{y, z, x}
	}
	return side{x, y, z}
}

// opposite is the face on the other side of the wood.
func opposite(f job.Face) job.Face {
	switch f {
	case job.FaceBack:
		return job.FaceTop
	case job.EdgeNear:
		return job.EdgeFar
	case job.EdgeFar:
		return job.EdgeNear
	case job.EndLeft:
		return job.EndRight
	case job.EndRight:
		return job.EndLeft
	}
	return job.FaceBack
}

// span is a half-open interval along one axis of a part.
type span struct{ a, b measure.Length }

func (s span) meets(o span) bool { return s.a < o.b && o.a < s.b }

// Volume is what one stroke of a feature takes out of a part: the smallest box
// round it in the part's own axes (x along, y across, z up from the back).
// Round says that the wood inside the box is a cylinder along the axis of its
// face, Flare that it is wider at the bottom or the top than in between.
type Volume struct {
	Feature int // index into Part.Machining
	Point   int // index into the feature's points, -1 when it has none
	What    string
	On      job.Face
	U, V    span // on its own face
	Depth   measure.Length
	Through bool
	Round   bool
	Ends    [2][2]measure.Length // slot: the middles of its two ends on its face
	At      job.Pos
	X, Y, Z span
}

func axisOf(f job.Face) int {
	switch f {
	case job.EndLeft, job.EndRight:
		return 0
	case job.EdgeNear, job.EdgeFar:
		return 1
	}
	return 2
}

// place puts a box that stands on a face into the part's axes.
func (v *Volume) place(p *job.Part) {
	x, y, z := p.Size[0].Length, p.Size[1].Length, p.Size[2].Length
	d := v.Depth
	switch v.On {
	case job.FaceBack:
		v.X, v.Y, v.Z = v.U, v.V, span{0, d}
	case job.EdgeNear:
		v.X, v.Z, v.Y = v.U, v.V, span{0, d}
	case job.EdgeFar:
		v.X, v.Z, v.Y = v.U, v.V, span{y - d, y}
	case job.EndLeft:
		v.Y, v.Z, v.X = v.U, v.V, span{0, d}
	case job.EndRight:
		v.Y, v.Z, v.X = v.U, v.V, span{x - d, x}
	default:
		v.X, v.Y, v.Z = v.U, v.V, span{z - d, z}
	}
}

// Volumes lists what the features of a part take out of it, feature by
// feature. Features whose sizes are missing, and those that only shape an edge
// or an end (chamfer, round-over, taper, angle-cut), give none.
func Volumes(s *job.Shop, p *job.Part) []Volume {
	var out []Volume
	for i := range p.Machining {
		f := &p.Machining[i]
		for _, v := range featureVolumes(s, p, f) {
			v.Feature = i
			if v.At == (job.Pos{}) {
				v.At = f.At
			}
			v.place(p)
			out = append(out, v)
		}
	}
	return out
}

// mouth is a wider beginning of a hole.
type mouth struct {
	*job.Bore
	what string
}

func mouths(f *job.Feature) []mouth {
	var out []mouth
	if f.Counterbore != nil {
		out = append(out, mouth{f.Counterbore, "counterbore"})
	}
	if f.Countersink != nil {
		out = append(out, mouth{f.Countersink, "countersink"})
	}
	return out
}

func faceFor(f *job.Feature) job.Face {
	if f.On == "" {
		return job.FaceTop
	}
	return f.On
}

func featureVolumes(s *job.Shop, p *job.Part, f *job.Feature) []Volume {
	on := faceFor(f)
	sd := sideOf(p, on)
	depth := f.Depth.Length
	if f.Through {
		depth = sd.deep
	}
	width := cutWidth(s, f)
	if width <= 0 || depth <= 0 {
		return nil
	}
	v := Volume{Point: -1, What: f.Kind, On: on, Depth: depth, Through: f.Through}
	switch f.Kind {
	case "groove", "dado", "dovetail":
		run, across := sd.u, sd.v
		if f.Along == "width" {
			run, across = sd.v, sd.u
		}
		centre := f.Offset.Length
		if fromHigh(f) {
			centre = across - centre
		}
		along := span{0, run}
		if f.Start.Set {
			along.a = f.Start.Length
		}
		if f.Stop.Set {
			along.b = f.Stop.Length
		}
		cross := span{centre - width/2, centre - width/2 + width}
		v.U, v.V = along, cross
		if f.Along == "width" {
			v.U, v.V = cross, along
		}
		return []Volume{v}
	case "rabbet":
		var out []Volume
		for _, e := range f.Edges {
			w := v
			w.U, w.V = span{0, sd.u}, span{0, sd.v}
			if !strip(&w, sd, on, e, width) {
				continue
			}
			out = append(out, w)
		}
		return out
	case "slot":
		if len(f.Points) != 2 {
			return nil
		}
		a, b := f.Points[0], f.Points[1]
		v.Ends = [2][2]measure.Length{{a.X.Length, a.Y.Length}, {b.X.Length, b.Y.Length}}
		v.U = span{min(a.X.Length, b.X.Length) - width/2, max(a.X.Length, b.X.Length) - width/2 + width}
		v.V = span{min(a.Y.Length, b.Y.Length) - width/2, max(a.Y.Length, b.Y.Length) - width/2 + width}
		out := []Volume{v}
		if c := f.Counterbore; c != nil {
			w := boreWidth(s, f, mouth{c, "counterbore"})
			m := v
			m.What, m.Depth, m.Through, m.At = "counterbore", c.Depth.Length, false, c.At
			m.On = faceOr(c.On, on)
			m.U = span{v.U.a - (w-width)/2, v.U.b + (w-width)/2}
			m.V = span{v.V.a - (w-width)/2, v.V.b + (w-width)/2}
			out = append(out, m)
		}
		return out
	case "hole":
		var out []Volume
		for i, pt := range f.Points {
			h := bore(v, pt, width)
			h.Point = i
			out = append(out, h)
			for _, b := range mouths(f) {
				m := v
				m.What, m.On, m.Through, m.Depth = b.what, faceOr(b.On, on), false, boreDepth(s, f, b, width)
				m = bore(m, pt, boreWidth(s, f, b))
				m.Point, m.At = i, b.At
				if m.Depth > 0 {
					out = append(out, m)
				}
			}
		}
		return out
	}
	return nil
}

// fromHigh tells a groove that is placed from the far side of its face.
func fromHigh(f *job.Feature) bool {
	return f.From == job.EdgeFar || f.From == job.EndRight || f.From == job.FaceTop
}

// strip narrows a box on a face to the strip along one of the face's edges;
// false when that edge does not bound the face.
func strip(v *Volume, sd side, on, edge job.Face, width measure.Length) bool {
	if axisOf(on) == axisOf(edge) {
		return false
	}
	low := edge == job.EdgeNear || edge == job.EndLeft || edge == job.FaceBack
	s, size := &v.U, sd.u
	if firstAxis(on) != axisOf(edge) {
		s, size = &v.V, sd.v
	}
	if low {
		*s = span{0, width}
	} else {
		*s = span{size - width, size}
	}
	return true
}

// firstAxis is the part's axis along which U of a face runs.
func firstAxis(f job.Face) int {
	if axisOf(f) == 0 {
		return 1
	}
	return 0
}

func faceOr(f, def job.Face) job.Face {
	if f == "" {
		return def
	}
	return f
}

func bore(v Volume, pt job.Point, d measure.Length) Volume {
	x, y := pt.X.Length-d/2, pt.Y.Length-d/2
	v.Round, v.At = true, pt.At
	v.U, v.V = span{x, x + d}, span{y, y + d}
	return v
}

// cutWidth is a feature's own width, else its cutter's, else the hole its
// screw wants.
func cutWidth(s *job.Shop, f *job.Feature) measure.Length {
	switch {
	case f.Width.Set:
		return f.Width.Length
	case f.Diameter.Set:
		return f.Diameter.Length
	}
	if c := s.CutterByID(f.Cutter); c != nil {
		return c.Diameter.Length
	}
	if sc, ok := screwOf(f.Screw, s.Units.Length.System); ok {
		if f.Pilot {
			return sc.Root
		}
		return sc.Shank
	}
	return 0
}

// boreWidth is how wide a mouth is. A countersink whose cutter alone is named
// is sunk until the screw's head is flush: as wide as the head, not as the
// cutter could make it.
func boreWidth(s *job.Shop, f *job.Feature, b mouth) measure.Length {
	cu := s.CutterByID(b.Cutter)
	own := b.Diameter.Length
	if own == 0 && cu != nil {
		own = cu.Diameter.Length
	}
	if b.what == "countersink" && !b.Depth.Set && cu != nil && own == cu.Diameter.Length {
		if sc, ok := screwOf(f.Screw, s.Units.Length.System); ok && sc.HeadDiameter() < own {
			return sc.HeadDiameter()
		}
	}
	return own
}

// slope is how deep a countersink goes for an inch of its width: 82 degrees
// unless its cutter says otherwise, 90 in a metric shop.
func slope(s *job.Shop, b mouth) float64 {
	angle := 82.0
	if s.Units.Length.System == measure.Metric {
		angle = 90
	}
	if c := s.CutterByID(b.Cutter); c != nil && c.Angle > 0 {
		angle = c.Angle
	}
	one, err := machine.VGrooveWidth(measure.Inch, angle) // mouth for each inch of depth
	if err != nil || one <= 0 {
		return 0
	}
	return 1 / one.Inches()
}

// boreDepth is the depth of a mouth; a countersink without one goes as deep as
// its cone takes to open from the hole to the mouth.
func boreDepth(s *job.Shop, f *job.Feature, b mouth, hole measure.Length) measure.Length {
	if b.Depth.Set {
		return b.Depth.Length
	}
	return coneDepth(s, f, b, hole)
}

func coneDepth(s *job.Shop, f *job.Feature, b mouth, from measure.Length) measure.Length {
	wide := boreWidth(s, f, b)
	if wide <= from {
		return 0
	}
	return measure.FromInches((wide - from).Inches() * slope(s, b))
}

// name says which feature is meant: its id, else its kind and where it is.
func (c *checker) name(p *job.Part, v *Volume) string {
	f := &p.Machining[v.Feature]
	n := v.What
	if f.ID != "" {
		n += " " + f.ID
	}
	if v.Point >= 0 && len(f.Points) > 1 {
		n += fmt.Sprintf(" (%d of %d)", v.Point+1, len(f.Points))
	}
	return n
}
