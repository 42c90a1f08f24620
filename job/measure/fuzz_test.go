package measure

import (
	"errors"
	"testing"
	"unicode/utf8"
)

// checkError insists that whatever cannot be read gives a positioned error inside the text.
func checkError(t *testing.T, text string, err error) {
	t.Helper()
	var pe *ParseError
	if !errors.As(err, &pe) {
		t.Fatalf("%q: error without position: %v", text, err)
	}
	if pe.Col < 1 || (utf8.ValidString(text) && pe.Col > utf8.RuneCountInString(text)+1) {
		t.Fatalf("%q: column %d is outside", text, pe.Col)
	}
	if pe.Msg == "" {
		t.Fatalf("%q: empty message", text)
	}
}

func FuzzParseLength(f *testing.F) {
	for _, s := range []string{"12 1/8", "12-1/8", "12⅛\"", "1' 6-1/2\"", "5/32 in", "0.472 in", "308 mm", "30.8 cm", "1.2 m", "1,250", "−3/8", "1/3", "1’-6½”", "1' 12\""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, def := range []System{Inches, Metric} {
			l, err := ParseLength(text, def)
			if err != nil {
				checkError(t, text, err)
				continue
			}
			back, err := ParseLength(l.String(), def)
			if err != nil || back != l {
				t.Fatalf("%q gave %v, which reads back as %v, %v", text, l, back, err)
			}
			// a length is also a sum, and the two readings agree
			if e, err := ParseExpr(text, def); err == nil {
				if v, err := e.Eval(nil); err != nil || v.Length != l {
					t.Fatalf("%q is %v as a length and %v, %v as a sum", text, l, v, err)
				}
			}
		}
	})
}

func FuzzParseExpr(f *testing.F) {
	for _, s := range []string{"slot-left + 3/8", "(base - insert) / 2", "min(a, b)", "max(a; 3) * 2", "a -b", "12-1/8", "a / b * c", "min(1,5)", "-(a) - -b", "((((1))))"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		e, err := ParseExpr(text, Inches)
		if err != nil {
			checkError(t, text, err)
			return
		}
		look := func(n string) (Length, bool) { return Length(len(n)) * Inch, true }
		v, err := e.Eval(look)
		if err != nil {
			checkError(t, text, err)
			return
		}
		again, err := ParseExpr("("+e.String()+")", Inches)
		if err != nil {
			return // too deep or too long with the brackets, or a comma that now reads otherwise
		}
		if w, err := again.Eval(look); err != nil || w != v {
			t.Fatalf("%q is %v, in brackets %v, %v", text, v, w, err)
		}
	})
}

func FuzzParseSize(f *testing.F) {
	for _, s := range []string{"48 x 24 x 1/2", "48x24x1/2", "48 by 24 by ply", "box-x x 3 x 4", "1 × 2 × 3", "x x x x x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		es, err := ParseSize(text, Metric)
		if err != nil {
			checkError(t, text, err)
			return
		}
		for _, e := range es {
			if _, err := e.Eval(nil); err != nil {
				checkError(t, text, err)
			}
		}
	})
}

func FuzzParseMoney(f *testing.F) {
	for _, s := range []string{"12.50 USD", "USD 12.50", "$12.50", "1,250.00 USD", "1500 JPY", "€3", "-0.001 BHD"} {
		f.Add(s, "USD")
	}
	f.Fuzz(func(t *testing.T, text, def string) {
		m, err := ParseMoney(text, def)
		if err != nil {
			checkError(t, text, err)
			return
		}
		back, err := ParseMoney(m.String(), "")
		if err != nil || back != m {
			t.Fatalf("%q gave %v, which reads back as %v, %v", text, m, back, err)
		}
	})
}

func FuzzParseTemperature(f *testing.F) {
	for _, s := range []string{"16 C", "61 F", "16 °C", "-40F", "60.25 F", "20 degrees C"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := ParseTemperature(text)
		if err != nil {
			checkError(t, text, err)
			return
		}
		back, err := ParseTemperature(v.String())
		if err != nil || back != v {
			t.Fatalf("%q gave %v, which reads back as %v, %v", text, v, back, err)
		}
	})
}

func FuzzParseSpan(f *testing.F) {
	for _, s := range []string{"40 min", "1 h 30 min", "24 h", "90 s", "1h30", "½ h", "1 day", "1:30"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := ParseSpan(text)
		if err != nil {
			checkError(t, text, err)
			return
		}
		back, err := ParseSpan(v.String())
		if err != nil || back != v {
			t.Fatalf("%q gave %v, which reads back as %v, %v", text, v, back, err)
		}
	})
}
