package layout

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The factored basis solves to the same as gonum's dense one, before and after
// columns are exchanged, and so does a copy that went its own way.
func TestFactorsAgainstDense(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	for round := range 60 {
		m := 1 + r.IntN(60)
		cols := make([]column, m)
		for i := range cols {
			cols[i] = sparseColumn(r, m, i)
		}
		f, ok := factor(m, func(i int) *column { return &cols[i] })
		if !ok {
			t.Fatalf("round %d: a matrix with a full diagonal was taken for a singular one", round)
		}
		sameAsDense(t, f, cols, r)
		own := append([]column{}, cols...)
		g := f.shared()
		for range 30 {
			exchange(r, f, cols)
			sameAsDense(t, f, cols, r)
			exchange(r, g, own)
			sameAsDense(t, g, own, r)
		}
	}
}

// Columns that depend on each other are told, and cause nothing worse.
func TestFactorsOfDependentColumns(t *testing.T) {
	a := column{rows: []int32{0, 1}, vals: []float64{1, 2}}
	b := column{rows: []int32{0, 1}, vals: []float64{2, 4}}
	none := column{}
	for _, cols := range [][]column{{a, b}, {a, none}, {none, none}, {a, a}} {
		f, ok := factor(2, func(i int) *column { return &cols[i] })
		if ok {
			t.Errorf("%v: not told", cols)
		}
		y := make([]float64, 2)
		f.right(&a, y)
		f.left([]float64{1, 1}, y)
		for _, v := range y {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%v: %v", cols, y)
			}
		}
	}
}

// sparseColumn makes a column with a strong entry in its own row.
func sparseColumn(r *rand.Rand, m, own int) column {
	c := column{rows: []int32{int32(own)}, vals: []float64{4 + r.Float64()}}
	for range r.IntN(4) {
		if i := int32(r.IntN(m)); i != int32(own) && !slices.Contains(c.rows, i) {
			c.rows, c.vals = append(c.rows, i), append(c.vals, float64(r.IntN(5)-2))
		}
	}
	return c
}

func exchange(r *rand.Rand, f *factors, cols []column) {
	at := r.IntN(len(cols))
	c := sparseColumn(r, len(cols), at)
	y := make([]float64, len(cols))
	f.right(&c, y)
	if math.Abs(y[at]) < 1e-3 {
		return
	}
	f.replace(at, y)
	cols[at] = c
}

func sameAsDense(t *testing.T, f *factors, cols []column, r *rand.Rand) {
	t.Helper()
	m := len(cols)
	d := mat.NewDense(m, m, nil)
	for j, c := range cols {
		for k, i := range c.rows {
			d.Set(int(i), j, c.vals[k])
		}
	}
	a := sparseColumn(r, m, r.IntN(m))
	right, cost := mat.NewVecDense(m, nil), mat.NewVecDense(m, nil)
	for k, i := range a.rows {
		right.SetVec(int(i), a.vals[k])
	}
	c := make([]float64, m)
	for i := range c {
		c[i] = r.Float64()
		cost.SetVec(i, c[i])
	}
	var x, p mat.VecDense
	if x.SolveVec(d, right) != nil || p.SolveVec(d.T(), cost) != nil {
		t.Fatal("gonum finds no answer")
	}
	y, pi := make([]float64, m), make([]float64, m)
	f.right(&a, y)
	f.left(c, pi)
	for i := range m {
		if math.Abs(y[i]-x.AtVec(i)) > 1e-7*(1+math.Abs(x.AtVec(i))) || math.Abs(pi[i]-p.AtVec(i)) > 1e-7*(1+math.Abs(p.AtVec(i))) {
			t.Fatalf("place %d of %d: %g and %g, gonum has %g and %g", i, m, y[i], pi[i], x.AtVec(i), p.AtVec(i))
		}
	}
}
