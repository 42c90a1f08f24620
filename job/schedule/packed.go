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
	topo    []int32 // a topological order
	dirty   int32   // ticks that the last schedule may have used
	count   []int32 // for sorting
	release []int32
}

// link is a neighbour over a least lag: from start to start in pred, from end to
// start in succ.
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
		k.pred[a.to] = append(k.pred[a.to], link{int32(a.from), int32(gap + m.tm[a.from].work)})
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
	k.count = make([]int32, k.span+2)
	k.dirty = int32(k.span)
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
		for _, s := range k.succ[i] {
			if left[s.to]--; left[s.to] == 0 {
				queue = append(queue, s.to)
			}
		}
	}
	if len(queue) < m.n {
		return nil
	}
	k.topo = queue
	return k
}

// clear frees all ticks that the last schedule may have used.
func (k *packed) clear(end int32) {
	for w, f := range k.free {
		f = f[:k.dirty]
		full := k.full[w]
		for t := range f {
			f[t] = full
		}
	}
	k.dirty = end
}

// forward places the activities in list order, each as early as it fits.
func (k *packed) forward(list []int32, start []int32) int32 {
	k.clear(0)
	end := int32(0)
	for _, i := range list {
		t := k.release[i]
		for _, p := range k.pred[i] {
			t = max(t, start[p.to]+p.gap)
		}
		t = k.fitLate(i, t)
		start[i] = t
		end = max(end, t+k.dur[i])
	}
	k.dirty = end
	return end
}

// fitLate finds the first start at or after t that fits, and takes it.
func (k *packed) fitLate(i, t int32) int32 {
	d := int(k.dur[i])
	if d == 0 {
		return t
	}
	dem := k.dem[i]
	if len(dem) == 1 {
		q := dem[0]
		if q == 0 {
			return t
		}
		f := k.free[0][t:]
		at := 0
	next:
		for {
			w := f[at : at+d]
			for s := len(w) - 1; s >= 0; s-- {
				if ((w[s]|laneTop)-q)&laneTop != laneTop {
					at += s + 1
					continue next
				}
			}
			for s := range w {
				w[s] -= q
			}
			return t + int32(at)
		}
	}
	end := t + int32(d)
	for s := end - 1; s >= t; s-- {
		for w, q := range dem {
			if ((k.free[w][s]|laneTop)-q)&laneTop != laneTop {
				t, end = s+1, s+1+int32(d)
				s = end
				break
			}
		}
	}
	k.use(dem, t, end)
	return t
}

func (k *packed) use(dem []uint64, from, to int32) {
	for w, q := range dem {
		f := k.free[w][from:to]
		for s := range f {
			f[s] -= q
		}
	}
}

// backward moves every activity, last end first, as late as it fits before
// tick end.
func (k *packed) backward(order []int32, start []int32, end int32) {
	k.clear(end)
	for _, i := range order {
		t := end
		for _, s := range k.succ[i] {
			t = min(t, start[s.to]-s.gap)
		}
		start[i] = k.fitEarly(i, t-k.dur[i])
	}
}

// fitEarly finds the last start at or before t that fits, and takes it.
func (k *packed) fitEarly(i, t int32) int32 {
	d := int(k.dur[i])
	if d == 0 {
		return t
	}
	dem := k.dem[i]
	if len(dem) == 1 {
		q := dem[0]
		if q == 0 {
			return t
		}
		f := k.free[0]
		at := int(t)
	next:
		for {
			w := f[at : at+d]
			for s, v := range w {
				if ((v|laneTop)-q)&laneTop != laneTop {
					at += s - d
					continue next
				}
			}
			for s := range w {
				w[s] -= q
			}
			return int32(at)
		}
	}
	end := t + int32(d)
	for s := t; s < end; s++ {
		for w, q := range dem {
			if ((k.free[w][s]|laneTop)-q)&laneTop != laneTop {
				t, end = s-int32(d), s
				s = t - 1
				break
			}
		}
	}
	k.use(dem, t, end)
	return t
}

// sorted fills order with all activities by rising key, ties by topological
// rank, or all the other way round when down (counting sort).
func (k *packed) sorted(order []int32, key []int32, down bool) {
	top := int32(0)
	for _, v := range key {
		top = max(top, v)
	}
	count := k.count[:top+2]
	clear(count)
	for _, v := range key {
		count[v+1]++
	}
	for v := 1; v < len(count); v++ {
		count[v] += count[v-1]
	}
	if down {
		last := int32(k.n - 1)
		for _, i := range k.topo {
			v := key[i]
			order[last-count[v]] = i
			count[v]++
		}
		return
	}
	for _, i := range k.topo {
		v := key[i]
		order[count[v]] = i
		count[v]++
	}
}
