package measure

import "math/big"

// These make JSON and other text encodings of quantities exact and readable by
// a script: a length as decimal millimetres, a duration as caul reads one, a
// temperature in Celsius, money with its ISO 4217 code.

// MarshalText writes the length exactly: `19.05 mm`.
func (l Length) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads a length; a bare number is millimetres. Errors are
// *ParseError.
func (l *Length) UnmarshalText(b []byte) error {
	v, err := ParseLength(string(b), Metric)
	if err == nil {
		*l = v
	}
	return err
}

// MarshalText writes the duration: `1 h 30 min`.
func (s Span) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a duration. Errors are *ParseError.
func (s *Span) UnmarshalText(b []byte) error {
	v, err := ParseSpan(string(b))
	if err == nil {
		*s = v
	}
	return err
}

// MarshalText writes the temperature to a hundredth of a degree: `16 C`, or in
// Fahrenheit where only that is exact: `61.5 F`.
func (t Temperature) MarshalText() ([]byte, error) {
	if t%(perC/100) != 0 && t%(perF/100) == 0 {
		r := big.NewRat(int64(t), int64(perF))
		return []byte(ratFixed(r.Add(r, big.NewRat(32, 1)), 2) + " F"), nil
	}
	return []byte(ratFixed(big.NewRat(int64(t), int64(perC)), 2) + " C"), nil
}

// UnmarshalText reads a temperature. Errors are *ParseError.
func (t *Temperature) UnmarshalText(b []byte) error {
	v, err := ParseTemperature(string(b))
	if err == nil {
		*t = v
	}
	return err
}

// MarshalText writes the amount with its currency: `12.50 USD`.
func (m Money) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads an amount with its currency. Errors are *ParseError.
func (m *Money) UnmarshalText(b []byte) error {
	v, err := ParseMoney(string(b), "")
	if err == nil {
		*m = v
	}
	return err
}
