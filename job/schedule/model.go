package schedule

// arc is one compiled minimum lag: the start of activity to is at or after a
// never falling function of the start of activity from.
type arc struct {
	from, to       int
	fromEnd, toEnd bool
	min            int64
	curve          *Curve
	lag            int // index into Problem.Lags, or -1 for the end of a hold
	most           bool
}

// task is an occupation of a resource from the start of activity a to the end
// of activity u (a itself, or the activity that ends a hold).
type task struct {
	a, u, res, qty int
}

// model is a problem made ready for the engine.
type model struct {
	p        *Problem
	n        int
	open     []*openTime
	tm       []timing
	arcs     []arc
	out, in  [][]int32 // arcs by from, by to
	tasks    []task
	taskOf   [][]int32 // tasks that start with an activity
	endsOf   [][]int32 // tasks that end with an activity
	lb0, ub0 []int64   // root bounds
	dist     [][]int64 // see distances
}

func (m *model) openOf(i int) *openTime {
	c := m.p.Activities[i].Calendar
	if c == Always {
		return nil
	}
	return m.open[c]
}

// forward gives the least start of a.to when a.from starts at s.
func (m *model) forward(a *arc, s int64) int64 {
	t := s
	if a.fromEnd {
		t = m.tm[a.from].end(s)
	}
	if a.curve != nil {
		t = a.curve.At(t)
	} else {
		t += a.min
	}
	if a.toEnd {
		return m.tm[a.to].endFrom(t)
	}
	return m.tm[a.to].next(t)
}

// backward gives the greatest start of a.from when a.to starts at s.
func (m *model) backward(a *arc, s int64) int64 {
	t := s
	if a.toEnd {
		t = m.tm[a.to].end(s)
	}
	if a.curve != nil {
		x, ok := a.curve.Inverse(t)
		if !ok {
			return -inf
		}
		t = x
	} else {
		t -= a.min
	}
	if a.fromEnd {
		return m.tm[a.from].endBy(t)
	}
	return m.tm[a.from].prev(t)
}

// compile turns a valid problem into a model with tight root bounds, or says
// why it is infeasible.
func compile(p *Problem) (*model, error) {
	n := len(p.Activities)
	m := &model{p: p, n: n, tm: make([]timing, n), out: make([][]int32, n), in: make([][]int32, n),
		taskOf: make([][]int32, n), endsOf: make([][]int32, n)}
	for _, c := range p.Calendars {
		m.open = append(m.open, newOpenTime(c))
	}
	for i := range p.Activities {
		m.tm[i] = p.timing(i, m.open)
		if len(m.tm[i].spans) == 0 {
			return nil, m.noRoom(i)
		}
	}
	for k, l := range p.Lags {
		if p.Activities[l.From].Fixed != nil && p.Activities[l.To].Fixed != nil {
			continue
		}
		m.arcs = append(m.arcs, arc{from: l.From, to: l.To, fromEnd: l.FromEnd, toEnd: l.ToEnd, min: l.Min, curve: l.Curve, lag: k})
		if l.HasMax {
			m.arcs = append(m.arcs, arc{from: l.To, to: l.From, fromEnd: l.ToEnd, toEnd: l.FromEnd, min: -l.Max, lag: k, most: true})
		}
	}
	for i, a := range p.Activities {
		for r := range p.Resources {
			q := 0
			for _, nd := range a.Needs {
				if nd.Resource == r {
					q += nd.Qty
				}
			}
			if q > 0 {
				m.tasks = append(m.tasks, task{i, i, r, q})
			}
		}
		for _, h := range a.Holds {
			if a.Fixed == nil || p.Activities[h.Until].Fixed == nil {
				m.arcs = append(m.arcs, arc{from: i, to: h.Until, fromEnd: true, toEnd: true, lag: -1})
			}
			if h.Qty > 0 {
				m.tasks = append(m.tasks, task{i, h.Until, h.Resource, h.Qty})
			}
		}
	}
	for k, t := range m.tasks {
		m.taskOf[t.a] = append(m.taskOf[t.a], int32(k))
		m.endsOf[t.u] = append(m.endsOf[t.u], int32(k))
		if t.qty > p.Resources[t.res].Capacity {
			return nil, &InfeasibleError{Activities: []int{t.a}, Resources: []int{t.res},
				What: nameList(p, []int{t.a}) + " takes more of " + p.Resources[t.res].Name + " than there is"}
		}
	}
	for k, a := range m.arcs {
		m.out[a.from] = append(m.out[a.from], int32(k))
		m.in[a.to] = append(m.in[a.to], int32(k))
	}
	if err := m.rootBounds(); err != nil {
		return nil, err
	}
	return m, nil
}
