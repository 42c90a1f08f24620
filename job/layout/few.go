package layout

import (
	"cmp"
	"math"
	"slices"
)

// Where the relaxation needs as many bars as there are, few patterns are worth
// enough to have a place in a layout: what the others can hold at most leaves each
// bar with a least worth (the idea of R. Baldacci, N. Christofides, A. Mingozzi,
// "An exact algorithm for the vehicle routing problem based on the set
// partitioning formulation with additional cuts", Mathematical Programming 115
// (2008)). All of them are listed, and the tree goes on with the list alone:
// nothing is left to be found, each bound thins the list out, and no row may
// hold more than is wanted.
type few struct {
	g      *pairs
	stop   int64   // work at which to give up
	values []int64 // by length, of either sign
}

const (
	fewMost  = 20_000    // patterns in the list
	fewSteps = 3_000_000 // to list them
	fewTries = 12        // pairs looked at before one is branched on
	fewWork  = 1_000_000 * opsPerUnit
)

// few decides by the list, where it is short.
func (g *pairs) few(t *twig) verdict {
	r, f := g.r, &g.fill
	if f.short >= f.size {
		return unknown // fillings may then lack lengths of no value
	}
	if t.lp == nil {
		g.build(t)
	}
	if v, ok := g.price(t); !ok {
		return v
	}
	values := make([]int64, len(t.w))
	var want int64
	for i := range values {
		values[i] = int64(math.Max(t.lp.pi[i], 0) * dualScale)
		want += values[i] * int64(t.d[i])
	}
	// For top, and for the table.
	_, top := f.fill(values, nil, t.d, dualScale+dualScale>>22, 1, fillSteps)
	list, ok := f.list(values, t.d, want-int64(g.bars-1)*top)
	r.ops += f.steps
	f.steps = 0
	if !ok {
		return unknown
	}
	n := &twig{w: t.w, d: t.d, of: t.of, rows: t.rows}
	m := len(n.w)
	b, sign, cost := make([]float64, m), make([]float64, m), make([]float64, m)
	for i, d := range n.d {
		b[i], sign[i], cost[i] = float64(d), 1, banned
	}
	n.lp = newMaster(b, sign, cost)
	n.pool = make([]filling, m)
	for i := range m {
		n.lp.cols[i].dead = true
	}
	for i := range list {
		n.lp.add(n.column(&list[i]))
		n.pool = append(n.pool, list[i])
	}
	w := &few{g: g, values: values, stop: r.ops + fewWork}
	return w.visit(n, 4)
}

// list gives all fillings worth at least so much, at the values that the table
// is for. It is not ok where they are too many.
func (f *filler) list(values []int64, most []int, least int64) (all []filling, ok bool) {
	n, steps := len(f.order), 0
	clear(f.cur)
	var walk func(t int, room, v int64) bool
	walk = func(t int, room, v int64) bool {
		for ; t < n && v+f.table[t][room/f.scale] >= least; t++ {
			i := f.order[t]
			if f.w[i] > room {
				continue
			}
			if steps++; steps > fewSteps {
				return false
			}
			for k := min(int(room/f.w[i]), most[i]); k > 0; k-- {
				f.cur[i] = k
				ok := walk(t+1, room-int64(k)*f.w[i], v+int64(k)*values[i])
				f.cur[i] = 0
				if !ok {
					return false
				}
			}
		}
		if t == n && v >= least && room <= f.short {
			x := f.take(v)
			x.sort()
			all = append(all, x)
		}
		return len(all) <= fewMost
	}
	ok = walk(0, f.size, 0)
	f.steps += int64(steps) * 8
	return all, ok
}

// bound solves a node's relaxation and thins its list out. It says whether the
// node is refuted; reached stands for a relaxation that is solved.
func (w *few) bound(n *twig) verdict {
	r, lp := w.g.r, n.lp
	penalty := make([]int64, len(n.cuts))
	worth := func(x *filling) (v int64) {
		v = x.worth(w.values)
		for k := range n.cuts {
			if penalty[k] > 0 && n.cuts[k].counts(n, x) {
				v -= penalty[k]
			}
		}
		return v
	}
	for {
		before := lp.ops
		lp.solve(5000)
		r.ops += (lp.ops-before)/3 + int64(len(lp.cols))
		if r.limit(r.ops) || r.ops > w.stop {
			return unknown
		}
		var want int64
		top := int64(1)
		for i := range w.values {
			w.values[i] = int64(lp.pi[i] * dualScale)
			want += w.values[i] * int64(n.d[i])
		}
		for k := range n.cuts {
			// No layout has more than one bar that the cut counts.
			penalty[k] = int64(math.Max(-lp.pi[n.cuts[k].row], 0) * dualScale)
			want -= penalty[k]
		}
		for j := range lp.cols {
			if x := &n.pool[j]; !lp.cols[j].dead && len(x.rows) > 0 {
				top = max(top, worth(x))
			}
		}
		// All bars together hold what is wanted, and none more than the top.
		if want > top*int64(w.g.bars) {
			return refuted
		}
		// What the others cannot hold a bar must.
		least := want - top*int64(w.g.bars-1)
		used := w.banned(lp)
		n.kill(func(x *filling) bool { return worth(x) < least })
		again, stuck := w.banned(lp) > used, used > 0
		switch {
		case again:
			continue
		case stuck: // it cannot do without what it must not use, and no whole numbers show it
			return unknown
		}
		return reached
	}
}

// banned counts what a relaxation uses and must not.
func (w *few) banned(lp *master) (c int) {
	for i, j := range lp.basis {
		if lp.cols[j].dead && lp.x[i] > 1e-7 {
			c++
		}
	}
	return c
}

// live counts the patterns left.
func (n *twig) live() (c int) {
	for j := range n.lp.cols {
		if !n.lp.cols[j].dead && len(n.pool[j].rows) > 0 {
			c++
		}
	}
	return c
}

// answer lists what the relaxation has.
func (n *twig) answer() (ss []share) {
	for i, j := range n.lp.basis {
		if n.lp.x[i] > 1e-7 && len(n.pool[j].rows) > 0 && !n.lp.cols[j].dead {
			ss = append(ss, share{&n.pool[j], n.lp.x[i]})
		}
	}
	return ss
}

// visit searches the tree below a node, whose relaxation is solved.
func (w *few) visit(n *twig, rounds int) verdict {
	for ; ; rounds-- {
		if v := w.bound(n); v != reached {
			return v
		}
		if rounds <= 0 || !w.g.cut(n, n.answer()) {
			break
		}
	}
	for {
		ss := n.answer()
		if w.g.round(n, ss) {
			return reached
		}
		// The pair whose two nodes have fewest patterns left.
		var kids [2]*twig
		best := math.Inf(1)
		settled := false
		for _, p := range w.pick(n, ss) {
			var c [2]*twig
			score := 0.0
			for side := range c {
				k := n.child()
				k.clash = nil
				k.kill(func(x *filling) bool {
					i, j := x.has(p[0]) > 0, x.has(p[1]) > 0
					return i && j == (side == 0)
				})
				switch w.bound(k) {
				case unknown:
					return unknown
				case reached:
					c[side] = k
					score += math.Pow(float64(k.live()), 4)
				}
			}
			switch {
			case c[0] == nil && c[1] == nil:
				return refuted
			case c[0] == nil || c[1] == nil:
				if c[0] == nil {
					c[0] = c[1]
				}
				n, settled = c[0], true
			case score < best:
				best, kids = score, c
			}
			if settled {
				break
			}
		}
		if settled {
			continue // one of the two does not hold: go on with the other
		}
		if kids[0] == nil {
			return unknown
		}
		n.lp, n.pool = nil, nil
		for side := range kids {
			k := kids[1-side]
			kids[1-side] = nil
			if v := w.visit(k, 1); v != refuted {
				return v
			}
		}
		return refuted
	}
}

// pick lists pairs to branch on, the first one a length of which one is wanted:
// its bar holds some of the other, or none.
func (w *few) pick(n *twig, ss []share) (ps [][2]int32) {
	meet := map[[2]int32]float64{}
	type scored struct {
		p [2]int32
		v float64
	}
	var all []scored
	for _, s := range ss {
		for _, i := range s.x.rows {
			if n.d[i] != 1 {
				continue
			}
			for _, j := range s.x.rows {
				if j == i || n.d[j] == 1 && j < i {
					continue
				}
				p := [2]int32{i, j}
				if meet[p] == 0 {
					all = append(all, scored{p: p})
				}
				meet[p] += s.v
			}
		}
	}
	w.g.r.ops += int64(len(all))
	at := 0
	for _, a := range all {
		if v := meet[a.p]; v > 1e-5 && v < 1-1e-5 {
			all[at] = scored{a.p, v * (1 - v) * float64(n.w[a.p[0]]+n.w[a.p[1]])}
			at++
		}
	}
	all = all[:at]
	slices.SortStableFunc(all, func(a, b scored) int { return cmp.Compare(b.v, a.v) })
	for _, a := range all[:min(len(all), fewTries)] {
		ps = append(ps, a.p)
	}
	return ps
}
