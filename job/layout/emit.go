package layout

import (
	"cmp"
	"slices"
)

// emit writes the bins out as sheets with cuts.
func (in *inst) emit(bins []*bin, out []int32) *Result {
	next := make([]int, len(in.kinds)) // copies of each kind given a part so far
	take := func(kd int32) int {
		next[kd]++
		return in.kinds[kd].parts[next[kd]-1]
	}
	var sheets []Sheet
	for _, b := range bins {
		if b.empty() {
			continue
		}
		sheets = append(sheets, Sheet{Stock: int(b.stock), Root: in.cuts(b, take)})
	}
	slices.SortStableFunc(sheets, func(a, b Sheet) int { return cmp.Compare(a.Stock, b.Stock) })
	un := slices.Clone(in.lost)
	why := map[int]*Unplaced{}
	for _, u := range out {
		for _, kd := range in.units[u].kinds {
			i := take(kd)
			if why[i] == nil {
				r := OutOfStock
				if len(in.units[u].kinds) > 1 {
					r = GroupTooLarge
				}
				why[i] = &Unplaced{Part: i, Reason: r}
			}
			why[i].Qty++
		}
	}
	for i := range in.p.Parts {
		if u := why[i]; u != nil {
			un = append(un, *u)
		}
	}
	slices.SortStableFunc(un, func(a, b Unplaced) int { return cmp.Compare(a.Part, b.Part) })
	return finish(in.p, sheets, un)
}

func (b *bin) empty() bool {
	for _, r := range b.roots {
		if r >= 0 {
			return false
		}
	}
	return true
}

// cuts gives the cut tree of a bin.
func (in *inst) cuts(b *bin, take func(kd int32) int) *Node {
	v := &in.bases[b.stock].variants[b.variant]
	leaf, reg := 0, 0
	var walk func(n *Node) *Node
	walk = func(n *Node) *Node {
		if n == nil {
			return nil
		}
		m := *n
		if n.Cut != None {
			m.Near, m.Far = walk(n.Near), walk(n.Far)
			return &m
		}
		if reg < len(v.regions) && v.regions[reg].leaf == leaf {
			if b.roots[reg] >= 0 {
				in.cutRoot(b, &m, b.roots[reg], take)
			}
			reg++
		}
		leaf++
		return &m
	}
	return walk(v.root)
}

// cutRoot cuts the rest off a region first, the larger way, then the tree.
func (in *inst) cutRoot(b *bin, n *Node, r int32, take func(kd int32) int) {
	k := &b.k[r]
	W, H := n.W+in.p.Kerf, n.H+in.p.Kerf
	if in.flat {
		H = 1
	}
	if xFirst(k, W, H) {
		n = in.trimTo(n, AlongX, k.w)
		n = in.trimTo(n, AlongY, k.h)
	} else {
		n = in.trimTo(n, AlongY, k.h)
		n = in.trimTo(n, AlongX, k.w)
	}
	in.cutKnot(b, n, r, take)
}

// xFirst says whether the rest of a region is better cut off across x first.
// One direction of rest fits the row where there is no choice.
func xFirst(k *knot, W, H int64) bool {
	a, b := max(sq(W-k.w, H), sq(k.w, H-k.h)), max(sq(W, H-k.h), sq(W-k.w, k.h))
	if a == b {
		return k.kid < 0 || k.side
	}
	return a > b
}

// trimTo cuts a piece to a size that includes the kerf.
func (in *inst) trimTo(n *Node, a Axis, size int64) *Node {
	size -= in.p.Kerf
	if a == AlongX && n.W > size || a == AlongY && n.H > size && !in.flat {
		return n.cutAt(a, size, in.p.Kerf).Near
	}
	return n
}

// cutKnot cuts a piece, as long as the row it holds, into the row's kids.
func (in *inst) cutKnot(b *bin, n *Node, r int32, take func(kd int32) int) {
	k := &b.k[r]
	if k.kid < 0 {
		n.Part = take(k.kind)
		// Parts that differ only by which side is called x are of one kind.
		q := &in.p.Parts[n.Part]
		n.Turned = q.Y > 0 && (q.X != n.W || q.Y != n.H)
		return
	}
	for c := k.kid; c >= 0; c = b.k[c].next {
		m := &b.k[c]
		a, size, cross, thick := AlongX, m.w, AlongY, m.h
		if !k.side {
			a, size, cross, thick = AlongY, m.h, AlongX, m.w
		}
		rest := n
		if b.k[c].next >= 0 {
			n = n.cutAt(a, size-in.p.Kerf, in.p.Kerf)
			rest, n = n.Near, n.Far
		}
		rest = in.trimTo(rest, cross, thick)
		in.cutKnot(b, rest, c, take)
	}
}

// stagesOf counts the directions of a bin's deepest piece.
func (in *inst) stagesOf(b *bin) int {
	deepest := in.bases[b.stock].variants[b.variant].depth
	regs := in.regions(b)
	for i, r := range b.roots {
		if r < 0 {
			continue
		}
		k := &b.k[r]
		d, last := regs[i].depth, regs[i].last
		step := func(a Axis, need bool) {
			if need && last != a {
				d, last = d+1, a
			}
		}
		W, H := regs[i].w, regs[i].h
		if xFirst(k, W, H) {
			step(AlongX, W > k.w)
			step(AlongY, H > k.h)
		} else {
			step(AlongY, H > k.h)
			step(AlongX, W > k.w)
		}
		deepest = max(deepest, b.stages(r, last, d))
	}
	return deepest
}

func (b *bin) stages(r int32, last Axis, d int) int {
	k := &b.k[r]
	if k.kid < 0 {
		return d
	}
	deepest := d
	for c := k.kid; c >= 0; c = b.k[c].next {
		m := &b.k[c]
		a, cross, slack := AlongX, AlongY, k.h > m.h
		if !k.side {
			a, cross, slack = AlongY, AlongX, k.w > m.w
		}
		e, l := d, last
		if l != a {
			e, l = e+1, a
		}
		if slack && l != cross {
			e, l = e+1, cross
		}
		deepest = max(deepest, b.stages(c, l, e))
	}
	return deepest
}
