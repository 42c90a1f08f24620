package schedule

// generator builds schedules one activity at a time, each at the earliest
// time that fits what is already placed (serial schedule generation). It is
// quick but not complete: with most lags or holds it can run into a dead end.
type generator struct {
	m      *model
	before [][]int // activities that have to be placed first
	lb, ub []int64
	start  []int64
	placed []bool
	prof   []profile
	last   []int64 // per set-up: end of the last activity that asked for a state
	state  []int
	queue  []int
	queued []bool
	work   int64 // work units spent
}

func newGenerator(m *model) *generator {
	n := m.n
	g := &generator{m: m, before: make([][]int, n), lb: make([]int64, n), ub: make([]int64, n),
		start: make([]int64, n), placed: make([]bool, n), prof: make([]profile, len(m.p.Resources)),
		last: make([]int64, len(m.p.Setups)), state: make([]int, len(m.p.Setups)), queued: make([]bool, n)}
	for k := range m.arcs {
		a := &m.arcs[k]
		if w, ok := m.leastWeight(a); a.lag < 0 || a.curve != nil || (ok && w >= 0 && !a.most) {
			g.before[a.to] = append(g.before[a.to], a.from)
		}
	}
	return g
}

// run places all activities in the order of ascending priority among those
// whose predecessors are placed. It reports false on a dead end.
func (g *generator) run(prio []int64) bool {
	m := g.m
	copy(g.lb, m.lb0)
	copy(g.ub, m.ub0)
	for i := range g.placed {
		g.placed[i] = false
	}
	for r := range g.prof {
		g.prof[r].reset()
	}
	for k, s := range m.p.Setups {
		g.last[k], g.state[k] = 0, s.Initial
	}
	g.work += int64(m.n)
	left := m.n
	for i := range g.placed { // what is under way comes first
		if m.tm[i].pinned {
			if !g.place(i, m.tm[i].spans[0].lo) {
				return false
			}
			left--
		}
	}
	tried := make([]bool, m.n)
	for left > 0 {
		for i := range tried {
			tried[i] = false
		}
		done := false
		for !done {
			best, anyEligible := -1, false
			for i := 0; i < m.n; i++ {
				if g.placed[i] || tried[i] || !g.ready(i) {
					continue
				}
				anyEligible = true
				if best < 0 || prio[i] < prio[best] {
					best = i
				}
			}
			if !anyEligible { // only possible in a circle of lags: take any
				for i := 0; i < m.n; i++ {
					if !g.placed[i] && !tried[i] && (best < 0 || g.lb[i] < g.lb[best]) {
						best = i
					}
				}
			}
			if best < 0 {
				return false
			}
			tried[best] = true
			if t, ok := g.fit(best); ok {
				if !g.place(best, t) {
					return false
				}
				done = true
			}
		}
		left--
	}
	return true
}

func (g *generator) ready(i int) bool {
	for _, j := range g.before[i] {
		if !g.placed[j] {
			return false
		}
	}
	return true
}

// fit finds the earliest start of i that fits the profiles.
func (g *generator) fit(i int) (int64, bool) {
	m := g.m
	tm := &m.tm[i]
	open := m.openOf(i)
	t := g.lb[i]
	change, maker := int64(0), -1
	for _, s := range m.p.Activities[i].States {
		su := &m.p.Setups[s.Setup]
		change += su.Change[g.state[s.Setup]][s.State]
		maker = su.Resource
		t = max(t, tm.next(g.last[s.Setup]))
	}
	if change > 0 {
		t = max(t, tm.next(open.first(open.count(0)+change)))
	}
	for t <= g.ub[i] {
		g.work++
		late := -inf
		e := tm.end(t)
		for _, k := range m.taskOf[i] {
			tk := &m.tasks[k]
			to := e
			if tk.u != i {
				to = inf
			}
			from := t
			if tk.res == maker && tk.u == i {
				from = min(from, open.last(open.count(t)-change))
			}
			late = max(late, g.prof[tk.res].clash(max(from, 0), to, m.p.Resources[tk.res].Capacity-tk.qty))
		}
		if late == -inf {
			return t, true
		}
		if late <= t { // the clash is with the change alone
			late = t + 1
		}
		t = tm.next(late)
	}
	return 0, false
}

// place fixes the start of i and passes it on over the lags.
func (g *generator) place(i int, t int64) bool {
	m := g.m
	g.placed[i], g.start[i] = true, t
	e := m.tm[i].end(t)
	open := m.openOf(i)
	change, maker := int64(0), -1
	for _, s := range m.p.Activities[i].States {
		su := &m.p.Setups[s.Setup]
		if !m.tm[i].pinned {
			change += su.Change[g.state[s.Setup]][s.State]
			maker = su.Resource
		}
		if e >= g.last[s.Setup] {
			g.state[s.Setup], g.last[s.Setup] = s.State, e
		}
	}
	for _, k := range m.taskOf[i] {
		tk := &m.tasks[k]
		from, to := t, e
		if tk.u != i {
			if to = inf; g.placed[tk.u] {
				to = m.tm[tk.u].end(g.start[tk.u])
			}
		} else if tk.res == maker {
			from = open.last(open.count(t) - change)
			if change == 0 {
				from = t
			}
		}
		g.prof[tk.res].add(max(from, 0), to, tk.qty)
	}
	for _, k := range m.endsOf[i] {
		if tk := &m.tasks[k]; tk.a != i && g.placed[tk.a] {
			g.prof[tk.res].add(max(e, 0), inf, -tk.qty)
		}
	}
	g.lb[i], g.ub[i] = t, t
	g.queue = append(g.queue[:0], i)
	ok := true
	for head := 0; head < len(g.queue); head++ {
		j := g.queue[head]
		g.queued[j] = false
		if !ok {
			continue
		}
		for _, k := range m.out[j] {
			a := &m.arcs[k]
			if v := m.forward(a, g.lb[j]); v > g.lb[a.to] {
				g.lb[a.to] = v
				ok = ok && v <= g.ub[a.to]
				g.push(a.to)
			}
		}
		for _, k := range m.in[j] {
			a := &m.arcs[k]
			if v := m.backward(a, g.ub[j]); v < g.ub[a.from] {
				g.ub[a.from] = v
				ok = ok && g.lb[a.from] <= v
				g.push(a.from)
			}
		}
	}
	return ok
}

func (g *generator) push(i int) {
	if !g.queued[i] {
		g.queued[i] = true
		g.queue = append(g.queue, i)
	}
}
