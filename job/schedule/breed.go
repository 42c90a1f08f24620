package schedule

import (
	"math/rand/v2"
)

// breeder improves schedules of a plain problem: a population of activity
// lists, crossed at a stretch of one parent (Hartmann 1998; Valls, Ballestin,
// Quintanilla 2008), every child pushed right and left again (double
// justification; Valls, Ballestin, Quintanilla 2005).
type breeder struct {
	k       *packed
	rng     *rand.Rand
	pop     []member
	size    int
	best    []int32
	bestEnd int32
	stale   int
	order   []int32
	key     []int32
	child   member
	in      []bool
	work    int64
}

type member struct {
	list  []int32
	start []int32
	end   int32
	total int64
}

func newBreeder(k *packed, seed uint64) *breeder {
	b := &breeder{k: k, rng: rand.New(rand.NewPCG(seed, 99)), size: 40, bestEnd: 1 << 30}
	b.order = make([]int32, k.n)
	b.key = make([]int32, k.n)
	b.in = make([]bool, k.n)
	b.best = make([]int32, k.n)
	b.child = b.blank()
	return b
}

func (b *breeder) blank() member {
	return member{list: make([]int32, b.k.n), start: make([]int32, b.k.n)}
}

// judge turns a list into a schedule, improves it both ways and puts the list
// in order of its starts.
func (b *breeder) judge(m *member) {
	k := b.k
	end := k.forward(m.list, m.start)
	for i := range b.key {
		b.key[i] = m.start[i] + k.dur[i]
	}
	for i, v := range m.list { // the other way round is nearly in order
		b.order[k.n-1-i] = v
	}
	k.sortBy(b.order, b.key, true)
	k.backward(b.order, m.start, end)
	for i, v := range b.order {
		m.list[k.n-1-i] = v
	}
	k.sortBy(m.list, m.start, false)
	m.end = k.forward(m.list, m.start)
	k.sortBy(m.list, m.start, false)
	m.total = 0
	for _, s := range m.start {
		m.total += int64(s)
	}
	b.work += int64(k.n)/3 + 1
	if m.end < b.bestEnd {
		b.bestEnd = m.end
		copy(b.best, m.start)
		b.stale = 0
	}
}

// random makes a list by drawing among the eligible, biased to those whose
// latest start is early.
func (b *breeder) random(m *member) {
	k := b.k
	left := make([]int, k.n)
	var ready []int32
	for i := range left {
		left[i] = len(k.pred[i])
		if left[i] == 0 {
			ready = append(ready, int32(i))
		}
	}
	list := m.list[:0]
	for len(ready) > 0 {
		worst := int64(0)
		for _, i := range ready {
			worst = max(worst, k.m.ub0[i])
		}
		sum := 0.0
		for _, i := range ready {
			d := float64(worst-k.m.ub0[i]) + 1
			sum += d * d
		}
		x := b.rng.Float64() * sum
		pick := len(ready) - 1
		for j, i := range ready {
			d := float64(worst-k.m.ub0[i]) + 1
			if x -= d * d; x <= 0 {
				pick = j
				break
			}
		}
		i := ready[pick]
		ready[pick] = ready[len(ready)-1]
		ready = ready[:len(ready)-1]
		list = append(list, i)
		for _, s := range k.succ[i] {
			if left[s.to]--; left[s.to] == 0 {
				ready = append(ready, s.to)
			}
		}
	}
	m.list = list
}

// run spends about so many work units.
func (b *breeder) run(units int64) {
	stop := b.work + units
	for b.work < stop {
		if len(b.pop) < b.size {
			m := b.blank()
			b.random(&m)
			b.judge(&m)
			b.add(m)
			continue
		}
		b.step()
	}
}

func better(x, y *member) bool {
	return x.end < y.end || (x.end == y.end && x.total < y.total)
}

// add puts a member in its place; a copy of one already there is left out.
func (b *breeder) add(m member) bool {
	for i := range b.pop {
		if b.pop[i].end == m.end && b.pop[i].total == m.total {
			if len(b.pop) < b.size && b.rng.IntN(4) == 0 {
				continue
			}
			return false
		}
	}
	b.pop = append(b.pop, m)
	for i := len(b.pop) - 1; i > 0 && better(&b.pop[i], &b.pop[i-1]); i-- {
		b.pop[i], b.pop[i-1] = b.pop[i-1], b.pop[i]
	}
	return true
}

// step makes one child from two parents.
func (b *breeder) step() {
	k := b.k
	n := k.n
	pick := func() *member { // the better of two
		x, y := b.rng.IntN(len(b.pop)), b.rng.IntN(len(b.pop))
		return &b.pop[min(x, y)]
	}
	father, mother := pick(), pick()
	for father == mother {
		mother = &b.pop[b.rng.IntN(len(b.pop))]
	}
	r1 := b.rng.IntN(n)
	r2 := r1 + 1 + b.rng.IntN(max(1, n/2))
	r2 = min(r2, n)
	// the mother up to r1, then the stretch of the father, then the mother's rest
	for i := range b.in {
		b.in[i] = false
	}
	c := &b.child
	out := c.list[:0]
	for _, i := range mother.list[:r1] {
		out = append(out, i)
		b.in[i] = true
	}
	want := r2
	for _, i := range father.list {
		if len(out) >= want {
			break
		}
		if !b.in[i] {
			out = append(out, i)
			b.in[i] = true
		}
	}
	for _, i := range mother.list {
		if !b.in[i] {
			out = append(out, i)
		}
	}
	c.list = out
	// now and then an activity changes its place
	if b.rng.IntN(2) == 0 {
		for m := 1 + b.rng.IntN(3); m > 0; m-- {
			b.shift(c.list)
		}
	}
	b.judge(c)
	b.stale++
	if worst := &b.pop[len(b.pop)-1]; better(c, worst) {
		spare := *worst
		b.pop = b.pop[:len(b.pop)-1]
		if b.add(*c) {
			b.child = spare
		} else {
			b.pop = append(b.pop, spare)
		}
	}
	if b.stale > 60*b.size {
		b.restart()
	}
}

// shift moves one activity to another place that its neighbours allow.
func (b *breeder) shift(list []int32) {
	k := b.k
	p := b.rng.IntN(len(list))
	i := list[p]
	lo, hi := p, p
	for lo > 0 && !k.linked(list[lo-1], i) {
		lo--
	}
	for hi+1 < len(list) && !k.linked(i, list[hi+1]) {
		hi++
	}
	q := lo + b.rng.IntN(hi-lo+1)
	for ; p < q; p++ {
		list[p] = list[p+1]
	}
	for ; p > q; p-- {
		list[p] = list[p-1]
	}
	list[q] = i
}

func (k *packed) linked(a, c int32) bool {
	for _, s := range k.succ[a] {
		if s.to == c {
			return true
		}
	}
	return false
}

// restart begins anew, keeping a few of the best.
func (b *breeder) restart() {
	b.stale = 0
	keep := 1
	if b.size < 160 {
		b.size += b.size / 4
	}
	if b.rng.IntN(3) == 0 {
		keep = 0
	}
	b.pop = b.pop[:keep]
}
