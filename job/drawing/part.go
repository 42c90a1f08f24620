package drawing

import (
	"fmt"
	"html"
	"math"
	"math/big"
	"sort"
	"strings"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// Options say how a part is drawn.
type Options struct {
	Units measure.Units
	Both  bool   // inches with millimetres beside, or the other way round
	ID    string // prefix of ids inside the drawing; empty: the part's id
	Bare  bool   // leave the style sheet out: the page brings Style
}

// Style is the drawing's style sheet: pencil on kraft paper, one accent. A
// page may set --draw-paper, --draw-ink, --draw-soft and --draw-accent.
const Style = `.part-drawing{--p:var(--draw-paper,#f3e8d0);--i:var(--draw-ink,#2a2622);--s:var(--draw-soft,#574b3d);--a:var(--draw-accent,#9c2f16);font-family:ui-sans-serif,system-ui,"Helvetica Neue",Arial,sans-serif}
@media (prefers-color-scheme:dark){.part-drawing{--p:var(--draw-paper,#2b2721);--i:var(--draw-ink,#f0e6d2);--s:var(--draw-soft,#b5a88f);--a:var(--draw-accent,#ff9d7a)}}
@media print{.part-drawing{--p:#ffffff;--i:#000000;--s:#333333;--a:#000000}}
.part-drawing .wood{fill:var(--p);stroke:var(--i);stroke-width:1.6;stroke-linejoin:round}
.part-drawing .cut{fill:none;stroke:var(--i);stroke-width:1}
.part-drawing .hidden{fill:none;stroke:var(--i);stroke-width:.8;stroke-dasharray:4 2.5}
.part-drawing .centre{stroke:var(--s);stroke-width:.6;stroke-dasharray:8 2 2 2}
.part-drawing .dim{fill:none;stroke:var(--s);stroke-width:.7}
.part-drawing .grain{fill:none;stroke:var(--s);stroke-width:.9;stroke-linecap:round;stroke-linejoin:round}
.part-drawing text{fill:var(--i);font-size:11.5px}
.part-drawing .small{fill:var(--s);font-size:10.5px}
.part-drawing .badge{fill:var(--p);stroke:var(--a);stroke-width:1}
.part-drawing .num{fill:var(--a);font-weight:600;font-size:10px}
`

// paper is what a drawing in a file of its own lies on, so that it can be read
// by a reader who likes dark pages too.
const paper = `.part-drawing{background:#fffdf8}
@media (prefers-color-scheme:dark){.part-drawing{background:#1b1814}}
@media print{.part-drawing{background:#ffffff}}
`

// The drawing's own sizes, in user units: a phone's width at one unit a pixel.
const (
	pageWidth = 360
	margin    = 46.0 // left of a view, for dimensions
	right     = 14.0
	gap       = 26.0 // between views
	dimStep   = 17.0
	most      = 230.0 // tallest view
)

// view is one face of the part seen straight on: u to the right, v upwards.
type view struct {
	face   job.Face
	title  string
	low    string // its lower side
	w, h   measure.Length
	x, y   float64 // top left corner on the page
	scale  float64
	shapes []proof.Volume
	marks  [][2]float64 // where numbers stand on the page
}

// name is the face alone, without how it is seen.
func (v *view) name() string {
	return strings.FieldsFunc(v.title, func(r rune) bool { return r == ',' || r == ':' })[0]
}

func (v *view) px(l measure.Length) float64 { return v.x + float64(l)*v.scale }
func (v *view) py(l measure.Length) float64 { return v.y + float64(v.h-l)*v.scale }

// Part draws a part: its face, and of its other sides those that are cut into.
// Every cut has a number in the drawing and a line below it that says what it
// is; where it is stands in the drawing's dimensions, once. The same part gives
// the same bytes.
func Part(s *job.Shop, j *job.Job, p *job.Part, o Options) []byte {
	d := &drawer{o: o, part: p, shop: s}
	if d.o.ID == "" {
		d.o.ID = "part-" + j.ID + "-" + p.ID
	}
	d.number()
	y := d.heading() + 22
	for _, v := range d.views() {
		y = d.draw(v, y)
	}
	y = d.list(y + 4)
	name := p.Name
	if name == "" {
		name = p.ID
	}
	var out strings.Builder
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" class="part-drawing" viewBox="0 0 %d %s" role="img" aria-labelledby="%s-t %s-d">`, pageWidth, num(y+8), d.o.ID, d.o.ID)
	fmt.Fprintf(&out, `<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, d.o.ID, html.EscapeString("Drawing of "+name), d.o.ID, html.EscapeString(d.describe(name)))
	if !o.Bare {
		out.WriteString("<style>" + Style + paper + "</style>")
	}
	out.WriteString(d.b.String())
	out.WriteString("</svg>\n")
	return []byte(out.String())
}

type drawer struct {
	o     Options
	part  *job.Part
	shop  *job.Shop
	b     strings.Builder
	vols  []proof.Volume
	notes []string
	of    map[int]int // feature index to number
	small []string    // dimensions too short to be drawn
}

func (d *drawer) len(l measure.Length) string {
	t := measure.Format(l, d.o.Units)
	if d.o.Both {
		t += " [" + beside(l, d.o.Units) + "]"
	}
	return t
}

// beside is a length in the other system, as dual dimensions are written in
// brackets: millimetres to a hundredth, inches to a thousandth.
func beside(l measure.Length, u measure.Units) string {
	unit, places := measure.MM, 2
	if u.System == measure.Metric {
		unit, places = measure.Inch, 3
	}
	t := new(big.Rat).SetFrac64(int64(l), int64(unit)).FloatString(places)
	return strings.TrimSuffix(strings.TrimRight(t, "0"), ".")
}

// number gives every feature its number and its line.
func (d *drawer) number() {
	d.vols = proof.Volumes(d.shop, d.part)
	d.of = map[int]int{}
	for i := range d.part.Machining {
		d.of[i] = i + 1
		d.notes = append(d.notes, d.feature(&d.part.Machining[i], i))
	}
}

// feature says in one line what is cut, with which cutter and how deep.
func (d *drawer) feature(f *job.Feature, i int) string {
	var w []string
	kind := f.Kind
	if len(f.Points) > 1 && f.Kind == "hole" {
		kind = fmt.Sprintf("%d holes", len(f.Points))
	}
	if f.ID != "" {
		kind += " " + f.ID
	}
	w = append(w, kind)
	for _, v := range d.vols {
		if v.Feature != i || v.What != f.Kind {
			continue
		}
		if waist, ok := proof.Waist(d.shop, f); ok && waist < v.Width() {
			w = append(w, d.len(v.Width())+" wide at the bottom and "+d.len(waist.Round(d.o.Units))+" at the face")
		} else if f.Kind != "rabbet" {
			w = append(w, d.len(v.Width())+" wide")
		}
		break
	}
	if f.Kind == "rabbet" || f.Kind == "chamfer" {
		w = append(w, d.len(f.Width.Length)+" wide")
	}
	switch {
	case f.Through:
		w = append(w, "through")
	case f.Depth.Set:
		w = append(w, d.len(f.Depth.Length)+" deep")
	}
	if f.Radius.Set {
		w = append(w, "radius "+d.len(f.Radius.Length))
	}
	switch {
	case f.Kind == "angle-cut" && f.Angle > 0:
		w = append(w, fmt.Sprintf("%g° off square, long at the near edge", f.Angle))
	case f.Kind == "angle-cut" && f.Angle < 0:
		w = append(w, fmt.Sprintf("%g° off square, long at the far edge", -f.Angle))
	case f.Angle != 0:
		w = append(w, fmt.Sprintf("%g°", f.Angle))
	}
	if f.Tilt != 0 {
		w = append(w, fmt.Sprintf("blade tilted %g°", f.Tilt))
	}
	if f.Kind == "taper" {
		w = append(w, fmt.Sprintf("%s wide at the left end and %s at the right", d.len(f.To[0].Length), d.len(f.To[1].Length)))
	}
	for _, e := range f.Edges {
		w = append(w, "along the "+string(e))
	}
	for _, b := range []struct {
		*job.Bore
		what string
	}{{f.Counterbore, "counterbore"}, {f.Countersink, "countersink"}} {
		if b.Bore == nil {
			continue
		}
		for _, v := range d.vols {
			if v.Feature == i && v.What == b.what {
				t := b.what + " " + d.len(v.Width().Round(d.o.Units)) + " wide"
				if b.what == "counterbore" {
					t = fmt.Sprintf("counterbore %s wide, %s deep", d.len(v.Width()), d.len(v.Depth))
				}
				w = append(w, t+from(b.On, f.On))
				break
			}
		}
	}
	if f.On != "" && f.On != job.FaceTop {
		w = append(w, "on the "+string(f.On))
	}
	if f.Cutter != "" {
		w = append(w, f.Cutter)
	}
	if f.Screw != "" {
		w = append(w, "for "+f.Screw)
	}
	return strings.Join(w, ", ")
}

func from(on, def job.Face) string {
	if on == "" || on == def {
		return ""
	}
	return " from the " + string(on)
}

func (d *drawer) describe(name string) string {
	p := d.part
	s := fmt.Sprintf("%s: %s along the grain, %s across, %s thick.", name, d.len(p.Size[0].Length), d.len(p.Size[1].Length), d.len(p.Size[2].Length))
	for i, n := range d.notes {
		s += fmt.Sprintf(" %d: %s.", i+1, n)
	}
	return s
}

// views are the face always, the back when it is cut into and cannot be shown
// through the face, and the edges and ends that are cut into.
func (d *drawer) views() []*view {
	p := d.part
	x, y, z := p.Size[0].Length, p.Size[1].Length, p.Size[2].Length
	all := []*view{
		{face: job.FaceTop, title: "face: near edge below", w: x, h: y, low: "near edge"},
		{face: job.FaceBack, title: "back, seen through the face", w: x, h: y, low: "near edge"},
		{face: job.EdgeNear, title: "near edge: back below", w: x, h: z, low: "back"},
		{face: job.EdgeFar, title: "far edge, seen through from the near edge", w: x, h: z, low: "back"},
		{face: job.EndLeft, title: "left end, seen through from the right; near edge left", w: y, h: z, low: "back"},
		{face: job.EndRight, title: "right end: near edge left, back below", w: y, h: z, low: "back"},
	}
	var out []*view
	for _, v := range all {
		for _, vol := range d.vols {
			if vol.On == v.face {
				v.shapes = append(v.shapes, vol)
			}
		}
		shaped := false
		for i := range p.Machining {
			f := &p.Machining[i]
			shaped = shaped || (f.Kind == "chamfer" || f.Kind == "round-over") && on(f) == v.face
		}
		if v.face == job.FaceTop || len(v.shapes) > 0 || shaped {
			out = append(out, v)
		}
	}
	// One scale for all, so that the views compare.
	wide := float64(pageWidth) - margin - right
	scale := wide / float64(x)
	for _, v := range out {
		scale = min(scale, wide/float64(v.w), most/float64(v.h))
	}
	for _, v := range out {
		v.scale = scale
		// A thin edge is drawn larger, up to four times, so that it can be read.
		for k := 2.0; k <= 4 && float64(v.h)*scale < 24 && float64(v.w)*scale*k <= wide; k++ {
			v.scale = scale * k
		}
	}
	return out
}

func num(f float64) string {
	s := fmt.Sprintf("%.2f", f)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

func (d *drawer) text(x, y float64, class, anchor, t string) {
	c := ""
	if class != "" {
		c = fmt.Sprintf(` class="%s"`, class)
	}
	a := ""
	if anchor != "" {
		a = fmt.Sprintf(` text-anchor="%s"`, anchor)
	}
	fmt.Fprintf(&d.b, `<text x="%s" y="%s"%s%s>%s</text>`, num(x), num(y), c, a, html.EscapeString(t))
}

func (d *drawer) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&d.b, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, class, num(x1), num(y1), num(x2), num(y2))
}

func (d *drawer) rect(class string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, num(x), num(y), num(w), num(h))
}

// draw puts one view on the page with its dimensions and gives the place below.
func (d *drawer) draw(v *view, top float64) float64 {
	d.text(2, top-8, "small", "", v.title)
	v.x, v.y = margin, top
	d.wood(v)
	badged := map[int]bool{}
	for i := range v.shapes {
		d.shape(v, &v.shapes[i])
	}
	if v.face == job.FaceTop {
		d.grain(v)
	}
	d.outline(v, badged)
	for i := range v.shapes {
		s := &v.shapes[i]
		if !badged[s.Feature] {
			badged[s.Feature] = true
			d.badge(v, s)
		}
	}
	xs, ys := d.stations(v)
	y := d.chainX(v, xs)
	d.chainY(v, ys)
	return y + gap
}

// grain draws the arrow of the grain, along the part's length, in the first
// corner that no cut lies in.
func (d *drawer) grain(v *view) {
	if float64(v.h)*v.scale < 20 || float64(v.w)*v.scale < 60 {
		return
	}
	in := 9.0
	if float64(v.h)*v.scale > 60 {
		in = 17 // clear of what is cut along the edge
	}
	left, rightmost, top, bottom := v.px(0)+12, v.px(v.w)-30, v.py(v.h)+in, v.py(0)-in
	for _, at := range [][2]float64{{rightmost, top}, {rightmost, bottom}, {left, top}, {left, bottom}} {
		if free(v, at[0]-3, at[0]+21, at[1]-5, at[1]+5) {
			fmt.Fprintf(&d.b, `<path class="grain" d="M%s %sh18m-4 -3l4 3l-4 3M%s %sl-4 3l4 3"/>`, num(at[0]), num(at[1]), num(at[0]+4), num(at[1]-3))
			return
		}
	}
}

// free tells whether no cut of a view comes into a rectangle of the page.
func free(v *view, l, r, top, bottom float64) bool {
	for i := range v.shapes {
		u, w := v.shapes[i].Spans()
		if v.px(u[0]) < r && l < v.px(u[1]) && v.py(w[1]) < bottom && top < v.py(w[0]) {
			return false
		}
	}
	return true
}

func (d *drawer) shape(v *view, s *proof.Volume) {
	u, w := s.Spans()
	class := "cut"
	if s.On == job.FaceBack || s.On == job.EdgeFar || s.On == job.EndLeft {
		class = "hidden"
	}
	x, y := v.px(u[0]), v.py(w[1])
	ww, hh := float64(u[1]-u[0])*v.scale, float64(w[1]-w[0])*v.scale
	if s.Round {
		cx, cy := x+ww/2, y+hh/2
		fmt.Fprintf(&d.b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, num(cx), num(cy), num(ww/2))
		k := ww/2 + 3
		d.line("centre", cx-k, cy, cx+k, cy)
		d.line("centre", cx, cy-k, cx, cy+k)
		return
	}
	if s.Ends != [2][2]measure.Length{} {
		d.capsule(class, v, s)
		return
	}
	if w, ok := proof.Waist(d.shop, &d.part.Machining[s.Feature]); ok && w < s.Width() {
		d.dovetail(class, v, s, w)
		return
	}
	d.rect(class, x, y, ww, hh)
}

func (d *drawer) badge(v *view, s *proof.Volume) {
	u, w := s.Spans()
	x := v.px((u[0] + u[1]) / 2)
	y := v.py((w[0] + w[1]) / 2)
	if s.Round || float64(u[1]-u[0])*v.scale < 18 {
		x = v.px(u[1]) + 9
	}
	if !s.Round && float64(w[1]-w[0])*v.scale < 16 && float64(u[1]-u[0])*v.scale >= 18 {
		y = v.py(w[1]) - 9
	}
	d.mark(v, s.Feature, x, y)
}

// mark puts a feature's number near a place of a view, inside it and beside
// the marks that are there already.
func (d *drawer) mark(v *view, feature int, x, y float64) {
	x = min(max(x, v.x+8), v.px(v.w)-8)
	y = min(max(y, v.y+8), max(v.py(0)-8, v.y+8))
	for _, step := range [][2]float64{{0, 0}, {16, 0}, {-16, 0}, {0, 16}, {0, -16}, {32, 0}, {-32, 0}, {16, 16}, {-16, 16}, {16, -16}, {-16, -16}, {48, 0}, {-48, 0}} {
		at := [2]float64{x + step[0], y + step[1]}
		if step != [2]float64{} && (at[0] < v.x || at[0] > v.px(v.w) || at[1] < v.y || at[1] > v.py(0)) {
			continue
		}
		clear := true
		for _, m := range v.marks {
			clear = clear && (math.Abs(m[0]-at[0]) >= 15 || math.Abs(m[1]-at[1]) >= 15)
		}
		if clear {
			x, y = at[0], at[1]
			break
		}
	}
	v.marks = append(v.marks, [2]float64{x, y})
	fmt.Fprintf(&d.b, `<circle class="badge" cx="%s" cy="%s" r="7.5"/>`, num(x), num(y))
	d.text(x, y+3.6, "num", "middle", fmt.Sprint(d.of[feature]))
}

// stations are the places along both sides of a view that dimensions give:
// the middle of a bore or of a groove's width, the ends of what is stopped.
func (d *drawer) stations(v *view) (xs, ys []measure.Length) {
	sx, sy := map[measure.Length]bool{}, map[measure.Length]bool{}
	for i := range v.shapes {
		s := &v.shapes[i]
		if s.What == "counterbore" || s.What == "countersink" || s.What == "rabbet" {
			continue // stands where its hole stands, or along an edge
		}
		u, w := s.Spans()
		switch {
		case s.Ends != [2][2]measure.Length{}: // the middles of a slot's ends
			for _, e := range s.Ends {
				sx[e[0]], sy[e[1]] = true, true
			}
		case s.Round:
			sx[(u[0]+u[1])/2], sy[(w[0]+w[1])/2] = true, true
		default:
			long := u[1]-u[0] >= w[1]-w[0]
			if long {
				sy[(w[0]+w[1])/2] = true
				stops(sx, u, v.w)
			} else {
				sx[(u[0]+u[1])/2] = true
				stops(sy, w, v.h)
			}
		}
	}
	return within(sx, v.w), within(sy, v.h)
}

func stops(set map[measure.Length]bool, u [2]measure.Length, end measure.Length) {
	if u[0] > 0 {
		set[u[0]] = true
	}
	if u[1] < end {
		set[u[1]] = true
	}
}

func within(set map[measure.Length]bool, end measure.Length) []measure.Length {
	var out []measure.Length
	for l := range set {
		if l > 0 && l < end {
			out = append(out, l)
		}
	}
	sort.Slice(out, func(a, b int) bool { return out[a] < out[b] })
	return out
}
