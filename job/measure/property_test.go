package measure

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func genLength(t *rapid.T) Length {
	unit := rapid.SampledFrom([]Length{1, 1016, 4000, Inch / 128, Inch / 64, MM, Inch, Foot}).Draw(t, "unit")
	most := int64(MaxLength / unit)
	if rapid.Bool().Draw(t, "small") {
		most = min(most, 5000)
	}
	return Length(rapid.Int64Range(-most, most).Draw(t, "n")) * unit
}

// What Exact and String write reads back as the same length, whatever the default unit.
func TestExactRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := genLength(t)
		for _, text := range []string{l.String(), Exact(l, Units{System: Inches}), Exact(l, Units{System: Metric})} {
			for _, def := range []System{Inches, Metric} {
				got, err := ParseLength(text, def)
				require.NoError(t, err, text)
				require.Equal(t, l, got, text)
			}
		}
	})
}

// A length on the shop's marks is written exactly and reads back the same; any other is off by
// at most half a mark, and writing what was read changes nothing more.
func TestFormatRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := Units{System: Inches, Mark: rapid.SampledFrom([]int{2, 4, 8, 16, 32, 64, 128}).Draw(t, "mark")}
		if rapid.Bool().Draw(t, "metric") {
			u = Units{System: Metric, Mark: rapid.IntRange(1, 2).Draw(t, "decimals")}
		}
		l := genLength(t)
		near := l.Round(u)
		require.LessOrEqual(t, 2*(l-near).Abs(), u.Step())
		if near.tooLong() {
			return // rounded up past the longest length that is read
		}
		text := Format(near, u)
		got, err := ParseLength(text, u.System)
		require.NoError(t, err, text)
		require.Equal(t, near, got, text)
		require.Equal(t, text, Format(got, u))
		got, err = ParseLength(FormatUnit(near, u), Inches)
		require.NoError(t, err)
		require.Equal(t, near, got)
	})
}

// Sums agree with math/big, a general-purpose library, term by term.
func TestExprAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		vals := map[string]Length{}
		text, want := "", new(big.Rat)
		for i := range rapid.IntRange(1, 8).Draw(t, "terms") {
			name := string(rune('p'+i)) + "-1"
			l := Length(rapid.Int64Range(-1e9, 1e9).Draw(t, name))
			vals[name] = l
			num, den := rapid.Int64Range(1, 9).Draw(t, "num"), rapid.Int64Range(1, 64).Draw(t, "den")
			term := new(big.Rat).Mul(l.Rat(), big.NewRat(num, den))
			switch {
			case i == 0:
				want.Set(term)
			case rapid.Bool().Draw(t, "minus"):
				text += " - "
				want.Sub(want, term)
			default:
				text += " + "
				want.Add(want, term)
			}
			text += name + " * " + big.NewInt(num).String() + " / " + big.NewInt(den).String()
		}
		e, err := ParseExpr(text, Inches)
		require.NoError(t, err, text)
		got, err := e.Eval(func(n string) (Length, bool) { l, ok := vals[n]; return l, ok })
		require.NoError(t, err)
		require.Equal(t, want.IsInt(), got.Exact)
		diff := new(big.Rat).Sub(want, got.Length.Rat())
		require.LessOrEqual(t, diff.Abs(diff).Cmp(big.NewRat(1, 2)), 0)
	})
}

func TestQuantitiesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		codes := []string{"USD", "EUR", "JPY", "KWD"}
		m := Money{rapid.Int64Range(-maxMinor, maxMinor).Draw(t, "minor"), rapid.SampledFrom(codes).Draw(t, "code")}
		got, err := ParseMoney(m.String(), "")
		require.NoError(t, err, m.String())
		require.Equal(t, m, got)

		c := Temperature(rapid.Int64Range(-27315, 100000).Draw(t, "hundredths")) * 9
		gotT, err := ParseTemperature(c.String())
		require.NoError(t, err)
		require.Equal(t, c, gotT)
		f := Temperature(rapid.Int64Range(-45967, 180000).Draw(t, "hundredths F")-3200) * 5
		gotT, err = ParseTemperature(f.String())
		require.NoError(t, err)
		require.Equal(t, f, gotT)

		s := Span(rapid.Int64Range(-int64(MaxSpan), int64(MaxSpan)).Draw(t, "s"))
		gotS, err := ParseSpan(s.String())
		require.NoError(t, err)
		require.Equal(t, s, gotS)
	})
}

// Sharing money out and rounding the shares up never loses a unit, and halves to even differ
// from the exact share by at most half of one.
func TestMoneyShares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Money{rapid.Int64Range(-1e12, 1e12).Draw(t, "minor"), "USD"}
		num, den := rapid.Int64Range(0, 1000).Draw(t, "num"), rapid.Int64Range(1, 1000).Draw(t, "den")
		exact := new(big.Rat).Mul(big.NewRat(m.Minor, 1), big.NewRat(num, den))
		for _, r := range []Rounding{HalfEven, HalfUp, Up, Down} {
			got, err := m.Times(num, den, r)
			require.NoError(t, err)
			d := new(big.Rat).Sub(new(big.Rat).SetInt64(got.Minor), exact)
			if m.Minor < 0 {
				d.Neg(d)
			}
			lo, hi := big.NewRat(-1, 2), big.NewRat(1, 2)
			switch r {
			case Up:
				lo, hi = big.NewRat(0, 1), big.NewRat(1, 1)
			case Down:
				lo, hi = big.NewRat(-1, 1), big.NewRat(0, 1)
			}
			require.True(t, d.Cmp(lo) >= 0 && d.Cmp(hi) <= 0, "%v %v", d, r)
		}
	})
}
