package schedule

// packed is a plain problem (fixed durations, no hours, only least lags from
// end to start) laid out for fast schedule generation: the free amounts of four
// resources share a word, in lanes of 16 bits, so that one subtraction checks
// them all.
type packed struct {
	m       *model
	n       int
	words   int
	dur     []int32
	dem     [][]uint64
	full    []uint64
	pred    [][]link
	succ    [][]link
	span    int // ticks in the table
	free    [][]uint64
	rank    []int32 // topological position
	release []int32
}

// link is a neighbour over a least lag from end to start.
type link struct {
	to, gap int32
}

const laneTop = uint64(0x8000800080008000)

// pack reports nil when the problem is not of the plain kind.
func (m *model) pack() *packed {
	p := m.p
	if len(p.Setups) > 0 || m.n == 0 || m.n > 2000 {
		return nil
	}
	k := &packed{m: m, n: m.n, dur: make([]int32, m.n), dem: make([][]uint64, m.n), pred: make([][]link, m.n), succ: make([][]link, m.n), release: make([]int32, m.n)}
	k.words = (len(p.Resources) + 3) / 4
	k.full = make([]uint64, k.words)
	for r, res := range p.Resources {
		if res.Capacity >= 1<<15 {
			return nil
		}
		k.full[r/4] |= uint64(res.Capacity) << (16 * (r % 4))
	}
	total := int64(1)
	for i := range p.Activities {
		tm := &m.tm[i]
		if tm.pinned || tm.open != nil || tm.curve != nil || len(tm.spans) != 1 || p.Activities[i].Latest != 0 || p.Activities[i].Calendar != Always {
			return nil
		}
		if tm.work > 1<<14 {
			return nil
		}
		k.dur[i] = int32(tm.work)
		k.release[i] = int32(tm.spans[0].lo)
		k.dem[i] = make([]uint64, k.words)
		total += tm.work + tm.spans[0].lo
	}
	for _, t := range m.tasks {
		if t.a != t.u {
			return nil
		}
		k.dem[t.a][t.res/4] += uint64(t.qty) << (16 * (t.res % 4))
	}
	for i := range m.arcs {
		a := &m.arcs[i]
		gap := a.min
		if !a.fromEnd { // from the start: shorten by the duration
			gap -= m.tm[a.from].work
		}
		if a.toEnd || a.curve != nil || a.most || gap < 0 || gap > 1<<14 {
			return nil
		}
		k.pred[a.to] = append(k.pred[a.to], link{int32(a.from), int32(gap)})
		k.succ[a.from] = append(k.succ[a.from], link{int32(a.to), int32(gap)})
		total += gap
	}
	if total > 1<<16 || total > p.Horizon+1 && total > 1<<15 {
		return nil
	}
	k.span = int(total) + 1
	k.free = make([][]uint64, k.words)
	for w := range k.free {
		k.free[w] = make([]uint64, k.span)
	}
	// topological ranks
	k.rank = make([]int32, m.n)
	left := make([]int, m.n)
	var queue []int32
	for i := range left {
		left[i] = len(k.pred[i])
		if left[i] == 0 {
			queue = append(queue, int32(i))
		}
	}
	for h := 0; h < len(queue); h++ {
		i := queue[h]
		k.rank[i] = int32(h)
		for _, s := range k.succ[i] {
			if left[s.to]--; left[s.to] == 0 {
				queue = append(queue, s.to)
			}
		}
	}
	if len(queue) < m.n {
		return nil
	}
	return k
}

func (k *packed) clear() {
	for w, f := range k.free {
		full := k.full[w]
		for t := range f {
			f[t] = full
		}
	}
}

// forward places the activities in list order, each as early as it fits.
func (k *packed) forward(list []int32, start []int32) int32 {
	k.clear()
	end := int32(0)
	for _, i := range list {
		t := k.release[i]
		for _, p := range k.pred[i] {
			t = max(t, start[p.to]+k.dur[p.to]+p.gap)
		}
		t = k.fitLate(i, t)
		start[i] = t
		end = max(end, t+k.dur[i])
	}
	return end
}

// fitLate finds the first start at or after t that fits, and takes it.
func (k *packed) fitLate(i, t int32) int32 {
	d := k.dur[i]
	if d == 0 {
		return t
	}
	dem := k.dem[i]
	if k.words == 1 {
		f, q := k.free[0], dem[0]
		if q == 0 {
			return t
		}
		for s := t + d - 1; s >= t; s-- {
			if ((f[s]|laneTop)-q)&laneTop != laneTop {
				t = s + 1
				s = t + d
			}
		}
		for s := t; s < t+d; s++ {
			f[s] -= q
		}
		return t
	}
	for s := t + d - 1; s >= t; s-- {
		for w, q := range dem {
			if ((k.free[w][s]|laneTop)-q)&laneTop != laneTop {
				t = s + 1
				s = t + d
				break
			}
		}
	}
	for w, q := range dem {
		f := k.free[w]
		for s := t; s < t+d; s++ {
			f[s] -= q
		}
	}
	return t
}

// backward moves every activity, last end first, as late as it fits before
// tick end.
func (k *packed) backward(order []int32, start []int32, end int32) {
	k.clear()
	for _, i := range order {
		t := end
		for _, s := range k.succ[i] {
			t = min(t, start[s.to]-s.gap)
		}
		t -= k.dur[i]
		start[i] = k.fitEarly(i, t)
	}
}

// fitEarly finds the last start at or before t that fits, and takes it.
func (k *packed) fitEarly(i, t int32) int32 {
	d := k.dur[i]
	if d == 0 {
		return t
	}
	dem := k.dem[i]
	for s := t; s < t+d; s++ {
		for w, q := range dem {
			if ((k.free[w][s]|laneTop)-q)&laneTop != laneTop {
				t = s - d
				s = t - 1
				break
			}
		}
	}
	for w, q := range dem {
		f := k.free[w]
		for s := t; s < t+d; s++ {
			f[s] -= q
		}
	}
	return t
}

// sortBy orders activities by a key, ties by topological rank (falling when
// down).
func (k *packed) sortBy(order []int32, key []int32, down bool) {
	for a := 1; a < len(order); a++ { // nearly in order most of the time
		v := order[a]
		b := a
		for b > 0 && k.after(order[b-1], v, key, down) {
			order[b] = order[b-1]
			b--
		}
		order[b] = v
	}
}

func (k *packed) after(x, y int32, key []int32, down bool) bool {
	if key[x] != key[y] {
		return (key[x] > key[y]) != down
	}
	return (k.rank[x] > k.rank[y]) != down
}
