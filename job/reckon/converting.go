package reckon

import (
	"fmt"
	"strings"

	"caul/job/measure"
)

func converting() []Sum {
	return []Sum{
		{Name: "convert", Title: "Units", Help: "a length in inches and millimetres, or a temperature in both scales",
			Inputs: []Input{{Name: "value", Kind: KindText, Required: true, Help: "12-1/8 in, 308 mm, 16 C, 61 F, 150 psi, 1 kPa, 3 lb, 2 kg", Example: "12-1/8 in"}}, work: convert},
	}
}

// scales are units that are converted by a factor alone: 1 lb = 453.59237 g, 1 psi = 6.894757293 kPa,
// 1 lbf = 4.448221615 N, 1 US gal = 231 cubic inches.
var scales = []struct {
	unit, to string
	factor   float64
}{
	{"psi", "kPa", 6.894757293168}, {"kpa", "psi", 1 / 6.894757293168}, {"lbf", "N", 4.4482216152605}, {"n", "lbf", 1 / 4.4482216152605},
	{"lb", "kg", 0.45359237}, {"kg", "lb", 1 / 0.45359237}, {"oz", "g", 28.349523125}, {"g", "oz", 1 / 28.349523125},
	{"gal", "L", 3.785411784}, {"l", "gal", 1 / 3.785411784}, {"g/m2", "lb/1000 ft2", 1 / 4.88242763638}, {"lb/1000ft2", "g/m2", 4.88242763638},
}

func convert(a *args) (*Result, error) {
	text := a.word("value")
	if t, err := measure.ParseTemperature(text); err == nil {
		return &Result{
			Answer: []string{fmt.Sprintf("%.2f °C = %.2f °F", t.C(), t.F())}, Working: []string{"F = C x 9/5 + 32"}, Source: sources(measure.Source{Ref: "definition of the scales"}),
			Values: []Value{{Name: "celsius", Text: t.FormatIn(measure.Celsius), Number: t.C(), Unit: "°C"}, {Name: "fahrenheit", Text: t.FormatIn(measure.Fahrenheit), Number: t.F(), Unit: "°F"}},
		}, nil
	}
	if r, ok := scaled(text); ok {
		return r, nil
	}
	e, err := measure.ParseExpr(text, a.u.System)
	if err != nil {
		if pe, ok := err.(*measure.ParseError); ok {
			return nil, &InputError{Input: "value", Col: pe.Col, Msg: pe.Msg, Text: pe.Text, Hint: pe.Hint}
		}
		return nil, err
	}
	v, err := e.Eval(nil)
	if err != nil {
		return nil, a.bad("value", err.Error(), "")
	}
	l := v.Length
	inch := measure.Units{System: measure.Inches, Mark: 64}
	if a.u.System == measure.Inches {
		inch = a.u
	}
	r := &Result{
		Answer:  []string{measure.FormatUnit(l, inch), fmt.Sprintf("%.4f in", l.Inches()), fmt.Sprintf("%.3f mm", l.Millimetres())},
		Source:  sources(measure.Source{Ref: "1 in = 25.4 mm exactly (1959 agreement on yard and pound)"}),
		Working: []string{"exactly " + l.String()},
		Values:  []Value{lengthValue("length", l, l.String())},
	}
	if !v.Exact {
		r.Working[0] = "to 1/400000 mm, " + l.String()
	}
	if l.Abs() >= measure.Foot {
		r.Answer = append(r.Answer, fmt.Sprintf("%d ft %s", l/measure.Foot, measure.FormatUnit((l%measure.Foot).Abs(), inch)))
	}
	return r, nil
}

func scaled(text string) (*Result, bool) {
	t := strings.ToLower(strings.TrimSpace(text))
	i := strings.IndexFunc(t, func(r rune) bool { return (r >= 'a' && r <= 'z') })
	if i < 0 {
		return nil, false
	}
	unit := strings.ReplaceAll(strings.ReplaceAll(t[i:], " ", ""), "²", "2")
	x, err := parseNumber(strings.TrimSpace(t[:i]))
	if err != nil {
		return nil, false
	}
	for _, s := range scales {
		if s.unit == unit {
			y := x * s.factor
			return &Result{Answer: []string{fmt.Sprintf("%.4g %s", y, s.to)}, Working: []string{fmt.Sprintf("%g x %.9g", x, s.factor)},
				Source: sources(measure.Source{Ref: "definitions of the US customary units (NIST Handbook 44, appendix C)", Standing: measure.Cited}),
				Values: []Value{{Name: "value", Text: fmt.Sprintf("%.6g %s", y, s.to), Number: y, Unit: s.to}}}, true
		}
	}
	return nil, false
}
