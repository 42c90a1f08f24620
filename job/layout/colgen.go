package layout

import (
	"math"
	"math/bits"
	"slices"
)

// The pattern relaxation: parts are covered by a weighted mix of single-sheet
// layouts, any number of copies allowed in each (P. C. Gilmore, R. E. Gomory,
// "A linear programming approach to the cutting stock problem", Operations
// Research 9 (1961), and for guillotine cuts "Multistage cutting stock problems
// of two and more dimensions", Operations Research 13 (1965)). The linear
// program only suggests a value for each part. What is then proved is exact:
// with these values as whole numbers, a dynamic program gives the most that any
// one sheet can hold, and so many sheets cannot hold less than all parts are worth.

// oracle finds the most valuable layout of one sheet of a stock.
type oracle interface {
	solve(values []int64) int64  // by kind
	counts(values []int64) []int // of the layout last found, by kind
	steps() int64                // work done so far
}

// most cells of a table, times length of its sides, that are worth their time
const gridLimit = 6_000_000

// newOracle makes one for a stock, with sizes rounded down where exact ones
// would make the table too large; what fitted then still fits.
func (in *inst) newOracle(stock int) oracle {
	b := &in.bases[stock]
	if b.qty == 0 {
		return nil
	}
	g := in.unitOf()
	if in.flat {
		return in.newRod(stock, g)
	}
	make_ := func(W, H int64, fx, fy func(v int64) int64) *sheetOracle {
		o := &sheetOracle{n: len(in.kinds)}
		var ps []Piece
		for i := range in.kinds {
			k := &in.kinds[i]
			if !k.from[stock] {
				continue
			}
			// Both ways in turn: sizes along x and y may be rounded differently.
			if k.w <= b.w && k.h <= b.h {
				ps = append(ps, Piece{X: fx(k.w), Y: fy(k.h)})
				o.kind = append(o.kind, i)
			}
			if k.turn && k.h <= b.w && k.w <= b.h {
				ps = append(ps, Piece{X: fx(k.h), Y: fy(k.w)})
				o.kind = append(o.kind, i)
			}
		}
		for i := range ps {
			ps[i].X, ps[i].Y = max(ps[i].X, 1), max(ps[i].Y, 1)
		}
		var ws, hs []int64
		for _, p := range ps {
			ws, hs = append(ws, p.X), append(hs, p.Y)
		}
		nx, ny := int64(len(sums(ws, W))), int64(len(sums(hs, H)))
		if nx*ny*(nx+ny)/4 > gridLimit {
			return nil
		}
		o.g = newGrid(W, H, ps)
		o.v = make([]int64, len(ps))
		return o
	}
	if W, H := b.w/g, b.h/g; W <= 1<<14 && H <= 1<<14 {
		if o := make_(W, H, func(v int64) int64 { return v / g }, func(v int64) int64 { return v / g }); o != nil {
			return o
		}
	}
	// The rounding that loses least area.
	for top := int64(160); top >= 20; top = top * 3 / 4 {
		mx, fx := in.rounding(stock, b.w, top, true)
		my, fy := in.rounding(stock, b.h, top, false)
		if o := make_(mx, my, fx, fy); o != nil {
			return o
		}
	}
	return nil
}

// unitOf is the largest length that divides all sizes of parts, kerf included.
func (in *inst) unitOf() int64 {
	g := int64(0)
	gcd := func(a, b int64) int64 {
		for b != 0 {
			a, b = b, a%b
		}
		return a
	}
	for i := range in.kinds {
		g = gcd(g, in.kinds[i].w)
		if !in.flat {
			g = gcd(g, in.kinds[i].h)
		}
	}
	return max(g, 1)
}

// rounding picks a number of steps, near top, for a side of a stock, such that
// sizes of parts lose little when they are rounded down to whole steps.
func (in *inst) rounding(stock int, size, top int64, alongX bool) (int64, func(int64) int64) {
	best, bestM := -1.0, top
	for m := top; m > top*2/3; m-- {
		sum := 0.0
		for i := range in.kinds {
			k := &in.kinds[i]
			if !k.from[stock] {
				continue
			}
			loss := func(v int64) float64 {
				if v > size {
					return 0
				}
				hi, lo := bits.Mul64(uint64(v), uint64(m))
				q, _ := bits.Div64(hi, lo, uint64(size))
				return float64(q) * float64(size) / float64(m) / float64(v)
			}
			a, b := k.w, k.h
			if !alongX {
				a, b = b, a
			}
			f := loss(a)
			if k.turn {
				f += loss(b)
			}
			sum += f * k.area * float64(len(k.parts))
		}
		if sum > best {
			best, bestM = sum, m
		}
	}
	m := bestM
	return m, func(v int64) int64 {
		hi, lo := bits.Mul64(uint64(v), uint64(m))
		q, _ := bits.Div64(hi, lo, uint64(size))
		return int64(q)
	}
}

type sheetOracle struct {
	g    *grid
	kind []int // of each piece
	v    []int64
	n    int
}

func (o *sheetOracle) solve(values []int64) int64 {
	for i, k := range o.kind {
		o.v[i] = values[k]
	}
	return o.g.solve(o.v)
}

func (o *sheetOracle) counts(values []int64) []int {
	n := make([]int, o.n)
	for i, c := range o.g.counts(o.v) {
		n[o.kind[i]] += c
	}
	return n
}

func (o *sheetOracle) steps() int64 { return o.g.cells / 16 }

// rodOracle is the oracle where only lengths count: a knapsack.
type rodOracle struct {
	in    *inst
	w     []int64 // rounded length of each kind, 0 where it may not come from the stock
	rooms []int64 // rounded lengths of the clean stretches
	f     []int64
	take  []int32
	ops   int64
}

const rodLimit = 20000

func (in *inst) newRod(stock int, g int64) oracle {
	b := &in.bases[stock]
	round := func(v int64) int64 { return v / g }
	if b.w/g > rodLimit {
		round = func(v int64) int64 {
			hi, lo := bits.Mul64(uint64(v), rodLimit)
			q, _ := bits.Div64(hi, lo, uint64(b.w))
			return int64(q)
		}
	}
	o := &rodOracle{in: in}
	for i := range in.kinds {
		w := int64(0)
		if in.kinds[i].from[stock] {
			w = max(round(in.kinds[i].w), 1)
		}
		o.w = append(o.w, w)
	}
	top := int64(0)
	for _, r := range b.variants[0].regions {
		o.rooms = append(o.rooms, round(r.w))
		top = max(top, round(r.w))
	}
	o.f, o.take = make([]int64, top+1), make([]int32, top+1)
	return o
}

func (o *rodOracle) solve(values []int64) int64 {
	for x := range o.f {
		o.f[x], o.take[x] = 0, -1
		if x > 0 {
			o.f[x] = o.f[x-1]
		}
	}
	for x := int64(1); x < int64(len(o.f)); x++ {
		best, take := o.f[x-1], int32(-1)
		for k, w := range o.w {
			if w > 0 && w <= x {
				if v := o.f[x-w] + values[k]; v > best {
					best, take = v, int32(k)
				}
			}
		}
		o.f[x], o.take[x] = best, take
	}
	o.ops += int64(len(o.f)*len(o.w)) / 8
	sum := int64(0)
	for _, r := range o.rooms {
		sum += o.f[r]
	}
	return sum
}

func (o *rodOracle) counts([]int64) []int {
	n := make([]int, len(o.w))
	for _, x := range o.rooms {
		for x > 0 {
			if k := o.take[x]; k >= 0 {
				n[k]++
				x -= o.w[k]
			} else {
				x--
			}
		}
	}
	return n
}

func (o *rodOracle) steps() int64 { return o.ops }

// pattern is a layout of one sheet, as counts by kind.
type pattern struct {
	stock int
	kinds []int32
	n     []float64
}

// relaxation holds what the pattern relaxation has learnt.
type relaxation struct {
	in      *inst
	oracles []oracle
	pool    []pattern
	ops     int64
	over    func(ops int64) bool
}

func (in *inst) newRelaxation(over func(ops int64) bool) *relaxation {
	r := &relaxation{in: in, over: over}
	for i := range in.bases {
		r.oracles = append(r.oracles, in.newOracle(i))
		if r.oracles[i] == nil && in.bases[i].qty != 0 {
			return nil
		}
	}
	return r
}

// addBins takes sheets of a layout as first patterns.
func (r *relaxation) addBins(bins []*bin) {
	for _, b := range bins {
		n := make([]int, len(r.in.kinds))
		for i := range b.k {
			if k := &b.k[i]; k.kid < 0 && k.kind >= 0 {
				n[k.kind]++
			}
		}
		r.addCounts(int(b.stock), n)
	}
}

func (r *relaxation) addCounts(stock int, n []int) {
	p := pattern{stock: stock}
	for k, c := range n {
		if c > 0 {
			p.kinds, p.n = append(p.kinds, int32(k)), append(p.n, float64(c))
		}
	}
	if len(p.kinds) > 0 {
		r.pool = append(r.pool, p)
	}
}

const dualScale = 1 << 30

// prove looks for an inequality that these counts of sheets break. It gives
// nil where the relaxation has none, or the work ran out. With nil for counts it
// gives the inequality that bounds the cost best.
func (r *relaxation) prove(counts []int) *need {
	in := r.in
	m := len(in.kinds)
	var b, sign, cost []float64
	for i := range in.kinds {
		// A little uneven, against ties.
		b = append(b, float64(len(in.kinds[i].parts))+1e-7*float64(i*7919%101))
		sign, cost = append(sign, 1), append(cost, 4)
	}
	row := make([]int, len(in.bases))
	theta := column{cost: 1}
	price := make([]float64, len(in.bases))
	byCost := counts == nil
	if byCost {
		counts = make([]int, len(in.bases))
		top := 1.0
		for s := range in.bases {
			w := in.bases[s].weight
			price[s] = float64(w.cost) + 1e-4*float64(w.bought) + 1e-6
			top = max(top, price[s])
		}
		for s := range in.bases {
			price[s] /= top
			if in.bases[s].qty != 0 {
				counts[s] = 1
			}
		}
	}
	for s, n := range counts {
		row[s] = -1
		if q := in.bases[s].qty; byCost && q > 0 {
			row[s] = len(b)
			b, sign, cost = append(b, -float64(q)), append(sign, -1), append(cost, 0)
		} else if !byCost && n > 0 {
			row[s] = len(b)
			theta.rows, theta.vals = append(theta.rows, int32(len(b))), append(theta.vals, float64(n))
			b, sign, cost = append(b, 0), append(sign, -1), append(cost, 0)
		}
	}
	lp := newMaster(b, sign, cost)
	if byCost {
		theta.dead = true
	}
	lp.add(theta)
	for i := range m {
		lp.add(column{rows: []int32{int32(i)}, vals: []float64{-1}})
	}
	used := 0
	sync := func() {
		for ; used < len(r.pool); used++ {
			p := &r.pool[used]
			if counts[p.stock] == 0 {
				continue
			}
			c := column{cost: price[p.stock], rows: slices.Clone(p.kinds), vals: slices.Clone(p.n)}
			if r := row[p.stock]; r >= 0 {
				c.rows, c.vals = append(c.rows, int32(r)), append(c.vals, -1)
			}
			lp.add(c)
		}
	}
	values := make([]int64, m)
	for range 4000 {
		sync()
		before := lp.ops
		lp.solve(2000)
		r.ops += lp.ops - before
		theta, open := 0.0, false
		for i, j := range lp.basis {
			switch {
			case j == len(b):
				theta = lp.x[i]
			case j < m && lp.x[i] > 1e-5:
				open = true
			}
		}
		if !byCost && !open && theta <= 1+1e-7 {
			return nil // the relaxation packs all parts
		}
		var want int64
		for i := range values {
			values[i] = int64(math.Max(lp.pi[i], 0) * dualScale)
			want += values[i] * int64(len(in.kinds[i].parts))
		}
		have := make([]int64, len(counts))
		var sum int64
		found := false
		steps := func() (t int64) {
			for _, o := range r.oracles {
				if o != nil {
					t += o.steps()
				}
			}
			return
		}
		was := steps()
		for s, n := range counts {
			if n == 0 {
				continue
			}
			have[s] = r.oracles[s].solve(values)
			sum += have[s] * int64(n)
			mu := price[s]
			if row[s] >= 0 {
				mu += lp.pi[row[s]]
			}
			if float64(have[s]) > (mu+1e-7)*dualScale {
				r.addCounts(s, r.oracles[s].counts(values))
				found = true
			}
		}
		if byCost {
			r.ops += steps() - was
			if over := r.over(r.ops); !found || over {
				return &need{want: want, have: have, by: ByPatterns}
			}
			continue
		}
		if want > sum {
			for s, n := range counts {
				if n == 0 && r.oracles[s] != nil {
					have[s] = r.oracles[s].solve(values)
				}
			}
			r.ops += steps() - was
			return &need{want: want, have: have, by: ByPatterns}
		}
		r.ops += steps() - was
		if !found || r.over(r.ops) {
			return nil
		}
	}
	return nil
}
