package layout

// A bin is one sheet in the search. Each clean region of it holds a slicing
// tree: inner knots place their kids side by side or stacked, so that whatever
// the search does to the tree, a saw can follow. Sizes grow from the leaves
// up; nothing has a position until the layout is written out, so that slack
// anywhere on the way to the root can be used by a part added anywhere below.
// The representation follows the idea of J. Gardeyn and T. Wauters, "A goal-driven
// ruin and recreate heuristic for the 2D variable-sized bin packing problem with
// guillotine constraints", European Journal of Operational Research 301 (2022).
type bin struct {
	stock, variant int32
	roots          []int32 // one a region, -1 where empty
	k              []knot
	area           float64 // of the parts in it
	score          float64 // sum of squared leftovers
	stamp          uint32  // changes with the content
	cache          []cand  // best place for a part of each kind
}

// knot is a part or a row of pieces.
type knot struct {
	w, h          int64 // size
	aw, ah        int64 // how large it may become
	up, kid, next int32
	kind, unit    int32 // kind is -1 for a row
	side          bool  // a row whose kids lie side by side along x; else stacked along y
	turned        bool
}

// how a part joins a tree.
const (
	intoEmpty = iota + 1 // as root of an empty region
	intoRow              // as a further kid of a row
	withKnot             // with a part, in a new row across its row; or with a whole tree
	withTail             // across the last kids of a row, which become a row of their own
)

// cand is a place for a part.
type cand struct {
	score  float64
	stamp  uint32
	node   int32
	how    int8
	turned bool
	region int16
	tail   int32 // first kid of the tail
}

func sq(a, b int64) float64 {
	v := float64(a) * float64(b)
	return float64(v * v)
}

// rootScore values what is left around the tree of a region.
func rootScore(W, H, w, h int64) float64 {
	return max(float64(sq(W-w, H)+sq(w, H-h)), float64(sq(W, H-h)+sq(W-w, h)))
}

// newBin opens a sheet.
func (in *inst) newBin(stock, variant int) *bin {
	v := &in.bases[stock].variants[variant]
	b := &bin{stock: int32(stock), variant: int32(variant), cache: make([]cand, len(in.kinds))}
	for range v.regions {
		b.roots = append(b.roots, -1)
	}
	return b
}

func (in *inst) regions(b *bin) []region { return in.bases[b.stock].variants[b.variant].regions }

// refresh brings room and score up to date after a change of the tree whose
// sizes are right.
func (in *inst) refresh(b *bin) {
	b.score = 0
	regs := in.regions(b)
	for i, r := range b.roots {
		W, H := regs[i].w, regs[i].h
		if r < 0 {
			b.score += sq(W, H)
			continue
		}
		n := &b.k[r]
		n.aw, n.ah = W, H
		b.score += rootScore(W, H, n.w, n.h)
		b.room(r)
	}
}

func (b *bin) room(r int32) {
	n := &b.k[r]
	for c := n.kid; c >= 0; c = b.k[c].next {
		m := &b.k[c]
		if n.side {
			m.aw, m.ah = m.w+n.aw-n.w, n.ah
			b.score += sq(m.w, n.h-m.h)
		} else {
			m.aw, m.ah = n.aw, m.h+n.ah-n.h
			b.score += sq(m.h, n.w-m.w)
		}
		if m.kid >= 0 {
			b.room(c)
		}
	}
}

// find gives the best place for a part of a kind in a bin; how is 0 where
// there is none.
func (s *search) find(b *bin, kd int32) cand {
	if c := b.cache[kd]; c.stamp == b.stamp && c.stamp != 0 {
		return c
	}
	in := s.in
	k := &in.kinds[kd]
	best := cand{}
	if k.from[b.stock] && b.area+k.area <= in.bases[b.stock].area {
		for t := range 2 {
			w, h := k.w, k.h
			if t == 1 {
				if !k.turn {
					break
				}
				w, h = h, w
			}
			for i := range b.roots {
				s.findIn(b, i, w, h, t == 1, &best)
			}
		}
	}
	best.stamp = b.stamp
	b.cache[kd] = best
	return best
}

func (s *search) offer(b *bin, best *cand, c cand) {
	if best.how != 0 && c.score <= best.score {
		return
	}
	if s.in.p.MaxStages > 0 && !s.stagesAllow(b, c) {
		return
	}
	*best = c
}

func (s *search) findIn(b *bin, reg int, iw, ih int64, turned bool, best *cand) {
	r := b.roots[reg]
	rg := &s.in.regions(b)[reg]
	c := cand{turned: turned, region: int16(reg)}
	if r < 0 {
		if iw <= rg.w && ih <= rg.h {
			c.how, c.score = intoEmpty, rootScore(rg.w, rg.h, iw, ih)-sq(rg.w, rg.h)
			s.ops += 4
			s.offer(b, best, c)
		}
		return
	}
	// The whole tree, both ways.
	n := &b.k[r]
	c.node, c.how = r, withKnot
	if n.kid < 0 || !n.side {
		if n.w+iw <= rg.w && ih <= rg.h {
			h := max(n.h, ih)
			c.score = rootScore(rg.w, rg.h, n.w+iw, h) - rootScore(rg.w, rg.h, n.w, n.h) + sq(n.w, h-n.h) + sq(iw, h-ih)
			c.tail = 1 // side by side
			s.offer(b, best, c)
		}
	}
	if n.kid < 0 || n.side {
		if n.h+ih <= rg.h && iw <= rg.w {
			w := max(n.w, iw)
			c.score = rootScore(rg.w, rg.h, w, n.h+ih) - rootScore(rg.w, rg.h, n.w, n.h) + sq(n.h, w-n.w) + sq(ih, w-iw)
			c.tail = 0
			s.offer(b, best, c)
		}
	}
	if n.kid >= 0 {
		s.findRow(b, reg, r, iw, ih, turned, best)
	}
}

// findRow looks for places in a row and all below it.
func (s *search) findRow(b *bin, reg int, r int32, iw, ih int64, turned bool, best *cand) {
	n := &b.k[r]
	if iw > n.aw || ih > n.ah {
		return
	}
	c := cand{turned: turned, region: int16(reg)}
	s.ops += 3
	// As a further kid.
	if n.side && iw <= n.aw-n.w || !n.side && ih <= n.ah-n.h {
		c.node, c.how = r, intoRow
		d := 0.0
		if n.side {
			if ih <= n.h {
				d = sq(iw, n.h-ih)
			} else {
				d = b.growRow(r, -1, ih)
			}
			d += s.climb(b, reg, r, n.w+iw, max(n.h, ih))
		} else {
			if iw <= n.w {
				d = sq(ih, n.w-iw)
			} else {
				d = b.growRow(r, -1, iw)
			}
			d += s.climb(b, reg, r, max(n.w, iw), n.h+ih)
		}
		c.score = d
		s.offer(b, best, c)
	}
	// Across the last kids, which are the low ones.
	s.findTail(b, reg, r, iw, ih, turned, best)
	for k := n.kid; k >= 0; k = b.k[k].next {
		m := &b.k[k]
		if m.kid >= 0 {
			s.findRow(b, reg, k, iw, ih, turned, best)
			continue
		}
		s.ops++
		if n.side {
			if m.h+ih > m.ah || iw > m.aw {
				continue
			}
			w := max(m.w, iw)
			c.score = sq(m.h, w-m.w) + sq(ih, w-iw) + s.climb(b, reg, k, w, m.h+ih)
		} else {
			if m.w+iw > m.aw || ih > m.ah {
				continue
			}
			h := max(m.h, ih)
			c.score = sq(m.w, h-m.h) + sq(iw, h-ih) + s.climb(b, reg, k, m.w+iw, h)
		}
		c.node, c.how = k, withKnot
		s.offer(b, best, c)
	}
}

// growRow is the change of score among the kids of a row, but one, when the
// row becomes as thick as to.
func (b *bin) growRow(r, but int32, to int64) (d float64) {
	n := &b.k[r]
	for c := n.kid; c >= 0; c = b.k[c].next {
		if c == but {
			continue
		}
		m := &b.k[c]
		if n.side {
			d += sq(m.w, to-m.h) - sq(m.w, n.h-m.h)
		} else {
			d += sq(m.h, to-m.w) - sq(m.h, n.w-m.w)
		}
	}
	return d
}

// climb is the change of score from a knot up, when it becomes w by h.
func (s *search) climb(b *bin, reg int, at int32, w, h int64) (d float64) {
	for {
		n := &b.k[at]
		if n.w == w && n.h == h {
			return d
		}
		s.ops++
		if n.up < 0 {
			rg := &s.in.regions(b)[reg]
			return d + rootScore(rg.w, rg.h, w, h) - rootScore(rg.w, rg.h, n.w, n.h)
		}
		p := &b.k[n.up]
		if p.side {
			d -= sq(n.w, p.h-n.h)
			if h <= p.h {
				d += sq(w, p.h-h)
			} else {
				d += b.growRow(n.up, at, h)
			}
			w, h = p.w-n.w+w, max(p.h, h)
		} else {
			d -= sq(n.h, p.w-n.w)
			if w <= p.w {
				d += sq(h, p.w-w)
			} else {
				d += b.growRow(n.up, at, w)
			}
			w, h = max(p.w, w), p.h-n.h+h
		}
		at = n.up
	}
}

// findTail looks for places across the last two or more, but not all, kids of
// a row.
func (s *search) findTail(b *bin, reg int, r int32, iw, ih int64, turned bool, best *cand) {
	n := &b.k[r]
	k := b.k[n.kid].next
	if k < 0 {
		return
	}
	// length of the tail along the row
	var tail int64
	if n.side {
		tail = n.w - b.k[n.kid].w
	} else {
		tail = n.h - b.k[n.kid].h
	}
	for ; k >= 0 && b.k[k].next >= 0; k = b.k[k].next {
		m := &b.k[k]
		s.ops++
		if n.side {
			w, h := max(tail, iw), m.h+ih
			if h <= n.ah && n.w-tail+w <= n.aw {
				d := sq(m.h, w-tail) + sq(ih, w-iw)
				for c := k; c >= 0; c = b.k[c].next {
					o := &b.k[c]
					d += sq(o.w, m.h-o.h) - sq(o.w, n.h-o.h)
				}
				if h <= n.h {
					d += sq(w, n.h-h)
				} else {
					for c := n.kid; c != k; c = b.k[c].next {
						o := &b.k[c]
						d += sq(o.w, h-o.h) - sq(o.w, n.h-o.h)
					}
				}
				d += s.climb(b, reg, r, n.w-tail+w, max(n.h, h))
				s.offer(b, best, cand{score: d, node: r, how: withTail, turned: turned, region: int16(reg), tail: k})
			}
			tail -= m.w
		} else {
			w, h := m.w+iw, max(tail, ih)
			if w <= n.aw && n.h-tail+h <= n.ah {
				d := sq(m.w, h-tail) + sq(iw, h-ih)
				for c := k; c >= 0; c = b.k[c].next {
					o := &b.k[c]
					d += sq(o.h, m.w-o.w) - sq(o.h, n.w-o.w)
				}
				if w <= n.w {
					d += sq(h, n.w-w)
				} else {
					for c := n.kid; c != k; c = b.k[c].next {
						o := &b.k[c]
						d += sq(o.h, w-o.w) - sq(o.h, n.w-o.w)
					}
				}
				d += s.climb(b, reg, r, max(n.w, w), n.h-tail+h)
				s.offer(b, best, cand{score: d, node: r, how: withTail, turned: turned, region: int16(reg), tail: k})
			}
			tail -= m.h
		}
	}
}

// put adds a part to a bin at a place that find gave.
func (s *search) put(b *bin, c cand, kd, un int32) {
	in := s.in
	k := &in.kinds[kd]
	w, h := k.w, k.h
	if c.turned {
		w, h = h, w
	}
	leaf := b.add(knot{w: w, h: h, up: -1, kid: -1, next: -1, kind: kd, unit: un, turned: c.turned})
	b.area += k.area
	switch c.how {
	case intoEmpty:
		b.roots[c.region] = leaf
	case intoRow:
		b.hang(c.node, leaf)
	case withKnot:
		old := c.node
		up := b.k[old].up
		side := c.tail == 1
		if up >= 0 {
			side = !b.k[up].side
		}
		row := b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: side})
		if up < 0 {
			b.roots[c.region] = row
		} else {
			b.unhang(old)
			// The row takes the part's place once it has its size.
		}
		b.hangRaw(row, old)
		b.hangRaw(row, leaf)
		if up >= 0 {
			b.hang(up, row)
		}
	case withTail:
		up := c.node
		side := b.k[up].side
		low := b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: side})
		row := b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: !side})
		for t := c.tail; t >= 0; {
			next := b.k[t].next
			b.unhang(t)
			b.hangRaw(low, t)
			t = next
		}
		b.hangRaw(row, low)
		b.hangRaw(row, leaf)
		b.hang(up, row)
	}
	s.stamp++
	b.stamp = s.stamp
	in.refresh(b)
}

func (b *bin) add(n knot) int32 {
	b.k = append(b.k, n)
	return int32(len(b.k) - 1)
}

// thick is the size of a kid across the row it lies in.
func (n *knot) thick(side bool) int64 {
	if side {
		return n.h
	}
	return n.w
}

// hangRaw puts a kid into a row, thick ones first, and sizes the row but
// nothing above.
func (b *bin) hangRaw(row, kid int32) {
	p, n := &b.k[row], &b.k[kid]
	n.up = row
	t := n.thick(p.side)
	at := &p.kid
	for *at >= 0 && b.k[*at].thick(p.side) >= t {
		at = &b.k[*at].next
	}
	n.next, *at = *at, kid
	if p.side {
		p.w, p.h = p.w+n.w, max(p.h, n.h)
	} else {
		p.w, p.h = max(p.w, n.w), p.h+n.h
	}
}

// hang puts a kid into a row and sizes all above.
func (b *bin) hang(row, kid int32) {
	up := b.k[row].up
	if up >= 0 {
		b.unhang(row)
	}
	b.hangRaw(row, kid)
	if up >= 0 {
		b.hang(up, row)
	}
}

// unhang takes a kid out of its row and sizes the row but nothing above.
func (b *bin) unhang(kid int32) {
	n := &b.k[kid]
	p := &b.k[n.up]
	at := &p.kid
	for *at != kid {
		at = &b.k[*at].next
	}
	*at = n.next
	n.next, n.up = -1, -1
	p.w, p.h = 0, 0
	for c := p.kid; c >= 0; c = b.k[c].next {
		m := &b.k[c]
		if p.side {
			p.w, p.h = p.w+m.w, max(p.h, m.h)
		} else {
			p.w, p.h = max(p.w, m.w), p.h+m.h
		}
	}
}

// clone copies a bin knot by knot, so that places found in the one hold in the
// other.
func (s *search) clone(b *bin) *bin {
	nb := s.spare()
	nb.stock, nb.variant, nb.area, nb.score = b.stock, b.variant, b.area, b.score
	nb.roots = append(nb.roots, b.roots...)
	nb.k = append(nb.k, b.k...)
	s.stamp++
	nb.stamp = s.stamp
	return nb
}

// copyBin copies a bin, without the knots that are marked and all below them.
func (s *search) copyBin(b *bin, without []bool) *bin {
	nb := s.spare()
	nb.stock, nb.variant = b.stock, b.variant
	nb.area = 0
	for _, r := range b.roots {
		if r >= 0 {
			r = s.copyKnot(nb, b, r, without)
		}
		nb.roots = append(nb.roots, r)
	}
	s.stamp++
	nb.stamp = s.stamp
	s.in.refresh(nb)
	return nb
}

func (s *search) copyKnot(nb, b *bin, r int32, without []bool) int32 {
	if without != nil && without[r] {
		return -1
	}
	n := &b.k[r]
	if n.kid < 0 {
		nb.area += s.in.kinds[n.kind].area
		return nb.add(knot{w: n.w, h: n.h, up: -1, kid: -1, next: -1, kind: n.kind, unit: n.unit, turned: n.turned})
	}
	row, only := int32(-1), int32(-1)
	for c := n.kid; c >= 0; c = b.k[c].next {
		m := s.copyKnot(nb, b, c, without)
		switch {
		case m < 0:
		case only < 0 && row < 0:
			only = m
		default:
			if row < 0 {
				row = nb.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: n.side})
				nb.merge(row, only)
			}
			nb.merge(row, m)
		}
	}
	if row < 0 {
		return only
	}
	return row
}

// merge hangs a kid into a row; a kid that is a row the same way hands over its kids.
func (b *bin) merge(row, kid int32) {
	n := &b.k[kid]
	if n.kid < 0 || n.side != b.k[row].side {
		b.hangRaw(row, kid)
		return
	}
	for c := n.kid; c >= 0; {
		next := b.k[c].next
		b.hangRaw(row, c)
		c = next
	}
}
