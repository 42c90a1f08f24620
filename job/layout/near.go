package layout

// Where the linear program asks for nearly as many sheets as there are, no sheet
// of a layout can be worth much less than the best sheet: what it is short of
// that, all others together cannot make up. All patterns worth that much can
// then be listed, and with no others to think of a search for a cover comes to an
// end (reduced-cost enumeration: R. Baldacci, N. Christofides, A. Mingozzi, "An
// exact algorithm for the vehicle routing problem based on the set partitioning
// formulation with additional cuts", Mathematical Programming 115 (2008)).

const (
	nearHope  = 12      // a sheet may be short of the best by so many hundredths for hope,
	nearGap   = 5       // and by so many for patterns to be listed
	nearMost  = 20_000  // patterns listed
	nearFit   = 12      // copies of a set that is tried whole; sheets that hold more are too many to list
	nearTimes = 2       // work that the list may take for the work done before
	nearSets  = 600_000 // sets that it may look at
)

// near looks for a layout on so many sheets among the patterns worth enough, or
// for the proof that there is none. It goes by the values last priced.
func (p *onceProof) near(sheets int) verdict {
	least := p.asks - p.top*int64(sheets-1) // of any sheet of a layout
	if least < p.top/100*(100-nearHope) || len(p.order) > nearFit*sheets {
		return unknown
	}
	if p.hope != nil {
		p.hope()
	}
	short := p.top - least
	if p.exact < onceFew+2 || short > p.gap {
		return unknown
	}
	full, ok := p.worthwhile(least)
	if !ok {
		// Too many are too many at last; too much work may be less when the gap is smaller.
		p.gap = short / 3 * 2
		if len(full) > nearMost {
			p.gap = -1
		}
		return unknown
	}
	e := p.e
	var heavy int64
	for _, s := range full {
		var v int64
		s.each(func(i int) { v += p.values[e.kind[i]] })
		heavy = max(heavy, v)
	}
	c := e.newCoverSearch(full, p.values, heavy)
	c.fits = func(s set) bool { return s.count() > nearFit || e.light(s) && len(e.fit(s)) > 0 }
	var all set
	for _, i := range p.order {
		all = all.with(int(i))
	}
	done, ok := c.run(all, sheets)
	switch {
	case !ok:
		return unknown
	case !done:
		return refuted
	case p.rest(c.path, all, sheets):
		return reached
	}
	return unknown
}

// worthwhile lists patterns worth at least so much, such that any other is
// within one of them but for copies of no value. It says whether the work
// sufficed.
func (p *onceProof) worthwhile(least int64) ([]set, bool) {
	over, most, known := p.over, p.ops()*(1+nearTimes), len(p.e.all)
	p.over = func(ops int64) bool {
		return ops > most || len(p.e.all) > known+nearSets || over(ops)
	}
	defer func() { p.over = over }()
	p.prepare(p.values)
	p.start(nearMost + 1)
	p.floor = least - 1
	_, ok := p.walk(0, 0, set{}, 0)
	full := make([]set, len(p.found))
	for i, f := range p.found {
		full[i] = f.s
	}
	p.found = p.found[:0]
	return full, ok && len(full) <= nearMost
}

// rest puts the copies of no value in, and says whether that makes a layout.
func (p *onceProof) rest(sheets []set, done set, most int) bool {
	e := p.e
	for _, s := range sheets {
		if s.count() > nearFit {
			return false
		}
	}
	p.sheet = append([]set{}, sheets...)
	for i := range e.kind {
		if done.has(i) {
			continue
		}
		at := -1
		for x, s := range p.sheet {
			if t := s.with(i); s.count() < nearFit && e.light(t) && len(e.fit(t)) > 0 {
				at = x
				break
			}
		}
		switch {
		case at >= 0:
			p.sheet[at] = p.sheet[at].with(i)
		case len(p.sheet) < most && len(e.fit(set{}.with(i))) > 0:
			p.sheet = append(p.sheet, set{}.with(i))
		default:
			p.sheet = nil
			return false
		}
	}
	return true
}
