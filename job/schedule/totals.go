package schedule

// leastChanges gives the least time and number of set-up changes that a
// resource has to make in all: one into every state asked for that is not there
// at the outset.
func (m *model) leastChanges(r int) (time, count int64) {
	for k, su := range m.p.Setups {
		if su.Resource != r {
			continue
		}
		there := make([]bool, len(su.Change))
		asked := make([]bool, len(su.Change))
		there[su.Initial] = true
		for _, a := range m.p.Activities {
			for _, s := range a.States {
				if s.Setup != k {
					continue
				}
				if a.Fixed != nil {
					there[s.State] = true
				} else {
					asked[s.State] = true
				}
			}
		}
		for s := range asked {
			if !asked[s] || there[s] {
				continue
			}
			least := inf
			for from, row := range su.Change {
				if from != s {
					least = min(least, row[s])
				}
			}
			time += least
			count++
		}
	}
	return time, count
}

// addTotal ties the finish to all that a capacity-one resource has to do: its
// work and its set-up changes together lie in open hours between tick 0 and the
// finish.
func (m *model) addTotal(e *engine, finish int32, r int) {
	var times []int32
	var ones []int64
	most, cal, first := int64(0), Always, true
	for k := range e.users {
		u := &e.users[k]
		a := &m.p.Activities[u.act]
		if m.p.Setups[a.States[0].Setup].Resource != r {
			continue
		}
		if !first && a.Calendar != cal {
			return
		}
		cal, first = a.Calendar, false
		times, ones = append(times, u.time), append(ones, 1)
		most += e.hi(u.time)
	}
	if len(times) == 0 || most > 1<<20 {
		return
	}
	work := int64(0)
	seen := make([]bool, m.n)
	for _, t := range m.tasks {
		if i := t.a; !seen[i] && t.res == r && t.u == i && m.p.Activities[i].Calendar == cal && m.p.Activities[i].Fixed == nil && m.p.Activities[i].Stretch == nil {
			if m.lb0[i] < 0 {
				return
			}
			work += m.p.Activities[i].Work
			seen[i] = true
		}
	}
	low, _ := m.leastChanges(r)
	total := e.newInt(low, max(low, most), nil)
	e.name(total, "total %d", r)
	e.addSum(total, times, ones)
	if cal == Always {
		e.addArc(arc{from: int(total), to: int(finish), min: work, lag: -1})
		return
	}
	open := m.open[cal]
	ready := make([]int64, max(low, most)+1)
	for q := range ready {
		ready[q] = min(open.first(open.count(0)+work+int64(q)), m.p.Horizon+1)
	}
	c, err := NewTableCurve(0, ready)
	if err != nil {
		return // only a bound is lost
	}
	e.addArc(arc{from: int(total), to: int(finish), curve: c, lag: -1})
}
