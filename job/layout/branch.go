package layout

import (
	"cmp"
	"math"
	"slices"
)

// branch decides whether so many sheets suffice where patterns of single
// copies alone do not tell: two copies that meet on a fractional number of
// sheets are either kept together or kept apart (D. M. Ryan, B. A. Foster, "An
// integer programming approach to scheduling", 1981).
type branch struct {
	o      *once
	sheets int
	pool   []set
	sheet  []set // of the layout found
}

// bough is a node of the tree.
type bough struct {
	items []set // copies that are kept together, a single one for most
	clash []set // copies that each item must not meet
}

// root asks for nothing.
func (b *branch) root() *bough {
	n := &bough{}
	for i := range b.o.e.kind {
		n.items = append(n.items, set{}.with(i))
		n.clash = append(n.clash, set{})
	}
	return n
}

// allows says whether a pattern keeps to what a node asks.
func (n *bough) allows(s set) bool {
	for i, t := range n.items {
		m := s.and(t)
		if m.empty() {
			continue
		}
		if m != t || !s.and(n.clash[i]).empty() {
			return false
		}
	}
	return true
}

// column gives a pattern its place among the items.
func (n *bough) column(s set) column {
	c := column{cost: 1}
	for i, t := range n.items {
		if t.within(s) {
			c.rows, c.vals = append(c.rows, int32(i)), append(c.vals, 1)
		}
	}
	return c
}

// portion is a pattern and how much of it an answer has.
type portion struct {
	s set
	x float64
}

// relaxed solves a node's relaxation. There is no answer where it is refuted, or
// the work did not suffice.
func (b *branch) relaxed(n *bough) ([]portion, verdict) {
	o := b.o
	m := len(n.items)
	var rhs, sign, cost []float64
	for i := range m {
		rhs = append(rhs, 1+1e-7*float64(i*7919%101))
		sign, cost = append(sign, 1), append(cost, 4)
	}
	lp := newMaster(rhs, sign, cost)
	for i := range m {
		lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
	}
	cols := make([]set, len(lp.cols))
	for _, s := range b.pool {
		if n.allows(s) {
			cols = append(cols, s)
			lp.add(n.column(s))
		}
	}
	values := make([]int64, m)
	for {
		before := lp.ops
		lp.solve(3000)
		o.steps += lp.ops - before
		if o.over(o.ops()) {
			return nil, unknown
		}
		var want int64
		for i := range values {
			values[i] = int64(max(lp.pi[i], 0) * dualScale)
			want += values[i]
		}
		top, ok := b.price(n, values, dualScale+dualScale>>20)
		if want > top*int64(b.sheets) {
			return nil, refuted
		}
		if !ok {
			return nil, unknown
		}
		if len(o.found) == 0 {
			break
		}
		slices.SortStableFunc(o.found, func(a, b pricy) int { return cmp.Compare(b.v, a.v) })
		for _, f := range o.found[:min(len(o.found), onceTake)] {
			b.pool = append(b.pool, f.s)
			cols = append(cols, f.s)
			lp.add(n.column(f.s))
		}
	}
	var ps []portion
	for i, j := range lp.basis {
		if lp.x[i] > 1e-4 && !cols[j].empty() {
			ps = append(ps, portion{cols[j], lp.x[i]})
		}
	}
	return ps, unknown
}

// price is the price of once, with items in place of copies.
func (b *branch) price(n *bough, values []int64, above int64) (top int64, ok bool) {
	o := b.o
	o.order, o.worth = o.order[:0], o.worth[:0]
	for i, v := range values {
		if v > 0 {
			o.order = append(o.order, int32(i))
		}
	}
	slices.SortFunc(o.order, func(a, b int32) int {
		return cmp.Or(cmp.Compare(values[b], values[a]), cmp.Compare(a, b))
	})
	for _, i := range o.order {
		o.worth = append(o.worth, values[i])
	}
	o.fill(func(f int, i int32) (c int32) {
		n.items[i].each(func(k int) { c += o.fns[f][o.e.kind[k]] })
		return c
	})
	top = o.start(onceWant)
	for top > above {
		o.floor = above
		if top-above > dualScale/500 {
			o.floor = above + (top-above)/2
		}
		if _, ok := b.walk(n, 0, 0, set{}, set{}, 0); !ok {
			return top, false
		}
		if len(o.found) > 0 {
			return top, true
		}
		top = o.floor
	}
	return max(top, above), true
}

// walk is the walk of once, where a set keeps to what the node asks.
func (b *branch) walk(n *bough, t, depth int, s, ban set, v int64) (some, ok bool) {
	o := b.o
	caps, next := o.level(depth)
	for u := t; u < len(o.order); u++ {
		if o.spent(caps, u, v) {
			return some, true
		}
		i := o.order[u]
		item := n.items[i]
		if !item.and(ban).empty() {
			continue
		}
		if !o.room(caps, next, u) {
			continue
		}
		o.steps += 8
		with := s.or(item)
		if with.count() <= o.exact && len(o.e.fit(with)) == 0 {
			continue
		}
		if o.nodes++; len(o.e.all) > onceSets || o.nodes&63 == 0 && o.over(o.ops()) {
			return some, false
		}
		below, ok := b.walk(n, u+1, depth+1, with, ban.or(n.clash[i]), v+o.worth[u])
		if !ok {
			return some, false
		}
		if !below && v+o.worth[u] > o.floor {
			o.found = append(o.found, pricy{with, v + o.worth[u]})
			below = true
		}
		if some = some || below; len(o.found) >= o.want {
			return true, true
		}
	}
	return some, true
}

// visit searches below a node.
func (b *branch) visit(n *bough) verdict {
	ps, v := b.relaxed(n)
	if ps == nil {
		return v
	}
	if b.round(ps) {
		return reached
	}
	i, j := b.pick(n, ps)
	if i < 0 {
		return b.whole(ps)
	}
	// Together: one item in place of two.
	y := &bough{}
	for k := range n.items {
		if k == i || k == j {
			continue
		}
		y.items, y.clash = append(y.items, n.items[k]), append(y.clash, n.clash[k])
	}
	y.items = append(y.items, n.items[i].or(n.items[j]))
	y.clash = append(y.clash, n.clash[i].or(n.clash[j]))
	// A clash with one is a clash with both.
	for k := range y.items {
		if !y.clash[k].and(y.items[len(y.items)-1]).empty() {
			y.clash[k] = y.clash[k].or(y.items[len(y.items)-1])
		}
	}
	if v := b.visit(y); v != refuted {
		return v
	}
	z := &bough{items: n.items, clash: slices.Clone(n.clash)}
	z.clash[i] = z.clash[i].or(n.items[j])
	z.clash[j] = z.clash[j].or(n.items[i])
	return b.visit(z)
}

// whole takes over a relaxation that is a layout, if all of its sheets fit.
func (b *branch) whole(ps []portion) verdict {
	var done set
	b.sheet = b.sheet[:0]
	for _, p := range ps {
		if p.x < 0.5 {
			continue
		}
		s := p.s.without(done)
		if s.empty() {
			continue
		}
		if s.count() > 12 || len(b.o.e.fit(s)) == 0 {
			return unknown
		}
		done = done.or(s)
		b.sheet = append(b.sheet, s)
	}
	if done.count() == len(b.o.e.kind) && len(b.sheet) <= b.sheets {
		return reached
	}
	return unknown
}

// pick chooses two items that meet on a fractional number of sheets, large
// ones for choice.
func (b *branch) pick(n *bough, ps []portion) (int, int) {
	m := len(n.items)
	meet := make([]float64, m*m)
	for _, p := range ps {
		c := n.column(p.s)
		for k, i := range c.rows {
			for _, j := range c.rows[:k] {
				meet[int(i)*m+int(j)] += p.x
			}
		}
	}
	best, bi, bj := 1e-3, -1, -1
	area := func(i int) (a float64) {
		n.items[i].each(func(k int) { a += b.o.e.in.kinds[b.o.e.kind[k]].area })
		return a / b.o.e.in.bases[0].area
	}
	for i := range m {
		for j := range i {
			x := meet[i*m+j]
			fr := x - math.Floor(x)
			if fr < 1e-3 || fr > 1-1e-3 {
				continue
			}
			if v := fr * (area(i) + area(j)); v > best {
				best, bi, bj = v, i, j
			}
		}
	}
	return bi, bj
}

// round takes the sheets that the relaxation has most of and puts what is left
// where it goes in.
func (b *branch) round(ps []portion) bool {
	e := b.o.e
	slices.SortStableFunc(ps, func(a, b portion) int { return cmp.Compare(b.x, a.x) })
	var done set
	b.sheet = b.sheet[:0]
	for _, p := range ps {
		if len(b.sheet) < b.sheets && p.s.and(done).empty() && p.s.count() <= onceMost && e.light(p.s) && len(e.fit(p.s)) > 0 {
			b.sheet = append(b.sheet, p.s)
			done = done.or(p.s)
		}
	}
	for c := range e.kind {
		if done.has(c) {
			continue
		}
		at, most := -1, -1.0
		for x, s := range b.sheet {
			if s.count() < onceMost && len(e.fit(s.with(c))) > 0 {
				a := 0.0
				s.each(func(i int) { a += e.in.kinds[e.kind[i]].area })
				if a > most {
					at, most = x, a
				}
			}
		}
		switch {
		case at >= 0:
			b.sheet[at] = b.sheet[at].with(c)
		case len(b.sheet) < b.sheets && len(e.fit(set{}.with(c))) > 0:
			b.sheet = append(b.sheet, set{}.with(c))
		default:
			return false
		}
	}
	return true
}

// decide looks for a layout on so many sheets, or for the proof that there is none.
func (p *onceProof) decide(sheets int) ([]set, verdict) {
	if p.exact < onceMost {
		return nil, unknown
	}
	b := &branch{o: p.once, sheets: sheets}
	for j, s := range p.sets {
		if !s.empty() && !p.lp.cols[j].dead {
			b.pool = append(b.pool, s)
		}
	}
	v := b.visit(b.root())
	return b.sheet, v
}
