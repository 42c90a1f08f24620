package reckon

import (
	"fmt"
	"math"
	"math/big"

	"caul/job/measure"
)

// FiveCutError is what a five-cut test says of a fence.
type FiveCutError struct {
	Degrees float64        // by which the kept corner is over 90 degrees; negative is under
	Per     measure.Length // the same over 300 mm or 12 in of fence
	Over    measure.Length // that length of fence
	Move    measure.Length // how far to move the fence at the pivot distance; never negative
	Away    bool           // move the free end away from the operator, else towards
	FreeEnd string         // left or right: the end that is moved
	Noise   float64        // degrees that two readings of the gauge may be out by
	Told    bool           // the reading is larger than that
}

// FiveCut works out a five-cut test. far and fence are the widths of the last strip at the end
// that met the blade first and at the fence; length is the strip's; pivot is the distance from
// the fence's pivot to the point where it is moved. Each cut makes a corner of 90 degrees + e;
// four corners make 360, so the strip's sides differ by 4 e over its length:
//
//	e = (fence - far) / (4 length)        move = pivot |fence - far| / (4 length)
//
// With the fence on the operator's side, the piece kept left of the blade and the pivot at the
// fence's right end, far under fence means that the left end must go away from the operator.
// Each of those three being the other way turns the direction round once.
func FiveCut(far, fence, length, pivot, gauge measure.Length, pivotRight, fenceFar, keptRight bool, u measure.Units) (FiveCutError, error) {
	if far <= 0 || fence <= 0 || length <= 0 || pivot <= 0 || gauge < 0 {
		return FiveCutError{}, fmt.Errorf("a strip and a pivot distance of nothing say nothing")
	}
	diff := fence - far
	if diff.Abs() >= length {
		return FiveCutError{}, fmt.Errorf("the two ends differ by more than the strip is long: check which measure is which")
	}
	four := big.NewRat(4, 1)
	slope := new(big.Rat).Quo(diff.Rat(), new(big.Rat).Mul(four, length.Rat()))
	over := 12 * measure.Inch
	if u.System == measure.Metric {
		over = 300 * measure.MM
	}
	scaled := func(l measure.Length) (measure.Length, error) {
		r, _, err := measure.FromRat(new(big.Rat).Mul(slope, l.Rat()))
		return r, err
	}
	per, err := scaled(over)
	if err != nil {
		return FiveCutError{}, err
	}
	move, err := scaled(pivot)
	if err != nil {
		return FiveCutError{}, err
	}
	f, _ := slope.Float64()
	e := FiveCutError{Degrees: f * 180 / math.Pi, Per: per, Over: over, Move: move.Abs(), FreeEnd: "left"}
	e.Away = diff > 0
	for _, turned := range []bool{!pivotRight, fenceFar, keptRight} {
		if turned {
			e.Away = !e.Away
		}
	}
	if !pivotRight {
		e.FreeEnd = "right"
	}
	e.Noise = math.Sqrt2 * gauge.Millimetres() / (4 * length.Millimetres()) * 180 / math.Pi
	e.Told = math.Abs(e.Degrees) > e.Noise
	return e, nil
}

var fiveCutSource = measure.Source{Ref: "five-cut method: the angles of a four-sided piece sum to 360 degrees, so four cuts add up the error; worked example in an instructions article, Table saw sledge accuracy test, five cut method"}

func truing() []Sum {
	return []Sum{
		{Name: "five-cut", Title: "Five-cut test of a fence", Help: "how far a crosscut fence is out of square, which way and how far to move it",
			Inputs: []Input{
				{Name: "far", Kind: KindLength, Required: true, Help: "width of the last strip at the end that met the blade first"},
				{Name: "fence", Kind: KindLength, Required: true, Help: "width of the last strip at the fence"},
				{Name: "length", Kind: KindLength, Required: true, Help: "length of the last strip"},
				{Name: "pivot", Kind: KindLength, Required: true, Help: "from the fence's pivot to the point where it is moved"},
				{Name: "pivot-end", Kind: KindChoice, Choices: []string{"right", "left"}, Default: "right", Help: "end of the fence that stays"},
				{Name: "fence-side", Kind: KindChoice, Choices: []string{"operator", "far"}, Default: "operator", Help: "side of the piece on which the fence stands"},
				{Name: "kept", Kind: KindChoice, Choices: []string{"left", "right"}, Default: "left", Help: "side of the blade on which the piece is kept"},
				{Name: "gauge", Kind: KindLength, Default: "0.0005 in", Metric: "0.01 mm", Help: "what the caliper can tell apart"},
			}, work: fiveCut},
		{Name: "diagonals", Title: "Square by diagonals", Help: "how far a frame or panel is out of square, from its two diagonals",
			Inputs: []Input{
				{Name: "length", Kind: KindLength, Required: true, Help: "one side"}, {Name: "width", Kind: KindLength, Required: true, Help: "the other side"},
				{Name: "first", Kind: KindLength, Help: "one diagonal as measured"}, {Name: "second", Kind: KindLength, Help: "the other diagonal as measured"},
			}, work: diagonals},
		{Name: "flip", Title: "Square by flipping", Help: "the error of a square or a crosscut from the gap after flipping it over",
			Inputs: []Input{
				{Name: "gap", Kind: KindLength, Required: true, Help: "gap between the two lines, or between the two halves when butted"},
				{Name: "over", Kind: KindLength, Required: true, Help: "length of the line, or width of the board, at which the gap was measured"},
			}, work: flip},
		{Name: "winding", Title: "Winding sticks", Help: "twist of a board from the gap sighted over two longer sticks",
			Inputs: []Input{
				{Name: "gap", Kind: KindLength, Required: true, Help: "gap sighted at the end of the sticks"}, {Name: "sticks", Kind: KindLength, Required: true, Help: "length of the sticks"},
				{Name: "board", Kind: KindLength, Required: true, Help: "width of the board"},
			}, work: winding},
		{Name: "strings", Title: "Flatness by crossed strings", Help: "how far one corner is out of plane, from the gap where two diagonal strings cross",
			Inputs: []Input{{Name: "gap", Kind: KindLength, Required: true, Help: "gap between the strings where they cross"}}, work: crossedStrings},
		{Name: "straightedges", Title: "Three straightedges", Help: "the bow of each of three straightedges, from the gaps of each pair",
			Inputs: []Input{{Name: "ab", Kind: KindLength, Required: true, Help: "gap between the first and the second"}, {Name: "ac", Kind: KindLength, Required: true, Help: "gap between the first and the third"},
				{Name: "bc", Kind: KindLength, Required: true, Help: "gap between the second and the third"}}, work: straightedges},
	}
}

func fiveCut(a *args) (*Result, error) {
	far, fence, length, pivot := a.length("far"), a.length("fence"), a.length("length"), a.length("pivot")
	if err := a.positive("far", "fence", "length", "pivot", "gauge"); err != nil {
		return nil, err
	}
	e, err := FiveCut(far, fence, length, pivot, a.length("gauge"), a.word("pivot-end") == "right", a.word("fence-side") == "far", a.word("kept") == "right", a.u)
	if err != nil {
		return nil, err
	}
	r := &Result{Source: sources(fiveCutSource)}
	way := "towards you"
	if e.Away {
		way = "away from you"
	}
	if far == fence {
		r.Answer = []string{"square: the strip is as wide at both ends"}
	} else {
		r.Answer = []string{
			fmt.Sprintf("the cut is out by %.4f degrees: %s in %s", math.Abs(e.Degrees), a.fine(e.Per.Abs()), a.show(e.Over)),
			fmt.Sprintf("move the %s end of the fence %s by %s, measured %s from the pivot", e.FreeEnd, way, a.fine(e.Move), a.show(pivot)),
		}
	}
	r.Working = []string{
		fmt.Sprintf("far - fence = %s - %s = %s", a.fine(far), a.fine(fence), a.fine(far-fence)),
		fmt.Sprintf("over four cuts and %s of strip: %s / (4 x %s) = %.7f", a.fine(length), a.fine(far-fence), a.fine(length), float64(far-fence)/(4*float64(length))),
		fmt.Sprintf("at the pivot distance: %.7f x %s = %s", float64(far-fence)/(4*float64(length)), a.fine(pivot), a.fine(e.Move)),
		fmt.Sprintf("two readings of this gauge may be out by %.4f degrees", e.Noise),
	}
	if !e.Told {
		r.Working = append(r.Working, "the reading is within that: take a longer strip or call it square")
	}
	r.Caution = []string{"keep hands out of the line of the blade and off the place where it leaves the fence; clamp the stop and the piece, and let the blade stop before lifting the strip",
		"move the fence, cut five times again, and believe the second test"}
	r.Values = []Value{
		{Name: "degrees", Text: fmt.Sprintf("%.5f degrees", e.Degrees), Number: e.Degrees, Unit: "degrees"},
		lengthValue("per", e.Per, a.fine(e.Per)+" in "+a.show(e.Over)), lengthValue("move", e.Move, a.fine(e.Move)),
	}
	return r, nil
}

func diagonals(a *args) (*Result, error) {
	l, w := a.length("length"), a.length("width")
	if err := a.positive("length", "width", "first", "second"); err != nil {
		return nil, err
	}
	x, y := l.Millimetres(), w.Millimetres()
	square := math.Hypot(x, y)
	r := &Result{Source: sources(geometry)}
	want := measure.FromMillimetres(square)
	r.Answer = []string{"square, both diagonals measure " + a.show(want)}
	r.Working = []string{fmt.Sprintf("square root of ((%s)² + (%s)²) = %s", a.show(l), a.show(w), a.fine(want))}
	r.Values = []Value{lengthValue("diagonal", want, a.fine(want))}
	if a.has("first") != a.has("second") {
		return nil, a.bad("second", "both diagonals are wanted, or neither", "")
	}
	if a.has("first") {
		d1, d2 := a.length("first").Millimetres(), a.length("second").Millimetres()
		s := (d1*d1 - d2*d2) / (4 * x * y)
		if math.Abs(s) > 1 {
			return nil, a.bad("first", "no frame of these sides has these diagonals", "")
		}
		deg := math.Asin(s) * 180 / math.Pi
		lean := measure.FromMillimetres(y * math.Abs(s))
		r.Answer = []string{fmt.Sprintf("out of square by %.4f degrees: %s over the %s side", math.Abs(deg), a.fine(lean), a.show(w)),
			fmt.Sprintf("push the corners of the longer diagonal together until both measure %s", a.show(want))}
		if d1 == d2 {
			r.Answer[0] = "square: both diagonals are the same"
			r.Answer = r.Answer[:1]
		}
		r.Working = append(r.Working, fmt.Sprintf("sin e = ((%s)² - (%s)²) / (4 x %s x %s) = %.7f", a.fine(a.length("first")), a.fine(a.length("second")), a.show(l), a.show(w), s))
		r.Values = append(r.Values, Value{Name: "degrees", Text: fmt.Sprintf("%.5f degrees", deg), Number: deg, Unit: "degrees"})
	}
	return r, nil
}

func flip(a *args) (*Result, error) {
	if err := a.positive("over"); err != nil {
		return nil, err
	}
	gap, over := a.length("gap"), a.length("over")
	if gap < 0 {
		return nil, a.bad("gap", "must not be negative", "")
	}
	deg := math.Atan(gap.Millimetres()/(2*over.Millimetres())) * 180 / math.Pi
	return &Result{
		Answer:  []string{fmt.Sprintf("out by %.4f degrees: %s over %s", deg, a.fine(gap/2), a.show(over))},
		Working: []string{fmt.Sprintf("flipping doubles the error: gap = 2 x %s x tan e, so e = atan(%s / (2 x %s))", a.show(over), a.fine(gap), a.show(over))},
		Source:  sources(geometry),
		Values:  []Value{{Name: "degrees", Text: fmt.Sprintf("%.5f degrees", deg), Number: deg, Unit: "degrees"}},
	}, nil
}

func winding(a *args) (*Result, error) {
	if err := a.positive("sticks", "board"); err != nil {
		return nil, err
	}
	twist, _, err := measure.FromRat(new(big.Rat).Mul(a.length("gap").Rat(), new(big.Rat).Quo(a.length("board").Rat(), a.length("sticks").Rat())))
	if err != nil {
		return nil, err
	}
	return &Result{
		Answer:  []string{"the board is twisted by " + a.fine(twist) + " over its width"},
		Working: []string{fmt.Sprintf("%s x %s / %s", a.fine(a.length("gap")), a.show(a.length("board")), a.show(a.length("sticks")))},
		Source:  sources(geometry),
		Values:  []Value{lengthValue("twist", twist, a.fine(twist))},
	}, nil
}

func crossedStrings(a *args) (*Result, error) {
	gap := a.length("gap")
	if gap < 0 {
		return nil, a.bad("gap", "must not be negative", "")
	}
	return &Result{
		Answer:  []string{"one corner is " + a.fine(2*gap) + " out of the plane of the other three"},
		Working: []string{"where the strings cross each is half way, so the corner is out by twice the gap: 2 x " + a.fine(gap), "pass one string under the other and then over it, and take the mean, to lose the string's own thickness"},
		Source:  sources(geometry),
		Values:  []Value{lengthValue("corner", 2*gap, a.fine(2*gap))},
	}, nil
}

func straightedges(a *args) (*Result, error) {
	ab, ac, bc := a.length("ab"), a.length("ac"), a.length("bc")
	r := &Result{Source: sources(measure.Source{Ref: "three-plate method: a gap of a pair is the sum of their bows"})}
	for _, e := range []struct {
		name      string
		with, and measure.Length
		other     measure.Length
	}{{"first", ab, ac, bc}, {"second", ab, bc, ac}, {"third", ac, bc, ab}} {
		bow, _, err := measure.FromRat(big.NewRat(int64(e.with)+int64(e.and)-int64(e.other), 2))
		if err != nil {
			return nil, err
		}
		shape := "hollow"
		switch {
		case bow == 0:
			r.Answer = append(r.Answer, e.name+": straight")
		default:
			if bow < 0 {
				shape = "proud"
			}
			r.Answer = append(r.Answer, fmt.Sprintf("%s: %s by %s", e.name, shape, a.fine(bow.Abs())))
		}
		r.Working = append(r.Working, fmt.Sprintf("%s = (%s + %s - %s) / 2 = %s", e.name, a.fine(e.with), a.fine(e.and), a.fine(e.other), a.fine(bow)))
		r.Values = append(r.Values, lengthValue(e.name, bow, a.fine(bow)))
	}
	return r, nil
}
