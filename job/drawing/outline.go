package drawing

import (
	"fmt"
	"math"
	"strings"

	"caul/job"
	"caul/job/lines"
	"caul/job/measure"
	"caul/job/proof"
)

// heading writes above the views what the part is cut from, and to what size.
func (d *drawer) heading() float64 {
	p := d.part
	t := fmt.Sprintf("%s x %s x %s %s thick, %s", d.len(p.Size[0].Length), d.len(p.Size[1].Length), d.len(p.Size[2].Length), d.o.Units.System.Name(), p.From)
	if p.Qty > 1 {
		t = fmt.Sprintf("%d of ", p.Qty) + t
	}
	if p.Oversize.Length > 0 {
		t += "; finished size, sawn " + d.len(p.Oversize.Length) + " over in length and width"
	}
	if d.o.Both {
		t += "; " + map[measure.System]string{measure.Inches: "millimetres", measure.Metric: "inches"}[d.o.Units.System] + " in brackets"
	}
	y := 0.0
	for _, l := range lines.Wrap(t, 56) {
		y += 13
		d.text(2, y, "", "", l)
	}
	return y
}

// wood draws the outline of a view; the face with what tapers and angled ends
// take off it, the blank in hidden lines.
func (d *drawer) wood(v *view) {
	offs := proof.Offcuts(d.part)
	if v.face != job.FaceTop || len(offs) == 0 {
		d.rect("wood", v.x, v.y, float64(v.w)*v.scale, float64(v.h)*v.scale)
		return
	}
	d.rect("hidden", v.x, v.y, float64(v.w)*v.scale, float64(v.h)*v.scale)
	var path strings.Builder
	for i, q := range left(v.w, v.h, offs) {
		c := "L"
		if i == 0 {
			c = "M"
		}
		fmt.Fprintf(&path, "%s%s %s", c, num(v.x+q[0]*v.scale), num(v.y+(float64(v.h)-q[1])*v.scale))
	}
	fmt.Fprintf(&d.b, `<path class="wood" d="%sZ"/>`, path.String())
}

// left is what straight cuts leave of a face, as the corners of a polygon.
func left(w, h measure.Length, offs []proof.Offcut) [][2]float64 {
	out := [][2]float64{{0, 0}, {float64(w), 0}, {float64(w), float64(h)}, {0, float64(h)}}
	for _, o := range offs {
		ax, ay, bx, by := float64(o.A[0]), float64(o.A[1]), float64(o.B[0]), float64(o.B[1])
		side := func(q [2]float64) float64 { return (bx-ax)*(q[1]-ay) - (by-ay)*(q[0]-ax) }
		var next [][2]float64
		for i, q := range out {
			p := out[(i+len(out)-1)%len(out)]
			sp, sq := side(p), side(q)
			if sp >= 0 != (sq >= 0) {
				t := sp / (sp - sq)
				next = append(next, [2]float64{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])})
			}
			if sq >= 0 {
				next = append(next, q)
			}
		}
		out = next
	}
	return out
}

// outline draws the lines of what shapes the part's edges, and numbers it.
func (d *drawer) outline(v *view, badged map[int]bool) {
	if v.face == job.FaceTop {
		for _, o := range proof.Offcuts(d.part) {
			if !badged[o.Feature] {
				badged[o.Feature] = true
				x, y := v.px((o.A[0]+o.B[0])/2), v.py((o.A[1]+o.B[1])/2)
				d.mark(v, o.Feature, x, y)
			}
		}
	}
	for i := range d.part.Machining {
		f := &d.part.Machining[i]
		if f.Kind != "chamfer" && f.Kind != "round-over" || on(f) != v.face {
			if f.Kind == "angle-cut" && f.Angle == 0 && v.face == job.FaceTop && !badged[i] {
				badged[i] = true
				d.mark(v, i, map[bool]float64{true: v.px(0), false: v.px(v.w)}[f.On == job.EndLeft], v.py(v.h/2))
			}
			continue
		}
		reach := f.Width.Length
		if f.Kind == "round-over" {
			reach = f.Radius.Length
			if cu := d.shop.CutterByID(f.Cutter); cu != nil && !f.Radius.Set {
				reach = cu.Radius.Length
			}
		}
		class := "cut"
		if v.face != job.FaceTop {
			class = "hidden"
		}
		for _, e := range f.Edges {
			x1, y1, x2, y2 := measure.Length(0), measure.Length(0), v.w, v.h
			switch e {
			case job.EdgeNear:
				y1, y2 = reach, reach
			case job.EdgeFar:
				y1, y2 = v.h-reach, v.h-reach
			case job.EndLeft:
				x1, x2 = reach, reach
			case job.EndRight:
				x1, x2 = v.w-reach, v.w-reach
			default:
				continue
			}
			d.line(class, v.px(x1), v.py(y1), v.px(x2), v.py(y2))
			if !badged[i] {
				badged[i] = true
				d.mark(v, i, v.px((x1+x2)/2)+30, v.py((y1+y2)/2))
			}
		}
	}
}

func on(f *job.Feature) job.Face {
	if f.On == "" {
		return job.FaceTop
	}
	return f.On
}

// capsule draws a slot: two sides and two round ends, however it runs.
func (d *drawer) capsule(class string, v *view, s *proof.Volume) {
	ax, ay, bx, by := v.px(s.Ends[0][0]), v.py(s.Ends[0][1]), v.px(s.Ends[1][0]), v.py(s.Ends[1][1])
	r := float64(s.Width()) / 2 * v.scale
	nx, ny := 0.0, r
	if l := math.Hypot(bx-ax, by-ay); l > 0 {
		nx, ny = -(by-ay)/l*r, (bx-ax)/l*r
	}
	fmt.Fprintf(&d.b, `<path class="%s" d="M%s %sL%s %sA%[6]s %[6]s 0 0 0 %[7]s %[8]sL%[9]s %[10]sA%[6]s %[6]s 0 0 0 %[2]s %[3]sZ"/>`,
		class, num(ax+nx), num(ay+ny), num(bx+nx), num(by+ny), num(r), num(bx-nx), num(by-ny), num(ax-nx), num(ay-ny))
}

// dovetail draws a dovetail groove: its opening at the face, and its bottom,
// which the wood hides.
func (d *drawer) dovetail(class string, v *view, s *proof.Volume, waist measure.Length) {
	u, w := s.Spans()
	in := (s.Width() - waist) / 2
	x1, x2, y1, y2 := v.px(u[0]), v.px(u[1]), v.py(w[1]), v.py(w[0])
	if u[1]-u[0] >= w[1]-w[0] {
		d.line("hidden", x1, y1, x2, y1)
		d.line("hidden", x1, y2, x2, y2)
		d.rect(class, x1, v.py(w[1]-in), x2-x1, v.py(w[0]+in)-v.py(w[1]-in))
		return
	}
	d.line("hidden", x1, y1, x1, y2)
	d.line("hidden", x2, y1, x2, y2)
	d.rect(class, v.px(u[0]+in), y1, v.px(u[1]-in)-v.px(u[0]+in), y2-y1)
}
