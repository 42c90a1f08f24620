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
