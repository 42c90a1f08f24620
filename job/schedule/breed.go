package schedule

import (
	"math/rand/v2"
	"sort"
)

// breeder improves schedules of a plain problem: a population of activity
// lists; a child keeps one parent's order where that parent's schedule is
// busiest and takes the other's elsewhere (Hartmann 1998; Valls, Ballestin,
// Quintanilla 2008), and is pushed right and left again (double justification;
// Valls, Ballestin, Quintanilla 2005). A population that has come to rest gives
// way to a new and larger one: small ones soon give a good schedule, large ones
// later a better one.
type breeder struct {
	k       *packed
	rng     *rand.Rand
	pop     []*member // best first
	size    int
	grown   bool // the population has reached its size
	tried   int  // children of this population since it last improved
	taken   int  // those of them that were taken in
	best    []int32
	bestEnd int32
	order   []int32
	key     []int32
	child   *member
	in      []bool
	energy  []int64 // by activity: the part of the resources it takes, times its duration
	work    int64
}

// member is a schedule and the list that gives it: the activities by start.
type member struct {
	list  []int32
	start []int32
	end   int32
	total int64
	mark  uint64 // of the starts, to tell copies
}

func newBreeder(k *packed, seed uint64) *breeder {
	b := &breeder{k: k, rng: rand.New(rand.NewPCG(seed, 99)), size: 40, bestEnd: 1 << 30}
	b.order = make([]int32, k.n)
	b.key = make([]int32, k.n)
	b.in = make([]bool, k.n)
	b.best = make([]int32, k.n)
	b.child = b.blank()
	b.energy = make([]int64, k.n)
	for i := range b.energy {
		for r, res := range k.m.p.Resources {
			if res.Capacity > 0 {
				q := int64(k.dem[i][r/4] >> (16 * (r % 4)) & 0x7fff)
				b.energy[i] += q * int64(k.dur[i]) * 1000 / int64(res.Capacity)
			}
		}
	}
	return b
}

func (b *breeder) blank() *member {
	return &member{list: make([]int32, b.k.n), start: make([]int32, b.k.n)}
}

// judge turns a list into a schedule, improves it both ways and puts the list
// in order of its starts.
func (b *breeder) judge(m *member) {
	k := b.k
	end := k.forward(m.list, m.start)
	for i, s := range m.start {
		b.key[i] = s + k.dur[i]
	}
	k.sorted(b.order, b.key, true)
	k.backward(b.order, m.start, end)
	k.sorted(m.list, m.start, false)
	m.end = k.forward(m.list, m.start)
	k.sorted(m.list, m.start, false)
	m.total = 0
	m.mark = 0
	for _, s := range m.start {
		m.total += int64(s)
		m.mark = (m.mark ^ uint64(s)) * 0x100000001b3
	}
	b.work += int64(k.n)/6 + 1
	if m.end < b.bestEnd {
		b.bestEnd = m.end
		copy(b.best, m.start)
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
		if b.grown {
			b.step()
			continue
		}
		m := b.blank()
		b.random(m)
		b.judge(m)
		// on a small problem there may not be so many different schedules
		if !b.add(m) {
			b.tried++
		}
		b.grown = len(b.pop) >= b.size || b.tried > b.size
		if b.grown {
			b.tried, b.taken = 0, 0
		}
	}
}

func better(x, y *member) bool {
	return x.end < y.end || (x.end == y.end && x.total < y.total)
}

// add puts a member in its place. It leaves out a copy of one already there, and
// one of a value that many have.
func (b *breeder) add(m *member) bool {
	k := sort.Search(len(b.pop), func(i int) bool { return !better(b.pop[i], m) })
	for j := k; j < len(b.pop) && !better(m, b.pop[j]); j++ {
		if b.pop[j].mark == m.mark || j-k > b.size/100 {
			return false
		}
	}
	b.pop = append(b.pop, nil)
	copy(b.pop[k+1:], b.pop[k:])
	b.pop[k] = m
	return true
}

// step makes one child from two parents.
func (b *breeder) step() {
	n := len(b.pop)
	if n < 2 {
		b.restart()
		return
	}
	f, m := min(b.rng.IntN(n), b.rng.IntN(n)), min(b.rng.IntN(n), b.rng.IntN(n)) // the better of two
	for f == m {
		m = b.rng.IntN(n)
	}
	c := b.child
	b.cross(c, b.pop[f], b.pop[m])
	// now and then an activity changes its place
	if b.rng.IntN(2) == 0 {
		for m := 1 + b.rng.IntN(3); m > 0; m-- {
			b.shift(c.list)
		}
	}
	b.judge(c)
	b.tried++
	if worst := b.pop[n-1]; better(c, worst) {
		if c.end < b.pop[0].end {
			b.tried, b.taken = 0, 0
		}
		if b.add(c) {
			b.taken++
			b.pop = b.pop[:n]
			b.child = worst
		}
	}
	// at rest: nothing better for long, and all end alike or hardly any child is taken in
	if b.tried > 10*b.size && (b.pop[0].end == b.pop[n-1].end || b.taken*50 < b.tried) {
		b.restart()
	}
}

// cross makes a list from two: in a stretch of time where the father's schedule
// is busy it keeps his order, before and after it takes the mother's.
func (b *breeder) cross(c, father, mother *member) {
	size := father.end/8 + b.rng.Int32N(father.end*3/8+1)
	most, r1, r2 := int64(-1), 0, 0
	for try := 0; try < 3; try++ {
		from := b.rng.Int32N(max(1, father.end-size+1))
		x := sort.Search(b.k.n, func(i int) bool { return father.start[father.list[i]] >= from })
		y := sort.Search(b.k.n, func(i int) bool { return father.start[father.list[i]] >= from+size })
		sum := int64(0)
		for _, i := range father.list[x:y] {
			sum += b.energy[i]
		}
		if sum > most {
			most, r1, r2 = sum, x, y
		}
	}
	clear(b.in)
	for _, i := range father.list[:r1] {
		b.in[i] = true
	}
	out := c.list[:0]
	for _, i := range mother.list {
		if b.in[i] {
			out = append(out, i)
		}
	}
	for _, i := range father.list[r1:r2] {
		out = append(out, i)
		b.in[i] = true
	}
	for _, i := range mother.list {
		if !b.in[i] {
			out = append(out, i)
		}
	}
	c.list = out
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

// restart begins anew with a larger population.
func (b *breeder) restart() {
	b.pop = b.pop[:0]
	b.grown, b.tried, b.taken = false, 0, 0
	b.size = min(3*b.size, 10_000, max(40, 4_000_000/b.k.n))
}
