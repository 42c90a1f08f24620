package schedule

import (
	"fmt"
	"slices"
)

// rootBounds tightens the bounds of every start over the lags until nothing
// changes, and explains an empty range by the chains of lags that close it.
func (m *model) rootBounds() error {
	if err := m.positiveCycle(); err != nil {
		return err
	}
	n := m.n
	m.lb0, m.ub0 = make([]int64, n), make([]int64, n)
	whyLo, whyHi := make([]int32, n), make([]int32, n)
	for i := range m.tm {
		sp := m.tm[i].spans
		m.lb0[i], m.ub0[i] = sp[0].lo, sp[len(sp)-1].hi
		whyLo[i], whyHi[i] = -1, -1
	}
	queue := make([]int, n)
	queued := make([]bool, n)
	for i := range queue {
		queue[i], queued[i] = i, true
	}
	for len(queue) > 0 {
		i := queue[0]
		queue = queue[1:]
		queued[i] = false
		for _, k := range m.out[i] {
			a := &m.arcs[k]
			if v := m.forward(a, m.lb0[i]); v > m.lb0[a.to] {
				m.lb0[a.to], whyLo[a.to] = v, k
				if v > m.ub0[a.to] {
					return m.chain(a.to, whyLo, whyHi)
				}
				if !queued[a.to] {
					queue, queued[a.to] = append(queue, a.to), true
				}
			}
		}
		for _, k := range m.in[i] {
			a := &m.arcs[k]
			if v := m.backward(a, m.ub0[i]); v < m.ub0[a.from] {
				m.ub0[a.from], whyHi[a.from] = v, k
				if v < m.lb0[a.from] {
					return m.chain(a.from, whyLo, whyHi)
				}
				if !queued[a.from] {
					queue, queued[a.from] = append(queue, a.from), true
				}
			}
		}
	}
	return nil
}

// chain explains why activity i has no start left: the lags that push it late,
// back to where the push begins, and those that keep it early.
func (m *model) chain(i int, whyLo, whyHi []int32) error {
	e := &InfeasibleError{}
	seen := map[int]bool{}
	for j := i; !seen[j]; {
		seen[j] = true
		e.Activities = append([]int{j}, e.Activities...)
		if whyLo[j] < 0 {
			break
		}
		a := &m.arcs[whyLo[j]]
		if a.lag >= 0 {
			e.Lags = append([]int{a.lag}, e.Lags...)
		}
		j = a.from
	}
	seen = map[int]bool{i: true}
	for j := i; whyHi[j] >= 0; {
		a := &m.arcs[whyHi[j]]
		if a.lag >= 0 {
			e.Lags = append(e.Lags, a.lag)
		}
		j = a.to
		if seen[j] {
			break
		}
		seen[j] = true
		if !slices.Contains(e.Activities, j) {
			e.Activities = append(e.Activities, j)
		}
	}
	slices.Sort(e.Lags)
	e.Lags = slices.Compact(e.Lags)
	e.What = "the lags and hours of " + nameList(m.p, e.Activities) + " leave no time for " + nameList(m.p, []int{i})
	return e
}

// noRoom says why an activity has no allowed start at all.
func (m *model) noRoom(i int) error {
	a := &m.p.Activities[i]
	what := fmt.Sprintf("%s cannot end by tick %d", nameList(m.p, []int{i}), m.p.Horizon)
	if a.Fixed == nil && a.Calendar != Always {
		longest := int64(0)
		for _, w := range m.p.Calendars[a.Calendar].Windows {
			longest = max(longest, w.Close-w.Open)
		}
		if !a.Split && longest < a.Work {
			what = fmt.Sprintf("%s takes %d ticks, but the longest window has %d", nameList(m.p, []int{i}), a.Work, longest)
		}
	}
	return &InfeasibleError{Activities: []int{i}, What: what}
}

// positiveCycle looks for a cycle of lags that no starts can satisfy whatever
// the hours, because it asks a start to be later than itself, and names it.
// Lags that depend on the start count with the least they can be (nothing).
func (m *model) positiveCycle() error {
	n := m.n
	dist := make([]int64, n)
	via := make([]int32, n)
	for i := range via {
		via[i] = -1
	}
	last := -1
	for round := 0; round <= n; round++ {
		last = -1
		for k := range m.arcs {
			a := &m.arcs[k]
			w, ok := m.leastWeight(a)
			if ok && dist[a.from]+w > dist[a.to] {
				dist[a.to], via[a.to] = dist[a.from]+w, int32(k)
				last = a.to
			}
		}
		if last < 0 {
			return nil
		}
	}
	for i := 0; i < n; i++ { // walk back until surely on the cycle
		last = m.arcs[via[last]].from
	}
	e := &InfeasibleError{Cycle: true}
	for i := last; ; {
		a := &m.arcs[via[i]]
		w, _ := m.leastWeight(a)
		for k := range m.arcs { // name a lag of the problem where there is one
			b := &m.arcs[k]
			if v, ok := m.leastWeight(b); a.lag < 0 && b.lag >= 0 && b.from == a.from && b.to == a.to && ok && v >= w {
				a = b
			}
		}
		e.Activities = append([]int{a.from}, e.Activities...)
		if a.lag >= 0 {
			e.Lags = append([]int{a.lag}, e.Lags...)
		}
		i = a.from
		if i == last {
			break
		}
	}
	e.What = "the lags go round in a circle: " + nameList(m.p, append(append([]int(nil), e.Activities...), e.Activities[0]))
	return e
}

// leastWeight is a lower bound, whatever the starts, of start(to)-start(from)
// under an arc.
func (m *model) leastWeight(a *arc) (int64, bool) {
	w := a.min
	if a.curve != nil {
		if _, ok := a.curve.early(); !ok {
			return 0, false
		}
		w = 0
	}
	if a.fromEnd {
		w += m.leastLength(a.from)
	}
	if a.toEnd {
		length, ok := m.mostLength(a.to)
		if !ok {
			return 0, false
		}
		w -= length
	}
	return w, true
}

func (m *model) leastLength(i int) int64 {
	tm := &m.tm[i]
	switch {
	case tm.pinned:
		return tm.end0 - tm.spans[0].lo
	case tm.curve != nil:
		return 0
	}
	return tm.work
}

func (m *model) mostLength(i int) (int64, bool) {
	tm := &m.tm[i]
	if tm.pinned || (tm.curve == nil && tm.open == nil) {
		return m.leastLength(i), true
	}
	return 0, false
}
