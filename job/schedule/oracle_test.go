package schedule

import (
	"slices"

	sat "github.com/crillab/gophersat/solver"
)

// oracle states a small problem as time-indexed pseudo-boolean constraints for
// a general-purpose sat. It works from the problem alone: allowed starts and
// ends come from the plain scan of the checker.
type oracle struct {
	p      *Problem
	vars   int
	cons   []sat.PBConstr
	start  [][]int64 // allowed starts by activity
	end    [][]int64
	by     [][]int // by[i][k]: variable "i starts at start[i][k] or before"
	order  map[[2]int]int
	wait   map[int]map[int64]int // variable "the changes before i take at least so much"
	opened [][]int64
	diff   []int // variables "a change is needed"
}

// back is how far before tick 0 the oracle looks.
const back = 100

func (o *oracle) new() int { o.vars++; return o.vars }

func (o *oracle) clause(ls ...int) { o.cons = addClause(o.cons, ls...) }

// addClause adds a clause without constants and repeated literals.
func addClause(cons []sat.PBConstr, ls ...int) []sat.PBConstr {
	if len(ls) == 1 && ls[0] == -never {
		return append(cons, sat.PropClause(ls...))
	}
	var out []int
	for _, l := range ls {
		if l == -never || slices.Contains(out, -l) {
			return cons
		}
		if l != never && !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	if len(out) == 0 {
		out = append(out, never)
	}
	return append(cons, sat.PropClause(out...))
}

// The constants false and true are the variables 1 (false) and its negation.
const never = 1

func newOracle(p *Problem) *oracle {
	o := &oracle{p: p, order: map[[2]int]int{}, wait: map[int]map[int64]int{}}
	o.new()
	o.clause(-never)
	n := len(p.Activities)
	for i := 0; i < n; i++ {
		var ss, es []int64
		lo, hi := int64(0), p.Horizon
		if f := p.Activities[i].Fixed; f != nil {
			lo, hi = *f, *f
		}
		for t := lo; t <= hi; t++ {
			c := checker{p: p, start: make([]int64, n), end: make([]int64, n)}
			c.start[i] = t
			if c.activity(i) == nil {
				ss, es = append(ss, t), append(es, c.end[i])
			}
		}
		o.start, o.end = append(o.start, ss), append(o.end, es)
		vs := make([]int, len(ss))
		for k := range vs {
			vs[k] = o.new()
			if k > 0 {
				o.clause(-vs[k-1], vs[k])
			}
		}
		if len(vs) == 0 {
			o.clause(never)
		} else {
			o.clause(vs[len(vs)-1])
		}
		o.by = append(o.by, vs)
	}
	for _, l := range p.Lags {
		if p.Activities[l.From].Fixed == nil || p.Activities[l.To].Fixed == nil {
			o.lag(l)
		}
	}
	for i, a := range p.Activities {
		for _, h := range a.Holds {
			if a.Fixed == nil || p.Activities[h.Until].Fixed == nil {
				o.lag(Lag{From: i, FromEnd: true, To: h.Until, ToEnd: true})
			}
		}
	}
	o.capacities()
	o.changes()
	return o
}

// startBy gives the literal "i starts at t or before", endBy "i ends at t or
// before".
func (o *oracle) startBy(i int, t int64) int { return o.last(i, o.start[i], t) }
func (o *oracle) endBy(i int, t int64) int   { return o.last(i, o.end[i], t) }

func (o *oracle) last(i int, of []int64, t int64) int {
	k := -1
	for j, v := range of {
		if v <= t {
			k = j
		}
	}
	if k < 0 {
		return never
	}
	return o.by[i][k]
}

func (o *oracle) moment(i int, end bool) []int64 {
	if end {
		return o.end[i]
	}
	return o.start[i]
}

func (o *oracle) momentBy(i int, end bool, t int64) int {
	return o.last(i, o.moment(i, end), t)
}

func (o *oracle) lag(l Lag) {
	// from > v  implies  to >= least(v'), v' the next moment of from
	from := o.moment(l.From, l.FromEnd)
	for k, v := range from {
		least := v + l.Min
		if l.Curve != nil {
			least = l.Curve.At(v)
		}
		prior := never
		if k > 0 {
			prior = o.by[l.From][k-1]
		}
		o.clause(prior, -o.momentBy(l.To, l.ToEnd, least-1)) // from at v or later
		if l.HasMax {
			o.clause(-o.by[l.From][k], o.momentBy(l.To, l.ToEnd, v+l.Max))
		}
	}
}

func (o *oracle) capacities() {
	p := o.p
	for r, res := range p.Resources {
		for t := int64(0); t < p.Horizon; t++ {
			var ls, ws []int
			bound := res.Capacity
			use := func(i, u, q int) { // q x (started - ended), ended implying started
				y, z := o.startBy(i, t), o.endBy(u, t)
				if y == z || y == never {
					return
				}
				ls, ws = append(ls, y), append(ws, q)
				if z != never {
					ls, ws, bound = append(ls, -z), append(ws, q), bound+q
				}
			}
			for i, a := range p.Activities {
				for _, nd := range a.Needs {
					if nd.Resource == r && nd.Qty > 0 {
						use(i, i, nd.Qty)
					}
				}
				for _, h := range a.Holds {
					if h.Resource == r && h.Qty > 0 {
						use(i, h.Until, h.Qty)
					}
				}
			}
			if len(ls) > 0 {
				o.cons = append(o.cons, sat.LtEq(ls, ws, bound))
			}
		}
	}
}

func (o *oracle) busy(i int) bool { return len(o.start[i]) > 0 && o.end[i][0] > o.start[i][0] }

// openBetween counts open ticks in [from, to) for the hours of activity i.
func (o *oracle) openBetween(i int, from, to int64) int64 {
	c := o.p.Activities[i].Calendar
	if c == Always {
		return to - from
	}
	if o.opened == nil { // open ticks in [back, t), by calendar
		for _, cal := range o.p.Calendars {
			n := make([]int64, 1, o.p.Horizon+back)
			for t := int64(-back); t < o.p.Horizon+1; t++ {
				in := n[len(n)-1]
				for _, w := range cal.Windows {
					if w.Open <= t && t < w.Close {
						in++
					}
				}
				n = append(n, in)
			}
			o.opened = append(o.opened, n)
		}
	}
	return o.opened[c][to+back] - o.opened[c][from+back]
}

// changes states the set-ups: a total order of the maker's steps, for every
// set-up the step directly before, and room for the changes.
func (o *oracle) changes() {
	p := o.p
	if len(p.Setups) == 0 {
		return
	}
	var hands []int
	for i, a := range p.Activities {
		for _, nd := range a.Needs {
			if nd.Resource == p.Setups[0].Resource && nd.Qty > 0 && o.busy(i) {
				hands = append(hands, i)
				break
			}
		}
	}
	for _, i := range hands {
		for _, j := range hands {
			if i >= j {
				continue
			}
			v := o.new()
			o.order[[2]int{i, j}], o.order[[2]int{j, i}] = v, -v
		}
	}
	for _, i := range hands {
		for _, j := range hands {
			if i == j {
				continue
			}
			for k, t := range o.start[j] { // i before j, j by t: i ends by t
				o.clause(-o.order[[2]int{i, j}], -o.by[j][k], o.endBy(i, t))
			}
		}
	}
	for _, j := range hands {
		a := p.Activities[j]
		if len(a.States) == 0 || a.Fixed != nil {
			continue
		}
		// sums over the set-ups of j, by choice of the step before in each
		type choice struct {
			lits []int
			time int64
		}
		all := []choice{{}}
		for _, st := range a.States {
			su := p.Setups[st.Setup]
			var one []choice
			var some []int
			d := o.new()
			o.diff = append(o.diff, d)
			users := map[int]int{}
			for i, b := range p.Activities {
				for _, s := range b.States {
					if s.Setup == st.Setup && i != j {
						users[i] = s.State
					}
				}
			}
			pick := func(state int) int {
				v := o.new()
				some = append(some, v)
				one = append(one, choice{[]int{v}, su.Change[state][st.State]})
				if state != st.State {
					o.clause(-v, d)
				}
				return v
			}
			first := pick(su.Initial)
			for _, i := range hands {
				state, ok := users[i]
				if !ok {
					continue
				}
				o.clause(-first, -o.order[[2]int{i, j}])
				v := pick(state)
				o.clause(-v, o.order[[2]int{i, j}])
				for _, k := range hands {
					if _, ok := users[k]; ok && k != i {
						o.clause(-v, o.order[[2]int{k, i}], o.order[[2]int{j, k}])
					}
				}
			}
			o.clause(some...)
			var next []choice
			for _, x := range all {
				for _, y := range one {
					next = append(next, choice{append(append([]int(nil), x.lits...), y.lits...), x.time + y.time})
				}
			}
			all = next
		}
		w := map[int64]int{}
		for _, c := range all {
			if c.time == 0 {
				continue
			}
			if w[c.time] == 0 {
				w[c.time] = o.new()
			}
			cl := []int{w[c.time]}
			for _, l := range c.lits {
				cl = append(cl, -l)
			}
			o.clause(cl...)
		}
		for c, v := range w {
			for k, t := range o.start[j] {
				if o.openBetween(j, 0, t) < c {
					o.clause(-v, -o.by[j][k])
				}
				for _, i := range hands {
					if i == j {
						continue
					}
					// the latest end that leaves room
					late := t
					for late > -back && o.openBetween(j, late, t) < c {
						late--
					}
					o.clause(-v, -o.order[[2]int{i, j}], -o.by[j][k], o.endBy(i, late))
				}
			}
		}
	}
}

// limit adds "the value of a level is at most v" for all levels given.
func (o *oracle) limit(vals []int64) []sat.PBConstr {
	cons := make([]sat.PBConstr, len(o.cons))
	for i, c := range o.cons { // the solver writes to what it is given
		c.Lits = slices.Clone(c.Lits)
		c.Weights = slices.Clone(c.Weights)
		cons[i] = c
	}
	p := o.p
	for k, v := range vals {
		switch k {
		case Lateness:
			var ls, ws []int
			for _, pr := range p.Projects {
				if pr.Due == 0 {
					continue
				}
				// one literal for every tick that any member is late
				for t := max(pr.Due, 0); t < p.Horizon; t++ {
					o.vars++
					z := o.vars
					for _, m := range pr.Members {
						cons = addClause(cons, z, o.endBy(m, t))
					}
					ls, ws = append(ls, z), append(ws, int(pr.weight()))
				}
			}
			if len(ls) > 0 {
				cons = append(cons, sat.LtEq(ls, ws, int(v)))
			} else if v < 0 {
				cons = addClause(cons, never)
			}
		case Finish:
			if v < 0 { // the finish is never before tick 0
				cons = addClause(cons, never)
			}
			for i := range p.Activities {
				cons = addClause(cons, o.endBy(i, v))
			}
		case SetupChanges:
			if v < 0 {
				cons = addClause(cons, never)
			} else if len(o.diff) > 0 {
				ws := make([]int, len(o.diff))
				for i := range ws {
					ws[i] = 1
				}
				cons = append(cons, sat.LtEq(slices.Clone(o.diff), ws, int(v)))
			}
		case StartSum:
			var ls, ws []int
			rest := int(v)
			for i, ss := range o.start {
				rest -= int(ss[0])
				for j := 1; j < len(ss); j++ { // later than the one before costs the difference
					ls, ws = append(ls, -o.by[i][j-1]), append(ws, int(ss[j]-ss[j-1]))
				}
			}
			switch {
			case rest < 0:
				cons = addClause(cons, never)
			case len(ls) > 0:
				cons = append(cons, sat.LtEq(ls, ws, rest))
			}
		}
	}
	return cons
}

// solvable asks the library whether the values can be had. The library breaks
// down on a few inputs (an index out of range while it learns from a
// pseudo-boolean conflict); such a question is counted and left open.
func (o *oracle) solvable(vals []int64) (yes, answered bool) {
	keep := o.vars
	defer func() {
		o.vars = keep
		if r := recover(); r != nil {
			yes, answered = false, false
		}
	}()
	pb := sat.ParsePBConstrs(o.limit(vals))
	if pb.Status == sat.Unsat {
		return false, true
	}
	return sat.New(pb).Solve() == sat.Sat, true
}
