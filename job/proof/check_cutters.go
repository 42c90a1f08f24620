package proof

import (
	"fmt"
	"slices"
	"strings"

	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
)

// makes lists, for each kind of cut, the kinds of cutter that make it: common
// practice, no source.
var makes = map[string][]string{
	"groove":      {"straight", "spiral", "dado-set", "dovetail", "round-nose", "v-groove"},
	"dado":        {"straight", "spiral", "dado-set"},
	"rabbet":      {"straight", "spiral", "dado-set", "rabbet", "flush-trim"},
	"dovetail":    {"dovetail"},
	"slot":        {"straight", "spiral"},
	"hole":        {"brad", "forstner", "twist", "straight", "spiral"},
	"chamfer":     {"chamfer", "v-groove"},
	"round-over":  {"round-over"},
	"counterbore": {"forstner", "brad", "straight", "spiral"},
	"countersink": {"countersink"},
}

// routed are the kinds of cutter that go down in passes.
var routed = map[string]bool{"straight": true, "spiral": true, "round-nose": true, "rabbet": true}

func (c *checker) cutters(p *job.Part) {
	for i := range p.Machining {
		f := &p.Machining[i]
		sd := sideOf(p, faceFor(f))
		depth := f.Depth.Length
		if f.Through {
			depth = sd.deep
		}
		if cu := c.shop.CutterByID(f.Cutter); cu != nil {
			c.cutter(p, f, f.Kind, cu, cutWidth(c.shop, f), depth)
		}
		for _, b := range mouths(f) {
			if cu := c.shop.CutterByID(b.Cutter); cu != nil {
				c.cutter(p, f, b.what, cu, boreWidth(c.shop, f, b), b.Depth.Length)
			}
		}
		c.dovetail(p, f)
	}
}

func (c *checker) cutter(p *job.Part, f *job.Feature, what string, cu *job.Cutter, width, depth measure.Length) {
	c.proof.Checked++
	if kinds := makes[what]; cu.Kind != "" && kinds != nil && !slices.Contains(kinds, cu.Kind) && !(what == "groove" && f.Angle > 0) {
		c.say("cutter-kind", Look, p.ID, f.At,
			fmt.Sprintf("%s: %s is a %s cutter; a %s is made with %s", p.ID, cu.ID, cu.Kind, what, strings.Join(kinds, ", ")),
			"name another cutter")
		return
	}
	bored := what == "hole" || what == "counterbore"
	d := cu.Diameter.Length
	switch {
	case d == 0 || what == "chamfer" || what == "round-over" || what == "countersink" || what == "rabbet":
	case d > width:
		c.say("cutter-too-large", Stop, p.ID, f.At,
			fmt.Sprintf("%s: %s is %s wide and the %s is %s", p.ID, cu.ID, c.len(d), what, c.len(width)),
			"take a smaller cutter, or widen the cut")
	case bored && d < width && (cu.Kind == "brad" || cu.Kind == "forstner" || cu.Kind == "twist"):
		c.say("cutter-kind", Look, p.ID, f.At,
			fmt.Sprintf("%s: %s bores %s and the %s is %s: a boring bit makes its own size only", p.ID, cu.ID, c.len(d), what, c.len(width)),
			"name the bit of that size")
	}
	if cu.Length.Set && depth > cu.Length.Length {
		c.say("cutter-too-short", Stop, p.ID, f.At,
			fmt.Sprintf("%s: %s cuts %s long and the %s is %s deep", p.ID, cu.ID, c.len(cu.Length.Length), what, c.len(depth)),
			"take a longer cutter, or cut it from both sides")
	}
	if !routed[cu.Kind] || bored || d == 0 || depth <= 0 {
		return
	}
	if ps := passes(depth, d, c.u); len(ps) > 1 {
		var at []string
		for _, x := range ps {
			at = append(at, measure.Format(x, c.u))
		}
		c.say("passes", Look, p.ID, f.At,
			fmt.Sprintf("%s: the %s is %s deep with a cutter of %s: %d passes, set to %s", p.ID, what, c.len(depth), c.len(d), len(ps), strings.Join(at, ", ")),
			"set the height in these steps; "+machine.PassRule.Ref)
	}
}

// dovetailOf gives the cutter of a dovetail groove.
func (c *checker) dovetailOf(f *job.Feature) (machine.Dovetail, bool) {
	cu := c.shop.CutterByID(f.Cutter)
	if f.Kind != "dovetail" && (cu == nil || cu.Kind != "dovetail") || f.Kind != "dovetail" && f.Kind != "groove" {
		return machine.Dovetail{}, false
	}
	d := machine.Dovetail{Angle: f.Angle}
	if cu != nil {
		d.Diameter, d.Height = cu.Diameter.Length, cu.Length.Length
		if d.Angle == 0 {
			d.Angle = cu.Angle
		}
	} else {
		d.Diameter = f.Width.Length
	}
	return d, d.Diameter > 0 && d.Angle > 0
}

func (c *checker) dovetail(p *job.Part, f *job.Feature) {
	d, ok := c.dovetailOf(f)
	if !ok {
		return
	}
	c.proof.Checked++
	sd := sideOf(p, faceFor(f))
	run := sd.u
	if f.Along == "width" {
		run = sd.v
	}
	closedStart := f.Start.Set && f.Start.Length > 0
	closedStop := f.Stop.Set && f.Stop.Length < run
	if closedStart && closedStop && !c.entry(p, f, d.Diameter) {
		c.say("dovetail-cannot-enter", Stop, p.ID, f.At,
			fmt.Sprintf("%s: the dovetail groove is closed at both ends, and its cutter cannot go straight down", p.ID),
			"let it run out at one end, or bore an entry as wide as the cutter and say so with a hole")
	}
	if f.Width.Set && f.Width.Length != d.Diameter {
		c.say("dovetail-width", Stop, p.ID, f.At,
			fmt.Sprintf("%s: the dovetail groove is %s wide at the bottom and its cutter %s", p.ID, c.len(f.Width.Length), c.len(d.Diameter)),
			"leave `width:` out, or cut it in two passes and say where each runs")
	}
	if w, err := d.WidthAt(f.Depth.Length); err == nil && w <= 0 {
		c.say("dovetail-width", Stop, p.ID, f.At,
			fmt.Sprintf("%s: at %s deep the dovetail closes before the surface", p.ID, c.len(f.Depth.Length)), "cut it less deep")
	}
}

// entry tells whether another cut lets a dovetail cutter down into a groove
// that is closed at both ends: as deep, on its middle line, and as wide as the
// cutter both ways.
func (c *checker) entry(p *job.Part, f *job.Feature, d measure.Length) bool {
	vols := Volumes(c.shop, p)
	for i := range vols {
		v := &vols[i]
		if &p.Machining[v.Feature] != f {
			continue
		}
		for k := range vols {
			o := &vols[k]
			across, way, mine, run := o.V, o.U, v.V, v.U
			if f.Along == "width" {
				across, way, mine, run = o.U, o.V, v.U, v.V
			}
			mid := (mine.a + mine.b) / 2
			switch {
			case o.Feature == v.Feature || o.On != v.On || !o.Through && o.Depth < v.Depth:
			case (o.Round || o.slot()) && o.Width() >= d && across.a+across.b == 2*mid && way.meets(run),
				!o.Round && !o.slot() && across.a <= mid-d/2 && across.b >= mid+d/2 && min(way.b, run.b)-max(way.a, run.a) >= d:
				return true
			}
		}
	}
	return false
}

// relief judges a straight groove that clears the way for a dovetail cutter in
// the same place: it must be narrower than the dovetail's waist, the opening at
// the surface, and no deeper than the groove. True when the pair is one.
func (c *checker) relief(p *job.Part, a, b *Volume) bool {
	fa, fb := &p.Machining[a.Feature], &p.Machining[b.Feature]
	d, ok := c.dovetailOf(fa)
	if !ok {
		a, b, fa, fb = b, a, fb, fa
		if d, ok = c.dovetailOf(fa); !ok {
			return false
		}
	}
	if _, both := c.dovetailOf(fb); both || a.On != b.On || fa.Along != fb.Along || fb.Kind != "groove" && fb.Kind != "dado" {
		return false
	}
	sa, sb := a.V, b.V
	if fa.Along == "width" {
		sa, sb = a.U, b.U
	}
	if sa.a+sa.b != sb.a+sb.b {
		return false // beside it, not in it
	}
	waist, err := d.WidthAt(a.Depth)
	if err != nil {
		return false
	}
	if w := sb.b - sb.a; w > waist {
		c.say("dovetail-relief", Stop, p.ID, b.At,
			fmt.Sprintf("%s: the relief cut is %s wide and the dovetail's waist at %s deep is %s", p.ID, c.len(w), c.len(a.Depth), c.len(waist)),
			"take a narrower cutter for the relief")
	}
	if b.Depth > a.Depth {
		c.say("dovetail-relief", Stop, p.ID, b.At,
			fmt.Sprintf("%s: the relief cut is %s deep and the dovetail groove %s", p.ID, c.len(b.Depth), c.len(a.Depth)),
			"cut the relief no deeper than the groove")
	}
	return true
}
