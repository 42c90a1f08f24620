package layout

import (
	"cmp"
	"slices"
)

// finish lists parts and offcuts of each cut sheet and states the figures of
// the levels, with bounds left open.
func finish(p *Problem, sheets []Sheet, un []Unplaced) *Result {
	r := &Result{Sheets: sheets, Unplaced: un}
	settings := map[[2]int64]struct{}{}
	for i := range r.Sheets {
		s := &r.Sheets[i]
		st := &p.Stocks[s.Stock]
		s.Placed, s.Offcuts = nil, nil
		var walk func(n *Node, last Axis, depth int)
		walk = func(n *Node, last Axis, depth int) {
			if n.Cut == None {
				r.Stages = max(r.Stages, depth)
				if n.Part >= 0 {
					s.Placed = append(s.Placed, Placed{n.Part, n.X, n.Y, n.W, n.H, n.Turned})
				} else if p.keep(n.Rect) {
					s.Offcuts = append(s.Offcuts, n.Rect)
				}
				return
			}
			r.Cuts++
			settings[[2]int64{int64(n.Cut), n.At}] = struct{}{}
			if n.Cut != last {
				depth++
			}
			walk(n.Near, n.Cut, depth)
			if n.Far != nil {
				walk(n.Far, n.Cut, depth)
			}
		}
		walk(s.Root, None, 0)
		slices.SortStableFunc(s.Offcuts, func(a, b Rect) int {
			return cmp.Or(cmp.Compare(p.sizeOf(b), p.sizeOf(a)), cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
		})
		for _, o := range s.Offcuts {
			if !p.flawed(st, o) {
				r.Offcut.Value = max(r.Offcut.Value, p.sizeOf(o))
			}
		}
		r.Cost.Value += st.Price
		r.Used.Value++
		if !st.OnHand {
			r.Bought.Value++
		}
	}
	r.Settings.Value = int64(len(settings))
	return r
}

// keep says whether an offcut is worth keeping.
func (p *Problem) keep(o Rect) bool {
	return o.W >= p.KeepX && (p.flat() || o.H >= p.KeepY)
}

// sizeOf is the area of an offcut, or its length where parts have lengths only.
func (p *Problem) sizeOf(o Rect) int64 {
	if p.flat() {
		return o.W
	}
	return o.W * o.H
}

// flawed says whether a defect of the sheet lies in the rectangle.
func (p *Problem) flawed(s *Stock, o Rect) bool {
	for _, d := range s.Defects {
		if o.X < d.X+d.W && d.X < o.X+o.W && (p.flat() || o.Y < d.Y+d.H && d.Y < o.Y+o.H) {
			return true
		}
	}
	return false
}
