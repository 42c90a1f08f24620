package measure

import (
	"fmt"
	"math/big"
	"strings"
	"unicode/utf8"
)

// Money is an exact sum in one currency: a whole number of its minor unit (a cent, a penny, a
// yen) and its ISO 4217 code. The zero value is no money in no currency and can be added to any.
type Money struct {
	Minor int64  `json:"minor"`
	Code  string `json:"code"`
}

// minorUnits is the decimals of each currency, from ISO 4217:2015 list one, as published by
// its maintenance agency.
var minorUnits = map[string]int{
	"AED": 2, "ARS": 2, "AUD": 2, "BDT": 2, "BGN": 2, "BHD": 3, "BRL": 2, "CAD": 2, "CHF": 2, "CLP": 0,
	"CNY": 2, "COP": 2, "CRC": 2, "CZK": 2, "DKK": 2, "DOP": 2, "EGP": 2, "EUR": 2, "GBP": 2, "GTQ": 2,
	"HKD": 2, "HUF": 2, "IDR": 2, "ILS": 2, "INR": 2, "IQD": 3, "ISK": 0, "JMD": 2, "JOD": 3, "JPY": 0,
	"KES": 2, "KRW": 0, "KWD": 3, "KZT": 2, "LKR": 2, "LYD": 3, "MAD": 2, "MXN": 2, "MYR": 2, "NGN": 2,
	"NOK": 2, "NZD": 2, "OMR": 3, "PEN": 2, "PHP": 2, "PKR": 2, "PLN": 2, "PYG": 0, "QAR": 2, "RON": 2,
	"RSD": 2, "SAR": 2, "SEK": 2, "SGD": 2, "THB": 2, "TND": 3, "TRY": 2, "TWD": 2, "TZS": 2, "UAH": 2,
	"UGX": 0, "USD": 2, "UYU": 2, "VND": 0, "XAF": 0, "XOF": 0, "ZAR": 2,
}

// symbols are the signs that stand for a currency only when the shop's own uses it.
var symbols = map[rune][]string{
	'$': {"USD", "AUD", "CAD", "NZD", "HKD", "SGD", "TWD", "MXN", "ARS", "CLP", "COP", "DOP", "JMD", "UYU"},
	'£': {"GBP", "EGP"},
	'€': {"EUR"},
	'¥': {"JPY", "CNY"},
	'₹': {"INR"},
	'₩': {"KRW"},
}

// Decimals is the number of decimals of a currency, by ISO 4217; ok is false when it is not known here.
func Decimals(code string) (n int, ok bool) {
	n, ok = minorUnits[code]
	return n, ok
}

const maxMinor = 1_000_000_000_000_000 // ten million million of a two-decimal currency

// ParseMoney reads `12.50 USD`, `USD 12.50`, `1,250.00 USD`, and, when the shop's currency is
// given in def, `12.50` and `$12.50`. More decimals than the currency has are refused, not
// rounded. Errors are *ParseError.
func ParseMoney(text, def string) (Money, error) {
	s, err := startScan(text, "a price")
	if err != nil {
		return Money{}, err
	}
	code, symCol, sym := "", 0, rune(0)
	neg := false
	var amount string
	amountAt, amountEnd := -1, 0
	word := func() {
		start := s.pos
		for (s.peek() >= 'A' && s.peek() <= 'Z') || (s.peek() >= 'a' && s.peek() <= 'z') {
			s.pos++
		}
		code = strings.ToUpper(s.text(start))
	}
	for !s.eof() {
		start := s.pos
		c := s.peek()
		_, isSymbol := symbols[c]
		switch {
		case isMinus(c) && amountAt < 0 && !neg:
			neg = true
			s.pos++
		case isSymbol && code == "" && sym == 0:
			sym, symCol = c, s.pos
			s.pos++
		case (isDigit(c) || c == '.') && amountAt < 0:
			amountAt = s.pos
			for isDigit(s.peek()) || s.peek() == '.' || s.peek() == ',' {
				s.pos++
			}
			amount, amountEnd = s.text(start), s.pos
		case code == "" && sym == 0 && ((c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z')):
			word()
			if _, ok := minorUnits[code]; !ok {
				return Money{}, s.fail(start, s.pos, "unknown currency", "write an ISO 4217 code such as USD, EUR or GBP")
			}
		default:
			return Money{}, s.fail(start, len(s.r), "cannot read this as a price", "write 12.50 USD")
		}
		s.skip()
	}
	if amountAt < 0 {
		return Money{}, &ParseError{Col: 1, Msg: "a price without an amount", Text: text, Hint: "write 12.50 USD"}
	}
	if sym != 0 {
		code = symbolCode(sym, def)
		if code == "" {
			return Money{}, s.fail(symCol, symCol+1, "this sign stands for more than one currency, or not for the shop's",
				"write the code: 12.50 USD")
		}
	}
	if code == "" {
		code = def
	}
	places, ok := minorUnits[code]
	if !ok {
		if code == "" {
			return Money{}, &ParseError{Col: 1, Msg: "a price without a currency", Text: text, Hint: "write 12.50 USD, or give the shop a currency"}
		}
		return Money{}, &ParseError{Col: 1, Msg: "unknown currency", Text: code, Hint: "write an ISO 4217 code such as USD, EUR or GBP"}
	}
	minor, msg, hint := parseAmount(amount, places)
	if msg != "" {
		return Money{}, s.fail(amountAt, amountEnd, msg, hint)
	}
	if neg {
		minor = -minor
	}
	return Money{minor, code}, nil
}

func symbolCode(sym rune, def string) string {
	list := symbols[sym]
	for _, c := range list {
		if c == def {
			return c
		}
	}
	if len(list) == 1 {
		return list[0]
	}
	return ""
}

// parseAmount reads digits with an optional point, or thousands commas and then a point.
func parseAmount(a string, places int) (minor int64, msg, hint string) {
	whole, frac, _ := strings.Cut(a, ".")
	if strings.ContainsAny(frac, ".,") {
		return 0, "cannot read this amount", "write it with one decimal point"
	}
	if strings.Contains(whole, ",") {
		groups := strings.Split(whole, ",")
		for i, g := range groups {
			if (i == 0 && (g == "" || len(g) > 3)) || (i > 0 && len(g) != 3) {
				return 0, "cannot read this amount", "write decimals with a point"
			}
		}
		if !strings.Contains(a, ".") {
			return 0, "the comma could be decimal or part thousands", "write decimals with a point, thousands without commas"
		}
		whole = strings.Join(groups, "")
	}
	if whole == "" && frac == "" {
		return 0, "cannot read this amount", ""
	}
	if len(frac) > places {
		return 0, fmt.Sprintf("the currency has %d decimals", places), ""
	}
	digits := whole + frac + strings.Repeat("0", places-len(frac))
	if len(strings.TrimLeft(digits, "0")) > 16 {
		return 0, "amount too large", ""
	}
	for _, d := range digits {
		minor = minor*10 + int64(d-'0')
	}
	if minor > maxMinor {
		return 0, "amount too large", ""
	}
	return minor, "", ""
}

// String writes `12.50 USD`.
func (m Money) String() string {
	if m.Code == "" {
		return fmt.Sprint(m.Minor)
	}
	return m.Amount() + " " + m.Code
}

// Amount writes the number without the code: `12.50`.
func (m Money) Amount() string {
	places := minorUnits[m.Code]
	sign, u := "", uint64(m.Minor)
	if m.Minor < 0 {
		sign, u = "-", -u
	}
	s := fmt.Sprintf("%0*d", places+1, u)
	if places == 0 {
		return sign + s
	}
	return sign + s[:len(s)-places] + "." + s[len(s)-places:]
}

// MixedError says that two currencies met in one sum.
type MixedError struct{ A, B string }

func (e *MixedError) Error() string {
	return fmt.Sprintf("%s and %s cannot be added without a rate", e.A, e.B)
}

// Plus adds two sums of one currency. Two currencies give a *MixedError.
func (m Money) Plus(o Money) (Money, error) {
	switch {
	case m == Money{}:
		return o, nil
	case o == Money{}:
		return m, nil
	case m.Code != o.Code:
		return Money{}, &MixedError{m.Code, o.Code}
	}
	sum := m.Minor + o.Minor
	if (o.Minor > 0 && sum < m.Minor) || (o.Minor < 0 && sum > m.Minor) {
		return Money{}, fmt.Errorf("the sum in %s is too large", m.Code)
	}
	return Money{sum, m.Code}, nil
}

// Minus takes one sum from another of the same currency.
func (m Money) Minus(o Money) (Money, error) {
	o.Minor = -o.Minor
	return m.Plus(o)
}

// Sum adds any number of sums of one currency.
func Sum(ms ...Money) (Money, error) {
	var t Money
	for _, m := range ms {
		var err error
		if t, err = t.Plus(m); err != nil {
			return Money{}, err
		}
	}
	return t, nil
}

// Rounding says how a share of money is brought to whole minor units.
type Rounding uint8

const (
	HalfEven Rounding = iota // to the nearest, halves to the even unit
	Up                       // away from zero: what must be paid
	Down                     // towards zero
	HalfUp                   // to the nearest, halves away from zero: tax at a till
)

// Times is num/den of the sum, rounded as asked: a price for part of a pack, or for many.
func (m Money) Times(num, den int64, r Rounding) (Money, error) {
	if den == 0 {
		return Money{}, fmt.Errorf("money divided by zero")
	}
	return m.TimesRat(big.NewRat(num, den), r)
}

// TimesRat is Times with an exact fraction.
func (m Money) TimesRat(f *big.Rat, r Rounding) (Money, error) {
	x := new(big.Rat).Mul(new(big.Rat).SetInt64(m.Minor), f)
	q, rem := new(big.Int).QuoRem(x.Num(), x.Denom(), new(big.Int))
	if rem.Sign() != 0 {
		twice := new(big.Int).Lsh(rem.Abs(rem), 1)
		half := twice.Cmp(x.Denom())
		if r == Up || r == HalfUp && half >= 0 || r == HalfEven && (half > 0 || half == 0 && q.Bit(0) == 1) {
			q.Add(q, big.NewInt(int64(x.Sign())))
		}
	}
	if !q.IsInt64() {
		return Money{}, fmt.Errorf("the amount in %s is too large", m.Code)
	}
	return Money{q.Int64(), m.Code}, nil
}

// Cmp compares two sums of one currency.
func (m Money) Cmp(o Money) (int, error) {
	d, err := m.Minus(o)
	if err != nil {
		return 0, err
	}
	switch {
	case d.Minor < 0:
		return -1, nil
	case d.Minor > 0:
		return 1, nil
	}
	return 0, nil
}

// Symbol is the sign usual for the currency, or its code and a space, for show only.
func Symbol(code string) string {
	for _, s := range []struct{ code, sign string }{{"USD", "$"}, {"GBP", "£"}, {"EUR", "€"}} {
		if s.code == code {
			return s.sign
		}
	}
	if code == "" || !utf8.ValidString(code) {
		return ""
	}
	return code + " "
}
