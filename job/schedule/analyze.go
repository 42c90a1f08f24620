package schedule

// explain appends atoms, all true before trail index k, that together imply
// what entry k says; for a raised bound only that it reaches v.
func (e *engine) explain(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	from := len(out)
	switch t.kind {
	case byClause:
		ls := e.lits(t.rx)
		for _, l := range ls[1:] {
			out = append(out, e.atomOf(l.not()))
		}
	case byArc:
		out = e.explainArc(k, v, out)
	case byHalf:
		out = e.explainHalf(k, v, out)
	case byOrder:
		out = e.explainOrder(k, out)
	case byChain:
		out = append(out, litAtom(lit(int32(t.r1))), litAtom(lit(int32(t.r2))))
	case byTable:
		out = e.explainTable(k, v, out)
	case bySum:
		out = e.explainSum(k, v, out)
	case byEdge:
		out = e.explainEdge(k, v, out)
	case byTurns:
		out = e.explainTurns(k, v, out)
	case byEnergy:
		out = e.explainEnergy(k, v, out)
	case bySetup:
		out = e.explainSetup(k, v, out)
	}
	if e.debug {
		for _, a := range out[from:] {
			if !e.holds(a) || e.atomPos(a) >= k {
				panic("schedule: a reason that does not hold")
			}
		}
	}
	if e.proof != nil {
		e.proof.lemma(e, t, k, v, out[from:])
	}
	return out
}

// mark adds an atom to the conflict under analysis. It returns the change in
// the number of marked entries at level lev.
func (e *engine) mark(a atom, lev int32) int {
	k := e.atomPos(a)
	if k < 0 || e.trail[k].level == 0 {
		return 0
	}
	d := 0
	if a.b < 0 {
		if e.seen[k] {
			return 0
		}
	} else {
		cur := e.needAt[a.b]
		switch {
		case cur > k:
			return 0
		case cur == k:
			e.needVal[a.b] = max(e.needVal[a.b], a.v)
			return 0
		case cur >= 0:
			e.seen[cur] = false
			if e.trail[cur].level == lev {
				d--
			}
		}
		e.needAt[a.b], e.needVal[a.b] = k, a.v
	}
	e.seen[k] = true
	if e.trail[k].level == lev {
		d++
	} else {
		e.lower = append(e.lower, k)
	}
	return d
}

// analyze learns from the conflict in e.confl. It leaves the literals of the
// new clause in e.learnt, the one to be made true first, and returns the level
// to go back to and the number of levels in the clause. Level -1 says that the
// conflict holds without any decision.
func (e *engine) analyze() (back, lbd int32) {
	lev := int32(0)
	for _, a := range e.confl {
		if k := e.atomPos(a); k >= 0 {
			lev = max(lev, e.trail[k].level)
		}
	}
	if lev == 0 {
		return -1, 0
	}
	if e.proof != nil {
		e.proof.flush(e)
	}
	for len(e.seen) < len(e.trail) {
		e.seen = append(e.seen, false)
	}
	e.lower = e.lower[:0]
	count := 0
	for _, a := range e.confl {
		count += e.mark(a, lev)
	}
	k := int32(len(e.trail)) - 1
	if int(lev) < len(e.lim) {
		k = e.lim[lev] - 1
	}
	for ; ; k-- {
		if !e.seen[k] {
			continue
		}
		if count == 1 {
			break
		}
		t := &e.trail[k]
		e.seen[k] = false
		count--
		v := int64(0)
		if t.b >= 0 {
			v = e.needVal[t.b]
			e.needAt[t.b] = -1
		} else {
			e.bump((lit(-1 - t.b)).v())
		}
		if t.kind == byClause {
			e.bumpClause(t.rx)
		}
		e.scratch = e.explain(k, v, e.scratch[:0])
		for _, a := range e.scratch {
			count += e.mark(a, lev)
		}
		if t.b >= 0 {
			e.bumpBound(t.b, v)
		}
	}
	uip := k
	// leave out what the rest already implies
	j := 0
	for _, i := range e.lower {
		if !e.seen[i] {
			continue
		}
		e.seen[i] = false // an entry may be listed twice
		e.lower[j] = i
		j++
	}
	e.lower = e.lower[:j]
	for len(e.levelIn) <= int(lev) {
		e.levelIn = append(e.levelIn, 0)
	}
	for _, i := range e.lower {
		e.seen[i] = true
		e.levelIn[e.trail[i].level] = e.tag + 1
	}
	j = 0
	for _, i := range e.lower {
		if e.redundant(i) {
			e.dropped = append(e.dropped, i)
			continue
		}
		e.lower[j] = i
		j++
	}
	e.lower = e.lower[:j]
	back, lbd = 0, 1
	e.outAtoms = append(e.outAtoms[:0], e.entryAtom(uip))
	for _, i := range e.lower {
		e.outAtoms = append(e.outAtoms, e.entryAtom(i))
		if l := e.trail[i].level; l > back {
			back = l
		}
		if e.tagLevel(e.trail[i].level) {
			lbd++
		}
	}
	e.tag++
	// clear the marks
	e.clear(uip)
	for _, i := range e.lower {
		e.clear(i)
	}
	for _, i := range e.dropped {
		e.clear(i)
	}
	e.dropped = e.dropped[:0]
	return back, lbd
}

func (e *engine) clear(k int32) {
	e.seen[k] = false
	if b := e.trail[k].b; b >= 0 {
		e.needAt[b] = -1
	}
}

func (e *engine) tagLevel(l int32) bool {
	for int(l) >= len(e.levelTag) {
		e.levelTag = append(e.levelTag, 0)
	}
	if e.levelTag[l] == e.tag+1 {
		return false
	}
	e.levelTag[l] = e.tag + 1
	return true
}

// entryAtom is what a marked entry stands for in the clause being learned.
func (e *engine) entryAtom(k int32) atom {
	t := &e.trail[k]
	if t.b < 0 {
		return atom{b: t.b}
	}
	return atom{t.b, e.needVal[t.b]}
}

// redundant reports whether a marked entry follows from the other marked ones,
// over a few steps.
func (e *engine) redundant(k int32) bool {
	t := &e.trail[k]
	v := int64(0)
	if t.b >= 0 {
		v = e.needVal[t.b]
	}
	return e.follows(k, v, 0)
}

const deepest = 3

// follows reports whether entry k, as far as value v, follows from marked
// entries before it.
func (e *engine) follows(k int32, v int64, depth int) bool {
	switch t := &e.trail[k]; {
	case t.kind == byDecision:
		return false
	case depth > 0 && (e.levelIn[t.level] != e.tag+1 || t.kind >= byTable):
		return false
	}
	for len(e.deep) <= depth {
		e.deep = append(e.deep, nil)
	}
	why := e.explain(k, v, e.deep[depth][:0])
	e.deep[depth] = why
	for _, a := range why {
		i := e.atomPos(a)
		if i < 0 || e.trail[i].level == 0 {
			continue
		}
		if a.b < 0 {
			if e.seen[i] {
				continue
			}
		} else if at := e.needAt[a.b]; at >= i && at < k && (at > i || e.needVal[a.b] >= a.v) {
			continue
		}
		if depth == deepest || !e.follows(i, a.v, depth+1) {
			return false
		}
	}
	return true
}

// bumpBound raises the activity of the literal for a bound, or of the next
// stronger one there is: the search then branches where conflicts arise.
func (e *engine) bumpBound(b int32, v int64) {
	x := b >> 1
	if b&1 != 0 {
		v = e.next(x, -v+1)
	}
	iv := &e.x[x]
	if k := searchInt64(iv.vals, v); k < len(iv.vals) {
		e.bump(iv.vars[k])
	}
}
