package wood

import (
	"fmt"

	"caul/job/measure"
)

// EMCSource is where the moisture equation and its coefficients come from.
var EMCSource = measure.Source{Ref: "Wood Handbook, FPL-GTR-190, ch. 4 eq. (4-5), coefficients as in FPL-RN-0268 (Simpson 1998)"}

// EMC is the equilibrium moisture content of wood, in percent of its ovendry mass, in air of a
// temperature and a relative humidity in percent. It is the two-hydrate form of Hailwood and
// Horrobin, which holds for any species for most practical purposes. Humidity outside 0 to 100
// and air outside -20 to 70 °C are errors.
func EMC(t measure.Temperature, humidity float64) (float64, error) {
	if !(humidity >= 0 && humidity <= 100) {
		return 0, fmt.Errorf("a relative humidity of %v %% is not between 0 and 100", humidity)
	}
	c := t.C()
	if c < -20 || c > 70 {
		return 0, fmt.Errorf("%v is outside the -20 to 70 C for which the moisture equation was fitted", t)
	}
	w := 349 + 1.29*c + 0.0135*c*c
	k := 0.805 + 7.36e-4*c - 2.73e-6*c*c
	k1 := 6.27 - 9.38e-3*c - 3.03e-4*c*c
	k2 := 1.91 + 4.07e-2*c - 2.93e-4*c*c
	kh := k * humidity / 100
	return 1800 / w * (kh/(1-kh) + (k1*kh+2*k1*k2*kh*kh)/(1+k1*kh+k1*k2*kh*kh)), nil
}

// FibreSaturation is the average moisture content, in percent, below which wood shrinks
// (Wood Handbook ch. 4).
const FibreSaturation = 30.0

// Grain is how a board was sawn, which decides how much its width moves.
type Grain string

const (
	Flat    Grain = "flat"    // growth rings along the face: the width is tangential
	Quarter Grain = "quarter" // growth rings across the board: the width is radial
)

// ParseGrain reads flat or quarter.
func ParseGrain(s string) (Grain, error) {
	switch s {
	case "flat", "flat-sawn", "plain", "plain-sawn", "tangential", "":
		return Flat, nil
	case "quarter", "quarter-sawn", "radial":
		return Quarter, nil
	}
	return "", fmt.Errorf("grain is flat or quarter, not %q", s)
}

// Movement is what a board does across the grain between two moisture contents.
type Movement struct {
	Change      measure.Length // positive is swelling
	Coefficient float64        // per 1 % of moisture
	OutOfRange  bool           // an end lies outside 6 to 14 %, where the coefficient was not meant to be used
	Source      measure.Source
}

// MovementSource is where the movement equation comes from.
var MovementSource = measure.Source{Ref: "Wood Handbook, FPL-GTR-190, ch. 13 eq. (13-2), for moisture contents from 6 to 14 %"}

// Move gives the change of a dimension across the grain from one moisture content to another,
// both in percent. Outside 6 to 14 % the answer is marked, not hidden. Along the grain wood
// hardly moves (0.1 to 0.2 % from green to ovendry), and jigs may take it as nothing.
func (s *Species) Move(size measure.Length, g Grain, from, to float64) (Movement, error) {
	c, src := s.Tangential, s.TangentialSource
	if g == Quarter {
		c, src = s.Radial, s.RadialSource
	}
	if c == 0 {
		return Movement{}, fmt.Errorf("no movement coefficient is known for %s", s.Name)
	}
	for _, m := range []float64{from, to} {
		if !(m >= 0 && m <= FibreSaturation) {
			return Movement{}, fmt.Errorf("a moisture content of %v %% is not between 0 and 30, where wood moves", m)
		}
	}
	return Movement{
		Change:      measure.FromMillimetres(size.Millimetres() * c * (to - from)),
		Coefficient: c,
		OutOfRange:  from < 6 || from > 14 || to < 6 || to > 14,
		Source:      src,
	}, nil
}

// MoveByShrinkage is the second form, eq. (13-3), from the shrinkage S in percent from green to
// ovendry: D (MF - MI) / (30 * 100/S - 30 + MI).
func MoveByShrinkage(size measure.Length, shrinkage, from, to float64) (measure.Length, error) {
	if !(shrinkage > 0 && shrinkage < 50) {
		return 0, fmt.Errorf("a shrinkage of %v %% is not between 0 and 50", shrinkage)
	}
	return measure.FromMillimetres(size.Millimetres() * (to - from) / (30*100/shrinkage - 30 + from)), nil
}

// CoefficientOf works a movement coefficient out of the shrinkage in percent, taken as a
// straight line from the moisture content ms (30 %, or 22 % for a few species), relative to the
// size at 10 % (footnotes to Wood Handbook Table 13-5).
func CoefficientOf(shrinkage, ms float64) float64 {
	return shrinkage / (100*ms - shrinkage*(ms-10))
}

// Density of solid wood in kg/m³ at a moisture content in percent, from the specific gravity
// at that moisture (ovendry mass over volume): 1000 G (1 + M/100), Wood Handbook ch. 4.
func Density(specificGravity, moisture float64) float64 {
	return 1000 * specificGravity * (1 + moisture/100)
}

// Mass of a volume of a density in kg/m³. The three lengths are a box's.
func Mass(density float64, x, y, z measure.Length) measure.Mass {
	return measure.Mass(density * x.Millimetres() * y.Millimetres() * z.Millimetres() / 1e6)
}
