package proof

import (
	"fmt"
	"strings"

	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
)

// What is left beside and behind a cut, common practice, no source: under a
// groove a third of the thickness (machine.KeepUnder), behind a blind hole and
// beside any cut an eighth of an inch (3 mm); in board of fibres or chips, which
// crumbles, three sixteenths everywhere.
const (
	leastWall    = measure.Inch / 8
	crumblesWall = 3 * measure.Inch / 16
)

// wall is the least wood beside a cut and behind a bore: the part's own `web:`,
// else by its material.
func (c *checker) wall(p *job.Part) measure.Length {
	if p.Web.Set {
		return p.Web.Length
	}
	if st := c.shop.StockByID(p.From); st != nil {
		for _, w := range []string{"mdf", "particle", "chipboard", "hardboard"} {
			if strings.Contains(strings.ToLower(st.Species+" "+st.ID), w) {
				return crumblesWall
			}
		}
	}
	return leastWall
}

// web is the least wood behind a cut.
func (c *checker) web(p *job.Part, v *Volume, deep measure.Length) measure.Length {
	if v.Round || p.Web.Set {
		return c.wall(p)
	}
	keep, _ := machine.KeepUnder(deep, false)
	if w := c.wall(p); w > leastWall {
		keep = max(keep, w)
	}
	return keep
}

// cuts looks at every cut of a part: that it stays inside, leaves enough wood
// and does not run into another.
func (c *checker) cuts(p *job.Part) {
	vols := Volumes(c.shop, p)
	c.proof.Checked += len(vols)
	for i := range vols {
		v := &vols[i]
		sd := sideOf(p, v.On)
		c.inside(p, v, sd)
		if !v.Through {
			c.behind(p, v, sd)
		}
		c.beside(p, v, sd)
	}
	for i := range vols {
		for k := i + 1; k < len(vols); k++ {
			c.pair(p, &vols[i], &vols[k])
		}
	}
	c.offcuts(p, vols)
	for i := range p.Machining {
		c.edges(p, &p.Machining[i])
	}
}

func (c *checker) inside(p *job.Part, v *Volume, sd side) {
	type way struct {
		over measure.Length
		edge string
	}
	uLow, uHigh, vLow, vHigh := edgeNames(v.On)
	ways := []way{{-v.U.a, uLow}, {v.U.b - sd.u, uHigh}, {-v.V.a, vLow}, {v.V.b - sd.v, vHigh}}
	for _, w := range ways {
		if w.over > 0 {
			c.say("leaves-part", Stop, p.ID, v.At,
				fmt.Sprintf("%s: the %s reaches %s past the %s", p.ID, c.name(p, v), c.len(w.over), w.edge),
				fmt.Sprintf("move it in by %s or more, or make the part larger", c.len(w.over)))
			return
		}
	}
}

// edgeNames are the sides of a face: at low and high u, at low and high v.
func edgeNames(on job.Face) (uLow, uHigh, vLow, vHigh string) {
	switch axisOf(on) {
	case 0:
		return string(job.EdgeNear), string(job.EdgeFar), string(job.FaceBack), string(job.FaceTop)
	case 1:
		return string(job.EndLeft), string(job.EndRight), string(job.FaceBack), string(job.FaceTop)
	}
	return string(job.EndLeft), string(job.EndRight), string(job.EdgeNear), string(job.EdgeFar)
}

func (c *checker) behind(p *job.Part, v *Volume, sd side) {
	left := sd.deep - v.Depth
	keep := c.web(p, v, sd.deep)
	switch {
	case left <= 0:
		c.say("breaks-through", Stop, p.ID, v.At,
			fmt.Sprintf("%s: the %s is %s deep and the wood is %s: it comes out of the %s", p.ID, c.name(p, v), c.len(v.Depth), c.len(sd.deep), opposite(v.On)),
			fmt.Sprintf("cut it %s deep at most, or write `through: true` if it is meant", c.len(sd.deep-keep)))
	case left < keep:
		c.say("thin-web", Look, p.ID, v.At,
			fmt.Sprintf("%s: the %s leaves %s of %s; usual is at least %s", p.ID, c.name(p, v), c.len(left), c.len(sd.deep), c.len(keep)),
			fmt.Sprintf("cut it %s deep at most, or take thicker stock", c.len(sd.deep-keep)))
	}
}

// beside looks at the wood between a cut and the sides of its face; a cut that
// runs out of a side has none there.
func (c *checker) beside(p *job.Part, v *Volume, sd side) {
	uLow, uHigh, vLow, vHigh := edgeNames(v.On)
	for _, w := range []struct {
		left measure.Length
		edge string
	}{{v.U.a, uLow}, {sd.u - v.U.b, uHigh}, {v.V.a, vLow}, {sd.v - v.V.b, vHigh}} {
		if (w.left > 0 || w.left == 0 && v.rounded()) && w.left < c.wall(p) { // a bore that only touches its side tears out there
			c.say("thin-wall", Look, p.ID, v.At,
				fmt.Sprintf("%s: between the %s and the %s only %s is left", p.ID, c.name(p, v), w.edge, c.len(w.left)),
				fmt.Sprintf("leave %s, or let it run out", c.len(c.wall(p))))
		}
	}
}

func (c *checker) pair(p *job.Part, a, b *Volume) {
	if far := crumblesWall + p.Web.Length; gap(a.X, b.X) > far || gap(a.Y, b.Y) > far || gap(a.Z, b.Z) > far && axisOf(a.On) != axisOf(b.On) {
		return // most pairs of a large pattern
	}
	if a.Feature == b.Feature && (a.Point == b.Point || a.Point < 0 || b.Point < 0) {
		return // a hole and its own mouth, the strips of one rabbet
	}
	if c.relief(p, a, b) || corner(a, b) {
		return // one makes way for the other, or they meet in a corner
	}
	if a.On == opposite(b.On) && !a.Through && !b.Through && a.over(b) {
		c.fromBothSides(p, a, b)
		return
	}
	if a.meets(b) {
		c.say("features-meet", Look, p.ID, b.At,
			fmt.Sprintf("%s: the %s runs into the %s", p.ID, c.name(p, b), c.name(p, a)),
			"move one of them; leave it when it is meant")
		return
	}
	if left, ok := c.neighbours(p, a, b); ok {
		c.say("thin-wall", Look, p.ID, b.At,
			fmt.Sprintf("%s: between the %s and the %s only %s is left", p.ID, c.name(p, b), c.name(p, a), c.len(left)),
			fmt.Sprintf("leave %s, or let them run into one another", c.len(c.wall(p))))
	}
}

// corner tells two rabbets of one depth that run along and across a face: where
// they meet, one takes nothing that the other has left. Side by side, or on one
// edge twice, they are no corner.
func corner(a, b *Volume) bool {
	return a.What == "rabbet" && b.What == "rabbet" && a.On == b.On && a.Depth == b.Depth && a.U != b.U && a.V != b.V
}

// neighbours gives the wood between two cuts that do not meet, where it is too
// little: side by side, or one passing over the other at a right angle, where a
// bore counts as the box round it.
func (c *checker) neighbours(p *job.Part, a, b *Volume) (measure.Length, bool) {
	least := c.wall(p)
	gaps := [3]measure.Length{gap(a.X, b.X), gap(a.Y, b.Y), gap(a.Z, b.Z)}
	if k := axisOf(a.On); k == axisOf(b.On) {
		if gaps[k] >= 0 {
			return 0, false // one above the other: see fromBothSides
		}
		return a.between(b, least)
	}
	left := measure.Length(-1)
	for _, g := range gaps {
		switch {
		case g < 0:
		case left >= 0:
			return 0, false // past one another
		default:
			left = g
		}
	}
	return left, (left > 0 || left == 0 && (a.rounded() || b.rounded())) && left < least
}

// gap is the way between two intervals, below nought where they overlap.
func gap(a, b span) measure.Length { return max(a.a-b.b, b.a-a.b) }

// offcuts looks at the cuts that a taper or an angled cut comes near: a hole or
// a slot in the wood that it takes off is no hole.
func (c *checker) offcuts(p *job.Part, vols []Volume) {
	offs := Offcuts(p)
	for i := range offs {
		o := &offs[i]
		by := p.Machining[o.Feature].Kind
		for k := range vols {
			v := &vols[k]
			var at [][2]measure.Length
			r := v.Width() / 2
			switch {
			case axisOf(v.On) != 2: // the corners of the box that it is in plan
				at = [][2]measure.Length{{v.X.a, v.Y.a}, {v.X.a, v.Y.b}, {v.X.b, v.Y.a}, {v.X.b, v.Y.b}}
				r = 0
			case v.slot():
				at = v.Ends[:]
			case v.Round:
				at = [][2]measure.Length{{(v.U.a + v.U.b) / 2, (v.V.a + v.V.b) / 2}}
			default: // a groove may run out of the slanting side as it does of a straight one
				mid := [2][2]measure.Length{{v.U.a, (v.V.a + v.V.b) / 2}, {v.U.b, (v.V.a + v.V.b) / 2}}
				if p.Machining[v.Feature].Along == "width" {
					mid = [2][2]measure.Length{{(v.U.a + v.U.b) / 2, v.V.a}, {(v.U.a + v.U.b) / 2, v.V.b}}
				}
				if v.What == "rabbet" || o.Keeps(mid[0], 0) || o.Keeps(mid[1], 0) {
					continue
				}
				at, r = mid[:], 0
			}
			for _, q := range at {
				if !o.Keeps(q, r) {
					c.say("leaves-part", Stop, p.ID, v.At,
						fmt.Sprintf("%s: the %s reaches into the wood that the %s takes off", p.ID, c.name(p, v), by),
						"move it to the wood that is left")
					break
				}
				if axisOf(v.On) == 2 && !o.Keeps(q, r+c.wall(p)) {
					c.say("thin-wall", Look, p.ID, v.At,
						fmt.Sprintf("%s: between the %s and the %s less than %s is left", p.ID, c.name(p, v), by, c.len(c.wall(p))),
						"move it in")
					break
				}
			}
		}
	}
}

// fromBothSides judges the wood between two cuts that lie over one another.
func (c *checker) fromBothSides(p *job.Part, a, b *Volume) {
	deep := sideOf(p, a.On).deep
	left, keep := deep-a.Depth-b.Depth, max(c.web(p, a, deep), c.web(p, b, deep))
	switch {
	case left <= 0:
		c.say("opposite-cuts", Stop, p.ID, b.At,
			fmt.Sprintf("%s: the %s (%s deep) and the %s (%s deep) come from both sides of %s and break into one another", p.ID,
				c.name(p, a), c.len(a.Depth), c.name(p, b), c.len(b.Depth), c.len(deep)),
			"move one aside, or cut both less deep")
	case left < keep && deep-a.Depth >= c.web(p, a, deep) && deep-b.Depth >= c.web(p, b, deep):
		// where one alone leaves too little, that is said already
		c.say("thin-web", Look, p.ID, b.At,
			fmt.Sprintf("%s: between the %s and the %s on the other side only %s is left of %s; usual is at least %s", p.ID,
				c.name(p, a), c.name(p, b), c.len(left), c.len(deep), c.len(keep)),
			"move one aside, or cut both less deep")
	}
}

// edges finds an edge that does not bound the face it is to be cut into.
func (c *checker) edges(p *job.Part, f *job.Feature) {
	on := faceFor(f)
	for _, e := range f.Edges {
		bad := false
		switch f.Kind {
		case "rabbet", "chamfer", "round-over":
			bad = axisOf(on) == axisOf(e)
		case "taper":
			bad = e != job.EdgeNear && e != job.EdgeFar
		}
		if bad {
			c.say("wrong-edge", Stop, p.ID, f.At,
				fmt.Sprintf("%s: a %s on the %s cannot run along the %s", p.ID, f.Kind, on, e),
				"name an edge that bounds the face, or another face with `on:`")
		}
	}
	for _, w := range f.To {
		if f.Kind == "taper" && w.Length > p.Size[1].Length {
			c.say("leaves-part", Stop, p.ID, f.At,
				fmt.Sprintf("%s: the taper leaves %s of a width of %s", p.ID, c.len(w.Length), c.len(p.Size[1].Length)),
				"a taper only takes wood away: write widths up to the part's own")
			break
		}
	}
	if (f.Kind == "chamfer" || f.Kind == "round-over") && len(f.Edges) > 0 {
		reach := f.Width.Length
		if f.Kind == "round-over" {
			reach = f.Radius.Length
			if cu := c.shop.CutterByID(f.Cutter); cu != nil && !f.Radius.Set {
				reach = cu.Radius.Length
			}
		}
		if thick := sideOf(p, on).deep; reach >= thick {
			c.say("breaks-through", Stop, p.ID, f.At,
				fmt.Sprintf("%s: the %s reaches %s down an edge of %s", p.ID, f.Kind, c.len(reach), c.len(thick)),
				"take a smaller one")
		}
	}
}
