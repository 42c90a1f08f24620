package layout

import (
	"cmp"
	"slices"
)

// twos tells what the best two lengths that go into a room are worth. Where the
// table of filler counts in rounded lengths, its bound is a little too high, which
// is much in a bar that holds three or four; the last two of them are bound here
// by what they truly are.
type twos struct {
	pairs [][2]int32 // by sum, least first; -1 for none
	sums  []int64
	worth []int64 // most of those with such a sum or less
}

const twosMost = 400 // lengths

// readyTwos works the worths out. It gives the least room that may hold three
// lengths, or 0 where twos is not wanted: for an exact table, or too many lengths.
func (f *filler) readyTwos(values []int64) int64 {
	if f.scale == 1 || f.clash != nil || len(f.w) > twosMost {
		return 0
	}
	t := &f.twos
	if t.pairs == nil {
		t.list(f.w, f.size)
		f.steps += int64(len(t.pairs) * 4)
	}
	best := int64(0)
	for k, p := range t.pairs {
		v := max(values[p[0]], 0)
		if p[1] >= 0 {
			v += max(values[p[1]], 0)
		}
		best = max(best, v)
		t.worth[k] = best
	}
	f.steps += int64(len(t.pairs) / 4)
	return 3 * slices.Min(f.w)
}

// list finds all pairs of lengths that go into a bar. A length may be taken
// twice, whether there are two or not: that leaves the worth a bound.
func (t *twos) list(w []int64, size int64) {
	sum := func(p [2]int32) int64 {
		if p[1] < 0 {
			return w[p[0]]
		}
		return w[p[0]] + w[p[1]]
	}
	for i := range int32(len(w)) {
		for j := int32(-1); j <= i; j++ {
			if p := [2]int32{i, j}; sum(p) <= size {
				t.pairs = append(t.pairs, p)
			}
		}
	}
	slices.SortStableFunc(t.pairs, func(a, b [2]int32) int { return cmp.Compare(sum(a), sum(b)) })
	for _, p := range t.pairs {
		t.sums = append(t.sums, sum(p))
	}
	t.worth = make([]int64, len(t.pairs))
}

// most is the worth of the best two, or one, that go into a room.
func (t *twos) most(room int64) int64 {
	lo, hi := 0, len(t.sums)
	for lo < hi {
		if m := int(uint(lo+hi) >> 1); t.sums[m] <= room {
			lo = m + 1
		} else {
			hi = m
		}
	}
	if lo == 0 {
		return 0
	}
	return t.worth[lo-1]
}
