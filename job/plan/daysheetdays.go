package plan

// days lists where a drawing that has a piece for every day is parted: at the
// head of each day but the first, and at its foot.
func (s *sheet) days(height float64) []float64 {
	var out []float64
	if s.opts.Days {
		seen := map[date]bool{}
		for _, w := range s.open {
			d := dateOf(w.From)
			if !seen[d] && len(seen) > 0 {
				out = append(out, s.sc.end(w.From))
			}
			seen[d] = true
		}
	}
	return append(out, height)
}

// pieces closes the drawing of the first day, which holds everything, and
// shows the other days out of it, so that a page of paper may end between two.
// A screen reader is told of the whole in the first.
func (s *sheet) pieces(at []float64) {
	if s.opts.Days {
		s.f("</g>\n")
	}
	s.f("</svg>\n")
	for i := 1; i < len(at); i++ {
		h := at[i] - at[i-1]
		s.f(`<svg xmlns="http://www.w3.org/2000/svg" class="ds" viewBox="0 %s %s %s" width="%s" height="%s" preserveAspectRatio="xMinYMin" aria-hidden="true"><use href="#%s-all"/></svg>`+"\n",
			px(at[i-1]), px(s.w), px(h), px(s.w), px(h), xmlText(s.id))
	}
}

// empty is the sheet of a plan with nothing left in it.
func (s *sheet) empty() []byte {
	h := s.top() + 8
	s.open0(h, h)
	s.pieces([]float64{h})
	return s.b.Bytes()
}
