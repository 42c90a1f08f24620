package schedule

// The engine is a clause-learning search over the starts (lazy clause
// generation: Ohrimenko, Stuckey, Codish 2009; for project scheduling Schutt,
// Feydy, Stuckey, Wallace 2011 and 2013).
//
// Every integer variable x has two directions: 2x stands for x itself, 2x+1 for
// -x, so that every bound is a lower bound: atom {2x, v} says x >= v and atom
// {2x+1, -v} says x <= v. Bounds live on the trail. A literal for a bound is
// made only when a learned clause needs it, and its truth is a function of the
// bounds.

// lit is a literal: 2*variable, plus 1 for its negation.
type lit int32

func (l lit) not() lit   { return l ^ 1 }
func (l lit) v() int32   { return int32(l >> 1) }
func (l lit) neg() bool  { return l&1 != 0 }
func mkLit(v int32) lit  { return lit(v << 1) }
func litAtom(l lit) atom { return atom{b: -1 - int32(l)} }

const trueLit = lit(0) // variable 0 is always true
const noLit = lit(-1)

// atom is a statement: direction b has reached v; or, with b < 0, literal -1-b.
type atom struct {
	b int32
	v int64
}

func (a atom) lit() lit { return lit(-1 - a.b) }

// reason kinds of a trail entry
const (
	byDecision uint8 = iota
	byClause         // rx: clause
	byArc            // rx: arc
	byHalf           // rx: half
	byOrder          // rx: half whose order the bounds rule out
	byChain          // r1, r2: two literals that imply a third; see runChain
	byTable          // rx: task of the table r1>>32..., see timetable.go
	bySum            // rx: sum
	bySetup          // rx: set-up user
	byEdge           // rx: place in a disjunct; r1: latest end, r2: direction
	byTurns
	byEnergy // table: energy; rx: activity; r1, r2: the stretch of time
)

// entry is one step of the trail: a literal made true or a bound raised.
type entry struct {
	b      int32 // direction, or -1-lit
	prev   int32 // the entry before it for the same direction
	level  int32
	kind   uint8
	table  int16 // resource of a byTable reason
	rx     int32
	val    int64
	old    int64
	r1, r2 int64
}

// intVar is an integer variable with the literals made for its bounds.
type intVar struct {
	tm    *timing // allowed values and ends; nil means all values
	fixed bool    // end is start + length for every start
	len   int64
	vals  []int64 // ascending: literal vars[k] says x >= vals[k]
	vars  []int32
	loPos int // number of vals <= lower bound
	hiPos int // first index with vals > upper bound
}

type engine struct {
	m *model

	// literals
	val   []int8  // by literal: 1 true, -1 false, 0 open
	pos   []int32 // by variable: trail index (plain literals only)
	xOf   []int32 // by variable: integer variable, or -1
	xVal  []int64 // by variable: literal says x >= xVal
	xBelo []int64 // by variable: its negation says x <= xBelo
	free  []int32 // variables that may be used again
	watch [][]watcher
	halfL []int32 // by literal: the half it switches on, or -1

	// integer variables
	x     []intVar
	lb    []int64 // by direction
	last  []int32 // by direction: its last trail entry, or -1
	eet   []int64 // by activity: end for the lower bound
	trail []entry
	qhead int
	lim   []int32 // by level: trail length where it began

	// clauses
	arena   []lit
	learnts []int32
	claInc  float32

	// search
	act    []float64 // by variable
	varInc float64
	heap   varHeap
	phase  []int8

	// propagators
	arcs       []earc
	arcOut     [][]int32
	arcIn      [][]int32
	halves     []half
	halfOut    [][]int32 // by activity whose end a half begins with
	halfIn     [][]int32 // by activity whose start a half ends with
	order      []lit     // order[i*n+j]: i before j on the same unit
	n          int       // activities
	tables     []table
	tabOf      [][]tabUse
	sums       []sum
	sumOf      [][]int32 // by direction
	setups     []setupProp
	users      []setupUser
	userOf     []int32 // by variable: the set-up user whose change time it is, or -1
	setupQ     bool
	startSum   int32
	turns      *turns
	queue      []int32 // tables to run
	sumQ       []int32
	disj       []disjunct
	disjOf     [][]int32 // by variable
	disjQ      []int32
	energies   []energy
	energyOf   [][]int32 // by variable
	energyQ    []int32
	surrogates int // resources made up so far

	// analysis
	confl    []atom
	seen     []bool // by trail index
	needAt   []int32
	needVal  []int64
	scratch  []atom
	lower    []int32
	dropped  []int32
	outAtoms []atom
	learnt   []lit
	levelTag []int32
	tag      int32
	levelIn  []int32  // by level: tag + 1 if the clause has an entry of it
	deep     [][]atom // by depth

	restarts    int64
	restartUnit int64
	maxLearnts  int
	model       []int64 // starts of the best schedule so far

	look      int64 // work at which to look whether to stop
	unsat     bool
	work      int64
	conflicts int64
	trans     bool
	debug     bool
	proof     *proofLog
	named     []named
	pairs     []pairLit
	scratch2  []atom
}

func newEngine(m *model) *engine {
	e := &engine{m: m, n: m.n, varInc: 1, claInc: 1, maxLearnts: 10000}
	e.arena = append(e.arena, 0) // no clause at 0
	e.newVar(-1, 0, 0)
	e.val[trueLit], e.val[trueLit.not()] = 1, -1
	e.pos[0] = -1
	return e
}

func (e *engine) newVar(x int32, v, below int64) int32 {
	if k := len(e.free); k > 0 {
		id := e.free[k-1]
		e.free = e.free[:k-1]
		e.xOf[id], e.xVal[id], e.xBelo[id] = x, v, below
		e.act[id] = 0
		e.phase[id] = 0
		return id
	}
	id := int32(len(e.pos))
	e.val = append(e.val, 0, 0)
	e.pos = append(e.pos, -1)
	e.xOf = append(e.xOf, x)
	e.xVal = append(e.xVal, v)
	e.xBelo = append(e.xBelo, below)
	e.watch = append(e.watch, nil, nil)
	e.halfL = append(e.halfL, -1, -1)
	e.act = append(e.act, 0)
	e.phase = append(e.phase, 0)
	e.heap.grow(int(id) + 1)
	return id
}

// newInt makes an integer variable between lo and hi.
func (e *engine) newInt(lo, hi int64, tm *timing) int32 {
	x := int32(len(e.x))
	e.x = append(e.x, intVar{tm: tm})
	e.lb = append(e.lb, lo, -hi)
	e.last = append(e.last, -1, -1)
	e.eet = append(e.eet, 0)
	e.needAt = append(e.needAt, -1, -1)
	e.needVal = append(e.needVal, 0, 0)
	e.arcOut = append(e.arcOut, nil)
	e.arcIn = append(e.arcIn, nil)
	e.halfOut = append(e.halfOut, nil)
	e.halfIn = append(e.halfIn, nil)
	e.tabOf = append(e.tabOf, nil)
	e.disjOf = append(e.disjOf, nil)
	e.energyOf = append(e.energyOf, nil)
	e.sumOf = append(e.sumOf, nil, nil)
	e.userOf = append(e.userOf, -1)
	v := &e.x[x]
	if tm == nil {
		v.fixed = true
	} else if tm.open == nil && tm.curve == nil {
		v.fixed, v.len = true, tm.work
		if tm.pinned {
			v.len = tm.end0 - tm.spans[0].lo
		}
	}
	e.eet[x] = e.end(x, lo)
	return x
}

func (e *engine) lo(x int32) int64 { return e.lb[2*x] }
func (e *engine) hi(x int32) int64 { return -e.lb[2*x+1] }

func (e *engine) end(x int32, s int64) int64 {
	if v := &e.x[x]; !v.fixed {
		return v.tm.end(s)
	}
	return s + e.x[x].len
}

func (e *engine) endFrom(x int32, t int64) int64 {
	v := &e.x[x]
	if v.tm == nil {
		return t - v.len
	}
	if v.fixed {
		return e.next(x, t-v.len)
	}
	return v.tm.endFrom(t)
}

func (e *engine) endBy(x int32, t int64) int64 {
	v := &e.x[x]
	if v.tm == nil {
		return t - v.len
	}
	if v.fixed {
		return e.prev(x, t-v.len)
	}
	return v.tm.endBy(t)
}

// next and prev round to an allowed value.
func (e *engine) next(x int32, t int64) int64 {
	tm := e.x[x].tm
	if tm == nil || (len(tm.spans) == 1 && t >= tm.spans[0].lo && t <= tm.spans[0].hi) {
		return t
	}
	return tm.next(t)
}

func (e *engine) prev(x int32, t int64) int64 {
	tm := e.x[x].tm
	if tm == nil || (len(tm.spans) == 1 && t >= tm.spans[0].lo && t <= tm.spans[0].hi) {
		return t
	}
	return tm.prev(t)
}

// round raises v to the next value that direction b can have.
func (e *engine) round(b int32, v int64) int64 {
	if b&1 == 0 {
		return e.next(b>>1, v)
	}
	return -e.prev(b>>1, -v)
}

func (e *engine) level() int32 { return int32(len(e.lim)) }

// first gives the trail entry that made direction b reach v, or -1 when it
// held from the outset. The atom must be true.
func (e *engine) first(b int32, v int64) int32 {
	k := e.last[b]
	for k >= 0 && e.trail[k].old >= v {
		k = e.trail[k].prev
	}
	return k
}

// at gives the bound of direction b before trail index p.
func (e *engine) at(b int32, p int32) int64 {
	k := e.last[b]
	v := e.lb[b]
	for k >= p {
		v = e.trail[k].old
		k = e.trail[k].prev
	}
	return v
}

func (e *engine) atomPos(a atom) int32 {
	if a.b < 0 {
		return e.pos[a.lit().v()]
	}
	return e.first(a.b, a.v)
}

func (e *engine) holds(a atom) bool {
	if a.b < 0 {
		return e.val[a.lit()] > 0
	}
	return e.lb[a.b] >= a.v
}

// boundLit gives the literal for atom a, making it if need be.
func (e *engine) boundLit(a atom) lit {
	if a.b < 0 {
		return a.lit()
	}
	x := a.b >> 1
	v, neg := a.v, false
	if a.b&1 != 0 {
		v, neg = e.next(x, -a.v+1), true // x <= -a.v is not x >= the next value
	}
	iv := &e.x[x]
	k := searchInt64(iv.vals, v)
	if k == len(iv.vals) || iv.vals[k] != v {
		id := e.newVar(x, v, e.prev(x, v-1))
		iv = &e.x[x]
		iv.vals = append(iv.vals, 0)
		iv.vars = append(iv.vars, 0)
		copy(iv.vals[k+1:], iv.vals[k:])
		copy(iv.vars[k+1:], iv.vars[k:])
		iv.vals[k], iv.vars[k] = v, id
		l := mkLit(id)
		e.val[l], e.val[l.not()] = 0, 0
		switch {
		case v <= e.lo(x):
			e.val[l], e.val[l.not()] = 1, -1
			iv.loPos++
			iv.hiPos++
		case v > e.hi(x):
			e.val[l], e.val[l.not()] = -1, 1
		default:
			iv.hiPos++
		}
	}
	l := mkLit(iv.vars[k])
	if neg {
		return l.not()
	}
	return l
}

// atomOf is the statement a literal makes.
func (e *engine) atomOf(l lit) atom {
	id := l.v()
	x := e.xOf[id]
	if x < 0 {
		return litAtom(l)
	}
	if l.neg() {
		return atom{2*x + 1, -e.xBelo[id]}
	}
	return atom{2 * x, e.xVal[id]}
}

func searchInt64(a []int64, v int64) int {
	i, j := 0, len(a)
	for i < j {
		h := int(uint(i+j) >> 1)
		if a[h] < v {
			i = h + 1
		} else {
			j = h
		}
	}
	return i
}
