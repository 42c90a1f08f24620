package schedule

// The trail holds, in order, the literals made true and the bounds raised; going
// back undoes them from the end.

// set makes a plain literal true.
func (e *engine) set(l lit, kind uint8, rx int32, r1, r2 int64) bool {
	switch e.val[l] {
	case 1:
		return true
	case -1:
		k := int32(len(e.trail))
		e.trail = append(e.trail, entry{b: -1 - int32(l), level: e.level(), kind: kind, rx: rx, r1: r1, r2: r2})
		e.confl = e.explain(k, 0, e.confl[:0])
		e.trail = e.trail[:k]
		e.confl = append(e.confl, litAtom(l.not()))
		return false
	}
	e.pos[l.v()] = int32(len(e.trail))
	e.val[l], e.val[l.not()] = 1, -1
	e.trail = append(e.trail, entry{b: -1 - int32(l), prev: -1, level: e.level(), kind: kind, rx: rx, r1: r1, r2: r2})
	return true
}

// raise lifts direction b to at least v. It reports false on a conflict, left
// in e.confl.
func (e *engine) raise(b int32, v int64, kind uint8, table int16, rx int32, r1, r2 int64) bool {
	if v <= e.lb[b] {
		return true
	}
	v = e.round(b, v)
	k := int32(len(e.trail))
	if v > -e.lb[b^1] {
		e.trail = append(e.trail, entry{b: b, level: e.level(), kind: kind, table: table, rx: rx, val: v, old: e.lb[b], r1: r1, r2: r2})
		e.confl = e.explain(k, e.round(b, 1-e.lb[b^1]), e.confl[:0])
		e.trail = e.trail[:k]
		e.confl = append(e.confl, atom{b ^ 1, e.lb[b^1]})
		return false
	}
	e.trail = append(e.trail, entry{b: b, prev: e.last[b], level: e.level(), kind: kind, table: table, rx: rx, val: v, old: e.lb[b], r1: r1, r2: r2})
	e.last[b] = k
	e.lb[b] = v
	e.moved(b, v)
	return true
}

// moved keeps the literals and the end of a variable in step with its bound.
func (e *engine) moved(b int32, v int64) {
	x := &e.x[b>>1]
	if b&1 == 0 {
		for x.loPos < len(x.vals) && x.vals[x.loPos] <= v {
			l := mkLit(x.vars[x.loPos])
			e.val[l], e.val[l.not()] = 1, -1
			x.loPos++
		}
		if x.fixed {
			e.eet[b>>1] = v + x.len
		} else {
			e.eet[b>>1] = x.tm.end(v)
		}
		return
	}
	for x.hiPos > 0 && x.vals[x.hiPos-1] > -v {
		x.hiPos--
		l := mkLit(x.vars[x.hiPos])
		e.val[l], e.val[l.not()] = -1, 1
	}
}

// backTo undoes all levels above lev.
func (e *engine) backTo(lev int32) {
	if e.level() <= lev {
		return
	}
	from := int(e.lim[lev])
	for k := len(e.trail) - 1; k >= from; k-- {
		t := &e.trail[k]
		if t.b < 0 {
			l := lit(-1 - t.b)
			e.val[l], e.val[l.not()] = 0, 0
			e.heap.insert(l.v(), e.act)
			continue
		}
		b, v := t.b, t.old
		e.lb[b], e.last[b] = v, t.prev
		x := &e.x[b>>1]
		if b&1 == 0 {
			for x.loPos > 0 && x.vals[x.loPos-1] > v {
				x.loPos--
				l := mkLit(x.vars[x.loPos])
				e.val[l], e.val[l.not()] = 0, 0
				e.heap.insert(l.v(), e.act)
			}
			if x.fixed {
				e.eet[b>>1] = v + x.len
			} else {
				e.eet[b>>1] = x.tm.end(v)
			}
		} else {
			for x.hiPos < len(x.vals) && x.vals[x.hiPos] <= -v {
				l := mkLit(x.vars[x.hiPos])
				e.val[l], e.val[l.not()] = 0, 0
				e.heap.insert(l.v(), e.act)
				x.hiPos++
			}
		}
	}
	e.trail = e.trail[:from]
	e.lim = e.lim[:lev]
	e.qhead = from
	for _, r := range e.queue {
		e.tables[r].queued = false
	}
	e.queue = e.queue[:0]
	for _, s := range e.sumQ {
		e.sums[s].queued = false
	}
	e.sumQ = e.sumQ[:0]
	for _, d := range e.disjQ {
		e.disj[d].queued = false
	}
	e.disjQ = e.disjQ[:0]
	for _, g := range e.energyQ {
		e.energies[g].queued = false
	}
	e.energyQ = e.energyQ[:0]
	e.setupQ = false
}
