package layout

import (
	"cmp"
	"context"
	"math/rand/v2"
	"slices"
)

// search looks for a layout by ruin and recreate: parts are taken out of a few
// sheets and put back in another order, again and again, always aiming at a
// layout that weighs less than the best so far; what finds no place waits
// outside, and the area waiting is what the search makes smaller.
type search struct {
	in    *inst
	how   manner
	ctx   context.Context
	rng   *rand.Rand
	ops   int64 // elementary steps
	limit int64 // of ops
	stamp uint32
	pool  []*bin

	cur         state
	left        []int // stock left of each base, -1 for no limit
	best        []*bin
	bestOut     []int32
	bestOutArea float64
	bestW       weight
	have        bool
	onBest      func()
	ended       bool

	trying int32 // kind in hand
	marks  []bool
	order  []float64
	hist   []float64
	rounds int64

	cover    *cover // what is proved so far, or nil
	mixFor   weight
	mixNeeds int
	mixList  []mix

	trial state  // of a round
	mine  []bool // which of its bins may be changed
	keep  []int  // left before it

	late      int
	phases    int64
	phaseBest float64
	phaseAt   int64
}

// state is a layout in the making.
type state struct {
	bins    []*bin
	out     []int32 // units outside
	outArea float64
	w       weight
}

// opsPerUnit is how many elementary steps make a unit of work.
const opsPerUnit = 64

func (in *inst) newSearch(ctx context.Context, seed uint64) *search {
	s := &search{in: in, ctx: ctx, rng: rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)), order: make([]float64, len(in.units)), how: manyStocks}
	if len(in.bases) == 1 {
		s.how = oneStock
	}
	for i := range in.bases {
		s.left = append(s.left, in.bases[i].qty)
	}
	return s
}

// spare gives an empty bin.
func (s *search) spare() *bin {
	if n := len(s.pool); n > 0 {
		b := s.pool[n-1]
		s.pool = s.pool[:n-1]
		b.roots, b.k = b.roots[:0], b.k[:0]
		return b
	}
	return &bin{cache: make([]cand, len(s.in.kinds))}
}

func (s *search) free(b *bin) { s.pool = append(s.pool, b) }

// stagesAllow says whether a place keeps to the limit of stages.
func (s *search) stagesAllow(b *bin, c cand) bool {
	t := s.keepCopy(b)
	t.cache = nil
	s.put(t, c, s.trying, -1)
	ok := s.in.stagesOf(t) <= s.in.p.MaxStages
	return ok
}

// openable lists variants of stock that could be opened now under a weight.
func (s *search) room(w weight, base int) bool {
	if s.left[base] == 0 {
		return false
	}
	return !s.have || s.bestOutArea > 0 || w.add(s.in.bases[base].weight).cmp(s.bestW) < 0
}

// insert puts a unit into the bin where that costs least, or on a new sheet.
// Own marks bins that may be changed in place. It says whether it found a place.
func (s *search) insert(st *state, own []bool, u int32, blink int) ([]bool, bool) {
	un := &s.in.units[u]
	if len(un.kinds) > 1 {
		return s.insertGroup(st, own, u)
	}
	kd := un.kinds[0]
	s.trying = kd
	at, best := -1, cand{}
	for i, b := range st.bins {
		if blink > 0 && s.rng.IntN(blink) == 0 {
			continue
		}
		c := s.find(b, kd)
		s.ops++
		if c.how != 0 && (at < 0 || c.score > best.score) {
			at, best = i, c
		}
	}
	if at >= 0 {
		own = s.own(st, own, at)
		s.put(st.bins[at], best, kd, u)
		return own, true
	}
	nb := s.open(st, u)
	if nb == nil {
		return own, false
	}
	st.bins = append(st.bins, nb)
	return append(own, true), true
}

// own makes sure that a bin may be changed.
func (s *search) own(st *state, own []bool, i int) []bool {
	if !own[i] {
		st.bins[i] = s.clone(st.bins[i])
		own[i] = true
	}
	return own
}

// fill tries to put a whole group into a bin of its own; the bin is spoiled
// where it says false.
func (s *search) fillGroup(b *bin, u int32) bool {
	for _, kd := range s.in.units[u].kinds {
		s.trying = kd
		c := s.find(b, kd)
		if c.how == 0 {
			return false
		}
		s.put(b, c, kd, u)
	}
	return true
}

func (s *search) insertGroup(st *state, own []bool, u int32) ([]bool, bool) {
	at, best := -1, (*bin)(nil)
	gain := 0.0
	for i, b := range st.bins {
		if b.area+s.in.units[u].area > s.in.bases[b.stock].area {
			continue
		}
		t := s.clone(b)
		if s.fillGroup(t, u) && (at < 0 || t.score-b.score > gain) {
			if best != nil {
				s.free(best)
			}
			at, best, gain = i, t, t.score-b.score
		} else {
			s.free(t)
		}
	}
	if at >= 0 {
		if own[at] {
			s.free(st.bins[at])
		}
		st.bins[at] = best
		own[at] = true
		return own, true
	}
	nb := s.open(st, u)
	if nb == nil {
		return own, false
	}
	st.bins = append(st.bins, nb)
	return append(own, true), true
}

// open opens a sheet for a unit and puts the unit into it, where stock and
// weight allow. What is on hand goes first; else the choice falls by lot,
// weighted towards cheap area, or on the first search on the cheapest area.
func (s *search) open(st *state, u int32) *bin {
	type option struct {
		b    *bin
		base int
		key  float64
	}
	var opts []option
	for i := range s.in.bases {
		if !s.room(st.w, i) {
			continue
		}
		bs := &s.in.bases[i]
		v := 0
		if s.have && len(bs.variants) > 1 {
			v = s.rng.IntN(len(bs.variants))
		}
		var b *bin
		for try := 0; try < len(bs.variants) && b == nil; try++ {
			b = s.spare()
			b.stock, b.variant, b.area = int32(i), int32((v+try)%len(bs.variants)), 0
			for range s.in.regions(b) {
				b.roots = append(b.roots, -1)
			}
			s.stamp++
			b.stamp = s.stamp
			s.in.refresh(b)
			if !s.fillGroup(b, u) {
				s.free(b)
				b = nil
			}
		}
		if b == nil {
			continue
		}
		// What a sheet weighs for the area it gives.
		key := (float64(bs.weight.cost) + float64(bs.weight.bought)*1e-3) / bs.area
		if s.p().Stocks[i].OnHand {
			key = bs.area * 1e-30
		}
		if s.have {
			key *= 0.5 + s.rng.Float64()
			if s.rng.IntN(4) == 0 {
				key = s.rng.Float64() * 1e-30
			}
		}
		opts = append(opts, option{b, i, key})
	}
	if len(opts) == 0 {
		return nil
	}
	pick := 0
	for i := range opts {
		if opts[i].key < opts[pick].key {
			pick = i
		}
	}
	for i := range opts {
		if i != pick {
			s.free(opts[i].b)
		}
	}
	o := opts[pick]
	st.w = st.w.add(s.in.bases[o.base].weight)
	if s.left[o.base] > 0 {
		s.left[o.base]--
	}
	return o.b
}

func (s *search) p() *Problem { return s.in.p }

// close takes a bin out of the count.
func (s *search) close(st *state, b *bin) {
	st.w = st.w.sub(s.in.bases[b.stock].weight)
	if s.left[b.stock] >= 0 {
		s.left[b.stock]++
	}
}

// sortUnits puts units in the order in which they are tried: large first, by
// one of several measures, a little shuffled.
func (s *search) sortUnits(us []int32, how int, shake float64) {
	for _, u := range us {
		un := &s.in.units[u]
		k := &s.in.kinds[un.kinds[0]]
		var v float64
		switch how {
		case 0:
			v = un.area
		case 1:
			v = float64(max(k.w, k.h)) * float64(max(k.w, k.h))
		case 2:
			v = float64(k.w+k.h) * float64(k.w+k.h)
		case 3:
			v = float64(k.h) * float64(k.h)
		case 4:
			v = float64(k.w) * float64(k.w)
		default:
			v = 1
		}
		if len(un.kinds) > 1 {
			v = max(v, un.area)
		}
		s.order[u] = v
		if shake > 0 {
			s.order[u] = v * (1 + shake*(s.rng.Float64()-0.5))
		}
	}
	slices.SortFunc(us, func(a, b int32) int {
		return cmp.Or(cmp.Compare(s.order[b], s.order[a]), cmp.Compare(a, b))
	})
}

// first makes the first layouts, one for each order of parts.
func (s *search) first() {
	for how := range 5 {
		us := make([]int32, len(s.in.units))
		for i := range us {
			us[i] = int32(i)
		}
		s.sortUnits(us, how, 0)
		for i := range s.in.bases {
			s.left[i] = s.in.bases[i].qty
		}
		var st state
		var own []bool
		have := s.have
		s.have = false
		for _, u := range us {
			var ok bool
			if own, ok = s.insert(&st, own, u, 0); !ok {
				st.out = append(st.out, u)
				st.outArea += s.in.units[u].area
			}
		}
		s.have = have
		s.consider(&st)
		if how == 0 {
			s.cur = st
		}
		if s.over() {
			break
		}
	}
}

// consider keeps a layout if it is the best so far.
func (s *search) consider(st *state) bool {
	if s.have && cmp.Or(cmp.Compare(st.outArea, s.bestOutArea), st.w.cmp(s.bestW)) >= 0 {
		return false
	}
	s.have = true
	s.best = s.best[:0]
	for _, b := range st.bins {
		if !b.empty() {
			s.best = append(s.best, s.keepCopy(b))
		}
	}
	s.bestOut = append(s.bestOut[:0], st.out...)
	s.bestOutArea, s.bestW = st.outArea, st.w
	if len(s.in.bases) > 1 {
		for _, b := range st.bins {
			if b.empty() {
				s.bestW = s.bestW.sub(s.in.bases[b.stock].weight)
			}
		}
	}
	if s.onBest != nil {
		s.onBest()
	}
	return true
}

func (s *search) keepCopy(b *bin) *bin {
	nb := &bin{stock: b.stock, variant: b.variant, area: b.area, score: b.score}
	nb.roots = slices.Clone(b.roots)
	nb.k = slices.Clone(b.k)
	return nb
}

// over says whether the search must end.
func (s *search) over() bool {
	if s.ops >= s.limit {
		return true
	}
	if s.ctx.Err() != nil {
		s.ended = true
		return true
	}
	return false
}
