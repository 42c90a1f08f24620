package drawing

import (
	"fmt"
	"regexp"
	"strconv"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"caul/job"
	"caul/job/measure"
)

var (
	middleText = regexp.MustCompile(`<text x="([-\d.]+)" y="([-\d.]+)" text-anchor="middle">([^<]*)</text>`)
	dimLine    = regexp.MustCompile(`<line class="dim" x1="([-\d.]+)" y1="([-\d.]+)" x2="([-\d.]+)" y2="([-\d.]+)"/>`)
	leaderPath = regexp.MustCompile(`<path class="dim" d="M[-\d.]+ [-\d.]+L([-\d.]+) ([-\d.]+)V([-\d.]+)"/>`)
)

func f64(t require.TestingT, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// clear looks for a dimension's text that another text or a plumb line runs
// through. A figure is about 5.2 units wide at this size and 8 high.
func clear(t require.TestingT, svg string) {
	type box struct {
		l, r, top, bottom float64
		text              string
	}
	var boxes []box
	for _, m := range middleText.FindAllStringSubmatch(svg, -1) {
		w := 5.2 * float64(utf8.RuneCountInString(m[3]))
		x, y := f64(t, m[1]), f64(t, m[2])
		boxes = append(boxes, box{x - w/2, x + w/2, y - 8, y, m[3]})
	}
	for i, a := range boxes {
		for _, b := range boxes[:i] {
			if a.l < b.r && b.l < a.r && a.top < b.bottom && b.top < a.bottom {
				require.Fail(t, fmt.Sprintf("%q and %q overlap", a.text, b.text))
			}
		}
	}
	plumb := func(x, y1, y2 float64) {
		for _, b := range boxes {
			if x > b.l+1 && x < b.r-1 && min(y1, y2) < b.bottom-1 && max(y1, y2) > b.top+1 {
				require.Fail(t, fmt.Sprintf("a line at %g from %g to %g runs through %q at %g to %g, %g to %g", x, y1, y2, b.text, b.l, b.r, b.top, b.bottom))
			}
		}
	}
	for _, m := range dimLine.FindAllStringSubmatch(svg, -1) {
		if m[1] == m[3] {
			plumb(f64(t, m[1]), f64(t, m[2]), f64(t, m[4]))
		}
	}
	for _, m := range leaderPath.FindAllStringSubmatch(svg, -1) {
		plumb(f64(t, m[1]), f64(t, m[2]), f64(t, m[3]))
	}
}

// No dimension of the demo's parts runs into another, in one unit or in both.
func TestDimensionsStandClear(t *testing.T) {
	s := demoShop(t)
	for _, j := range s.Jobs {
		for i := range j.Parts {
			for _, both := range []bool{false, true} {
				clear(t, string(Part(s, j, &j.Parts[i], Options{Units: s.Units.Length, Both: both})))
			}
		}
	}
}

// Nor do those of a row of holes wherever they are.
func TestRandomDimensionsStandClear(t *testing.T) {
	s := demoShop(t)
	rapid.Check(t, func(r *rapid.T) {
		p := &job.Part{ID: "a", Qty: 1}
		for k, l := range []int{rapid.IntRange(4, 60).Draw(r, "long"), rapid.IntRange(2, 24).Draw(r, "wide"), 1} {
			p.Size[k] = job.Dim{Length: measure.Length(l) * measure.Inch, Set: true}
		}
		f := job.Feature{Kind: "hole", Through: true, Diameter: job.Dim{Length: measure.Inch / 4, Set: true}}
		for n := rapid.IntRange(1, 8).Draw(r, "holes"); n > 0; n-- {
			at := rapid.Int64Range(1, 63).Draw(r, "at")
			f.Points = append(f.Points, job.Point{
				X: job.Dim{Length: p.Size[0].Length * measure.Length(at) / 64, Set: true},
				Y: job.Dim{Length: p.Size[1].Length / 2, Set: true},
			})
		}
		p.Machining = []job.Feature{f}
		clear(r, string(Part(s, s.Jobs[0], p, Options{Units: s.Units.Length, Both: rapid.Bool().Draw(r, "both")})))
	})
}
