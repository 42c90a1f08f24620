package schedule

// generator builds schedules one activity at a time, each at the earliest
// time that fits what is already placed (serial schedule generation). It is
// quick but not complete: with most lags or holds it can run into a dead end.
type generator struct {
	m      *model
	before [][]int // activities that have to be placed first
	lb, ub []int64
	seq    []int    // activities in the order of placing
	taken  []taking // what they have taken
	saved  []snapshot
	depth  int
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

// run places all activities in the order of ascending priority (or latest
// start, if that is earlier) among those whose predecessors are placed. It reports false on a dead end.
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
	g.seq, g.taken = g.seq[:0], g.taken[:0]
	for i := range g.placed { // what is under way comes first
		if m.tm[i].pinned {
			if !g.narrow(i, m.tm[i].spans[0].lo) {
				return false
			}
			g.place(i, m.tm[i].spans[0].lo)
		}
	}
	tried := make([]bool, m.n)
	for len(g.seq) < m.n {
		for i := range tried {
			tried[i] = false
		}
		done := false
		for !done {
			best, key, anyEligible := -1, int64(0), false
			for i := 0; i < m.n; i++ {
				if g.placed[i] || tried[i] || !g.ready(i) {
					continue
				}
				anyEligible = true
				// a most lag from what is placed may have made it urgent
				if k := min(prio[i], g.ub[i]); best < 0 || k < key {
					best, key = i, k
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
			done = g.settle(best)
		}
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

// settle places i at the earliest start that fits and leaves the others room;
// what has to follow it within a most lag is placed with it. Otherwise nothing
// changes.
func (g *generator) settle(i int) bool {
	m := g.m
	if g.depth == len(g.saved) {
		g.saved = append(g.saved, snapshot{make([]int64, m.n), make([]int64, m.n), make([]int64, len(g.last)), make([]int, len(g.state))})
	}
	s := g.saved[g.depth]
	g.depth++
	defer func() { g.depth-- }()
	from := g.lb[i]
	for try := int64(0); try < 12; try++ {
		t, ok := g.fit(i, from)
		if !ok {
			return false
		}
		copy(s.lb, g.lb)
		copy(s.ub, g.ub)
		copy(s.last, g.last)
		copy(s.state, g.state)
		marks, takes := len(g.seq), len(g.taken)
		if ok = g.narrow(i, t); ok {
			g.place(i, t)
			for _, k := range m.in[i] {
				if a := &m.arcs[k]; ok && a.most && !g.placed[a.from] && g.ready(a.from) {
					ok = g.settle(a.from)
				}
			}
		}
		if ok {
			return true
		}
		for _, j := range g.seq[marks:] {
			g.placed[j] = false
		}
		g.seq = g.seq[:marks]
		for k := len(g.taken) - 1; k >= takes; k-- {
			x := g.taken[k]
			g.prof[x.res].add(x.from, x.to, -x.qty)
		}
		g.taken = g.taken[:takes]
		copy(g.lb, s.lb)
		copy(g.ub, s.ub)
		copy(g.last, s.last)
		copy(g.state, s.state)
		// not in this window, then: a step that has to follow soon finds none open
		from = m.tm[i].next(t + 1 + try*try)
		for _, sp := range m.tm[i].spans {
			if len(m.tm[i].spans) > 1 && sp.lo > t {
				from = sp.lo
				break
			}
		}
	}
	return false
}

// take uses some of a resource and notes it.
func (g *generator) take(res int, from, to int64, qty int) {
	g.prof[res].add(from, to, qty)
	g.taken = append(g.taken, taking{res, qty, from, to})
}

type taking struct {
	res, qty int
	from, to int64
}

type snapshot struct {
	lb, ub, last []int64
	state        []int
}

// fit finds the earliest start of i, at or after t, that fits the profiles.
func (g *generator) fit(i int, t int64) (int64, bool) {
	m := g.m
	tm := &m.tm[i]
	open := m.openOf(i)
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

// place fixes the start of i.
func (g *generator) place(i int, t int64) {
	m := g.m
	g.placed[i], g.start[i] = true, t
	g.seq = append(g.seq, i)
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
		g.take(tk.res, max(from, 0), to, tk.qty)
	}
	for _, k := range m.endsOf[i] {
		if tk := &m.tasks[k]; tk.a != i && g.placed[tk.a] {
			g.take(tk.res, max(e, 0), inf, -tk.qty)
		}
	}
}

// narrow passes a start of i on over the lags; false if that leaves another no
// start.
func (g *generator) narrow(i int, t int64) bool {
	m := g.m
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
