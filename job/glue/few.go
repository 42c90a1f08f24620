package glue

import (
	"fmt"

	"caul/job/measure"
)

// The thickness of cauls: under the least a caul that bridges a joint bends
// instead of pressing in its middle, over the most it is no strip any more
// (both common practice, no source).
const (
	leastCaul = 3 * measure.Inch / 2
	mostCaul  = 3 * measure.Inch
)

// few says what to do with fewer clamps than press everywhere through their
// pads. Over one row thicker cauls spread each clamp further. Clamps do not
// reach in over a face that wants several rows: there stiff cauls go right
// across, a clamp at each end, as many as there are pairs of clamps, and each
// thick enough to press its share of the length at 45 degrees (RuleSpread).
func (s *Sheet) few(a Ask) {
	along := max(BySpacing(a.Length, s.Coverage), 1)
	text := fmt.Sprintf("%d clamps press everywhere", s.BySpacing)
	if s.Rows == 1 {
		text += fmt.Sprintf(", and %d are to hand: ", s.Have)
		if t, ok := caulFor(a, s.Have); ok {
			text += fmt.Sprintf("cauls %s thick make each press a stretch long enough", measure.FormatUnit(t, a.Units))
		} else {
			text += fmt.Sprintf("%d more are wanted, or weights or a vacuum bag", s.Short)
		}
		s.Warnings = append(s.Warnings, text)
		return
	}
	text += fmt.Sprintf(" each through its own pad, in %d rows, and %d are to hand: ", s.Rows, s.Have)
	pairs := min(s.Have/2, along)
	if t, ok := caulFor(a, pairs); ok {
		s.Cauls, s.CaulThick = pairs, max(t, leastCaul, a.Caul)
		text += fmt.Sprintf("lay %d stiff cauls right across instead, each %s thick, a little bowed so that its middle presses first, and a clamp at each end", pairs, measure.FormatUnit(s.CaulThick, a.Units))
	} else {
		text += fmt.Sprintf("%d stiff cauls right across, with a clamp at each end, take %d more; or press with weights or a vacuum bag", along, max(2*along-s.Have, 1))
	}
	s.Warnings = append(s.Warnings, text)
}

// caulFor is how thick cauls must be for so many places along a joint to press
// the whole of it, rounded up to 1/8 in or 5 mm. It is not ok where no sensible
// caul will do.
func caulFor(a Ask, places int) (measure.Length, bool) {
	if places < 1 {
		return 0, false
	}
	share := (a.Length + measure.Length(places) - 1) / measure.Length(places)
	step := measure.Inch / 8
	if a.Units.System == measure.Metric {
		step = 5 * measure.MM
	}
	t := (share-a.Pad+1)/2 - a.ToLine
	t = max((t+step-1)/step*step, 0)
	return t, share <= MaxSpacing && t <= mostCaul
}
