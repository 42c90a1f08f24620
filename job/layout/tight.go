package layout

import (
	"context"
	"slices"
)

// Where parts leave next to nothing of so many sheets, few assemblies are
// worth a look: none may waste more by itself than all sheets together can
// spare. All of those are built, from pairs (P. Y. Wang, see exact, from whom
// the limit on waste is too), and then either some of them share all parts out
// or no layout does. So it is soon told whether a list that just about fits one
// sheet by its area fits it indeed.

const (
	tightMost  = 30_000  // assemblies
	tightGrid  = 1 << 14 // steps of a side, up to which gaps are looked at
	tightShare = 16      // part of the work that goes into it at most
	tightSpare = 12      // part of a sheet that may be to spare
	tightPairs = 3       // pairs looked at that count as a step
)

// tight builds assemblies, in steps that all sizes are whole multiples of.
type tight struct {
	e     *sets
	unit  int64
	w, h  int64
	spare int64 // area that all sheets together need not use
	gapX  []int64
	gapY  []int64
	assemblies
	area []int64 // of each copy
	over func(ops int64) bool
}

// assembly is a rectangle that straight cuts part into the copies of a set.
type assembly struct {
	s           set
	w, h, waste int64
	a, b        int32 // what it is joined from, a of -1 for a single copy
	side        bool  // joined side by side
	turned      bool
}

// assemblies are those built so far.
type assemblies struct {
	built []assembly
	bySet map[set][]int32
}

func (a *assemblies) reset() { a.built, a.bySet = a.built[:0], map[set][]int32{} }

// keep adds an assembly, unless another one of the same copies is no larger.
func (a *assemblies) keep(x assembly) {
	have := a.bySet[x.s]
	for _, i := range have {
		if y := &a.built[i]; y.w <= x.w && y.h <= x.h {
			return
		}
	}
	a.bySet[x.s] = append(have, int32(len(a.built)))
	a.built = append(a.built, x)
}

// newTight gives nil where the problem asks for what it does not know.
func (in *inst) newTight(over func(ops int64) bool) *tight {
	e := in.newSets(over)
	if e == nil || len(e.kind) == 0 {
		return nil
	}
	g := in.unitOf()
	t := &tight{e: e, unit: g, w: e.w / g, h: e.h / g, over: over}
	for _, k := range e.kind {
		t.area = append(t.area, in.kinds[k].w/g*(in.kinds[k].h/g))
	}
	e.value = make([]int64, len(in.kinds))
	t.gapX, t.gapY = t.gaps(t.w, true), t.gaps(t.h, false)
	return t
}

// gaps says of every length up to a side how much of it no parts side by side
// can take up; nil where there are too many.
func (t *tight) gaps(side int64, alongX bool) []int64 {
	if side > tightGrid {
		return nil
	}
	ok := make([]bool, side+1)
	ok[0] = true
	for _, k := range t.e.kind {
		q := &t.e.in.kinds[k]
		a, b := q.w/t.unit, q.h/t.unit
		if !alongX {
			a, b = b, a
		}
		for v := side; v > 0; v-- {
			ok[v] = ok[v] || v >= a && ok[v-a] || q.turn && v >= b && ok[v-b]
		}
		t.e.ops += side / 16
	}
	gap := make([]int64, side+1)
	for v := range gap {
		if !ok[v] {
			gap[v] = gap[v-1] + 1
		}
	}
	return gap
}

// left is the area that the parts leave of so many sheets.
func (t *tight) left(sheets int) int64 {
	a := int64(sheets) * t.w * t.h
	for _, p := range t.area {
		a -= p
	}
	return a
}

// build makes all assemblies for so many sheets. It says whether the work
// sufficed.
func (t *tight) build(sheets int) bool {
	e := t.e
	t.spare = t.left(sheets)
	t.reset()
	if t.spare < 0 {
		return true
	}
	e.singles(t.unit, t.add)
	for i := 0; i < len(t.built); i++ {
		for j := 0; j <= i; j++ {
			t.join(int32(i), int32(j))
		}
		t.e.ops += int64(i)/tightPairs + 1
		if len(t.built) > tightMost || t.over(t.e.ops) {
			return false
		}
	}
	return true
}

// singles calls add with every kind by itself, each way it may lie.
func (e *sets) singles(unit int64, add func(assembly)) {
	for i, k := range e.kind {
		if i > 0 && e.kind[i-1] == k {
			continue
		}
		q := &e.in.kinds[k]
		w, h := q.w/unit, q.h/unit
		add(assembly{s: set{}.with(i), w: w, h: h, a: -1})
		if q.turn {
			add(assembly{s: set{}.with(i), w: h, h: w, a: -1, turned: true})
		}
	}
}

// wasted is the area that two rectangles leave free, side by side and one on the
// other.
func wasted(a, b size) (beside, above int64) {
	dh, dw := a.h-b.h, a.w-b.w
	byX, byY := b.w, b.h // along which the lower and the narrower one falls short
	if dh < 0 {
		dh, byX = -dh, a.w
	}
	if dw < 0 {
		dw, byY = -dw, a.h
	}
	return dh * byX, dw * byY
}

// join puts two assemblies side by side and one on the other.
func (t *tight) join(i, j int32) {
	a, b := &t.built[i], &t.built[j]
	waste := a.waste + b.waste
	beside, above := wasted(size{a.w, a.h}, size{b.w, b.h})
	side := a.w+b.w <= t.w && waste+beside <= t.spare
	stack := a.h+b.h <= t.h && waste+above <= t.spare
	if !side && !stack {
		return
	}
	s, ok := t.e.sum(a.s, b.s)
	if !ok {
		return
	}
	x := assembly{s: s, w: a.w + b.w, h: max(a.h, b.h), waste: waste + beside, a: i, b: j, side: true}
	y := assembly{s: s, w: max(a.w, b.w), h: a.h + b.h, waste: waste + above, a: i, b: j}
	if side {
		t.add(x)
	}
	if stack {
		t.add(y)
	}
}

// add keeps an assembly that can be part of a layout, for all that is known,
// unless another one of the same copies is no larger.
func (t *tight) add(x assembly) {
	if x.w > t.w || x.h > t.h {
		return
	}
	// What lies beside it and above it leaves gaps at least.
	waste := x.waste
	if t.gapX != nil {
		waste += t.gapX[t.w-x.w] * x.h
	}
	if t.gapY != nil {
		waste += t.gapY[t.h-x.h] * x.w
	}
	if waste > t.spare {
		return
	}
	t.e.ops += 8
	t.keep(x)
}

// sum joins two sets in canonical form, and says whether there are as many
// copies.
func (e *sets) sum(a, b set) (set, bool) {
	for _, k := range e.same {
		x, y := a.and(k), b.and(k)
		if x.empty() || y.empty() {
			continue
		}
		n := x.count() + y.count()
		if n > k.count() {
			return set{}, false
		}
		b = b.without(k)
		for i := k.first(); n > 0; i, n = i+1, n-1 {
			a = a.with(i)
		}
	}
	return a.or(b), a.and(b).empty()
}

// whole gives the sets that can be all that a sheet holds.
func (t *tight) whole() (full []set) {
	seen := map[set]bool{}
	for i := range t.built {
		s := t.built[i].s
		if seen[s] {
			continue
		}
		seen[s] = true
		left := t.w * t.h
		s.each(func(i int) { left -= t.area[i] })
		if left <= t.spare {
			full = append(full, s)
		}
	}
	return full
}

// bin makes a sheet of the copies of a set, from an assembly that has them all
// and may have more.
func (t *tight) bin(s set, units [][]int32) *bin {
	in := t.e.in
	i := slices.IndexFunc(t.built, func(x assembly) bool { return s.within(x.s) })
	left := make([]int, len(in.kinds))
	s.each(func(c int) { left[t.e.kind[c]]++ })
	b := in.newBin(0, 0)
	var grow func(i int32) int32
	grow = func(i int32) int32 {
		x := &t.built[i]
		if x.a < 0 {
			kd := t.e.kind[x.s.first()]
			if left[kd] == 0 {
				return -1
			}
			left[kd]--
			return in.leaf(b, kd, x.turned, units)
		}
		p, q := grow(x.a), grow(x.b)
		if p < 0 || q < 0 {
			return max(p, q)
		}
		row := b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: x.side})
		b.merge(row, p)
		b.merge(row, q)
		return row
	}
	b.roots[0] = grow(int32(i))
	in.refresh(b)
	return b
}

// decide looks for a layout on so many sheets, or for the proof that there is none.
func (t *tight) decide(sheets int) ([]*bin, verdict) {
	if !t.build(sheets) {
		return nil, unknown
	}
	found, ok := t.e.cover(t.whole(), sheets, &need{have: []int64{0}})
	if !ok {
		return nil, unknown
	}
	if found == nil {
		return nil, refuted
	}
	units := t.e.in.unitsOf()
	var bins []*bin
	for _, s := range found {
		bins = append(bins, t.bin(s, units))
	}
	return bins, reached
}

// tightly asks whether parts that all but fill so many sheets fit them.
func (v *solver) tightly(ctx context.Context) {
	t := v.in.newTight(func(ops int64) bool {
		return v.past(ctx, ops, tightShare)
	})
	if t == nil {
		return
	}
	defer func() { v.spent += t.e.ops }()
	for !v.enough() && !v.none {
		k := int(v.low.used)
		if t.left(k) > t.w*t.h/tightSpare {
			return
		}
		bins, told := t.decide(k)
		switch told {
		case unknown:
			return
		case reached:
			v.take(bins)
		case refuted:
			v.c.needs = append(v.c.needs, need{want: int64(k) + 1, have: []int64{1}, by: BySearch})
			v.bounds()
		}
	}
}
