package measure

import (
	"math/big"
	"strings"
	"unicode"
)

// maxText bounds the characters of one length or sum, so that hostile input is refused
// before any work is done on it.
const maxText = 2000

// scanner walks over the characters of one text.
type scanner struct {
	r   []rune
	pos int
}

func newScanner(s string) *scanner { return &scanner{r: []rune(s)} }

func (s *scanner) eof() bool { return s.pos >= len(s.r) }

func (s *scanner) peek() rune { return s.at(0) }

func (s *scanner) at(n int) rune {
	if i := s.pos + n; i >= 0 && i < len(s.r) {
		return s.r[i]
	}
	return 0
}

func (s *scanner) skip() {
	for !s.eof() && isSpace(s.peek()) {
		s.pos++
	}
}

func (s *scanner) text(from int) string { return string(s.r[from:s.pos]) }

func (s *scanner) fail(from, to int, msg, hint string) *ParseError {
	if to > len(s.r) {
		to = len(s.r)
	}
	if from > to {
		from = to
	}
	return &ParseError{Col: from + 1, Msg: msg, Text: string(s.r[from:to]), Hint: hint}
}

func isSpace(r rune) bool { return unicode.IsSpace(r) || r == '\u202f' || r == '\u2009' }
func isDigit(r rune) bool { return r >= '0' && r <= '9' }

// isSlash takes the ASCII slash and the two fraction slashes.
func isSlash(r rune) bool { return r == '/' || r == '\u2044' || r == '\u2215' }

// isMinus takes the hyphen and the true minus sign.
func isMinus(r rune) bool { return r == '-' || r == '\u2212' }

// vulgar holds the one-character fractions of Unicode (Number Forms and Latin-1).
var vulgar = map[rune][2]int64{
	'¼': {1, 4}, '½': {1, 2}, '¾': {3, 4},
	'⅛': {1, 8}, '⅜': {3, 8}, '⅝': {5, 8}, '⅞': {7, 8},
	'⅓': {1, 3}, '⅔': {2, 3}, '⅕': {1, 5}, '⅖': {2, 5}, '⅗': {3, 5}, '⅘': {4, 5},
	'⅙': {1, 6}, '⅚': {5, 6}, '⅐': {1, 7}, '⅑': {1, 9}, '⅒': {1, 10},
}

// maxDigits bounds the digits of one number.
const maxDigits = 24

// number reads an unsigned number: `12`, `12.5`, `12,5`, `1/8`, `12 1/8`, `12-1/8`, `12⅛`, `⅛`.
// whole says that it was written without decimals or fraction. With commaStops a comma is
// never part of the number, and one between two digits is refused.
func (s *scanner) number(commaStops bool) (v *big.Rat, whole bool, err error) {
	start := s.pos
	if f, ok := vulgar[s.peek()]; ok {
		s.pos++
		return big.NewRat(f[0], f[1]), false, nil
	}
	digits := s.digits()
	if digits == "" && !((s.peek() == '.' || s.peek() == ',') && isDigit(s.at(1))) {
		return nil, false, s.fail(s.pos, s.pos+1, "a number is wanted here", "")
	}
	if len(digits) > maxDigits {
		return nil, false, s.fail(start, s.pos, "too many digits", "")
	}
	v = new(big.Rat)
	if digits != "" {
		v.SetString(digits)
	}
	switch c := s.peek(); {
	case c == '.' && isDigit(s.at(1)), c == ',' && isDigit(s.at(1)):
		if err := s.decimals(v, start, digits, commaStops); err != nil {
			return nil, false, err
		}
		return v, false, nil
	case isSlash(c) && isDigit(s.at(1)):
		return s.fraction(start, v)
	case vulgar[c] != [2]int64{}:
		f := vulgar[c]
		s.pos++
		return v.Add(v, big.NewRat(f[0], f[1])), false, nil
	}
	// a mixed number: `12 1/8`, `12-1/8`, `12 ⅛`, `12-⅛`
	save := s.pos
	if isMinus(s.peek()) || isSpace(s.peek()) {
		if isMinus(s.peek()) {
			s.pos++
		} else {
			s.skip()
		}
		part := s.pos
		if f, ok := vulgar[s.peek()]; ok {
			s.pos++
			return v.Add(v, big.NewRat(f[0], f[1])), false, nil
		}
		if n := s.digits(); n != "" && isSlash(s.peek()) && isDigit(s.at(1)) {
			num, _ := new(big.Rat).SetString(n)
			f, _, err := s.fraction(part, num)
			if err != nil {
				return nil, false, err
			}
			if f.Cmp(big.NewRat(1, 1)) >= 0 {
				return nil, false, s.fail(part, s.pos, "the fraction of a mixed number must be under one",
					"to subtract, put a space on both sides of the minus")
			}
			return v.Add(v, f), false, nil
		}
	}
	s.pos = save
	return v, true, nil
}

func (s *scanner) digits() string {
	start := s.pos
	for isDigit(s.peek()) {
		s.pos++
	}
	return s.text(start)
}

// decimals reads the point or comma and what follows it into v.
func (s *scanner) decimals(v *big.Rat, start int, digits string, commaStops bool) error {
	sep := s.peek()
	if sep == ',' && commaStops {
		return s.fail(start, s.pos+2, "a comma between two digits could part two numbers or be a decimal comma",
			"put a space after a comma that parts two numbers, and write decimals with a point")
	}
	s.pos++
	frac := s.digits()
	if len(frac) > maxDigits {
		return s.fail(start, s.pos, "too many digits", "")
	}
	if next := s.peek(); (next == '.' || next == ',') && isDigit(s.at(1)) {
		s.pos++
		s.digits()
		return s.fail(start, s.pos, "more than one point or comma in a number", "write it without thousands separators")
	}
	if sep == ',' && len(frac) == 3 && digits != "" && digits != "0" {
		return s.fail(start, s.pos, "the comma could be decimal or part thousands",
			"write "+digits+"."+frac+" or "+digits+frac)
	}
	f, _ := new(big.Rat).SetString("0." + frac)
	v.Add(v, f)
	return nil
}

// fraction reads `/den` after a numerator.
func (s *scanner) fraction(start int, num *big.Rat) (*big.Rat, bool, error) {
	s.pos++
	d := s.digits()
	if len(d) > maxDigits {
		return nil, false, s.fail(start, s.pos, "too many digits", "")
	}
	den, _ := new(big.Rat).SetString(d)
	if den.Sign() == 0 {
		return nil, false, s.fail(start, s.pos, "a fraction over zero", "")
	}
	if next := s.peek(); (next == '.' || next == ',') && isDigit(s.at(1)) {
		s.pos++
		s.digits()
		return nil, false, s.fail(start, s.pos, "a fraction of decimals", "write whole numbers over and under the slash")
	}
	return new(big.Rat).Quo(num, den), false, nil
}

// isUnitWord says that a word is a unit of length, and which.
func unitWord(w string) (Length, bool) {
	switch strings.ToLower(w) {
	case "mm", "millimetre", "millimetres", "millimeter", "millimeters":
		return MM, true
	case "cm", "centimetre", "centimetres", "centimeter", "centimeters":
		return CM, true
	case "m", "metre", "metres", "meter", "meters":
		return Metre, true
	case "in", "inch", "inches":
		return Inch, true
	case "ft", "foot", "feet":
		return Foot, true
	}
	return 0, false
}

// unit reads a unit's mark or name at the current place, after optional space. It moves on
// only when there is one. A word that is no unit is left alone.
func (s *scanner) unit() (Length, bool) {
	save := s.pos
	s.skip()
	switch c := s.peek(); c {
	case '"', '″', '”', '“', '〃', '\u02ba':
		s.pos++
		return Inch, true
	case '\'', '′', '’', '‘', '\u02b9':
		s.pos++
		if c2 := s.peek(); c2 == c { // '' is how some keyboards write an inch mark
			s.pos++
			return Inch, true
		}
		return Foot, true
	}
	start := s.pos
	for unicode.IsLetter(s.peek()) {
		s.pos++
	}
	if u, ok := unitWord(s.text(start)); ok && !isNameRune(s.peek()) {
		return u, true
	}
	s.pos = save
	return 0, false
}

// quantity reads one unsigned length or bare number: a number and its unit, or feet and inches.
// unit is 0 for a bare number, and v is then in whatever unit the caller takes it for;
// otherwise v is in units of 1/400000 mm.
func (s *scanner) quantity(commaStops bool) (v *big.Rat, unit Length, err error) {
	start := s.pos
	v, whole, err := s.number(commaStops)
	if err != nil {
		return nil, 0, err
	}
	unit, ok := s.unit()
	if !ok {
		return v, 0, nil
	}
	v.Mul(v, unit.Rat())
	if unit != Foot {
		return v, unit, nil
	}
	// feet may be followed by inches
	save := s.pos
	s.skip()
	if isMinus(s.peek()) && s.pos == save && (isDigit(s.at(1)) || vulgar[s.at(1)] != [2]int64{}) {
		s.pos++ // 1'-6" is how drawings write it
	}
	_, isVulgar := vulgar[s.peek()]
	if !isDigit(s.peek()) && !isVulgar {
		s.pos = save
		return v, Foot, nil
	}
	inStart := s.pos
	in, _, err := s.number(commaStops)
	if err != nil {
		return nil, 0, err
	}
	u2, named := s.unit()
	if named && u2 != Inch {
		return nil, 0, s.fail(inStart, s.pos, "only inches can follow feet", "")
	}
	if !whole {
		return nil, 0, s.fail(start, s.pos, "feet with a fraction cannot be followed by inches", "write whole feet, then inches")
	}
	if in.Cmp(big.NewRat(12, 1)) >= 0 {
		return nil, 0, s.fail(inStart, s.pos, "inches after feet must be under 12", "")
	}
	return v.Add(v, in.Mul(in, Inch.Rat())), Foot, nil
}

func isNameRune(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' }
