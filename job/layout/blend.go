package layout

import (
	"cmp"
	"slices"
)

// With several kinds of stock the hunt for a lighter layout goes by choices of
// sheets. It is held to one at a time, and the time is shared out among them in
// heats: half of it goes to choices not tried before, those first that hold the
// parts most easily; a quarter to the choices that came nearest in those heats,
// for twice as long; and so on (successive halving: K. Jamieson, A. Talwalkar,
// "Non-stochastic best arm identification and hyperparameter optimization",
// AISTATS 2016).

const (
	heatMin  = 50 // lateness of the shortest heat
	heatTop  = 8  // doublings of it at most
	heatIdle = 10 // a heat ends after that many times its lateness without gain
)

// heat is a choice of sheets and how near the search came to it.
type heat struct {
	mix
	level int     // of heats it has had
	left  float64 // least value reached
}

// improveMany is improve where there are several kinds of stock.
func (s *search) improveMany(enough func() bool) {
	var had []*heat
	for {
		if !s.over() && s.bestOutArea > 0 {
			// Not all parts are placed: any sheet there is may be taken.
			s.restart()
			for s.rounds-s.phaseAt <= int64(s.late*patience) {
				if better, on := s.round(); !on || better {
					break
				}
			}
			if s.over() || enough() {
				return
			}
			continue
		}
		h := s.nextHeat(&had)
		if h == nil {
			return // nothing weighs less and might hold the parts
		}
		s.takeMix(h.mix)
		s.late = heatMin << h.level
		s.fillHist()
		won := false
		for s.rounds-s.phaseAt <= int64(s.late*heatIdle) {
			better, on := s.round()
			if !on {
				return
			}
			if better {
				won = true
				break
			}
		}
		if won {
			if enough() {
				return
			}
			continue
		}
		h.left = min(h.left, s.phaseBest)
		h.level++
	}
}

// nextHeat picks the choice that is tried next.
func (s *search) nextHeat(had *[]*heat) *heat {
	list := s.mixes()
	if len(list) == 0 {
		return nil
	}
	kept := (*had)[:0]
	for _, h := range *had {
		if slices.ContainsFunc(list, func(m mix) bool { return slices.Equal(m.counts, h.counts) }) {
			kept = append(kept, h)
		}
	}
	*had = kept
	for _, m := range list {
		if len(kept) == len(list) {
			break
		}
		if !slices.ContainsFunc(kept, func(h *heat) bool { return slices.Equal(m.counts, h.counts) }) {
			kept = append(kept, &heat{mix: m, left: 1e300})
		}
	}
	slices.SortStableFunc(kept, func(a, b *heat) int { return cmp.Compare(b.ease, a.ease) })
	*had = kept
	s.phases++
	want := 0
	for n := s.phases; n&1 == 0 && want < heatTop; n >>= 1 {
		want++
	}
	for ; want >= 0; want-- {
		var best *heat
		for _, h := range kept {
			if h.level == want && (best == nil || h.left < best.left) {
				best = h
			}
		}
		if best != nil {
			return best
		}
	}
	// All have been tried: the least tried, nearest first.
	best := kept[0]
	for _, h := range kept {
		if cmp.Or(cmp.Compare(h.level, best.level), cmp.Compare(h.left, best.left)) < 0 {
			best = h
		}
	}
	best.level = min(best.level, heatTop)
	return best
}
