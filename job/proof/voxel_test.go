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

// enough tells whether every column that a blind cut has been in keeps the web
// of the cut that made its floor: a third of the thickness under a groove,
// an eighth of an inch behind a bore. Columns that a cut goes right through on
// purpose are left out.
func (b *block) enough(cuts []cut) bool {
	for x := range b.x {
		for y := range b.y {
			var floor [2]int // deepest from the face and from the back
			through := false
			for _, c := range cuts {
				if c.inPlan(x, y) {
					through = through || c.through
					floor[c.side()] = max(floor[c.side()], c.depth)
				}
			}
			if through {
				continue
			}
			want := 0
			for _, c := range cuts {
				if c.inPlan(x, y) && c.depth == floor[c.side()] {
					want = max(want, c.web())
				}
			}
			left := 0
			for z := range b.z {
				if !b.gone[b.at(x, y, z)] {
					left++
				}
			}
			if left < want {
				return false
			}
		}
	}
	return true
}

func (c cut) side() int {
	if c.back {
		return 1
	}
	return 0
}

// web is the least wood behind the cut in 3/4 in of it, in sixteenths.
func (c cut) web() int {
	if c.kind == "hole" {
		return 2
	}
	return 4
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
		stopped := said["breaks-through"] || said["thin-web"] || said["opposite-cuts"]
		if b.outside {
			return // what hangs over the edge has no column to look at
		}
		if !b.enough(cuts) {
			require.True(t, stopped, "too little wood is left and nothing is said\n%s\n%s", strings.Join(lines, "\n"), Text(p, 200))
		} else if plain(cuts) {
			require.False(t, stopped, "enough wood is left\n%s\n%s", strings.Join(lines, "\n"), Text(p, 200))
		}
	})
	for _, id := range []string{"leaves-part", "breaks-through", "thin-web", "opposite-cuts"} {
		require.NotZero(t, seen[id], "no random part was stopped for %s", id)
	}
}

// plain tells parts of one or two blind cuts. With more, a third cut may take
// away the very wood that two others leave thin, and the proof, which looks at
// cuts two by two, still says so.
func plain(cuts []cut) bool {
	for _, c := range cuts {
		if c.through {
			return false
		}
	}
	return len(cuts) <= 2
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
