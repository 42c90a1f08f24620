package layout

import (
	"math"
	"slices"
)

// need is a proved inequality: a layout with n[s] sheets of each stock s has
// sum have[s]*n[s] >= want, whatever the layout. All numbers are whole.
type need struct {
	want int64
	have []int64
	by   Proof
}

// ease is how much more than the inequality demands these counts of sheets
// have: 1 where they just keep it.
func (n *need) ease(counts []int) float64 {
	return float64(n.sum(counts)) / float64(max(n.want, 1))
}

// sum is what counts of sheets have of the inequality.
func (n *need) sum(counts []int) (v int64) {
	for s, k := range counts {
		v += n.have[s] * int64(k)
	}
	return v
}

// cover is what all inequalities together say about how many sheets it takes.
type cover struct {
	in    *inst
	needs []need
	never [][]int // counts of sheets that no layout keeps to: nor does one with fewer of each
	most  []int   // of each stock, limited by what there is
}

// refute notes that no layout has so many sheets of each stock, or fewer.
func (c *cover) refute(counts []int) { c.never = append(c.never, slices.Clone(counts)) }

// by is what the last inequality rests on.
func (c *cover) by() Proof {
	if len(c.never) > 0 {
		return BySearch
	}
	return c.needs[len(c.needs)-1].by
}

// refuted says whether no layout keeps to so many sheets.
func (c *cover) refuted(counts []int) bool {
	return slices.ContainsFunc(c.never, func(most []int) bool {
		for s, n := range counts {
			if n > most[s] {
				return false
			}
		}
		return true
	})
}

func (in *inst) newCover() *cover {
	c := &cover{in: in}
	for i := range in.bases {
		q := in.bases[i].qty
		if q < 0 || q > len(in.units) {
			q = len(in.units)
		}
		c.most = append(c.most, q)
	}
	return c
}

// broken says whether counts of sheets break an inequality.
func (n *need) broken(counts []int) bool { return n.sum(counts) < n.want }

const coverSteps = 300_000

// least gives counts of sheets of least weight that break no inequality and are
// not refuted. Done is false where the search was cut short; then the weight is
// a bound all the same, but no counts belong to it. It is ok only if there are
// such counts.
func (c *cover) least(weights []weight) (counts []int, w weight, done, ok bool) {
	m := len(c.most)
	order := make([]int, m) // cheap sheets for their area first, so that good counts are met early
	for i := range order {
		order[i] = i
	}
	eff := func(s int) float64 {
		b := &c.in.bases[s]
		return (float64(weights[s].cost) + 1e-6*float64(weights[s].bought) + 1e-9*float64(weights[s].used)) / max(b.area, 1)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := eff(a), eff(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	// What the stocks from k on can add to each inequality at most, and the
	// least cost, bought and used for a unit of it.
	reach := make([][]int64, m+1)
	rate := make([][][3]float64, m+1)
	for k := m; k >= 0; k-- {
		reach[k] = make([]int64, len(c.needs))
		rate[k] = make([][3]float64, len(c.needs))
		for j := range c.needs {
			if k == m {
				rate[k][j] = [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
				continue
			}
			s := order[k]
			h := c.needs[j].have[s]
			reach[k][j] = reach[k+1][j] + h*int64(c.most[s])
			rate[k][j] = rate[k+1][j]
			if h > 0 {
				for t, v := range [3]int64{weights[s].cost, weights[s].bought, weights[s].used} {
					rate[k][j][t] = min(rate[k][j][t], float64(v)/float64(h))
				}
			}
		}
	}
	cur := make([]int, m)
	rest := make([]int64, len(c.needs))
	for j := range c.needs {
		rest[j] = c.needs[j].want
	}
	steps := 0
	var at weight
	var walk func(k int)
	// low is a lower bound on what must be added from stock k on.
	low := func(k int) weight {
		var t [3]float64
		for j, r := range rest {
			if r > 0 {
				for x := range t {
					if v := float64(r) * rate[k][j][x]; v < math.Inf(1) {
						t[x] = max(t[x], v)
					}
				}
			}
		}
		up := func(v float64) int64 { return int64(math.Ceil(v*(1-1e-12) - 1e-6)) }
		return weight{up(t[0]), up(t[1]), up(t[2])}
	}
	walk = func(k int) {
		if steps++; steps > coverSteps {
			return
		}
		for j, r := range rest {
			if r > reach[k][j] {
				return
			}
		}
		if ok && at.add(low(k)).cmp(w) >= 0 {
			return
		}
		if k == m {
			if c.refuted(cur) {
				return
			}
			ok, w, counts = true, at, slices.Clone(cur)
			return
		}
		s := order[k]
		// No more of s than what satisfies all inequalities by itself.
		top := int64(0)
		for j, r := range rest {
			if h := c.needs[j].have[s]; r > 0 && h > 0 {
				top = max(top, (r+h-1)/h)
			}
		}
		// What is refuted may want one more than that.
		for _, n := range c.never {
			top = max(top, int64(n[s])+1)
		}
		top = min(top, int64(c.most[s]))
		saved := at
		for n := top; n >= 0; n-- {
			cur[s] = int(n)
			at = saved.add(weight{weights[s].cost * n, weights[s].bought * n, weights[s].used * n})
			for j := range rest {
				rest[j] -= c.needs[j].have[s] * n
			}
			walk(k + 1)
			for j := range rest {
				rest[j] += c.needs[j].have[s] * n
			}
		}
		cur[s], at = 0, saved
	}
	start := low(0)
	walk(0)
	if steps > coverSteps {
		return nil, start, false, true
	}
	return counts, w, true, ok
}
