package layout

import (
	"cmp"
	"slices"
)

// What tight does for one kind of stock is done here for several, and for
// groups: whether all parts fit given counts of sheets. No assembly may waste
// more than all sheets together can spare, so few are worth a look where parts
// all but fill the sheets; then some of them share all parts out or no layout
// does. A layout on fewer of the sheets is one on these as well, so that with
// the counts all smaller ones are refuted.

const (
	mixedMost  = 60_000  // assemblies
	mixedFirst = 10_000  // assemblies for what a small stock wastes
	mixedCells = 24      // by which assemblies are sorted along each side
	mixedShare = 4       // part of the work that goes into it at most
	mixedSpare = 8       // part of the sheets' area that may be to spare
	mixedFails = 400_000 // answers that the search for a cover keeps
)

// mixed builds assemblies in steps that all sizes are whole multiples of.
type mixed struct {
	e      *sets
	unit   int64
	w, h   int64 // the largest sides
	stocks []size
	gapX   []int64
	gapY   []int64
	area   []int64 // of each copy
	groups []set   // copies that must come from one sheet
	from   []set   // copies that may come from each stock
	over   func(ops int64) bool

	counts []int   // of sheets, of each stock
	spare  int64   // area that all of them together need not use
	waste  []int64 // least of a sheet of each stock, as far as is known
	spares []int64 // what a sheet of each stock may waste, -1 where there is none
	top    int64   // the most of them
	assemblies
	cells [mixedCells * mixedCells][]mixedPart
	busy  []int32 // cells that hold any
	least [mixedCells * mixedCells]size

	options [][]mixedSheet // that hold a copy, dear ones first
	failed  map[mixedRest]struct{}
	path    []mixedSheet
	ended   bool
}

// mixedPart is an assembly as partners looks at it. Last are the copies of its
// set when those of each kind are counted from the last one: a set it shares no
// copy with then has no more copies together with it than there are.
type mixedPart struct {
	last        set
	w, h, waste int64
	of          int32
}

// mixedSheet is what a sheet of a stock may hold, and the assembly it is.
type mixedSheet struct {
	s     set
	stock int32
	of    int32
	area  int64
}

// mixedRest is what is left to be laid out, and how many sheets of each stock for it.
type mixedRest struct {
	rest set
	left int64
}

// newMixed gives nil where the problem asks for what it does not know.
func (in *inst) newMixed(over func(ops int64) bool) *mixed {
	if in.flat || in.p.MaxStages > 0 || len(in.units) == 0 || len(in.bases) > 8 {
		return nil
	}
	e := &sets{in: in, at: map[set]int32{}, over: over}
	m := &mixed{e: e, unit: in.unitOf(), over: over}
	for i := range in.bases {
		if len(in.p.Stocks[i].Defects) > 0 {
			return nil
		}
		z := size{in.bases[i].w / m.unit, in.bases[i].h / m.unit}
		m.w, m.h = max(m.w, z.w), max(m.h, z.h)
		m.stocks = append(m.stocks, z)
	}
	if m.w > tightGrid || m.h > tightGrid {
		return nil
	}
	order := make([]int32, len(in.kinds))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(x, y int32) int { return cmp.Compare(in.kinds[y].area, in.kinds[x].area) })
	first := make([]int, len(in.kinds))
	m.from = make([]set, len(in.bases))
	for _, k := range order {
		q := &in.kinds[k]
		if len(e.kind)+len(q.parts) > setsParts {
			return nil
		}
		first[k] = len(e.kind)
		var s set
		for range q.parts {
			s = s.with(len(e.kind))
			e.kind = append(e.kind, k)
			m.area = append(m.area, q.w/m.unit*(q.h/m.unit))
		}
		for i, ok := range q.from {
			if ok {
				m.from[i] = m.from[i].or(s)
			}
		}
		if len(q.parts) > 1 {
			e.same = append(e.same, s)
		}
	}
	for _, u := range in.units {
		if len(u.kinds) == 1 {
			continue
		}
		var s set
		for _, k := range u.kinds {
			for c := range in.kinds[k].parts {
				s = s.with(first[k] + c)
			}
		}
		m.groups = append(m.groups, s)
	}
	t := &tight{e: e, unit: m.unit}
	m.gapX, m.gapY = t.gaps(m.w, true), t.gaps(m.h, false)
	return m
}

// left is the area that the parts leave of sheets.
func (m *mixed) left(counts []int) (spare, whole int64) {
	for i, n := range counts {
		whole += int64(n) * m.stocks[i].w * m.stocks[i].h
	}
	spare = whole
	for _, p := range m.area {
		spare -= p
	}
	return spare, whole
}

// build makes all assemblies, at most so many, for what each stock may waste.
// It says whether the work sufficed.
func (m *mixed) build(spares []int64, most int) bool {
	e := m.e
	m.spares, m.top = spares, slices.Max(spares)
	m.reset()
	for i := range m.cells {
		m.cells[i] = m.cells[i][:0]
	}
	m.busy = m.busy[:0]
	e.singles(m.unit, m.add)
	for i := 0; i < len(m.built); i++ {
		m.sort(int32(i))
		m.partners(int32(i))
		if len(m.built) > most || m.over(e.ops) {
			return false
		}
	}
	return true
}

// narrow finds out what a sheet of each stock wastes at least, small stocks
// first, where few assemblies tell; all others have so much less to spare. It
// is false where the sheets cannot hold all parts.
func (m *mixed) narrow(counts []int) bool {
	m.counts = counts
	m.waste = make([]int64, len(counts))
	var order []int
	for s, n := range counts {
		if n > 0 {
			order = append(order, s)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(m.stocks[a].w*m.stocks[a].h, m.stocks[b].w*m.stocks[b].h)
	})
	for i, s := range order {
		if i == len(order)-1 && counts[s] == 1 {
			break // there is no other sheet that it could help
		}
		if !m.narrowTo(s) {
			break
		}
		if m.more(counts) < 0 {
			return false
		}
	}
	return true
}

// narrowTo finds out what a sheet of one stock wastes at least, by allowing it
// more and more. It is false where the work did not suffice.
func (m *mixed) narrowTo(s int) bool {
	whole := m.stocks[s].w * m.stocks[s].h
	most := m.allow()[s]
	for part := int64(16); part > 0; part /= 2 {
		spares := make([]int64, len(m.counts))
		for t := range spares {
			spares[t] = -1
		}
		spares[s] = most / part
		if !m.build(spares, mixedFirst) {
			return false
		}
		least := min(spares[s]+1, whole) // it may be left empty
		for x := range m.built {
			if a := &m.built[x]; m.whole(a.s) && m.lies(a, s) {
				least = min(least, whole-m.areaOf(a.s))
			}
		}
		if m.waste[s] = least; least <= spares[s] {
			break
		}
	}
	return true
}

// allow gives what a sheet of each stock may waste.
func (m *mixed) allow() []int64 {
	spare := m.more(m.counts)
	spares := make([]int64, len(m.counts))
	for s, n := range m.counts {
		if spares[s] = -1; n > 0 {
			spares[s] = max(spare+m.waste[s], -1)
		}
	}
	return spares
}

// more is what the sheets may waste beyond the least of each.
func (m *mixed) more(counts []int) int64 {
	spare := m.spare
	for s, n := range counts {
		spare -= int64(n) * m.waste[s]
	}
	return spare
}

func (m *mixed) areaOf(s set) (a int64) {
	s.each(func(c int) { a += m.area[c] })
	return a
}

// whole says whether a set has no group in part.
func (m *mixed) whole(s set) bool {
	for _, g := range m.groups {
		if c := s.and(g); !c.empty() && c != g {
			return false
		}
	}
	return true
}

// lies says whether an assembly can be on a sheet of a stock.
func (m *mixed) lies(x *assembly, stock int) bool {
	z := m.stocks[stock]
	return x.w <= z.w && x.h <= z.h && x.s.within(m.from[stock])
}

// sort puts an assembly where partners looks for it.
func (m *mixed) sort(i int32) {
	x := &m.built[i]
	c := int32(x.w*mixedCells/(m.w+1)*mixedCells + x.h*mixedCells/(m.h+1))
	if len(m.cells[c]) == 0 {
		m.busy = append(m.busy, c)
		m.least[c] = size{x.w, x.h}
	}
	last := x.s
	for _, k := range m.e.same {
		t := last.and(k)
		if t.empty() || t == k {
			continue
		}
		last = last.without(t)
		for i, n := k.last(), t.count(); n > 0; i, n = i-1, n-1 {
			last = last.with(i)
		}
	}
	m.cells[c] = append(m.cells[c], mixedPart{last, x.w, x.h, x.waste, i})
	m.least[c] = size{min(m.least[c].w, x.w), min(m.least[c].h, x.h)}
}

// partners joins an assembly to all that are sorted already.
func (m *mixed) partners(i int32) {
	x := m.built[i]
	slack := m.top - x.waste
	m.e.ops += int64(len(m.busy))
	for _, c := range m.busy {
		// The sizes in the cell, from least to most.
		lo := m.least[c]
		hi := size{((int64(c)/mixedCells+1)*(m.w+1) - 1) / mixedCells, ((int64(c)%mixedCells+1)*(m.h+1) - 1) / mixedCells}
		short := func(a, by, from, to, wide int64) int64 {
			switch {
			case to < a:
				return (a - to) * wide
			case from > a:
				return (from - a) * by
			}
			return 0
		}
		side := x.w+lo.w <= m.w && short(x.h, x.w, lo.h, hi.h, lo.w) <= slack
		stack := x.h+lo.h <= m.h && short(x.w, x.h, lo.w, hi.w, lo.h) <= slack
		if !side && !stack {
			continue
		}
		m.e.ops += int64(len(m.cells[c]))/4 + 1
		for j := range m.cells[c] {
			if p := &m.cells[c][j]; p.last.and(x.s) == (set{}) {
				m.join(&x, i, p)
			}
		}
	}
}

// join puts two assemblies side by side and one on the other.
func (m *mixed) join(a *assembly, i int32, b *mixedPart) {
	m.e.ops += 2
	waste := a.waste + b.waste
	beside, above := wasted(size{a.w, a.h}, size{b.w, b.h})
	x := assembly{w: a.w + b.w, h: max(a.h, b.h), waste: waste + beside, a: i, b: b.of, side: true}
	y := assembly{w: max(a.w, b.w), h: a.h + b.h, waste: waste + above, a: i, b: b.of}
	side := x.w <= m.w && x.waste <= m.top && m.holds(&x)
	stack := y.h <= m.h && y.waste <= m.top && m.holds(&y)
	if !side && !stack {
		return
	}
	m.e.ops += 8
	s, _ := m.e.sum(a.s, m.built[b.of].s)
	if side {
		x.s = s
		m.add(x)
	}
	if stack {
		y.s = s
		m.add(y)
	}
}

// add keeps an assembly that can be part of a layout, for all that is known,
// unless another one of the same copies is no larger.
func (m *mixed) add(x assembly) {
	m.e.ops += 8
	if !m.holds(&x) {
		return
	}
	m.keep(x)
}

// holds says whether a sheet of some stock can hold an assembly and waste no
// more than it may. What lies beside it and above it leaves gaps at least.
func (m *mixed) holds(x *assembly) bool {
	for i, spare := range m.spares {
		if z := m.stocks[i]; x.waste <= spare && x.w <= z.w && x.h <= z.h && x.s.within(m.from[i]) &&
			x.waste+m.gapX[z.w-x.w]*x.h+m.gapY[z.h-x.h]*x.w <= spare {
			return true
		}
	}
	return false
}
