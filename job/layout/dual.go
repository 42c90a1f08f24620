package layout

import (
	"math/bits"
	"slices"
)

// Dual feasible functions change sizes so that whatever fitted still fits, and
// areas then say more. Families: S. P. Fekete, J. Schepers, "New classes of
// fast lower bounds for bin packing problems", Mathematical Programming 91
// (2001); J. Carlier, F. Clautiaux, A. Moukrim, "New reduction procedures and
// lower bounds for the two-dimensional bin packing problem with fixed
// orientation", Computers & Operations Research 34 (2007).

// dual is a dual feasible function on sizes up to c, in whole numbers.
type dual struct {
	of    func(x int64) int64
	whole int64 // of(c)
}

// duals lists functions for a size c, with parameters from the sizes given.
func duals(c int64, sizes []int64, limit int) []dual {
	ks := slices.Clone(sizes)
	slices.Sort(ks)
	ks = slices.Compact(ks)
	ks = slices.DeleteFunc(ks, func(k int64) bool { return 2*k > c || k <= 0 })
	for len(ks) > limit { // thin out evenly
		var some []int64
		for i, k := range ks {
			if i%2 == 0 {
				some = append(some, k)
			}
		}
		ks = some
	}
	ds := []dual{{func(x int64) int64 { return x }, c}}
	for _, k := range ks {
		ds = append(ds, dual{func(x int64) int64 {
			switch {
			case x > c-k:
				return c
			case x >= k:
				return x
			}
			return 0
		}, c})
		ds = append(ds, dual{func(x int64) int64 {
			switch {
			case 2*x > c:
				return 2 * (c/k - (c-x)/k)
			case 2*x == c:
				return c / k
			}
			return 2 * (x / k)
		}, 2 * (c / k)})
	}
	for k := int64(1); k <= 24; k++ {
		ds = append(ds, dual{func(x int64) int64 {
			if v := (k + 1) * x; v%c == 0 {
				return x * k
			}
			return (k + 1) * x / c * c
		}, c * k})
	}
	return ds
}

// byDuals finds the strongest inequalities of this sort. They are for a single
// kind of stock; with several it says nothing.
func (c *cover) byDuals() (ops int64) {
	in := c.in
	if len(in.bases) != 1 || len(in.kinds) == 0 {
		return 0
	}
	if in.bases[0].qty == 0 {
		return 0
	}
	kinds, b := in.rounded()
	var ws, hs []int64
	for i := range kinds {
		k := &kinds[i]
		ws, hs = append(ws, k.w), append(hs, k.h)
		if k.turn {
			ws, hs = append(ws, k.h), append(hs, k.w)
		}
	}
	limit := 40
	fs, gs := duals(b.w, ws, limit), duals(b.h, hs, limit)
	if in.flat {
		gs = gs[:1]
		fs = duals(b.w, ws, 2000)
	}
	table := func(ds []dual, of func(k *kind) int64) [][]int64 {
		t := make([][]int64, len(ds))
		for i, d := range ds {
			t[i] = make([]int64, len(kinds))
			for j := range kinds {
				if v := of(&kinds[j]); v >= 0 {
					t[i][j] = d.of(v)
				}
			}
		}
		return t
	}
	turned := func(v, limit int64) int64 {
		if v > limit {
			return -1
		}
		return v
	}
	fw, gh := table(fs, func(k *kind) int64 { return turned(k.w, b.w) }), table(gs, func(k *kind) int64 { return turned(k.h, b.h) })
	fh, gw := table(fs, func(k *kind) int64 { return turned(k.h, b.w) }), table(gs, func(k *kind) int64 { return turned(k.w, b.h) })
	square := b.w == b.h
	best := need{by: ByDual}
	bestN := int64(0)
	for x := range fs {
		for y := range gs {
			if fs[x].whole == 0 || gs[y].whole == 0 {
				continue
			}
			var sum int64
			for j := range kinds {
				k := &kinds[j]
				up, tr := k.w <= b.w && k.h <= b.h, k.turn && k.h <= b.w && k.w <= b.h
				v := fw[x][j] * gh[y][j]
				switch {
				case up && tr && square:
					v += fh[x][j] * gw[y][j]
				case up && tr:
					v = 2 * min(v, fh[x][j]*gw[y][j])
				case tr:
					v = 2 * fh[x][j] * gw[y][j]
				default:
					v *= 2
				}
				hi, lo := bits.Mul64(uint64(v), uint64(len(k.parts)))
				if hi != 0 || lo > 1<<61 {
					v, sum = 0, 0
					break
				}
				sum += int64(lo)
				if sum > 1<<61 {
					sum = 0
					break
				}
			}
			ops += int64(len(in.kinds))
			whole := 2 * fs[x].whole * gs[y].whole
			if n := (sum + whole - 1) / whole; n > bestN {
				bestN = n
				best.want, best.have = sum, []int64{whole}
			}
		}
	}
	if bestN > 0 {
		c.needs = append(c.needs, best)
	}
	return ops
}

// rounded gives the kinds and the one stock in sizes of at most 20 bits, in
// units of the largest common length, or else rounded down so that what
// fitted still fits.
func (in *inst) rounded() ([]kind, base) {
	const most = 1 << 20
	kinds, b := slices.Clone(in.kinds), in.bases[0]
	g := in.unitOf()
	fx := func(v int64) int64 { return v / g }
	fy := fx
	if in.flat {
		fy = func(v int64) int64 { return v }
	}
	if b.w/g > most {
		w := b.w
		fx = func(v int64) int64 { return v * most / w }
	}
	if b.h/g > most {
		h := b.h
		fy = func(v int64) int64 { return v * most / h }
	}
	square := b.w == b.h
	for i := range kinds {
		k := &kinds[i]
		if k.turn && !square {
			// One size serves both axes: the smaller of the two roundings.
			k.w, k.h = min(fx(k.w), fy(k.w)), min(fx(k.h), fy(k.h))
		} else {
			k.w, k.h = fx(k.w), fy(k.h)
		}
	}
	b.w, b.h = fx(b.w), fy(b.h)
	return kinds, b
}

// byArea adds the inequality of areas, rounded down to numbers that cannot overflow.
func (c *cover) byArea() {
	in := c.in
	n := need{by: ByArea}
	top := int64(1)
	for i := range in.bases {
		top = max(top, in.bases[i].w*in.bases[i].h)
	}
	shift := max(0, bits.Len64(uint64(top))-38)
	for i := range in.bases {
		v := in.cleanArea(i)
		n.have = append(n.have, (v+(1<<shift)-1)>>shift)
	}
	for i := range in.kinds {
		n.want += in.kinds[i].w * in.kinds[i].h >> shift * int64(len(in.kinds[i].parts))
	}
	if n.want > 0 {
		c.needs = append(c.needs, n)
	}
}

// cleanArea is the area of a stock less what no part with its kerf can cover
// because of defects.
func (in *inst) cleanArea(stock int) int64 {
	b, s := &in.bases[stock], &in.p.Stocks[stock]
	if b.qty == 0 {
		return 0
	}
	whole := b.w * b.h
	if len(s.Defects) == 0 {
		return whole
	}
	u, k := s.usable(), in.p.Kerf
	type box struct{ x0, x1, y0, y1 int64 }
	var dead []box
	var cuts []int64
	for _, d := range s.Defects {
		x := box{max(d.X+k-u.X, 0), min(d.X+d.W-u.X, b.w), 0, 1}
		if !in.flat {
			x.y0, x.y1 = max(d.Y+k-u.Y, 0), min(d.Y+d.H-u.Y, b.h)
		}
		if x.x0 < x.x1 && x.y0 < x.y1 {
			dead = append(dead, x)
			cuts = append(cuts, x.x0, x.x1)
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	for i := 0; i+1 < len(cuts); i++ {
		var spans [][2]int64
		for _, d := range dead {
			if d.x0 <= cuts[i] && d.x1 >= cuts[i+1] {
				spans = append(spans, [2]int64{d.y0, d.y1})
			}
		}
		slices.SortFunc(spans, func(a, b [2]int64) int { return int(min(max(a[0]-b[0], -1), 1)) })
		end := int64(0)
		for _, sp := range spans {
			if from := max(sp[0], end); sp[1] > from {
				whole -= (sp[1] - from) * (cuts[i+1] - cuts[i])
				end = sp[1]
			}
		}
	}
	return whole
}
