package proof

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"caul/job/measure"
)

// block is a part made of cubes of a sixteenth of an inch, an independent model
// of the wood: it knows only which cubes are still there.
type block struct {
	x, y, z int
	gone    []bool
	outside bool // a cut reached past the part
}

func newBlock(x, y, z int) *block { return &block{x, y, z, make([]bool, x*y*z), false} }

func (b *block) at(x, y, z int) int { return (z*b.y+y)*b.x + x }

// cut is what a random feature says, in sixteenths: a box or a bore from the
// face or the back.
type cut struct {
	kind           string
	x0, x1, y0, y1 int // box in plan; a bore's box
	depth          int
	back, through  bool
}

// inPlan tells whether the middle of a cube lies in the cut; quarters of a
// sixteenth keep the bore's circle whole.
func (c cut) inPlan(x, y int) bool {
	if x < c.x0 || x >= c.x1 || y < c.y0 || y >= c.y1 {
		return false
	}
	if c.kind != "hole" {
		return true
	}
	dx, dy, d := 2*x+1-c.x0-c.x1, 2*y+1-c.y0-c.y1, c.x1-c.x0
	return dx*dx+dy*dy < d*d
}

func (b *block) take(c cut) {
	if c.x0 < 0 || c.y0 < 0 || c.x1 > b.x || c.y1 > b.y {
		b.outside = true
	}
	depth := min(c.depth, b.z)
	if c.through {
		depth = b.z
	}
	for x := max(c.x0, 0); x < min(c.x1, b.x); x++ {
		for y := max(c.y0, 0); y < min(c.y1, b.y); y++ {
			if !c.inPlan(x, y) {
				continue
			}
			for k := range depth {
				z := b.z - 1 - k
				if c.back {
					z = k
				}
				b.gone[b.at(x, y, z)] = true
			}
		}
	}
}

// thinnest is the least wood left in any column that a blind cut has been in,
// leaving out columns that a cut goes right through on purpose.
func (b *block) thinnest(cuts []cut, of func(c cut) bool) int {
	least := b.z
	for x := range b.x {
		for y := range b.y {
			in, through := false, false
			for _, c := range cuts {
				if c.inPlan(x, y) {
					in = in || of(c)
					through = through || c.through
				}
			}
			if !in || through {
				continue
			}
			left := 0
			for z := range b.z {
				if !b.gone[b.at(x, y, z)] {
					left++
				}
			}
			least = min(least, left)
		}
	}
	return least
}

// Any part that the proof passes, cut out of a block of cubes, loses nothing
// outside itself and keeps the web behind every cut; any that it stops or
// looks at for these reasons does not.
func TestCutsAgainstBlock(t *testing.T) {
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		const X, Y, Z = 128, 96, 12 // 8 x 6 x 3/4 in
		n := rapid.IntRange(1, 4).Draw(t, "cuts")
		var cuts []cut
		var lines []string
		for range n {
			c, line := drawCut(t, X, Y, Z)
			cuts, lines = append(cuts, c), append(lines, "      - "+line)
		}
		s := shopWith(t, "name: x\nparts:\n  - id: a\n    qty: 1\n    size: 8 x 6 x 3/4\n    from: ply\n    machining:\n"+strings.Join(lines, "\n")+"\n")
		b := newBlock(X, Y, Z)
		for _, c := range cuts {
			b.take(c)
		}
		p := Check(s, Options{Now: now})
		said := map[string]bool{}
		for _, f := range p.Findings {
			said[f.Check] = true
			seen[f.Check]++
		}
		require.Equal(t, b.outside, said["leaves-part"], "outside the part\n%s", strings.Join(lines, "\n"))
		groove := func(c cut) bool { return c.kind != "hole" && !c.through }
		bore := func(c cut) bool { return c.kind == "hole" && !c.through }
		// A third of 3/4 in is 4 cubes behind a groove, 1/8 in 2 behind a bore.
		enough := b.thinnest(cuts, groove) >= 4 && b.thinnest(cuts, bore) >= 2
		stopped := said["breaks-through"] || said["thin-web"] || said["opposite-cuts"]
		if b.outside {
			return // what hangs over the edge has no column to look at
		}
		require.Equal(t, !enough, stopped, "webs: %d under grooves, %d under bores\n%s\n%s",
			b.thinnest(cuts, groove), b.thinnest(cuts, bore), strings.Join(lines, "\n"), Text(p, 200))
	})
	for _, id := range []string{"leaves-part", "breaks-through", "thin-web", "opposite-cuts"} {
		require.NotZero(t, seen[id], "no random part was stopped for %s", id)
	}
}

// drawCut makes a random cut and its line of job.yaml. Through cuts are bores
// only, so that a column they empty is theirs alone.
func drawCut(t *rapid.T, X, Y, Z int) (cut, string) {
	c := cut{kind: rapid.SampledFrom([]string{"groove", "dado", "hole"}).Draw(t, "kind"),
		back: rapid.Bool().Draw(t, "back"), depth: rapid.IntRange(1, Z+1).Draw(t, "depth")}
	w := 2 * rapid.IntRange(2, 8).Draw(t, "half width")
	on := "face"
	if c.back {
		on = "back"
	}
	in := func(n int) string {
		return measure.Exact(measure.Length(n)*measure.Inch/16, measure.Units{System: measure.Inches, Mark: 64})
	}
	switch c.kind {
	case "groove":
		mid := rapid.IntRange(4, Y-4).Draw(t, "at")
		c.x0, c.x1, c.y0, c.y1 = 0, X, mid-w/2, mid+w/2
		return c, fmt.Sprintf("groove: {width: %s, depth: %s, at: %s from near-edge, on: %s}", in(w), in(c.depth), in(mid), on)
	case "dado":
		mid := rapid.IntRange(4, X-4).Draw(t, "at")
		c.x0, c.x1, c.y0, c.y1 = mid-w/2, mid+w/2, 0, Y
		return c, fmt.Sprintf("dado: {width: %s, depth: %s, at: %s from left-end, on: %s}", in(w), in(c.depth), in(mid), on)
	}
	c.through = rapid.IntRange(0, 3).Draw(t, "through") == 0
	cx, cy := rapid.IntRange(4, X-4).Draw(t, "x"), rapid.IntRange(4, Y-4).Draw(t, "y")
	c.x0, c.x1, c.y0, c.y1 = cx-w/2, cx+w/2, cy-w/2, cy+w/2
	if c.through {
		return c, fmt.Sprintf("holes: {through: %s, at: [%s, %s], on: %s}", in(w), in(cx), in(cy), on)
	}
	return c, fmt.Sprintf("holes: {diameter: %s, depth: %s, at: [%s, %s], on: %s}", in(w), in(c.depth), in(cx), in(cy), on)
}
