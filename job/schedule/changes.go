package schedule

import "math/bits"

// Set-up changes: the state that an activity finds is that of the last one
// before it that asked for a state of the same set-up. As long as the order is
// open, the change takes at least the least over all that can still come
// directly before it.

// setupProp is one set-up with the activities that ask for a state of it.
type setupProp struct {
	setup  int
	acts   []int32
	state  []int
	before []uint64
	words  int
}

// setupUser is one activity with set-ups: the variable for its change time and
// that for its number of changes.
type setupUser struct {
	act         int32
	time, count int32
	in          []setupIn
}

type setupIn struct {
	prop, place int
}

// orderVal is 1 if i comes before j, -1 if after, 0 if open.
func (e *engine) orderVal(i, j int32) int8 {
	l := e.order[int(i)*e.n+int(j)]
	if l < 0 {
		return 0
	}
	return e.val[l]
}

func (e *engine) runSetups() bool {
	for k := range e.setups {
		e.setups[k].sort(e)
	}
	for k := range e.users {
		u := &e.users[k]
		time, count := int64(0), int64(0)
		for _, in := range u.in {
			t, c := e.setups[in.prop].least(e, in.place)
			time += t
			count += c
		}
		if !e.raise(2*u.time, time, bySetup, 0, int32(k), 0, 0) || !e.raise(2*u.count, count, bySetup, 0, int32(k), 1, 0) {
			return false
		}
	}
	return true
}

// sort notes for every activity which others surely come before it.
func (sp *setupProp) sort(e *engine) {
	n := len(sp.acts)
	e.work += int64(n*n) / 32
	for i := range sp.before {
		sp.before[i] = 0
	}
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			switch e.orderVal(sp.acts[i], sp.acts[j]) {
			case 1:
				sp.before[j*sp.words+i/64] |= 1 << (i % 64)
			case -1:
				sp.before[i*sp.words+j/64] |= 1 << (j % 64)
			}
		}
	}
}

// least gives the least change time and number of changes before the activity
// at a place.
func (sp *setupProp) least(e *engine, j int) (time, count int64) {
	p := e.m.p.Setups[sp.setup]
	to := sp.state[j]
	time, count = inf, 1
	bj := sp.before[j*sp.words : (j+1)*sp.words]
	none := true
	for _, w := range bj {
		none = none && w == 0
	}
	if none {
		time = p.Change[p.Initial][to]
		if p.Initial == to {
			return 0, 0
		}
	}
	n := len(sp.acts)
	for i := 0; i < n; i++ {
		if i == j || (time <= p.Change[sp.state[i]][to] && (count == 0 || sp.state[i] != to)) {
			continue
		}
		// i cannot come directly before j if it comes after j, or before another that
		// comes before j
		if sp.before[i*sp.words+j/64]&(1<<(j%64)) != 0 {
			continue
		}
		between := false
		for w, m := range bj {
			for ; m != 0 && !between; m &= m - 1 {
				k := w*64 + bits.TrailingZeros64(m)
				between = sp.before[k*sp.words+i/64]&(1<<(i%64)) != 0
			}
		}
		if between {
			continue
		}
		time = min(time, p.Change[sp.state[i]][to])
		if sp.state[i] == to {
			return time, 0
		}
	}
	return time, count
}

// trueBefore reports whether literal l was true before trail index k.
func (e *engine) trueBefore(l lit, k int32) bool {
	return l >= 0 && e.val[l] > 0 && e.pos[l.v()] < k
}

func (e *engine) explainSetup(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	u := &e.users[t.rx]
	count := t.r1 == 1
	// what each set-up contributed at that time
	add := func(l lit) {
		if e.pos[l.v()] < 0 {
			return
		}
		a := litAtom(l)
		for _, o := range out {
			if o == a {
				return
			}
		}
		out = append(out, a)
	}
	left := v
	for _, in := range u.in {
		if left <= 0 {
			break
		}
		sp := &e.setups[in.prop]
		p := e.m.p.Setups[sp.setup]
		j := sp.acts[in.place]
		to := sp.state[in.place]
		cost := func(from int) int64 {
			if count {
				if from == to {
					return 0
				}
				return 1
			}
			return p.Change[from][to]
		}
		ord := func(i, j int32) lit { return e.order[int(i)*e.n+int(j)] }
		// find the contribution again, then what rules out everything cheaper
		least := inf
		first := true
		type out2 struct{ a, b lit }
		why := make([]out2, len(sp.acts))
		var head lit = noLit
		for i, ai := range sp.acts {
			if i != in.place && e.trueBefore(ord(ai, j), k) {
				first = false
				if head < 0 || e.pos[ord(ai, j).v()] < e.pos[head.v()] {
					head = ord(ai, j)
				}
			}
		}
		if first {
			least = cost(p.Initial)
		}
		for i, ai := range sp.acts {
			why[i] = out2{noLit, noLit}
			if i == in.place {
				continue
			}
			if l := ord(j, ai); e.trueBefore(l, k) {
				why[i].a = l
				continue
			}
			for m, am := range sp.acts {
				if m == i || m == in.place {
					continue
				}
				l1, l2 := ord(ai, am), ord(am, j)
				if e.trueBefore(l1, k) && e.trueBefore(l2, k) {
					why[i] = out2{l1, l2}
					break
				}
			}
			if why[i].a < 0 {
				least = min(least, cost(sp.state[i]))
			}
		}
		if least > left {
			least = left
		}
		left -= least
		if least == 0 {
			continue
		}
		if cost(p.Initial) < least && head >= 0 {
			add(head)
		}
		for i := range sp.acts {
			if i == in.place || cost(sp.state[i]) >= least || why[i].a < 0 {
				continue
			}
			add(why[i].a)
			if why[i].b >= 0 {
				add(why[i].b)
			}
		}
	}
	return out
}
