package layout

import (
	"cmp"
	"math"
	"slices"
)

// pairs decides whether so many bars suffice: branch and price. At each node
// the pattern relaxation is solved until it needs no more bars than there are,
// or is proved to need more. Then two lengths that meet in a fractional number
// of bars are chosen, and either one of each is joined into one longer length,
// or the two never meet again; one of the two holds for every layout (D. M.
// Ryan, B. A. Foster, "An integer programming approach to scheduling", 1981,
// for single copies; the form with copies is da Silva and Schouery's, see
// filler).
type pairs struct {
	r     *bars
	bars  int   // that there are
	waste int64 // of all bars together: no bar leaves more
	fill  filler
}

// twig is a node of the tree. Its lengths keep their index as long as its
// relaxation goes on from its parent's.
type twig struct {
	w     []int64
	d     []int      // how many of each; 0 for one that has been joined
	of    [][]int32  // the lengths of the problem that each is joined from
	rows  [][]int32  // the rows of the relaxation that each counts in
	clash [][]uint64 // of each, those it must not meet; nil for none at all
	lp    *master    // nil where it must be made afresh
	pool  []filling  // of each column; empty for slack; patterns known where there is no relaxation
	cuts  []cut      // each has a row
}

// verdict is what came of a node.
type verdict int8

const (
	unknown verdict = iota // the budget is at its end
	refuted                // no layout
	reached                // a layout was found
)

// pairsMost is how many lengths the tree takes on: each node on the way down
// keeps a square table of so many rows.
const pairsMost = 500

// decide looks for a layout of so many bars.
func (r *bars) decide(n int) verdict {
	if len(r.d) > pairsMost {
		return unknown
	}
	g, t := r.newPairs(n)
	if g.waste < 0 {
		return refuted
	}
	if v := g.few(t); v != unknown || r.limit(r.ops) {
		return v
	}
	return g.visit(t, 0)
}

// newPairs gives the tree for so many bars and its root.
func (r *bars) newPairs(n int) (*pairs, *twig) {
	g := &pairs{r: r, bars: n}
	g.waste = int64(n) * r.size
	for i, d := range r.d {
		g.waste -= int64(d) * r.w[i]
	}
	g.fill.size, g.fill.short = r.size, min(g.waste, r.size)
	t := &twig{}
	for i, d := range r.d {
		t.w, t.d, t.of = append(t.w, r.w[i]), append(t.d, d), append(t.of, []int32{int32(i)})
	}
	if r.lp != nil {
		for j := range r.lp.cols {
			if c := &r.lp.cols[j]; c.cost == 1 {
				x := filling{rows: slices.Clone(c.rows)}
				for _, v := range c.vals {
					x.n = append(x.n, int32(v))
				}
				x.sort()
				t.pool = append(t.pool, x)
			}
		}
	}
	return g, t
}

func (x *filling) sort() {
	for i := 1; i < len(x.rows); i++ {
		for j := i; j > 0 && x.rows[j] < x.rows[j-1]; j-- {
			x.rows[j], x.rows[j-1] = x.rows[j-1], x.rows[j]
			x.n[j], x.n[j-1] = x.n[j-1], x.n[j]
		}
	}
}

func (x *filling) has(i int32) int32 {
	for k, r := range x.rows {
		if r == i {
			return x.n[k]
		}
	}
	return 0
}

// share is a pattern in the answer of a relaxation and how many bars of it.
type share struct {
	x *filling
	v float64
}

// build makes a node's relaxation afresh.
func (g *pairs) build(n *twig) {
	m := len(n.w)
	all := m + len(n.cuts)
	b, sign, cost := make([]float64, all), make([]float64, all), make([]float64, all)
	pool := make([]filling, all, 2*all+len(n.pool))
	n.rows = nil
	for i := range all {
		b[i], sign[i] = 1, 1
		if i < m {
			b[i], cost[i] = float64(n.d[i]), banned
			n.rows = append(n.rows, []int32{int32(i)})
		}
	}
	for k := range n.cuts {
		n.cuts[k].row = int32(m + k)
	}
	n.lp = newMaster(b, sign, cost)
	for i := range m {
		n.lp.cols[i].dead = true
	}
	for i := range m {
		n.lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
		pool = append(pool, filling{})
	}
	for i := range n.pool {
		if n.room(g, &n.pool[i]) <= g.waste {
			n.lp.add(n.column(&n.pool[i]))
			pool = append(pool, n.pool[i])
		}
	}
	n.pool = pool
}

// room is what a pattern leaves of a bar.
func (n *twig) room(g *pairs, x *filling) int64 {
	room := g.r.size
	for k, t := range x.rows {
		room -= int64(x.n[k]) * n.w[t]
	}
	return room
}

// column gives a pattern its place in the relaxation.
func (n *twig) column(x *filling) column {
	c := column{cost: 1}
	for k, t := range x.rows {
		for _, row := range n.rows[t] {
			c.rows, c.vals = append(c.rows, row), append(c.vals, float64(x.n[k]))
		}
	}
	for k := range n.cuts {
		if n.cuts[k].counts(n, x) {
			c.rows, c.vals = append(c.rows, n.cuts[k].row), append(c.vals, 1)
		}
	}
	return c
}

// banned is the cost of a column that must leave.
const banned = 100

// kill bans the columns that a branch forbids.
func (n *twig) kill(forbid func(x *filling) bool) {
	lp := n.lp
	at := 0
	for j := range lp.cols {
		c := &lp.cols[j]
		if !c.dead && len(n.pool[j].rows) > 0 && forbid(&n.pool[j]) {
			c.dead = true
			if lp.where[j] >= 0 {
				c.cost = banned
			}
		}
		if c.dead && lp.where[j] < 0 {
			continue
		}
		if at != j {
			lp.cols[at], lp.where[at], n.pool[at] = *c, lp.where[j], n.pool[j]
			if row := lp.where[at]; row >= 0 {
				lp.basis[row] = at
			}
		}
		at++
	}
	lp.cols, lp.where, n.pool = lp.cols[:at], lp.where[:at], n.pool[:at]
}

// relaxed solves a node's relaxation; it says whether the node is refuted, and
// else gives an answer of no more bars than there are, as far as can be told.
func (g *pairs) relaxed(n *twig, rounds int) ([]share, verdict) {
	r := g.r
	if n.lp == nil {
		g.build(n)
	}
	lp := n.lp
	for {
		if v, ok := g.price(n); !ok {
			return nil, v
		}
		var ss []share
		for i, j := range lp.basis {
			if lp.x[i] > 1e-7 && len(n.pool[j].rows) > 0 && !lp.cols[j].dead {
				ss = append(ss, share{&n.pool[j], lp.x[i]})
			}
		}
		if rounds--; rounds < 0 || !g.cut(n, ss) {
			return ss, unknown
		}
		if r.limit(r.ops) {
			return nil, unknown
		}
	}
}

// price adds patterns until the relaxation is solved. It is not ok where there
// is no answer.
func (g *pairs) price(n *twig) (verdict, bool) {
	r, lp, f := g.r, n.lp, &g.fill
	f.w, f.clash, f.meets = n.w, n.clash, nil
	penalty := make([]int64, len(n.cuts))
	if len(n.cuts) > 0 {
		f.meets = make([][]meet, len(n.w))
		for k := range n.cuts {
			for t, of := range n.of {
				if c := n.cuts[k].has(of); c > 0 {
					f.meets[t] = append(f.meets[t], meet{int32(k), c})
				}
			}
		}
	}
	values := make([]int64, len(n.w))
	for {
		before := lp.ops
		lp.solve(5000)
		r.ops += (lp.ops - before) / 3
		if r.limit(r.ops) {
			return unknown, false
		}
		var want int64
		for t := range values {
			values[t] = 0
			if n.d[t] == 0 {
				continue
			}
			for _, row := range n.rows[t] {
				values[t] += int64(math.Max(lp.pi[row], 0) * dualScale)
			}
			want += values[t] * int64(n.d[t])
		}
		for k := range n.cuts {
			// No layout has more than one bar that the cut counts.
			penalty[k] = int64(math.Max(-lp.pi[n.cuts[k].row], 0) * dualScale)
			want -= penalty[k]
		}
		found, top := f.fill(values, penalty, n.d, dualScale+dualScale>>22, 30, fillSteps)
		r.ops += f.steps
		f.steps = 0
		if want > 0 && (want-1)/top >= int64(g.bars) {
			return refuted, false
		}
		if len(found) == 0 {
			return unknown, true
		}
		for _, x := range found {
			lp.add(n.column(&x))
			n.pool = append(n.pool, x)
		}
	}
}

// visit searches the tree below a node.
func (g *pairs) visit(n *twig, depth int) verdict {
	rounds := 2
	if depth == 0 {
		rounds = 20
	}
	ss, v := g.relaxed(n, rounds)
	if v == refuted || ss == nil {
		return v
	}
	if g.round(n, ss) {
		return reached
	}
	i, j := g.pick(n, ss)
	if i < 0 {
		return unknown
	}
	if v := g.visit(n.join(i, j), depth+1); v != refuted {
		return v
	}
	next := n.part(i, j)
	n.lp, n.pool = nil, nil // no longer needed, and large
	return g.visit(next, depth+1)
}

// round fixes the patterns that the relaxation has most of and fills the rest
// by simple means.
func (g *pairs) round(n *twig, ss []share) bool {
	r := g.r
	slices.SortStableFunc(ss, func(a, b share) int { return cmp.Compare(b.v, a.v) })
	left := slices.Clone(r.d)
	have := slices.Clone(n.d)
	var fixed [][]int
	for pass := range 2 {
		for _, s := range ss {
			times := int(math.Floor(s.v + 1e-6))
			if pass == 1 {
				if s.v < 0.5 || s.v-math.Floor(s.v) < 0.5 {
					continue
				}
				times = 1
			}
			for ; times > 0; times-- {
				bar := make([]int, len(r.w))
				some := false
				for k, i := range s.x.rows {
					for range min(int(s.x.n[k]), have[i]) {
						have[i]--
						some = true
						for _, o := range n.of[i] {
							bar[o]++
							left[o]--
						}
					}
				}
				if some {
					fixed = append(fixed, bar)
				}
			}
		}
	}
	try := func(rest [][]int) bool {
		if len(fixed)+len(rest) <= g.bars {
			r.best = append(fixed, rest...)
			return true
		}
		return false
	}
	if try(r.bestFit(left)) {
		return true
	}
	rest := r.fullest(left, g.bars-len(fixed))
	return rest != nil && try(rest)
}

// pick chooses the pair to branch on.
func (g *pairs) pick(n *twig, ss []share) (int, int) {
	m := len(n.w)
	meet := map[[2]int32]float64{}
	var keys [][2]int32
	for _, s := range ss {
		for k, i := range s.x.rows {
			for l := k; l < len(s.x.rows); l++ {
				if l == k && s.x.n[k] < 2 {
					continue
				}
				key := [2]int32{i, s.x.rows[l]}
				if _, ok := meet[key]; !ok {
					keys = append(keys, key)
				}
				meet[key] += s.v
			}
		}
	}
	g.r.ops += int64(len(keys) + m)
	best, bi, bj := -1.0, -1, -1
	for _, k := range keys {
		v := meet[k]
		fr := v - math.Floor(v)
		if fr < 1e-5 || fr > 1-1e-5 {
			continue
		}
		score := fr * (1 - fr) * float64(n.w[k[0]]+n.w[k[1]])
		if score > best {
			best, bi, bj = score, int(k[0]), int(k[1])
		}
	}
	if bi >= 0 {
		return bi, bj
	}
	// All pairs meet in whole numbers of bars: any pair of a fractional pattern.
	for _, s := range ss {
		if fr := s.v - math.Floor(s.v); fr < 1e-5 || fr > 1-1e-5 {
			continue
		}
		for k, i := range s.x.rows {
			if s.x.n[k] >= 2 {
				return int(i), int(i)
			}
			if k+1 < len(s.x.rows) {
				return int(i), int(s.x.rows[k+1])
			}
		}
	}
	return -1, -1
}
