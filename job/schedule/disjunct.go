package schedule

import "fmt"

// Edge-finding for the activities of one capacity-one resource that keep the
// same hours (Vilim, Bartak, Cepek 2004). Everything is counted in open ticks:
// whether the work pauses over closed hours or not, it takes exactly its work
// of them, and a set-up change before it takes its own.

type disjunct struct {
	open   *openTime
	acts   []int32
	change []int32 // variable for the change time, or -1
	queued bool
	res    int
	// scratch: in open ticks, for the direction under way
	est, lct, p  []int64
	byEst, byLct [2][]int32
	leaf         []int32
	tree         []tlNode
	size         int
}

// tlNode is a node of a theta-lambda tree: the sum of lengths and the earliest
// completion of the white activities below it, and the same with one grey one.
type tlNode struct {
	sum, ect   int64
	gsum, gect int64
	gsumBy     int32
	gectBy     int32
}

const emptyEct = -inf

func (e *engine) addDisjunct(res int, open *openTime, acts, change []int32) {
	n := len(acts)
	d := disjunct{res: res, open: open, acts: acts, change: change,
		est: make([]int64, n), lct: make([]int64, n), p: make([]int64, n), leaf: make([]int32, n)}
	for dir := range d.byEst {
		for i := 0; i < n; i++ {
			d.byEst[dir] = append(d.byEst[dir], int32(i))
			d.byLct[dir] = append(d.byLct[dir], int32(i))
		}
	}
	for d.size = 1; d.size < n; d.size *= 2 {
	}
	d.tree = make([]tlNode, 2*d.size)
	k := int32(len(e.disj))
	for i, a := range acts {
		e.disjOf[a] = append(e.disjOf[a], k)
		if c := change[i]; c >= 0 {
			e.disjOf[c] = append(e.disjOf[c], k)
		}
	}
	e.disj = append(e.disj, d)
	e.wakeDisjunct(k)
}

func (e *engine) wakeDisjunct(k int32) {
	if d := &e.disj[k]; !d.queued {
		d.queued = true
		e.disjQ = append(e.disjQ, k)
	}
}

// changeAt is the least change time of place i before trail index k.
func (e *engine) changeAt(d *disjunct, i int, k int32) int64 {
	if c := d.change[i]; c >= 0 {
		return e.at(2*c, k)
	}
	return 0
}

// window gives earliest beginning, latest end and length of place i before
// trail index k, mirrored in time for direction 1.
func (e *engine) window(d *disjunct, i, dir int, k int32) (est, lct, p int64) {
	a := d.acts[i]
	c := e.changeAt(d, i, k)
	est = d.open.count(e.at(2*a, k)) - c
	lct = d.open.count(e.end(a, -e.at(2*a+1, k)))
	p = e.m.tm[a].work + c
	if dir == 1 {
		est, lct = -lct, -est
	}
	return est, lct, p
}

func (d *disjunct) fix(node int) {
	t, l, r := &d.tree[node], &d.tree[2*node], &d.tree[2*node+1]
	t.sum = l.sum + r.sum
	t.ect = max(r.ect, l.ect+r.sum)
	if t.gsum, t.gsumBy = l.sum+r.gsum, r.gsumBy; r.gsumBy < 0 || (l.gsumBy >= 0 && l.gsum+r.sum > t.gsum) {
		t.gsum, t.gsumBy = l.gsum+r.sum, l.gsumBy
	}
	t.gect, t.gectBy = r.gect, r.gectBy
	if l.gectBy >= 0 && l.gect+r.sum > t.gect {
		t.gect, t.gectBy = l.gect+r.sum, l.gectBy
	}
	if r.gsumBy >= 0 && l.ect+r.gsum > t.gect {
		t.gect, t.gectBy = l.ect+r.gsum, r.gsumBy
	}
}

func (d *disjunct) put(i int32, white, grey bool) {
	node := d.size + int(d.leaf[i])
	t := &d.tree[node]
	*t = tlNode{ect: emptyEct, gect: emptyEct, gsumBy: -1, gectBy: -1}
	if white {
		t.sum, t.ect = d.p[i], d.est[i]+d.p[i]
		t.gsum, t.gect = t.sum, t.ect
	}
	if grey {
		t.gsum, t.gect, t.gsumBy, t.gectBy = d.p[i], d.est[i]+d.p[i], i, i
	}
	for node /= 2; node >= 1; node /= 2 {
		d.fix(node)
	}
}

func (e *engine) runDisjunct(k int32) bool {
	d := &e.disj[k]
	n := len(d.acts)
	e.work += int64(n) / 2
	for dir := 0; dir < 2; dir++ {
		for i := range d.acts {
			a := d.acts[i]
			c := int64(0)
			if v := d.change[i]; v >= 0 {
				c = e.lb[2*v]
			}
			d.est[i] = d.open.count(e.lb[2*a]) - c
			d.lct[i] = d.open.count(e.end(a, -e.lb[2*a+1]))
			d.p[i] = e.m.tm[a].work + c
			if dir == 1 {
				d.est[i], d.lct[i] = -d.lct[i], -d.est[i]
			}
		}
		byEst, byLct := d.byEst[dir], d.byLct[dir]
		insertion(byEst, d.est)
		insertion(byLct, d.lct)
		for pos, i := range byEst {
			d.leaf[i] = int32(pos)
			d.tree[d.size+pos] = tlNode{sum: d.p[i], ect: d.est[i] + d.p[i], gsum: d.p[i], gect: d.est[i] + d.p[i], gsumBy: -1, gectBy: -1}
		}
		for pos := n; pos < d.size; pos++ {
			d.tree[d.size+pos] = tlNode{ect: emptyEct, gect: emptyEct, gsumBy: -1, gectBy: -1}
		}
		for node := d.size - 1; node >= 1; node-- {
			d.fix(node)
		}
		for q := n - 1; q >= 0; q-- {
			j := byLct[q]
			if d.tree[1].ect > d.lct[j] {
				e.confl = e.explainOverload(d, dir, d.lct[j], e.confl[:0])
				if e.proof != nil {
					e.proof.clash(fmt.Sprintf("edge %d %d", d.res, dir), e.confl, int32(len(e.trail)))
				}
				return false
			}
			if q == 0 {
				break
			}
			d.put(j, false, true)
			lct := d.lct[byLct[q-1]]
			for d.tree[1].gectBy >= 0 && d.tree[1].gect > lct {
				i := d.tree[1].gectBy
				if y := d.tree[1].ect; y > d.est[i] {
					a := d.acts[i]
					if dir == 0 {
						t := d.open.first(y + d.p[i] - e.m.tm[a].work)
						if t > e.lb[2*a] && !e.raise(2*a, t, byEdge, int16(k), i, lct, 0) {
							return false
						}
					} else if t := d.open.last(-y); t < e.end(a, -e.lb[2*a+1]) {
						if !e.raise(2*a+1, -e.endBy(a, t), byEdge, int16(k), i, lct, 1) {
							return false
						}
					}
				}
				d.put(i, false, false)
			}
		}
	}
	return true
}

// begins and ends give the atoms for "place i begins at y or later" and "ends
// at y or earlier", in the direction given, with the change time c.
func (e *engine) begins(d *disjunct, i, dir int, y, c int64, out []atom) []atom {
	a := d.acts[i]
	if dir == 1 {
		return append(out, atom{2*a + 1, -e.endBy(a, d.open.last(-y))})
	}
	if v := d.change[i]; v >= 0 && c > e.lb0(2*v) {
		out = append(out, atom{2 * v, c})
	}
	return append(out, atom{2 * a, e.next(a, d.open.first(y+c))})
}

func (e *engine) ends(d *disjunct, i, dir int, y, c int64, out []atom) []atom {
	if dir == 1 {
		return e.begins(d, i, 0, -y, c, out)
	}
	return e.begins(d, i, 1, -y, c, out)
}

// changed lists the change time of place i where the length counts it.
func (e *engine) changed(d *disjunct, i int, c int64, out []atom) []atom {
	if v := d.change[i]; v >= 0 && c > e.lb0(2*v) {
		out = append(out, atom{2 * v, c})
	}
	return out
}

// explainOverload explains why the activities that end by lct cannot.
func (e *engine) explainOverload(d *disjunct, dir int, lct int64, out []atom) []atom {
	k := int32(len(e.trail))
	in, est, cs, ps := e.inside(d, dir, lct, -1, k)
	best, sum := int64(0), int64(0)
	in = e.fallingEst(in, est)
	for n, i := range in {
		sum += ps[i]
		if est[i]+sum > lct {
			best, in = est[i], in[:n+1]
			break
		}
	}
	slack := best + sum - lct - 1
	up := slack / 2
	for _, i := range in {
		out = e.begins(d, i, dir, best-(slack-up), cs[i], out)
		out = e.ends(d, i, dir, lct+up, cs[i], out)
		out = e.changed(d, i, cs[i], out)
	}
	return out
}

// inside lists the places that surely end by lct before trail index k, except
// one, with their earliest beginning, change time and length.
func (e *engine) inside(d *disjunct, dir int, lct int64, except int32, k int32) (in []int, est, cs, ps []int64) {
	n := len(d.acts)
	est, cs, ps = make([]int64, n), make([]int64, n), make([]int64, n)
	for i := range d.acts {
		s, l, p := e.window(d, i, dir, k)
		est[i], ps[i], cs[i] = s, p, p-e.m.tm[d.acts[i]].work
		if l <= lct && int32(i) != except {
			in = append(in, i)
		}
	}
	return in, est, cs, ps
}

// fallingEst sorts places by falling earliest beginning.
func (e *engine) fallingEst(in []int, est []int64) []int {
	for a := 1; a < len(in); a++ {
		v := in[a]
		b := a
		for b > 0 && est[in[b-1]] < est[v] {
			in[b] = in[b-1]
			b--
		}
		in[b] = v
	}
	return in
}

// explainEdge explains a push by edge-finding: with place i the others inside
// could not end by lct, so i comes after all of them.
func (e *engine) explainEdge(k int32, v int64, out []atom) []atom {
	t := &e.trail[k]
	d := &e.disj[t.table]
	dir, i := int(t.r2), int(t.rx)
	a := d.acts[i]
	lct := t.r1
	in, est, cs, ps := e.inside(d, dir, lct, t.rx, k)
	// the completion that the push needs
	var y int64
	if dir == 0 {
		w := e.prev(a, v-1)
		y = d.open.count(w) + 1 - cs[i]
	} else {
		z := e.next(a, -v+1)
		if z >= inf {
			z = -v + 1
		}
		y = 1 - d.open.count(e.end(a, z))
	}
	sum := int64(0)
	e1, sum1, e2, sum2 := -inf, int64(0), -inf, int64(0)
	for _, j := range e.fallingEst(in, est) {
		sum += ps[j]
		from := min(est[j], est[i])
		if e1 == -inf && from+sum+ps[i] > lct {
			e1, sum1 = from, sum
		}
		if e2 == -inf && est[j]+sum >= y {
			e2, sum2 = est[j], sum
		}
	}
	slack := e1 + sum1 + ps[i] - lct - 1
	up := slack / 2
	out = e.changed(d, i, cs[i], out)
	out = e.begins(d, i, dir, e1-(slack-up), cs[i], out)
	set1, set2 := int64(0), int64(0)
	for _, j := range in {
		one, two := set1 < sum1, set2 < sum2
		if !one && !two {
			break
		}
		from := inf
		if one {
			set1 += ps[j]
			from = e1 - (slack - up)
		}
		if two {
			set2 += ps[j]
			from2 := y - sum2
			if from == inf || from2 > from {
				from = from2
			}
		}
		out = e.begins(d, j, dir, from, cs[j], out)
		out = e.ends(d, j, dir, lct+up, cs[j], out)
		out = e.changed(d, j, cs[j], out)
	}
	return out
}
