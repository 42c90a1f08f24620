package measure

import (
	"fmt"
	"math"
	"math/big"
	"strings"
)

// Length is a whole number of 1/400000 mm (2.5 nanometres).
type Length int64

// Lengths of one of each unit, exact by definition (1 in = 25.4 mm).
const (
	MM    Length = 400_000
	CM    Length = 10 * MM
	Metre Length = 1000 * MM
	Inch  Length = 10_160_000
	Foot  Length = 12 * Inch

	// MaxLength is the longest length that is read from text: 100 km.
	MaxLength Length = 100_000 * Metre
)

// System is the shop's system of units.
type System uint8

const (
	Inches System = iota // inches and fractions
	Metric               // millimetres
)

// Name is the unit's short name: "in" or "mm".
func (s System) Name() string {
	if s == Metric {
		return "mm"
	}
	return "in"
}

// Unit is one of the system's unit.
func (s System) Unit() Length {
	if s == Metric {
		return MM
	}
	return Inch
}

// ParseSystem reads "in"/"inch"/"inches" or "mm"/"metric".
func ParseSystem(s string) (System, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "in", "inch", "inches":
		return Inches, nil
	case "mm", "metric", "millimetres", "millimeters":
		return Metric, nil
	}
	return 0, &ParseError{Col: 1, Msg: "unknown units", Text: s, Hint: "write in or mm"}
}

// Units says how the shop writes its lengths.
type Units struct {
	System System
	// Mark is the finest mark the maker reads: the denominator of an inch (2 to 128, a
	// power of two; 0 means 64), or the decimals of a millimetre (1 or 2; 0 means 1).
	Mark int
}

func (u Units) denominator() int64 {
	switch u.Mark {
	case 1, 2, 4, 8, 16, 32, 64, 128:
		return int64(u.Mark)
	}
	return 64
}

func (u Units) decimals() int {
	if u.Mark == 2 {
		return 2
	}
	return 1
}

// Check refuses a mark that no rule has.
func (u Units) Check() error {
	if u.System == Metric {
		if u.Mark < 0 || u.Mark > 2 {
			return fmt.Errorf("finest mark in mm is 1 or 2 decimals, not %d", u.Mark)
		}
		return nil
	}
	if u.Mark != 0 && u.denominator() != int64(u.Mark) {
		return fmt.Errorf("finest mark of an inch is 2, 4, 8, 16, 32, 64 or 128, not %d", u.Mark)
	}
	return nil
}

// Step is the length of the shop's finest mark.
func (u Units) Step() Length {
	if u.System == Metric {
		if u.decimals() == 2 {
			return MM / 100
		}
		return MM / 10
	}
	return Inch / Length(u.denominator())
}

// Round gives the length on the shop's finest mark that is nearest, halves away from zero.
func (l Length) Round(u Units) Length { return roundTo(l, u.Step()) }

func roundTo(l, step Length) Length {
	q, r := l/step, l%step
	if r < 0 {
		if -r >= step-(-r) {
			q--
		}
	} else if r >= step-r && r > 0 {
		q++
	}
	return q * step
}

// Format writes a length in the shop's units without naming the unit: inches as a reduced
// fraction to the finest mark, followed by what is left over when that is not exact
// (`12-1/8 (+0.003)` is 12-1/8 and 0.003 in more); millimetres rounded to the shop's
// decimals, without closing zeros.
func Format(l Length, u Units) string {
	if u.System == Metric {
		return decimal(int64(roundTo(l, u.Step())), int64(MM), u.decimals())
	}
	near := l.Round(u)
	s := inchFraction(near)
	if rest := l - near; rest != 0 {
		s += " (" + smallInches(rest) + ")"
	}
	return s
}

// FormatUnit is Format with the unit's name behind the number: `12-1/8 in (+0.003)`, `308 mm`.
func FormatUnit(l Length, u Units) string {
	s := Format(l, u)
	if i := strings.Index(s, " ("); i >= 0 {
		return s[:i] + " " + u.System.Name() + s[i:]
	}
	return s + " " + u.System.Name()
}

// Exact writes a length so that reading it back gives the same length to the last unit:
// in the shop's own units where they can say it (an inch fraction down to 1/128, an inch
// decimal down to 0.0001), else in millimetres. The unit is always named.
func Exact(l Length, u Units) string {
	if u.System == Inches {
		if l%(Inch/128) == 0 {
			return inchFraction(l) + " in"
		}
		if l%(Inch/10000) == 0 {
			return decimal(int64(l), int64(Inch), 4) + " in"
		}
	}
	return l.String()
}

// String writes the length exactly, in decimal millimetres: `19.05 mm`.
func (l Length) String() string { return decimal(int64(l), int64(MM), 7) + " mm" }

// decimal writes n/per with the given decimals, which must be enough to be exact or n
// already rounded to them, and drops closing zeros.
func decimal(n, per int64, places int) string {
	neg := n < 0
	u := uint64(n)
	if neg {
		u = -u
	}
	whole, rest := u/uint64(per), u%uint64(per)
	var b strings.Builder
	if neg {
		b.WriteByte('-')
	}
	fmt.Fprintf(&b, "%d", whole)
	if rest != 0 {
		var d strings.Builder
		for i := 0; i < places && rest != 0; i++ {
			rest *= 10
			d.WriteByte(byte('0' + rest/uint64(per)))
			rest %= uint64(per)
		}
		if s := strings.TrimRight(d.String(), "0"); s != "" {
			b.WriteString("." + s)
		}
	}
	return b.String()
}

// inchFraction writes a multiple of 1/128 in as whole and reduced fraction.
func inchFraction(l Length) string {
	sign := ""
	u := uint64(l)
	if l < 0 {
		sign, u = "-", -u
	}
	whole, n, d := u/uint64(Inch), (u%uint64(Inch))/uint64(Inch/128), uint64(128)
	for n != 0 && n%2 == 0 {
		n, d = n/2, d/2
	}
	switch {
	case n == 0:
		return fmt.Sprintf("%s%d", sign, whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d", sign, n, d)
	}
	return fmt.Sprintf("%s%d-%d/%d", sign, whole, n, d)
}

// smallInches writes a left-over with its sign, to as many decimals as it needs to be seen.
func smallInches(l Length) string {
	sign := "+"
	if l < 0 {
		sign, l = "-", -l
	}
	switch {
	case l >= Inch/2000:
		return sign + fixed(int64(roundTo(l, Inch/1000)), int64(Inch), 3)
	case l >= Inch/20000:
		return sign + fixed(int64(roundTo(l, Inch/10000)), int64(Inch), 4)
	}
	return sign + "<0.0001"
}

// fixed is decimal with closing zeros kept.
func fixed(n, per int64, places int) string {
	s := decimal(n, per, places)
	i := strings.IndexByte(s, '.')
	if i < 0 {
		s += "."
		i = len(s) - 1
	}
	for len(s)-i-1 < places {
		s += "0"
	}
	return s
}

// Millimetres gives the length as a float, for physics only.
func (l Length) Millimetres() float64 { return float64(l) / float64(MM) }

// Inches gives the length as a float, for physics only.
func (l Length) Inches() float64 { return float64(l) / float64(Inch) }

// FromMillimetres rounds a float to a Length. It saturates at MaxLength; NaN gives 0.
func FromMillimetres(f float64) Length { return fromFloat(f * float64(MM)) }

// FromInches rounds a float to a Length. It saturates at MaxLength; NaN gives 0.
func FromInches(f float64) Length { return fromFloat(f * float64(Inch)) }

func fromFloat(f float64) Length {
	switch {
	case math.IsNaN(f):
		return 0
	case f >= float64(MaxLength):
		return MaxLength
	case f <= -float64(MaxLength):
		return -MaxLength
	}
	return Length(math.Round(f))
}

// Frac is whole + num/den inches, for figures out of a table. den must divide an inch's
// 10,160,000 units; it is for constants, and anything else is rounded down.
func Frac(whole, num, den int64) Length {
	if den == 0 {
		return Length(whole) * Inch
	}
	return Length(whole)*Inch + Inch*Length(num)/Length(den)
}

// Abs is the length without its sign.
func (l Length) Abs() Length {
	if l < 0 {
		return -l
	}
	return l
}

// Add sums lengths, with an error instead of an overflow.
func Add(ls ...Length) (Length, error) {
	var sum Length
	for _, l := range ls {
		s := sum + l
		if (l > 0 && s < sum) || (l < 0 && s > sum) {
			return 0, fmt.Errorf("the sum of the lengths is too large")
		}
		sum = s
	}
	return sum, nil
}

// Rat is the exact number of units, for exact sums outside this package.
func (l Length) Rat() *big.Rat { return new(big.Rat).SetInt64(int64(l)) }

// FromRat rounds an exact number of units to a Length, halves away from zero, and says
// whether it was whole. A length beyond MaxLength is an error.
func FromRat(r *big.Rat) (l Length, exact bool, err error) {
	q, exact := roundRat(r)
	if !q.IsInt64() || Length(q.Int64()).tooLong() {
		return 0, false, fmt.Errorf("length is beyond 100 km")
	}
	return Length(q.Int64()), exact, nil
}

func (l Length) tooLong() bool { return l > MaxLength || l < -MaxLength }

// roundRat rounds to a whole number, halves away from zero.
func roundRat(r *big.Rat) (*big.Int, bool) {
	if r.IsInt() {
		return new(big.Int).Set(r.Num()), true
	}
	// floor((2|n| + d) / 2d), then the sign back
	n := new(big.Int).Abs(r.Num())
	n.Lsh(n, 1).Add(n, r.Denom())
	n.Quo(n, new(big.Int).Lsh(r.Denom(), 1))
	if r.Sign() < 0 {
		n.Neg(n)
	}
	return n, false
}
