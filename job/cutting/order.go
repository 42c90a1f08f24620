package cutting

import (
	"cmp"
	"slices"

	"caul/job/layout"
	"caul/job/measure"
)

// setting is one position of the fence (rip) or of the stop (crosscut).
type setting struct {
	axis layout.Axis
	size measure.Length
}

// stroke is one cut as scheduled: seg comes off from, or a trim.
type stroke struct {
	setting
	sheet *sheetTree
	from  *piece // nil: a trim
	seg   *piece
	trim  int // 0 near, 1 far, 2 left, 3 right
}

// sequence puts all cuts into an order that a person can follow: trims first,
// then whole sheets before what came off them, and every setting of the fence
// once where the pieces allow it. A setting is taken up when everything that
// needs it lies ready; only when there is no such setting is one taken that
// will have to be set again, and then only for pieces that others wait for.
func sequence(trees []*sheetTree, kerf measure.Length) []stroke {
	q := sequencer{kerf: kerf, pending: map[setting]int{}}
	out := q.trims(trees)
	for _, t := range trees {
		for _, p := range t.root.all() {
			for _, s := range p.segs {
				if p.fixed || !s.offcut() {
					p.left = append(p.left, s)
					q.pending[setting{p.axis, s.along(p.axis)}]++
				}
			}
		}
		if t.root.axis != layout.None {
			q.open(t.root)
		}
	}
	for len(q.ready) > 0 {
		s, whole := q.choose()
		out = append(out, q.cut(s, whole)...)
	}
	return out
}

// inTurn keeps apart what does not share a saw or a size: dressed stock, rough
// boards (whose sizes still have the milling allowance on), rods.
func inTurn(trees []*sheetTree, kerf measure.Length) []stroke {
	var class [3][]*sheetTree
	for _, t := range trees {
		c := 0
		switch {
		case form(t.kind.stock) == formRod:
			c = 2
		case form(t.kind.stock) == formBoard && !t.kind.stock.Surfaced:
			c = 1
		}
		class[c] = append(class[c], t)
	}
	var out []stroke
	for _, list := range class {
		out = append(out, sequence(list, kerf)...)
	}
	return out
}

type sequencer struct {
	kerf    measure.Length
	ready   []*piece // pieces that lie on the saw's side with something left to cut off
	pending map[setting]int
}

// trims takes the edges off whole stock: the larger piece runs against the
// fence, so the settings are those of the finished width and length.
func (q *sequencer) trims(trees []*sheetTree) []stroke {
	var out []stroke
	for _, t := range trees {
		s := t.source
		if s.trim <= 0 {
			continue
		}
		rod := form(t.kind.stock) == formRod
		if !rod {
			out = append(out, stroke{setting{layout.AlongY, s.w - s.trim}, t, nil, nil, 0},
				stroke{setting{layout.AlongY, s.w - 2*s.trim}, t, nil, nil, 1})
		}
		out = append(out, stroke{setting{layout.AlongX, s.l - s.trim}, t, nil, nil, 2},
			stroke{setting{layout.AlongX, s.l - 2*s.trim}, t, nil, nil, 3})
	}
	// sheet after sheet at one setting
	slices.SortStableFunc(out, func(a, b stroke) int {
		return cmp.Or(cmp.Compare(b.axis, a.axis), -cmp.Compare(a.size, b.size))
	})
	return out
}

// open makes a piece ready. A piece that needs no cut at all never comes here.
func (q *sequencer) open(p *piece) {
	q.ready = append(q.ready, p)
	q.release(p)
}

// release lets go of the last segment when nothing has to be cut off it.
func (q *sequencer) release(p *piece) {
	if len(p.left) == 1 && p.closing() {
		s := p.left[0]
		p.left = nil
		p.ordered = append(p.ordered, s)
		q.pending[setting{p.axis, s.along(p.axis)}]--
		if s.axis != layout.None {
			q.open(s)
		}
	}
	if len(p.left) == 0 {
		q.ready = slices.DeleteFunc(q.ready, func(r *piece) bool { return r == p })
	}
}

// offers lists what may be cut off a ready piece next.
func offers(p *piece) []*piece {
	if p.fixed && len(p.left) > 0 {
		return p.left[:1]
	}
	return p.left
}

// choose picks the next setting, and whether all its cuts are to be made now.
func (q *sequencer) choose() (setting, bool) {
	type choice struct {
		setting
		n, depth int
		opens    bool
		area     float64
	}
	var all []*choice
	index := map[setting]*choice{}
	for _, p := range q.ready {
		for _, s := range offers(p) {
			key := setting{p.axis, s.along(p.axis)}
			c := index[key]
			if c == nil {
				c = &choice{setting: key, depth: p.depth}
				index[key] = c
				all = append(all, c)
			}
			c.n++
			c.depth = min(c.depth, p.depth)
			c.opens = c.opens || s.axis != layout.None || p.fixed
			c.area = max(c.area, float64(p.l)*float64(p.w))
		}
	}
	whole := func(c *choice) int {
		switch {
		case c.n == q.pending[c.setting]:
			return 0
		case c.opens:
			return 1
		}
		return 2
	}
	best := slices.MinFunc(all, func(a, b *choice) int {
		return cmp.Or(cmp.Compare(whole(a), whole(b)), cmp.Compare(a.depth, b.depth), -cmp.Compare(a.area, b.area),
			-cmp.Compare(a.axis, b.axis), -cmp.Compare(a.size, b.size))
	})
	return best.setting, whole(best) != 1
}

// cut makes the cuts of one setting.
func (q *sequencer) cut(at setting, whole bool) []stroke {
	var out []stroke
	for again := true; again; {
		again = false
		for _, p := range slices.Clone(q.ready) {
			for {
				i := -1
				for k, s := range offers(p) {
					if p.axis == at.axis && s.along(p.axis) == at.size && (whole || s.axis != layout.None || p.fixed) {
						i = k
						break
					}
				}
				if i < 0 {
					break
				}
				s := p.left[i]
				p.left = slices.Delete(slices.Clone(p.left), i, i+1)
				p.ordered = append(p.ordered, s)
				q.pending[at]--
				out = append(out, stroke{setting: at, sheet: p.sheet, from: p, seg: s})
				if s.axis != layout.None {
					q.open(s)
				}
				q.release(p)
				again = true
			}
		}
	}
	slices.SortStableFunc(out, func(a, b stroke) int { return cmp.Compare(a.sheet.index, b.sheet.index) })
	return out
}

// settle writes the order of cutting back into the pieces: what is cut off
// first lies nearest the edge it is measured from, the offcut last.
func settle(trees []*sheetTree, strokes []stroke, kerf measure.Length) {
	for i, s := range strokes {
		if s.from == nil {
			s.sheet.trims[s.trim] = i + 1
			continue
		}
		s.from.cuts = append(s.from.cuts, i+1)
	}
	for _, t := range trees {
		for _, p := range t.root.all() {
			if !p.fixed {
				for _, s := range p.segs {
					if s.offcut() {
						p.ordered = append(p.ordered, s)
					}
				}
				p.segs = p.ordered
			}
			if len(p.cuts) > 0 {
				p.first = p.cuts[0]
			}
		}
		t.root.x, t.root.y = t.source.trim, t.source.trim
		if form(t.kind.stock) == formRod {
			t.root.y = 0
		}
		t.root.place(kerf)
	}
}
