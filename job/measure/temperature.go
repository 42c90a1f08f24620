package measure

import (
	"math"
	"math/big"
	"strings"
)

// Temperature is a whole number of 1/900 °C from 0 °C, so that both 0.01 °C (9) and 0.01 °F (5)
// are exact.
type Temperature int64

// Scale is a temperature scale.
type Scale byte

const (
	Celsius    Scale = 'C'
	Fahrenheit Scale = 'F'
)

const (
	perC Temperature = 900
	perF Temperature = 500
)

// InCelsius rounds a float to a Temperature, for figures out of a table.
func InCelsius(c float64) Temperature { return Temperature(math.Round(c * float64(perC))) }

// InFahrenheit rounds a float to a Temperature, for figures out of a table.
func InFahrenheit(f float64) Temperature { return Temperature(math.Round((f - 32) * float64(perF))) }

// C is the temperature in °C, for physics.
func (t Temperature) C() float64 { return float64(t) / float64(perC) }

// F is the temperature in °F, for physics.
func (t Temperature) F() float64 { return float64(t)/float64(perF) + 32 }

// Kelvin is the absolute temperature, for reaction rates.
func (t Temperature) Kelvin() float64 { return t.C() + 273.15 }

// ParseTemperature reads `16 C`, `61 F`, `16 °C`, `-3.5C`; a bare number is refused, because 60
// is a warm shop in one scale and a burn in the other. Steps finer than 0.01 degree and
// temperatures below absolute zero or over 1000 °C are refused. Errors are *ParseError.
func ParseTemperature(text string) (Temperature, error) {
	s, err := startScan(text, "a temperature")
	if err != nil {
		return 0, err
	}
	start := s.pos
	neg := isMinus(s.peek())
	if neg || s.peek() == '+' {
		s.pos++
		s.skip()
	}
	v, _, err := s.number(false)
	if err != nil {
		return 0, err
	}
	end := s.pos
	if neg {
		v.Neg(v)
	}
	s.skip()
	unitAt := s.pos
	for !s.eof() && !isSpace(s.peek()) {
		s.pos++
	}
	word := s.text(unitAt)
	s.skip()
	if rest := s.pos; !s.eof() && (word == "°" || word == "º" || strings.EqualFold(word, "deg") || strings.EqualFold(word, "degrees")) {
		for !s.eof() && !isSpace(s.peek()) {
			s.pos++
		}
		word = s.text(rest)
		s.skip()
	}
	if !s.eof() {
		return 0, s.fail(s.pos, len(s.r), "cannot read what follows the temperature", "")
	}
	per, zero := perC, int64(0)
	switch strings.ToLower(strings.TrimLeft(word, "°º")) {
	case "c", "celsius", "℃":
	case "f", "fahrenheit", "℉":
		per, zero = perF, 32
	case "":
		return 0, s.fail(start, end, "a temperature without a scale", "write 16 C or 61 F")
	default:
		return 0, s.fail(unitAt, len(s.r), "unknown temperature scale", "write C or F")
	}
	v.Sub(v, new(big.Rat).SetInt64(zero))
	hundredths := new(big.Rat).Mul(v, big.NewRat(100, 1))
	if !hundredths.IsInt() {
		return 0, s.fail(start, end, "finer than a hundredth of a degree", "")
	}
	v.Mul(v, new(big.Rat).SetInt64(int64(per)))
	if v.Cmp(new(big.Rat).SetInt64(-245_835)) < 0 { // -273.15 °C
		return 0, s.fail(start, end, "colder than absolute zero", "")
	}
	if v.Cmp(new(big.Rat).SetInt64(900_000)) > 0 {
		return 0, s.fail(start, end, "hotter than 1000 C", "")
	}
	return Temperature(v.Num().Int64()), nil
}

// FormatIn writes the temperature in a scale, to a tenth of a degree: `16 °C`, `60.8 °F`.
func (t Temperature) FormatIn(sc Scale) string {
	if sc == Fahrenheit {
		r := big.NewRat(int64(t), int64(perF))
		return ratFixed(r.Add(r, big.NewRat(32, 1)), 1) + " °F"
	}
	return ratFixed(big.NewRat(int64(t), int64(perC)), 1) + " °C"
}

// String writes the temperature so that it reads back the same where it was read from text:
// in °C when that is exact to 0.01, else in °F.
func (t Temperature) String() string {
	if t%9 != 0 && t%5 == 0 {
		r := big.NewRat(int64(t), int64(perF))
		return ratFixed(r.Add(r, big.NewRat(32, 1)), 2) + " F"
	}
	return ratFixed(big.NewRat(int64(t), int64(perC)), 2) + " C"
}
