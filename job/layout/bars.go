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
	for try := 0; len(r.best) > r.low && !r.limit(r.ops); try++ {
		r.dive(try)
	}
	return len(r.best) <= r.low
}

const artificial = 100

// root solves the relaxation of the whole problem.
func (r *bars) root() {
	m := len(r.w)
	b, sign, cost := make([]float64, m), make([]float64, m), make([]float64, m)
	for i, d := range r.d {
		b[i], sign[i], cost[i] = float64(d), 1, artificial
	}
	r.lp = newMaster(b, sign, cost)
	for i := range m {
		r.lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
	}
	for _, bar := range r.best {
		r.lp.add(r.column(bar))
	}
	r.generate(r.lp, r.d, func(value float64, values []int64, most int64) bool {
		// What no bar can pass, all bars together can pass only so often.
		var want int64
		for i, v := range values {
			want += v * int64(r.d[i])
		}
		if n := int((want + most - 1) / most); n > r.low {
			r.low, r.lowBy = n, ByPatterns
			r.needOf = need{want: want, have: []int64{most}, by: ByPatterns}
		}
		return r.low >= len(r.best) || int(math.Ceil(value-1e-6)) <= r.low
	})
}

func (r *bars) column(bar []int) column {
	c := column{cost: 1}
	for i, n := range bar {
		if n > 0 {
			c.rows, c.vals = append(c.rows, int32(i)), append(c.vals, float64(n))
		}
	}
	return c
}

// generate adds columns until none improves or done says so.
func (r *bars) generate(lp *master, left []int, done func(value float64, values []int64, most int64) bool) {
	values := make([]int64, len(left))
	for range 5000 {
		before := lp.ops
		lp.solve(5000)
		r.ops += (lp.ops - before) / 8
		for i := range values {
			values[i] = int64(math.Max(lp.pi[i], 0) * dualScale)
		}
		most, bar := r.knap.best(values, left)
		r.ops += r.knap.steps
		r.knap.steps = 0
		if most == 0 || done(lp.value(), values, most) || float64(most) <= dualScale*(1+1e-7) || r.limit(r.ops) {
			return
		}
		lp.add(r.column(bar))
	}
}

// dive fixes patterns until all parts are placed or the target is out of reach.
func (r *bars) dive(try int) {
	lp := r.lp.clone()
	left := slices.Clone(r.d)
	var bars [][]int
	target := r.low
	if try%8 == 7 {
		target = len(r.best) - 1
	}
	grown := len(r.lp.cols)
	fix := func(j int, n int) {
		c := &lp.cols[j]
		bar := make([]int, len(left))
		for k, i := range c.rows {
			bar[i] = int(c.vals[k])
		}
		for range n {
			bars = append(bars, slices.Clone(bar))
		}
		for k, i := range c.rows {
			left[i] -= n * int(c.vals[k])
			lp.b[i] = float64(left[i])
		}
		if row := lp.where[j]; row >= 0 {
			lp.x[row] -= float64(n)
		}
	}
	proper := func(c *column) bool {
		for k, i := range c.rows {
			if int(c.vals[k]) > left[i] {
				return false
			}
		}
		return true
	}
	for {
		if r.limit(r.ops) {
			return
		}
		// Whole parts of the answer.
		for i, j := range lp.basis {
			if lp.cols[j].cost != 1 {
				continue
			}
			n := int(math.Floor(lp.x[i] + 1e-7))
			for n > 0 {
				ok := true
				for k, t := range lp.cols[j].rows {
					ok = ok && left[t] >= n*int(lp.cols[j].vals[k])
				}
				if ok {
					fix(j, n)
					break
				}
				n--
			}
		}
		for _, rest := range [][][]int{r.bestFit(left), r.fullest(left, target-len(bars))} {
			if (rest != nil || !slices.ContainsFunc(left, func(n int) bool { return n > 0 })) && len(bars)+len(rest) < len(r.best) {
				r.best = append(slices.Clone(bars), rest...)
			}
		}
		if len(r.best) <= target {
			break
		}
		// The largest fractions, with a little luck, are fixed to one.
		type share struct {
			j int
			v float64
		}
		var fs []share
		for i, j := range lp.basis {
			if c := &lp.cols[j]; c.cost == 1 && lp.x[i] > 1e-6 && proper(c) {
				v := lp.x[i]
				if try > 0 {
					v *= 1 - 0.5*r.rng.Float64()
				}
				fs = append(fs, share{j, v})
			}
		}
		if len(fs) == 0 {
			break
		}
		slices.SortStableFunc(fs, func(a, b share) int { return cmp.Or(cmp.Compare(b.v, a.v), cmp.Compare(a.j, b.j)) })
		fixed := 0
		for _, f := range fs {
			if fixed > 0 && (f.v < 0.7 || fixed > len(fs)/8) {
				break
			}
			if proper(&lp.cols[f.j]) {
				fix(f.j, 1)
				fixed++
			}
		}
		if !lp.restore(2000) {
			break
		}
		// Patterns that now hold too much.
		for j := range lp.cols {
			c := &lp.cols[j]
			if c.cost == 1 && !c.dead && !proper(c) {
				if lp.where[j] >= 0 {
					c.cost = artificial
				}
				c.dead = true
			}
		}
		lp.duals()
		r.generate(lp, left, func(value float64, _ []int64, _ int64) bool { return false })
		if len(bars)+int(math.Ceil(lp.value()-1e-5)) > target {
			break
		}
	}
	// Patterns found on the way serve the next dive.
	if len(r.lp.cols) < 6*len(r.w)+2000 {
		for j := grown; j < len(lp.cols); j++ {
			c := lp.cols[j]
			c.cost, c.dead = 1, false
			r.lp.add(c)
		}
		r.lp.solve(2000)
	}
}

// bins gives the bars as the search's sheets.
func (r *bars) bins() []*bin {
	in := r.in
	var bins []*bin
	for _, bar := range r.best {
		b := in.newBin(0, 0)
		var leaves []int32
		for i, n := range bar {
			k := &in.kinds[r.kind[i]]
			for range n {
				leaves = append(leaves, b.add(knot{w: k.w, h: k.h, up: -1, kid: -1, next: -1, kind: int32(r.kind[i]), unit: -1}))
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
