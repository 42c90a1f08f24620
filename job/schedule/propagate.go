package schedule

// propagate draws all conclusions from the trail. It reports false on a
// conflict, left in e.confl.
func (e *engine) propagate() bool {
	for {
		for e.qhead < len(e.trail) {
			k := e.qhead
			e.qhead++
			e.work++
			b := e.trail[k].b
			if b < 0 {
				l := lit(-1 - b)
				if !e.visit(l) {
					return false
				}
				for h := e.halfL[l]; h >= 0; h = e.halves[h].next {
					if !e.runHalf(h) {
						return false
					}
				}
				if h := e.halfL[l]; h >= 0 {
					hf := &e.halves[h]
					if e.trans && hf.u < int32(e.n) && e.order[int(hf.u)*e.n+int(hf.a)] == l && !e.runChain(hf.u, hf.a, l) {
						return false
					}
					e.setupQ = len(e.setups) > 0
				}
				continue
			}
			if !e.moveOn(k, b) {
				return false
			}
		}
		switch {
		case len(e.sumQ) > 0:
			s := e.sumQ[0]
			e.sumQ = append(e.sumQ[:0], e.sumQ[1:]...)
			e.sums[s].queued = false
			if !e.runSum(s) {
				return false
			}
		case e.setupQ:
			e.setupQ = false
			if !e.runSetups() {
				return false
			}
		case len(e.queue) > 0:
			t := e.queue[0]
			e.queue = append(e.queue[:0], e.queue[1:]...)
			e.tables[t].queued = false
			if !e.runTable(t) {
				return false
			}
		case len(e.disjQ) > 0:
			d := e.disjQ[0]
			e.disjQ = append(e.disjQ[:0], e.disjQ[1:]...)
			e.disj[d].queued = false
			if !e.runDisjunct(d) {
				return false
			}
		case len(e.energyQ) > 0:
			g := e.energyQ[0]
			e.energyQ = append(e.energyQ[:0], e.energyQ[1:]...)
			e.energies[g].queued = false
			if !e.runEnergy(g) {
				return false
			}
		default:
			return true
		}
	}
}

// moveOn passes on the raised bound of trail entry k.
func (e *engine) moveOn(k int, b int32) bool {
	t := &e.trail[k]
	x := b >> 1
	if iv := &e.x[x]; len(iv.vals) > 0 {
		if b&1 == 0 { // literals x >= v with old < v <= val became true
			for i := searchInt64(iv.vals, t.old+1); i < len(iv.vals) && iv.vals[i] <= e.trail[k].val; i++ {
				if !e.visit(mkLit(iv.vars[i])) {
					return false
				}
			}
		} else { // literals x >= v with -val < v <= -old became false
			for i := searchInt64(iv.vals, -t.val+1); i < len(iv.vals) && iv.vals[i] <= -e.trail[k].old; i++ {
				if !e.visit(mkLit(iv.vars[i]).not()) {
					return false
				}
			}
		}
	}
	if !e.runArcs(b) || !e.runHalves(b) {
		return false
	}
	if u := e.userOf[x]; u >= 0 && b&1 == 0 {
		if !e.runChange(u) {
			return false
		}
	}
	for _, s := range e.sumOf[b] {
		if !e.sums[s].queued && !e.sums[s].off {
			e.sums[s].queued = true
			e.sumQ = append(e.sumQ, s)
		}
	}
	e.wakeTables(b)
	for _, g := range e.energyOf[x] {
		e.wakeEnergy(g)
	}
	for _, d := range e.disjOf[x] {
		e.wakeDisjunct(d)
	}
	return true
}

// runChange passes on a longer change time before an activity.
func (e *engine) runChange(u int32) bool {
	us := &e.users[u]
	for _, h := range e.halfIn[us.act] {
		if e.val[e.halves[h].lit] >= 0 && !e.runHalf(h) {
			return false
		}
	}
	return true
}
