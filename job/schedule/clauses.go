package schedule

import (
	"math"
	"slices"
)

// A clause in the arena: its length, its block distance (number of levels when
// learned; 0 for a clause that is kept), its activity, its literals.
const clauseHead = 3

type watcher struct {
	ref     int32
	blocker lit
}

func (e *engine) lits(ref int32) []lit {
	n := e.arena[ref]
	return e.arena[ref+clauseHead : ref+clauseHead+int32(n)]
}

func (e *engine) addClause(ls []lit, lbd int32) int32 {
	ref := int32(len(e.arena))
	e.arena = append(e.arena, lit(len(ls)), lit(lbd), 0)
	e.arena = append(e.arena, ls...)
	e.watch[ls[0].not()] = append(e.watch[ls[0].not()], watcher{ref, ls[1]})
	e.watch[ls[1].not()] = append(e.watch[ls[1].not()], watcher{ref, ls[0]})
	if lbd > 0 {
		e.learnts = append(e.learnts, ref)
	}
	return ref
}

// imply makes the first literal of a clause true because the others are false.
func (e *engine) imply(l lit, ref int32) bool {
	id := l.v()
	x := e.xOf[id]
	if x < 0 {
		return e.set(l, byClause, ref, 0, 0)
	}
	if l.neg() {
		return e.raise(2*x+1, -e.xBelo[id], byClause, 0, ref, 0, 0)
	}
	return e.raise(2*x, e.xVal[id], byClause, 0, ref, 0, 0)
}

// visit goes through the clauses that watch the negation of the true literal p.
func (e *engine) visit(p lit) bool {
	ws := e.watch[p]
	if len(ws) == 0 {
		return true
	}
	np := p.not()
	j := 0
	for i := 0; i < len(ws); i++ {
		w := ws[i]
		if e.val[w.blocker] > 0 {
			ws[j] = w
			j++
			continue
		}
		ls := e.lits(w.ref)
		if ls[0] == np {
			ls[0], ls[1] = ls[1], ls[0]
		}
		first := ls[0]
		nw := watcher{w.ref, first}
		if first != w.blocker && e.val[first] > 0 {
			ws[j] = nw
			j++
			continue
		}
		found := false
		for k := 2; k < len(ls); k++ {
			if e.val[ls[k]] >= 0 {
				ls[1], ls[k] = ls[k], ls[1]
				q := ls[1].not()
				e.watch[q] = append(e.watch[q], nw)
				found = true
				break
			}
		}
		if found {
			continue
		}
		ws[j] = nw
		j++
		if e.val[first] < 0 {
			e.confl = e.confl[:0]
			for _, l := range ls {
				e.confl = append(e.confl, e.atomOf(l.not()))
			}
			e.bumpClause(w.ref)
			if e.proof != nil {
				e.proof.met(w.ref, int32(len(e.trail)))
			}
			j += copy(ws[j:], ws[i+1:])
			e.watch[p] = ws[:j]
			return false
		}
		if !e.imply(first, w.ref) {
			j += copy(ws[j:], ws[i+1:])
			e.watch[p] = ws[:j]
			return false
		}
	}
	e.watch[p] = ws[:j]
	return true
}

func (e *engine) bumpClause(ref int32) {
	if e.arena[ref+1] == 0 {
		return
	}
	a := math.Float32frombits(uint32(e.arena[ref+2])) + e.claInc
	e.arena[ref+2] = lit(math.Float32bits(a))
	if a > 1e20 {
		for _, r := range e.learnts {
			b := math.Float32frombits(uint32(e.arena[r+2])) * 1e-20
			e.arena[r+2] = lit(math.Float32bits(b))
		}
		e.claInc *= 1e-20
	}
	for _, l := range e.lits(ref) {
		e.bump(l.v())
	}
}

// reduce forgets the less useful half of the learned clauses, and the bound
// literals that no clause uses any more. It is called at level 0.
func (e *engine) reduce() {
	actOf := func(r int32) float32 { return math.Float32frombits(uint32(e.arena[r+2])) }
	order := slices.Clone(e.learnts)
	slices.SortStableFunc(order, func(a, b int32) int {
		la, lb := e.arena[a+1] <= 2, e.arena[b+1] <= 2
		if la != lb {
			if la {
				return -1
			}
			return 1
		}
		switch x, y := actOf(a), actOf(b); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	drop := map[int32]bool{}
	for k, r := range order {
		if k >= len(order)/2 && e.arena[r+1] > 2 {
			drop[r] = true
		}
	}
	var ids map[int32]int
	if e.proof != nil {
		e.proof.flush(e)
		ids, e.proof.ids = e.proof.ids, map[int32]int{}
	}
	// rebuild the arena
	old := e.arena
	e.arena = append(make([]lit, 0, len(old)), 0)
	for i := range e.watch {
		e.watch[i] = e.watch[i][:0]
	}
	e.learnts = e.learnts[:0]
	used := make([]bool, len(e.pos))
	for r := int32(1); r < int32(len(old)); {
		n := int32(old[r])
		ls := old[r+clauseHead : r+clauseHead+n]
		keep := !drop[r]
		k := 0
		if keep {
			for _, l := range ls { // at level 0 every value is final
				if e.val[l] > 0 {
					keep = false
					break
				}
				if e.val[l] == 0 {
					ls[k] = l
					k++
				}
			}
		}
		if keep && k >= 2 {
			lbd, act := old[r+1], old[r+2]
			ref := e.addClause(ls[:k], int32(lbd))
			e.arena[ref+2] = act
			if e.proof != nil {
				e.proof.ids[ref] = ids[r]
			}
			for _, l := range ls[:k] {
				used[l.v()] = true
			}
		}
		r += clauseHead + n
	}
	for x := range e.x {
		v := &e.x[x]
		j := 0
		for k, id := range v.vars {
			if used[id] {
				v.vals[j], v.vars[j] = v.vals[k], id
				j++
				continue
			}
			e.heap.remove(id, e.act)
			e.act[id] = 0
			l := mkLit(id)
			e.val[l], e.val[l.not()] = 0, 0
			e.free = append(e.free, id)
		}
		v.vals, v.vars = v.vals[:j], v.vars[:j]
		v.loPos = searchInt64(v.vals, e.lo(int32(x))+1)
		v.hiPos = searchInt64(v.vals, e.hi(int32(x))+1)
	}
}
