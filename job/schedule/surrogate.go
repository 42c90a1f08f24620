package schedule

import (
	"slices"
)

// A surrogate resource: activities take whole weights of it, and there is as much
// of it as the heaviest set of activities that can be under way at once.

// together knows the activities of a problem that the bound looks at.
type together struct {
	acts  []int32 // activities without hours
	work  []int64
	dem   [][]int64  // by activity and resource
	cap   []int64    // by resource
	apart [][]uint64 // by activity: those that it excludes
	sur   []int64    // demand on all resources added up, each in parts of its capacity
	full  int64
	words int

	// scratch of the search for a heaviest set
	w       []int64
	order   []int32
	best    int64
	bestSet []int32
	set     []int32
	left    []int64
	nodes   int64 // sets looked at
	over    bool  // too many: the search has given up
	spent   int64 // work units
}

// newTogether reports nil when there is nothing to gain.
func (m *model) newTogether(e *engine) *together {
	g := &together{}
	n := m.n
	at := make([]int, n)
	for i := 0; i < n; i++ {
		at[i] = -1
		tm := &m.tm[i]
		if tm.pinned || tm.curve != nil || tm.open != nil || tm.work == 0 || m.p.Activities[i].Calendar != Always || len(m.p.Activities[i].States) > 0 || m.lb0[i] < 0 {
			continue
		}
		at[i] = len(g.acts)
		g.acts = append(g.acts, int32(i))
		g.work = append(g.work, tm.work)
	}
	if len(g.acts) < 4 || len(g.acts) > 400 {
		return nil
	}
	k := len(g.acts)
	for _, r := range m.p.Resources {
		g.cap = append(g.cap, int64(r.Capacity))
	}
	g.dem = make([][]int64, k)
	g.sur = make([]int64, k)
	for i := range g.dem {
		g.dem[i] = make([]int64, len(g.cap))
	}
	for _, t := range m.tasks {
		if t.a == t.u && at[t.a] >= 0 {
			g.dem[at[t.a]][t.res] += int64(t.qty)
		}
	}
	for r, c := range g.cap {
		total := int64(0)
		for i := range g.dem {
			total += g.dem[i][r]
		}
		if total <= c || c == 0 {
			continue
		}
		unit := max(1, 10_000/c)
		g.full += unit * c
		for i := range g.dem {
			g.sur[i] += unit * g.dem[i][r]
		}
	}
	if g.full == 0 {
		return nil
	}
	g.words = (k + 63) / 64
	for i := 0; i < k; i++ {
		row := make([]uint64, g.words)
		for j := 0; j < k; j++ {
			if i != j && e.order[int(g.acts[i])*n+int(g.acts[j])] != noLit {
				row[j/64] |= 1 << (j % 64)
			}
		}
		g.apart = append(g.apart, row)
	}
	g.w = make([]int64, k)
	g.left = make([]int64, len(g.cap))
	return g
}

// heaviest finds the heaviest set among the candidates, if heavier than least.
func (g *together) heaviest(cand []int32, least int64) int64 {
	g.order = g.order[:0]
	for _, i := range cand {
		if g.w[i] > 0 {
			g.order = append(g.order, i)
		}
	}
	slices.SortFunc(g.order, func(a, b int32) int {
		// falling weight per surrogate demand
		x, y := g.w[a]*g.sur[b], g.w[b]*g.sur[a]
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return int(a - b)
	})
	g.best, g.bestSet, g.set = least, g.bestSet[:0], g.set[:0]
	copy(g.left, g.cap)
	var out [8]uint64
	g.grow(0, 0, g.full, out[:g.words])
	return g.best
}

// mostSets is how many sets one round of the linear program may look at.
const mostSets = 200_000

func (g *together) grow(from int, have, room int64, out []uint64) {
	if g.nodes++; g.nodes > mostSets {
		g.over = true
		return
	}
	if have > g.best {
		g.best = have
		g.bestSet = append(g.bestSet[:0], g.set...)
	}
	for k := from; k < len(g.order); k++ {
		// what the rest could add at most, taken in parts
		most, space := have, room
		first := int32(-1)
		at := k
		for q := k; q < len(g.order); q++ {
			i := g.order[q]
			if out[i/64]&(1<<(i%64)) != 0 {
				continue
			}
			ok := true
			for r, d := range g.dem[i] {
				if d > g.left[r] {
					ok = false
					break
				}
			}
			if !ok {
				continue
			}
			if first < 0 {
				first, at = i, q
			}
			if s := g.sur[i]; s <= space {
				most += g.w[i]
				space -= s
			} else {
				most += g.w[i] * space / s
				break
			}
			if most > g.best && q-k > 40 {
				break
			}
		}
		if first < 0 || most <= g.best {
			return
		}
		i := first
		for r, d := range g.dem[i] {
			g.left[r] -= d
		}
		var sub [8]uint64
		for x := range out {
			sub[x] = out[x] | g.apart[i][x]
		}
		g.set = append(g.set, i)
		g.grow(at+1, have+g.w[i], room-g.sur[i], sub[:len(out)])
		g.set = g.set[:len(g.set)-1]
		for r, d := range g.dem[i] {
			g.left[r] += d
		}
		k = at
	}
}

// surrogate adds a resource to the engine, of which every activity takes its
// weight and there is as much as can be under way at once.
func (g *together) surrogate(e *engine, weights []int64) bool {
	top := slices.Max(weights)
	if top == 0 {
		return false
	}
	var all []int32
	for i := range weights {
		g.w[i] = (weights[i]*1000 + top/2) / top
		all = append(all, int32(i))
	}
	g.nodes, g.over = 0, false
	cap := g.heaviest(all, 0)
	if e.work += g.nodes / 20; g.over {
		return false
	}
	var acts []int32
	var q []int64
	for i, w := range g.w {
		if w > 0 {
			acts, q = append(acts, g.acts[i]), append(q, w)
		}
	}
	res := len(e.m.p.Resources) + e.surrogates
	e.surrogates++
	if e.proof != nil {
		e.proof.weighs(res, cap, acts, q)
	}
	e.addEnergy(res, cap, acts, q)
	return true
}

// strengthen adds surrogate resources to an engine at level 0, from the linear
// programs for a finish that cannot be: one over the whole time, one with the
// windows that the finish leaves.
func (w *worker) strengthen(x int32) {
	e, m := w.e, w.s.m
	g := m.newTogether(e)
	if g == nil {
		return
	}
	last := func(refute func(t int64) []int64) []int64 {
		var ws []int64
		for lo, hi := w.bound, w.value; lo < hi; {
			mid := lo + (hi-lo)/2
			if v := refute(mid); v != nil {
				lo, ws = mid+1, v
			} else {
				hi = mid
			}
		}
		return ws
	}
	budget := min(3_000_000, w.s.budget/10)
	one := last(func(t int64) []int64 {
		v, _ := g.whole(t).refute(w.s.ctx, budget/2-g.spent)
		return v
	})
	var two []int64
	if w.id%2 == 1 { // the one that works up from the bound
		two = last(func(t int64) []int64 {
			var lo, hi []int64
			e.decide(atom{2*x + 1, -t})
			if !e.propagate() { // the probe will see it
				e.backTo(0)
				return nil
			}
			for _, i := range g.acts {
				lo, hi = append(lo, e.lo(i)), append(hi, e.hi(i)+m.tm[i].work)
			}
			e.backTo(0)
			v, _ := g.spread(lo, hi).refute(w.s.ctx, budget-g.spent)
			return v
		})
	}
	e.work += g.spent
	list := [][]int64{one}
	if w.id%2 == 1 {
		list = append(list, two)
	}
	for _, ws := range list {
		if ws != nil {
			g.surrogate(e, ws)
		}
	}
}
