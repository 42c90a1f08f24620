package layout

import (
	"cmp"
	"math"
	"slices"
)

// With several kinds of stock the hunt for a lighter layout begins from a
// choice of sheets: how many of each kind. Of all choices that weigh less than
// the best layout and break no proved inequality, those with most to spare are
// the likeliest to hold the parts. Large sheets hold more for their area than
// small ones: what is wasted lies along their sides. And a choice that saves
// much is worth a trial before one that saves little.

const (
	mixSteps = 50_000
	mixKeep  = 24
	rimWaste = 0.1 // of the side of a middling part, is lost along two sides of a sheet
	mixGain  = 0.2 // so much more room counts as much as all of the cost saved
)

// mix is a choice of sheets.
type mix struct {
	counts []int
	cost   int64
	ease   float64 // how much more than the parts it could hold, as far as is known
	hope   float64 // ranks the choices, most hopeful first
}

// mixes lists the most hopeful choices, those first. Of choices where one has
// all sheets of the other, only the larger counts.
func (s *search) mixes() []mix {
	if s.mixFor == s.bestW && s.mixNeeds == s.needCount() && s.mixList != nil {
		return s.mixList
	}
	s.mixFor, s.mixNeeds = s.bestW, s.needCount()
	in := s.in
	m := len(in.bases)
	cur := make([]int, m)
	list := []mix{}
	total := 0.0
	for i := range in.kinds {
		total += in.kinds[i].area * float64(len(in.kinds[i].parts))
	}
	limit := func(k int) int {
		if q := in.bases[k].qty; q >= 0 {
			return min(q, len(in.units))
		}
		return len(in.units)
	}
	most := make([]float64, m+1) // area that bases from k on can add, where limited
	for k := m - 1; k >= 0; k-- {
		most[k] = most[k+1] + float64(limit(k))*in.bases[k].area
	}
	strip := rimWaste * math.Sqrt(total/float64(max(len(in.units), 1)))
	// What can be added from k on for nothing, and for a unit of cost.
	free, rate := make([]float64, m+1), make([]float64, m+1)
	for k := m - 1; k >= 0; k-- {
		free[k], rate[k] = free[k+1], rate[k+1]
		if c := in.bases[k].weight.cost; c > 0 {
			rate[k] = max(rate[k], in.bases[k].area/float64(c))
		} else {
			free[k] += most[k] - most[k+1]
		}
	}
	steps := 0
	keep := func(w weight, area float64) {
		for k := range cur {
			if cur[k] < limit(k) && w.add(in.bases[k].weight).cmp(s.bestW) < 0 {
				return // there is one with more
			}
		}
		x := mix{counts: cur, cost: w.cost, ease: area / max(total, 1)}
		if s.cover != nil {
			if s.cover.refuted(cur) {
				return
			}
			for i := range s.cover.needs {
				x.ease = min(x.ease, s.cover.needs[i].ease(cur))
			}
		}
		rim := 0.0
		for k, n := range cur {
			rim += float64(float64(n) * float64(in.bases[k].w+in.bases[k].h))
		}
		x.hope = float64(x.ease*(1-float64(rim*strip)/max(area, 1))) + float64(mixGain*float64(s.bestW.cost-w.cost))/float64(max(s.bestW.cost, 1))
		if x.ease < 1 || len(list) == mixKeep && x.hope <= list[mixKeep-1].hope {
			return
		}
		x.counts = slices.Clone(cur)
		at, _ := slices.BinarySearchFunc(list, x, func(a, b mix) int {
			return cmp.Or(cmp.Compare(b.hope, a.hope), cmp.Compare(a.cost, b.cost), slices.Compare(a.counts, b.counts))
		})
		list = slices.Insert(list, at, x)
		list = list[:min(len(list), mixKeep)]
	}
	var walk func(k int, w weight, area float64)
	walk = func(k int, w weight, area float64) {
		if steps++; steps > mixSteps {
			return
		}
		if area+min(most[k], free[k]+float64(rate[k]*float64(s.bestW.cost-w.cost))) < total*(1-1e-9) {
			return
		}
		if k == m {
			keep(w, area)
			return
		}
		b := &in.bases[k]
		n := 0
		for n < limit(k) && w.cmp(s.bestW) < 0 {
			next := w.add(b.weight)
			if next.cmp(s.bestW) >= 0 {
				break
			}
			w = next
			n++
		}
		// Many first: they have the area; of the last, all that can be had.
		for ; n >= 0; n-- {
			cur[k] = n
			walk(k+1, w, area+float64(float64(n)*b.area))
			if k == m-1 {
				break
			}
			w = w.sub(b.weight)
		}
		cur[k] = 0
	}
	walk(0, weight{}, 0)
	s.mixList = list
	s.ops += int64(steps)
	return list
}

func (s *search) needCount() int {
	if s.cover == nil {
		return 0
	}
	return len(s.cover.needs) + len(s.cover.never)
}

// takeMix makes a choice of sheets the current state: sheets of the best
// layout stay as they are where the choice has such sheets; the rest are empty.
// No other sheet can be opened.
func (s *search) takeMix(pick mix) {
	s.takeBest()
	left := slices.Clone(pick.counts)
	order := s.rng.Perm(len(s.cur.bins))
	var kept []*bin
	for _, i := range order {
		b := s.cur.bins[i]
		if left[b.stock] > 0 {
			left[b.stock]--
			kept = append(kept, b)
			continue
		}
		s.takeAll(&s.cur, b)
		s.close(&s.cur, b)
		s.free(b)
	}
	s.cur.bins = append(s.cur.bins[:0], kept...)
	for k, n := range left {
		for range n {
			b := s.emptyBin(k)
			s.cur.bins = append(s.cur.bins, b)
			s.cur.w = s.cur.w.add(s.in.bases[k].weight)
		}
	}
	clear(s.left)
}

// emptyBin opens a sheet with nothing on it.
func (s *search) emptyBin(base int) *bin {
	b := s.spare()
	v := 0
	if n := len(s.in.bases[base].variants); n > 1 {
		v = s.rng.IntN(n)
	}
	b.stock, b.variant, b.area = int32(base), int32(v), 0
	for range s.in.regions(b) {
		b.roots = append(b.roots, -1)
	}
	s.stamp++
	b.stamp = s.stamp
	s.in.refresh(b)
	return b
}
