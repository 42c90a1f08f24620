package layout

// Where a part can join a slicing tree: in place of nothing, as a further kid
// of a row, with a part in a new row across its row, or across the last kids of
// a row. Each place is valued by how it changes the sum of squared leftovers,
// without the tree being touched.

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

// find gives the best place for a part of a kind in a bin; how is 0 where
// there is none.
func (s *search) find(b *bin, kd int32) cand {
	in := s.in
	k := &in.kinds[kd]
	// Most sheets are too full, which is told without a look at what is known of them.
	if b.area+k.area > in.bases[b.stock].area {
		return cand{stamp: b.stamp}
	}
	if c := b.cache[kd]; c.stamp == b.stamp && c.stamp != 0 {
		return c
	}
	best := cand{}
	if k.from[b.stock] {
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
