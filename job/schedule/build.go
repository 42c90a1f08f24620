package schedule

import "fmt"

// distances gives, for moments of activities (2i the start of i, 2i+1 its
// end), the least time that surely lies between them whatever the hours, or
// -inf. They come from the longest paths over the lags.
func (m *model) distances() [][]int64 {
	type edge struct {
		to int32
		w  int64
	}
	adj := make([][]edge, 2*m.n)
	for i := 0; i < m.n; i++ {
		adj[2*i] = append(adj[2*i], edge{int32(2*i + 1), m.leastLength(i)})
		if l, ok := m.mostLength(i); ok {
			adj[2*i+1] = append(adj[2*i+1], edge{int32(2 * i), -l})
		}
	}
	for k := range m.arcs {
		a := &m.arcs[k]
		f, t, w := 2*a.from, 2*a.to, a.min
		if a.fromEnd {
			f++
		}
		if a.toEnd {
			t++
		}
		if a.curve != nil {
			if _, ok := a.curve.early(); !ok {
				continue
			}
			w = 0
		}
		adj[f] = append(adj[f], edge{int32(t), w})
	}
	d := make([][]int64, 2*m.n)
	queue := make([]int32, 0, 2*m.n)
	in := make([]bool, 2*m.n)
	for s := range d {
		row := make([]int64, 2*m.n)
		for i := range row {
			row[i] = -inf
		}
		row[s] = 0
		queue = append(queue[:0], int32(s))
		for h := 0; h < len(queue); h++ {
			i := queue[h]
			in[i] = false
			for _, g := range adj[i] {
				if v := row[i] + g.w; v > row[g.to] {
					row[g.to] = v
					if !in[g.to] {
						in[g.to] = true
						queue = append(queue, g.to)
					}
				}
			}
		}
		d[s] = row
	}
	return d
}

// goals are the variables that stand for the levels of the objective; -1 means
// that the level is always 0.
type goals [NumLevels]int32

// build makes an engine for the model, with one integer variable for every
// activity first.
func (m *model) build() (*engine, goals, error) {
	e := newEngine(m)
	n := m.n
	for i := 0; i < n; i++ {
		e.newInt(m.lb0[i], m.ub0[i], &m.tm[i])
	}
	for k := range m.arcs {
		e.addArc(m.arcs[k])
	}
	g := m.addGoals(e)
	if err := m.addResources(e); err != nil {
		return nil, g, err
	}
	return e, g, nil
}

func (m *model) addGoals(e *engine) goals {
	g := goals{-1, -1, -1, -1}
	if m.dist == nil {
		m.dist = m.distances()
	}
	for _, pr := range m.p.Projects {
		if pr.Due == 0 || len(pr.Members) == 0 {
			continue
		}
		g[Lateness] = 0
	}
	if g[Lateness] == 0 {
		var xs []int32
		var cs []int64
		total := int64(0)
		for j, pr := range m.p.Projects {
			if pr.Due == 0 || len(pr.Members) == 0 {
				continue
			}
			most := max(0, m.p.Horizon-pr.Due)
			late := e.newInt(0, most, nil)
			e.name(late, "late %d", j)
			for _, i := range pr.Members {
				e.addArc(arc{from: i, to: int(late), fromEnd: true, min: -pr.Due, lag: -1})
			}
			xs, cs = append(xs, late), append(cs, pr.weight())
			total += most * pr.weight()
		}
		g[Lateness] = e.newInt(0, total, nil)
		e.name(g[Lateness], "lateness")
		e.addSum(g[Lateness], xs, cs)
	}
	g[Finish] = e.newInt(0, m.p.Horizon, nil)
	e.name(g[Finish], "finish")
	for i := 0; i < m.n; i++ {
		last := true
		for j := 0; j < m.n && last; j++ {
			if i != j && m.dist[2*i+1][2*j+1] >= 0 && (m.dist[2*j+1][2*i+1] < 0 || j < i) {
				last = false
			}
		}
		if last {
			e.addArc(arc{from: i, to: int(g[Finish]), fromEnd: true, lag: -1})
		}
	}
	var xs []int32
	var cs []int64
	low, high := int64(0), int64(0)
	for i := 0; i < m.n; i++ {
		xs, cs = append(xs, int32(i)), append(cs, 1)
		low += m.lb0[i]
		high += m.ub0[i]
	}
	g[StartSum] = e.newInt(low, max(low, high), nil)
	e.name(g[StartSum], "startsum")
	if m.n > 0 {
		e.startSum = int32(len(e.sums))
		e.addSum(g[StartSum], xs, cs)
	}
	g[SetupChanges] = m.addSetups(e, g[Finish])
	return g
}

// addSetups makes the variables and propagators for set-up changes.
func (m *model) addSetups(e *engine, finish int32) int32 {
	n := m.n
	e.order = make([]lit, n*n)
	for i := range e.order {
		e.order[i] = noLit
	}
	if len(m.p.Setups) == 0 {
		return -1
	}
	userAt := make([]int32, n)
	place := func(i int) int32 { return userAt[i] }
	var counts []int32
	var ones []int64
	for i, a := range m.p.Activities {
		userAt[i] = -1
		if len(a.States) == 0 || a.Fixed != nil {
			continue
		}
		time := int64(0)
		for _, s := range a.States {
			longest := int64(0)
			for _, row := range m.p.Setups[s.Setup].Change {
				longest = max(longest, row[s.State])
			}
			time += longest
		}
		u := setupUser{act: int32(i), time: e.newInt(0, time, nil), count: e.newInt(0, int64(len(a.States)), nil)}
		e.name(u.time, "time %d", i)
		e.name(u.count, "count %d", i)
		userAt[i] = int32(len(e.users))
		e.userOf[u.time] = userAt[i]
		e.users = append(e.users, u)
		counts, ones = append(counts, u.count), append(ones, 1)
	}
	for k := range m.p.Setups {
		sp := setupProp{setup: k}
		for i, a := range m.p.Activities {
			for _, s := range a.States {
				if s.Setup != k {
					continue
				}
				if u := place(i); u >= 0 {
					e.users[u].in = append(e.users[u].in, setupIn{len(e.setups), len(sp.acts)})
				}
				sp.acts = append(sp.acts, int32(i))
				sp.state = append(sp.state, s.State)
			}
		}
		sp.words = (len(sp.acts) + 63) / 64
		sp.before = make([]uint64, len(sp.acts)*sp.words)
		e.setups = append(e.setups, sp)
	}
	if len(counts) == 0 {
		return -1
	}
	least := int64(0)
	for r := range m.p.Resources {
		_, count := m.leastChanges(r)
		least += count
		m.addTotal(e, finish, r)
	}
	total := e.newInt(least, int64(len(counts)*len(m.p.Setups)), nil)
	e.name(total, "changes")
	e.addSum(total, counts, ones)
	e.setupQ = true
	return total
}

// addResources makes the time-tables, and the order literals for occupations
// that cannot overlap.
func (m *model) addResources(e *engine) error {
	n := m.n
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			if i != j && m.before(i, j) && !m.before(j, i) {
				e.order[i*n+j] = trueLit
				e.order[j*n+i] = trueLit.not()
			}
		}
	}
	origin := int32(-1)
	for k := range e.users {
		if origin < 0 {
			origin = e.newInt(0, 0, nil)
			e.name(origin, "origin")
		}
		e.addHalf(half{lit: trueLit, u: origin, a: e.users[k].act, change: e.users[k].time})
	}
	changeOf := func(r int, i int) int32 {
		for k := range e.users {
			if int(e.users[k].act) == i && m.p.Setups[m.p.Activities[i].States[0].Setup].Resource == r {
				return e.users[k].time
			}
		}
		return -1
	}
	made := map[[4]int]bool{}
	for r, res := range m.p.Resources {
		var tasks []tabTask
		total, all := int64(0), true
		for _, t := range m.tasks {
			if t.res != r || m.tm[t.u].end(m.ub0[t.u]) <= 0 && !m.hasSetup(r) {
				continue
			}
			solid := m.leastLength(t.a) > 0
			tasks = append(tasks, tabTask{int32(t.a), int32(t.u), int64(t.qty), solid})
			total += int64(t.qty)
			all = all && solid
		}
		if total <= int64(res.Capacity) {
			continue
		}
		covered := all
		for k := range tasks {
			for l := 0; l < k; l++ {
				s, t := tasks[l], tasks[k]
				if s.qty+t.qty <= int64(res.Capacity) {
					covered = false
					continue
				}
				if !s.solid || !t.solid {
					continue
				}
				if err := m.pair(e, r, s, t, changeOf, made); err != nil {
					return err
				}
			}
		}
		if !covered {
			e.addTable(r, int64(res.Capacity), tasks)
		}
		if res.Capacity == 1 {
			m.addHours(e, r, changeOf)
		}
	}
	m.addTurns(e)
	return nil
}

func (m *model) hasSetup(r int) bool {
	for _, s := range m.p.Setups {
		if s.Resource == r {
			return true
		}
	}
	return false
}

// before reports whether i surely ends before j starts.
func (m *model) before(i, j int) bool {
	return m.dist[2*i+1][2*j] >= 0 || m.tm[i].end(m.ub0[i]) <= m.lb0[j]
}

// pair makes the two halves for occupations that cannot overlap.
func (m *model) pair(e *engine, r int, s, t tabTask, changeOf func(r, i int) int32, made map[[4]int]bool) error {
	n := m.n
	single := s.a == s.u && t.a == t.u
	cs, ct := int32(-1), int32(-1)
	if s.a == s.u {
		cs = changeOf(r, int(s.a))
	}
	if t.a == t.u {
		ct = changeOf(r, int(t.a))
	}
	if m.tm[s.a].pinned && m.tm[s.u].pinned && m.tm[t.a].pinned && m.tm[t.u].pinned {
		s1, s2 := max(0, m.tm[s.a].spans[0].lo), m.tm[s.u].end0
		t1, t2 := max(0, m.tm[t.a].spans[0].lo), m.tm[t.u].end0
		if s1 < t2 && t1 < s2 && s1 < s2 && t1 < t2 {
			acts := []int{int(s.a), int(t.a)}
			return &InfeasibleError{Activities: acts, Resources: []int{r},
				What: nameList(m.p, acts) + " are under way at once and take more of " + m.p.Resources[r].Name + " than there is"}
		}
		if single && e.order[int(s.a)*n+int(t.a)] == noLit {
			first, second := int(s.a), int(t.a)
			if m.tm[second].spans[0].lo < m.tm[first].spans[0].lo {
				first, second = second, first
			}
			e.order[first*n+second], e.order[second*n+first] = trueLit, trueLit.not()
		}
		return nil
	}
	key := [4]int{int(s.a), int(s.u), int(t.a), int(t.u)}
	st := m.before(int(s.u), int(t.a))
	ts := m.before(int(t.u), int(s.a))
	if made[key] && cs < 0 && ct < 0 {
		return nil
	}
	made[key] = true
	l := noLit
	switch {
	case single && e.order[int(s.a)*n+int(t.a)] != noLit:
		l = e.order[int(s.a)*n+int(t.a)]
	case st:
		l = trueLit
	case ts:
		l = trueLit.not()
	default:
		l = mkLit(e.newVar(-1, 0, 0))
		e.pairs = append(e.pairs, pairLit{l.v(), s, t, r})
		if single {
			e.order[int(s.a)*n+int(t.a)], e.order[int(t.a)*n+int(s.a)] = l, l.not()
		}
	}
	// a fixed order needs no half unless a set-up change may lie between
	if l != trueLit.not() && (l != trueLit || ct >= 0) {
		e.addHalf(half{lit: l, u: s.u, a: t.a, change: ct})
	}
	if l != trueLit && (l != trueLit.not() || cs >= 0) {
		e.addHalf(half{lit: l.not(), u: t.u, a: s.a, change: cs})
	}
	return nil
}

func (e *engine) addHalf(h half) {
	k := int32(len(e.halves))
	e.halves = append(e.halves, h)
	e.halfOut[h.u] = append(e.halfOut[h.u], k)
	e.halfIn[h.a] = append(e.halfIn[h.a], k)
	e.halves[k].next = e.halfL[h.lit]
	e.halfL[h.lit] = k
}

// addHours adds edge-finding for the activities of a capacity-one resource
// that keep the same hours, for every calendar that has at least three.
func (m *model) addHours(e *engine, r int, changeOf func(r, i int) int32) {
	for c := Always; c < len(m.open); c++ {
		var acts, change []int32
		for _, t := range m.tasks {
			i := t.a
			if t.res != r || t.u != i || m.p.Activities[i].Calendar != c || m.tm[i].pinned || m.tm[i].curve != nil || m.tm[i].work == 0 {
				continue
			}
			acts, change = append(acts, int32(i)), append(change, changeOf(r, i))
		}
		if len(acts) < 3 {
			continue
		}
		var open *openTime
		if c != Always {
			open = m.open[c]
		}
		e.addDisjunct(r, open, acts, change)
	}
}

// name notes what a variable stands for.
func (e *engine) name(x int32, format string, args ...any) {
	e.named = append(e.named, named{x, fmt.Sprintf(format, args...)})
}
