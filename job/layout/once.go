package layout

import (
	"cmp"
	"context"
	"slices"
)

// The pattern relaxation takes a sheet with the same part on it twice for a
// pattern, though there is but one such part, and is then often short of the
// truth by a sheet. Here a pattern holds each copy once at most. Which sets of
// copies go on a sheet is found out as they are asked for. Where a set is
// large, only its first few copies are held to fit, and of the others no more
// is asked than that dual feasible functions of the sizes leave room for them:
// that bounds the truth from the right side, and with a few more copies each
// time it comes as near as need be. The functions also cut the search for
// patterns off, in the way that the table of filler does: for every copy and
// the ones after it, they say how much can still be had from what is left.

const (
	onceCells = 1024      // a sheet's area under any of the functions
	onceFns   = 10        // functions in use
	onceApart = 40        // cells by which sizes differ that are not alike to two functions
	onceFew   = 4         // copies of a set that are held to fit at first,
	onceMost  = 10        // and at last
	onceCut   = 8         // from so many on, cuts are made
	onceSets  = 1_500_000 // sets that are looked at
	onceWant  = 60        // patterns found in a round
	onceTake  = 20        // patterns of a round that the linear program takes
	onceSize  = 7         // a pattern of fewer copies is filled up
)

// once prices patterns of one kind of sheet.
type once struct {
	e     *sets
	fns   [][]int32 // area of each kind under each function, in cells
	exact int       // copies of a set that are held to fit

	order   []int32   // copies that are worth anything, dear ones first
	worth   []int64   // of each in that order
	needs   [][]int32 // area of each in that order, under each function
	table   [][]int64 // most that those from one on are worth in so many cells
	caps    [][]int32 // cells left at each depth
	meets   [][]int32 // cuts that count each copy
	met     []int32   // copies of each cut in the set in hand
	trios   []set     // copies of each cut
	penalty []int64   // of a sheet that a cut counts
	floor   int64     // only sets worth more are wanted
	found   []pricy
	want    int // patterns after which to stop
	nodes   int
	steps   int64
	over    func(ops int64) bool
}

// pricy is a set and what it is worth.
type pricy struct {
	s set
	v int64
}

func (in *inst) newOnce(over func(ops int64) bool) *once {
	e := in.newSets(over)
	if e == nil {
		return nil
	}
	e.from = append(e.from, 0)
	o := &once{e: e, exact: onceFew, over: over, meets: make([][]int32, len(e.kind))}
	o.fns = in.effective()
	o.needs, o.table = make([][]int32, len(o.fns)), make([][]int64, len(o.fns))
	return o
}

// effective picks dual feasible functions that differ, strong ones first, and
// gives the area of each kind under each in cells, rounded down.
func (in *inst) effective() [][]int32 {
	kinds, b := in.rounded()
	var ws, hs []int64
	for i := range kinds {
		k := &kinds[i]
		ws, hs = append(ws, k.w), append(hs, k.h)
		if k.turn {
			ws, hs = append(ws, k.h), append(hs, k.w)
		}
	}
	type fn struct {
		cells []int32
		sum   int64
	}
	var all []fn
	gs := duals(b.h, hs, 40)
	for _, f := range duals(b.w, ws, 40) {
		for _, g := range gs {
			whole := f.whole * g.whole
			if whole == 0 {
				continue
			}
			x := fn{cells: make([]int32, len(kinds))}
			for j := range kinds {
				k := &kinds[j]
				v := int64(-1)
				if k.w <= b.w && k.h <= b.h {
					v = f.of(k.w) * g.of(k.h)
				}
				if k.turn && k.h <= b.w && k.w <= b.h {
					if u := f.of(k.h) * g.of(k.w); v < 0 || u < v {
						v = u
					}
				}
				x.cells[j] = int32(max(v, 0) * onceCells / whole)
				x.sum += int64(x.cells[j]) * int64(len(k.parts))
			}
			all = append(all, x)
		}
	}
	fns := [][]int32{all[0].cells} // plain area
	slices.SortStableFunc(all, func(a, b fn) int { return cmp.Compare(b.sum, a.sum) })
	for _, x := range all {
		alike := slices.ContainsFunc(fns, func(y []int32) bool {
			n := 0
			for j, c := range x.cells {
				if max(c-y[j], y[j]-c) > onceApart {
					n++
				}
			}
			return n < max(len(kinds)/8, 1)
		})
		if !alike {
			fns = append(fns, x.cells)
		}
		if len(fns) == onceFns {
			break
		}
	}
	return fns
}

// fit gives the smallest rectangles of a set; none where no sheet holds it.
func (e *sets) fit(s set) []size {
	s = e.canon(s)
	if i, ok := e.at[s]; ok {
		return e.boxes[e.from[i]:e.from[i+1]]
	}
	e.ops++
	var bs []size
	switch {
	case s.count() == 1:
		bs = e.single(s.first())
	case e.light(s) && e.fitLess(s):
		bs = e.join(s)
	}
	e.keep(s, bs)
	return bs
}

// fitLess says whether a set fits without any one of its copies.
func (e *sets) fitLess(s set) bool {
	ok := true
	s.each(func(i int) { ok = ok && len(e.fit(s.without(set{}.with(i)))) > 0 })
	return ok
}

// prepare fills the tables for the values of kinds.
func (o *once) prepare(values []int64) {
	kind := o.e.kind
	o.order, o.worth = o.order[:0], o.worth[:0]
	for i, k := range kind {
		if values[k] > 0 {
			o.order = append(o.order, int32(i))
		}
	}
	slices.SortFunc(o.order, func(a, b int32) int {
		return cmp.Or(cmp.Compare(values[kind[b]], values[kind[a]]), cmp.Compare(kind[a], kind[b]), cmp.Compare(a, b))
	})
	for _, c := range o.order {
		o.worth = append(o.worth, values[kind[c]])
	}
	o.fill(func(f int, c int32) int32 { return o.fns[f][kind[c]] })
}

// fill makes the tables for what is in order, of given areas.
func (o *once) fill(cells func(f int, c int32) int32) {
	const row = onceCells + 1
	n := len(o.order)
	for f := range o.fns {
		o.needs[f] = o.needs[f][:0]
		for _, c := range o.order {
			o.needs[f] = append(o.needs[f], cells(f, c))
		}
		t := slices.Grow(o.table[f][:0], (n+1)*row)[:(n+1)*row]
		o.table[f] = t
		clear(t[n*row:])
		for k := n - 1; k >= 0; k-- {
			to, next := t[k*row:(k+1)*row], t[(k+1)*row:]
			copy(to, next[:row])
			w := int(o.needs[f][k])
			for c := w; c < row; c++ {
				if v := next[c-w] + o.worth[k]; v > to[c] {
					to[c] = v
				}
			}
		}
		o.steps += int64(n * row / 8)
	}
}

// price finds sets that are worth more than above. No set is worth more than
// top; it is not ok where the work did not suffice.
func (o *once) price(values []int64, above int64) (top int64, ok bool) {
	o.prepare(values)
	top = o.start(onceWant)
	for top > above {
		// Well above the least first: good sets are few and soon found.
		o.floor = above
		if top-above > dualScale/500 {
			o.floor = above + (top-above)/2
		}
		if _, ok := o.walk(0, 0, set{}, 0); !ok {
			return top, false
		}
		if len(o.found) > 0 {
			return top, true
		}
		top = o.floor
	}
	return max(top, above), true
}

// start makes ready for a walk that ends with so many patterns; no set is
// worth more than top.
func (o *once) start(want int) (top int64) {
	o.found, o.want = o.found[:0], want
	if len(o.caps) == 0 {
		o.caps = append(o.caps, make([]int32, len(o.fns)))
	}
	top = 1 << 60
	for f := range o.fns {
		o.caps[0][f] = onceCells
		top = min(top, o.table[f][onceCells])
	}
	return top
}

// level gives what the functions leave free at a depth of the walk, and the
// room for what they leave one deeper.
func (o *once) level(depth int) (caps, next []int32) {
	if len(o.caps) == depth+1 {
		o.caps = append(o.caps, make([]int32, len(o.fns)))
	}
	return o.caps[depth], o.caps[depth+1]
}

// spent tells that no set worth more than the floor comes from the copies from
// the u-th on, added to one worth v.
func (o *once) spent(caps []int32, u int, v int64) bool {
	for f, c := range caps {
		if v+o.table[f][u*(onceCells+1)+int(c)] <= o.floor {
			return true
		}
	}
	return false
}

// room takes the u-th copy's needs off and says whether all functions allow it.
func (o *once) room(caps, next []int32, u int) bool {
	for f := range caps {
		if next[f] = caps[f] - o.needs[f][u]; next[f] < 0 {
			return false
		}
	}
	return true
}

// walk tries the copies from t on as additions to a set. It says whether any
// set was found below.
func (o *once) walk(t, depth int, s set, v int64) (some, ok bool) {
	kind := o.e.kind
	caps, next := o.level(depth)
	for u := t; u < len(o.order); u++ {
		if o.spent(caps, u, v) {
			return some, true
		}
		c := int(o.order[u])
		if c > 0 && kind[c] == kind[c-1] && !s.has(c-1) {
			continue
		}
		if !o.room(caps, next, u) {
			continue
		}
		o.steps += 8
		with := s.with(c)
		if depth < o.exact && len(o.e.fit(with)) == 0 {
			continue
		}
		if o.nodes++; len(o.e.all) > onceSets || o.nodes&63 == 0 && o.over(o.ops()) {
			return some, false
		}
		w := v + o.worth[u] - o.meet(c)
		below, ok := o.walk(u+1, depth+1, with, w)
		o.part(c)
		if !ok {
			return some, false
		}
		if !below && w > o.floor {
			o.found = append(o.found, pricy{with, w})
			below = true
		}
		if some = some || below; len(o.found) >= o.want {
			return true, true
		}
	}
	return some, true
}

func (o *once) ops() int64 { return o.steps + o.e.ops }

// grown adds what else goes in, large copies first.
func (o *once) grown(s set) set {
	kind := o.e.kind
	for i := 0; i < len(kind) && s.count() < onceSize; i++ {
		if s.has(i) || i > 0 && kind[i] == kind[i-1] && !s.has(i-1) {
			continue
		}
		if t := s.with(i); o.e.light(t) && !o.dearer(s, i) && len(o.e.fit(t)) > 0 {
			s = t
		}
	}
	return s
}

// dearer says whether a further copy brings a set into a cut that has a penalty.
func (o *once) dearer(s set, c int) bool {
	for _, k := range o.meets[c] {
		if o.penalty[k] > 0 && s.and(o.trios[k]).count() == 1 {
			return true
		}
	}
	return false
}

// sound says whether so many copies of a set fit as are held to, whichever.
func (o *once) sound(s set) bool {
	if s.count() <= o.exact {
		return len(o.e.fit(s)) > 0
	}
	var of []int
	s.each(func(i int) { of = append(of, i) })
	var some func(at, n int, t set) bool
	some = func(at, n int, t set) bool {
		if n == o.exact {
			return len(o.e.fit(t)) > 0
		}
		for i := at; i <= len(of)-o.exact+n; i++ {
			if o.over(o.ops()) || !some(i+1, n+1, t.with(of[i])) {
				return false
			}
		}
		return true
	}
	return some(0, 0, set{})
}

// onceProof is the linear program over patterns of once.
type onceProof struct {
	*once
	lp     *master
	known  int   // columns that come before those from sets
	sets   []set // of each column, empty for slack
	cuts   []trio
	from   int // copies held to fit from which on cuts are made
	values []int64
	asks   int64  // what all parts are worth, less the penalties
	top    int64  // no sheet is worth more
	sheet  []set  // of a layout, where one was found
	hope   func() // called when the answer is near
	gap    int64  // by how much a sheet may be short of the best for patterns to be listed
}

// newProof starts from patterns that are known, cut down to the copies
// there are.
func (o *once) newProof(known []pattern) *onceProof {
	in := o.e.in
	var b, sign, cost []float64
	for i := range in.kinds {
		// A little uneven, against ties.
		b = append(b, float64(len(in.kinds[i].parts))+1e-7*float64(i*7919%101))
		sign, cost = append(sign, 1), append(cost, 4)
	}
	p := &onceProof{once: o, from: onceCut, gap: dualScale / 100 * nearGap, lp: newMaster(b, sign, cost), values: make([]int64, len(in.kinds))}
	for i := range in.kinds {
		p.lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
	}
	p.sets = make([]set, len(p.lp.cols))
	first := make([]int, len(in.kinds)) // copy of each kind
	for i := len(o.e.kind) - 1; i >= 0; i-- {
		first[o.e.kind[i]] = i
	}
	for _, q := range known {
		var s set
		for i, k := range q.kinds {
			for c := range min(int(q.n[i]), len(in.kinds[k].parts)) {
				s = s.with(first[k] + c)
			}
		}
		p.sets = append(p.sets, s)
		p.lp.add(o.e.column(s))
	}
	p.known = len(p.sets)
	return p
}

// exceed looks for an inequality that so many sheets break; it gives none where
// it comes upon a layout.
func (p *onceProof) exceed(sheets int) *need {
	in := p.e.in
	for {
		before := p.lp.ops
		p.lp.solve(3000)
		p.steps += p.lp.ops - before
		n := &need{by: ByPatterns}
		for i := range p.values {
			p.values[i] = int64(max(p.lp.pi[i], 0) * dualScale)
			n.want += p.values[i] * int64(len(in.kinds[i].parts))
		}
		for i, c := range p.cuts {
			// No layout has more than one sheet that the cut counts.
			p.penalty[i] = int64(max(-p.lp.pi[c.row], 0) * dualScale)
			n.want -= p.penalty[i]
		}
		top, ok := p.price(p.values, dualScale+dualScale>>20)
		if n.have = []int64{top}; n.broken([]int{sheets}) {
			return n
		}
		if !ok {
			return nil
		}
		if len(p.found) == 0 {
			// All patterns are in. Those of a layout may be few; else more must be known of them.
			p.asks, p.top = n.want, top
			switch p.near(sheets) {
			case reached:
				return nil
			case refuted:
				return &need{want: int64(sheets) + 1, have: []int64{1}, by: BySearch}
			}
			if !p.more() {
				return nil
			}
		}
		slices.SortStableFunc(p.found, func(a, b pricy) int { return cmp.Compare(b.v, a.v) })
		for _, f := range p.found[:min(len(p.found), onceTake)] {
			s := p.grown(f.s)
			p.sets = append(p.sets, s)
			p.lp.add(p.column(s))
		}
	}
}

// column gives a set its place.
func (p *onceProof) column(s set) column {
	c := p.e.column(s)
	for i := range p.cuts {
		if p.cuts[i].counts(s) {
			c.rows, c.vals = append(c.rows, p.cuts[i].row), append(c.vals, 1)
		}
	}
	return c
}

// more makes the relaxation closer to the truth.
func (p *onceProof) more() bool {
	cut := p.exact >= p.from && p.cut()
	return p.closer() || cut && !p.over(p.ops())
}

// closer holds one copy more to fit, and bans patterns that then do not.
func (p *onceProof) closer() bool {
	if p.exact == onceMost {
		return false
	}
	p.exact++
	for j, s := range p.sets {
		if j < p.known {
			continue // they fit, unless sizes were rounded for them
		}
		if c := &p.lp.cols[j]; !c.dead && !s.empty() && !p.sound(s) {
			if c.dead = true; p.lp.where[j] >= 0 {
				c.cost = banned
			}
		}
	}
	return !p.over(p.ops())
}

// eachOnce bounds the number of sheets by patterns that hold no copy twice.
func (v *solver) eachOnce(ctx context.Context) {
	share := int64(onceShare)
	o := v.in.newOnce(func(ops int64) bool {
		return v.past(ctx, ops, share)
	})
	if o == nil || len(o.e.kind) > onceEach*int(v.low.used) {
		return
	}
	p := o.newProof(v.known)
	p.hope = func() { share = onceNear }
	for !v.enough() && !v.none {
		k := int(v.low.used)
		n := p.exceed(k)
		if n == nil {
			sheets, told := p.sheet, reached
			if sheets == nil {
				sheets, told = p.decide(k)
			}
			if told == reached {
				v.take(o.e.bins(sheets))
			}
			if told != refuted {
				break
			}
			n = &need{want: int64(k) + 1, have: []int64{1}, by: BySearch}
		}
		v.c.needs = append(v.c.needs, *n)
		v.bounds()
	}
	v.spent += o.ops()
}

// onceShare is the part of the work that goes into eachOnce at most, onceNear
// that where the answer is near.
const (
	onceShare = 6
	onceNear  = 2
	onceEach  = 16 // copies for each sheet; where there are more, the few that are held to fit tell nothing
)
