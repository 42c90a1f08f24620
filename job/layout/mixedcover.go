package layout

import (
	"cmp"
	"context"
	"slices"
)

// sheets lists what a sheet of each stock can hold, under the copies held.
func (m *mixed) sheets() {
	m.options = make([][]mixedSheet, len(m.e.kind))
	var all []mixedSheet
	type key struct {
		s     set
		stock int32
	}
	seen := map[key]bool{}
	for of := range m.built {
		x := &m.built[of]
		m.e.ops += 4
		if !m.whole(x.s) {
			continue
		}
		a := m.areaOf(x.s)
		for i, z := range m.stocks {
			k := key{x.s, int32(i)}
			if z.w*z.h-a > m.spares[i] || !m.lies(x, i) || seen[k] {
				continue
			}
			seen[k] = true
			all = append(all, mixedSheet{x.s, int32(i), int32(of), a})
		}
	}
	slices.SortStableFunc(all, func(a, b mixedSheet) int { return cmp.Compare(b.area, a.area) })
	for _, o := range all {
		o.s.each(func(c int) { m.options[c] = append(m.options[c], o) })
		m.e.ops += 8
	}
}

// cover says whether the rest can be had from the sheets left. They may waste
// so much more than the least. The rest holds of each kind the copies with the lowest numbers.
func (m *mixed) cover(rest set, left []int, spare int64) bool {
	if rest.empty() {
		return true
	}
	key := mixedRest{rest: rest}
	for _, n := range left {
		key.left = key.left*int64(setsParts+1) + int64(n)
	}
	m.e.ops += 60
	if _, ok := m.failed[key]; ok {
		return false
	}
	if len(m.failed) > mixedFails || m.over(m.e.ops) {
		m.ended = true
		return false
	}
	// The kind whose first copy fewest sheets hold; a sheet with any has that.
	fewest, pick := 1<<30, 0
	rest.each(func(i int) {
		if i > 0 && m.e.kind[i-1] == m.e.kind[i] {
			return
		}
		if n := len(m.options[i]); n < fewest {
			fewest, pick = n, i
		}
	})
	for x := range m.options[pick] {
		o := &m.options[pick][x]
		z := m.stocks[o.stock]
		waste := z.w*z.h - o.area
		if left[o.stock] == 0 || waste > spare+m.waste[o.stock] || !o.s.within(rest) {
			continue
		}
		left[o.stock]--
		m.path = append(m.path, *o)
		m.e.ops += 4
		if m.cover(m.e.canon(rest.without(o.s)), left, spare+m.waste[o.stock]-waste) {
			return true
		}
		left[o.stock]++
		if m.ended {
			return false
		}
		m.path = m.path[:len(m.path)-1]
	}
	m.e.ops += int64(fewest) / 4
	m.failed[key] = struct{}{}
	return false
}

// decide looks for a layout on such counts of sheets, or for the proof that
// there is none.
func (m *mixed) decide(counts []int) ([]*bin, verdict) {
	if m.spare, _ = m.left(counts); m.spare < 0 {
		return nil, refuted
	}
	if !m.narrow(counts) {
		return nil, refuted
	}
	if !m.build(m.allow(), mixedMost) {
		return nil, unknown
	}
	m.sheets()
	m.failed, m.path, m.ended = map[mixedRest]struct{}{}, nil, false
	var all set
	for i := range m.e.kind {
		all = all.with(i)
	}
	switch found := m.cover(all, slices.Clone(counts), m.more(counts)); {
	case m.ended:
		return nil, unknown
	case !found:
		return nil, refuted
	}
	units := m.e.in.unitsOf()
	var bins []*bin
	for _, o := range m.path {
		bins = append(bins, m.bin(o, units))
	}
	return bins, reached
}

// bin makes a sheet of an assembly.
func (m *mixed) bin(o mixedSheet, units [][]int32) *bin {
	in := m.e.in
	b := in.newBin(int(o.stock), 0)
	var grow func(i int32) int32
	grow = func(i int32) int32 {
		x := &m.built[i]
		if x.a < 0 {
			return in.leaf(b, m.e.kind[x.s.first()], x.turned, units)
		}
		p, q := grow(x.a), grow(x.b)
		row := b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: x.side})
		b.merge(row, p)
		b.merge(row, q)
		return row
	}
	b.roots[0] = grow(o.of)
	in.refresh(b)
	return b
}

// mixedly asks of one count of sheets after another, light ones first, whether
// all parts fit them.
func (v *solver) mixedly(ctx context.Context) {
	if len(v.in.bases) < 2 {
		return
	}
	m := v.in.newMixed(func(ops int64) bool {
		return v.past(ctx, ops, mixedShare)
	})
	if m == nil {
		return
	}
	defer func() { v.spent += m.e.ops }()
	for !v.enough() && !v.none {
		counts := v.bounds()
		if counts == nil || v.enough() || v.none {
			return
		}
		if spare, whole := m.left(counts); spare > whole/mixedSpare {
			return
		}
		bins, told := m.decide(counts)
		switch told {
		case unknown:
			return
		case reached:
			v.takeMixed(bins)
		case refuted:
			v.c.refute(counts)
			v.bounds()
		}
	}
}

// takeMixed makes sheets that hold all parts the best layout, if they weigh less.
func (v *solver) takeMixed(bins []*bin) {
	s := v.s
	var w weight
	for _, b := range bins {
		w = w.add(v.in.bases[b.stock].weight)
	}
	if s.have && s.bestOutArea == 0 && w.cmp(s.bestW) >= 0 {
		return
	}
	s.have, s.best, s.bestOut, s.bestOutArea, s.bestW = true, bins, nil, 0, w
	s.onBest()
}
