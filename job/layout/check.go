package layout

import "fmt"

// Check verifies a layout from the statement of the problem alone: every part
// is there once or listed as unplaced, lies inside the trim and clear of
// defects, in its grain direction, from a stock it may come from; parts are a
// kerf apart; every cut runs straight through; groups stay together; no more
// stock is used than there is; and the figures of the levels are those of the
// sheets. It shares no code with the search. It cannot verify a bound, only
// that no level claims more than its bound allows.
func Check(p *Problem, r *Result) error {
	if err := p.Validate(); err != nil {
		return err
	}
	if r == nil {
		return fmt.Errorf("no layout given")
	}
	c := checker{p: p, left: make([]int, len(p.Parts)), home: map[string]int{}, settings: map[[2]int64]bool{}}
	for i := range p.Parts {
		c.left[i] = p.Parts[i].Qty
	}
	used := make([]int, len(p.Stocks))
	for i := range r.Sheets {
		s := &r.Sheets[i]
		if s.Stock < 0 || s.Stock >= len(p.Stocks) {
			return fmt.Errorf("sheet %d: stock %d does not exist", i, s.Stock)
		}
		used[s.Stock]++
		if err := c.sheet(i, s); err != nil {
			return fmt.Errorf("sheet %d: %w", i, err)
		}
	}
	for i, s := range p.Stocks {
		if s.Qty >= 0 && used[i] > s.Qty {
			return fmt.Errorf("stock %d: %d used of %d", i, used[i], s.Qty)
		}
	}
	for _, u := range r.Unplaced {
		if u.Part < 0 || u.Part >= len(p.Parts) || u.Qty <= 0 || u.Reason == 0 {
			return fmt.Errorf("unplaced part %d: %d copies, reason %d", u.Part, u.Qty, u.Reason)
		}
		c.left[u.Part] -= u.Qty
		if g := p.Parts[u.Part].Group; g != "" {
			if _, ok := c.home[g]; ok {
				return fmt.Errorf("group %q is placed only in part", g)
			}
		}
	}
	for i, n := range c.left {
		if n != 0 {
			return fmt.Errorf("part %d: %d copies neither placed nor listed, of %d", i, n, p.Parts[i].Qty)
		}
	}
	return c.levels(r, used)
}

type checker struct {
	p        *Problem
	left     []int
	home     map[string]int
	settings map[[2]int64]bool
	cuts     int
	stages   int
	offcut   int64

	// of the sheet in hand
	stock  *Stock
	index  int
	leaves []Placed
	rests  []Rect
	root   Rect
}

func (c *checker) sheet(i int, s *Sheet) error {
	c.index, c.stock = s.Stock, &c.p.Stocks[s.Stock]
	c.leaves, c.rests = nil, nil
	t := c.stock.Trim
	c.root = Rect{X: t.Left, Y: t.Near, W: c.stock.X - t.Left - t.Right, H: c.stock.Y - t.Near - t.Far}
	if s.Root == nil {
		return fmt.Errorf("no cuts given")
	}
	if s.Root.Rect != c.root {
		return fmt.Errorf("cuts start from %v, not from %v", s.Root.Rect, c.root)
	}
	if err := c.piece(s.Root, None, 0); err != nil {
		return err
	}
	if len(c.leaves) == 0 {
		return fmt.Errorf("no part on it")
	}
	if len(s.Placed) != len(c.leaves) {
		return fmt.Errorf("%d parts listed, %d cut", len(s.Placed), len(c.leaves))
	}
	for k, q := range s.Placed {
		if q != c.leaves[k] {
			return fmt.Errorf("part listed as %v, cut as %v", q, c.leaves[k])
		}
		if err := c.part(i, q); err != nil {
			return err
		}
		for _, o := range s.Placed[:k] {
			if q.X < o.X+o.W+c.p.Kerf && o.X < q.X+q.W+c.p.Kerf &&
				(c.p.Parts[q.Part].Y == 0 || q.Y < o.Y+o.H+c.p.Kerf && o.Y < q.Y+q.H+c.p.Kerf) {
				return fmt.Errorf("parts %v and %v overlap or lie closer than the kerf", o, q)
			}
		}
	}
	if len(s.Offcuts) != len(c.rests) {
		return fmt.Errorf("%d offcuts listed, %d left", len(s.Offcuts), len(c.rests))
	}
	seen := map[Rect]bool{}
	for _, o := range c.rests {
		seen[o] = true
	}
	for k, o := range s.Offcuts {
		if !seen[o] {
			return fmt.Errorf("offcut %v is not what the cuts leave", o)
		}
		delete(seen, o)
		if k > 0 && c.size(o) > c.size(s.Offcuts[k-1]) {
			return fmt.Errorf("offcuts are not listed largest first")
		}
		clean := true
		for _, d := range c.stock.Defects {
			if o.X < d.X+d.W && d.X < o.X+o.W && (c.lengths() || o.Y < d.Y+d.H && d.Y < o.Y+o.H) {
				clean = false
			}
		}
		if clean && c.size(o) > c.offcut {
			c.offcut = c.size(o)
		}
	}
	return nil
}

// lengths says whether the parts have lengths only.
func (c *checker) lengths() bool { return len(c.p.Parts) > 0 && c.p.Parts[0].Y == 0 }

// size of an offcut: its area, or its length where only lengths count.
func (c *checker) size(o Rect) int64 {
	if c.lengths() {
		return o.W
	}
	return o.W * o.H
}

// piece walks the cuts; depth counts the directions so far.
func (c *checker) piece(n *Node, last Axis, depth int) error {
	if n.Cut == None {
		if n.Near != nil || n.Far != nil {
			return fmt.Errorf("piece %v has kids and no cut", n.Rect)
		}
		if n.Part >= 0 {
			c.leaves = append(c.leaves, Placed{n.Part, n.X, n.Y, n.W, n.H, n.Turned})
		} else if n.W >= c.p.KeepX && (n.H >= c.p.KeepY || c.lengths()) {
			c.rests = append(c.rests, n.Rect)
		}
		c.stages = max(c.stages, depth)
		return nil
	}
	if n.Part >= 0 {
		return fmt.Errorf("piece %v is a part and is cut", n.Rect)
	}
	if n.Near == nil {
		return fmt.Errorf("cut in %v leaves nothing near", n.Rect)
	}
	c.cuts++
	if n.Cut != last {
		depth++
	}
	near, far := n.Rect, n.Rect
	var rest int64
	switch n.Cut {
	case AlongX:
		rest = n.W - n.At - c.p.Kerf
		near.W, far.X, far.W = n.At, n.X+n.At+c.p.Kerf, rest
	case AlongY:
		rest = n.H - n.At - c.p.Kerf
		near.H, far.Y, far.H = n.At, n.Y+n.At+c.p.Kerf, rest
	default:
		return fmt.Errorf("cut in %v has axis %d", n.Rect, n.Cut)
	}
	if n.At <= 0 || rest+c.p.Kerf <= 0 {
		return fmt.Errorf("cut at %d in %v takes nothing off", n.At, n.Rect)
	}
	c.settings[[2]int64{int64(n.Cut), n.At}] = true
	if n.Near.Rect != near {
		return fmt.Errorf("cut at %d in %v leaves %v near, not %v", n.At, n.Rect, near, n.Near.Rect)
	}
	if err := c.piece(n.Near, n.Cut, depth); err != nil {
		return err
	}
	if rest <= 0 {
		if n.Far != nil {
			return fmt.Errorf("cut at %d in %v leaves nothing beyond the kerf", n.At, n.Rect)
		}
		return nil
	}
	if n.Far == nil || n.Far.Rect != far {
		return fmt.Errorf("cut at %d in %v must leave %v beyond the kerf", n.At, n.Rect, far)
	}
	return c.piece(n.Far, n.Cut, depth)
}

func (c *checker) part(sheet int, q Placed) error {
	if q.Part >= len(c.p.Parts) {
		return fmt.Errorf("part %d does not exist", q.Part)
	}
	part := &c.p.Parts[q.Part]
	w, h := part.X, part.Y
	if h == 0 {
		h = c.root.H
	}
	if q.Turned {
		w, h = h, w
		if !part.Turn || part.Y == 0 {
			return fmt.Errorf("part %d %q is turned against its grain", q.Part, part.Name)
		}
	}
	if q.W != w || q.H != h {
		return fmt.Errorf("part %d %q is %d x %d, not %d x %d", q.Part, part.Name, q.W, q.H, w, h)
	}
	if q.X < c.root.X || q.Y < c.root.Y || q.X+q.W > c.root.X+c.root.W || q.Y+q.H > c.root.Y+c.root.H {
		return fmt.Errorf("part %v lies outside %v", q, c.root)
	}
	for _, d := range c.stock.Defects {
		if q.X < d.X+d.W && d.X < q.X+q.W && (part.Y == 0 || q.Y < d.Y+d.H && d.Y < q.Y+q.H) {
			return fmt.Errorf("part %v lies over defect %v", q, d)
		}
	}
	if part.Stocks != nil {
		ok := false
		for _, s := range part.Stocks {
			ok = ok || s == c.index
		}
		if !ok {
			return fmt.Errorf("part %d %q may not come from stock %d", q.Part, part.Name, c.index)
		}
	}
	if part.Group != "" {
		if home, ok := c.home[part.Group]; ok && home != sheet {
			return fmt.Errorf("group %q is spread over sheets %d and %d", part.Group, home, sheet)
		}
		c.home[part.Group] = sheet
	}
	c.left[q.Part]--
	return nil
}

func (c *checker) levels(r *Result, used []int) error {
	var cost, bought, sheets int64
	for i, n := range used {
		sheets += int64(n)
		cost += int64(n) * c.p.Stocks[i].Price
		if !c.p.Stocks[i].OnHand {
			bought += int64(n)
		}
	}
	for _, l := range []struct {
		name string
		got  Level
		want int64
	}{
		{"cost", r.Cost, cost},
		{"bought sheets", r.Bought, bought},
		{"sheets", r.Used, sheets},
		{"largest offcut", r.Offcut, c.offcut},
		{"fence settings", r.Settings, int64(len(c.settings))},
	} {
		if l.got.Value != l.want {
			return fmt.Errorf("%s: stated as %d, is %d", l.name, l.got.Value, l.want)
		}
		over := l.got.Bound > l.got.Value
		if l.name == "largest offcut" {
			over = l.got.Bound < l.got.Value
		}
		if over {
			return fmt.Errorf("%s: %d passes the bound of %d", l.name, l.got.Value, l.got.Bound)
		}
		if l.got.Proved != (l.got.Bound == l.got.Value) {
			return fmt.Errorf("%s: value %d, bound %d, proved %v", l.name, l.got.Value, l.got.Bound, l.got.Proved)
		}
	}
	if r.Cuts != c.cuts || r.Stages != c.stages {
		return fmt.Errorf("stated as %d cuts in %d stages, is %d in %d", r.Cuts, r.Stages, c.cuts, c.stages)
	}
	if c.p.MaxStages > 0 && c.stages > c.p.MaxStages {
		return fmt.Errorf("%d stages where %d are allowed", c.stages, c.p.MaxStages)
	}
	return nil
}
