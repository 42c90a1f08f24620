package layout

import (
	"cmp"
	"slices"
)

// coverSearch looks for a cover of all parts by a number of sheets.
type coverSearch struct {
	e      *sets
	full   []set
	byPart [][]int32 // the full sets that hold a copy, by the copy with the lowest number of its kind
	weight []int64   // of each copy
	area   []int64
	heavy  int64 // no sheet holds more weight
	whole  int64 // area of a sheet
	failed map[set]int8
	path   []set
	fits   func(s set) bool // where sets may not fit; nil for all do
}

// cover looks for a layout on so many sheets. Ok is false where the work did
// not suffice; found is nil where there is none.
func (e *sets) cover(full []set, sheets int, n *need) (found []set, ok bool) {
	c := e.newCoverSearch(full, e.value, n.have[0])
	var all set
	for i := range e.kind {
		all = all.with(i)
	}
	done, ok := c.run(all, sheets)
	if !ok || !done {
		return nil, ok
	}
	return c.path, true
}

func (e *sets) newCoverSearch(full []set, value []int64, heavy int64) *coverSearch {
	c := &coverSearch{e: e, full: full, heavy: heavy, whole: e.w * e.h, failed: map[set]int8{}}
	c.byPart = make([][]int32, len(e.kind))
	for _, k := range e.kind {
		c.area = append(c.area, e.in.kinds[k].w*e.in.kinds[k].h)
		c.weight = append(c.weight, value[k])
	}
	for x, s := range full {
		s.each(func(i int) { c.byPart[i] = append(c.byPart[i], int32(x)) })
	}
	return c
}

// run says whether the rest can be had from so many sheets. The rest is in
// canonical form: of each kind the copies with the lowest numbers.
func (c *coverSearch) run(rest set, sheets int) (done, ok bool) {
	if rest.empty() {
		return true, true
	}
	var w, a int64
	least, pick := 1<<30, 0
	rest.each(func(i int) {
		w += c.weight[i]
		a += c.area[i]
		// The copy that fewest sets hold.
		if n := len(c.byPart[i]); n < least {
			least, pick = n, i
		}
	})
	if w > c.heavy*int64(sheets) || a > c.whole*int64(sheets) {
		return false, true
	}
	if int(c.failed[rest]) >= sheets {
		return false, true
	}
	c.e.ops += 60
	if len(c.failed) > 1_000_000 || c.e.over(c.e.ops) {
		return false, false
	}
	// Every set with that part, cut down to what is left, must take at least
	// what the other sheets cannot.
	mustW, mustA := w-c.heavy*int64(sheets-1), a-c.whole*int64(sheets-1)
	type option struct {
		s    set
		w, a int64
	}
	var opts []option
	// A set holds a kind's first copies; the one in hand may be a later one of
	// its kind, and then stands for any.
	first := pick
	for first > 0 && c.e.kind[first-1] == c.e.kind[pick] {
		first--
	}
	for _, x := range c.byPart[first] {
		s := c.full[x].and(rest)
		var sw, sa int64
		s.each(func(i int) { sw, sa = sw+c.weight[i], sa+c.area[i] })
		if sw >= mustW && sa >= mustA {
			opts = append(opts, option{s, sw, sa})
		}
	}
	c.e.ops += int64(6 * len(c.byPart[first]))
	slices.SortFunc(opts, func(a, b option) int {
		return cmp.Or(cmp.Compare(b.w, a.w), cmp.Compare(a.s[1], b.s[1]), cmp.Compare(a.s[0], b.s[0]))
	})
	opts = slices.CompactFunc(opts, func(a, b option) bool { return a.s == b.s })
	var used []set
	for i := 0; i < len(opts); i++ {
		o := opts[i]
		// A set within another is no use.
		c.e.ops += int64(len(used))
		if slices.ContainsFunc(used, o.s.within) {
			continue
		}
		if c.fits != nil && !c.fits(o.s) {
			// One without one of its copies may.
			o.s.each(func(k int) {
				t := c.e.canon(o.s.without(set{}.with(k)))
				if w, a := o.w-c.weight[k], o.a-c.area[k]; w >= mustW && a >= mustA && t.has(first) && !slices.ContainsFunc(opts, func(p option) bool { return p.s == t }) {
					opts = append(opts, option{t, w, a})
				}
			})
			continue
		}
		used = append(used, o.s)
		c.path = append(c.path, o.s)
		done, ok := c.run(c.e.canon(rest.without(o.s)), sheets-1)
		if done || !ok {
			return done, ok
		}
		c.path = c.path[:len(c.path)-1]
	}
	c.failed[rest] = int8(min(sheets, 127))
	return false, true
}
