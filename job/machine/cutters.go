package machine

import (
	"fmt"
	"math"

	"caul/job/measure"
)

// Usual kerfs.
var (
	FullKerf = measure.Inch / 8      // table saw, full kerf
	ThinKerf = measure.Inch * 3 / 32 // table saw, thin kerf
	// KerfSource is what they rest on.
	KerfSource = practice
)

func radians(deg float64) float64 { return deg * math.Pi / 180 }

// Dovetail is a dovetail cutter: its width at the bottom and the slope of its sides.
type Dovetail struct {
	Diameter measure.Length
	Angle    float64        // degrees from upright
	Height   measure.Length // of the cutting edge; 0 is not known
}

// WidthAt is the width of the groove at a height above its bottom: D - 2 h tan(angle).
func (d Dovetail) WidthAt(h measure.Length) (measure.Length, error) {
	if d.Diameter <= 0 || !(d.Angle > 0 && d.Angle < 45) {
		return 0, fmt.Errorf("a dovetail cutter of %v and %v degrees is no cutter", d.Diameter, d.Angle)
	}
	if h < 0 {
		return 0, fmt.Errorf("a height of %v is under the bottom", h)
	}
	if d.Height > 0 && h > d.Height {
		return 0, fmt.Errorf("%v is deeper than the cutter's edge, %v", h, d.Height)
	}
	w := measure.FromInches(d.Diameter.Inches() - 2*h.Inches()*math.Tan(radians(d.Angle)))
	if w <= 0 {
		return 0, fmt.Errorf("the sides of the cutter meet below %v", h)
	}
	return w, nil
}

// DovetailSource is what the width rests on.
var DovetailSource = read("geometry of the cutter: width = diameter - 2 x height x tan(angle)")

// VGrooveWidth is how wide a V cutter of an included angle cuts at a depth: 2 d tan(angle/2).
func VGrooveWidth(depth measure.Length, included float64) (measure.Length, error) {
	if depth < 0 || !(included > 0 && included < 180) {
		return 0, fmt.Errorf("a V groove of %v and %v degrees cannot be cut", depth, included)
	}
	return measure.FromInches(2 * depth.Inches() * math.Tan(radians(included)/2)), nil
}

// SlopeAngle is the angle in degrees of a hand-cut dovetail slope of 1 in n.
func SlopeAngle(n float64) float64 { return math.Atan(1/n) * 180 / math.Pi }

// PassRule is what the depth of a router pass rests on.
var PassRule = measure.Source{Ref: "a pass is at most half the cutter's diameter, and often at most 1/4 in (6 mm)", Standing: measure.Practice}

// Passes splits a depth into equal passes of at most half the cutter's diameter and at most most,
// where most zero is 1/4 in, and gives the depth setting of each, the last being the full depth.
func Passes(depth, diameter, most measure.Length) ([]measure.Length, error) {
	if depth <= 0 || diameter <= 0 || most < 0 {
		return nil, fmt.Errorf("a depth of %v with a cutter of %v cannot be cut", depth, diameter)
	}
	if most == 0 {
		most = measure.Inch / 4
	}
	step := min(diameter/2, most)
	if step <= 0 || depth/step > 200 {
		return nil, fmt.Errorf("a depth of %v with a cutter of %v takes too many passes", depth, diameter)
	}
	n := (depth + step - 1) / step
	out := make([]measure.Length, 0, n)
	for i := measure.Length(1); i <= n; i++ {
		out = append(out, depth*i/n)
	}
	return out, nil
}

// RimSpeed is the speed of a cutter's rim in m/s at a number of turns a minute.
func RimSpeed(diameter measure.Length, rpm float64) float64 {
	return math.Pi * diameter.Millimetres() / 1000 * rpm / 60
}

// ChipLoad is how far the work moves for each cutting edge, from the feed in m/min.
func ChipLoad(feed, rpm float64, flutes int) (measure.Length, error) {
	if !(rpm > 0) || flutes < 1 || !(feed > 0) {
		return 0, fmt.Errorf("a feed of %v m/min at %v turns with %d edges cuts nothing", feed, rpm, flutes)
	}
	return measure.FromMillimetres(feed * 1000 / (rpm * float64(flutes))), nil
}

// LeftUnder is what is left of a thickness under cuts from both faces that lie over one another.
// A cut on one face leaves thickness - depth. Zero or less breaks through.
func LeftUnder(thickness, face, back measure.Length) measure.Length { return thickness - face - back }

// KeepUnder is the least that shops leave under a groove: a third of the thickness, and 1/4 in in
// a sled's base.
func KeepUnder(thickness measure.Length, sledBase bool) (measure.Length, measure.Source) {
	keep := thickness / 3
	if sledBase {
		keep = max(keep, measure.Inch/4)
	}
	return keep, measure.Source{Ref: "under a groove at least a third of the thickness, and 1/4 in (6 mm) in a sled's base", Standing: measure.Practice}
}

// MitreSlot is the usual US mitre slot and the runner that fits it.
type MitreSlot struct {
	Width, Depth        measure.Length
	ClearLow, ClearHigh measure.Length // play of the runner, in all
	ShortLow, ShortHigh measure.Length // runner's height under the slot's depth
	Source              measure.Source
}

// USMitreSlot gives that slot. Measure the saw in hand.
func USMitreSlot() MitreSlot {
	return MitreSlot{measure.Inch * 3 / 4, measure.Inch * 3 / 8, measure.Inch * 2 / 1000, measure.Inch * 5 / 1000, measure.Inch / 32, measure.Inch / 16, practice}
}
