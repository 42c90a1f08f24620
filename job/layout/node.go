package layout

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
