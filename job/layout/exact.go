package layout

import (
	"cmp"
	"slices"
)

// A short list is solved by trying everything: for each choice of parts, all
// smallest rectangles that straight cuts can get it from, made from those of
// its halves; then the lightest choice of sheets that shares all parts out.
// Equal parts count as one kind, so a choice is a count of each.
//
// The idea of keeping smallest rectangles is that of P. Y. Wang, "Two algorithms
// for constrained two-dimensional cutting stock problems", Operations Research
// 31 (1983), and of building them up from all pairs, that of the shape curves of
// L. Stockmeyer, "Optimal orientations of cells in slicing floorplan designs",
// Information and Control 57 (1983).

const (
	exactChoices = 4_000
	exactPairs   = 3_000_000
	exactBoxes   = 60_000_000
)

// box is a rectangle with kerf, and how it is made.
type box struct {
	w, h   int64
	a, b   int32 // choices that it joins, a of -1 for a single part
	ai, bi int16 // their boxes
	side   bool  // joined side by side
	turned bool
	kind   int32
}

// exact holds the tables.
type exact struct {
	in     *inst
	n      []int // copies of each kind
	step   []int // of each kind in the number of a choice
	all    int   // number of the choice of all parts
	boxes  [][]box
	ops    int64
	counts [][]int
}

// newExact gives nil where the list is too long for it, or asks for what it
// does not know.
func (in *inst) newExact() *exact {
	if in.p.MaxStages > 0 || len(in.kinds) == 0 || len(in.units) == 0 {
		return nil
	}
	for _, s := range in.p.Stocks {
		if len(s.Defects) > 0 {
			return nil
		}
	}
	e := &exact{in: in}
	size, pairs := 1, 1
	for i := range in.kinds {
		n := len(in.kinds[i].parts)
		e.n = append(e.n, n)
		e.step = append(e.step, size)
		size *= n + 1
		pairs *= (n + 1) * (n + 2) / 2
		if size > exactChoices || pairs > exactPairs {
			return nil
		}
	}
	e.all = size - 1
	e.counts = make([][]int, size)
	for c := range e.counts {
		v := c
		for _, n := range e.n {
			e.counts[c] = append(e.counts[c], v%(n+1))
			v /= n + 1
		}
	}
	return e
}

// parts calls f with every choice a that is part of c, c not empty.
func (e *exact) parts(c int, f func(a int) bool) {
	cs := e.counts[c]
	cur := make([]int, len(cs))
	for a := 0; ; {
		if !f(a) {
			return
		}
		i := 0
		for ; i < len(cs); i++ {
			if cur[i] < cs[i] {
				cur[i]++
				a += e.step[i]
				break
			}
			a -= cur[i] * e.step[i]
			cur[i] = 0
		}
		if i == len(cs) {
			return
		}
	}
}

// build finds the smallest boxes of every choice. It says whether the work
// sufficed.
func (e *exact) build(over func(ops int64) bool) bool {
	in := e.in
	fitsAny := func(w, h int64) bool {
		for i := range in.bases {
			if b := &in.bases[i]; b.qty != 0 && w <= b.w && h <= b.h {
				return true
			}
		}
		return false
	}
	e.boxes = make([][]box, e.all+1)
	var work int64
	for c := 1; c <= e.all; c++ {
		var found []box
		for i, n := range e.counts[c] {
			if n == 1 && c == e.step[i] {
				k := &in.kinds[i]
				if fitsAny(k.w, k.h) {
					found = append(found, box{w: k.w, h: k.h, a: -1, kind: int32(i)})
				}
				if k.turn && fitsAny(k.h, k.w) {
					found = append(found, box{w: k.h, h: k.w, a: -1, kind: int32(i), turned: true})
				}
			}
		}
		e.parts(c, func(a int) bool {
			b := c - a
			if a == 0 || b < a {
				return true
			}
			work++
			for ai := range e.boxes[a] {
				x := &e.boxes[a][ai]
				for bi := range e.boxes[b] {
					y := &e.boxes[b][bi]
					if w, h := x.w+y.w, max(x.h, y.h); fitsAny(w, h) {
						found = append(found, box{w: w, h: h, a: int32(a), b: int32(b), ai: int16(ai), bi: int16(bi), side: true})
					}
					if w, h := max(x.w, y.w), x.h+y.h; !in.flat && fitsAny(w, h) {
						found = append(found, box{w: w, h: h, a: int32(a), b: int32(b), ai: int16(ai), bi: int16(bi)})
					}
				}
				work += int64(len(e.boxes[b]))
			}
			if len(found) > 512 {
				found = smallest(found)
			}
			return true
		})
		e.boxes[c] = slices.Clone(smallest(found))
		e.ops += work / 2
		if work = 0; e.ops > exactBoxes || len(e.boxes[c]) > 1<<14 || over(e.ops) {
			return false
		}
	}
	return true
}

// smallest keeps boxes that no other fits into.
func smallest(bs []box) []box {
	slices.SortStableFunc(bs, func(a, b box) int { return cmp.Or(cmp.Compare(a.w, b.w), cmp.Compare(a.h, b.h)) })
	keep := bs[:0]
	for _, b := range bs {
		if len(keep) == 0 || b.h < keep[len(keep)-1].h {
			keep = append(keep, b)
		}
	}
	return keep
}

// fits gives the box of a choice that fits a stock, or -1. Groups must be
// whole, and the stock allowed for all.
func (e *exact) fits(c, stock int, groupOf []int) int {
	in := e.in
	for i, n := range e.counts[c] {
		if n > 0 && !in.kinds[i].from[stock] {
			return -1
		}
	}
	if !e.wholeGroups(c, groupOf) {
		return -1
	}
	b := &in.bases[stock]
	for i := range e.boxes[c] {
		if x := &e.boxes[c][i]; x.w <= b.w && x.h <= b.h {
			return i
		}
	}
	return -1
}

func (e *exact) wholeGroups(c int, groupOf []int) bool {
	for i, n := range e.counts[c] {
		g := groupOf[i]
		if g < 0 {
			continue
		}
		for j := range groupOf {
			if groupOf[j] == g && (n == e.n[i]) != (e.counts[c][j] == e.n[j]) || n != 0 && n != e.n[i] {
				return false
			}
		}
	}
	return true
}

// solve gives the lightest layout, or none where there is none; ok says
// whether the work sufficed.
func (e *exact) solve(over func(ops int64) bool) (bins []*bin, ok bool) {
	in := e.in
	if !e.build(over) {
		return nil, false
	}
	groupOf := make([]int, len(in.kinds))
	for i := range groupOf {
		groupOf[i] = -1
	}
	for u, un := range in.units {
		for _, k := range un.kinds {
			if in.kinds[k].grouped {
				groupOf[k] = u
			}
		}
	}
	type choice struct {
		w  weight
		ok bool
	}
	cur := make([]choice, e.all+1)
	cur[0].ok = true
	type round struct {
		stock int
		take  []int32
	}
	var rounds []round
	for s := range in.bases {
		b := &in.bases[s]
		if b.qty == 0 {
			continue
		}
		fit := make([]bool, e.all+1)
		any := false
		for c := 1; c <= e.all; c++ {
			fit[c] = e.fits(c, s, groupOf) >= 0
			any = any || fit[c]
		}
		if !any {
			continue
		}
		most := len(in.units)
		if b.qty > 0 {
			most = min(most, b.qty)
		}
		for range most {
			next := slices.Clone(cur)
			take := make([]int32, e.all+1)
			changed := false
			for c := 1; c <= e.all; c++ {
				e.parts(c, func(a int) bool {
					e.ops++
					if a == 0 || !fit[a] || !cur[c-a].ok {
						return true
					}
					w := cur[c-a].w.add(b.weight)
					if !next[c].ok || w.cmp(next[c].w) < 0 {
						next[c] = choice{w: w, ok: true}
						take[c] = int32(a)
						changed = true
					}
					return true
				})
				if over(e.ops) {
					return nil, false
				}
			}
			if !changed {
				break
			}
			cur = next
			rounds = append(rounds, round{s, take})
		}
	}
	if !cur[e.all].ok {
		return nil, true
	}
	units := in.unitsOf()
	c := e.all
	for i := len(rounds) - 1; i >= 0; i-- {
		r := rounds[i]
		if a := int(r.take[c]); a > 0 {
			bins = append(bins, e.bin(a, r.stock, e.fits(a, r.stock, groupOf), units))
			c -= a
		}
	}
	slices.Reverse(bins)
	return bins, true
}

// bin makes a sheet from a box.
func (e *exact) bin(c, stock, i int, units [][]int32) *bin {
	in := e.in
	b := in.newBin(stock, 0)
	var grow func(c, i int) int32
	grow = func(c, i int) int32 {
		x := &e.boxes[c][i]
		if x.a < 0 {
			us := units[x.kind]
			units[x.kind] = us[1:]
			b.area += in.kinds[x.kind].area
			return b.add(knot{w: x.w, h: x.h, up: -1, kid: -1, next: -1, kind: x.kind, unit: us[0], turned: x.turned})
		}
		p, q := grow(int(x.a), int(x.ai)), grow(int(x.b), int(x.bi))
		row := b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: x.side})
		b.merge(row, p)
		b.merge(row, q)
		return row
	}
	b.roots[0] = grow(c, i)
	in.refresh(b)
	return b
}
