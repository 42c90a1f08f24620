package measure

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// ParseLength reads one length as a maker writes it. A number without a unit is in the
// default system's unit. A length finer than 1/400000 mm, such as 1/3 in, is refused: nothing
// is rounded behind the maker's back. Errors are *ParseError.
func ParseLength(text string, def System) (Length, error) {
	s, err := startScan(text, "a length")
	if err != nil {
		return 0, err
	}
	neg := false
	if c := s.peek(); isMinus(c) || c == '+' {
		neg = isMinus(c)
		s.pos++
		s.skip()
	}
	start := s.pos
	v, unit, err := s.quantity(false)
	if err != nil {
		return 0, err
	}
	end := s.pos
	s.skip()
	if !s.eof() {
		return 0, s.trailing()
	}
	if unit == 0 {
		v.Mul(v, def.Unit().Rat())
	}
	if neg {
		v.Neg(v)
	}
	l, exact, err := FromRat(v)
	if err != nil {
		return 0, s.fail(start, end, "longer than 100 km", "")
	}
	if !exact {
		return 0, s.fail(start, end, "finer than can be kept (1/400000 mm)", "the nearest is "+l.String())
	}
	return l, nil
}

// startScan checks what every parser checks and skips leading space.
func startScan(text, want string) (*scanner, error) {
	if !utf8.ValidString(text) {
		return nil, &ParseError{Col: 1, Msg: want + " is wanted, and this is not valid UTF-8", Text: strings.ToValidUTF8(text, "?")}
	}
	s := newScanner(text)
	if len(s.r) > maxText {
		return nil, &ParseError{Col: 1, Msg: "too long to be " + want, Text: text}
	}
	s.skip()
	if s.eof() {
		return nil, &ParseError{Col: s.pos + 1, Msg: want + " is wanted, and nothing is here", Text: strings.TrimSpace(text)}
	}
	return s, nil
}

// trailing makes the error for what is left over after a whole length.
func (s *scanner) trailing() *ParseError {
	start := s.pos
	if unicode.IsLetter(s.peek()) {
		for isNameRune(s.peek()) {
			s.pos++
		}
		return s.fail(start, s.pos, "unknown unit", "write in, ft, mm, cm or m")
	}
	return s.fail(start, len(s.r), "cannot read what follows the length", "")
}
