package glue

import (
	"math"

	"caul/job/measure"
)

// ClampKind is a kind of clamp and how hard hands can turn it.
type ClampKind struct {
	ID     string
	Name   string
	Force  measure.Force // the middle of what hands were measured to give
	Source measure.Source
}

const refClamps = "Rabiej, R., Get serious about clamping, US woodworking magazine no. 194, and its note on clamp forces, May 2010: hand-tightened, mean of two editors"

// ClampKinds lists the clamps whose force is known, in a fixed order.
func ClampKinds() []ClampKind {
	return []ClampKind{
		{"parallel-jaw", "parallel-jaw clamp", measure.Lbf(370), read(refClamps)},
		{"trigger", "one-handed trigger bar clamp", measure.Lbf(470), read(refClamps)},
		{"bar", "light bar clamp", measure.Lbf(680), read(refClamps)},
		{"pipe", "pipe clamp on 3/4 in pipe", measure.Lbf(1050), read(refClamps)},
		{"i-beam", "heavy I-beam bar clamp", measure.Lbf(1350), read(refClamps)},
		{"f-style", "F-style clamp, light", measure.Lbf(400), usual},
		{"f-heavy", "F-style clamp, heavy", measure.Lbf(1000), usual},
		{"c-clamp", "C-clamp, 4 to 6 in", measure.Lbf(1000), usual},
		{"spring", "spring clamp, 2 in", measure.Lbf(25), usual},
		{"cam", "cam clamp", measure.Lbf(60), usual},
		{"band", "band clamp", measure.Lbf(100), usual},
	}
}

// FindClamp gives the clamp kind with this ID.
func FindClamp(id string) (ClampKind, bool) {
	for _, c := range ClampKinds() {
		if c.ID == id {
			return c, true
		}
	}
	return ClampKind{}, false
}

// Two testers gave about 60 and 140 % of the mean (same source as the forces).
const (
	weakHands   = 0.6
	strongHands = 1.4
)

// Maximum spacing of clamps along a joint, whatever their spread (a school handout on edge
// gluing: within 2 in of each end, never over 15 in apart).
const MaxSpacing = 15 * measure.Inch

// RuleSpread is the source of the spread and spacing rules.
var RuleSpread = read("clamp placement note of a US woodworking magazine, May 2010: pressure spreads at 45 degrees each side; a school handout on edge gluing: clamps no more than 15 in apart")

// Coverage is how much of the glue line one clamp presses: its pad, and the distance from pad to
// glue line on each side, as pressure spreads at 45 degrees. The distance includes a caul's thickness.
func Coverage(pad, toGlueLine, caul measure.Length) measure.Length {
	return pad + 2*(toGlueLine+caul)
}

// BySpacing is how many clamps press the whole of a joint's length.
func BySpacing(length, coverage measure.Length) int {
	if length <= 0 {
		return 0
	}
	if coverage <= 0 || coverage > MaxSpacing {
		coverage = MaxSpacing
	}
	return int((length + coverage - 1) / coverage)
}

// ByForce is how many clamps give a force. None can for a force of nothing per clamp.
func ByForce(need, each measure.Force) int {
	if need <= 0 || each <= 0 {
		return 0
	}
	n := math.Ceil(float64(need/each) - 1e-9)
	return int(math.Min(n, 1e6))
}

// For is the pressure a glue line of wood of a specific gravity wants: the low end up to 0.35,
// the high end from 0.70, and a straight line between. The ends are the source's; the line is ours.
func (p Pressure) For(specificGravity float64) measure.Pressure {
	x := (specificGravity - 0.35) / 0.35
	x = math.Max(0, math.Min(1, x))
	return p.Low + measure.Pressure(x)*(p.High-p.Low)
}

// Places spreads n clamps over a length so that each has its own equal share, and gives the
// middles from one end.
func Places(length measure.Length, n int) []measure.Length {
	out := make([]measure.Length, 0, max(n, 0))
	for i := range n {
		out = append(out, length/measure.Length(2*n)*measure.Length(2*i+1))
	}
	return out
}
