package schedule

import (
	"math/rand/v2"
	"slices"
	"sort"
)

// A shop with much to do loses hours to set-ups that a maker would save by
// cutting everything at one fence before the fence is moved, whichever job it
// belongs to. Serial generation looks at one step at a time; the walk goes
// through the hours as a maker would, and many walks of unlike taste, each a
// little off the best so far, find a schedule to begin from. Nothing is proved
// here, and every schedule is judged by Evaluate.

// walkLeast is how many activities take the hands before walking is worth its
// time: with fewer the search itself is as quick.
const walkLeast = 60

// walker goes through the hours once: whenever the hands are free it takes up
// the step that costs the least set-up and idle time for the most that waits
// behind it.
type walker struct {
	m     *model
	hands []bool // takes the resource that most activities take turns on
	must  [][]int
	tail  []float64
	due   [][]dueDate // of each activity

	start  []int64
	placed []bool
	use    []int // of each resource at present
	state  []int
	taste  taste
	noise  []float64
}

// taste says what counts for how much when the next step is chosen, a tick each.
type taste struct{ change, idle, tail, hold, rest, late float64 }

type dueDate struct{ by, weight int64 }

// newWalker is nil where walking is not worth its time. before lists the
// activities that have to be placed before each.
func newWalker(m *model, before [][]int) *walker {
	most, hands := 0, []bool(nil)
	for r, res := range m.p.Resources {
		if res.Capacity != 1 {
			continue
		}
		on, count := make([]bool, m.n), 0
		for _, t := range m.tasks {
			if t.res == r && t.u == t.a && !on[t.a] {
				on[t.a] = true
				if m.p.Activities[t.a].Calendar != Always {
					count++
				}
			}
		}
		if count > most {
			most, hands = count, on
		}
	}
	if most < walkLeast {
		return nil
	}
	n := m.n
	w := &walker{m: m, hands: hands, must: before, tail: make([]float64, n), start: make([]int64, n),
		placed: make([]bool, n), use: make([]int, len(m.p.Resources)), state: make([]int, len(m.p.Setups)), noise: make([]float64, n)}
	w.due = make([][]dueDate, n)
	for k := range m.p.Projects {
		if pr := &m.p.Projects[k]; pr.Due > 0 {
			for _, i := range pr.Members {
				w.due[i] = append(w.due[i], dueDate{pr.Due, pr.weight()})
			}
		}
	}
	for i := range w.tail {
		w.behind(i, 0)
	}
	return w
}

// behind reckons what waits behind an activity: the longest chain of work and
// waits, in ticks.
func (w *walker) behind(i, depth int) float64 {
	if w.tail[i] > 0 || depth > w.m.n {
		return w.tail[i]
	}
	far := 0.0
	for _, k := range w.m.out[i] {
		a := &w.m.arcs[k]
		if a.most || a.lag < 0 {
			continue
		}
		wait := float64(max(a.min, 0))
		if a.curve != nil {
			wait = float64(a.curve.At(0))
		}
		far = max(far, wait/10+w.behind(a.to, depth+1)) // waits run through the night
	}
	w.tail[i] = 1 + float64(w.m.p.Activities[i].Work) + far
	return w.tail[i]
}

// walk offers the schedules of many walks.
func (s *solver) walk() {
	w := newWalker(s.m, s.gen.before)
	if w == nil {
		return
	}
	n := s.m.n
	cost := int64(n*n)/32 + 1
	left := s.budget / 4
	best, noise := taste{change: 3, idle: 3, tail: 1, hold: 60, rest: 1, late: 0.02}, make([]float64, n)
	var value [NumLevels]int64
	found := false
	for k := 0; k < 300 && left >= cost && s.ctx.Err() == nil; k++ {
		left -= cost
		s.gen.work += cost
		w.taste = best
		copy(w.noise, noise)
		if k > 0 {
			w.vary(s.rng)
		}
		if !w.run() {
			continue
		}
		out, err := Evaluate(s.m.p, w.start)
		if err != nil || found && slices.Compare(out.Values[:], value[:]) > 0 {
			continue
		}
		found, value, best = true, out.Values, w.taste
		copy(noise, w.noise)
		s.offer(w.start)
	}
	s.err = nil
}

func (w *walker) vary(r *rand.Rand) {
	t := &w.taste
	for _, x := range []*float64{&t.change, &t.idle, &t.tail, &t.hold, &t.rest, &t.late} {
		*x *= 0.6 + 0.9*r.Float64()
	}
	n := len(w.noise)
	for range 1 + n/20 {
		w.noise[r.IntN(n)] = 120 * r.NormFloat64()
	}
}

// run walks once through the hours; false at a dead end.
func (w *walker) run() bool {
	m := w.m
	clear(w.placed)
	clear(w.use)
	for k, s := range m.p.Setups {
		w.state[k] = s.Initial
	}
	left, free := m.n, int64(0)
	for i := range m.tm {
		if m.tm[i].pinned {
			w.put(i, m.tm[i].spans[0].lo)
			if w.hands[i] {
				free = max(free, m.tm[i].end0)
			}
			left--
		}
	}
	for ; left > 0; left-- {
		best, bestAt, least := -1, int64(0), 0.0
		for i := range m.tm {
			if w.placed[i] {
				continue
			}
			ready, latest, ok := w.ready(i)
			if !ok {
				continue
			}
			if !w.hands[i] { // what only takes time is where it is as soon as it may be
				best, bestAt = i, ready
				break
			}
			at, change := w.soonest(i, free, ready)
			switch {
			case at >= inf:
				continue
			case at > latest:
				return false
			}
			if v := w.regret(i, at, change, free, latest); best < 0 || v < least {
				best, bestAt, least = i, at, v
			}
		}
		if best < 0 {
			return false
		}
		w.put(best, bestAt)
		if w.hands[best] {
			free = m.tm[best].end(bestAt)
		}
	}
	return true
}

// regret is what taking up i at a time costs, by the taste of this walk.
func (w *walker) regret(i int, at, change, free, latest int64) float64 {
	a, open, t := &w.m.p.Activities[i], w.m.openOf(i), &w.taste
	idle := max(open.count(at)-open.count(free)-change, 0)
	v := t.change*float64(change) + t.idle*float64(idle) - t.tail*w.tail[i]/10 + w.noise[i] + float64(at-free)/100
	if len(a.Holds) > 0 || w.frees(i) {
		v -= t.hold
	}
	if !a.Split && open != nil {
		k := sort.Search(len(open.ws), func(k int) bool { return open.ws[k].Close > at })
		if k < len(open.ws) && open.ws[k].Close-at < 60 {
			v += t.rest * float64(open.ws[k].Close-at-a.Work) // fill the session
		}
	}
	for _, d := range w.due[i] {
		v -= t.late * float64(d.weight) * max(0, float64(at-d.by)+4*w.tail[i])
	}
	if latest < inf && latest-at < 120 {
		v -= 1e6
	}
	return v
}

// frees reports whether a hold ends with i.
func (w *walker) frees(i int) bool {
	for _, k := range w.m.endsOf[i] {
		if w.m.tasks[k].a != i {
			return true
		}
	}
	return false
}

// ready gives the earliest and the latest start that the lags to what is placed
// allow; false while something that has to come before is not placed, or clamps
// and places are wanting.
func (w *walker) ready(i int) (from, latest int64, ok bool) {
	m := w.m
	for _, j := range w.must[i] {
		if !w.placed[j] {
			return 0, 0, false
		}
	}
	for _, k := range m.taskOf[i] {
		if t := &m.tasks[k]; !(w.hands[i] && t.u == i && m.p.Resources[t.res].Capacity == 1) && w.use[t.res]+t.qty > m.p.Resources[t.res].Capacity {
			return 0, 0, false
		}
	}
	from, latest = m.lb0[i], inf
	if m.p.Activities[i].Latest > 0 {
		latest = m.ub0[i]
	}
	for _, k := range m.in[i] {
		if a := &m.arcs[k]; w.placed[a.from] {
			from = max(from, m.forward(a, w.start[a.from]))
		}
	}
	for _, k := range m.out[i] {
		if a := &m.arcs[k]; w.placed[a.to] {
			latest = min(latest, m.backward(a, w.start[a.to]))
		}
	}
	return from, latest, true
}

// soonest gives the earliest start once the hands are free, and the ticks of
// set-up before it.
func (w *walker) soonest(i int, free, ready int64) (at, change int64) {
	m, open := w.m, w.m.openOf(i)
	for _, s := range m.p.Activities[i].States {
		change += m.p.Setups[s.Setup].Change[w.state[s.Setup]][s.State]
	}
	at = max(free, ready)
	if change > 0 {
		at = max(at, open.first(open.count(free)+change))
	}
	return m.tm[i].next(at), change
}

// put places an activity and takes what it holds.
func (w *walker) put(i int, at int64) {
	m := w.m
	w.start[i], w.placed[i] = at, true
	for _, s := range m.p.Activities[i].States {
		w.state[s.Setup] = s.State
	}
	for _, k := range m.taskOf[i] {
		if t := &m.tasks[k]; t.u != i {
			w.use[t.res] += t.qty
		}
	}
	for _, k := range m.endsOf[i] {
		if t := &m.tasks[k]; t.a != i {
			w.use[t.res] -= t.qty
		}
	}
}
