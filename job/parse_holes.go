package job

import (
	"math/big"

	"go.yaml.in/yaml/v3"

	"caul/job/measure"
)

func (r *jobReader) holes(c *obj, f *Feature, p *Part) {
	s, sc := r.s, r.sc
	if n := c.get("through"); n != nil {
		if n.Kind == yaml.ScalarNode && (n.Value == "true" || n.Value == "false" || n.Value == "yes" || n.Value == "no") {
			f.Through = c.boolean("through")
		} else {
			f.Through = true
			f.Diameter = c.dim("through", sc, positive)
		}
	}
	if d := c.dim("diameter", sc, positive); d.Set {
		if f.Diameter.Set {
			s.add(d.At, d.Src, "`through: true` goes with `diameter:`", "the holes have two diameters")
		}
		f.Diameter = d
	}
	f.Depth = c.dim("depth", sc, positive)
	if f.Through && f.Depth.Set {
		s.add(f.Depth.At, f.Depth.Src, "keep one of the two", "the holes go through and have a depth")
	}
	f.Screw = c.str("screw")
	f.Pilot = c.boolean("pilot")
	if c.keys["through"] == nil && c.keys["depth"] == nil {
		c.need("depth", "write `through: 1/4` for a hole right through, or `diameter:` with `depth:`")
	}
	if !f.Diameter.Set && c.keys["diameter"] == nil && c.keys["through"] != nil && f.Cutter != "" {
		if cu := r.shop.CutterByID(f.Cutter); cu != nil {
			f.Diameter = cu.Diameter
		}
	}
	if !f.Diameter.Set && f.Cutter == "" && f.Screw == "" && c.keys["diameter"] == nil && (f.Through && c.keys["through"].Value == "true" || !f.Through) {
		c.need("diameter", "write how wide, or name the cutter or the screw")
	}
	f.Counterbore = r.bore(c, "counterbore", f.On, true)
	f.Countersink = r.bore(c, "countersink", f.On, false)
	f.Mates = c.str("mates")
	r.refer(c, "mates", true, "mates")
	f.Points = r.points(c, "at", f.On, p)
	if n := c.get("row"); n != nil {
		f.Points = append(f.Points, r.row(n, f.On, p)...)
	}
	if n := c.get("grid"); n != nil {
		f.Points = append(f.Points, r.grid(n, f.On, p)...)
	}
	if c.keys["at"] == nil && c.keys["row"] == nil && c.keys["grid"] == nil {
		c.need("at", "write where, such as `at: [[2, 2], [2, 22]]`, or a `row:` or a `grid:`")
	}
}

func (r *jobReader) bore(c *obj, key string, on Face, needDepth bool) *Bore {
	n := c.get(key)
	if n == nil {
		return nil
	}
	b := r.s.mapping(n, "a "+key)
	if b == nil {
		return nil
	}
	out := &Bore{At: b.pos(), Cutter: b.str("cutter"), Diameter: b.dim("diameter", r.sc, positive), Depth: b.dim("depth", r.sc, positive), On: b.face("on", on)}
	r.cutterKnown(b, "cutter", out.Cutter)
	if !out.Diameter.Set && out.Cutter != "" {
		if cu := r.shop.CutterByID(out.Cutter); cu != nil {
			out.Diameter = cu.Diameter
		}
	}
	if out.Cutter == "" && b.keys["diameter"] == nil {
		b.need("diameter", "write how wide its mouth is, or name the cutter")
	}
	if needDepth {
		b.need("depth", "write how deep, such as `depth: 1/4`")
	}
	b.done()
	return out
}

const maxRow = 10_000

// row reads holes at equal steps: {count: 5, from: [2, 1], step: 3, along: length},
// or with `to:` in place of `step:` from the first to the last.
func (r *jobReader) row(n *yaml.Node, on Face, p *Part) []Point {
	o := r.s.mapping(n, "a row")
	if o == nil {
		return nil
	}
	count := o.integer("count", 0, 1, maxRow)
	o.need("count", "write how many")
	along := o.oneOf("along", []string{"length", "width"})
	axis := 0
	if along == "width" {
		axis = 1
	}
	var first Point
	ok := false
	if fn := o.get("from"); fn == nil {
		o.need("from", "write where the first one is, such as `from: [2, 1]`")
	} else if fn.Kind == yaml.ScalarNode {
		// from: 2, across: 1 says the same as from: [2, 1]
		x := r.coord(fn, "from", on, p, axis)
		an := o.get("across")
		if an == nil {
			o.need("across", "write how far from the other edge the row runs, or `from: [along, across]`")
		} else {
			y := r.coord(an, "across", on, p, 1-axis)
			first, ok = Point{X: x, Y: y, At: r.s.at(n)}, x.Set && y.Set
			if axis == 1 {
				first.X, first.Y = y, x
			}
		}
	} else {
		first, ok = r.point(fn, "from", on, p)
	}
	step := o.dim("step", r.sc, anySign)
	last := Dim{}
	if tn := o.get("to"); tn != nil {
		last = r.coord(tn, "to", on, p, axis)
	}
	o.done()
	switch {
	case o.keys["step"] != nil && o.keys["to"] != nil:
		r.s.add(o.pos(), "", "keep one of the two", "a row has both %q and %q", "step", "to")
		return nil
	case o.keys["step"] == nil && o.keys["to"] == nil && count > 1:
		o.need("step", "write how far apart they are, or `to:` for where the last one is")
		return nil
	case !ok || count == 0 || o.keys["step"] != nil && !step.Set || o.keys["to"] != nil && !last.Set:
		return nil
	}
	if count > 1 && step.Set && step.Length == 0 {
		r.s.add(step.At, step.Src, "write how far apart they are", "the step of the row is zero")
		return nil
	}
	return run(first, count, axis, step, last)
}

// run places count points from the first at equal steps along one axis.
func run(first Point, count, axis int, step, last Dim) []Point {
	out := make([]Point, 0, count)
	for i := 0; i < count; i++ {
		pt := first
		d := &pt.X
		if axis == 1 {
			d = &pt.Y
		}
		switch {
		case i == 0:
		case step.Set:
			d.Length += measure.Length(i) * step.Length
		case last.Set:
			r := new(big.Rat).SetFrac64(int64(last.Length-d.Length)*int64(i), int64(count-1))
			l, exact, err := measure.FromRat(r)
			if err != nil {
				return nil
			}
			d.Length += l
			d.Exact = d.Exact && exact
		}
		out = append(out, pt)
	}
	return out
}

// grid reads {count: [5, 2], from: [2, 2], step: [3, 4]}.
func (r *jobReader) grid(n *yaml.Node, on Face, p *Part) []Point {
	o := r.s.mapping(n, "a grid")
	if o == nil {
		return nil
	}
	pair := func(key, hint string) []*yaml.Node {
		if !o.need(key, hint) {
			o.get(key)
			return nil
		}
		v := o.get(key)
		if v.Kind != yaml.SequenceNode || len(v.Content) != 2 {
			r.s.add(r.s.at(v), snippet(v), hint, "%q of a grid has two numbers, along and across", key)
			return nil
		}
		return v.Content
	}
	cn := pair("count", "write how many along and across, such as `count: [5, 2]`")
	fn := pair("from", "write where the first one is, such as `from: [2, 2]`")
	sn := pair("step", "write the steps along and across, such as `step: [3, 4]`")
	o.done()
	if cn == nil || fn == nil || sn == nil {
		return nil
	}
	var counts [2]int
	var steps [2]Dim
	for i := range counts {
		one := &obj{s: r.s, n: n, what: "a grid", keys: map[string]*yaml.Node{"count": cn[i]}}
		counts[i] = one.integer("count", 0, 1, 1000)
		steps[i] = r.s.dim(sn[i], "step", r.sc, anySign)
	}
	first, ok := r.point(o.keys["from"], "from", on, p)
	if !ok || counts[0] == 0 || counts[1] == 0 || !steps[0].Set || !steps[1].Set {
		return nil
	}
	if counts[0]*counts[1] > maxRow {
		r.s.add(r.s.at(cn[0]), "", "", "a grid of more than %d holes", maxRow)
		return nil
	}
	var out []Point
	for _, pt := range run(first, counts[0], 0, steps[0], Dim{}) {
		out = append(out, run(pt, counts[1], 1, steps[1], Dim{})...)
	}
	return out
}
