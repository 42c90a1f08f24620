package layout

import (
	"slices"
	"sort"
)

// Piece is a rectangle with a value, for Best.
type Piece struct {
	X, Y  int64
	Value int64
	Turn  bool
}

// Best gives the largest value that guillotine cuts get from one rectangle of
// X by Y, any number of copies of each piece allowed, no kerf, and how many of
// each piece such a layout holds. It is exact: a dynamic program over the
// sums of piece sizes (J. E. Beasley, "Algorithms for unconstrained
// two-dimensional guillotine cutting", Journal of the Operational Research
// Society 36 (1985) 297-306). Time grows with the number of such sums cubed.
func Best(x, y int64, pieces []Piece) (value int64, counts []int) {
	g := newGrid(x, y, pieces)
	v := make([]int64, len(pieces))
	for i := range pieces {
		v[i] = pieces[i].Value
	}
	value = g.solve(v)
	return value, g.counts(v)
}

// grid is the table of the dynamic program for one rectangle and one set of
// piece sizes; values may change from one solve to the next.
type grid struct {
	xs, ys []int64   // sizes that matter, ascending, the last is the whole
	dx, dy [][]int32 // dx[i][j]: index of the largest size up to xs[i]-xs[j], for j <= half of i; -1 for none
	fits   []fit
	f      [][]int64 // f[j][i]: best value of xs[i] by ys[j]
	cells  int64
}

// fit is a piece in one orientation.
type fit struct {
	piece int
	i, j  int32 // least indices where it fits
}

// newGrid finds the sizes that matter: sums of piece sizes, since every layout
// can be pushed to the near corner.
func newGrid(x, y int64, pieces []Piece) *grid {
	g := &grid{}
	var ws, hs []int64
	for _, p := range pieces {
		if p.X <= x && p.Y <= y {
			ws, hs = append(ws, p.X), append(hs, p.Y)
		}
		if p.Turn && p.Y <= x && p.X <= y {
			ws, hs = append(ws, p.Y), append(hs, p.X)
		}
	}
	g.xs, g.ys = sums(ws, x), sums(hs, y)
	g.dx, g.dy = differences(g.xs), differences(g.ys)
	at := func(s []int64, v int64) int32 {
		return int32(sort.Search(len(s), func(k int) bool { return s[k] >= v }))
	}
	for k, p := range pieces {
		if p.X <= x && p.Y <= y {
			g.fits = append(g.fits, fit{k, at(g.xs, p.X), at(g.ys, p.Y)})
		}
		if p.Turn && p.X != p.Y && p.Y <= x && p.X <= y {
			g.fits = append(g.fits, fit{k, at(g.xs, p.Y), at(g.ys, p.X)})
		}
	}
	cells := make([]int64, len(g.xs)*len(g.ys))
	for j := range g.ys {
		g.f = append(g.f, cells[j*len(g.xs):(j+1)*len(g.xs)])
	}
	return g
}

// sums lists the sums of sizes that matter below limit, and limit itself,
// ascending. Sums that leave equal room for further sums do not differ, so of
// those only the largest is kept: the raster points of J. Terno, R. Lindemann,
// G. Scheithauer, "Zuschnittprobleme und ihre praktische Loesung" (1987).
func sums(sizes []int64, limit int64) []int64 {
	slices.Sort(sizes)
	sizes = slices.Compact(sizes)
	var all []int64
	if limit <= 1<<17 {
		ok := make([]bool, limit+1)
		ok[0] = true
		for v := range limit + 1 {
			if !ok[v] {
				continue
			}
			for _, s := range sizes {
				if v+s > limit {
					break
				}
				ok[v+s] = true
			}
		}
		for v, o := range ok {
			if o && v > 0 {
				all = append(all, int64(v))
			}
		}
	} else {
		seen := map[int64]bool{0: true}
		todo := []int64{0}
		for len(todo) > 0 {
			v := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			for _, s := range sizes {
				if v+s > limit {
					break
				}
				if !seen[v+s] {
					seen[v+s] = true
					todo = append(todo, v+s)
					all = append(all, v+s)
				}
			}
		}
		slices.Sort(all)
	}
	floor := func(v int64) int64 {
		i := sort.Search(len(all), func(k int) bool { return all[k] > v })
		if i == 0 {
			return 0
		}
		return all[i-1]
	}
	var some []int64
	for k := len(all) - 1; k >= 0; k-- {
		some = append(some, floor(limit-all[k]))
	}
	some = append(some, floor(limit), limit)
	slices.Sort(some)
	some = slices.Compact(some)
	if len(some) > 1 && some[0] == 0 {
		some = some[1:]
	}
	return some
}

// differences tells where what is left beside a part of a size lies.
func differences(s []int64) [][]int32 {
	d := make([][]int32, len(s))
	for i := range s {
		k := i
		for j := 0; j < i && 2*s[j] <= s[i]; j++ {
			for k >= 0 && s[k] > s[i]-s[j] {
				k--
			}
			if k < 0 {
				break
			}
			d[i] = append(d[i], int32(k))
		}
	}
	return d
}

// solve fills the table for these values and gives that of the whole.
func (g *grid) solve(values []int64) int64 {
	nx := len(g.xs)
	for _, row := range g.f {
		clear(row)
	}
	for _, t := range g.fits {
		g.f[t.j][t.i] = max(g.f[t.j][t.i], values[t.piece])
	}
	for j := range g.ys {
		row := g.f[j]
		if j > 0 {
			for i, v := range g.f[j-1] {
				row[i] = max(row[i], v)
			}
		}
		for a, rest := range g.dy[j] {
			p, q := g.f[a][:nx], g.f[rest][:nx]
			for i, v := range p {
				if v += q[i]; v > row[i] {
					row[i] = v
				}
			}
		}
		for i := range row {
			v := row[i]
			if i > 0 {
				v = max(v, row[i-1])
			}
			d := g.dx[i]
			for a, r := range row[:len(d)] {
				v = max(v, r+row[d[a]])
			}
			row[i] = v
			g.cells += int64(len(d))
		}
		g.cells += int64(nx * len(g.dy[j]) / 2)
	}
	return g.f[len(g.ys)-1][nx-1]
}

// counts reads out of the table how many of each piece a best layout holds.
func (g *grid) counts(values []int64) []int {
	n := make([]int, len(values))
	var walk func(i, j int)
	walk = func(i, j int) {
	again:
		v := g.f[j][i]
		if v == 0 {
			return
		}
		if i > 0 && g.f[j][i-1] == v {
			i--
			goto again
		}
		if j > 0 && g.f[j-1][i] == v {
			j--
			goto again
		}
		for _, t := range g.fits {
			if int(t.i) <= i && int(t.j) <= j && values[t.piece] == v {
				n[t.piece]++
				return
			}
		}
		for a, r := range g.dx[i] {
			if g.f[j][a]+g.f[j][r] == v {
				walk(a, j)
				i = int(r)
				goto again
			}
		}
		for a, r := range g.dy[j] {
			if g.f[a][i]+g.f[r][i] == v {
				walk(i, a)
				j = int(r)
				goto again
			}
		}
	}
	walk(len(g.xs)-1, len(g.ys)-1)
	return n
}
