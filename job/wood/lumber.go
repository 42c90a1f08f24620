package wood

import (
	"fmt"
	"strings"

	"caul/job/measure"
)

// BoardFeet is lumber measure in hundredths of a board foot: 12 x 12 x 1 in, 144 cubic inches.
type BoardFeet int64

func (b BoardFeet) String() string { return fmt.Sprintf("%d.%02d bd ft", b/100, b%100) }

// Float is the number of board feet.
func (b BoardFeet) Float() float64 { return float64(b) / 100 }

// The rules of tally.
var (
	HardwoodRule = measure.Source{Ref: "NHLA board-foot rule: surface measure is actual width in inches x whole feet / 12, to the nearest whole number, times nominal thickness"}
	SoftwoodRule = measure.Source{Ref: "softwood board-foot rule: nominal thickness x nominal width in inches x length in feet / 12"}
)

const maxBoard = 1000 * measure.Foot

func checkBoard(ls ...measure.Length) error {
	for _, l := range ls {
		if l <= 0 || l > maxBoard {
			return fmt.Errorf("a board of %v is no board", l)
		}
	}
	return nil
}

// Hardwood tallies one board by the hardwood rule: its actual width, its length counted in whole
// feet, and its nominal thickness, under one inch counted as one. surface is the surface measure.
// A surface measure on the half counts up; a tally of many alternates.
func Hardwood(width, length, nominal measure.Length) (surface int64, b BoardFeet, err error) {
	if err := checkBoard(width, length, nominal); err != nil {
		return 0, 0, err
	}
	feet := int64(length / measure.Foot)
	surface = (int64(width)*feet*2 + 12*int64(measure.Inch)) / (24 * int64(measure.Inch))
	return surface, BoardFeet(roundDiv(surface*100*int64(max(nominal, measure.Inch)), int64(measure.Inch))), nil
}

// Softwood tallies one board by the softwood rule, to a hundredth: nominal thickness (under one
// inch counted as one), nominal width, actual length.
func Softwood(thick, width, length measure.Length) (BoardFeet, error) {
	if err := checkBoard(width, length, thick); err != nil {
		return 0, err
	}
	f := max(thick, measure.Inch).Inches() * width.Inches() * length.Inches() / 144
	return BoardFeet(f*100 + 0.5), nil
}

// Volume is the true volume of a board in board feet, for comparison with a tally.
func Volume(thick, width, length measure.Length) float64 {
	return thick.Inches() * width.Inches() * length.Inches() / 144
}

func roundDiv(a, b int64) int64 { return (2*a + b) / (2 * b) }

// Thickness is one row of the hardwood thickness table. Zero is a size that is not listed.
type Thickness struct {
	Nominal string // quarters, such as 5/4; empty for the thin stock
	Rough   measure.Length
	OneSide measure.Length // surfaced one side
	Both    measure.Length // surfaced two sides: what the grader uses
}

// ThicknessSource is where the hardwood thicknesses come from.
var ThicknessSource = measure.Source{Ref: "NHLA rough and surfaced thicknesses, as reprinted in two lumber references"}

// Thicknesses lists the hardwood thicknesses, thinnest first.
func Thicknesses() []Thickness {
	f := measure.Frac
	return []Thickness{
		{"", f(0, 3, 8), f(0, 1, 4), f(0, 3, 16)},
		{"", f(0, 1, 2), f(0, 3, 8), f(0, 5, 16)},
		{"", f(0, 5, 8), f(0, 1, 2), f(0, 7, 16)},
		{"3/4", f(0, 3, 4), f(0, 5, 8), f(0, 9, 16)},
		{"4/4", f(1, 0, 1), f(0, 7, 8), f(0, 13, 16)},
		{"5/4", f(1, 1, 4), f(1, 1, 8), f(1, 1, 16)},
		{"6/4", f(1, 1, 2), f(1, 3, 8), f(1, 5, 16)},
		{"7/4", f(1, 3, 4), 0, f(1, 1, 2)},
		{"8/4", f(2, 0, 1), f(1, 13, 16), f(1, 3, 4)},
		{"12/4", f(3, 0, 1), f(2, 13, 16), f(2, 3, 4)},
		{"14/4", f(3, 1, 2), 0, f(3, 1, 4)},
		{"16/4", f(4, 0, 1), f(3, 13, 16), f(3, 3, 4)},
	}
}

// FindThickness gives the row of a nominal thickness in quarters.
func FindThickness(nominal string) (Thickness, bool) {
	for _, t := range Thicknesses() {
		if t.Nominal != "" && t.Nominal == strings.TrimSpace(nominal) {
			return t, true
		}
	}
	return Thickness{}, false
}

// RoughFor gives the thinnest nominal thickness from which a finished thickness is sure to come
// when both faces are surfaced, and what is left over. Boards that are cupped or in wind want more.
func RoughFor(finished measure.Length) (t Thickness, spare measure.Length, ok bool) {
	for _, t := range Thicknesses() {
		if t.Nominal != "" && finished > 0 && t.Both >= finished {
			return t, t.Both - finished, true
		}
	}
	return Thickness{}, 0, false
}

// Dressed is a softwood size by name and what it measures.
type Dressed struct {
	Nominal    measure.Length
	Dry, Green measure.Length
}

// DressedSource is where the softwood sizes come from.
var DressedSource = measure.Source{Ref: "US Voluntary Product Standard PS 20, minimum dressed sizes, as reprinted"}

// DressedThicknesses and DressedWidths list the softwood sizes, smallest first.
func DressedThicknesses() []Dressed {
	f := measure.Frac
	return []Dressed{
		{f(0, 3, 4), f(0, 5, 8), f(0, 11, 16)}, {f(1, 0, 1), f(0, 3, 4), f(0, 25, 32)}, {f(1, 1, 4), f(1, 0, 1), f(1, 1, 32)},
		{f(1, 1, 2), f(1, 1, 4), f(1, 9, 32)}, {f(2, 0, 1), f(1, 1, 2), f(1, 9, 16)}, {f(2, 1, 2), f(2, 0, 1), f(2, 1, 16)},
		{f(3, 0, 1), f(2, 1, 2), f(2, 9, 16)}, {f(3, 1, 2), f(3, 0, 1), f(3, 1, 16)}, {f(4, 0, 1), f(3, 1, 2), f(3, 9, 16)},
	}
}

// DressedWidths lists the softwood widths, narrowest first.
func DressedWidths() []Dressed {
	f := measure.Frac
	return []Dressed{
		{f(2, 0, 1), f(1, 1, 2), f(1, 9, 16)}, {f(3, 0, 1), f(2, 1, 2), f(2, 9, 16)}, {f(4, 0, 1), f(3, 1, 2), f(3, 9, 16)},
		{f(5, 0, 1), f(4, 1, 2), f(4, 5, 8)}, {f(6, 0, 1), f(5, 1, 2), f(5, 5, 8)}, {f(7, 0, 1), f(6, 1, 2), f(6, 5, 8)},
		{f(8, 0, 1), f(7, 1, 4), f(7, 1, 2)}, {f(10, 0, 1), f(9, 1, 4), f(9, 1, 2)}, {f(12, 0, 1), f(11, 1, 4), f(11, 1, 2)},
		{f(14, 0, 1), f(13, 1, 4), f(13, 1, 2)},
	}
}

// DressedSize gives the dry size of a softwood board by its name, such as 2 x 4.
func DressedSize(thick, width measure.Length) (t, w measure.Length, err error) {
	for _, d := range DressedThicknesses() {
		if d.Nominal == thick {
			t = d.Dry
		}
	}
	for _, d := range DressedWidths() {
		if d.Nominal == width {
			w = d.Dry
		}
	}
	if t == 0 || w == 0 {
		u := measure.Units{System: measure.Inches, Mark: 16}
		return 0, 0, fmt.Errorf("%s x %s is no nominal softwood size", measure.Format(thick, u), measure.Format(width, u))
	}
	return t, w, nil
}
