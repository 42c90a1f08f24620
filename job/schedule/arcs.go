package schedule

// earc is an arc between integer variables: start(to) >= g(start(from)).
type earc struct {
	arc
	simple bool // start(to) >= start(from) + w
	w      int64
}

// half is one of the two ways round for a pair of occupations that cannot
// overlap: if lit is true, the occupation that ends with activity u is over
// before activity a starts, with the open ticks for the set-up changes of a
// between them.
type half struct {
	lit    lit
	u, a   int32
	change int32 // variable for the change time before a, or -1
	next   int32 // the next half with the same literal, or -1
}

func (e *engine) addArc(a arc) {
	k := int32(len(e.arcs))
	ea := earc{arc: a}
	f, t := &e.x[a.from], &e.x[a.to]
	one := func(v *intVar) bool { return v.tm == nil || (len(v.tm.spans) == 1 && v.fixed && !v.tm.pinned) }
	if a.curve == nil && one(f) && one(t) {
		ea.simple, ea.w = true, a.min
		if a.fromEnd {
			ea.w += f.len
		}
		if a.toEnd {
			ea.w -= t.len
		}
	}
	e.arcs = append(e.arcs, ea)
	e.arcOut[a.from] = append(e.arcOut[a.from], k)
	e.arcIn[a.to] = append(e.arcIn[a.to], k)
}

// forward gives the least value of to when from is s.
func (e *engine) forward(a *earc, s int64) int64 {
	if a.simple {
		return s + a.w
	}
	t := s
	if a.fromEnd {
		t = e.end(int32(a.from), s)
	}
	if a.curve != nil {
		t = a.curve.At(t)
	} else {
		t += a.min
	}
	if a.toEnd {
		return e.endFrom(int32(a.to), t)
	}
	return e.next(int32(a.to), t)
}

// backward gives the greatest value of from when to is s.
func (e *engine) backward(a *earc, s int64) int64 {
	if a.simple {
		return s - a.w
	}
	t := s
	if a.toEnd {
		t = e.end(int32(a.to), s)
	}
	if a.curve != nil {
		x, ok := a.curve.Inverse(t)
		if !ok {
			return -inf
		}
		t = x
	} else {
		t -= a.min
	}
	if a.fromEnd {
		return e.endBy(int32(a.from), t)
	}
	return e.prev(int32(a.from), t)
}

// runArcs passes a raised bound on over the arcs.
func (e *engine) runArcs(b int32) bool {
	x := b >> 1
	if b&1 == 0 {
		s := e.lb[b]
		for _, k := range e.arcOut[x] {
			a := &e.arcs[k]
			if v := e.forward(a, s); v > e.lb[2*a.to] && !e.raise(int32(2*a.to), v, byArc, 0, k, 0, 0) {
				return false
			}
		}
		return true
	}
	s := -e.lb[b]
	for _, k := range e.arcIn[x] {
		a := &e.arcs[k]
		if v := -e.backward(a, s); v > e.lb[2*a.from+1] && !e.raise(int32(2*a.from+1), v, byArc, 0, k, 0, 0) {
			return false
		}
	}
	return true
}

func (e *engine) explainArc(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	a := &e.arcs[t.rx]
	from, to := int32(a.from), int32(a.to)
	if t.b == 2*to { // to >= v
		if a.simple {
			return append(out, atom{2 * from, v - a.w})
		}
		w := e.prev(to, v-1) // the moment of to has to be after that for w
		y := w + 1
		if a.toEnd && w > -inf {
			y = e.end(to, w) + 1
		}
		if w == -inf {
			return append(out, atom{2 * from, e.at(2*from, k)})
		}
		if a.curve != nil {
			y = a.curve.First(y)
		} else {
			y -= a.min
		}
		if a.fromEnd {
			y = e.endFrom(from, y)
		} else {
			y = e.next(from, y)
		}
		return append(out, atom{2 * from, y})
	}
	// from <= -v
	if a.simple {
		return append(out, atom{2*to + 1, v - a.w})
	}
	z := e.next(from, -v+1)
	if z >= inf {
		return append(out, atom{2*to + 1, e.at(2*to+1, k)})
	}
	if a.fromEnd {
		z = e.end(from, z)
	}
	if a.curve != nil {
		z = a.curve.At(z)
	} else {
		z += a.min
	}
	if a.toEnd {
		z = e.endBy(to, z-1)
	} else {
		z = e.prev(to, z-1)
	}
	return append(out, atom{2*to + 1, -z})
}

// after gives the least start of h.a after an end at t with change time c.
func (e *engine) after(h *half, t, c int64) int64 {
	if c > 0 {
		o := e.m.openOf(int(h.a))
		t = o.first(o.count(t) + c)
	}
	return e.next(h.a, t)
}

// room gives the latest end of h.u before a start at s with change time c.
func (e *engine) room(h *half, s, c int64) int64 {
	if c > 0 {
		o := e.m.openOf(int(h.a))
		return o.last(o.count(s) - c)
	}
	return s
}

func (e *engine) changeOf(h *half) int64 {
	if h.change < 0 {
		return 0
	}
	return e.lb[2*h.change]
}

// runHalf passes bounds over a half whose literal is true, or rules it out.
func (e *engine) runHalf(k int32) bool {
	h := &e.halves[k]
	switch e.val[h.lit] {
	case 1:
		c := e.changeOf(h)
		if v := e.after(h, e.eet[h.u], c); v > e.lb[2*h.a] && !e.raise(2*h.a, v, byHalf, 0, k, 0, 0) {
			return false
		}
		most := e.room(h, -e.lb[2*h.a+1], c)
		if e.end(h.u, -e.lb[2*h.u+1]) > most {
			return e.raise(2*h.u+1, -e.endBy(h.u, most), byHalf, 0, k, 0, 0)
		}
	case 0:
		if e.eet[h.u] > e.room(h, -e.lb[2*h.a+1], e.changeOf(h)) {
			return e.set(h.lit.not(), byOrder, k, 0, 0)
		}
	}
	return true
}

func (e *engine) runHalves(b int32) bool {
	x := b >> 1
	if b&1 == 0 {
		t := e.eet[x]
		for _, k := range e.halfOut[x] {
			h := &e.halves[k]
			val := e.val[h.lit]
			if val < 0 {
				continue
			}
			if h.change >= 0 {
				if !e.runHalf(k) {
					return false
				}
				continue
			}
			if val > 0 {
				if t > e.lb[2*h.a] && !e.raise(2*h.a, t, byHalf, 0, k, 0, 0) {
					return false
				}
			} else if t > -e.lb[2*h.a+1] && !e.set(h.lit.not(), byOrder, k, 0, 0) {
				return false
			}
		}
		return true
	}
	s := -e.lb[b]
	for _, k := range e.halfIn[x] {
		h := &e.halves[k]
		val := e.val[h.lit]
		if val < 0 {
			continue
		}
		if h.change >= 0 {
			if !e.runHalf(k) {
				return false
			}
			continue
		}
		if val == 0 {
			if e.eet[h.u] > s && !e.set(h.lit.not(), byOrder, k, 0, 0) {
				return false
			}
			continue
		}
		if u := &e.x[h.u]; u.fixed {
			if v := u.len - s; v > e.lb[2*h.u+1] && !e.raise(2*h.u+1, v, byHalf, 0, k, 0, 0) {
				return false
			}
		} else if v := -e.endBy(h.u, s); v > e.lb[2*h.u+1] && !e.raise(2*h.u+1, v, byHalf, 0, k, 0, 0) {
			return false
		}
	}
	return true
}

func (e *engine) explainHalf(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	h := &e.halves[t.rx]
	out = append(out, litAtom(h.lit))
	c := int64(0)
	if h.change >= 0 {
		if c = e.at(2*h.change, k); c > e.lb0(2*h.change) {
			out = append(out, atom{2 * h.change, c})
		}
	}
	if t.b == 2*h.a { // start of a >= v: every end up to the last start before v is too early
		w := e.prev(h.a, v-1)
		if w == -inf {
			return append(out, atom{2 * h.u, e.at(2*h.u, k)})
		}
		return append(out, atom{2 * h.u, e.endFrom(h.u, e.room(h, w, c)+1)})
	}
	z := e.next(h.u, -v+1)
	if z >= inf {
		return append(out, atom{2*h.a + 1, e.at(2*h.a+1, k)})
	}
	return append(out, atom{2*h.a + 1, -e.prev(h.a, e.after(h, e.end(h.u, z), c)-1)})
}

func (e *engine) explainOrder(k int32, out []atom) []atom {
	h := &e.halves[e.trail[k].rx]
	c := int64(0)
	if h.change >= 0 {
		if c = e.at(2*h.change, k); c > e.lb0(2*h.change) {
			out = append(out, atom{2 * h.change, c})
		}
	}
	late := e.at(2*h.a+1, k)
	return append(out, atom{2*h.a + 1, late}, atom{2 * h.u, e.endFrom(h.u, e.room(h, -late, c)+1)})
}

// lb0 is the bound of direction b at level 0.
func (e *engine) lb0(b int32) int64 {
	k := e.last[b]
	v := e.lb[b]
	for k >= 0 && e.trail[k].level > 0 {
		v = e.trail[k].old
		k = e.trail[k].prev
	}
	return v
}

// runChain follows a new order literal: i before j and j before k put i before
// k.
func (e *engine) runChain(i, j int32, l lit) bool {
	n := int32(e.n)
	for k := int32(0); k < n; k++ {
		if k == i || k == j {
			continue
		}
		if jk := e.order[j*n+k]; jk >= 0 && e.val[jk] > 0 {
			if ik := e.order[i*n+k]; ik >= 0 && e.val[ik] <= 0 && !e.set(ik, byChain, j, int64(l)|int64(i)<<32, int64(jk)|int64(k)<<32) {
				return false
			}
		}
		if ki := e.order[k*n+i]; ki >= 0 && e.val[ki] > 0 {
			if kj := e.order[k*n+j]; kj >= 0 && e.val[kj] <= 0 && !e.set(kj, byChain, i, int64(ki)|int64(k)<<32, int64(l)|int64(j)<<32) {
				return false
			}
		}
	}
	return true
}
