package proof

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
)

// settingsOf are the settings one feature needs, in the order they are cut: a
// counterbore while there is wood for its point to stand in, the hole, and the
// countersink that is centred by the hole.
func settingsOf(s *job.Shop, p *job.Part, f *job.Feature) []SetUp {
	name := orKind(f)
	if name != f.Kind {
		name = f.Kind + " " + name
	}
	m := SetUp{Machine: machineFor(s, f, f.Cutter), Cutter: f.Cutter, Height: f.Depth.Length, Through: f.Through}
	op := Op{Part: p.ID, Feature: name, Cuts: 1}
	w := cutSheet{shop: s, u: s.Units.Length, part: p, f: f, m: &m, op: &op}
	switch f.Kind {
	case "groove", "dado", "dovetail":
		w.groove()
	case "rabbet":
		w.rabbet()
	case "chamfer", "round-over":
		w.shaped()
	case "slot":
		w.slot()
	case "hole":
		w.holes()
	case "taper":
		w.taper()
	case "angle-cut":
		m.Angle, m.Tilt = f.Angle, f.Tilt
		op.Where = "the " + string(faceFor(f)) + longPoint(f)
	}
	if cu := s.CutterByID(f.Cutter); cu != nil && routed[cu.Kind] && f.Kind != "hole" {
		depth := m.Height
		if m.Through {
			depth = sideOf(p, faceFor(f)).deep
		}
		if ps := passes(depth, cu.Diameter.Length, s.Units.Length); len(ps) > 1 {
			m.Passes = ps
		}
	}
	m.Ops = []Op{op}
	out := []SetUp{m}
	hole := cutWidth(s, f)
	for _, b := range mouths(f) {
		x := SetUp{Machine: machineFor(s, f, b.Cutter), Cutter: b.Cutter, Height: boreDepth(s, f, b, hole), Fence: m.Fence, Middle: m.Middle, HasFence: m.HasFence, boring: true}
		if b.Cutter == "" {
			x.Bit = boreWidth(s, f, b)
		}
		o := op
		o.Feature = b.what + " of " + name
		if on := faceOr(b.On, faceFor(f)); on != faceFor(f) {
			o.Feature += " on the " + string(on)
		}
		if f.Kind == "slot" {
			// a wider slot along the same line, with its own fence
			under := *f
			under.Width, under.Cutter, under.Depth, under.Through, under.On = job.Dim{Length: boreWidth(s, f, b), Set: true}, b.Cutter, b.Depth, false, faceOr(b.On, faceFor(f))
			o.Where, o.Against = "", ""
			x.Bit, x.boring = 0, false
			y := cutSheet{shop: s, u: w.u, part: p, f: &under, m: &x, op: &o}
			y.slot()
			if cu := s.CutterByID(b.Cutter); cu != nil {
				if ps := passes(x.Height, cu.Diameter.Length, w.u); len(ps) > 1 {
					x.Passes = ps
				}
			}
		}
		x.Ops = []Op{o}
		if b.what == "counterbore" {
			out = append([]SetUp{x}, out...)
			continue
		}
		out = append(out, x)
	}
	return out
}

// passes are the heights of a routed cut: equal ones where the shop's marks
// allow, else full steps on a mark and the rest in the last.
func passes(depth, diameter measure.Length, u measure.Units) []measure.Length {
	ps, err := machine.Passes(depth, diameter, 0)
	if err != nil || len(ps) < 2 {
		return ps
	}
	even := true
	for _, l := range ps[:len(ps)-1] {
		even = even && l.Round(u) == l
	}
	if even {
		return ps
	}
	mark := u.Step()
	step := (ps[0] + mark - 1) / mark * mark // up to the next mark: no more passes than the equal ones
	if step > min(diameter/2, measure.Inch/4) {
		return ps
	}
	for i := range ps[:len(ps)-1] {
		ps[i] = step * measure.Length(i+1)
	}
	return ps
}

// sizeText writes the size of a bit or a cut in the shop's units, or in the
// other ones where only these say it exactly: a bit of 20 mm is no 25/32 in.
func sizeText(l measure.Length, u measure.Units) string {
	o := measure.Units{System: measure.Metric, Mark: 1}
	if u.System == measure.Metric {
		o = measure.Units{System: measure.Inches, Mark: 64}
	}
	if l.Round(u) != l && l.Round(o) == l {
		return measure.FormatUnit(l, o)
	}
	return measure.FormatUnit(l, u)
}

// cutSheet writes one feature's setting and the line of its cut.
type cutSheet struct {
	shop *job.Shop
	u    measure.Units
	part *job.Part
	f    *job.Feature
	m    *SetUp
	op   *Op
}

func (w *cutSheet) len(l measure.Length) string { return measure.FormatUnit(l, w.u) }

func (w *cutSheet) where(format string, args ...any) {
	if w.op.Where != "" {
		w.op.Where += "; "
	}
	w.op.Where += fmt.Sprintf(format, args...)
}

// low and high are the sides of the feature's face that its first direction,
// or its second, counts from and to.
func (w *cutSheet) low(second bool) string {
	uLow, _, vLow, _ := edgeNames(faceFor(w.f))
	if second {
		return vLow
	}
	return uLow
}

func (w *cutSheet) high(second bool) string {
	_, uHigh, _, vHigh := edgeNames(faceFor(w.f))
	if second {
		return vHigh
	}
	return uHigh
}

func (w *cutSheet) groove() {
	f, sd := w.f, sideOf(w.part, faceFor(w.f))
	width := cutWidth(w.shop, f)
	w.m.Fence, w.m.HasFence = f.Offset.Length-width/2, true
	across := f.Along != "width" // it is placed across its run: in the face's second direction
	w.op.Against = w.low(across)
	if fromHigh(f) {
		w.op.Against = w.high(across)
	}
	run := sd.u
	if f.Along == "width" {
		run = sd.v
	}
	a, b := measure.Length(0), run
	if f.Start.Set {
		a = f.Start.Length
	}
	if f.Stop.Set {
		b = f.Stop.Length
	}
	if mc := w.shop.MachineByID(w.m.Machine); mc != nil && mc.Kind == "table-saw" && f.Through && (a > 0) != (b < run) {
		// A notch right through the thickness is sawn on the edge it opens in.
		edge := w.low(!across)
		if a > 0 {
			edge = w.high(!across)
		}
		w.m.Through, w.m.Height = false, b-a
		w.where("stood on its %s", edge)
		w.wide(width)
		return
	}
	if a > 0 || b < run {
		w.where("cut from %s to %s, counted from the %s", w.len(a), w.len(b), w.low(!across))
	}
	w.wide(width)
}

// wide says what has to be done for a cut wider than its cutter. The first cut
// is at the side of the fence, so that the next ones take wood on the far side
// of the cutter, against its turn.
func (w *cutSheet) wide(width measure.Length) {
	d := measure.Length(0)
	if cu := w.shop.CutterByID(w.f.Cutter); cu != nil {
		d = cu.Diameter.Length
	}
	switch {
	case d == width || width <= 0:
	case d == 0:
		w.where("%s wide", sizeText(width, w.u))
	case d < width && width <= 2*d:
		w.where("%s wide: a second cut with the fence %s to the cutter", sizeText(width, w.u), w.len(w.m.Fence+width-d))
	case d < width:
		w.where("%s wide: more cuts, the last with the fence %s to the cutter", sizeText(width, w.u), w.len(w.m.Fence+width-d))
	}
}

func (w *cutSheet) rabbet() {
	f := w.f
	w.edges()
	w.m.Show = f.Width.Length
	cu := w.shop.CutterByID(f.Cutter)
	if cu == nil {
		w.where("%s wide", w.len(f.Width.Length))
		return
	}
	if d := cu.Diameter.Length; d > 0 && d < f.Width.Length && cu.Kind != "rabbet" {
		w.where("first with %s in front of the fence, then on to %s", w.len(d), w.len(f.Width.Length))
	}
}

// edges lists the edges that a cut runs along, ends first: what tears out at
// the end of an end-grain cut is taken off by the cut along the grain after it
// (common practice, no source).
func (w *cutSheet) edges() {
	es := append([]job.Face{}, w.f.Edges...)
	sort.SliceStable(es, func(a, b int) bool { return axisOf(es[a]) == 0 && axisOf(es[b]) != 0 })
	var names []string
	for _, e := range es {
		names = append(names, string(e))
	}
	w.op.Against = strings.Join(names, ", ")
	w.op.Cuts = max(len(es), 1)
}

func (w *cutSheet) shaped() {
	w.edges()
	f := w.f
	if f.Kind == "round-over" {
		r := f.Radius
		if cu := w.shop.CutterByID(f.Cutter); cu != nil && !r.Set {
			r = cu.Radius
		}
		w.m.Height = r.Length
		return
	}
	w.m.Angle = f.Angle
	if f.Angle == 45 {
		w.m.Height = f.Width.Length
		return
	}
	w.where("%s wide on the %s", w.len(f.Width.Length), faceFor(f)) // the height hangs on how the cutter's angle is counted
}

func (w *cutSheet) slot() {
	f := w.f
	if len(f.Points) != 2 {
		return
	}
	width := cutWidth(w.shop, f)
	a, b := f.Points[0], f.Points[1]
	var place, from, to measure.Length
	second := true // placed in the face's second direction, running along the first
	switch {
	case a.Y.Length == b.Y.Length:
		place, from, to = a.Y.Length, a.X.Length, b.X.Length
	case a.X.Length == b.X.Length:
		place, from, to, second = a.X.Length, a.Y.Length, b.Y.Length, false
	default:
		w.where("%s wide, its middle marked out from %s to %s, counted from the %s and the %s", w.len(width), w.pair(a), w.pair(b), w.low(false), w.low(true))
		return
	}
	from, to = min(from, to), max(from, to)
	w.m.Fence, w.m.HasFence = place-width/2, true
	w.op.Against = w.low(second)
	w.where("cut from %s to %s, counted from the %s", w.len(from-width/2), w.len(to-width/2+width), w.low(!second))
	if cu := w.shop.CutterByID(f.Cutter); cu != nil && cu.Diameter.Length == width {
		w.where("stop blocks for the cutter's middle at %s and %s", w.len(from), w.len(to))
	}
	w.wide(width)
}

func (w *cutSheet) pair(p job.Point) string {
	return measure.Format(p.X.Length, w.u) + " x " + measure.Format(p.Y.Length, w.u)
}

// holes sets a fence where all holes lie in one line, and gives the places
// along it; else every hole has to be marked out.
func (w *cutSheet) holes() {
	f := w.f
	w.op.Cuts = len(f.Points)
	w.m.boring = true
	if f.Cutter == "" {
		w.m.Bit = cutWidth(w.shop, f)
	}
	if len(f.Points) == 0 {
		return
	}
	sameX, sameY := true, true
	for _, p := range f.Points {
		sameX = sameX && p.X.Length == f.Points[0].X.Length
		sameY = sameY && p.Y.Length == f.Points[0].Y.Length
	}
	var at []string
	for _, p := range f.Points {
		switch {
		case sameY:
			at = append(at, measure.Format(p.X.Length, w.u))
		case sameX:
			at = append(at, measure.Format(p.Y.Length, w.u))
		default:
			at = append(at, w.pair(p))
		}
	}
	switch {
	case sameY:
		w.m.Fence, w.m.HasFence, w.m.Middle = f.Points[0].Y.Length, true, true
	case sameX:
		w.m.Fence, w.m.HasFence, w.m.Middle = f.Points[0].X.Length, true, true
	default:
		w.where("marked out from the %s and the %s: %s", w.low(false), w.low(true), strings.Join(at, ", "))
		return
	}
	w.op.Against = w.low(sameY)
	w.where("from the %s: %s", w.low(!sameY), strings.Join(at, ", "))
}

func (w *cutSheet) taper() {
	f, long := w.f, w.part.Size[0].Length
	a, b := f.To[0].Length, f.To[1].Length
	for _, e := range f.Edges {
		w.where("%s: %s wide at the left end, %s at the right", e, w.len(a), w.len(b))
	}
	if long > 0 {
		w.m.Angle = math.Round(100*math.Abs(math.Atan2(float64(a-b), float64(long)))*180/math.Pi) / 100
	}
}

// longPoint says which edge an end cut off square is longer at.
func longPoint(f *job.Feature) string {
	switch {
	case f.Angle > 0:
		return ", its long point at the near-edge"
	case f.Angle < 0:
		return ", its long point at the far-edge"
	}
	return ""
}
