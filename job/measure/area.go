package measure

import (
	"math/big"
)

// Area is an exact area: any sum of rectangles of exact lengths, however many. The zero
// value is no area.
type Area struct {
	v *big.Int // square units of (1/400000 mm)²; nil is zero
}

func (a Area) int() *big.Int {
	if a.v == nil {
		return new(big.Int)
	}
	return a.v
}

// Rect is the area of a rectangle.
func Rect(a, b Length) Area {
	return Area{new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b)))}
}

// Plus is the sum of two areas.
func (a Area) Plus(b Area) Area { return Area{new(big.Int).Add(a.int(), b.int())} }

// Minus is the difference of two areas; it may be negative.
func (a Area) Minus(b Area) Area { return Area{new(big.Int).Sub(a.int(), b.int())} }

// Times is n such areas.
func (a Area) Times(n int64) Area { return Area{new(big.Int).Mul(a.int(), big.NewInt(n))} }

// Cmp is -1, 0 or 1 as a is smaller than, equal to or larger than b.
func (a Area) Cmp(b Area) int { return a.int().Cmp(b.int()) }

// Sign is -1, 0 or 1.
func (a Area) Sign() int { return a.int().Sign() }

func (a Area) per(side Length) *big.Rat {
	return new(big.Rat).SetFrac(a.int(), Rect(side, side).v)
}

// SquareMetres, SquareFeet and SquareInches give the area as floats, for physics and show.
func (a Area) SquareMetres() float64 { f, _ := a.per(Metre).Float64(); return f }

// SquareFeet is the area in square feet.
func (a Area) SquareFeet() float64 { f, _ := a.per(Foot).Float64(); return f }

// SquareInches is the area in square inches.
func (a Area) SquareInches() float64 { f, _ := a.per(Inch).Float64(); return f }

// FormatArea writes an area in the shop's units: square inches under one square foot and
// square feet above, to 0.1 and 0.01; or cm² under 0.1 m² and m² above, to 0.1 and 0.001.
func FormatArea(a Area, u Units) string {
	abs := Area{new(big.Int).Abs(a.int())}
	if u.System == Metric {
		if abs.Cmp(Rect(Metre, Metre/10)) < 0 {
			return ratFixed(a.per(CM), 1) + " cm²"
		}
		return ratFixed(a.per(Metre), 3) + " m²"
	}
	if abs.Cmp(Rect(Foot, Foot)) < 0 {
		return ratFixed(a.per(Inch), 1) + " sq in"
	}
	return ratFixed(a.per(Foot), 2) + " sq ft"
}

// String writes the area in m², to the square millimetre.
func (a Area) String() string { return ratFixed(a.per(Metre), 6) + " m²" }

// ratFixed writes a fraction to a number of decimals, halves away from zero, closing zeros dropped.
func ratFixed(r *big.Rat, places int) string {
	s := r.FloatString(places)
	i := len(s)
	for places > 0 && s[i-1] == '0' {
		i--
		places--
	}
	if s[i-1] == '.' {
		i--
	}
	if s[:i] == "-0" {
		return "0"
	}
	return s[:i]
}
