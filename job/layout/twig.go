package layout

import "slices"

// The two branches of a node: two lengths joined, or kept apart.

// join makes one of each of two lengths into a longer one.
func (n *twig) join(i, j int) *twig {
	if i == j || n.d[i] > 1 || n.d[j] > 1 {
		return n.rejoin(i, j)
	}
	k := len(n.w)
	c := n.child()
	of := append(slices.Clone(n.of[i]), n.of[j]...)
	slices.Sort(of)
	c.w, c.d, c.of = append(c.w, n.w[i]+n.w[j]), append(c.d, 1), append(c.of, of)
	c.d[i], c.d[j] = 0, 0
	c.rows = append(c.rows, append(slices.Clone(n.rows[i]), n.rows[j]...))
	if n.clash != nil {
		for x := range k {
			if n.apart(x, i) || n.apart(x, j) {
				c.forbid(x, k)
			}
		}
	}
	ii, jj, kk := int32(i), int32(j), int32(k)
	c.kill(func(x *filling) bool { return (x.has(ii) > 0) != (x.has(jj) > 0) })
	for p := range c.pool {
		x := &c.pool[p]
		if c.lp.cols[p].dead || x.has(ii) == 0 {
			continue
		}
		y := filling{value: x.value}
		for l, row := range x.rows {
			if row != ii && row != jj {
				y.rows, y.n = append(y.rows, row), append(y.n, x.n[l])
			}
		}
		y.rows, y.n = append(y.rows, kk), append(y.n, 1)
		*x = y
	}
	c.kill(func(x *filling) bool {
		for _, row := range x.rows {
			if c.apart(k, int(row)) && row != kk && x.has(kk) > 0 {
				return true
			}
		}
		return false
	})
	return c
}

// child copies a node, with room for one more length.
func (n *twig) child() *twig {
	c := &twig{w: slices.Clone(n.w), d: slices.Clone(n.d), of: slices.Clone(n.of), rows: slices.Clone(n.rows),
		lp: n.lp.clone(), pool: slices.Clone(n.pool), cuts: slices.Clone(n.cuts)}
	m := len(n.w) + 1
	words := (m + 63) / 64
	cells := make([]uint64, words*m)
	for x := range m {
		row := cells[x*words : (x+1)*words]
		if n.clash != nil && x < len(n.clash) {
			copy(row, n.clash[x])
		}
		c.clash = append(c.clash, row)
	}
	return c
}

func (n *twig) apart(i, j int) bool {
	return n.clash != nil && j/64 < len(n.clash[i]) && n.clash[i][j/64]>>(j%64)&1 == 1
}

func (n *twig) forbid(i, j int) {
	n.clash[i][j/64] |= 1 << (j % 64)
	n.clash[j][i/64] |= 1 << (i % 64)
}

// rejoin is join where copies are left: the relaxation is made afresh, and
// lengths without copies leave.
func (n *twig) rejoin(i, j int) *twig {
	m := len(n.w)
	// The lengths that go on: those with copies left, and the joined one.
	d := slices.Clone(n.d)
	d[i]--
	d[j]--
	of := append(slices.Clone(n.of[i]), n.of[j]...)
	slices.Sort(of)
	w := n.w[i] + n.w[j]
	c := &twig{cuts: n.tight()}
	to := make([]int32, m)
	joined := int32(-1)
	put := func() {
		joined = int32(len(c.w))
		c.w, c.d, c.of = append(c.w, w), append(c.d, 1), append(c.of, of)
	}
	var from []int // old index of each, -1 for the joined one
	for k := range m {
		if d[k] == 0 {
			to[k] = -1
			continue
		}
		to[k] = int32(len(c.w))
		c.w, c.d, c.of = append(c.w, n.w[k]), append(c.d, d[k]), append(c.of, n.of[k])
		from = append(from, k)
	}
	if joined < 0 {
		put()
		from = append(from, -1)
	}
	if n.clash != nil {
		words := (len(c.w) + 63) / 64
		cells := make([]uint64, words*len(c.w))
		get := func(a, b int) bool {
			one := n.apart
			switch {
			case a < 0 && b < 0:
				return false
			case a < 0:
				return one(i, b) || one(j, b)
			case b < 0:
				return one(i, a) || one(j, a)
			}
			return one(a, b)
		}
		for x := range c.w {
			row := cells[x*words : (x+1)*words]
			for y := range c.w {
				if get(from[x], from[y]) {
					row[y/64] |= 1 << (y % 64)
				}
			}
			c.clash = append(c.clash, row)
		}
	}
	for k := range n.pool {
		x := &n.pool[k]
		if len(x.rows) == 0 || n.lp.cols[k].dead {
			continue
		}
		a, b := x.has(int32(i)), x.has(int32(j))
		both := a > 0 && b > 0 && (i != j || a > 1)
		if both {
			y := filling{}
			y.rows, y.n = append(y.rows, joined), append(y.n, 1)
			ok := true
			for l, row := range x.rows {
				cnt := x.n[l]
				if int(row) == i {
					cnt--
				}
				if int(row) == j {
					cnt--
				}
				if cnt == 0 {
					continue
				}
				if to[row] < 0 || int(cnt) > c.d[to[row]] || c.clash != nil && c.clash[joined][to[row]/64]>>(to[row]%64)&1 == 1 {
					ok = false
					break
				}
				y.rows, y.n = append(y.rows, to[row]), append(y.n, cnt)
			}
			if ok {
				y.sort()
				c.pool = append(c.pool, y)
			}
		}
		y := filling{}
		for l, row := range x.rows {
			if t := to[row]; t >= 0 {
				y.rows, y.n = append(y.rows, t), append(y.n, min(x.n[l], int32(c.d[t])))
			}
		}
		if !both && len(y.rows) == len(x.rows) {
			c.pool = append(c.pool, y)
		}
	}
	return c
}

// part forbids that two lengths meet.
func (n *twig) part(i, j int) *twig {
	c := n.child()
	c.forbid(i, j)
	ii, jj := int32(i), int32(j)
	c.kill(func(x *filling) bool { return x.has(ii) > 0 && x.has(jj) > 0 && (i != j || x.has(ii) > 1) })
	return c
}
