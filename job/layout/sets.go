package layout

import (
	"cmp"
	"context"
	"math/bits"
	"slices"
)

// Where a sheet holds few parts, all sets of parts that one sheet can hold can
// be listed, each with its smallest rectangles (see exact.go for the papers).
// A linear program over the sets then gives every part a weight such that no
// sheet holds more than a weight of one; unlike the pattern relaxation it knows
// that there is only one copy of each part. Last, a search for a cover of the
// parts by one sheet fewer than the best layout has either finds one or proves
// that there is none.

const (
	setsMost  = 250_000 // sets listed
	setsParts = 128     // copies in all
	setsOps   = 400_000_000
)

// set is a set of copies, by their number.
type set [2]uint64

func (s set) has(i int) bool    { return s[i>>6]>>(i&63)&1 != 0 }
func (s set) with(i int) set    { s[i>>6] |= 1 << (i & 63); return s }
func (s set) without(t set) set { return set{s[0] &^ t[0], s[1] &^ t[1]} }
func (s set) and(t set) set     { return set{s[0] & t[0], s[1] & t[1]} }
func (s set) or(t set) set      { return set{s[0] | t[0], s[1] | t[1]} }
func (s set) empty() bool       { return s[0]|s[1] == 0 }
func (s set) within(t set) bool { return s[0]&^t[0]|s[1]&^t[1] == 0 }
func (s set) count() int        { return bits.OnesCount64(s[0]) + bits.OnesCount64(s[1]) }
func (s set) first() int {
	if s[0] != 0 {
		return bits.TrailingZeros64(s[0])
	}
	return 64 + bits.TrailingZeros64(s[1])
}

func (s set) last() int {
	if s[1] != 0 {
		return 127 - bits.LeadingZeros64(s[1])
	}
	return 63 - bits.LeadingZeros64(s[0])
}

// each calls f with every member.
func (s set) each(f func(i int)) {
	for k, v := range s {
		for ; v != 0; v &= v - 1 {
			f(k<<6 + bits.TrailingZeros64(v))
		}
	}
}

// size is a smallest rectangle that a set can be had from.
type size struct{ w, h int64 }

// sets lists what one sheet can hold.
type sets struct {
	in    *inst
	w, h  int64
	kind  []int32 // of each copy, large ones first
	same  []set   // copies of each kind with more than one copy
	at    map[set]int32
	all   []set
	from  []int32 // all[i] has the rectangles boxes[from[i]:from[i+1]]
	boxes []size
	max   []bool  // no further part fits
	value []int64 // weight of each kind, as the linear program has it
	ops   int64
	over  func(ops int64) bool
}

// newSets gives nil where the problem asks for what it does not know.
func (in *inst) newSets(over func(ops int64) bool) *sets {
	if in.flat || in.p.MaxStages > 0 || len(in.bases) != 1 || in.bases[0].qty == 0 || len(in.p.Stocks[0].Defects) > 0 {
		return nil
	}
	b := &in.bases[0]
	e := &sets{in: in, w: b.w, h: b.h, at: map[set]int32{}, over: over}
	order := make([]int32, len(in.kinds))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(x, y int32) int { return cmp.Compare(in.kinds[y].area, in.kinds[x].area) })
	for _, k := range order {
		n := len(in.kinds[k].parts)
		if in.kinds[k].grouped || len(e.kind)+n > setsParts {
			return nil
		}
		var s set
		for range n {
			s = s.with(len(e.kind))
			e.kind = append(e.kind, k)
		}
		if n > 1 {
			e.same = append(e.same, s)
		}
	}
	return e
}

// canon is the set with the first copies of each kind in place of any.
func (e *sets) canon(s set) set {
	for _, k := range e.same {
		t := s.and(k)
		n := t.count()
		if n == 0 {
			continue
		}
		s = s.without(k)
		for i := k.first(); n > 0; i, n = i+1, n-1 {
			s = s.with(i)
		}
	}
	return s
}

// list finds all sets. It says whether the work and the room sufficed.
func (e *sets) list() bool {
	e.from = append(e.from, 0)
	for i := range e.kind {
		if i > 0 && e.kind[i] == e.kind[i-1] {
			continue
		}
		e.keep(set{}.with(i), e.single(i))
	}
	for lo := 0; lo < len(e.all); {
		hi := len(e.all)
		for ; lo < hi; lo++ {
			s := e.all[lo]
			for j := s.last() + 1; j < len(e.kind); j++ {
				if e.kind[j] == e.kind[j-1] && !s.has(j-1) {
					continue
				}
				t := s.with(j)
				e.ops++
				if !e.light(t) {
					continue
				}
				if bs := e.join(t); len(bs) > 0 {
					e.keep(t, bs)
					e.smaller(t)
				}
			}
			if len(e.all) > setsMost || e.ops > setsOps || lo&63 == 0 && e.over(e.ops) {
				return false
			}
		}
	}
	return true
}

func (e *sets) single(i int) []size {
	k := &e.in.kinds[e.kind[i]]
	var bs []size
	if k.w <= e.w && k.h <= e.h {
		bs = append(bs, size{k.w, k.h})
	}
	if k.turn && k.h <= e.w && k.w <= e.h {
		bs = append(bs, size{k.h, k.w})
	}
	return minimal(bs)
}

func (e *sets) keep(s set, bs []size) {
	e.at[s] = int32(len(e.all))
	e.all = append(e.all, s)
	e.boxes = append(e.boxes, bs...)
	e.from = append(e.from, int32(len(e.boxes)))
	e.max = append(e.max, true)
}

func (e *sets) sizes(s set) []size {
	i, ok := e.at[e.canon(s)]
	if !ok {
		return nil
	}
	return e.boxes[e.from[i]:e.from[i+1]]
}

// light says whether the area of a set is no more than the sheet's.
func (e *sets) light(s set) bool {
	rest := e.w * e.h
	s.each(func(i int) {
		k := &e.in.kinds[e.kind[i]]
		rest -= k.w * k.h
	})
	return rest >= 0
}

// smaller notes that the sets with one part less can take a further part.
func (e *sets) smaller(t set) {
	t.each(func(i int) {
		if k, ok := e.at[e.canon(t.without(set{}.with(i)))]; ok {
			e.max[k] = false
		}
	})
}

// halves calls f with every way to part a set in two, until it says false.
func (s set) halves(f func(a, b set) bool) {
	low := set{}.with(s.first())
	rest := s.without(low)
	for a := rest; ; {
		// a runs through the subsets of the rest, downwards.
		if a.empty() {
			return
		}
		if !f(s.without(a), a) {
			return
		}
		if a[0] == 0 {
			a[1]--
			a[0] = ^uint64(0)
		} else {
			a[0]--
		}
		a = a.and(rest)
	}
}

// join finds the smallest rectangles of a set of two or more.
func (e *sets) join(t set) []size {
	// With one part less it must fit as well.
	ok := true
	t.each(func(i int) {
		if ok {
			e.ops += 4
			_, ok = e.at[e.canon(t.without(set{}.with(i)))]
		}
	})
	if !ok {
		return nil
	}
	var bs []size
	t.halves(func(a, b set) bool {
		e.ops += 8
		bs = e.beside(bs, e.sizes(a), e.sizes(b))
		return true
	})
	return bs
}

// beside adds the smallest rectangles of two sets side by side and stacked.
// Of two staircases as many pairs matter as they have steps together: a pair's
// taller one alone decides about its height, so that it is the one to step on
// from (L. Stockmeyer, see exact).
func (e *sets) beside(bs, x, y []size) []size {
	for i, j := 0, 0; i < len(x) && j < len(y); {
		p, q := x[i], y[j]
		e.ops += joinOps
		w, h := p.w+q.w, max(p.h, q.h)
		if w > e.w {
			break
		}
		if h <= e.h {
			bs = stair(bs, size{w, h})
		}
		if p.h == h {
			i++
		}
		if q.h == h {
			j++
		}
	}
	for i, j := len(x)-1, len(y)-1; i >= 0 && j >= 0; {
		p, q := x[i], y[j]
		e.ops += joinOps
		w, h := max(p.w, q.w), p.h+q.h
		if h > e.h {
			break
		}
		if w <= e.w {
			bs = stair(bs, size{w, h})
		}
		if p.w == w {
			i--
		}
		if q.w == w {
			j--
		}
	}
	return bs
}

// joinOps is what a pair of rectangles counts.
const joinOps = 2

// stair adds a rectangle to those that no other fits into, which stand with
// rising width and falling height; most fit over one that is there already.
func stair(bs []size, s size) []size {
	i, end := 0, len(bs)
	for i < end {
		if m := int(uint(i+end) >> 1); bs[m].w < s.w {
			i = m + 1
		} else {
			end = m
		}
	}
	if i > 0 && bs[i-1].h <= s.h || i < len(bs) && bs[i].w == s.w && bs[i].h <= s.h {
		return bs
	}
	j := i
	for j < len(bs) && bs[j].h >= s.h {
		j++
	}
	return slices.Replace(bs, i, j, s)
}

// minimal keeps rectangles that no other fits into.
func minimal(bs []size) []size {
	slices.SortFunc(bs, func(a, b size) int { return cmp.Or(cmp.Compare(a.w, b.w), cmp.Compare(a.h, b.h)) })
	keep := bs[:0]
	for _, b := range bs {
		if len(keep) == 0 || b.h < keep[len(keep)-1].h {
			keep = append(keep, b)
		}
	}
	return keep
}

// full gives the sets that take no further part.
func (e *sets) full() (full []set) {
	for i, s := range e.all {
		if e.max[i] {
			full = append(full, s)
		}
	}
	return full
}

// weights gives every kind a weight and the most that a sheet can hold of it,
// from the linear program over the full sets; nil where the work did not suffice.
func (e *sets) weights(full []set, start []*bin) *need {
	in := e.in
	var b, sign, cost []float64
	for i := range in.kinds {
		b = append(b, float64(len(in.kinds[i].parts))+1e-7*float64(i*7919%101))
		sign, cost = append(sign, 1), append(cost, 4)
	}
	lp := newMaster(b, sign, cost)
	for i := range in.kinds {
		lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
	}
	for _, b := range start {
		n := make([]float64, len(in.kinds))
		for i := range b.k {
			if k := &b.k[i]; k.kid < 0 && k.kind >= 0 {
				n[k.kind]++
			}
		}
		c := column{cost: 1}
		for k, v := range n {
			if v > 0 {
				c.rows, c.vals = append(c.rows, int32(k)), append(c.vals, v)
			}
		}
		if len(c.rows) > 0 {
			lp.add(c)
		}
	}
	values := make([]int64, len(in.kinds))
	for range 2000 {
		before := lp.ops
		lp.solve(2000)
		e.ops += lp.ops - before
		n := &need{by: ByPatterns, have: []int64{0}}
		for i := range values {
			values[i] = int64(max(lp.pi[i], 0) * dualScale)
			n.want += values[i] * int64(len(in.kinds[i].parts))
		}
		// The sets that are worth most go in, a few at a time.
		const few = 8
		var top [few]int
		var worth [few]int64
		for x, s := range full {
			v := int64(0)
			s.each(func(i int) { v += values[e.kind[i]] })
			n.have[0] = max(n.have[0], v)
			for p := 0; p < few; p++ {
				if v > worth[p] {
					copy(worth[p+1:], worth[p:few-1])
					copy(top[p+1:], top[p:few-1])
					worth[p], top[p] = v, x
					break
				}
			}
		}
		e.ops += int64(8 * len(full))
		added := false
		for p := range few {
			if float64(worth[p]) > (1+1e-6)*dualScale {
				lp.add(e.column(full[top[p]]))
				added = true
			}
		}
		if !added {
			e.value = values
			return n
		}
		if e.over(e.ops) {
			return nil
		}
	}
	return nil
}

// column counts the copies of a set by kind.
func (e *sets) column(s set) column {
	c := column{cost: 1}
	s.each(func(i int) {
		k := e.kind[i]
		if n := len(c.rows); n > 0 && c.rows[n-1] == k {
			c.vals[n-1]++
			return
		}
		c.rows, c.vals = append(c.rows, k), append(c.vals, 1)
	})
	return c
}

// bins makes sheets from sets that fit; together they hold every part just once,
// but copies of one kind may change places.
func (e *sets) bins(found []set) []*bin {
	in := e.in
	units := in.unitsOf()
	var bins []*bin
	for _, s := range found {
		b := in.newBin(0, 0)
		b.roots[0] = e.grow(b, s, e.fit(s)[0], units)
		in.refresh(b)
		bins = append(bins, b)
	}
	return bins
}

// unitsOf lists the units of each kind.
func (in *inst) unitsOf() [][]int32 {
	units := make([][]int32, len(in.kinds))
	for u, un := range in.units {
		for _, k := range un.kinds {
			units[k] = append(units[k], int32(u))
		}
	}
	return units
}

// leaf adds the next unit of a kind to a bin, and to no row yet.
func (in *inst) leaf(b *bin, kd int32, turned bool, units [][]int32) int32 {
	k := &in.kinds[kd]
	w, h := k.w, k.h
	if turned {
		w, h = h, w
	}
	u := units[kd][0]
	units[kd] = units[kd][1:]
	b.area += k.area
	return b.add(knot{w: w, h: h, up: -1, kid: -1, next: -1, kind: kd, unit: u, turned: turned})
}

// grow builds the tree of a set in a size of its own.
func (e *sets) grow(b *bin, s set, z size, units [][]int32) int32 {
	in := e.in
	if s.count() == 1 {
		kd := e.kind[s.first()]
		k := &in.kinds[kd]
		return in.leaf(b, kd, z.w != k.w || z.h != k.h, units)
	}
	row := int32(-1)
	s.halves(func(l, r set) bool {
		for _, p := range e.sizes(l) {
			for _, q := range e.sizes(r) {
				side := p.w+q.w == z.w && max(p.h, q.h) == z.h
				if !side && (max(p.w, q.w) != z.w || p.h+q.h != z.h) {
					continue
				}
				x, y := e.grow(b, l, p, units), e.grow(b, r, q, units)
				row = b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: side})
				b.merge(row, x)
				b.merge(row, y)
				return false
			}
		}
		return true
	})
	return row
}

// listShare is the part of the work that goes into listed at most.
const listShare = 4

// listed bounds the number of sheets, and may find a layout, by listing all
// that a sheet can hold.
func (v *solver) listed(ctx context.Context) {
	s := v.s
	e := v.in.newSets(func(ops int64) bool {
		return v.past(ctx, ops, listShare)
	})
	if e == nil {
		return
	}
	defer func() { v.spent += e.ops }()
	if !e.list() {
		return
	}
	full := e.full()
	n := e.weights(full, s.best)
	if n == nil {
		return
	}
	v.c.needs = append(v.c.needs, *n)
	for v.bounds(); !v.enough() && !v.none; v.bounds() {
		k := int(v.low.used)
		found, ok := e.cover(full, k, n)
		if !ok {
			return
		}
		if found == nil {
			v.c.needs = append(v.c.needs, need{want: int64(k) + 1, have: []int64{1}, by: BySearch})
			continue
		}
		v.take(e.bins(found))
	}
}

// take makes sheets of the one stock the best layout.
func (v *solver) take(bins []*bin) {
	s, w, n := v.s, v.in.bases[0].weight, int64(len(bins))
	s.best, s.bestOut, s.bestOutArea = bins, nil, 0
	s.bestW = weight{w.cost * n, w.bought * n, n}
	s.onBest()
}
