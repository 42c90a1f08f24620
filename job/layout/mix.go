package layout

import (
	"cmp"
	"slices"
)

// With several kinds of stock the hunt for a lighter layout begins from a
// choice of sheets: how many of each kind. Of all choices that weigh less than
// the best layout and break no proved inequality, those with most area are the
// likeliest to hold the parts.

const (
	mixSteps = 50_000
	mixKeep  = 24
)

// mix is a choice of sheets.
type mix struct {
	counts []int
	area   float64
}

// mixes lists the choices with most area, largest first.
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
	most := make([]float64, m+1) // area that bases from k on can add, where limited
	for k := m - 1; k >= 0; k-- {
		q := in.bases[k].qty
		if q < 0 {
			q = len(in.units)
		}
		most[k] = most[k+1] + float64(q)*in.bases[k].area
	}
	steps := 0
	keep := func(area float64) {
		if s.cover != nil {
			for i := range s.cover.needs {
				if s.cover.needs[i].broken(cur) {
					return
				}
			}
		}
		x := mix{slices.Clone(cur), area}
		at, _ := slices.BinarySearchFunc(list, x, func(a, b mix) int {
			return cmp.Or(cmp.Compare(b.area, a.area), slices.Compare(a.counts, b.counts))
		})
		if at < mixKeep {
			list = slices.Insert(list, at, x)
			list = list[:min(len(list), mixKeep)]
		}
	}
	var walk func(k int, w weight, area float64)
	walk = func(k int, w weight, area float64) {
		if steps++; steps > mixSteps || area+most[k] < total {
			return
		}
		if k == m {
			if len(list) < mixKeep || area > list[len(list)-1].area {
				keep(area)
			}
			return
		}
		b := &in.bases[k]
		q := b.qty
		if q < 0 || q > len(in.units) {
			q = len(in.units)
		}
		n := 0
		for n < q && w.cmp(s.bestW) < 0 {
			next := w.add(b.weight)
			if next.cmp(s.bestW) >= 0 {
				break
			}
			w = next
			n++
		}
		// Many first: they have the area.
		for ; n >= 0; n-- {
			cur[k] = n
			walk(k+1, w, area+float64(n)*b.area)
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
	return len(s.cover.needs)
}

// takeMix makes a choice of sheets the current state: sheets of the best
// layout stay as they are where the choice has such sheets; the rest are empty.
func (s *search) takeMix() bool {
	list := s.mixes()
	if len(list) == 0 {
		return false
	}
	pick := list[min(s.rng.IntN(len(list)), s.rng.IntN(len(list)))]
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
			if s.left[k] > 0 {
				s.left[k]--
			}
		}
	}
	return true
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
