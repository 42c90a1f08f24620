package proof

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"caul/job"
	"caul/job/measure"
	"caul/job/wood"
)

// Smallest pieces that are safe to machine, common practice, no source; the
// machine's manual comes first.
var (
	leastRouted = [2]measure.Length{6 * measure.Inch, 2 * measure.Inch} // length, width, on a router table
	leastPlaned = 12 * measure.Inch                                     // length, through a planer or over a jointer
)

// smallPart looks for parts too small for the machine that works on them.
func (c *checker) smallPart(p *job.Part) {
	c.proof.Checked++
	if p.Held != "" {
		return // the maker has thought of it
	}
	long, wide := max(p.Size[0].Length, p.Size[1].Length), min(p.Size[0].Length, p.Size[1].Length)
	for i := range p.Machining {
		f := &p.Machining[i]
		kind := machineFor(c.shop, f, f.Cutter)
		if m := c.shop.MachineByID(kind); m != nil {
			kind = m.Kind
		}
		router := kind == "router-table"
		if router && (long < leastRouted[0] || wide < leastRouted[1] && long < leastPlaned) {
			c.say("small-part", Stop, p.ID, f.At,
				fmt.Sprintf("%s: %s by %s is too small to hold by hand at the router", p.ID, c.len(p.Size[0].Length), c.len(p.Size[1].Length)),
				"cut it in a longer piece and part it off afterwards, or hold it in a jig, and say so: `held: in a jig`")
			return
		}
	}
	for i := range c.job.Steps {
		st := &c.job.Steps[i]
		m := c.shop.MachineByID(st.Machine)
		if m == nil || m.Kind != "planer" && m.Kind != "jointer" || !slices.Contains(st.Uses, p.ID) || long >= leastPlaned {
			continue
		}
		c.say("small-part", Stop, p.ID, p.At,
			fmt.Sprintf("%s: %s long is too short for the %s (%s)", p.ID, c.len(long), cmp.Or(m.Name, m.ID), st.ID),
			fmt.Sprintf("mill it in a piece of %s or more and cut it to length afterwards (`held: in a longer piece`); see the machine's manual", c.len(leastPlaned)))
		return
	}
}

// stock looks whether a part can come from its stock at all.
func (c *checker) stock(p *job.Part) {
	c.proof.Checked++
	st := c.shop.StockByID(p.From)
	if st == nil {
		return
	}
	c.noStock(p, st)
	if st.Form == "rod" {
		return
	}
	have := st.Size[2].Length
	if st.Thick.Set {
		have = st.Thick.Length
	}
	for _, pc := range st.OnHand {
		if pc.Size[2].Set {
			have = max(have, pc.Size[2].Length)
		}
	}
	if have == 0 {
		return
	}
	give, why := have, ""
	if st.Form == "board" && !st.Surfaced {
		// Dressing takes 3/16 in up to 6/4 and 1/4 in from 7/4: rough against
		// surfaced two sides in the NHLA thickness table.
		loss := 3 * measure.Inch / 16
		if have >= 7*measure.Inch/4 {
			loss = measure.Inch / 4
		}
		give, why = have-loss, fmt.Sprintf(" once dressed from %s", c.len(have))
	}
	if t := p.Size[2].Length; t > give {
		mend := "take thicker stock, or glue it up from layers"
		if t <= have {
			mend += fmt.Sprintf("; if it is bought planed to %s, write `surfaced: true` with it in stock.yaml", c.len(have))
		}
		c.say("stock-too-thin", Stop, p.ID, p.At,
			fmt.Sprintf("%s is %s thick and %s gives %s%s", p.ID, c.len(t), st.ID, c.len(give), why),
			mend)
	}
}

// noStock finds a part that no piece of its stock is large enough for, neither
// one on hand nor one as bought. Saw cuts and defects are left to the layout.
func (c *checker) noStock(p *job.Part, st *job.Stock) {
	c.proof.Checked++
	l, w := p.Size[0].Length+p.Oversize.Length, p.Size[1].Length+p.Oversize.Length
	turn := p.Turn || st.Form != "board" && !st.Grain
	rod := st.Form == "rod"
	var largest [2]measure.Length
	sized, whole := false, ""
	kinds := []*job.Stock{st}
	for _, id := range st.Also {
		if o := c.shop.StockByID(id); o != nil {
			kinds = append(kinds, o)
		}
	}
	fits := func(x, y measure.Length) bool {
		sized = sized || x > 0
		if x > largest[0] || x == largest[0] && y > largest[1] {
			largest = [2]measure.Length{x, y}
		}
		return x >= l && (rod || y == 0 || y >= w) || turn && !rod && x >= w && (y == 0 || y >= l)
	}
	for _, k := range kinds {
		trim := 2 * k.Trim.Length
		if k.Size[0].Set && fits(k.Size[0].Length-trim, max(k.Size[1].Length-trim, 0)) {
			return
		}
		for _, pc := range k.OnHand {
			trim := trim
			if pc.Offcut {
				trim = 0 // its edges are sawn
			}
			if pc.Qty != 0 && fits(pc.Size[0].Length-trim, max(pc.Size[1].Length-trim, 0)) {
				return
			}
			if trim > 0 && pc.Qty != 0 {
				was := largest
				if fits(pc.Size[0].Length, pc.Size[1].Length) {
					whole = fmt.Sprintf("; or, where the edges of %s on hand are sawn already, write `offcut: true` with it", cmp.Or(pc.ID, "the piece"))
				}
				largest = was
			}
		}
	}
	size := func(x, y measure.Length) string {
		if rod || y == 0 {
			return c.len(x)
		}
		return c.len(x) + " x " + c.len(y)
	}
	if !sized {
		c.say("no-stock", Look, p.ID, p.At,
			fmt.Sprintf("%s wants %s of %s, and stock.yaml gives neither a size of it nor a piece on hand", p.ID, size(l, w), st.ID),
			"write `size:` for what is bought, or list what is there under `on-hand:`")
		return
	}
	c.say("no-stock", Stop, p.ID, p.At,
		fmt.Sprintf("%s wants %s of %s, and the largest piece of it is %s", p.ID, size(l, w), st.ID, size(largest[0], largest[1])),
		"take larger stock, or join the part from pieces"+whole)
}

// fits adds up parts side by side against what they fill.
func (c *checker) fits() {
	for i := range c.job.Assembly {
		a := &c.job.Assembly[i]
		c.proof.Checked++
		var sum, over measure.Length
		var words []string
		for _, fp := range a.Parts {
			l, name := fp.Dim.Length, c.len(fp.Dim.Length)
			if p := c.job.Part(fp.Part); p != nil {
				switch fp.Axis {
				case "width":
					l = p.Size[1].Length
				case "thick", "thickness":
					l = p.Size[2].Length
				default:
					l = p.Size[0].Length
				}
				if fp.Axis != "thick" && fp.Axis != "thickness" {
					over += p.Oversize.Length * measure.Length(max(fp.Qty, 1))
				}
				name = fmt.Sprintf("%s %s", p.ID, c.len(l))
			}
			n := max(fp.Qty, 1)
			if n > 1 {
				name = fmt.Sprintf("%d x %s", n, name)
			}
			words = append(words, name)
			sum += l * measure.Length(n)
		}
		gap := a.Fills.Length - sum
		if gap >= 0 && gap <= a.Slack.Length {
			continue
		}
		how := fmt.Sprintf("%s short", c.len(gap))
		if gap < 0 {
			how = fmt.Sprintf("%s too much", c.len(-gap))
		} else if a.Slack.Length > 0 {
			how = fmt.Sprintf("a gap of %s where %s is allowed", c.len(gap), c.len(a.Slack.Length))
		}
		mend := "change a part, or what they fill"
		if over > 0 {
			mend += fmt.Sprintf("; %s of oversize is trimmed off before it counts", c.len(over))
		}
		c.say("fits-across", Stop, "", a.At,
			fmt.Sprintf("%s: %s make %s of %s: %s", a.ID, strings.Join(words, " + "), c.len(sum), c.len(a.Fills.Length), how), mend)
	}
}

// solid tells a part of solid wood, which moves across its grain.
func (c *checker) solid(p *job.Part) (*wood.Species, bool) {
	st := c.shop.StockByID(p.From)
	if st == nil {
		return nil, false
	}
	if p.Solid != nil && !*p.Solid || p.Solid == nil && st.Form != "board" {
		return nil, false
	}
	return wood.Find(cmp.Or(st.Species, c.job.Species))
}

// grain looks at solid parts held across their grain by glue, or by screws in
// holes with little play, to parts that do not move with them.
func (c *checker) grain() {
	if len(c.shop.Air.Season) < 2 {
		return
	}
	dry, damp := c.seasons()
	judge := func(id, how, mend string, joins []string, at job.Pos, play measure.Length) {
		still := ""
		for _, x := range joins {
			if p := c.job.Part(x); p != nil {
				if _, solid := c.solid(p); !solid {
					still = x
				}
			}
		}
		for _, x := range joins {
			p := c.job.Part(x)
			if p == nil || still == "" {
				continue
			}
			sp, ok := c.solid(p)
			if !ok {
				continue
			}
			c.proof.Checked++
			text, _, err := sp.CrossGrain(p.Size[1].Length, wood.Flat, dry, damp, play, c.u)
			if err != nil || text == "" {
				continue
			}
			c.say("grain-across", Look, p.ID, at,
				fmt.Sprintf("%s is %s to %s, which does not move with it (%s): %s", p.ID, how, still, id, text),
				mend)
		}
	}
	for i := range c.job.GlueUps {
		g := &c.job.GlueUps[i]
		judge(g.ID, "glued", "glue it in the middle or at one edge only, and let the rest slide", g.Joins, g.At, glueGives)
		c.crossed(g, dry, damp)
	}
	for i := range c.job.Hardware {
		h := &c.job.Hardware[i]
		if sc, ok := screwOf(h.Item, c.u.System); ok {
			judge(h.Item, "screwed", "one screw tight, in the middle or at one edge; slot the other holes across the grain", h.Joins, h.At, c.play(h, sc))
		}
	}
}

// crossed finds solid wood glued grain across grain where the glue-up says
// which faces meet. The end of one along the edge of the other, as a breadboard
// end, or along the length of its face: the first moves across its width; the
// other, along its length, does not. The edge of one across the face of the
// other, as a rib or a cleat: the face moves, and the rib does not. A shelf's
// end across a side moves with it. That wood moves across the grain and hardly
// along it is the Wood Handbook's (chapter 4); which joints that troubles is
// common practice, no source.
func (c *checker) crossed(g *job.GlueUp, dry, damp wood.Season) {
	face := func(text string) (*job.Part, job.Face) {
		id, f, _ := strings.Cut(text, " ")
		return c.job.Part(id), job.Face(f)
	}
	for i := 0; i+1 < len(g.Faces); i += 2 {
		a, fa := face(g.Faces[i])
		b, fb := face(g.Faces[i+1])
		if axisOf(fa) > axisOf(fb) {
			a, fa, b, fb = b, fb, a, fa // end, edge, face: the one that stands on the other first
		}
		if a == nil || b == nil {
			continue
		}
		moves, still, long := a, b, measure.Length(0)
		switch x, y := axisOf(fa), axisOf(fb); {
		case x == 0 && y == 1:
			long = min(a.Size[1].Length, b.Size[0].Length)
		case x == 0 && y == 2 && c.runs(a, fa, b, fb) == "length":
			long = min(a.Size[1].Length, b.Size[0].Length)
		case x == 1 && y == 2 && c.runs(a, fa, b, fb) == "width":
			moves, still, long = b, a, min(a.Size[0].Length, b.Size[1].Length)
		default:
			continue
		}
		sp, ok := c.solid(moves)
		if _, both := c.solid(still); !ok || !both {
			continue // a still one is told of already
		}
		c.proof.Checked++
		text, _, err := sp.CrossGrain(long, wood.Flat, dry, damp, glueGives, c.u)
		if err != nil || text == "" {
			continue
		}
		name, of := strings.ReplaceAll(string(fa), "-", " "), b.ID
		mend := "glue it in the middle only, and let the rest slide on a tongue or in slots"
		if axisOf(fb) == 2 {
			of = "the face of " + b.ID
			mend = "glue it in the middle only, and let the rest slide in a dado or under slotted screws"
		}
		said := fmt.Sprintf("the %s of %s is glued across the grain of %s (%s): %s", name, a.ID, of, g.ID, text)
		if axisOf(fa) == 0 && axisOf(fb) == 2 {
			said = fmt.Sprintf("the %s of %s is glued along the grain of %s, and its own grain stands across (%s): %s", name, a.ID, of, g.ID, text)
		}
		c.say("grain-across", Look, moves.ID, g.At, said, mend)
	}
}

// runs tells which way a part that stands with an edge or an end on the face of
// another runs there: along its length or its width, or "" where nothing says
// so. A groove or dado as wide as the part is thick shows it; else the part is
// as long as the face is one way and not the other, or too long to lie across.
func (c *checker) runs(a *job.Part, fa job.Face, b *job.Part, fb job.Face) string {
	way := ""
	for i := range b.Machining {
		f := &b.Machining[i]
		if f.Kind != "groove" && f.Kind != "dado" || faceFor(f) != cmp.Or(fb, job.FaceTop) || cutWidth(c.shop, f) != a.Size[2].Length {
			continue
		}
		if w := cmp.Or(f.Along, "length"); way == "" {
			way = w
		} else if way != w {
			return ""
		}
	}
	if way != "" {
		return way
	}
	long := a.Size[0].Length
	if axisOf(fa) == 0 {
		long = a.Size[1].Length
	}
	switch x, y := b.Size[0].Length, b.Size[1].Length; {
	case x == y:
	case long == y:
		return "width"
	case long == x, long > y:
		return "length"
	}
	return ""
}

// glueGives is the movement that a glue line across the grain stands: a
// thirty-second of an inch, common practice, no source.
const glueGives = measure.Inch / 32

// play is how far a screw can lean in its clearance holes; never less than a
// glue line gives.
func (c *checker) play(h *job.Hardware, sc screw) measure.Length {
	least := measure.Length(-1)
	for i := range c.job.Parts {
		for k := range c.job.Parts[i].Machining {
			f := &c.job.Parts[i].Machining[k]
			if f.Screw == h.Item && !f.Pilot {
				w := cutWidth(c.shop, f)
				if f.Kind == "slot" && len(f.Points) == 2 {
					w += (f.Points[1].X.Length - f.Points[0].X.Length).Abs() + (f.Points[1].Y.Length - f.Points[0].Y.Length).Abs()
				}
				if p := w - sc.Shank; least < 0 || p < least {
					least = p
				}
			}
		}
	}
	return max(least, glueGives)
}

// seasons are the driest and the dampest air the jig will live in.
func (c *checker) seasons() (dry, damp wood.Season) {
	first := true
	var low, high float64
	for _, s := range c.shop.Air.Season {
		ws := wood.Season{Temp: s.Temp, Humidity: float64(s.Humidity)}
		m, err := wood.EMC(s.Temp, float64(s.Humidity))
		if err != nil {
			continue
		}
		if first || m < low {
			low, dry = m, ws
		}
		if first || m > high {
			high, damp = m, ws
		}
		first = false
	}
	return dry, damp
}
