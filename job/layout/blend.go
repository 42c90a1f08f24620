package layout

import (
	"math"
	"math/bits"
	"slices"
)

// With several kinds of stock the hunt for a lighter layout goes by choices of
// sheets. It is held to one at a time, and the time is shared out among them in
// heats: half of it goes to choices not tried before, the most
// hopeful first; a quarter to the choices that came nearest in those heats,
// for twice as long; and so on (successive halving: K. Jamieson, A. Talwalkar,
// "Non-stochastic best arm identification and hyperparameter optimization",
// AISTATS 2016).

const (
	heatMin = 50 // lateness of the shortest heat
	heatTop = 8  // doublings of it at most
)

// heat is a choice of sheets, how near the search came to it, and what time it
// has had.
type heat struct {
	mix
	left  float64 // least value reached
	level int     // of the next heat: its lateness is doubled so many times
	tries int
}

// improveMany is improve where there are several kinds of stock.
func (s *search) improveMany(enough func() bool) {
	var had []*heat
	for {
		var h *heat
		s.phases++
		if s.bestOutArea > 0 {
			// Not all parts are placed: any sheet there is may be taken.
			s.restart()
			s.late = min(latenessMin<<bits.TrailingZeros64(uint64(s.phases)), latenessMax)
		} else {
			had = s.heats(had)
			if len(had) == 0 {
				return // nothing weighs less and might hold the parts
			}
			h = nextHeat(had, bits.TrailingZeros64(uint64(s.phases)))
			s.takeMix(h.mix)
			s.late = heatMin << h.level
		}
		s.fillHist()
		better := false
		for !better && s.rounds-s.phaseAt <= int64(s.late*patience) {
			var on bool
			if better, on = s.round(); !on {
				return
			}
		}
		if better && enough() {
			return
		}
		if !better && h != nil {
			h.left = min(h.left, s.phaseBest)
			h.level++
			h.tries++
		}
	}
}

// heats lists the choices there are now, most hopeful first, each with the time
// it has had.
func (s *search) heats(had []*heat) []*heat {
	list := s.mixes()
	now := make([]*heat, len(list))
	for i, m := range list {
		if at := slices.IndexFunc(had, func(h *heat) bool { return slices.Equal(h.counts, m.counts) }); at >= 0 {
			now[i] = had[at]
			now[i].mix = m
		} else {
			now[i] = &heat{mix: m, left: math.Inf(1)}
		}
	}
	return now
}

// nextHeat picks the choice that is tried next: of those that have come to the
// level wanted, or else to the next below, the nearest.
func nextHeat(all []*heat, level int) *heat {
	for level = min(level, heatTop); level >= 0; level-- {
		var best *heat
		for _, h := range all {
			if h.level == level && (best == nil || h.left < best.left) {
				best = h
			}
		}
		if best != nil {
			return best
		}
	}
	// All have been tried: the time goes to what came nearest, the less the more it has had.
	worth := func(h *heat) float64 { return h.left * math.Sqrt(float64(1+h.tries)) }
	best := all[0]
	for _, h := range all {
		if worth(h) < worth(best) {
			best = h
		}
	}
	best.level = min(bits.TrailingZeros(uint(best.tries+1))+3, heatTop)
	return best
}
