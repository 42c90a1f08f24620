package cutting

import (
	"slices"

	"caul/job/layout"
	"caul/job/measure"
)

// piece is a sheet, or what cuts leave of one. A piece that is cut is cut in
// parallel: it falls into segs along one axis, one kerf apart, and what is left
// over after them. The engine's binary cuts are folded into such rows because
// the saw does not mind which of a row comes first, and the order of cuts
// wants to choose.
type piece struct {
	axis  layout.Axis // None: a part or an offcut
	segs  []*piece    // once ordered: from the near edge or left end
	fixed bool        // positions must stay: the stock has defects
	dust  bool        // the last cut takes less than a kerf
	l, w  measure.Length
	x, y  measure.Length
	unit  int // index into kind.units, -1: none
	copy  int // which of the unit's copies, from 0, once ordered
	turn  bool

	sheet   *sheetTree
	parent  *piece
	depth   int
	name    string
	cuts    []int    // number of the cut after each seg, once ordered
	left    []*piece // segs not yet cut off
	ordered []*piece
	first   int // number of its first cut
}

// sheetTree is one piece of stock and its cuts.
type sheetTree struct {
	kind   *kind
	source *source
	index  int // into Cut.Sheets
	root   *piece
	name   string // "sheet 1"
	trims  [4]int // numbers of the trimming cuts: near, far, left, right
}

// tree folds the engine's cuts of one sheet.
func (k *kind) tree(s *layout.Sheet, index int, kerf measure.Length, keep [2]measure.Length) *sheetTree {
	t := &sheetTree{kind: k, source: &k.sources[s.Stock], index: index}
	l, w := t.source.usable()
	if form(k.stock) == formRod {
		w = t.source.w
	}
	fixed := t.source.piece != nil && len(t.source.piece.Defects) > 0
	t.root = k.fold(s.Root, l, w, kerf, fixed, t)
	t.root = tidy(t.root, kerf, func(l, w measure.Length) bool { return form(k.stock) != formRod && l >= keep[0] && w >= keep[1] })
	var walk func(p, parent *piece, depth int)
	walk = func(p, parent *piece, depth int) {
		p.parent, p.depth, p.sheet = parent, depth, t
		for _, c := range p.segs {
			walk(c, p, depth+1)
		}
	}
	walk(t.root, nil, 0)
	return t
}

// fold turns a piece of the engine, l x w in true lengths, into a row of
// segments, and the offcuts of a row into one.
func (k *kind) fold(n *layout.Node, l, w, kerf measure.Length, fixed bool, t *sheetTree) *piece {
	p := &piece{axis: n.Cut, l: l, w: w, unit: -1, fixed: fixed}
	if n.Cut == layout.None {
		if n.Part >= 0 {
			p.unit, p.turn = n.Part, n.Turned
		}
		return p
	}
	var used measure.Length
	for _, c := range row(n, n.Cut, fixed) {
		cl, cw := l, k.scale.length(c.H)
		if n.Cut == layout.AlongX {
			cl, cw = k.scale.length(c.W), w
		}
		q := k.fold(c, cl, cw, kerf, fixed, t)
		if q.unit < 0 && q.axis == layout.None && !fixed {
			continue // all that is left over of the row is measured below
		}
		p.segs = append(p.segs, q)
		used += q.along(n.Cut) + kerf
	}
	if len(p.segs) == 0 {
		p.axis = layout.None
		return p
	}
	over := p.along(n.Cut) - (used - kerf)
	if fixed {
		p.dust = over > 0
		return p
	}
	if over <= 0 && len(p.segs) == 1 {
		return p.segs[0]
	}
	switch {
	case over > kerf:
		o := &piece{l: l, w: w, unit: -1}
		if n.Cut == layout.AlongX {
			o.l = over - kerf
		} else {
			o.w = over - kerf
		}
		p.segs = append(p.segs, o)
	case over > 0:
		p.dust = true
	}
	return p
}

// row lists what parallel cuts make of a piece. Where positions must stay,
// only the far side is followed, because a cut in the near side may end in the
// kerf.
func row(n *layout.Node, axis layout.Axis, fixed bool) []*layout.Node {
	if n.Cut != axis {
		return []*layout.Node{n}
	}
	var out []*layout.Node
	if fixed {
		out = append(out, n.Near)
	} else {
		out = row(n.Near, axis, fixed)
	}
	if n.Far != nil {
		out = append(out, row(n.Far, axis, fixed)...)
	}
	return out
}

func (p *piece) along(a layout.Axis) measure.Length {
	if a == layout.AlongX {
		return p.l
	}
	return p.w
}

func (p *piece) offcut() bool { return p.unit < 0 && p.axis == layout.None }

// closing says that the last segment needs no cut of its own: it is what the
// others leave.
func (p *piece) closing() bool {
	return !p.dust && (len(p.segs) == 0 || p.fixed || !p.segs[len(p.segs)-1].offcut())
}

// place sets the corners of all pieces below p, from its own.
func (p *piece) place(kerf measure.Length) {
	x, y := p.x, p.y
	for _, c := range p.segs {
		c.x, c.y = x, y
		if p.axis == layout.AlongX {
			x += c.l + kerf
		} else {
			y += c.w + kerf
		}
		c.place(kerf)
	}
}

// all lists the pieces that are cut, parents first.
func (p *piece) all() []*piece {
	if p.axis == layout.None {
		return nil
	}
	out := []*piece{p}
	for _, c := range p.segs {
		out = append(out, c.all()...)
	}
	return slices.Clip(out)
}
