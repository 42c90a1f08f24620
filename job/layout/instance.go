package layout

import (
	"cmp"
	"slices"
)

// The search works on sizes to which the kerf is added, on parts and stock
// alike: n parts side by side need n*(w+kerf) - kerf, so they fit into W just
// when n*(w+kerf) <= W+kerf. Within, no cut has a thickness.

// kind is a sort of part that the search need not tell apart.
type kind struct {
	w, h    int64 // with kerf
	turn    bool  // and turning makes a difference
	from    []bool
	area    float64
	parts   []int // one index into Problem.Parts for each copy
	grouped bool
}

// unit is what must stay together: one copy, or a whole group.
type unit struct {
	kinds []int32 // large ones first
	area  float64
}

// base is a kind of stock as the search sees it.
type base struct {
	w, h     int64 // inside the trim, with kerf
	area     float64
	qty      int // -1 for no limit
	weight   weight
	variants []variant // ways to cut around defects; one without
}

// weight is what a sheet counts on the first three levels.
type weight struct{ cost, bought, used int64 }

func (a weight) add(b weight) weight {
	return weight{a.cost + b.cost, a.bought + b.bought, a.used + b.used}
}

func (a weight) sub(b weight) weight {
	return weight{a.cost - b.cost, a.bought - b.bought, a.used - b.used}
}

func (a weight) cmp(b weight) int {
	return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.bought, b.bought), cmp.Compare(a.used, b.used))
}

// inst is a problem made ready for the search.
type inst struct {
	p      *Problem
	flat   bool
	kinds  []kind
	units  []unit
	bases  []base
	lost   []Unplaced // what fits no stock at all
	varied bool       // some sheet can be cut around its defects in several ways
	scale  float64    // 1 / area of the largest stock, squared
}

// prepare makes a problem ready for the search.
func prepare(p *Problem) *inst {
	in := &inst{p: p, flat: p.flat()}
	largest := 1.0
	for i := range p.Stocks {
		s := &p.Stocks[i]
		u := s.usable()
		b := base{w: u.W + p.Kerf, h: u.H + p.Kerf, qty: s.Qty, weight: weight{s.Price, 1, 1}}
		if s.OnHand {
			b.weight.bought = 0
		}
		if in.flat {
			b.h = 1
		}
		if u.W <= 0 || b.h <= 0 || u.H < 0 || !in.flat && u.H == 0 {
			b.w, b.h, b.qty = 0, 0, 0
		} else {
			b.variants = in.decompose(s, u)
			in.varied = in.varied || len(b.variants) > 1
		}
		b.area = float64(b.w) * float64(b.h)
		largest = max(largest, b.area)
		in.bases = append(in.bases, b)
	}
	in.scale = 1 / (largest * largest)
	in.sortParts()
	return in
}

// sortParts forms kinds and units, and sets aside what fits nowhere.
func (in *inst) sortParts() {
	p := in.p
	whole := map[string]bool{} // groups that cannot be had
	type made struct {
		kind
		group string
		ok    bool
	}
	all := make([]made, len(p.Parts))
	for i, q := range p.Parts {
		m := made{kind: kind{w: q.X + p.Kerf, h: q.Y + p.Kerf, turn: q.Turn, grouped: q.Group != ""}, group: q.Group}
		if in.flat {
			m.h, m.turn = 1, false
		}
		m.area = float64(m.w) * float64(m.h)
		m.from = make([]bool, len(in.bases))
		upright, turned := false, false
		for s := range in.bases {
			if q.Stocks != nil && !slices.Contains(q.Stocks, s) || in.bases[s].qty == 0 {
				continue
			}
			a := in.fits(s, m.w, m.h)
			b := m.turn && in.fits(s, m.h, m.w)
			m.from[s] = a || b
			upright, turned = upright || a, turned || b
			m.ok = m.ok || a || b
		}
		if m.w == m.h || !turned {
			m.turn = false
		}
		if !m.ok && q.Qty > 0 && q.Group != "" {
			whole[q.Group] = true
		}
		all[i] = m
	}
	type key struct {
		w, h  int64
		turn  bool
		group string
		from  string
	}
	seen := map[key]int{}
	groups := map[string]int{}
	for i := range all {
		m, q := &all[i], &p.Parts[i]
		if q.Qty == 0 {
			continue
		}
		if !m.ok || whole[m.group] && m.group != "" {
			why := TooLarge
			if m.ok {
				why = GroupTooLarge
			} else if in.fitsEmptied(i) {
				why = OutOfStock
			}
			in.lost = append(in.lost, Unplaced{Part: i, Qty: q.Qty, Reason: why, Proved: true})
			continue
		}
		from := make([]byte, len(m.from))
		for s, f := range m.from {
			if f {
				from[s] = 1
			}
		}
		k := key{m.w, m.h, m.turn, m.group, string(from)}
		if m.turn && m.w < m.h {
			k.w, k.h = m.h, m.w
		}
		at, ok := seen[k]
		if !ok {
			at = len(in.kinds)
			seen[k] = at
			in.kinds = append(in.kinds, m.kind)
		}
		for range q.Qty {
			in.kinds[at].parts = append(in.kinds[at].parts, i)
			if m.group == "" {
				in.units = append(in.units, unit{kinds: []int32{int32(at)}, area: m.area})
				continue
			}
			g, ok := groups[m.group]
			if !ok {
				g = len(in.units)
				groups[m.group] = g
				in.units = append(in.units, unit{})
			}
			in.units[g].kinds = append(in.units[g].kinds, int32(at))
			in.units[g].area += m.area
		}
	}
	in.dropLargeGroups()
	for _, u := range in.units {
		slices.SortStableFunc(u.kinds, func(a, b int32) int {
			return cmp.Compare(in.kinds[b].area, in.kinds[a].area)
		})
	}
}

// dropLargeGroups sets aside groups that have more area than any one sheet.
func (in *inst) dropLargeGroups() {
	var gone []int32
	units := in.units[:0:0]
	for _, u := range in.units {
		ok := len(u.kinds) == 1
		for s := range in.bases {
			all := u.area <= in.bases[s].area*(1+1e-9)
			for _, kd := range u.kinds {
				all = all && in.kinds[kd].from[s]
			}
			ok = ok || all
		}
		if ok {
			units = append(units, u)
		} else {
			gone = append(gone, u.kinds...)
		}
	}
	in.units = units
	qty := map[int]int{}
	for _, kd := range gone {
		k := &in.kinds[kd]
		qty[k.parts[0]]++
		k.parts = k.parts[1:]
	}
	for i := range in.p.Parts {
		if n := qty[i]; n > 0 {
			in.lost = append(in.lost, Unplaced{Part: i, Qty: n, Reason: GroupTooLarge, Proved: true})
		}
	}
}

// fits says whether a piece of this size, kerf included, can lie on a stock
// clear of its defects.
func (in *inst) fits(stock int, w, h int64) bool {
	b, s := &in.bases[stock], &in.p.Stocks[stock]
	if w > b.w || h > b.h {
		return false
	}
	if len(s.Defects) == 0 {
		return true
	}
	for _, v := range b.variants {
		for _, r := range v.regions {
			if w <= r.w && h <= r.h {
				return true
			}
		}
	}
	return false
}

// fitsEmptied says whether the part would fit a stock of which there is none.
func (in *inst) fitsEmptied(i int) bool {
	p := in.p
	q := &p.Parts[i]
	for s := range p.Stocks {
		if q.Stocks != nil && !slices.Contains(q.Stocks, s) {
			continue
		}
		u := p.Stocks[s].usable()
		if u.W >= q.X && u.H >= q.Y || q.Turn && q.Y > 0 && u.W >= q.Y && u.H >= q.X {
			return true
		}
	}
	return false
}
