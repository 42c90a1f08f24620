package layout

import (
	"cmp"
	"slices"
)

// cut says of three different lengths of which one each is wanted: no more
// than one bar holds two or three of them (M. Jepsen, B. Petersen, S.
// Spoorendonk, D. Pisinger, "Subset-row inequalities applied to the vehicle
// routing problem with time windows", Operations Research 56 (2008)).
type cut struct {
	of  [3]int32 // lengths of the problem, in order
	row int32
}

func (c *cut) has(of []int32) (n int32) {
	for _, o := range of {
		if o == c.of[0] || o == c.of[1] || o == c.of[2] {
			n++
		}
	}
	return n
}

// counts says whether the cut counts a pattern.
func (c *cut) counts(n *twig, x *filling) bool {
	k := int32(0)
	for l, t := range x.rows {
		k += x.n[l] * c.has(n.of[t])
	}
	return k >= 2
}

const (
	cutsAtOnce = 10
	cutsAtMost = 80
)

// cut adds the cuts that an answer breaks most.
func (g *pairs) cut(n *twig, ss []share) bool {
	if len(n.cuts) >= cutsAtMost {
		return false
	}
	// Which lengths meet, and how often.
	type pair [2]int32
	meet := map[pair]float64{}
	near := make([][]int32, len(g.r.d))
	var all [][]int32
	var keys []pair
	for _, s := range ss {
		var of []int32
		for k, t := range s.x.rows {
			for _, o := range n.of[t] {
				if g.r.d[o] == 1 && s.x.n[k] == 1 {
					of = append(of, o)
				}
			}
		}
		slices.Sort(of)
		all = append(all, of)
		for k, i := range of {
			for _, j := range of[k+1:] {
				p := pair{i, j}
				if _, ok := meet[p]; !ok {
					near[i], near[j] = append(near[i], j), append(near[j], i)
					keys = append(keys, p)
				}
				meet[p] += s.v
			}
		}
	}
	type broken struct {
		of [3]int32
		by float64
	}
	var found []broken
	seen := map[[3]int32]bool{}
	for k := range n.cuts {
		seen[n.cuts[k].of] = true
	}
	at := func(i, j int32) float64 { return meet[pair{min(i, j), max(i, j)}] }
	for _, p := range keys {
		i, j := p[0], p[1]
		for _, k := range near[i] {
			if k == j {
				continue
			}
			by := at(i, j) + at(i, k) + at(j, k)
			if by < 1.02 {
				continue
			}
			t := [3]int32{i, j, k}
			slices.Sort(t[:])
			if seen[t] {
				continue
			}
			seen[t] = true
			for l, of := range all {
				both := 0
				for _, o := range of {
					if o == i || o == j || o == k {
						both++
					}
				}
				if both == 3 {
					by -= 2 * ss[l].v
				}
			}
			g.r.ops += int64(len(all))
			if by > 1.02 {
				found = append(found, broken{t, by})
			}
		}
	}
	if len(found) == 0 {
		return false
	}
	slices.SortFunc(found, func(a, b broken) int {
		return cmp.Or(cmp.Compare(b.by, a.by), slices.Compare(a.of[:], b.of[:]))
	})
	for _, f := range found[:min(len(found), cutsAtOnce)] {
		n.add(cut{of: f.of})
	}
	return true
}

// add gives a cut its row, and two columns that fill no bar.
func (n *twig) add(c cut) {
	c.row = int32(n.lp.m)
	n.lp.addCut(func(j int) bool { return len(n.pool[j].rows) > 0 && c.counts(n, &n.pool[j]) })
	n.pool = append(n.pool, filling{}, filling{})
	n.cuts = append(n.cuts, c)
}

// tight lists the cuts that weigh in the answer.
func (n *twig) tight() (cs []cut) {
	for _, c := range n.cuts {
		if n.lp.pi[c.row] < -1e-7 {
			cs = append(cs, c)
		}
	}
	return cs
}
