package measure

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestMoney(t *testing.T) {
	for _, c := range []struct {
		text, def, want string
	}{
		{"12.50 USD", "", "12.50 USD"}, {"USD 12.50", "", "12.50 USD"}, {"usd 12.5", "", "12.50 USD"},
		{"$12.50", "CAD", "12.50 CAD"}, {"-$12.50", "USD", "-12.50 USD"}, {"12.50", "EUR", "12.50 EUR"},
		{"€3", "", "3.00 EUR"}, {"€ 3", "USD", "3.00 EUR"}, {"1,250.00 USD", "", "1250.00 USD"},
		{"1,234,567.89 GBP", "", "1234567.89 GBP"}, {"0.05 USD", "", "0.05 USD"}, {".05 USD", "", "0.05 USD"},
		{"1500 JPY", "", "1500 JPY"}, {"1.234 KWD", "", "1.234 KWD"}, {"-0.001 BHD", "", "-0.001 BHD"},
		{"500", "JPY", "500 JPY"},
	} {
		m, err := ParseMoney(c.text, c.def)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, m.String(), c.text)
	}
	for text, col := range map[string]int{
		"": 1, "$12.50": 1, "12.50": 1, "12.505 USD": 1, "1.5 JPY": 1, "12,50 EUR": 1, "1,250 USD": 1, "12 XYZ": 4,
		"12 USD 3": 8, "USD": 1, "1.250.000 USD": 1, "12..5 USD": 1, "99999999999999999 USD": 1, "12 USD USD": 8, ". USD": 1, "£5": 1,
	} {
		_, err := ParseMoney(text, "")
		var pe *ParseError
		require.ErrorAs(t, err, &pe, text)
		assert.Equal(t, col, pe.Col, text)
	}
	// ISO 4217:2015 list one, minor units
	for code, n := range map[string]int{"USD": 2, "EUR": 2, "JPY": 0, "KRW": 0, "ISK": 0, "CLP": 0, "KWD": 3, "TND": 3} {
		got, ok := Decimals(code)
		assert.True(t, ok)
		assert.Equal(t, n, got, code)
	}
}

func TestMoneySums(t *testing.T) {
	usd := func(c int64) Money { return Money{c, "USD"} }
	sum, err := Sum(usd(10), usd(20), Money{})
	require.NoError(t, err)
	assert.Equal(t, usd(30), sum) // 0.10 + 0.20 is 0.30
	_, err = usd(1).Plus(Money{1, "EUR"})
	var mixed *MixedError
	require.ErrorAs(t, err, &mixed)
	_, err = usd(math.MaxInt64).Plus(usd(1))
	assert.Error(t, err)
	for _, c := range []struct {
		m        Money
		num, den int64
		r        Rounding
		want     int64
	}{
		{usd(1000), 1, 3, HalfEven, 333}, {usd(1000), 1, 3, Up, 334}, {usd(1000), 2, 3, Down, 666},
		{usd(5), 1, 2, HalfEven, 2}, {usd(15), 1, 2, HalfEven, 8}, {usd(-5), 1, 2, HalfEven, -2}, {usd(-15), 1, 2, HalfEven, -8},
		{usd(-5), 1, 2, Up, -3}, {usd(-5), 1, 2, Down, -2}, {usd(1), -1, 2, Up, -1}, {usd(7), 10, 7, HalfEven, 10},
		{usd(5), 1, 2, HalfUp, 3}, {usd(-5), 1, 2, HalfUp, -3}, {usd(1000), 1, 3, HalfUp, 333}, {usd(1000), 2, 3, HalfUp, 667},
	} {
		got, err := c.m.Times(c.num, c.den, c.r)
		require.NoError(t, err)
		assert.Equal(t, c.want, got.Minor, "%v x %d/%d %v", c.m, c.num, c.den, c.r)
	}
	_, err = usd(1).Times(1, 0, Up)
	assert.Error(t, err)
	_, err = usd(math.MaxInt64).Times(2, 1, Up)
	assert.Error(t, err)
	cmp, err := usd(3).Cmp(usd(2))
	require.NoError(t, err)
	assert.Equal(t, 1, cmp)
}

// 0 °C = 32 °F, 100 °C = 212 °F, -40 is the same in both: the scales' definitions.
func TestTemperature(t *testing.T) {
	for _, c := range []struct {
		text, str string
		c, f      float64
	}{
		{"16 C", "16 C", 16, 60.8}, {"61 F", "61 F", 145. / 9, 61}, {"16 °C", "16 C", 16, 60.8}, {"16°C", "16 C", 16, 60.8},
		{"32 F", "0 C", 0, 32}, {"212°F", "100 C", 100, 212}, {"-40 F", "-40 C", -40, -40}, {"-3.5C", "-3.5 C", -3.5, 25.7},
		{"60.25 F", "60.25 F", 565. / 36, 60.25}, {"20 degrees C", "20 C", 20, 68}, {"18,5 C", "18.5 C", 18.5, 65.3},
	} {
		got, err := ParseTemperature(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.str, got.String(), c.text)
		assert.InDelta(t, c.c, got.C(), 1e-9, c.text)
		assert.InDelta(t, c.f, got.F(), 1e-9, c.text)
	}
	for _, text := range []string{"", "16", "16 K", "C", "16 C C", "-300 C", "1e9 C", "1001 C", "16.001 C", "-460 F", "16 °"} {
		_, err := ParseTemperature(text)
		var pe *ParseError
		assert.ErrorAs(t, err, &pe, text)
	}
	a, _ := ParseTemperature("61 F")
	assert.Equal(t, "16.1 °C", a.FormatIn(Celsius))
	assert.Equal(t, "61 °F", a.FormatIn(Fahrenheit))
	assert.Equal(t, a, InFahrenheit(61))
	assert.InDelta(t, 293.15, InCelsius(20).Kelvin(), 1e-9)
}

func TestSpan(t *testing.T) {
	for text, want := range map[string]Span{
		"40 min": 40 * Minute, "50m": 50 * Minute, "1 h 30 min": 90 * Minute, "24 h": 24 * Hour, "90 s": 90, "1.5 h": 90 * Minute, "1h30": 90 * Minute, "1h30min": 90 * Minute,
		"2 1/2 hours": 150 * Minute, "½ h": 30 * Minute, "1 h 10 min 5 s": 4205, "-5 min": -5 * Minute, "72 hours": 72 * Hour, "0 min": 0,
	} {
		got, err := ParseSpan(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for text, hint := range map[string]string{
		"1 day": "24 h", "2 d": "24 h", "1 week": "168 h", "40": "min, h or s", "1:30": "1 h 30 min", "30 min 1 h": "", "1 h 1 h": "",
		"": "", "1/7 s": "", "200000 h": "", "h": "", "-": "40 min", "5 min 3": "min, h or s",
	} {
		_, err := ParseSpan(text)
		var pe *ParseError
		require.ErrorAs(t, err, &pe, text)
		if text == "1 day" || text == "2 d" {
			pe.Hint = pe.Hint[len(pe.Hint)-4:]
		}
		assert.Contains(t, pe.Hint, hint, text)
	}
	assert.Equal(t, "1 h 30 min", (90 * Minute).String())
	assert.Equal(t, "1 min 30 s", Span(90).String())
	assert.Equal(t, int64(2), Span(90).Minutes())
	assert.Equal(t, 24*time.Hour, (24 * Hour).Duration())
	assert.Equal(t, Span(60), SpanOf(time.Minute+400*time.Millisecond))
}

func TestArea(t *testing.T) {
	// a 4 ft x 8 ft sheet is 32 sq ft, and 2.97289728 m² with 1 ft = 0.3048 m
	sheet := Rect(96*Inch, 48*Inch)
	assert.Equal(t, "32 sq ft", FormatArea(sheet, Units{System: Inches}))
	assert.Equal(t, "2.973 m²", FormatArea(sheet, Units{System: Metric}))
	assert.Equal(t, "2.972897 m²", sheet.String())
	assert.InDelta(t, 2.97289728, sheet.SquareMetres(), 1e-12)
	assert.Equal(t, "25 sq in", FormatArea(Rect(Inch, 25*Inch), Units{System: Inches}))
	assert.Equal(t, "100 cm²", FormatArea(Rect(100*MM, 100*MM), Units{System: Metric}))
	assert.Equal(t, "0 sq in", FormatArea(Area{}, Units{System: Inches}))
	assert.Zero(t, sheet.Minus(sheet).Sign())
	assert.Equal(t, 1, sheet.Times(2).Cmp(sheet))
	// the largest squares, a million times: no overflow
	big := Rect(MaxLength, MaxLength).Times(1_000_000)
	assert.InDelta(t, 1e16, big.SquareMetres(), 1)
	assert.InDelta(t, 96*48, sheet.SquareInches(), 1e-9)
	assert.InDelta(t, 32, sheet.SquareFeet(), 1e-12)
}
