package layout

import (
	"math"
	"math/bits"
	"slices"
)

// lateness is how many rounds back a layout is compared with: late acceptance,
// E. K. Burke and Y. Bykov, "The late acceptance hill-climbing heuristic",
// European Journal of Operational Research 258 (2017).

const (
	latenessMin   = 400   // of the shortest phase
	latenessMax   = 25600 // of the longest
	latenessEach  = 4     // for so many parts a sheet, the shortest phase is as much longer,
	latenessTimes = 8     // up to so many times
	patience      = 10    // a phase ends after that many times its lateness without gain
)

// manner is how hard a round ruins and how well it recreates.
type manner struct {
	parts int // most parts taken out in a round, besides those that are out already
	whole int // of so many sheets that are touched, one is emptied
	knots int // most knots taken out of a sheet
	blink int // of so many sheets, one is passed over when a part looks for a place
}

// With one kind of stock the search does best with larger strokes: over hard
// instances of the published class sets it then comes to the best known number
// of sheets with about a tenth less work.
var (
	oneStock   = manner{parts: 12, whole: 3, knots: 3, blink: 100}
	manyStocks = manner{parts: 8, whole: 6, knots: 2, blink: 40}
)

// restart begins the hunt for a layout that weighs less than the best: it
// empties the poorest sheets of the best layout.
func (s *search) restart() {
	s.takeBest()
	if s.bestOutArea == 0 {
		for len(s.cur.bins) > 0 && s.cur.w.cmp(s.bestW) >= 0 {
			i := s.poorest(&s.cur)
			if s.rng.IntN(3) > 0 {
				i = s.rng.IntN(len(s.cur.bins))
			}
			s.dropBin(&s.cur, i)
		}
	}
	s.late = s.shortest()
	s.fillHist()
}

// shortest is the length of the shortest phase. Sheets that hold many parts ask
// for more patience: what little is left out of them finds its place by many
// small exchanges.
func (s *search) shortest() int {
	if len(s.in.bases) > 1 {
		return latenessMin
	}
	each := len(s.in.units) / max(len(s.best), 1)
	return latenessMin * min(max(each/latenessEach, 1), latenessTimes)
}

// takeBest makes the best layout the current state.
func (s *search) takeBest() {
	for _, b := range s.cur.bins {
		s.free(b)
	}
	s.cur = state{bins: s.cur.bins[:0], out: append(s.cur.out[:0], s.bestOut...), outArea: s.bestOutArea}
	for i := range s.left {
		s.left[i] = s.in.bases[i].qty
	}
	for _, b := range s.best {
		nb := s.copyBin(b, nil)
		s.cur.bins = append(s.cur.bins, nb)
		s.cur.w = s.cur.w.add(s.in.bases[b.stock].weight)
		if s.left[b.stock] > 0 {
			s.left[b.stock]--
		}
	}
}

func (s *search) fillHist() {
	s.hist = slices.Grow(s.hist[:0], s.late)[:s.late]
	v := s.value(&s.cur)
	for i := range s.hist {
		s.hist[i] = v
	}
	s.phaseBest, s.phaseAt = v, s.rounds
}

// poorest is the sheet that holds least for what it weighs.
func (s *search) poorest(st *state) int {
	worst, at := math.Inf(1), 0
	for i, b := range st.bins {
		w := s.in.bases[b.stock].weight
		v := b.area / (float64(w.cost) + float64(w.bought)*1e-3 + 1e-6)
		if v < worst {
			worst, at = v, i
		}
	}
	return at
}

// dropBin closes a sheet and puts its units outside.
func (s *search) dropBin(st *state, i int) {
	b := st.bins[i]
	s.takeAll(st, b)
	s.close(st, b)
	s.free(b)
	st.bins = append(st.bins[:i], st.bins[i+1:]...)
}

// takeAll lists all units of a bin as outside.
func (s *search) takeAll(st *state, b *bin) {
	for _, r := range b.roots {
		if r >= 0 {
			s.takeBelow(st, b, r)
		}
	}
}

func (s *search) takeBelow(st *state, b *bin, r int32) {
	n := &b.k[r]
	if n.kid < 0 {
		s.takeUnit(st, n.unit)
		return
	}
	for c := n.kid; c >= 0; c = b.k[c].next {
		s.takeBelow(st, b, c)
	}
}

func (s *search) takeUnit(st *state, u int32) {
	if len(s.in.units[u].kinds) > 1 && slices.Contains(st.out, u) {
		return
	}
	st.out = append(st.out, u)
	st.outArea += s.in.units[u].area
}

// value is what the search makes small: the area outside, and for equal areas
// the leftovers that are not in large pieces.
func (s *search) value(st *state) float64 {
	sum := 0.0
	for _, b := range st.bins {
		sum += b.score
	}
	return st.outArea*math.Sqrt(s.in.scale) - 1e-4*float64(sum*s.in.scale)
}

// improve runs rounds until the work is done or enough says so.
func (s *search) improve(enough func() bool) {
	if !s.have || enough() {
		return
	}
	if len(s.in.bases) > 1 {
		s.improveMany(enough)
		return
	}
	s.restart()
	for {
		better, on := s.round()
		switch {
		case !on:
			return
		case better:
			if enough() {
				return
			}
			s.restart()
		case s.rounds-s.phaseAt > int64(s.late*patience):
			// Each length of phase gets about as many rounds in all: half of the
			// phases are of the shortest, a quarter of the next, and so on.
			s.phases++
			s.restart()
			s.late = min(s.shortest()<<bits.TrailingZeros64(uint64(s.phases)), latenessMax)
			s.fillHist()
		}
	}
}

// round takes parts out and puts them back. It says whether that gave a new
// best layout; on is false where the work is done.
func (s *search) round() (better, on bool) {
	s.rounds++
	s.ops += 8
	if s.over() || len(s.in.units) == 0 {
		return false, false
	}
	trial := &s.trial
	s.keep = append(s.keep[:0], s.left...)
	trial.bins = append(trial.bins[:0], s.cur.bins...)
	trial.out = append(trial.out[:0], s.cur.out...)
	trial.outArea, trial.w = s.cur.outArea, s.cur.w
	own := slices.Grow(s.mine[:0], len(trial.bins))[:len(trial.bins)]
	clear(own)
	old := len(trial.out)
	own = s.ruin(trial, own)
	own = s.recreate(trial, own, old)
	s.mine = own
	if (trial.outArea == 0 || trial.outArea < s.bestOutArea) && s.consider(trial) {
		s.replace(trial)
		return true, true
	}
	v := s.value(trial)
	h := &s.hist[s.rounds%int64(s.late)]
	cur := s.value(&s.cur)
	if v <= *h || v <= cur {
		s.replace(trial)
		cur = v
	} else {
		for i, b := range trial.bins {
			if own[i] {
				s.free(b)
			}
		}
		copy(s.left, s.keep)
	}
	if cur < *h {
		*h = cur
	}
	if cur < s.phaseBest {
		s.phaseBest, s.phaseAt = cur, s.rounds
	}
	return false, true
}

// replace makes the trial the current state and frees what it no longer holds.
func (s *search) replace(t *state) {
	held := s.stampSet(t)
	for _, b := range s.cur.bins {
		if !held(b) {
			s.free(b)
		}
	}
	s.cur.bins, t.bins = t.bins, s.cur.bins
	s.cur.out, t.out = t.out, s.cur.out
	s.cur.outArea, s.cur.w = t.outArea, t.w
}

func (s *search) stampSet(t *state) func(*bin) bool {
	return func(b *bin) bool { return slices.Contains(t.bins, b) }
}

// ruin takes some parts out.
func (s *search) ruin(st *state, own []bool) []bool {
	if len(st.bins) == 0 {
		return own
	}
	if (len(s.in.bases) > 1 && s.rng.IntN(32) == 0) || (s.in.varied && s.rng.IntN(6) == 0) {
		// Give a sheet back, to open another kind.
		i := s.rng.IntN(len(st.bins))
		b := st.bins[i]
		s.takeAll(st, b)
		s.close(st, b)
		if own[i] {
			s.free(b)
		}
		st.bins = append(st.bins[:i], st.bins[i+1:]...)
		return append(own[:i], own[i+1:]...)
	}
	return s.ruinSome(st, own)
}

// ruinSome takes parts out of a few sheets and gives no sheet back.
func (s *search) ruinSome(st *state, own []bool) []bool {
	want := len(st.out) + 1 + s.rng.IntN(s.how.parts)
	for tries := 0; len(st.out) < want && tries < 8; tries++ {
		i := s.rng.IntN(len(st.bins))
		b := st.bins[i]
		s.marks = slices.Grow(s.marks[:0], len(b.k))[:len(b.k)]
		clear(s.marks)
		before := len(st.out)
		for _, r := range b.roots {
			if r < 0 {
				continue
			}
			if b.k[r].kid < 0 || s.rng.IntN(s.how.whole) == 0 {
				s.mark(st, b, r)
				continue
			}
			for range 1 + s.rng.IntN(s.how.knots) {
				s.markSome(st, b, r)
			}
		}
		if len(st.out) == before {
			continue
		}
		nb := s.copyBin(b, s.marks)
		if most := s.in.p.MaxStages; most > 0 && s.in.stagesOf(nb) > most {
			// With parts gone, a rest that was not there may need a cut of its own: start afresh.
			for j := range s.marks {
				s.marks[j] = false
			}
			out := st.out[before:]
			for _, u := range out {
				st.outArea -= s.in.units[u].area
			}
			st.out = st.out[:before]
			s.takeAll(st, b)
			for j := range b.roots {
				if r := b.roots[j]; r >= 0 {
					s.marks[r] = true
				}
			}
			s.free(nb)
			nb = s.copyBin(b, s.marks)
		}
		if own[i] {
			s.free(b)
		}
		st.bins[i], own[i] = nb, true
	}
	return own
}

// markSome marks a knot chosen by lot.
func (s *search) markSome(st *state, b *bin, r int32) {
	for {
		n := int32(s.rng.IntN(len(b.k)))
		if s.marks[n] {
			return
		}
		// Only knots that hang in this tree.
		top, ok := n, true
		for b.k[top].up >= 0 {
			top = b.k[top].up
			if s.marks[top] {
				ok = false
			}
		}
		if top != r || !ok {
			if top != r && len(b.roots) == 1 && b.k[n].kid >= 0 {
				continue // a knot that fell out of use
			}
			return
		}
		s.mark(st, b, n)
		return
	}
}

// mark marks a knot to be taken out, with the rest of every group in it.
func (s *search) mark(st *state, b *bin, r int32) {
	if s.marks[r] {
		return
	}
	n := &b.k[r]
	s.marks[r] = true
	if n.kid >= 0 {
		for c := n.kid; c >= 0; c = b.k[c].next {
			s.mark(st, b, c)
		}
		return
	}
	u := n.unit
	s.ops++
	if len(s.in.units[u].kinds) == 1 {
		s.takeUnit(st, u)
		return
	}
	if slices.Contains(st.out, u) {
		return
	}
	s.takeUnit(st, u)
	for i := range b.k {
		if b.k[i].kid < 0 && b.k[i].kind >= 0 && b.k[i].unit == u {
			s.marks[i] = true
		}
	}
}

// recreate puts parts back.
func (s *search) recreate(st *state, own []bool, old int) []bool {
	how := max(0, s.rng.IntN(9)-4)
	s.sortUnits(st.out, how, 0.4)
	out := st.out
	st.out = st.out[:0]
	st.outArea = 0
	for _, u := range out {
		var ok bool
		if own, ok = s.insert(st, own, u, s.how.blink); !ok {
			st.out = append(st.out, u)
			st.outArea += s.in.units[u].area
		}
	}
	return own
}
