package wood

import (
	"fmt"

	"caul/job/measure"
)

// Panel is a kind of sheet and its weight.
type Panel struct {
	ID             string
	Name           string
	Low, High, Use float64 // kg/m³
	Source         measure.Source
}

// Panels lists the kinds of sheet, in a fixed order.
func Panels() []Panel {
	suppliers := measure.Source{Ref: "plywood densities by core species, suppliers' and mills' tables"}
	usual := measure.Source{Standing: measure.Usual}
	return []Panel{
		{"birch-ply", "birch plywood", 650, 700, 680, suppliers},
		{"poplar-ply", "plywood with a poplar core", 500, 530, 515, suppliers},
		{"hardwood-ply", "plywood with a mixed hardwood core", 580, 620, 600, suppliers},
		{"pine-ply", "plywood with a pine core", 560, 610, 585, suppliers},
		{"mdf", "MDF", 700, 770, 740, usual},
		{"particleboard", "particleboard", 600, 700, 650, usual},
	}
}

// FindPanel gives the kind of sheet with this ID.
func FindPanel(id string) (Panel, bool) {
	for _, p := range Panels() {
		if p.ID == id {
			return p, true
		}
	}
	return Panel{}, false
}

// Tolerance is how far a sheet may be from its stated size, below and above.
type Tolerance struct {
	Minus, Plus measure.Length // both positive or zero
	Source      measure.Source
}

// Limits gives the smallest and the largest that the stated size may measure.
func (t Tolerance) Limits(stated measure.Length) (low, high measure.Length) {
	return stated - t.Minus, stated + t.Plus
}

// Standard is a sheet standard whose tolerances are known.
type Standard string

const (
	PS1Sanded   Standard = "ps1-sanded"   // US plywood, sanded
	PS1Unsanded Standard = "ps1-unsanded" // US plywood, unsanded, touch-sanded or overlaid
	EN315Sanded Standard = "en315-sanded" // European plywood, sanded
	A2082MDF    Standard = "mdf-a208.2"   // US MDF
)

// ThicknessTolerance gives how far the thickness may be from the stated one.
func ThicknessTolerance(st Standard, stated measure.Length) (Tolerance, error) {
	even := func(l measure.Length, ref string) (Tolerance, error) {
		return Tolerance{l, l, measure.Source{Ref: ref}}, nil
	}
	switch st {
	case PS1Sanded:
		if stated <= measure.Frac(0, 3, 4) {
			return even(measure.Inch/64, "PS 1-19, sanded, 3/4 in and less")
		}
		return even(stated*3/100, "PS 1-19, sanded, over 3/4 in: 3 %")
	case PS1Unsanded:
		if stated <= measure.Frac(0, 13, 16) {
			return even(measure.Inch/32, "PS 1-19, unsanded, touch-sanded or overlaid, 13/16 in and less")
		}
		return even(stated*5/100, "PS 1-19, unsanded, touch-sanded or overlaid, over 13/16 in: 5 %")
	case EN315Sanded:
		if stated <= 3*measure.MM || stated > 25*measure.MM {
			return Tolerance{}, fmt.Errorf("the EN 315 rule holds for sanded plywood over 3 to 25 mm, not for %v", stated)
		}
		slope := stated * 3 / 100
		return Tolerance{measure.MM*4/10 + slope, measure.MM*2/10 + slope,
			measure.Source{Ref: "EN 315:2000, sanded; the formula read in its twin GB/T 9846"}}, nil
	case A2082MDF:
		return even(measure.MM/8, "ANSI A208.2, panel average from stated thickness")
	}
	return Tolerance{}, fmt.Errorf("no tolerances are known for %q", string(st))
}

// Category is a US plywood performance category and the thickness it may measure.
type Category struct {
	Name      string
	Low, High measure.Length
}

// Categories lists the performance categories, thinnest first.
func Categories() []Category {
	c := func(name string, low, high int64) Category {
		return Category{name, measure.Inch / 1000 * measure.Length(low), measure.Inch / 1000 * measure.Length(high)}
	}
	return []Category{
		c("1/4", 219, 281), c("11/32", 313, 375), c("3/8", 344, 406), c("7/16", 406, 469), c("15/32", 438, 500), c("1/2", 469, 531),
		c("19/32", 563, 625), c("5/8", 594, 656), c("23/32", 688, 750), c("3/4", 719, 781), c("7/8", 831, 919), c("1", 950, 1050), c("1-1/8", 1069, 1181),
	}
}

// CategorySource is where the performance categories come from.
var CategorySource = measure.Source{Ref: "PS 1-19, performance categories, thickness of unsanded, touch-sanded and overlaid panels"}

// Label is what a sheet sold under an inch name may really measure.
type Label struct {
	Thickness measure.Length
	What      string
}

// labelTrap says why Labels matters.
var labelTrap = measure.Source{Ref: "sheets sold by an inch name are made to several thicknesses; a groove takes the measured one", Standing: measure.Practice}

// Labels lists what a sheet sold under an inch name may measure, thinnest first: a metric sheet,
// a US category, or full thickness. A dado takes the thickness of the sheet in hand.
func Labels(nominal measure.Length) ([]Label, measure.Source) {
	mm, in := measure.MM, measure.Inch
	var out []Label
	switch nominal {
	case in / 8:
		out = []Label{{3 * mm, "3 mm birch"}, {in / 8, "full"}}
	case in / 4:
		out = []Label{{6 * mm, "6 mm birch"}, {in / 4, "full"}}
	case in * 3 / 8:
		out = []Label{{9 * mm, "9 mm birch"}, {in * 3 / 8, "full"}}
	case in / 2:
		out = []Label{{in * 15 / 32, "15/32"}, {12 * mm, "12 mm birch"}, {in / 2, "full"}}
	case in * 5 / 8:
		out = []Label{{15 * mm, "15 mm birch"}, {in * 19 / 32, "19/32"}, {in * 5 / 8, "full"}}
	case in * 3 / 4:
		out = []Label{{18 * mm, "18 mm birch"}, {in * 23 / 32, "23/32"}, {in * 3 / 4, "full"}}
	}
	return out, labelTrap
}

// Squareness of US plywood: the corners may be out by 1/64 in for each foot of the longest edge
// (PS 1-19). EN 315 allows 1 mm a metre.
func SquarenessPS1(longest measure.Length) measure.Length {
	return measure.Length(int64(longest) / int64(measure.Foot) * int64(measure.Inch/64))
}

// Plies is the usual number of plies of birch plywood of a metric thickness; ok is false for a
// thickness that mills do not list.
func Plies(t measure.Length) (n int, ok bool) {
	for _, p := range []struct {
		tenths int64
		n      int
	}{{40, 3}, {65, 5}, {90, 7}, {120, 9}, {150, 11}, {180, 13}, {210, 15}, {240, 17}, {270, 19}, {300, 21}} {
		if t == measure.MM/10*measure.Length(p.tenths) {
			return p.n, true
		}
	}
	return 0, false
}
