package layout

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// Bars of one length: the exact road for parts that count by length alone.
//
// The pattern relaxation with proper patterns (no pattern holds more of a part
// than is wanted) is solved by column generation, its value rounded up is the
// bound, and the bound is nearly always reached: layouts are found by diving,
// which fixes patterns of the fractional answer and solves what is left again
// (G. Belov, G. Scheithauer, "A branch-and-cut-and-price algorithm for
// one-dimensional stock cutting and two-dimensional two-stage cutting",
// European Journal of Operational Research 171 (2006) 85-106).
type bars struct {
	in     *inst
	size   int64   // of a bar, kerf added
	w      []int64 // lengths, kerf added, longest first
	d      []int   // how many are wanted
	kind   []int   // of each length
	lp     *master
	knap   knapsack
	fill   filler
	ops    int64
	limit  func(ops int64) bool
	rng    *rand.Rand
	best   [][]int // one list of counts a bar
	low    int
	lowBy  Proof
	needOf need
}

// newBars gives the exact road, or nil where the problem is of another sort.
func (in *inst) newBars() *bars {
	if !in.flat || len(in.bases) != 1 || len(in.kinds) == 0 || len(in.kinds) > 900 {
		return nil
	}
	b := &in.bases[0]
	if b.qty == 0 || len(b.variants) != 1 || len(b.variants[0].regions) != 1 {
		return nil
	}
	for _, u := range in.units {
		if len(u.kinds) > 1 {
			return nil
		}
	}
	r := &bars{in: in}
	g := in.unitOf()
	r.size = b.variants[0].regions[0].w / g
	for i := range in.kinds {
		r.kind = append(r.kind, i)
	}
	slices.SortStableFunc(r.kind, func(a, b int) int { return cmp.Compare(in.kinds[b].w, in.kinds[a].w) })
	for _, k := range r.kind {
		r.w = append(r.w, in.kinds[k].w/g)
		r.d = append(r.d, len(in.kinds[k].parts))
	}
	r.knap = knapsack{size: r.size, w: r.w}
	r.fill = filler{size: r.size, short: r.size, w: r.w, sharp: true}
	return r
}

// bestFit fills bars with what is left, longest first, each into the bar
// where it leaves least.
func (r *bars) bestFit(left []int) [][]int {
	var all [][]int
	var room []int64
	for i, n := range left {
		for range n {
			at := -1
			for b, v := range room {
				if v >= r.w[i] && (at < 0 || v < room[at]) {
					at = b
				}
			}
			if at < 0 {
				all, room = append(all, make([]int, len(r.w))), append(room, r.size)
				at = len(all) - 1
			}
			all[at][i]++
			room[at] -= r.w[i]
		}
		r.ops += int64(n*len(room)/8 + 1)
	}
	return all
}

// fullest fills one bar after the other, each as full as it can be with the
// longest part left in it.
func (r *bars) fullest(left []int, most int) [][]int {
	left = slices.Clone(left)
	var all [][]int
	for {
		first := slices.IndexFunc(left, func(n int) bool { return n > 0 })
		if first < 0 {
			return all
		}
		if len(all) >= most {
			return nil
		}
		left[first]--
		bar := make([]int, len(r.w))
		bar[first]++
		room := r.size - r.w[first]
		bestRest := room
		var bestBar []int
		steps := 0
		cur := make([]int, len(r.w))
		var walk func(i int, room int64)
		walk = func(i int, room int64) {
			if room < bestRest {
				bestRest, bestBar = room, slices.Clone(cur)
			}
			for ; i < len(r.w) && bestRest > 0 && steps < 3000; i++ {
				if left[i] == 0 || r.w[i] > room {
					continue
				}
				steps++
				left[i]--
				cur[i]++
				walk(i, room-r.w[i])
				left[i]++
				cur[i]--
			}
		}
		walk(0, room)
		r.ops += int64(steps + len(r.w))
		for i, n := range bestBar {
			bar[i] += n
			left[i] -= n
		}
		all = append(all, bar)
	}
}

// diveShare is how much of the root's work goes into dives before the tree, in
// wholes.
const diveShare = 8

// solve finds a layout and its bound; it says whether they meet.
func (r *bars) solve(low int) bool {
	r.low = low
	r.best = r.bestFit(r.d)
	if len(r.best) > r.low {
		if b := r.fullest(r.d, len(r.best)-1); b != nil {
			r.best = b
		}
	}
	if len(r.best) <= r.low {
		return true
	}
	r.root()
	root, asked := r.ops, false
	for try := 0; len(r.best) > r.low && !r.limit(r.ops); try++ {
		if !asked && try >= 2 && r.ops-root > diveShare*root {
			asked = true
			for len(r.best) > r.low && r.decide(r.low) == refuted {
				r.low++
				r.needOf = need{want: int64(r.low), have: []int64{1}, by: BySearch}
			}
			if len(r.best) <= r.low {
				break
			}
		}
		luck := 0.0
		if try > 1 {
			luck = 0.5
		}
		known := len(r.lp.cols)
		n := &node{lp: r.lp.clone(), left: slices.Clone(r.d)}
		slips := min(4<<try, 256)
		target := r.low
		if try%8 == 7 {
			target = len(r.best) - 1
		}
		r.dive(n, target, &slips, luck, try%2 == 0)
		r.learn(n.lp, known)
	}
	return len(r.best) <= r.low
}

// node is a state of the dive: some bars fixed, the rest relaxed.
type node struct {
	lp    *master
	left  []int
	fixed [][]int
}

func (n *node) clone() *node {
	return &node{lp: n.lp.clone(), left: slices.Clone(n.left), fixed: slices.Clone(n.fixed)}
}

// fix cuts n bars by the pattern of a basic column.
func (n *node) fix(j, times int) {
	c := &n.lp.cols[j]
	bar := make([]int, len(n.left))
	for k, i := range c.rows {
		bar[i] = int(c.vals[k])
	}
	for range times {
		n.fixed = append(n.fixed, bar)
	}
	for k, i := range c.rows {
		n.left[i] -= times * int(c.vals[k])
		n.lp.b[i] = float64(n.left[i])
	}
	if row := n.lp.where[j]; row >= 0 {
		n.lp.x[row] -= float64(times)
	}
}

// proper says whether so many bars of a pattern hold no more than is left.
func (n *node) proper(c *column, times int) bool {
	for k, i := range c.rows {
		if times*int(c.vals[k]) > n.left[i] {
			return false
		}
	}
	return true
}

// fixWhole fixes the whole parts of the answer.
func (n *node) fixWhole() {
	for i, j := range n.lp.basis {
		if n.lp.cols[j].cost != 1 {
			continue
		}
		for t := int(math.Floor(n.lp.x[i] + 1e-7)); t > 0; t-- {
			if n.proper(&n.lp.cols[j], t) {
				n.fix(j, t)
				break
			}
		}
	}
}

// settle makes the relaxation whole again after patterns were fixed.
func (r *bars) settle(n *node, target int) bool {
	before := n.lp.ops
	ok := n.lp.restore(2000)
	r.ops += (n.lp.ops - before) / 3
	if !ok {
		return false
	}
	// Patterns that now hold too much leave.
	for j := range n.lp.cols {
		c := &n.lp.cols[j]
		if c.cost == 1 && !c.dead && !n.proper(c, 1) {
			if n.lp.where[j] >= 0 {
				c.cost = artificial
			}
			c.dead = true
		}
	}
	n.lp.duals()
	room := float64(target - len(n.fixed))
	r.generate(n.lp, n.left, func(value float64, _ []int64, _ int64, exact bool) bool {
		// Far enough below the target, the last digits do not matter.
		return value <= room-0.4 || exact && value <= room-1e-4
	})
	return true
}

// finish tries to place the rest by simple means.
func (r *bars) finish(n *node, target int) {
	more := slices.ContainsFunc(n.left, func(k int) bool { return k > 0 })
	try := func(rest [][]int) {
		if (rest != nil || !more) && len(n.fixed)+len(rest) < len(r.best) {
			r.best = append(slices.Clone(n.fixed), rest...)
		}
	}
	try(r.bestFit(n.left))
	if more && len(r.best) > target && target-len(n.fixed) < 40 {
		try(r.fullest(n.left, target-len(n.fixed)))
	}
}

// dive fixes patterns until all parts are placed or the target is out of
// reach. Near the end it turns back and tries the next best choices, until so
// many of them have failed as slips says; luck shuffles the choices; bold fixes
// several at once.
func (r *bars) dive(n *node, target int, slips *int, luck float64, bold bool) {
	for !r.limit(r.ops) {
		n.fixWhole()
		r.finish(n, target)
		if len(r.best) <= target {
			return
		}
		type share struct {
			j int
			v float64
		}
		var fs []share
		for i, j := range n.lp.basis {
			if c := &n.lp.cols[j]; c.cost == 1 && n.lp.x[i] > 1e-6 && n.proper(c, 1) {
				fs = append(fs, share{j, n.lp.x[i] * (1 - luck*r.rng.Float64())})
			}
		}
		if len(fs) == 0 {
			return
		}
		slices.SortStableFunc(fs, func(a, b share) int { return cmp.Or(cmp.Compare(b.v, a.v), cmp.Compare(a.j, b.j)) })
		far := target-len(n.fixed) > 12
		good := 0
		for t := range min(len(fs), 8) {
			if t > 0 && (far || *slips <= 0) || good >= 3 {
				return
			}
			c := n
			if !far {
				c = n.clone()
			}
			c.fix(fs[t].j, 1)
			if bold && far {
				for k := 1; k < len(fs) && k <= len(fs)/8 && fs[k].v > 0.7; k++ {
					if c.proper(&c.lp.cols[fs[k].j], 1) {
						c.fix(fs[k].j, 1)
					}
				}
			}
			if !r.settle(c, target) || len(c.fixed)+int(math.Ceil(c.lp.value()-1e-5)) > target {
				*slips--
				if far {
					return
				}
				continue
			}
			if far {
				break // go on from here
			}
			good++
			r.dive(c, target, slips, luck, bold)
			if len(r.best) <= target || r.limit(r.ops) {
				return
			}
		}
		if !far {
			return
		}
	}
}

// bins gives the bars as the search's sheets.
func (r *bars) bins() []*bin {
	in := r.in
	units := make([][]int32, len(in.kinds))
	for u := range in.units {
		k := in.units[u].kinds[0]
		units[k] = append(units[k], int32(u))
	}
	var bins []*bin
	for _, bar := range r.best {
		b := in.newBin(0, 0)
		var leaves []int32
		for i, n := range bar {
			k := &in.kinds[r.kind[i]]
			for range n {
				us := units[r.kind[i]]
				units[r.kind[i]] = us[1:]
				leaves = append(leaves, b.add(knot{w: k.w, h: k.h, up: -1, kid: -1, next: -1, kind: int32(r.kind[i]), unit: us[0]}))
				b.area += k.area
			}
		}
		if len(leaves) == 1 {
			b.roots[0] = leaves[0]
		} else if len(leaves) > 1 {
			b.roots[0] = b.add(knot{up: -1, kid: -1, next: -1, kind: -1, side: true})
			for _, l := range leaves {
				b.hangRaw(b.roots[0], l)
			}
		}
		in.refresh(b)
		bins = append(bins, b)
	}
	return bins
}
