package layout

import (
	"cmp"
	"slices"
)

// quick lays parts out in one pass: large ones first, each into the free piece
// that it fills best, which is then split beside it. It gives a layout at once
// for the search to better.
func quick(p *Problem) *Result {
	q := quickLayout{p: p, used: make([]int, len(p.Stocks))}
	for _, u := range q.units() {
		q.place(u)
	}
	var un []Unplaced
	for i, n := range q.missing {
		if n > 0 {
			un = append(un, Unplaced{Part: i, Qty: n, Reason: q.why[i]})
		}
	}
	sheets := make([]Sheet, len(q.sheets))
	for i, s := range q.sheets {
		sheets[i] = Sheet{Stock: s.stock, Root: s.root}
	}
	return finish(p, sheets, un)
}

type quickLayout struct {
	p       *Problem
	used    []int
	sheets  []quickSheet
	missing map[int]int
	why     map[int]Reason
}

type quickSheet struct {
	stock int
	root  *Node
}

// units lists what must stay together: groups whole, other parts one by one,
// large ones first.
func (q *quickLayout) units() [][]int {
	var units [][]int
	at := map[string]int{}
	for i, part := range q.p.Parts {
		for range part.Qty {
			if part.Group == "" {
				units = append(units, []int{i})
				continue
			}
			k, ok := at[part.Group]
			if !ok {
				k = len(units)
				at[part.Group] = k
				units = append(units, nil)
			}
			units[k] = append(units[k], i)
		}
	}
	area := func(i int) int64 { return q.p.Parts[i].X * max(1, q.p.Parts[i].Y) }
	sum := func(u []int) (t int64) {
		for _, i := range u {
			t += area(i)
		}
		return
	}
	for _, u := range units {
		slices.SortStableFunc(u, func(a, b int) int { return cmp.Compare(area(b), area(a)) })
	}
	slices.SortStableFunc(units, func(a, b []int) int { return cmp.Compare(sum(b), sum(a)) })
	return units
}

func (q *quickLayout) place(u []int) {
	for i := range q.sheets {
		if root := q.fill(q.sheets[i].stock, q.sheets[i].root, u); root != nil {
			q.sheets[i].root = root
			return
		}
	}
	best, bestRoot := -1, (*Node)(nil)
	short := false
	for i := range q.p.Stocks {
		s := &q.p.Stocks[i]
		use := s.usable()
		if use.W <= 0 || use.H < 0 || use.H == 0 && !q.p.flat() {
			continue
		}
		root := q.fill(i, &Node{Rect: use, Part: -1}, u)
		if root == nil {
			continue
		}
		if s.Qty >= 0 && q.used[i] >= s.Qty {
			short = true
			continue
		}
		if best < 0 || q.better(s, &q.p.Stocks[best]) {
			best, bestRoot = i, root
		}
	}
	if best >= 0 {
		q.used[best]++
		q.sheets = append(q.sheets, quickSheet{best, bestRoot})
		return
	}
	if q.missing == nil {
		q.missing, q.why = map[int]int{}, map[int]Reason{}
	}
	why := TooLarge
	if short {
		why = OutOfStock
	} else if len(u) > 1 {
		why = GroupTooLarge
	}
	for _, i := range u {
		q.missing[i]++
		q.why[i] = why
	}
}

// better orders kinds of stock: what is on hand first and small ones of it
// first; of the rest, what costs least for its area.
func (q *quickLayout) better(a, b *Stock) bool {
	if a.OnHand != b.OnHand {
		return a.OnHand
	}
	ra, rb := float64(a.X)*float64(max(1, a.Y)), float64(b.X)*float64(max(1, b.Y))
	if a.OnHand {
		return ra < rb
	}
	return float64(a.Price)*rb < float64(b.Price)*ra
}

// fill puts all parts of the unit into the free pieces under root and gives
// the new root, or nil where they do not all fit.
func (q *quickLayout) fill(stock int, root *Node, u []int) *Node {
	for _, i := range u {
		if s := q.p.Parts[i].Stocks; s != nil && !slices.Contains(s, stock) {
			return nil
		}
	}
	root = root.clone()
	for _, i := range u {
		if !q.insert(&q.p.Stocks[stock], root, i) {
			return nil
		}
	}
	return root
}

func (n *Node) clone() *Node {
	if n == nil {
		return nil
	}
	m := *n
	m.Near, m.Far = n.Near.clone(), n.Far.clone()
	return &m
}

// insert puts one part into the free piece under root where the smaller
// remainder is smallest.
func (q *quickLayout) insert(s *Stock, root *Node, i int) bool {
	type spot struct {
		n            *Node
		w, h, dx, dy int64
		turned       bool
		split        Axis
		cost         int64
	}
	var best *spot
	part := &q.p.Parts[i]
	limit := q.p.MaxStages
	var walk func(n *Node, last Axis, depth int)
	walk = func(n *Node, last Axis, depth int) {
		if n.Cut != None {
			if n.Cut != last {
				depth++
			}
			walk(n.Near, n.Cut, depth)
			if n.Far != nil {
				walk(n.Far, n.Cut, depth)
			}
			return
		}
		if n.Part >= 0 {
			return
		}
		for turn := range 2 {
			w, h := part.X, part.Y
			if turn == 1 {
				if !part.Turn || part.Y == 0 || w == h {
					break
				}
				w, h = h, w
			}
			if part.Y == 0 {
				h = n.H
			}
			for _, at := range q.corners(s, n) {
				dx, dy := at[0], at[1]
				rw, rh := n.W-dx-w, n.H-dy-h
				if rw < 0 || rh < 0 || q.p.flawed(s, Rect{n.X + dx, n.Y + dy, w, h}) {
					continue
				}
				for _, split := range [2]Axis{AlongX, AlongY} {
					d, l := depth, last
					step := func(a Axis, need bool) {
						if need && a != l {
							d, l = d+1, a
						}
					}
					step(AlongX, dx > 0)
					step(AlongY, dy > 0)
					step(split, split == AlongX && rw > 0 || split == AlongY && rh > 0)
					step(3-split, split == AlongY && rw > 0 || split == AlongX && rh > 0)
					if limit > 0 && d > limit {
						continue
					}
					c := min(rw, rh)*4 + dx + dy
					// Leave the larger rest whole.
					if (split == AlongX) != (rw >= rh) {
						c++
					}
					if best == nil || c < best.cost {
						best = &spot{n, w, h, dx, dy, turn == 1, split, c}
					}
				}
			}
		}
	}
	walk(root, None, 0)
	if best == nil {
		return false
	}
	n := best.n
	if best.dx > 0 {
		n = n.cutAt(AlongX, best.dx-q.p.Kerf, q.p.Kerf).Far
	}
	if best.dy > 0 {
		n = n.cutAt(AlongY, best.dy-q.p.Kerf, q.p.Kerf).Far
	}
	for _, a := range [2]Axis{best.split, 3 - best.split} {
		if a == AlongX && n.W > best.w {
			n = n.cutAt(AlongX, best.w, q.p.Kerf).Near
		} else if a == AlongY && n.H > best.h {
			n = n.cutAt(AlongY, best.h, q.p.Kerf).Near
		}
	}
	n.Part, n.Turned = i, best.turned
	return true
}

// corners lists where in a free piece a part may start: its corner, and past
// each defect.
func (q *quickLayout) corners(s *Stock, n *Node) [][2]int64 {
	at := [][2]int64{{0, 0}}
	for _, d := range s.Defects {
		if dx := max(d.X+d.W-n.X, q.p.Kerf+1); d.X+d.W > n.X && dx < n.W {
			at = append(at, [2]int64{dx, 0})
		}
		if dy := max(d.Y+d.H-n.Y, q.p.Kerf+1); !q.p.flat() && d.Y+d.H > n.Y && dy < n.H {
			at = append(at, [2]int64{0, dy})
		}
	}
	return at
}

// cutAt cuts the piece and gives it back.
func (n *Node) cutAt(a Axis, at, kerf int64) *Node {
	near, far := n.Rect, n.Rect
	n.Cut, n.At = a, at
	var rest int64
	if a == AlongX {
		rest = n.W - at - kerf
		near.W, far.X, far.W = at, n.X+at+kerf, rest
	} else {
		rest = n.H - at - kerf
		near.H, far.Y, far.H = at, n.Y+at+kerf, rest
	}
	n.Near = &Node{Rect: near, Part: -1}
	if rest > 0 {
		n.Far = &Node{Rect: far, Part: -1}
	}
	return n
}
