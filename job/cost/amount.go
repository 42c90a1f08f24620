package cost

import (
	"fmt"
	"math/big"
	"strings"
)

// The dimensions things are counted in; each amount is in the dimension's own
// base unit.
const (
	pieces = "pieces"
	volume = "ml"
	mass   = "g"
	length = "mm"
	area   = "m2"
	sheets = "sheets"
)

// amount is how much of a thing, exactly.
type amount struct {
	dim string
	v   *big.Rat
}

func count(n int) amount { return amount{pieces, new(big.Rat).SetInt64(int64(n))} }

// units of what is bought by measure, exact: the US gallon is 231 cubic
// inches, the pound 453.59237 g, the inch 25.4 mm.
var units = map[string]struct {
	dim string
	per string
}{
	"ml": {volume, "1"}, "cl": {volume, "10"}, "l": {volume, "1000"},
	"fl oz": {volume, "29.5735295625"}, "pt": {volume, "473.176473"}, "qt": {volume, "946.352946"}, "gal": {volume, "3785.411784"},
	"g": {mass, "1"}, "kg": {mass, "1000"}, "oz": {mass, "28.349523125"}, "lb": {mass, "453.59237"},
	"mm": {length, "1"}, "cm": {length, "10"}, "m": {length, "1000"}, "in": {length, "25.4"}, "ft": {length, "304.8"},
	"m2": {area, "1"}, "ft2": {area, "0.09290304"}, "sheets": {sheets, "1"},
}

// parseAmount reads a number with a unit, such as "500 ml".
func parseAmount(s string) (amount, error) {
	n, unit, _ := strings.Cut(strings.TrimSpace(s), " ")
	u, ok := units[strings.TrimSpace(unit)]
	v, okv := new(big.Rat).SetString(n)
	if !ok || !okv || len(n) > 32 || strings.ContainsAny(n, "eEpP/_") {
		return amount{}, fmt.Errorf("%q is not an amount", s)
	}
	per, _ := new(big.Rat).SetString(u.per)
	return amount{u.dim, v.Mul(v, per)}, nil
}

// plus adds an amount of the same dimension.
func (a amount) plus(b amount) amount {
	if a.v == nil {
		return b
	}
	if b.v == nil {
		return a
	}
	return amount{a.dim, new(big.Rat).Add(a.v, b.v)}
}

// less takes off as much as there is.
func (a amount) less(b amount) amount {
	if b.v == nil || a.v == nil {
		return a
	}
	d := new(big.Rat).Sub(a.v, b.v)
	if d.Sign() < 0 {
		d.SetInt64(0)
	}
	return amount{a.dim, d}
}

func (a amount) times(n int64) amount {
	return amount{a.dim, new(big.Rat).Mul(a.v, new(big.Rat).SetInt64(n))}
}

func (a amount) zero() bool { return a.v == nil || a.v.Sign() == 0 }

// String writes the amount for a person: whole millilitres and grams, tenths
// of litres, metres and square metres.
func (a amount) String() string {
	if a.v == nil {
		return "0"
	}
	big1000 := big.NewRat(1000, 1)
	scaled := func(unit string, places int) string {
		return trimZeros(new(big.Rat).Quo(a.v, big1000).FloatString(places)) + " " + unit
	}
	switch a.dim {
	case pieces:
		return trimZeros(a.v.FloatString(2))
	case volume:
		if a.v.Cmp(big1000) >= 0 {
			return scaled("l", 2)
		}
		return trimZeros(a.v.FloatString(0)) + " ml"
	case mass:
		if a.v.Cmp(big1000) >= 0 {
			return scaled("kg", 2)
		}
		return trimZeros(a.v.FloatString(0)) + " g"
	case length:
		return scaled("m", 2)
	}
	return trimZeros(a.v.FloatString(2)) + " " + a.dim
}

func trimZeros(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
