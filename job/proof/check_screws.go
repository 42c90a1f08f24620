package proof

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
	"caul/job/wood"
)

// screw is a wood screw with its length, as an item is called: screw-8x1-1/4,
// or in millimetres screw-4x30.
type screw struct {
	machine.WoodScrew
	Length measure.Length
}

// Metric wood screws, common practice, no source: the shank is as thick as the
// screw is called and the root of its thread seven tenths of that.
const metricRoot = 7

// millimetres reads a screw called by its thickness and length in millimetres.
var millimetres = regexp.MustCompile(`^(\d+(?:\.\d+)?) ?(?:mm)? ?[x×] ?(\d+(?:\.\d+)?) ?(?:mm)?$`)

// screwOf reads a screw's item. Two plain numbers are millimetres in a metric
// shop; in an inch shop they are where a number and inches make no screw: 4x30,
// 3.5x35.
func screwOf(item string, sys measure.System) (screw, bool) {
	rest, ok := strings.CutPrefix(item, "screw-")
	if !ok {
		return screw{}, false
	}
	l, err := machine.ParseScrewLabel(rest)
	if m := millimetres.FindStringSubmatch(rest); m != nil {
		if sys == measure.Metric || err != nil || l.Length > 6*measure.Inch && !strings.Contains(rest, "mm") {
			d, e1 := measure.ParseLength(m[1], measure.Metric)
			long, e2 := measure.ParseLength(m[2], measure.Metric)
			if e1 != nil || e2 != nil || d <= 0 || d > 12*measure.MM || long <= d {
				if err != nil {
					return screw{}, false
				}
				w, ok := machine.Screw(l.Number) // 8x1 is a number 8, an inch long, in any shop
				return screw{w, l.Length}, ok
			}
			return screw{machine.WoodScrew{Shank: d, Root: d * metricRoot / 10}, long}, true
		}
	}
	if err != nil {
		return screw{}, false
	}
	w, ok := machine.Screw(l.Number)
	return screw{w, l.Length}, ok
}

// boltOf gives the machine thread of an item: bolt-1/4-20x2, t-bolt-1/4-20,
// bolt-m6x40.
func boltOf(item string) (machine.Thread, bool) {
	i := strings.Index(item, "bolt-")
	if i < 0 {
		return machine.Thread{}, false
	}
	name, _, _ := strings.Cut(item[i+len("bolt-"):], "x")
	if t, ok := machine.FindThread(name); ok {
		return t, true
	}
	return machine.FindThread(strings.ToUpper(name))
}

// Fits of a screw in its holes, common practice, no source: a clearance hole
// from the shank's own size to a sixteenth over it, a pilot from the size that
// the NDS rule gives to the root, a little head room in a counterbore.
const (
	clearMost = measure.Inch / 16
	pilotOver = measure.Inch / 64
)

// screws looks at every hole that names its screw.
func (c *checker) screws(p *job.Part) {
	for i := range p.Machining {
		f := &p.Machining[i]
		if f.Kind != "hole" && f.Kind != "slot" || f.Screw == "" {
			continue
		}
		c.proof.Checked++
		if t, ok := boltOf(f.Screw); ok {
			c.bolt(p, f, t)
			for _, b := range mouths(f) {
				c.boltHead(p, f, b, t)
			}
			continue
		}
		sc, ok := screwOf(f.Screw, c.u.System)
		if !ok {
			if strings.HasPrefix(f.Screw, "screw-") {
				c.say("hole-for-screw", Look, p.ID, f.At,
					fmt.Sprintf("%s: the size of %s cannot be read, so its holes are not checked", p.ID, f.Screw),
					"call it by its number and length, as screw-8x1-1/4, or in millimetres, as screw-4x30")
			}
			continue
		}
		w := cutWidth(c.shop, f)
		if f.Pilot {
			c.pilot(p, f, sc, w)
		} else {
			c.clearance(p, f, sc, w)
		}
		for _, b := range mouths(f) {
			c.head(p, f, b, sc)
		}
		c.point(p, f, sc)
	}
}

func (c *checker) gravityOf(p *job.Part) float64 {
	st := c.shop.StockByID(p.From)
	if st == nil {
		return 0
	}
	if s, ok := wood.Find(st.Species); ok {
		return s.Gravity
	}
	return 0
}

func (c *checker) pilot(p *job.Part, f *job.Feature, sc screw, w measure.Length) {
	g := c.gravityOf(p)
	if g == 0 {
		g = 0.55 // between soft and hard: the middle row of the rule
	}
	h, err := sc.Holes(g)
	if err != nil || sc.Root == 0 {
		return
	}
	switch {
	case w > sc.Root:
		c.say("hole-for-screw", Look, p.ID, f.At,
			fmt.Sprintf("%s: the pilot for %s is %s and the screw's root %s: the thread finds little wood", p.ID, f.Screw, c.len(w), c.near(sc.Root)),
			fmt.Sprintf("drill %s or less (%s)", machine.NearestDrill(sc.Root, c.u).Name, h.Source.Ref))
	case h.Pilot > 0 && w < h.Pilot-pilotOver:
		c.say("hole-for-screw", Look, p.ID, f.At,
			fmt.Sprintf("%s: the pilot for %s is %s; in this wood it wants %s, or it may split", p.ID, f.Screw, c.len(w), c.near(h.Pilot)),
			fmt.Sprintf("drill %s (%s)", machine.NearestClearance(h.Pilot, c.u).Name, h.Source.Ref))
	}
}

// near writes a size that no rule has on the shop's finest mark.
func (c *checker) near(l measure.Length) string {
	return "about " + measure.FormatUnit(l.Round(c.u), c.u)
}

func (c *checker) clearance(p *job.Part, f *job.Feature, sc screw, w measure.Length) {
	switch {
	case w < sc.Shank:
		c.say("hole-for-screw", Look, p.ID, f.At,
			fmt.Sprintf("%s: the hole for %s is %s and the screw's shank %s: it grips here and holds the joint apart", p.ID, f.Screw, c.len(w), c.near(sc.Shank)),
			fmt.Sprintf("drill %s, or write `pilot: true` if the thread is to hold here", machine.NearestClearance(sc.Shank, c.u).Name))
	case w > sc.Shank+clearMost && f.Kind == "hole":
		c.say("hole-for-screw", Look, p.ID, f.At,
			fmt.Sprintf("%s: the hole for %s is %s and the screw's shank %s", p.ID, f.Screw, c.len(w), c.near(sc.Shank)),
			fmt.Sprintf("drill %s", machine.NearestClearance(sc.Shank, c.u).Name))
	}
}

func (c *checker) bolt(p *job.Part, f *job.Feature, t machine.Thread) {
	if w := cutWidth(c.shop, f); w > 0 && w < t.Major {
		c.say("hole-for-screw", Look, p.ID, f.At,
			fmt.Sprintf("%s: the hole for %s is %s and the bolt %s", p.ID, f.Screw, c.len(w), c.len(t.Major)),
			fmt.Sprintf("drill %s", c.near(t.Normal)))
	}
}

func (c *checker) head(p *job.Part, f *job.Feature, b mouth, sc screw) {
	w, head := boreWidth(c.shop, f, b), sc.HeadDiameter()
	if w < head {
		c.say("counterbore-head", Stop, p.ID, b.At,
			fmt.Sprintf("%s: the %s for %s is %s and the screw's head %s", p.ID, b.what, f.Screw, c.len(w), c.near(head)),
			"make it as wide as the head or wider")
		return
	}
	// A flat head is as high as its cone takes to open from the shank.
	high := measure.FromInches((head - sc.Shank).Inches() * slope(c.shop, mouth{b.Bore, "countersink"}))
	if b.Depth.Set && b.what == "counterbore" && b.Depth.Length < high {
		c.say("counterbore-head", Stop, p.ID, b.At,
			fmt.Sprintf("%s: the counterbore for %s is %s deep and the screw's head %s high: it stands out", p.ID, f.Screw, c.len(b.Depth.Length), c.near(high)),
			"bore it deeper than the head is high")
	}
}

// sunk is how far below its face a flat head comes to sit in a countersink
// that is wider than the head; none where it is not known.
func (c *checker) sunk(f *job.Feature, b mouth, sc screw) measure.Length {
	wide := boreWidth(c.shop, f, b)
	if deep := b.Depth.Length; b.Depth.Set {
		// the mouth that a cone set this deep makes
		if k := slope(c.shop, b); k > 0 {
			wide = cutWidth(c.shop, f) + measure.FromInches(deep.Inches()/k)
		}
	}
	return max(measure.FromInches((wide-sc.HeadDiameter()).Inches()*slope(c.shop, b)), 0)
}

// boltHead holds a bolt's counterbore against the smallest head that a bolt
// has, a socket head of one and a half times its thread (common practice, no
// source; hexagon heads and washers want more).
func (c *checker) boltHead(p *job.Part, f *job.Feature, b mouth, t machine.Thread) {
	if w, head := boreWidth(c.shop, f, b), t.Major*3/2; b.what == "counterbore" && w < head {
		c.say("counterbore-head", Stop, p.ID, b.At,
			fmt.Sprintf("%s: the counterbore for %s is %s and the smallest head it has, a socket head, %s", p.ID, f.Screw, c.len(w), c.near(head)),
			"make it as wide as the head, or as its washer, or wider")
	}
}

// seat is the wood a screw passes before its point is in the part it mates
// with: of the part with the clearance hole, what its counterbore leaves, and
// less what its head is sunk below the face.
func (c *checker) seat(p *job.Part, f *job.Feature, sc screw) measure.Length {
	deep := sideOf(p, faceFor(f)).deep
	for _, b := range mouths(f) {
		if b.what == "counterbore" {
			deep -= b.Depth.Length
		} else {
			deep -= c.sunk(f, b, sc)
		}
	}
	return deep
}

// point follows a screw through its own part into the one it mates with.
func (c *checker) point(p *job.Part, f *job.Feature, sc screw) {
	if f.Pilot || !f.Through {
		return
	}
	other, mate := c.mateOf(f)
	if other == nil {
		return
	}
	seat := c.seat(p, f, sc)
	in := sc.Length - seat
	wood := sideOf(other, faceFor(mate)).deep
	if len(mate.Points) == 0 && !mate.Through {
		wood -= mate.Depth.Length // it sits in a groove or a rabbet
	}
	switch {
	case in >= wood:
		c.say("point-through-face", Stop, p.ID, f.At,
			fmt.Sprintf("%s: %s goes %s deep into %s, which is %s there: the point comes out", p.ID, f.Screw, c.len(in), other.ID, c.len(wood)),
			fmt.Sprintf("take a screw of %s at most, or a shallower counterbore", c.len(seat+wood-c.wall(other))))
	case in > wood-c.wall(other):
		c.say("point-through-face", Look, p.ID, f.At,
			fmt.Sprintf("%s: %s goes %s deep into %s, which is %s there: only %s is left before its point, and a hole bored or sunk a little deeper lets it out", p.ID, f.Screw, c.near(in), other.ID, c.len(wood), c.near(wood-in)),
			fmt.Sprintf("take a screw of %s at most, or a shallower counterbore, so that %s stays (common practice, no source); `web:` of the part says what is enough", c.near(seat+wood-c.wall(other)), c.len(c.wall(other))))
	case in < sc.Length/3 || in <= 0:
		c.say("screw-grip", Look, p.ID, f.At,
			fmt.Sprintf("%s: of %s only %s is in %s; a third of the screw or more is usual (common practice, no source)", p.ID, f.Screw, c.len(max(in, 0)), other.ID),
			"take a longer screw, or a deeper counterbore")
	case mate.Pilot && !mate.Through && mate.Depth.Set && mate.Depth.Length < in:
		c.say("hole-for-screw", Look, other.ID, mate.At,
			fmt.Sprintf("%s: the pilot is %s deep and %s goes in %s", other.ID, c.len(mate.Depth.Length), f.Screw, c.len(in)),
			fmt.Sprintf("bore it %s deep", c.len(in)))
	}
}

// mateOf finds the part and feature that `mates: part/feature` names.
func (c *checker) mateOf(f *job.Feature) (*job.Part, *job.Feature) {
	id, feat, ok := strings.Cut(f.Mates, "/")
	if !ok {
		return nil, nil
	}
	p := c.job.Part(id)
	if p == nil {
		return nil, nil
	}
	for i := range p.Machining {
		if p.Machining[i].ID == feat {
			return p, &p.Machining[i]
		}
	}
	return nil, nil
}

// mates holds the points of two patterns against one another. They may be
// counted from any corner and run either way, so the distances are compared.
func (c *checker) mates(p *job.Part) {
	for i := range p.Machining {
		f := &p.Machining[i]
		other, m := c.mateOf(f)
		if other == nil {
			continue
		}
		c.proof.Checked++
		name := p.ID + "/" + orKind(f)
		if len(m.Points) == 0 {
			continue // a groove that the part sits in: there is nothing to line up
		}
		if len(f.Points) != len(m.Points) {
			c.say("mates-line-up", Stop, p.ID, f.At,
				fmt.Sprintf("%s has %d holes and %s has %d", name, len(f.Points), f.Mates, len(m.Points)),
				"give both the same number")
			continue
		}
		if d, ok := lineUp(f, m); !ok {
			c.say("mates-line-up", Stop, p.ID, f.At,
				fmt.Sprintf("%s and %s are %s out of line over their length", name, f.Mates, c.len(d)),
				"count both from the same edge with the same steps")
		} else if len(f.Points) > 1 {
			c.ends(p, other, f, m, name)
		}
	}
}

func orKind(f *job.Feature) string {
	if f.ID != "" {
		return f.ID
	}
	return f.Kind
}

// lineUp lays one pattern over the other in each of the eight ways that a flat
// pattern can be turned and turned over, and gives the least of the largest
// distances left along the length or across. Two flat patterns are compared in
// both directions, others along the one line that an edge and a face share.
func lineUp(f, m *job.Feature) (measure.Length, bool) {
	a, flatA := steps(f)
	b, flatB := steps(m)
	if !flatA || !flatB {
		a, b = alongLine(a), alongLine(b)
	}
	a = fromCorner(a)
	best := measure.Length(-1)
	for way := range 8 {
		t := make([][2]measure.Length, len(b))
		for i, q := range b {
			if way&1 != 0 {
				q[0] = -q[0]
			}
			if way&2 != 0 {
				q[1] = -q[1]
			}
			if way&4 != 0 {
				q[0], q[1] = q[1], q[0]
			}
			t[i] = q
		}
		worst := measure.Length(0)
		for i, q := range fromCorner(t) {
			worst = max(worst, (q[0] - a[i][0]).Abs(), (q[1] - a[i][1]).Abs())
		}
		if best < 0 || worst < best {
			best = worst
		}
	}
	return best, best <= 0
}

// fromCorner counts a pattern from its own lowest corner, in order.
func fromCorner(ps [][2]measure.Length) [][2]measure.Length {
	out := slices.Clone(ps)
	low := out[0]
	for _, q := range out {
		low[0], low[1] = min(low[0], q[0]), min(low[1], q[1])
	}
	for i := range out {
		out[i][0] -= low[0]
		out[i][1] -= low[1]
	}
	slices.SortFunc(out, func(x, y [2]measure.Length) int {
		return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1]))
	})
	return out
}

// ends holds two patterns that line up against the ends of their parts: where
// the parts are as long as one another along the pattern they are most often
// flush, and the first hole of one stands as far from an end as that of the
// other.
func (c *checker) ends(p, other *job.Part, f, m *job.Feature, name string) {
	fl, fh, flong := reach(p, f)
	ml, mh, mlong := reach(other, m)
	if flong != mlong || fl == ml && fh == mh || fl == mh && fh == ml {
		return
	}
	c.say("mates-line-up", Look, p.ID, f.At,
		fmt.Sprintf("%s begins %s from the end of %s and %s %s from the end of %s; both parts are %s there", name, c.len(fl), p.ID, f.Mates, c.len(ml), other.ID, c.len(flong)),
		"count both from the same end; leave it when the parts are not flush")
}

// reach is how far the first and the last hole of a pattern stand from the two
// ends of their part, along the pattern's longer direction, and how long the
// part is there.
func reach(p *job.Part, f *job.Feature) (low, high, long measure.Length) {
	var lo, hi [2]measure.Length
	for i, q := range f.Points {
		at := [2]measure.Length{q.X.Length, q.Y.Length}
		for k := range at {
			if i == 0 || at[k] < lo[k] {
				lo[k] = at[k]
			}
			if i == 0 || at[k] > hi[k] {
				hi[k] = at[k]
			}
		}
	}
	sd := sideOf(p, faceFor(f))
	if hi[1]-lo[1] > hi[0]-lo[0] {
		return lo[1], sd.v - hi[1], sd.v
	}
	return lo[0], sd.u - hi[0], sd.u
}

// steps are the points of a pattern, and whether it lies on a face.
func steps(f *job.Feature) ([][2]measure.Length, bool) {
	out := make([][2]measure.Length, len(f.Points))
	for i, p := range f.Points {
		out[i] = [2]measure.Length{p.X.Length, p.Y.Length}
	}
	return out, axisOf(faceFor(f)) == 2
}

// alongLine keeps the direction in which a pattern is longer, since an edge
// has holes in one line only.
func alongLine(ps [][2]measure.Length) [][2]measure.Length {
	var lo, hi [2]measure.Length
	for i, p := range ps {
		for k := range p {
			if i == 0 || p[k] < lo[k] {
				lo[k] = p[k]
			}
			if i == 0 || p[k] > hi[k] {
				hi[k] = p[k]
			}
		}
	}
	k := 0
	if hi[1]-lo[1] > hi[0]-lo[0] {
		k = 1
	}
	out := make([][2]measure.Length, len(ps))
	for i, p := range ps {
		out[i][0] = p[k]
	}
	return out
}
