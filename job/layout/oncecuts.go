package layout

import (
	"cmp"
	"slices"
)

// trio says of three different copies, the only ones of their kinds, that no
// more than one sheet holds two or three of them. See cut for the paper; here
// the cuts lift what patterns of single copies say.
type trio struct {
	of  set
	row int32 // of the linear program
}

func (c *trio) counts(s set) bool { return s.and(c.of).count() >= 2 }

const (
	triosAtOnce = 10
	triosAtMost = 80
	trioBroken  = 1.02 // sheets that break a cut by as much are worth it
)

// cut adds the cuts that the answer of the linear program breaks most.
func (p *onceProof) cut() bool {
	if len(p.cuts) >= triosAtMost {
		return false
	}
	e := p.e
	n := len(e.kind)
	meet := make([]float64, n*n)
	near := make([][]int, n)
	type share struct {
		s set
		x float64
	}
	var all []share
	var single set
	for i, k := range e.kind {
		if len(e.in.kinds[k].parts) == 1 {
			single = single.with(i)
		}
	}
	for row, j := range p.lp.basis {
		if s := p.sets[j].and(single); p.lp.x[row] > 1e-6 && s.count() > 1 {
			all = append(all, share{s, p.lp.x[row]})
		}
	}
	for _, a := range all {
		a.s.each(func(i int) {
			a.s.each(func(j int) {
				if i == j {
					return
				}
				if meet[i*n+j] == 0 {
					near[i] = append(near[i], j)
				}
				meet[i*n+j] += a.x
			})
		})
	}
	type broken struct {
		of set
		by float64
	}
	var worst []broken
	seen := map[set]bool{}
	for i := range p.cuts {
		seen[p.cuts[i].of] = true
	}
	for i := range n {
		for _, j := range near[i] {
			for _, k := range near[i] {
				if j >= k {
					continue
				}
				by := meet[i*n+j] + meet[i*n+k] + meet[j*n+k]
				t := set{}.with(i).with(j).with(k)
				if by < trioBroken || seen[t] {
					continue
				}
				seen[t] = true
				for _, a := range all {
					if t.within(a.s) {
						by -= 2 * a.x
					}
				}
				p.steps += int64(len(all))
				if by > trioBroken {
					worst = append(worst, broken{t, by})
				}
			}
		}
	}
	slices.SortFunc(worst, func(a, b broken) int {
		return cmp.Or(cmp.Compare(b.by, a.by), cmp.Compare(a.of[0], b.of[0]), cmp.Compare(a.of[1], b.of[1]))
	})
	for _, w := range worst[:min(len(worst), triosAtOnce)] {
		p.addCut(w.of)
	}
	return len(worst) > 0
}

// addCut gives a cut its row, and two columns that hold no set.
func (p *onceProof) addCut(of set) {
	c := trio{of: of, row: int32(p.lp.m)}
	p.lp.addCut(func(j int) bool { return c.counts(p.sets[j]) })
	p.sets = append(p.sets, set{}, set{})
	p.cuts = append(p.cuts, c)
	of.each(func(i int) { p.meets[i] = append(p.meets[i], int32(len(p.cuts)-1)) })
	p.met, p.penalty, p.trios = append(p.met, 0), append(p.penalty, 0), append(p.trios, of)
}

// meet counts a copy in and gives the penalty it brings.
func (o *once) meet(c int) (loss int64) {
	for _, k := range o.meets[c] {
		if o.met[k]++; o.met[k] == 2 {
			loss += o.penalty[k]
		}
	}
	return loss
}

func (o *once) part(c int) {
	for _, k := range o.meets[c] {
		o.met[k]--
	}
}
