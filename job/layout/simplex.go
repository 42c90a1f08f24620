package layout

import (
	"math"
	"slices"
)

// master is a linear program with equality rows that grows by columns: min
// cost*x, A x = b, x >= 0, solved by the revised primal simplex method with an
// explicit inverse of the basis (G. B. Dantzig and W. Orchard-Hays, "The
// product form for the inverse in the simplex method", 1954, in its dense
// form). It is used for its dual values only; what is proved with them is
// proved in whole numbers elsewhere, so that an inexact answer here can make a
// bound weak but never wrong.
type master struct {
	m     int
	b     []float64
	cols  []column
	basis []int       // column of each row
	inv   [][]float64 // inverse of the basis
	x     []float64   // value of the basic column of each row
	pi    []float64
	where []int // row of a basic column, -1
	since int   // pivots since the inverse was made afresh
	ops   int64
	nz    []int32
}

// column is a sparse column.
type column struct {
	cost float64
	rows []int32
	vals []float64
	dead bool // never enters again
}

const lpEps = 1e-9

// newMaster makes a program whose first columns are one unit column a row, of
// the given sign and cost, which form the first basis.
func newMaster(b []float64, sign, cost []float64) *master {
	m := len(b)
	lp := &master{m: m, b: b, pi: make([]float64, m), x: make([]float64, m)}
	for i := range m {
		lp.cols = append(lp.cols, column{cost[i], []int32{int32(i)}, []float64{sign[i]}, false})
		lp.basis = append(lp.basis, i)
		lp.where = append(lp.where, i)
		row := make([]float64, m)
		row[i] = sign[i]
		lp.inv = append(lp.inv, row)
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
	row := make([]float64, lp.m+1)
	x := -1.0
	for j := range lp.cols {
		if !counts(j) {
			continue
		}
		col := &lp.cols[j]
		col.rows = append(slices.Clone(col.rows), at)
		col.vals = append(slices.Clone(col.vals), 1)
		if in := lp.where[j]; in >= 0 {
			for k, v := range lp.inv[in] {
				row[k] += v
			}
			x += lp.x[in]
		}
	}
	row[lp.m] = -1
	for i := range lp.inv {
		lp.inv[i] = append(lp.inv[i][:lp.m:lp.m], 0)
	}
	lp.m++
	lp.inv = append(lp.inv, row)
	lp.b = append(lp.b, 1)
	lp.pi = append(lp.pi, 0)
	lp.x = append(lp.x, x)
	lp.basis = append(lp.basis, len(lp.cols))
	lp.add(column{cost: banned, rows: []int32{at}, vals: []float64{-1}, dead: true})
	lp.where[len(lp.cols)-1] = lp.m - 1
	lp.add(column{rows: []int32{at}, vals: []float64{1}})
}

// duals works the dual values out from the inverse.
func (lp *master) duals() {
	clear(lp.pi)
	for i, j := range lp.basis {
		c := lp.cols[j].cost
		if c == 0 {
			continue
		}
		for k, v := range lp.inv[i] {
			lp.pi[k] += float64(c * v)
		}
	}
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
	y := make([]float64, lp.m)
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
		c := &lp.cols[enter]
		for i := range y {
			row, v := lp.inv[i], 0.0
			for k, r := range c.rows {
				v += float64(row[r] * c.vals[k])
			}
			y[i] = v
		}
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
		lp.pivot(leave, enter, y, best)
		if lp.since++; lp.since > 300 {
			lp.refresh()
		}
	}
}

func (lp *master) pivot(leave, enter int, y []float64, reduced float64) {
	p := lp.inv[leave]
	f := 1 / y[leave]
	for k := range p {
		p[k] *= f
	}
	lp.x[leave] *= f
	lp.nz = lp.nz[:0]
	for k, pk := range p {
		if pk != 0 {
			lp.nz = append(lp.nz, int32(k))
		}
	}
	sparse := 3*len(lp.nz) < lp.m
	for i, row := range lp.inv {
		if v := y[i]; i != leave && v != 0 {
			if sparse {
				for _, k := range lp.nz {
					row[k] -= float64(v * p[k])
				}
			} else {
				for k, pk := range p {
					row[k] -= float64(v * pk)
				}
			}
			lp.x[i] -= float64(v * lp.x[leave])
			if sparse {
				lp.ops += int64(len(lp.nz)) / 4
			} else {
				lp.ops += int64(lp.m) / 8
			}
		}
	}
	for k, pk := range p {
		lp.pi[k] += float64(reduced * pk)
	}
	lp.where[lp.basis[leave]] = -1
	lp.basis[leave] = enter
	lp.where[enter] = leave
}

// refresh makes the inverse afresh, by elimination with row pivots.
func (lp *master) refresh() {
	lp.since = 0
	m := lp.m
	a := make([][]float64, m)
	for i := range a {
		a[i] = make([]float64, 2*m)
		a[i][m+i] = 1
	}
	for i, j := range lp.basis {
		for k, r := range lp.cols[j].rows {
			a[r][i] = lp.cols[j].vals[k]
		}
	}
	for c := range m {
		p := c
		for i := c + 1; i < m; i++ {
			if math.Abs(a[i][c]) > math.Abs(a[p][c]) {
				p = i
			}
		}
		if math.Abs(a[p][c]) < 1e-11 {
			return // nearly singular: go on with the old inverse
		}
		a[c], a[p] = a[p], a[c]
		f := 1 / a[c][c]
		for k := c; k < 2*m; k++ {
			a[c][k] *= f
		}
		for i := range m {
			if v := a[i][c]; i != c && v != 0 {
				for k := c; k < 2*m; k++ {
					a[i][k] -= float64(v * a[c][k])
				}
			}
		}
	}
	lp.ops += int64(m * m * m / 20)
	for i := range m {
		copy(lp.inv[i], a[i][m:])
		x := 0.0
		for k, v := range lp.inv[i] {
			x += float64(v * lp.b[k])
		}
		lp.x[i] = x
	}
	lp.duals()
}

// restore makes the basis feasible again after b has changed, by the dual
// simplex method; reduced costs must not be below zero. It says whether it
// came to an end.
func (lp *master) restore(limit int) bool {
	y := make([]float64, lp.m)
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
		row := lp.inv[leave]
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
		c := &lp.cols[enter]
		for i := range y {
			row, v := lp.inv[i], 0.0
			for k, r := range c.rows {
				v += float64(row[r] * c.vals[k])
			}
			y[i] = v
		}
		lp.pivot(leave, enter, y, lp.reduced(c))
		if lp.since++; lp.since > 300 {
			lp.refresh()
		}
	}
	return false
}

// clone copies the program, its columns shared.
func (lp *master) clone() *master {
	n := *lp
	n.b = append([]float64{}, lp.b...)
	n.cols = append([]column{}, lp.cols...)
	n.basis = append([]int{}, lp.basis...)
	n.where = append([]int{}, lp.where...)
	n.x = append([]float64{}, lp.x...)
	n.nz = nil
	n.pi = append([]float64{}, lp.pi...)
	n.inv = make([][]float64, lp.m)
	cells := make([]float64, lp.m*lp.m)
	for i := range n.inv {
		n.inv[i] = cells[i*lp.m : (i+1)*lp.m]
		copy(n.inv[i], lp.inv[i])
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
