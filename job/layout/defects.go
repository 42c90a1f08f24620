package layout

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
)

// A sheet with defects is first cut around them: straight cuts along the edges
// of the defects leave clean regions, each laid out like a sheet of its own.
// There are many ways to do so; the search is given a few dozen.

// variant is one way to cut a sheet into clean regions.
type variant struct {
	root    *Node // leaves are regions or waste
	regions []region
	depth   int // directions cut, waste included
}

// region is a clean rectangle of a sheet.
type region struct {
	leaf   int   // number of the leaf in the order near to far
	w, h   int64 // with kerf
	depth  int   // directions cut so far
	last   Axis
	corner [2]int64
}

const maxVariants = 24

// decompose lists ways to cut the usable rectangle around the defects.
func (in *inst) decompose(s *Stock, use Rect) []variant {
	p := in.p
	rng := rand.New(rand.NewPCG(1, 2))
	seen := map[string]bool{}
	var vs []variant
	tries := 4 * maxVariants
	if !p.flawed(s, use) || in.flat {
		tries = 1
	}
	for try := range tries {
		root := &Node{Rect: use, Part: -1}
		c := cutter{in: in, s: s, rng: rng, way: try}
		c.split(root)
		v := variant{root: root}
		leaf := 0
		text := ""
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
			if !p.flawed(s, n.Rect) {
				r := region{leaf, n.W + p.Kerf, n.H + p.Kerf, depth, last, [2]int64{n.X, n.Y}}
				if in.flat {
					r.h = 1
				}
				v.regions = append(v.regions, r)
				text += fmt.Sprint(n.Rect)
			}
			v.depth = max(v.depth, depth)
			leaf++
		}
		walk(root, None, 0)
		if p.MaxStages > 0 && v.depth > p.MaxStages {
			continue
		}
		if len(v.regions) > 0 && !seen[text] {
			seen[text] = true
			if vs = append(vs, v); len(vs) == maxVariants {
				break
			}
		}
	}
	// Those with large regions first.
	large := func(v variant) (sum float64) {
		for _, r := range v.regions {
			sum += sq(r.w, r.h)
		}
		return sum
	}
	slices.SortStableFunc(vs, func(a, b variant) int { return cmp.Compare(large(b), large(a)) })
	if len(vs) == 0 { // all of it is flawed: one sheet without a region
		vs = append(vs, variant{root: &Node{Rect: use, Part: -1}})
	}
	return vs
}

type cutter struct {
	in  *inst
	s   *Stock
	rng *rand.Rand
	way int
}

// split cuts a piece along edges of its defects until its pieces are clean or
// of no use.
func (c *cutter) split(n *Node) {
	type option struct {
		a  Axis
		at int64
		hi bool // beyond the defect
	}
	var opts []option
	k := c.in.p.Kerf
	for _, d := range c.s.Defects {
		if !(n.X < d.X+d.W && d.X < n.X+n.W && (c.in.flat || n.Y < d.Y+d.H && d.Y < n.Y+n.H)) {
			continue
		}
		add := func(a Axis, lo, hi, size int64) {
			if lo > 0 {
				opts = append(opts, option{a, lo, false})
			}
			// The kerf lies in the defect where it can, so that what is beyond starts at its edge.
			if at := max(hi-k, 1); hi < size {
				opts = append(opts, option{a, at, true})
			}
		}
		add(AlongX, d.X-n.X, d.X+d.W-n.X, n.W)
		if !c.in.flat {
			add(AlongY, d.Y-n.Y, d.Y+d.H-n.Y, n.H)
		}
	}
	if len(opts) == 0 {
		return
	}
	// Beyond the defect first, then before it: so a defect no wider than the kerf
	// costs no more than the kerf.
	o := opts[max(slices.IndexFunc(opts, func(o option) bool { return o.hi }), 0)]
	if c.way > 0 {
		o = opts[c.rng.IntN(len(opts))]
	}
	n.cutAt(o.a, o.at, k)
	c.split(n.Near)
	if n.Far != nil {
		c.split(n.Far)
	}
}
