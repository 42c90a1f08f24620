package layout

import (
	"math"
	"slices"
)

// factors is the basis of a linear program as the product of a lower and an
// upper triangle, both sparse, and of one sparse column for each change of the
// basis since (H. M. Markowitz, "The elimination form of the inverse and its
// application to linear programming", Management Science 3 (1957); changes in
// the product form of G. B. Dantzig and W. Orchard-Hays, 1954). A pivot is
// looked for in a column with fewest entries left, in its row with fewest, so
// that little fills up.
type factors struct {
	m    int
	rows []int32 // pivot row of each step
	at   []int32 // place in the basis of the column that each step takes
	diag []float64
	low  sparse // of each step: rows below, and the multiples of the pivot row taken off them
	up   sparse // of each step: places of columns of later steps, entries
	more sparse // of each change: places, entries but the pivot
	turn []change
	work []float64
}

// sparse is a list of sparse vectors.
type sparse struct {
	from []int32
	idx  []int32
	val  []float64
}

func (s *sparse) put(i int32, v float64) { s.idx, s.val = append(s.idx, i), append(s.val, v) }
func (s *sparse) end()                   { s.from = append(s.from, int32(len(s.idx))) }

func (s *sparse) of(t int) ([]int32, []float64) {
	a, b := s.from[t], s.from[t+1]
	return s.idx[a:b], s.val[a:b]
}

// change is a column that was put in another's place.
type change struct {
	at    int32
	pivot float64
}

const (
	factorsTiny  = 1e-11 // no pivot is smaller
	factorsShare = 0.1   // of the largest entry of its column that a pivot has at least
)

// shared is a copy that can go its own way; what both have is not written to.
func (f *factors) shared() *factors {
	n := *f
	n.turn = slices.Clip(n.turn)
	n.more = sparse{slices.Clip(n.more.from), slices.Clip(n.more.idx), slices.Clip(n.more.val)}
	n.work = nil
	return &n
}

// entry is one of a row.
type entry struct {
	at int32
	v  float64
}

// elimination is the part of a basis that is not yet factored.
type elimination struct {
	f     *factors
	rows  [][]entry
	cols  [][]int32 // rows that have, or had, an entry in each column
	left  []int     // entries of each column in rows that are left
	taken []bool    // columns
	gone  []bool    // rows
	alone []int32   // columns that came to have one entry
	lone  []int32   // rows that came to have one
	spot  []int32   // of a column in the row in hand, from 1
}

// factor makes the factors of the columns of(0) to of(m-1), of m rows. It is not
// ok where they are as good as dependent; the factors are then of a basis with
// some other columns.
func factor(m int, of func(i int) *column) (f *factors, ok bool) {
	f = &factors{m: m}
	for _, s := range []*sparse{&f.low, &f.up, &f.more} {
		s.from = append(s.from, 0)
	}
	e := &elimination{f: f, rows: make([][]entry, m), cols: make([][]int32, m), left: make([]int, m),
		taken: make([]bool, m), gone: make([]bool, m), spot: make([]int32, m)}
	for i := range m {
		c := of(i)
		for k, r := range c.rows {
			if c.vals[k] == 0 {
				continue
			}
			e.rows[r] = append(e.rows[r], entry{int32(i), c.vals[k]})
			e.cols[i] = append(e.cols[i], r)
		}
		e.left[i] = len(e.cols[i])
	}
	for i := range int32(m) {
		if e.left[i] == 1 {
			e.alone = append(e.alone, i)
		}
		if len(e.rows[i]) == 1 {
			e.lone = append(e.lone, i)
		}
	}
	for ok = true; len(f.rows) < m; {
		r, c := e.pick()
		if r < 0 {
			ok = false
			e.pretend(c)
			continue
		}
		e.pivot(r, c)
	}
	return f, ok
}

// pretend takes a column out as though it had an entry of one in a row that is
// left, and no other.
func (e *elimination) pretend(col int32) {
	f := e.f
	row := int32(slices.Index(e.gone, false))
	f.rows, f.at, f.diag = append(f.rows, row), append(f.at, col), append(f.diag, 1)
	e.gone[row], e.taken[col] = true, true
	for _, x := range e.rows[row] {
		e.left[x.at]--
	}
	f.up.end()
	f.low.end()
	for _, r := range e.cols[col] {
		e.rows[r] = slices.DeleteFunc(e.rows[r], func(x entry) bool { return x.at == col })
	}
}

// pick chooses the next pivot; a row of -1 means that there is none.
func (e *elimination) pick() (row, col int32) {
	for len(e.alone) > 0 {
		c := e.alone[len(e.alone)-1]
		e.alone = e.alone[:len(e.alone)-1]
		if e.taken[c] || e.left[c] != 1 {
			continue
		}
		for _, r := range e.cols[c] {
			if !e.gone[r] && math.Abs(e.value(r, c)) > factorsTiny {
				return r, c
			}
		}
	}
	for len(e.lone) > 0 {
		r := e.lone[len(e.lone)-1]
		e.lone = e.lone[:len(e.lone)-1]
		if !e.gone[r] && len(e.rows[r]) == 1 && math.Abs(e.rows[r][0].v) > factorsTiny {
			return r, e.rows[r][0].at
		}
	}
	col = -1
	for c, n := range e.left {
		if !e.taken[c] && (col < 0 || n < e.left[col]) {
			col = int32(c)
		}
	}
	most := 0.0
	for _, r := range e.cols[col] {
		if !e.gone[r] {
			most = max(most, math.Abs(e.value(r, col)))
		}
	}
	row = -1
	for _, r := range e.cols[col] {
		if v := math.Abs(e.value(r, col)); !e.gone[r] && v > factorsTiny && v >= factorsShare*most && (row < 0 || len(e.rows[r]) < len(e.rows[row])) {
			row = r
		}
	}
	return row, col
}

func (e *elimination) value(r, c int32) float64 {
	for _, x := range e.rows[r] {
		if x.at == c {
			return x.v
		}
	}
	return 0
}

// pivot takes a row and a column out.
func (e *elimination) pivot(row, col int32) {
	f := e.f
	p := e.value(row, col)
	f.rows, f.at, f.diag = append(f.rows, row), append(f.at, col), append(f.diag, p)
	e.gone[row], e.taken[col] = true, true
	own := e.rows[row]
	for _, x := range own {
		if x.at == col {
			continue
		}
		f.up.put(x.at, x.v)
		if e.left[x.at]--; e.left[x.at] == 1 {
			e.alone = append(e.alone, x.at)
		}
	}
	f.up.end()
	for _, r := range e.cols[col] {
		if e.gone[r] {
			continue
		}
		at := slices.IndexFunc(e.rows[r], func(x entry) bool { return x.at == col })
		if at < 0 {
			continue
		}
		to := e.rows[r]
		q := to[at].v / p
		to = slices.Delete(to, at, at+1)
		if q != 0 {
			f.low.put(r, q)
			if len(own) > 1 {
				to = e.less(r, to, own, col, q)
			}
		}
		if e.rows[r] = to; len(to) == 1 {
			e.lone = append(e.lone, r)
		}
	}
	f.low.end()
}

// less takes a multiple of the pivot row off another.
func (e *elimination) less(r int32, to, own []entry, col int32, q float64) []entry {
	for i, x := range to {
		e.spot[x.at] = int32(i) + 1
	}
	for _, x := range own {
		if x.at == col {
			continue
		}
		if s := e.spot[x.at]; s > 0 {
			to[s-1].v -= float64(q * x.v)
			continue
		}
		to = append(to, entry{x.at, -float64(q * x.v)})
		e.spot[x.at] = int32(len(to))
		e.cols[x.at] = append(e.cols[x.at], r)
		e.left[x.at]++
	}
	for _, x := range to {
		e.spot[x.at] = 0
	}
	return to
}

// size is the number of entries in all factors.
func (f *factors) size() int { return len(f.low.idx) + len(f.up.idx) + len(f.more.idx) + f.m }

// right solves B y = a, y by place in the basis.
func (f *factors) right(c *column, y []float64) {
	if f.work == nil {
		f.work = make([]float64, f.m)
	}
	w := f.work
	clear(w)
	for k, r := range c.rows {
		w[r] += c.vals[k]
	}
	f.solve(w, y)
}

// solve turns what is right of the equals sign, by row, into y; w is spoiled.
func (f *factors) solve(w, y []float64) {
	for t, r := range f.rows {
		v := w[r]
		if v == 0 {
			continue
		}
		idx, val := f.low.of(t)
		for k, i := range idx {
			w[i] -= float64(v * val[k])
		}
	}
	for t := f.m - 1; t >= 0; t-- {
		v := w[f.rows[t]]
		idx, val := f.up.of(t)
		for k, i := range idx {
			v -= float64(val[k] * y[i])
		}
		if v != 0 {
			v /= f.diag[t]
		}
		y[f.at[t]] = v
	}
	for t, c := range f.turn {
		v := y[c.at]
		if v == 0 {
			continue
		}
		v /= c.pivot
		y[c.at] = v
		idx, val := f.more.of(t)
		for k, i := range idx {
			y[i] -= float64(v * val[k])
		}
	}
}

// left solves y B = c, c by place in the basis and spoiled, y by row.
func (f *factors) left(c, y []float64) {
	for t := len(f.turn) - 1; t >= 0; t-- {
		x := f.turn[t]
		v := c[x.at]
		idx, val := f.more.of(t)
		for k, i := range idx {
			v -= float64(val[k] * c[i])
		}
		c[x.at] = v / x.pivot
	}
	for t, at := range f.at {
		v := c[at]
		if v == 0 {
			y[f.rows[t]] = 0
			continue
		}
		v /= f.diag[t]
		y[f.rows[t]] = v
		idx, val := f.up.of(t)
		for k, i := range idx {
			c[i] -= float64(v * val[k])
		}
	}
	for t := f.m - 1; t >= 0; t-- {
		idx, val := f.low.of(t)
		if len(idx) == 0 {
			continue
		}
		r := f.rows[t]
		v := y[r]
		for k, i := range idx {
			v -= float64(val[k] * y[i])
		}
		y[r] = v
	}
}

// replace puts a column in place of another; y is what right made of it.
func (f *factors) replace(at int, y []float64) {
	for i, v := range y {
		if i != at && math.Abs(v) > factorsTiny {
			f.more.put(int32(i), v)
		}
	}
	f.more.end()
	f.turn = append(f.turn, change{int32(at), y[at]})
}
