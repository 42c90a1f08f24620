package cutting

import (
	"fmt"
	"strings"

	"caul/job"
	"caul/job/layout"
	"caul/job/measure"
)

// checkCut judges a layout from the shop and the printed answer alone, as a
// maker with a rule would: it shares no code with the translation.
func checkCut(shop *job.Shop, c *Cut, o Options) error {
	stock := map[string]*job.Stock{}
	for i := range shop.Stock {
		stock[shop.Stock[i].ID] = &shop.Stock[i]
	}
	parts := map[string]*job.Part{}
	want := map[string]int{}
	for _, id := range c.Jobs {
		for _, j := range shop.Jobs {
			if j.ID != id {
				continue
			}
			n := max(1, j.Copies)
			if o.Copies > 0 {
				n = o.Copies
			}
			for i := range j.Parts {
				p := &j.Parts[i]
				parts[id+"/"+p.ID] = p
				want[id+"/"+p.ID] = p.Qty * n
			}
		}
	}
	for _, a := range c.Already {
		want[a.Job+"/"+a.Part] -= a.Qty
	}
	strips := map[string]int{}
	for _, p := range c.Panels {
		strips[p.Job+"/"+p.Part] = p.Strips
		part := parts[p.Job+"/"+p.Part]
		if measure.Length(p.Strips)*p.Strip < part.Size[1].Length {
			return fmt.Errorf("%d strips of %v do not make %v", p.Strips, p.Strip, part.Size[1].Length)
		}
		if p.Rough < p.Strip {
			return fmt.Errorf("strips are sawn %v and jointed to %v", p.Rough, p.Strip)
		}
		want[p.Job+"/"+p.Part] *= p.Strips
	}
	for _, u := range c.Unfit {
		n := u.Qty
		want[u.Job+"/"+u.Part] -= n
	}
	seen := map[string]bool{}
	group := map[string]int{}
	usedPiece := map[string]int{}
	got := map[string]int{}
	for i := range c.Sheets {
		s := &c.Sheets[i]
		st := stock[s.Stock]
		if st == nil {
			return fmt.Errorf("%s: no stock %q", s.Name, s.Stock)
		}
		if err := checkStock(s, st, usedPiece); err != nil {
			return err
		}
		for k, p := range s.Placed {
			key := p.Job + "/" + p.Part
			part := parts[key]
			ok := part != nil && part.From == s.Stock
			if part != nil {
				for _, a := range stock[part.From].Also {
					ok = ok || a == s.Stock
				}
			}
			if !ok {
				return fmt.Errorf("%s: %s does not come from %s", s.Name, key, s.Stock)
			}
			got[key]++
			id := fmt.Sprint(key, p.N, p.Strip)
			if seen[id] {
				return fmt.Errorf("%s number %d strip %d is there twice", key, p.N, p.Strip)
			}
			seen[id] = true
			if err := checkSize(s, stock[part.From], part, &p, strips[key], c, shop); err != nil {
				return fmt.Errorf("%s: %s: %w", s.Name, p.Name, err)
			}
			in := Rect{X: s.Trim, Y: s.Trim, L: s.Length - 2*s.Trim, W: s.Width - 2*s.Trim}
			if st.Form == "rod" {
				in.Y, in.W = 0, s.Width
			}
			if p.X < in.X || p.Y < in.Y || p.X+p.L > in.X+in.L || p.Y+p.W > in.Y+in.W {
				return fmt.Errorf("%s: %s lies outside", s.Name, p.Name)
			}
			for _, q := range s.Placed[:k] {
				if p.X < q.X+q.L+c.Kerf && q.X < p.X+p.L+c.Kerf && (st.Form == "rod" || p.Y < q.Y+q.W+c.Kerf && q.Y < p.Y+p.W+c.Kerf) {
					return fmt.Errorf("%s: %s and %s are closer than the kerf", s.Name, p.Name, q.Name)
				}
			}
			for _, d := range s.Defects {
				if p.X < d.X+d.L && d.X < p.X+p.L && p.Y < d.Y+d.W && d.Y < p.Y+p.W {
					return fmt.Errorf("%s: %s has a defect in it", s.Name, p.Name)
				}
			}
			if part.SameSheet != "" {
				copy := (p.N - 1) / max(1, part.Qty)
				g := fmt.Sprint(p.Job, "/", part.SameSheet, "/", copy, "/", part.From)
				if at, ok := group[g]; ok && at != i {
					return fmt.Errorf("group %s is on %s and on %s", g, c.Sheets[at].Name, s.Name)
				}
				group[g] = i
			}
		}
	}
	for key, n := range want {
		if got[key] != n {
			return fmt.Errorf("%s: %d laid out, %d wanted", key, got[key], n)
		}
	}
	return replay(c)
}

func checkStock(s *Sheet, st *job.Stock, used map[string]int) error {
	if s.Piece == "" {
		if s.Length != st.Size[0].Length || s.Width != st.Size[1].Length {
			return fmt.Errorf("%s: %s cannot be bought %v x %v", s.Name, s.Stock, s.Length, s.Width)
		}
		if s.Trim != st.Trim.Length {
			return fmt.Errorf("%s: trim %v", s.Name, s.Trim)
		}
		return nil
	}
	for _, p := range st.OnHand {
		if p.ID != s.Piece {
			continue
		}
		used[s.Stock+"/"+p.ID]++
		if used[s.Stock+"/"+p.ID] > p.Qty {
			return fmt.Errorf("%s: more than %d used", s.Name, p.Qty)
		}
		if s.Length != p.Size[0].Length || st.Form != "rod" && s.Width != p.Size[1].Length {
			return fmt.Errorf("%s: on the shelf it is %v x %v", s.Name, p.Size[0].Length, p.Size[1].Length)
		}
		if len(s.Defects) != len(p.Defects) {
			return fmt.Errorf("%s: defects", s.Name)
		}
		return nil
	}
	return fmt.Errorf("%s: no such piece", s.Name)
}

func checkSize(s *Sheet, st *job.Stock, part *job.Part, p *Placed, strips int, c *Cut, shop *job.Shop) error {
	l, w := part.Size[0].Length+part.Oversize.Length, part.Size[1].Length+part.Oversize.Length
	mill := DefaultAllowance(shop.Units.Length.System)
	switch {
	case strips > 0:
		l = upToMark(l+mill.Length, shop)
		for _, q := range c.Panels {
			if q.Job == p.Job && q.Part == p.Part {
				w = q.Rough
			}
		}
	case st.Form == "board" && !st.Surfaced:
		l, w = upToMark(l+mill.Length, shop), upToMark(w+mill.Width, shop)
	case st.Form == "rod":
		w = s.Width
	}
	if p.Turned {
		if s.Grain && !part.Turn {
			return fmt.Errorf("its grain runs the wrong way")
		}
		l, w = w, l
	}
	if p.L != l || p.W != w {
		return fmt.Errorf("is %v x %v, not %v x %v", p.L, p.W, l, w)
	}
	return nil
}

// upToMark is the next sixteenth of an inch, or millimetre, up.
func upToMark(l measure.Length, shop *job.Shop) measure.Length {
	mark := measure.Inch / 16
	if shop.Units.Length.System == measure.Metric {
		mark = measure.MM
	}
	if r := l % mark; r > 0 {
		return l - r + mark
	}
	return l
}

// checkSafe wants a word beside every cut that leaves a narrow strip or a short
// piece; the limits are the ones the package states, in inches.
func checkSafe(st *Step) error {
	const narrow, short = 3 * measure.Inch / 4, 4 * measure.Inch
	for _, o := range st.Out {
		small := st.Kind == Rip && o.W < narrow && o.W < 20*measure.MM || st.Kind == Crosscut && !st.Trim && o.L < short && o.L < 100*measure.MM
		if small && o.L > 0 && o.W > 0 && st.Caution == "" {
			return fmt.Errorf("cut %d leaves %s, %v x %v, and says no caution", st.N, o.Name, o.L, o.W)
		}
	}
	if st.Kind == Rip && st.Fence < 6*measure.Inch && st.Fence < 150*measure.MM && st.Caution == "" {
		return fmt.Errorf("cut %d at %v from the fence says no push stick", st.N, st.Fence)
	}
	return nil
}

// replay follows the printed order with a fence and a stop: every cut finds
// its piece, the pieces that fall have the sizes said, and in the end the parts
// lie there.
func replay(c *Cut) error {
	type lump struct{ l, w measure.Length }
	have := map[string]lump{}
	word := func(s *Sheet) string {
		if s.Form == "rod" {
			return "length"
		}
		return s.Form
	}
	parts := map[string]lump{}
	for i := range c.Sheets {
		s := &c.Sheets[i]
		have[fmt.Sprintf("%s %d", word(s), i+1)] = lump{s.Length, s.Width}
		for _, p := range s.Placed {
			if _, ok := parts[p.Name]; ok {
				return fmt.Errorf("two parts are called %q", p.Name)
			}
			parts[p.Name] = lump{p.L, p.W}
		}
		if len(s.Cuts) == 0 && len(s.Placed) == 1 {
			delete(parts, s.Placed[0].Name) // used whole
		}
	}
	settings := 0
	for i, st := range c.Order {
		if st.N != i+1 {
			return fmt.Errorf("cut %d is called %d", i+1, st.N)
		}
		b, ok := have[strings.TrimPrefix(st.Piece, "rest of ")]
		if !ok {
			return fmt.Errorf("cut %d: there is no %q", st.N, st.Piece)
		}
		delete(have, strings.TrimPrefix(st.Piece, "rest of "))
		same := i > 0 && c.Order[i-1].Kind == st.Kind && c.Order[i-1].Fence == st.Fence
		if same != st.SameAs {
			return fmt.Errorf("cut %d: same fence %v", st.N, st.SameAs)
		}
		if !same {
			settings++
		}
		if err := checkSafe(&st); err != nil {
			return err
		}
		near, far := b, b
		rest := measure.Length(0)
		if st.Kind == Rip {
			near.w, far.w = st.Fence, b.w-st.Fence-c.Kerf
			rest = far.w
		} else {
			near.l, far.l = st.Fence, b.l-st.Fence-c.Kerf
			rest = far.l
		}
		if rest <= -c.Kerf {
			return fmt.Errorf("cut %d: fence at %v, and %s is %v x %v", st.N, st.Fence, st.Piece, b.l, b.w)
		}
		if st.Trim {
			if o := st.Out[0]; o.What == "part" {
				if parts[o.Name] != near {
					return fmt.Errorf("cut %d: trimmed to %v, wanted %v", st.N, near, parts[o.Name])
				}
				delete(parts, o.Name)
			}
			have[strings.TrimPrefix(st.Piece, "rest of ")] = near
			continue
		}
		outs := []lump{near}
		if rest > 0 {
			outs = append(outs, far)
		}
		if len(outs) != len(st.Out) {
			return fmt.Errorf("cut %d: %d pieces said, %d fall", st.N, len(st.Out), len(outs))
		}
		for k, o := range st.Out {
			if o.L != outs[k].l || o.W != outs[k].w {
				return fmt.Errorf("cut %d: %s is said to be %v x %v, is %v x %v", st.N, o.Name, o.L, o.W, outs[k].l, outs[k].w)
			}
			switch o.What {
			case "part":
				if parts[o.Name] != outs[k] {
					return fmt.Errorf("cut %d: %s is %v, wanted %v", st.N, o.Name, outs[k], parts[o.Name])
				}
				delete(parts, o.Name)
			case "strip", "rest":
				name := strings.TrimPrefix(o.Name, "rest of ")
				if _, ok := have[name]; ok {
					return fmt.Errorf("cut %d: two pieces are called %q", st.N, name)
				}
				have[name] = outs[k]
				if n := c.Order[o.Next-1]; strings.TrimPrefix(n.Piece, "rest of ") != name || o.Next <= st.N {
					return fmt.Errorf("cut %d: %s goes to cut %d, which takes %s", st.N, o.Name, o.Next, n.Piece)
				}
			}
		}
	}
	if len(parts) > 0 {
		return fmt.Errorf("parts never cut: %v", parts)
	}
	if settings != c.Settings {
		return fmt.Errorf("%d settings said, %d counted", c.Settings, settings)
	}
	for i := range c.Results {
		if err := layout.Check(c.Results[i].Problem, c.Results[i].Result); err != nil {
			return err
		}
	}
	return nil
}
