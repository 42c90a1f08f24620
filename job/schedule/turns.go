package schedule

// The sum of starts where one pair of hands does the work: the k-th start comes
// after k-1 steps are done, and no order has more steps done at any time than
// working on the one with the least work left, changing whenever a shorter one
// is ready (Schrage 1968). Counted in open ticks and read back as time.

type turns struct {
	res  int
	cal  int
	open *openTime
	acts []int32
	work []int64
	// scratch
	est, ready []int64
	order      []int32
	heap       []int64 // work left of what is ready
}

// addTurns chooses the largest group of activities that take turns on a
// capacity-one resource in the same hours.
func (m *model) addTurns(e *engine) {
	var best turns
	for r, res := range m.p.Resources {
		if res.Capacity != 1 {
			continue
		}
		for c := Always; c < len(m.open); c++ {
			g := turns{res: r, cal: c}
			if c != Always {
				g.open = m.open[c]
			}
			for _, t := range m.tasks {
				i := t.a
				if t.res != r || t.u != i || m.p.Activities[i].Calendar != c || m.tm[i].pinned || m.tm[i].curve != nil || m.tm[i].work == 0 || m.lb0[i] < 0 {
					continue
				}
				g.acts, g.work = append(g.acts, int32(i)), append(g.work, m.tm[i].work)
			}
			if len(g.acts) > len(best.acts) {
				best = g
			}
		}
	}
	if len(best.acts) < 3 {
		return
	}
	best.est, best.ready = make([]int64, len(best.acts)), make([]int64, len(best.acts))
	for i := range best.acts {
		best.order = append(best.order, int32(i))
	}
	e.turns = &best
}

// least is a lower bound on the sum of starts for the earliest starts in g.est.
func (g *turns) least() int64 {
	n := len(g.acts)
	insertion(g.order, g.est)
	for i, s := range g.est {
		g.ready[i] = g.open.count(s)
	}
	g.heap = g.heap[:0]
	sum, now := g.est[g.order[0]], int64(0)
	next, done := 0, 0
	for done < n-1 {
		if len(g.heap) == 0 {
			now = max(now, g.ready[g.order[next]])
		}
		for next < n && g.ready[g.order[next]] <= now {
			g.push(g.work[g.order[next]])
			next++
		}
		if next < n {
			if r := g.ready[g.order[next]]; now+g.heap[0] > r {
				g.heap[0] -= r - now
				now = r
				continue // it has the least work left still
			}
		}
		now += g.heap[0]
		g.pop()
		done++
		sum += max(g.est[g.order[done]], g.open.last(now))
	}
	return sum
}

func (g *turns) push(v int64) {
	g.heap = append(g.heap, v)
	i := len(g.heap) - 1
	for i > 0 && g.heap[(i-1)/2] > g.heap[i] {
		g.heap[i], g.heap[(i-1)/2] = g.heap[(i-1)/2], g.heap[i]
		i = (i - 1) / 2
	}
}

func (g *turns) pop() {
	k := len(g.heap) - 1
	g.heap[0] = g.heap[k]
	g.heap = g.heap[:k]
	for i := 0; ; {
		c := 2*i + 1
		if c >= k {
			return
		}
		if c+1 < k && g.heap[c+1] < g.heap[c] {
			c++
		}
		if g.heap[i] <= g.heap[c] {
			return
		}
		g.heap[i], g.heap[c] = g.heap[c], g.heap[i]
		i = c
	}
}

// runTurns raises the sum of starts, of which the plain sum is low.
func (e *engine) runTurns(low int64) bool {
	g := e.turns
	for i, a := range g.acts {
		g.est[i] = e.lb[2*a]
		low -= g.est[i]
	}
	e.work += int64(len(g.acts)) / 4
	return e.raise(2*e.sums[e.startSum].total, low+g.least(), byTurns, 0, 0, 0, 0)
}

// explainTurns gives earliest starts that bring the sum of starts to v, each as
// low as it was at some time before if that is enough.
func (e *engine) explainTurns(k int32, v int64, out []atom) []atom {
	g := e.turns
	s := &e.sums[e.startSum]
	for i, a := range g.acts {
		g.est[i] = e.at(2*a, k)
		v += g.est[i]
	}
	for _, x := range s.x {
		v -= e.at(2*x, k)
	}
	// what the turns have to come to: v. The others keep their bounds.
	type bound struct {
		i   int
		pos int32
	}
	var buf [128]bound
	bs := buf[:0]
	for i, a := range g.acts {
		if p := e.first(2*a, g.est[i]); p >= 0 && e.trail[p].level > 0 {
			bs = append(bs, bound{i, p})
		}
	}
	for a := 1; a < len(bs); a++ { // the latest first
		for b := a; b > 0 && bs[b].pos > bs[b-1].pos; b-- {
			bs[b], bs[b-1] = bs[b-1], bs[b]
		}
	}
	for _, b := range bs {
		was := g.est[b.i]
		g.est[b.i] = e.lb0(2 * g.acts[b.i])
		if g.least() >= v {
			continue
		}
		g.est[b.i] = was
		for p := b.pos; p >= 0 && e.trail[p].level > 0; p = e.trail[p].prev {
			was = g.est[b.i]
			if g.est[b.i] = e.trail[p].old; g.least() < v {
				g.est[b.i] = was
				break
			}
		}
	}
	in := make(map[int32]bool, len(g.acts))
	for i, a := range g.acts {
		in[a] = true
		if g.est[i] > e.lb0(2*a) || e.proof != nil {
			out = append(out, atom{2 * a, g.est[i]})
		}
	}
	for _, x := range s.x {
		if !in[x] {
			out = append(out, atom{2 * x, e.at(2*x, k)})
		}
	}
	return out
}
