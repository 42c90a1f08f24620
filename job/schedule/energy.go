package schedule

import (
	"fmt"
	"slices"
)

// Energy: within any stretch of time, what activities surely take of a resource
// is no more than it has. The stretches looked at run from an earliest start to
// a latest end, with the time-table counted in (Vilim 2011; Schutt, Feydy,
// Stuckey 2013). Explanations let every activity have the least that it surely
// spends in the stretch wherever it lies.

type energy struct {
	res    int // resource, or number of resources + surrogate
	cap    int64
	acts   []int32
	p, q   []int64
	queued bool
	off    bool
	// scratch, in the direction under way
	est, lst, lct, eet []int64
	byEst, byLct       [2][]int32
	byLst, byEet       [2][]int32
	ttEst, ttLct       []int64
	cells              []cell
}

func (e *engine) addEnergy(res int, cap int64, acts []int32, q []int64) {
	n := len(acts)
	g := energy{res: res, cap: cap, acts: acts, q: q,
		est: make([]int64, n), lst: make([]int64, n), lct: make([]int64, n), eet: make([]int64, n),
		ttEst: make([]int64, n), ttLct: make([]int64, n), cells: make([]cell, n)}
	k := int32(len(e.energies))
	for i, a := range acts {
		g.p = append(g.p, e.m.tm[a].work)
		for dir := range g.byEst {
			g.byEst[dir] = append(g.byEst[dir], int32(i))
			g.byLct[dir] = append(g.byLct[dir], int32(i))
			g.byLst[dir] = append(g.byLst[dir], int32(i))
			g.byEet[dir] = append(g.byEet[dir], int32(i))
		}
		e.energyOf[a] = append(e.energyOf[a], k)
	}
	e.energies = append(e.energies, g)
	e.wakeEnergy(k)
}

func (e *engine) wakeEnergy(k int32) {
	if g := &e.energies[k]; !g.queued && !g.off {
		g.queued = true
		e.energyQ = append(e.energyQ, k)
	}
}

// sureEnergy makes the steps of the energy of sure parts and reads them off at
// every earliest start and latest end.
func (g *energy) sureEnergy(dir int) {
	n := len(g.acts)
	byEst, byLct, byLst, byEet := g.byEst[dir], g.byLct[dir], g.byLst[dir], g.byEet[dir]
	insertion(byLst, g.lst)
	insertion(byEet, g.eet)
	i, j, a, b := 0, 0, 0, 0
	now, use, sum := int64(-inf), int64(0), int64(0)
	for a < n || b < n {
		for i < n && g.lst[byLst[i]] >= g.eet[byLst[i]] {
			i++
		}
		for j < n && g.lst[byEet[j]] >= g.eet[byEet[j]] {
			j++
		}
		next, what := int64(inf), 0
		if a < n && g.est[byEst[a]] < next {
			next, what = g.est[byEst[a]], 1
		}
		if b < n && g.lct[byLct[b]] < next {
			next, what = g.lct[byLct[b]], 2
		}
		if i < n && g.lst[byLst[i]] < next {
			next, what = g.lst[byLst[i]], 3
		}
		if j < n && g.eet[byEet[j]] < next {
			next, what = g.eet[byEet[j]], 4
		}
		if use != 0 {
			sum += use * (next - now)
		}
		now = next
		switch what {
		case 1:
			g.ttEst[byEst[a]] = sum
			a++
		case 2:
			g.ttLct[byLct[b]] = sum
			b++
		case 3:
			use += g.q[byLst[i]]
			i++
		case 4:
			use -= g.q[byEet[j]]
			j++
		}
	}
}

// mirror turns the energy of sure parts round in time; only differences count.
func (g *energy) mirror() {
	for i, v := range g.ttEst {
		g.ttEst[i], g.ttLct[i] = -g.ttLct[i], -v
	}
}

// cell is one activity as runEnergy sees it, in the direction under way.
type cell struct {
	begin, eet, lct int64
	late            int64 // where its free part begins when it lies last
	loose           int64 // where its sure part begins, if it has one
	free            int64 // length of its free part
	q               int64
	before          int64 // energy of sure parts before its earliest start
}

func (e *engine) runEnergy(k int32) bool {
	g := &e.energies[k]
	n := len(g.acts)
	e.work += int64(n*n) / 60
	mark := len(e.trail)
	for dir := 0; dir < 2; dir++ {
		for i, a := range g.acts {
			est, lst := e.lb[2*a], -e.lb[2*a+1]
			if dir == 0 {
				g.est[i], g.eet[i], g.lst[i], g.lct[i] = est, est+g.p[i], lst, lst+g.p[i]
			} else {
				g.lct[i], g.lst[i], g.eet[i], g.est[i] = -est, -est-g.p[i], -lst, -lst-g.p[i]
			}
		}
		byEst, byLct := g.byEst[dir], g.byLct[dir]
		insertion(byEst, g.est)
		insertion(byLct, g.lct)
		if dir == 1 && len(e.trail) == mark {
			g.mirror()
		} else {
			g.sureEnergy(dir)
		}
		cells := g.cells[:n]
		for r, i := range byEst {
			c := cell{begin: g.est[i], eet: g.eet[i], lct: g.lct[i], late: g.lst[i], loose: inf, free: g.p[i], q: g.q[i], before: g.ttEst[i]}
			if sure := g.eet[i] - g.lst[i]; sure > 0 {
				c.late, c.loose, c.free = g.eet[i], g.lst[i], g.p[i]-sure
			}
			cells[r] = c
		}
		last := int64(inf)
		for q := n - 1; q >= 0; q-- {
			end := g.lct[byLct[q]]
			if end == last {
				continue
			}
			last = end
			for len(cells) > 0 && cells[len(cells)-1].begin >= end {
				cells = cells[:len(cells)-1]
			}
			ttEnd := g.ttLct[byLct[q]]
			sum := int64(0)
			cand, candExtra := -1, int64(0)
			for r := len(cells) - 1; r >= 0; r-- {
				c := &cells[r]
				if c.lct <= end {
					sum += c.free * c.q
				} else {
					in := min(max(0, end-c.late), c.free) // of the free part, when it lies last
					sum += in * c.q
					// what it takes more when it lies first
					to := min(c.eet, end)
					if extra := (to - c.begin - max(0, to-c.loose) - in) * c.q; extra > candExtra {
						cand, candExtra = r, extra
					}
				}
				spare := g.cap*(end-c.begin) - sum - (ttEnd - c.before)
				if spare < 0 {
					b, t := c.begin, end
					if dir == 1 {
						b, t = -end, -c.begin
					}
					e.confl = e.energyAtoms(g, b, t, -1, 0, int32(len(e.trail)), e.confl[:0])
					if e.proof != nil {
						e.proof.clash(fmt.Sprintf("energy %d %d %d", g.res, b, t), e.confl, int32(len(e.trail)))
					}
					return false
				}
				if candExtra > spare {
					if !e.pushEnergy(k, dir, byEst[cand], &cells[cand], c.begin, end, spare) {
						return false
					}
					cand, candExtra = -1, 0
				}
			}
		}
	}
	return true
}

// pushEnergy moves activity i out of a stretch that leaves it too little.
func (e *engine) pushEnergy(k int32, dir int, i int32, c *cell, begin, end, spare int64) bool {
	g := &e.energies[k]
	in := min(max(0, end-c.late), c.free)
	room := spare + (in+max(0, min(c.eet, end)-c.loose))*c.q
	a, act := room/c.q, g.acts[i]
	if a >= min(g.p[i], end-begin) || c.begin <= begin-g.p[i]+a {
		return true
	}
	if dir == 0 {
		v := end - a
		return v <= e.lb[2*act] || e.raise(2*act, v, byEnergy, int16(k), i, begin, end)
	}
	// ends by begin + a in real time
	v := a - end - g.p[i]
	return v >= -e.lb[2*act+1] || e.raise(2*act+1, -v, byEnergy, int16(k), i, -end, -begin)
}

// energyAtoms lists bounds by which the activities, except one, spend in the
// stretch from b to t all that the resource has and more, less what is asked
// for the one left out.
func (e *engine) energyAtoms(g *energy, b, t int64, except int32, own int64, k int32, out []atom) []atom {
	type part struct {
		i     int32
		in    int64
		root  bool
		place int32
	}
	var buf [128]part
	ps := buf[:0]
	total := own
	for i, a := range g.acts {
		if int32(i) == except {
			continue
		}
		// quick test with the present bounds, which are the tightest
		if e.lb[2*a]+g.p[i] <= b || -e.lb[2*a+1] >= t {
			continue
		}
		est, lst := e.at(2*a, k), -e.at(2*a+1, k)
		in := min(t-b, g.p[i], est+g.p[i]-b, t-lst)
		if in <= 0 {
			continue
		}
		total += in * g.q[i]
		p1, p2 := e.first(2*a, b+in-g.p[i]), e.first(2*a+1, in-t)
		root := (p1 < 0 || e.trail[p1].level == 0) && (p2 < 0 || e.trail[p2].level == 0)
		ps = append(ps, part{int32(i), in, root, max(p1, p2)})
	}
	spare := total - g.cap*(t-b) - 1
	// give away what is not needed, the latest first
	slices.SortStableFunc(ps, func(x, y part) int { return int(y.place - x.place) })
	for _, p := range ps {
		if p.root {
			continue
		}
		a, q := g.acts[p.i], g.q[p.i]
		in := p.in
		if give := min(in, spare/q); give > 0 {
			in -= give
			spare -= give * q
			if in == 0 {
				continue
			}
		}
		out = append(out, atom{2 * a, b + in - g.p[p.i]}, atom{2*a + 1, in - t})
	}
	for _, p := range ps {
		if p.root {
			a := g.acts[p.i]
			out = append(out, atom{2 * a, b + p.in - g.p[p.i]}, atom{2*a + 1, p.in - t})
		}
	}
	return out
}

func (e *engine) explainEnergy(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	g := &e.energies[t.table]
	i := t.rx
	a := g.acts[i]
	b, end := t.r1, t.r2
	if t.b == 2*a { // starts at v or later: before, it takes more than end-v
		most := end - v
		if w := e.prev(a, v-1); w < v-1 {
			most = max(most, end-w-1)
		}
		most = min(most, g.p[i]-1, end-b-1)
		out = append(out, atom{2 * a, b - g.p[i] + most + 1})
		return e.energyAtoms(g, b, end, i, (most+1)*g.q[i], k, out)
	}
	most := min(-v-b+g.p[i], g.p[i]-1, end-b-1)
	out = append(out, atom{2*a + 1, -(end - most - 1)})
	return e.energyAtoms(g, b, end, i, (most+1)*g.q[i], k, out)
}
