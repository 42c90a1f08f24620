package layout

import (
	"math"
	"slices"
)

// master is a linear program with equality rows that grows by columns: min
// cost*x, A x = b, x >= 0, solved by the revised primal simplex method with a
// factored basis. It is used for its dual values only; what is proved with them
// is proved in whole numbers elsewhere, so that an inexact answer here can make
// a bound weak but never wrong.
type master struct {
	m     int
	b     []float64
	cols  []column
	basis []int // column of each place
	f     *factors
	x     []float64 // value of the column of each place
	pi    []float64
	where []int // place of a basic column, -1
	ops   int64
}

// column is a sparse column.
type column struct {
	cost float64
	rows []int32
	vals []float64
	dead bool // never enters again
}

const (
	lpEps     = 1e-9
	lpChanges = 64 // of the basis, after which it is factored afresh
)

// newMaster makes a program whose first columns are one unit column a row, of
// the given sign and cost, which form the first basis.
func newMaster(b []float64, sign, cost []float64) *master {
	m := len(b)
	lp := &master{m: m, b: b, pi: make([]float64, m), x: make([]float64, m)}
	for i := range m {
		lp.cols = append(lp.cols, column{cost[i], []int32{int32(i)}, []float64{sign[i]}, false})
		lp.basis = append(lp.basis, i)
		lp.where = append(lp.where, i)
		lp.x[i] = sign[i] * b[i]
	}
	return lp
}

func (lp *master) add(c column) {
	lp.cols = append(lp.cols, c)
	lp.where = append(lp.where, -1)
}

// addCut gives the program a row that allows one of the columns it counts. What
// breaks it is taken up by a column that must leave; that and the row's slack are
// the two last columns afterwards.
func (lp *master) addCut(counts func(j int) bool) {
	at := int32(lp.m)
	x := -1.0
	for j := range lp.cols {
		if !counts(j) {
			continue
		}
		col := &lp.cols[j]
		col.rows = append(slices.Clone(col.rows), at)
		col.vals = append(slices.Clone(col.vals), 1)
		if in := lp.where[j]; in >= 0 {
			x += lp.x[in]
		}
	}
	lp.m++
	lp.f = nil
	lp.b = append(lp.b, 1)
	lp.pi = append(lp.pi, 0)
	lp.x = append(lp.x, x)
	lp.basis = append(lp.basis, len(lp.cols))
	lp.add(column{cost: banned, rows: []int32{at}, vals: []float64{-1}, dead: true})
	lp.where[len(lp.cols)-1] = lp.m - 1
	lp.add(column{rows: []int32{at}, vals: []float64{1}})
}

// factored makes the factors where there are none.
func (lp *master) factored() {
	if lp.f == nil {
		lp.f, _ = factor(lp.m, lp.basic)
		lp.ops += int64(4*lp.f.size() + lp.m)
	}
}

func (lp *master) basic(i int) *column { return &lp.cols[lp.basis[i]] }

// duals works the dual values out from the basis.
func (lp *master) duals() {
	lp.factored()
	c := make([]float64, lp.m)
	for i := range c {
		c[i] = lp.basic(i).cost
	}
	lp.f.left(c, lp.pi)
}

// row gives the row of the basis's inverse that belongs to a place.
func (lp *master) row(at int, unit, to []float64) {
	clear(unit)
	unit[at] = 1
	lp.f.left(unit, to)
}

func (lp *master) reduced(c *column) float64 {
	d := c.cost
	for k, r := range c.rows {
		d -= float64(lp.pi[r] * c.vals[k])
	}
	return d
}

// solve pivots until no column improves, or limit pivots are made.
func (lp *master) solve(limit int) {
	lp.duals()
	cells := make([]float64, 3*lp.m)
	y, unit, row := cells[:lp.m], cells[lp.m:2*lp.m], cells[2*lp.m:]
	for range limit {
		best, enter := -1e-8, -1
		for j := range lp.cols {
			if lp.where[j] >= 0 || lp.cols[j].dead {
				continue
			}
			if d := lp.reduced(&lp.cols[j]); d < best {
				best, enter = d, j
			}
		}
		lp.ops += int64(len(lp.cols))
		if enter < 0 {
			return
		}
		lp.f.right(&lp.cols[enter], y)
		leave, ratio := -1, math.Inf(1)
		for i, v := range y {
			if v > lpEps {
				r := max(lp.x[i], 0) / v
				if r < ratio-1e-12 || r < ratio+1e-12 && leave >= 0 && v > y[leave] {
					leave, ratio = i, r
				}
			}
		}
		if leave < 0 {
			return // unbounded: cannot be, with costs that are not negative
		}
		lp.row(leave, unit, row)
		lp.pivot(leave, enter, y, row, best)
	}
}

// pivot puts a column in the place of another. y is the column in terms of the
// basis, row the row of the inverse that belongs to the place.
func (lp *master) pivot(leave, enter int, y, row []float64, reduced float64) {
	x := lp.x[leave] / y[leave]
	for i, v := range y {
		lp.x[i] -= float64(v * x)
	}
	lp.x[leave] = x
	d := reduced / y[leave]
	for k, v := range row {
		lp.pi[k] += float64(d * v)
	}
	lp.where[lp.basis[leave]] = -1
	lp.basis[leave] = enter
	lp.where[enter] = leave
	lp.f.replace(leave, y)
	lp.ops += int64(lp.f.size()/8 + lp.m/2)
	if len(lp.f.turn) > lpChanges {
		lp.refresh()
	}
}

// refresh makes the factors afresh.
func (lp *master) refresh() {
	f, ok := factor(lp.m, lp.basic)
	lp.ops += int64(4*f.size() + lp.m)
	if !ok {
		return // nearly singular: go on with the old ones
	}
	lp.f = f
	w := slices.Clone(lp.b)
	lp.f.solve(w, lp.x)
	lp.duals()
}

// restore makes the basis feasible again after b has changed, by the dual
// simplex method; reduced costs must not be below zero. It says whether it
// came to an end.
func (lp *master) restore(limit int) bool {
	lp.factored()
	cells := make([]float64, 3*lp.m)
	y, unit, row := cells[:lp.m], cells[lp.m:2*lp.m], cells[2*lp.m:]
	for range limit {
		leave, worst := -1, -1e-9
		for i, v := range lp.x {
			if v < worst {
				leave, worst = i, v
			}
		}
		if leave < 0 {
			return true
		}
		lp.row(leave, unit, row)
		enter, ratio, size := -1, math.Inf(1), 0.0
		for j := range lp.cols {
			c := &lp.cols[j]
			if lp.where[j] >= 0 || c.dead {
				continue
			}
			v := 0.0
			for k, r := range c.rows {
				v += float64(row[r] * c.vals[k])
			}
			if v < -1e-7 {
				d := max(lp.reduced(c), 0)
				if r := d / -v; r < ratio-1e-12 || r < ratio+1e-12 && -v > size {
					enter, ratio, size = j, r, -v
				}
			}
		}
		lp.ops += int64(len(lp.cols))
		if enter < 0 {
			return false
		}
		lp.f.right(&lp.cols[enter], y)
		if math.Abs(y[leave]) < lpEps {
			return false // too inexact to go on
		}
		lp.pivot(leave, enter, y, row, lp.reduced(&lp.cols[enter]))
	}
	return false
}

// clone copies the program, its columns shared.
func (lp *master) clone() *master {
	n := *lp
	n.b = slices.Clone(lp.b)
	n.cols = slices.Clone(lp.cols)
	n.basis = slices.Clone(lp.basis)
	n.where = slices.Clone(lp.where)
	n.x = slices.Clone(lp.x)
	n.pi = slices.Clone(lp.pi)
	if lp.f != nil {
		n.f = lp.f.shared()
	}
	return &n
}

// value is the cost of the basis.
func (lp *master) value() (z float64) {
	for i, j := range lp.basis {
		z += float64(lp.cols[j].cost * lp.x[i])
	}
	return z
}
