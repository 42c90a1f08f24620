package settle

import (
	"sort"
	"strconv"
)

// dpLimit bounds the table of the exact alignment (cells). Beyond it, unique
// items anchor the alignment first.
const dpLimit = 1 << 21

// align gives a longest common subsequence of a and b as index pairs, in
// order. Over dpLimit cells it is a long common subsequence, not always the
// longest.
func align(a, b []string) [][2]int {
	var out [][2]int
	alignRange(a, b, 0, 0, &out, 0)
	return out
}

func alignRange(a, b []string, ia, ib int, out *[][2]int, depth int) {
	for len(a) > 0 && len(b) > 0 && a[0] == b[0] {
		*out = append(*out, [2]int{ia, ib})
		a, b, ia, ib = a[1:], b[1:], ia+1, ib+1
	}
	tail := 0
	for tail < len(a) && tail < len(b) && a[len(a)-1-tail] == b[len(b)-1-tail] {
		tail++
	}
	ma, mb := a[:len(a)-tail], b[:len(b)-tail]
	switch {
	case len(ma) == 0 || len(mb) == 0:
	case len(ma)*len(mb) <= dpLimit:
		alignExact(ma, mb, ia, ib, out)
	case depth < 40:
		alignUnique(ma, mb, ia, ib, out, depth)
	}
	for k := tail; k > 0; k-- {
		*out = append(*out, [2]int{ia + len(a) - k, ib + len(b) - k})
	}
}

func alignExact(a, b []string, ia, ib int, out *[][2]int) {
	w := len(b) + 1
	t := make([]int32, (len(a)+1)*w)
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			switch {
			case a[i] == b[j]:
				t[i*w+j] = t[(i+1)*w+j+1] + 1
			default:
				t[i*w+j] = max(t[(i+1)*w+j], t[i*w+j+1])
			}
		}
	}
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] == b[j]:
			*out = append(*out, [2]int{ia + i, ib + j})
			i, j = i+1, j+1
		case t[(i+1)*w+j] >= t[i*w+j+1]:
			i++
		default:
			j++
		}
	}
}

// alignUnique anchors on items that occur once on each side, in increasing
// order on both (patience), and aligns what lies between.
func alignUnique(a, b []string, ia, ib int, out *[][2]int, depth int) {
	once := func(s []string) map[string]int {
		m := map[string]int{}
		for i, k := range s {
			if _, seen := m[k]; seen {
				m[k] = -1
			} else {
				m[k] = i
			}
		}
		return m
	}
	ua, ub := once(a), once(b)
	var pairs [][2]int
	for i, k := range a {
		if ua[k] == i {
			if j, ok := ub[k]; ok && j >= 0 {
				pairs = append(pairs, [2]int{i, j})
			}
		}
	}
	pairs = increasing(pairs)
	if len(pairs) == 0 {
		return
	}
	pi, pj := 0, 0
	for _, p := range pairs {
		alignRange(a[pi:p[0]], b[pj:p[1]], ia+pi, ib+pj, out, depth+1)
		*out = append(*out, [2]int{ia + p[0], ib + p[1]})
		pi, pj = p[0]+1, p[1]+1
	}
	alignRange(a[pi:], b[pj:], ia+pi, ib+pj, out, depth+1)
}

// increasing keeps a longest run of pairs whose second numbers increase.
func increasing(pairs [][2]int) [][2]int {
	tops := []int{} // index into pairs of the smallest tail per length
	prev := make([]int, len(pairs))
	for i, p := range pairs {
		k := sort.Search(len(tops), func(x int) bool { return pairs[tops[x]][1] >= p[1] })
		prev[i] = -1
		if k > 0 {
			prev[i] = tops[k-1]
		}
		if k == len(tops) {
			tops = append(tops, i)
		} else {
			tops[k] = i
		}
	}
	if len(tops) == 0 {
		return nil
	}
	out := make([][2]int, len(tops))
	for i, k := tops[len(tops)-1], len(tops)-1; i >= 0; i, k = prev[i], k-1 {
		out[k] = pairs[i]
	}
	return out
}

// gapLimit bounds the items of one gap that are compared pair by pair.
const gapLimit = 64

// matchItems names the items of a side by the items of the base they come
// from: equal ones in order, equal ones that moved, then, between two matched
// neighbours, the most alike (like returns 0 for "not the same item"). The
// result has, for each item of side, the index in base or -1.
func matchItems(base, side []string, like func(i, j int) float64) []int {
	to := make([]int, len(side))
	from := make([]int, len(base))
	for j := range to {
		to[j] = -1
	}
	for i := range from {
		from[i] = -1
	}
	for _, p := range align(base, side) {
		from[p[0]], to[p[1]] = p[1], p[0]
	}
	spine := append([]int(nil), from...)
	loose := map[string][]int{}
	for i, k := range base {
		if from[i] < 0 {
			loose[k] = append(loose[k], i)
		}
	}
	for j, k := range side {
		if to[j] < 0 && len(loose[k]) > 0 {
			i := loose[k][0]
			loose[k] = loose[k][1:]
			from[i], to[j] = j, i
		}
	}
	if like == nil {
		return to
	}
	// gaps of the alignment: base items lo..hi against side items jlo..jhi
	lo, jlo := 0, 0
	for i := 0; i <= len(base); i++ {
		if i < len(base) && spine[i] < 0 {
			continue
		}
		jhi := len(side)
		if i < len(base) {
			jhi = spine[i]
		}
		pairAlike(lo, i, jlo, jhi, from, to, like)
		lo, jlo = i+1, jhi+1
	}
	return to
}

func pairAlike(lo, hi, jlo, jhi int, from, to []int, like func(i, j int) float64) {
	if hi-lo > gapLimit || jhi-jlo > gapLimit {
		return
	}
	type cand struct {
		i, j  int
		score float64
	}
	var cs []cand
	for i := lo; i < hi; i++ {
		for j := jlo; j < jhi; j++ {
			if from[i] < 0 && to[j] < 0 {
				if s := like(i, j); s > 0 {
					cs = append(cs, cand{i, j, s})
				}
			}
		}
	}
	sort.SliceStable(cs, func(x, y int) bool { return cs[x].score > cs[y].score })
	for _, c := range cs {
		if from[c.i] < 0 && to[c.j] < 0 {
			from[c.i], to[c.j] = c.j, c.i
		}
	}
}

// itemKeys turns matches into keys that name the same item alike on all sides:
// the base index for matched items, the content (and how often it came before)
// for added ones.
func itemKeys(side []string, to []int) []string {
	out := make([]string, len(side))
	seen := map[string]int{}
	for j, k := range side {
		if to[j] >= 0 {
			out[j] = baseKey(to[j])
			continue
		}
		out[j] = "+" + k
		if n := seen[k]; n > 0 {
			out[j] += "\x00" + strconv.Itoa(n)
		}
		seen[k]++
	}
	return out
}

// baseKey sorts before every added key.
func baseKey(i int) string {
	s := strconv.Itoa(i)
	return "#000000000"[:10-min(len(s), 9)] + s
}
