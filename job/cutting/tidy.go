package cutting

import (
	"caul/job/layout"
	"caul/job/measure"
)

// tidy leaves out cuts that only divide waste, and puts off a cut that takes
// waste off a whole piece when every piece below is cut along the same axis
// again: the waste then falls with the last cut of each. Offcuts that are worth
// keeping are left whole.
func tidy(p *piece, kerf measure.Length, keeps func(l, w measure.Length) bool) *piece {
	if p.axis == layout.None {
		return p
	}
	for i, c := range p.segs {
		p.segs[i] = tidy(c, kerf, keeps)
	}
	if p.fixed {
		return tidyFixed(p, kerf, keeps)
	}
	c := p.segs[0]
	waste := len(p.segs) == 1 && p.dust || len(p.segs) == 2 && p.segs[1].offcut() && !keeps(p.segs[1].l, p.segs[1].w)
	if !waste || c.axis == layout.None {
		return p
	}
	for _, s := range c.segs {
		if s.unit >= 0 || !s.offcut() && s.axis != p.axis {
			return p
		}
	}
	extra := p.along(p.axis) - c.along(p.axis)
	c.l, c.w = p.l, p.w
	for _, s := range c.segs {
		s.grow(p.axis, extra, kerf)
	}
	return c
}

// grow makes a piece longer along the axis it is cut, by waste.
func (p *piece) grow(a layout.Axis, extra, kerf measure.Length) {
	if a == layout.AlongX {
		p.l += extra
	} else {
		p.w += extra
	}
	if p.axis == layout.None {
		return
	}
	var used measure.Length
	var kept []*piece
	for _, s := range p.segs {
		if !s.offcut() {
			kept = append(kept, s)
			used += s.along(a) + kerf
		}
	}
	over := p.along(a) - (used - kerf)
	p.segs, p.dust = kept, over > 0 && over <= kerf
	if over > kerf {
		o := &piece{l: p.l, w: p.w, unit: -1}
		if a == layout.AlongX {
			o.l = over - kerf
		} else {
			o.w = over - kerf
		}
		p.segs = append(p.segs, o)
	}
}

// parts says whether a part comes from a piece.
func (p *piece) parts() bool {
	if p.unit >= 0 {
		return true
	}
	for _, s := range p.segs {
		if s.parts() {
			return true
		}
	}
	return false
}

// tidyFixed joins neighbouring waste on stock with defects, where positions
// stay: the cut between two pieces without parts is not made.
func tidyFixed(p *piece, kerf measure.Length, keeps func(l, w measure.Length) bool) *piece {
	if !p.parts() {
		return &piece{l: p.l, w: p.w, unit: -1, fixed: true}
	}
	var out []*piece
	for _, s := range p.segs {
		if n := len(out); n > 0 && s.offcut() && out[n-1].offcut() && !keeps(s.l, s.w) && !keeps(out[n-1].l, out[n-1].w) {
			last := out[n-1]
			if p.axis == layout.AlongX {
				last.l += kerf + s.l
			} else {
				last.w += kerf + s.w
			}
			continue
		}
		out = append(out, s)
	}
	if n := len(out); p.dust && out[n-1].offcut() {
		// what is left beyond the kerf falls with the waste
		var used measure.Length
		for _, s := range out {
			used += s.along(p.axis) + kerf
		}
		over := p.along(p.axis) - (used - kerf)
		if p.axis == layout.AlongX {
			out[n-1].l += over
		} else {
			out[n-1].w += over
		}
		p.dust = false
	}
	p.segs = out
	if len(out) == 1 && !p.dust {
		return out[0]
	}
	return p
}
