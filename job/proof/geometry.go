package proof

import (
	"caul/job"
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

// span is a half-open interval along one axis of a part.
type span struct{ a, b measure.Length }

func (s span) meets(o span) bool { return s.a < o.b && o.a < s.b }

// volume is what a feature takes out of a part, as the smallest box round it
// in the part's own axes (x along, y across, z up from the back), and whether
// the wood inside it is round.
type volume struct {
	feature int
	what    string
	on      job.Face
	x, y, z span
	depth   measure.Length // from its own face
	through bool
	round   bool
	u, v    span // on its own face
	at      job.Pos
}

func (v *volume) meets(o *volume) bool { return v.x.meets(o.x) && v.y.meets(o.y) && v.z.meets(o.z) }

// place puts a box that stands on a face into the part's axes.
func (v *volume) place(p *job.Part) {
	x, y, z := p.Size[0].Length, p.Size[1].Length, p.Size[2].Length
	d := v.depth
	switch v.on {
	case job.FaceBack:
		v.x, v.y, v.z = v.u, v.v, span{0, d}
	case job.EdgeNear:
		v.x, v.z, v.y = v.u, v.v, span{0, d}
	case job.EdgeFar:
		v.x, v.z, v.y = v.u, v.v, span{y - d, y}
	case job.EndLeft:
		v.y, v.z, v.x = v.u, v.v, span{0, d}
	case job.EndRight:
		v.y, v.z, v.x = v.u, v.v, span{x - d, x}
	default:
		v.x, v.y, v.z = v.u, v.v, span{z - d, z}
	}
}

// volumes lists what the features of a part take out of it. Features whose
// sizes are missing are left out; other checks name them.
func volumes(s *job.Shop, p *job.Part) []volume {
	var out []volume
	for i := range p.Machining {
		f := &p.Machining[i]
		for _, v := range featureVolumes(s, p, f) {
			v.feature = i
			if v.at == (job.Pos{}) {
				v.at = f.At
			}
			v.place(p)
			out = append(out, v)
		}
	}
	return out
}

func featureVolumes(s *job.Shop, p *job.Part, f *job.Feature) []volume {
	on := f.On
	if on == "" {
		on = job.FaceTop
	}
	sd := sideOf(p, on)
	depth := f.Depth.Length
	if f.Through {
		depth = sd.deep
	}
	width := cutWidth(s, f)
	switch f.Kind {
	case "groove", "dado", "dovetail", "slot":
		if len(f.Points) > 0 || width == 0 {
			return nil
		}
		run, across := sd.u, sd.v
		if f.Along == "width" {
			run, across = sd.v, sd.u
		}
		centre := f.Offset.Length
		if f.From == job.EdgeFar || f.From == job.EndRight || f.From == job.FaceTop {
			centre = across - centre
		}
		a, b := measure.Length(0), run
		if f.Start.Set {
			a = f.Start.Length
		}
		if f.Stop.Set {
			b = f.Stop.Length
		}
		along, cross := span{a, b}, span{centre - width/2, centre - width/2 + width}
		v := volume{what: f.Kind, on: on, depth: depth, through: f.Through, u: along, v: cross}
		if f.Along == "width" {
			v.u, v.v = cross, along
		}
		return []volume{v}
	case "rabbet":
		var out []volume
		for _, e := range f.Edges {
			v := volume{what: "rabbet", on: on, depth: depth, u: span{0, sd.u}, v: span{0, sd.v}}
			switch e {
			case job.EdgeNear:
				v.v = span{0, width}
			case job.EdgeFar:
				v.v = span{sd.v - width, sd.v}
			case job.EndLeft:
				v.u = span{0, width}
			case job.EndRight:
				v.u = span{sd.u - width, sd.u}
			}
			out = append(out, v)
		}
		return out
	case "hole", "holes":
		var out []volume
		for _, pt := range f.Points {
			out = append(out, bore("hole", on, pt, width, depth, f.Through, pt.At))
			if b := f.Counterbore; b != nil {
				face := b.On
				if face == "" {
					face = on
				}
				out = append(out, bore("counterbore", face, pt, boreWidth(s, b), b.Depth.Length, false, b.At))
			}
		}
		return out
	}
	return nil
}

func bore(what string, on job.Face, pt job.Point, d, depth measure.Length, through bool, at job.Pos) volume {
	x, y := pt.X.Length-d/2, pt.Y.Length-d/2
	return volume{what: what, on: on, depth: depth, through: through, round: true,
		u: span{x, x + d}, v: span{y, y + d}, at: at}
}

// cutWidth is a feature's own width, else its cutter's.
func cutWidth(s *job.Shop, f *job.Feature) measure.Length {
	switch {
	case f.Width.Set:
		return f.Width.Length
	case f.Diameter.Set:
		return f.Diameter.Length
	}
	if c := cutter(s, f.Cutter); c != nil {
		return c.Diameter.Length
	}
	return 0
}

func boreWidth(s *job.Shop, b *job.Bore) measure.Length {
	if b.Diameter.Set {
		return b.Diameter.Length
	}
	if c := cutter(s, b.Cutter); c != nil {
		return c.Diameter.Length
	}
	return 0
}

func cutter(s *job.Shop, id string) *job.Cutter {
	for i := range s.Cutters {
		if s.Cutters[i].ID == id {
			return &s.Cutters[i]
		}
	}
	return nil
}
