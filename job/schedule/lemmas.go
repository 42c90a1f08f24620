package schedule

import "slices"

// given is what a lemma may build on: its premises and the opposite of its
// conclusion, over the bounds that hold anyway.
type given struct {
	c    *replay
	lb   map[int]int64
	lits []lit
}

func (c *replay) given(r ruling) given {
	g := given{c: c, lb: map[int]int64{}}
	add := func(a atom) {
		if a.b < 0 {
			g.lits = append(g.lits, a.lit())
		} else if v := c.round(int(a.b), a.v); v > g.at(int(a.b)) {
			g.lb[int(a.b)] = v
		}
	}
	for _, a := range r.if_ {
		add(a)
	}
	if !r.bare {
		add(negated(r.then))
	}
	return g
}

func (g *given) at(b int) int64 {
	if v, ok := g.lb[b]; ok && v > g.c.lb[b] {
		return v
	}
	return g.c.lb[b]
}

func (g *given) first(i int) int64 { return g.at(2 * i) }
func (g *given) last(i int) int64  { return -g.at(2*i + 1) }

// order reports whether a premise says that u ends before a starts.
func (g *given) order(u, a int) bool {
	if g.c.surely(u, a) {
		return true
	}
	for _, l := range g.lits {
		if g.c.says(l, u, a) {
			return true
		}
	}
	return false
}

// lemma reports whether the problem alone gives the ruling.
func (c *replay) lemma(kind string, args []int, r ruling) bool {
	g := c.given(r)
	for b := range g.lb { // nothing is left to refute
		if g.at(b) > -g.at(b^1) {
			return true
		}
	}
	in := func(n int, limits ...int) bool {
		if len(args) != n {
			return false
		}
		for i, l := range limits {
			if args[i] < 0 || args[i] >= l {
				return false
			}
		}
		return true
	}
	vars := len(c.lb) / 2
	switch kind {
	case "arc":
		return in(2, vars, vars) && c.broken(args[0], args[1], g.first(args[0]), g.last(args[1]))
	case "half":
		return in(3, vars, c.n) && g.half(args[0], args[1], args[2])
	case "chain":
		// before and after: i, j, k in order leave no room for k before i
		return in(3, c.n, c.n, c.n) && c.solid(args[0]) && c.solid(args[1]) && c.solid(args[2]) &&
			g.order(args[0], args[1]) && g.order(args[1], args[2]) && g.order(args[2], args[0])
	case "table":
		return in(1, len(c.p.Resources)) && g.table(args[0])
	case "sum":
		return in(1, vars) && g.sum(args[0])
	case "setup":
		return in(2, c.n, 2) && g.setup(args[0], args[1] == 1)
	case "turns":
		return len(args) == 2 && args[0] >= 0 && args[0] < len(c.p.Resources) && args[1] >= Always && args[1] < len(c.p.Calendars) && g.turns(args[0], args[1])
	case "energy":
		return len(args) == 3 && args[0] >= 0 && g.energy(args[0], int64(args[1]), int64(args[2]))
	case "edge":
		return in(2, len(c.p.Resources), 2) && g.edge(args[0], args[1] == 1)
	}
	return false
}

// half: u before a, with room for the changes before a.
func (g *given) half(u, a, change int) bool {
	c := g.c
	if !g.order(u, a) {
		return false
	}
	end := g.first(u)
	if u < c.n {
		end = c.endAt(u, g.first(u))
	}
	start := g.last(a)
	if end > start {
		return true
	}
	if change < 0 || change != c.timeOf[a] || c.what[change] != "time" {
		return false
	}
	if u < c.n { // u has to be on the resource that makes the changes
		r := c.p.Setups[c.p.Activities[a].States[0].Setup].Resource
		on := c.qty(r, u, u) > 0
		for i := range c.p.Activities {
			on = on || c.qty(r, i, u) > 0
		}
		if !on {
			return false
		}
	}
	return c.openTicks(c.p.Activities[a].Calendar, end, start) < g.first(change)
}

func (c *replay) openTicks(cal int, from, to int64) int64 {
	if cal == Always {
		return to - from
	}
	n := int64(0)
	for _, w := range c.p.Calendars[cal].Windows {
		if lo, hi := max(from, w.Open), min(to, w.Close); lo < hi {
			n += hi - lo
		}
	}
	return n
}

// table: what is surely in use exceeds the resource at some tick; or one
// occupation, wherever it lies, meets a stretch that the others fill.
func (g *given) table(r int) bool {
	c := g.c
	type piece struct {
		from, to int64 // surely in use
		qty      int
		a, u     int
	}
	var ps []piece
	for a := range c.p.Activities {
		us := []int{a}
		for _, h := range c.p.Activities[a].Holds {
			if !slices.Contains(us, h.Until) {
				us = append(us, h.Until)
			}
		}
		for _, u := range us {
			if q := c.qty(r, a, u); q > 0 {
				ps = append(ps, piece{max(0, g.last(a)), c.endAt(u, g.first(u)), q, a, u})
			}
		}
	}
	use := func(t int64, except int) int {
		n := 0
		for i, p := range ps {
			if i != except && p.from <= t && t < p.to {
				n += p.qty
			}
		}
		return n
	}
	full := c.p.Resources[r].Capacity
	for _, p := range ps {
		if use(p.from, -1) > full {
			return true
		}
	}
	for i, p := range ps {
		x, y := c.endAt(p.u, g.first(p.u))-1, g.last(p.a)
		if p.from < p.to || x > y || !c.solid(p.a) || x < 0 {
			continue
		}
		ok := use(x, i)+p.qty > full
		for _, q := range ps { // use changes only where another one ends
			if x < q.to && q.to <= y {
				ok = ok && use(q.to, i)+p.qty > full
			}
		}
		if ok {
			return true
		}
	}
	return false
}

// sum: the least of the terms exceeds the most of the total.
func (g *given) sum(total int) bool {
	c := g.c
	low := int64(0)
	switch c.what[total] {
	case "lateness":
		for x, w := range c.what {
			if w == "late" {
				low += c.p.Projects[c.arg[x]].weight() * g.first(x)
			}
		}
	case "startsum":
		for i := 0; i < c.n; i++ {
			low += g.first(i)
		}
	case "total":
		for i, x := range c.timeOf {
			if c.p.Setups[c.p.Activities[i].States[0].Setup].Resource == c.arg[total] {
				low += g.first(x)
			}
		}
	case "changes":
		for x, w := range c.what {
			if w == "count" {
				low += g.first(x)
			}
		}
	default:
		return false
	}
	return low > g.last(total)
}

// setup: whichever step comes directly before, the changes before the activity
// take more than allowed.
func (g *given) setup(act int, count bool) bool {
	c := g.c
	x := -1
	for y, w := range c.what {
		if c.arg[y] == act && (w == "count" && count || w == "time" && !count) {
			x = y
		}
	}
	if x < 0 || c.p.Activities[act].Fixed != nil {
		return false
	}
	total := int64(0)
	for _, st := range c.p.Activities[act].States {
		su := &c.p.Setups[st.Setup]
		cost := func(from int) int64 {
			switch {
			case !count:
				return su.Change[from][st.State]
			case from != st.State:
				return 1
			}
			return 0
		}
		var users []int
		var states []int
		for i, a := range c.p.Activities {
			for _, s := range a.States {
				if s.Setup == st.Setup && i != act {
					users, states = append(users, i), append(states, s.State)
				}
			}
		}
		least := inf
		first := true
		for _, i := range users {
			first = first && !g.order(i, act)
		}
		if first {
			least = cost(su.Initial)
		}
		for k, i := range users {
			if cost(states[k]) >= least || g.order(act, i) {
				continue
			}
			between := false
			for _, j := range users {
				between = between || j != i && g.order(i, j) && g.order(j, act)
			}
			if !between {
				least = cost(states[k])
			}
		}
		total += least
	}
	return total > g.last(x)
}

// edge: among activities of a capacity-one resource with the same hours, some
// cannot end in time; or one has to come after others that then end too late
// for it. Counted in open ticks, mirrored in time if so asked.
func (g *given) edge(r int, mirror bool) bool {
	c := g.c
	if c.p.Resources[r].Capacity != 1 {
		return false
	}
	for cal := Always; cal < len(c.p.Calendars); cal++ {
		type job struct{ est, lct, lst, p int64 }
		var js []job
		at := func(t int64) int64 {
			if cal == Always {
				return t
			}
			return c.openTicks(cal, -maxTick, t)
		}
		for i := range c.p.Activities {
			a := &c.p.Activities[i]
			if a.Calendar != cal || c.qty(r, i, i) == 0 || a.Fixed != nil || a.Stretch != nil || a.Work == 0 {
				continue
			}
			change := int64(0)
			if x, ok := c.timeOf[i]; ok && c.p.Setups[a.States[0].Setup].Resource == r {
				change = g.first(x)
			}
			p := a.Work + change
			est, lct := at(g.first(i))-change, at(c.endAt(i, g.last(i)))
			if mirror {
				est, lct = -lct, -est
			}
			js = append(js, job{est, lct, lct - p, p})
		}
		for _, d := range js {
			var in []job
			for _, j := range js {
				if j.lct <= d.lct {
					in = append(in, j)
				}
			}
			slices.SortFunc(in, func(a, b job) int { return int(b.est - a.est) })
			sum := int64(0)
			for _, j := range in {
				if sum += j.p; j.est+sum > d.lct {
					return true
				}
			}
			for _, i := range js {
				if i.lct <= d.lct {
					continue
				}
				after, late := false, false
				sum := int64(0)
				for _, j := range in {
					sum += j.p
					after = after || min(j.est, i.est)+sum+i.p > d.lct
					late = late || j.est+sum > i.lst
				}
				if after && late {
					return true
				}
			}
		}
	}
	return false
}
