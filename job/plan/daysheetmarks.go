package plan

// marks draws the present and the finish.
func (s *sheet) marks() {
	y := s.sc.begin(s.p.Now)
	if s.p.Now.After(s.from) {
		y = s.sc.end(s.p.Now)
	}
	s.line("now", 4, y, s.w-4, y)
	y = s.sc.end(s.to)
	s.line("ready", s.gut-6, y, s.w-4, y)
	end := "finish " + when(s.to, s.p.Now)
	for _, it := range s.items {
		if it.Never {
			end = "no finish: too cold for the glue to set"
		}
	}
	s.text("name red", s.gut, y+18, fit(end, 13, s.w-s.gut-10))
}

// legend says what the hatchings are.
func (s *sheet) legend(y float64) {
	x := 12.0
	for _, l := range []struct{ pat, label string }{{"clamped", "in clamps"}, {"cure", "curing"}, {"lag", "other wait"}} {
		s.rect("wait", x, y+8, 22, 14)
		s.f(`<rect x="%s" y="%s" width="22" height="14" fill="url(#%s-%s)"/>`+"\n", px(x), px(y+8), xmlText(s.id), l.pat)
		s.ruled("edge", x, y+8, 22, 14)
		s.text("small", x+29, y+20, l.label)
		x += 44 + textWide(l.label, 12)
	}
	if len(s.onChain) > 0 {
		s.rect("chain", 12, y+32, 4, 14)
		s.text("small", 22, y+44, "binds the finish")
		x = 22 + textWide("binds the finish", 12) + 18
	} else {
		x = 12
	}
	s.line("ready", x, y+39, x+22, y+39)
	s.text("small", x+29, y+44, "clamps may come off")
}
