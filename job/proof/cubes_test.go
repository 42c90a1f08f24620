package proof

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"caul/job/measure"
)

// solid is one cut of a random part, in an independent model: which cubes of a
// sixteenth of an inch it takes, asked by the cube's middle in half sixteenths.
type solid struct {
	line  string
	axis  int  // that it goes in along: 0 length, 1 width, 2 thickness
	low   bool // it comes from the low side of that axis
	blind bool
	web   int // least wood behind it, in cubes
	slant bool
	box   [3][2]int // limits in sixteenths, may lie outside the part
	takes func(x, y, z int) bool
}

const cubeX, cubeY, cubeZ = 64, 48, 16 // a part of 4 x 3 x 1 in

var cubeSize = [3]int{cubeX, cubeY, cubeZ}

// sixteenths writes a whole number of sixteenths as a length of job.yaml.
func sixteenths(n int) string {
	return measure.Exact(measure.Length(n)*measure.Inch/16, measure.Units{System: measure.Inches, Mark: 64})
}

// faceOf has, for each face, the axes of its two directions, the axis it goes
// in along and whether it is the low side; written out by hand, not taken from
// the program.
var faceOf = map[string]struct {
	u, v, in int
	low      bool
}{
	"face": {0, 1, 2, false}, "back": {0, 1, 2, true}, "near-edge": {0, 2, 1, true}, "far-edge": {0, 2, 1, false}, "left-end": {1, 2, 0, true}, "right-end": {1, 2, 0, false},
}

func drawSolid(t *rapid.T) solid {
	kind := rapid.SampledFrom([]string{"groove", "dado", "hole", "slot", "rabbet", "edge hole", "counterbore", "taper"}).Draw(t, "kind")
	on := rapid.SampledFrom([]string{"face", "back"}).Draw(t, "on")
	if kind == "edge hole" {
		on = rapid.SampledFrom([]string{"near-edge", "far-edge", "left-end", "right-end"}).Draw(t, "edge")
	}
	f := faceOf[on]
	su, sv, deep := cubeSize[f.u], cubeSize[f.v], cubeSize[f.in]
	s := solid{axis: f.in, low: f.low, blind: true}
	depth := rapid.IntRange(1, deep+3).Draw(t, "depth")
	if rapid.Bool().Draw(t, "shallow") {
		depth = 1 + depth%min(deep*2/3, 12)
	}
	w := 2 * rapid.IntRange(1, 5).Draw(t, "half width")
	cu, cv := rapid.IntRange(1, su-1).Draw(t, "u"), rapid.IntRange(1, sv-1).Draw(t, "v")
	limits := func(u0, u1, v0, v1, depth int) {
		s.box[f.u], s.box[f.v] = [2]int{u0, u1}, [2]int{v0, v1}
		s.box[f.in] = [2]int{deep - depth, deep}
		if f.low {
			s.box[f.in] = [2]int{0, depth}
		}
	}
	inBox := func(q [3]int) bool {
		for k := range q {
			if q[k] < 2*s.box[k][0] || q[k] > 2*s.box[k][1] {
				return false
			}
		}
		return true
	}
	s.takes = func(x, y, z int) bool { return inBox([3]int{x, y, z}) }
	switch kind {
	case "groove":
		limits(0, su, cv-w/2, cv+w/2, depth)
		s.line = fmt.Sprintf("groove: {width: %s, depth: %s, at: %s from near-edge, on: %s}", sixteenths(w), sixteenths(depth), sixteenths(cv), on)
	case "dado":
		limits(cu-w/2, cu+w/2, 0, sv, depth)
		s.line = fmt.Sprintf("dado: {width: %s, depth: %s, at: %s from right-end, on: %s}", sixteenths(w), sixteenths(depth), sixteenths(su-cu), on)
	case "rabbet":
		edge := rapid.SampledFrom([]string{"near-edge", "far-edge", "left-end", "right-end"}).Draw(t, "edge")
		u0, u1, v0, v1 := 0, su, 0, sv
		switch edge {
		case "near-edge":
			v1 = w
		case "far-edge":
			v0 = sv - w
		case "left-end":
			u1 = w
		default:
			u0 = su - w
		}
		limits(u0, u1, v0, v1, depth)
		s.line = fmt.Sprintf("rabbet: {edges: [%s], width: %s, depth: %s, on: %s}", edge, sixteenths(w), sixteenths(depth), on)
	case "slot":
		to := rapid.IntRange(1, su-1).Draw(t, "to")
		a, b := min(cu, to), max(cu, to)
		limits(a-w/2, b+w/2, cv-w/2, cv+w/2, depth)
		s.takes = func(x, y, z int) bool {
			q := [3]int{x, y, z}
			du, dv := max(2*a-q[f.u], q[f.u]-2*b, 0), q[f.v]-2*cv
			return inBox(q) && du*du+dv*dv < w*w
		}
		s.line = fmt.Sprintf("slot: {width: %s, depth: %s, from: [%s, %s], to: [%s, %s], on: %s}", sixteenths(w), sixteenths(depth), sixteenths(cu), sixteenths(cv), sixteenths(to), sixteenths(cv), on)
	case "hole", "edge hole", "counterbore":
		mouth, under := w+4, 0
		if kind == "counterbore" {
			under = rapid.IntRange(1, deep-1).Draw(t, "counterbore")
			depth = max(depth, under)
		}
		round := func(q [3]int, d int) bool {
			du, dv := q[f.u]-2*cu, q[f.v]-2*cv
			return du*du+dv*dv < d*d
		}
		from := func(q [3]int) int { // halves of a sixteenth below the face
			if f.low {
				return q[f.in]
			}
			return 2*deep - q[f.in]
		}
		wide := w
		if kind == "counterbore" {
			wide = mouth
		}
		limits(cu-wide/2, cu+wide/2, cv-wide/2, cv+wide/2, depth)
		s.takes = func(x, y, z int) bool {
			q := [3]int{x, y, z}
			return round(q, w) && from(q) < 2*depth || kind == "counterbore" && round(q, mouth) && from(q) < 2*under
		}
		s.line = fmt.Sprintf("holes: {diameter: %s, depth: %s, at: [%s, %s], on: %s}", sixteenths(w), sixteenths(depth), sixteenths(cu), sixteenths(cv), on)
		if kind == "counterbore" {
			s.line = strings.Replace(s.line, ", at:", fmt.Sprintf(", counterbore: {diameter: %s, depth: %s}, at:", sixteenths(mouth), sixteenths(under)), 1)
		}
	case "taper":
		a, b := rapid.IntRange(cubeY/2, cubeY).Draw(t, "left"), rapid.IntRange(cubeY/2, cubeY).Draw(t, "right")
		near := rapid.Bool().Draw(t, "near")
		s.blind, s.slant = false, true
		s.box = [3][2]int{{0, cubeX}, {0, cubeY}, {0, cubeZ}}
		s.takes = func(x, y, _ int) bool {
			if near {
				y = 2*cubeY - y
			}
			return (y-2*a)*2*cubeX > 2*(b-a)*x
		}
		edge := "far-edge"
		if near {
			edge = "near-edge"
		}
		s.line = fmt.Sprintf("taper: {edges: [%s], widths: [%s, %s]}", edge, sixteenths(a), sixteenths(b))
	}
	s.web = 6 // a third of an inch of thickness, in whole cubes
	if strings.HasPrefix(s.line, "holes") {
		s.web = 2
	}
	return s
}

// runsOut tells the cuts that may run out of a slanting side as of a straight
// one.
func runsOut(s solid) bool {
	return !s.slant && !strings.HasPrefix(s.line, "holes") && !strings.HasPrefix(s.line, "slot")
}

// inCorner tells two rabbets of one depth on one face, one along it and one
// across: a frame's corner, which both take.
func inCorner(a, b solid) bool {
	u, v := (a.axis+1)%3, (a.axis+2)%3
	return strings.HasPrefix(a.line, "rabbet") && strings.HasPrefix(b.line, "rabbet") && a.axis == b.axis &&
		a.box[a.axis] == b.box[b.axis] && a.box[u] != b.box[u] && a.box[v] != b.box[v]
}

// carve gives the feature that took each cube, -1 where wood is left, -2 where
// two did.
func carve(cuts []solid) []int8 {
	out := make([]int8, cubeX*cubeY*cubeZ)
	for i := range out {
		x, y, z := i%cubeX, i/cubeX%cubeY, i/cubeX/cubeY
		out[i] = -1
		for k := range cuts {
			if cuts[k].takes(2*x+1, 2*y+1, 2*z+1) {
				switch before := out[i]; {
				case before == -1:
					out[i] = int8(k)
				case runsOut(cuts[before]) && cuts[k].slant, cuts[before].slant && cuts[k].slant:
					out[i] = int8(k)
				case cuts[before].slant && runsOut(cuts[k]), inCorner(cuts[before], cuts[k]):
				default:
					out[i] = -2
				}
				if out[i] == -2 {
					break
				}
			}
		}
	}
	return out
}

// rows calls f with every row of cubes along an axis.
func rows(axis int, f func(at func(i int) int)) {
	step := [3]int{1, cubeX, cubeX * cubeY}
	a, b := (axis+1)%3, (axis+2)%3
	for i := range cubeSize[a] {
		for k := range cubeSize[b] {
			base := i*step[a] + k*step[b]
			f(func(n int) int { return base + n*step[axis] })
		}
	}
}

// wrong says what a carved part has that an accepted one may not have.
func wrong(cuts []solid, c []int8) string {
	for k := range cuts {
		for ax := range 3 {
			if cuts[k].box[ax][0] < 0 || cuts[k].box[ax][1] > cubeSize[ax] {
				return fmt.Sprintf("cut %d reaches outside", k)
			}
		}
	}
	for _, v := range c {
		if v == -2 {
			return "two cuts share wood"
		}
	}
	said := ""
	for axis := range 3 {
		rows(axis, func(at func(int) int) {
			for i := 0; i < cubeSize[axis]; {
				if c[at(i)] != -1 {
					i++
					continue
				}
				e := i
				for e < cubeSize[axis] && c[at(e)] == -1 {
					e++
				}
				n, l, r := e-i, int8(-1), int8(-1)
				if i > 0 {
					l = c[at(i-1)]
				}
				if e < cubeSize[axis] {
					r = c[at(e)]
				}
				least := 0
				switch {
				case l < 0 && r < 0 || l == r:
				case l >= 0 && r >= 0 && (cuts[l].slant || cuts[r].slant):
					o := cuts[l]
					if o.slant {
						o = cuts[r]
					}
					if o.axis == 2 && axis != 2 && !o.slant && !runsOut(o) {
						least = 2 // a groove runs out of the slanting side
					}
				case l >= 0 && cuts[l].slant || r >= 0 && cuts[r].slant:
				default:
					least = 2
				}
				for _, q := range []int8{l, r} { // the web behind the floor of a blind cut
					if q >= 0 && cuts[q].axis == axis && cuts[q].blind && (q == l) == cuts[q].low {
						if o := l + r - q; o < 0 || cuts[o].axis == axis && !cuts[o].slant {
							least = max(least, cuts[q].web)
						}
					}
				}
				if n < least && said == "" {
					said = fmt.Sprintf("%d cubes along axis %d between cuts %d and %d, want %d", n, axis, l, r, least)
				}
				i = e
			}
		})
		// blind cuts that leave nothing behind them
		rows(axis, func(at func(int) int) {
			gone, blind := true, false
			for i := range cubeSize[axis] {
				k := c[at(i)]
				gone = gone && k >= 0
				blind = blind || k >= 0 && cuts[k].blind && cuts[k].axis == axis
			}
			if gone && blind && said == "" {
				said = fmt.Sprintf("nothing is left along axis %d", axis)
			}
		})
	}
	return said
}

// Whatever the proof accepts, cut out of a block of cubes, stays inside the
// part, shares no wood with another cut, and leaves the web behind every blind
// cut and a wall beside it and towards every other cut; grooves, dados,
// rabbets, slots, bores with and without counterbores from all six sides, and
// tapers.
func TestAcceptedPartsInCubes(t *testing.T) {
	accepted, kinds := 0, map[string]int{}
	refused := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		var cuts []solid
		var lines []string
		for range rapid.IntRange(1, 3).Draw(t, "cuts") {
			s := drawSolid(t)
			cuts, lines = append(cuts, s), append(lines, "      - "+s.line)
		}
		yaml := "name: x\nparts:\n  - id: a\n    qty: 1\n    size: 4 x 3 x 1\n    from: thick\n    machining:\n" + strings.Join(lines, "\n") + "\n"
		p := Check(shopWith(t, yaml), Options{Now: now})
		ok := true
		for _, f := range p.Findings {
			if slices.Contains([]string{"leaves-part", "breaks-through", "thin-web", "thin-wall", "opposite-cuts", "features-meet"}, f.Check) {
				ok = false
				refused[f.Check]++
			}
		}
		what := wrong(cuts, carve(cuts))
		if ok {
			accepted++
			for _, s := range cuts {
				k, _, _ := strings.Cut(s.line, ":")
				kinds[k]++
			}
			require.Empty(t, what, "%s\n%s", strings.Join(lines, "\n"), Text(p, 200))
			return
		}
		// What is stopped for is there in the cubes too, where boxes of cubes can
		// show it: bores near one another are measured finer than cubes are.
		for _, f := range p.Findings {
			boxes := !strings.Contains(yaml, "holes") && !strings.Contains(yaml, "slot") && !strings.Contains(yaml, "taper")
			whole := !strings.Contains(yaml, "taper") // a taper may take off the very wood that is wanting
			if whole && (f.Check == "breaks-through" || f.Check == "opposite-cuts") || f.Check == "leaves-part" && strings.Contains(f.Text, "past the") || boxes {
				require.NotEmpty(t, what, "%s\n%s", strings.Join(lines, "\n"), Text(p, 200))
			}
		}
	})
	if testing.Short() {
		return
	}
	require.Greater(t, accepted, 5, "hardly a part was accepted")
	for _, id := range []string{"leaves-part", "breaks-through", "thin-web", "thin-wall", "features-meet"} {
		require.NotZero(t, refused[id], "no random part was refused for %s", id)
	}
	t.Logf("%d accepted with %v, refused %v", accepted, kinds, refused)
}
