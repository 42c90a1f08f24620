package reckon

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"caul/job/measure"
)

// args are a sum's inputs, read and checked. Getters name inputs of the sum's own list, so a
// missing one is a mistake in this package and gives the zero value.
type args struct {
	u       measure.Units
	given   map[string]bool
	text    map[string]string
	lengths map[string]measure.Length
	numbers map[string]float64
	temps   map[string]measure.Temperature
	spans   map[string]measure.Span
}

func (a *args) length(n string) measure.Length    { return a.lengths[n] }
func (a *args) number(n string) float64           { return a.numbers[n] }
func (a *args) count(n string) int                { return int(a.numbers[n]) }
func (a *args) temp(n string) measure.Temperature { return a.temps[n] }
func (a *args) span(n string) measure.Span        { return a.spans[n] }
func (a *args) word(n string) string              { return a.text[n] }
func (a *args) has(n string) bool                 { return a.given[n] }

// bad is an error about one input.
func (a *args) bad(input, msg, hint string) error {
	return &InputError{Input: input, Col: 1, Msg: msg, Text: a.text[input], Hint: hint}
}

// positive checks that lengths given are more than nothing.
func (a *args) positive(names ...string) error {
	for _, n := range names {
		if a.has(n) && a.lengths[n] <= 0 {
			return a.bad(n, "must be more than nothing", "")
		}
	}
	return nil
}

const maxInput = 500

func (s Sum) read(inputs map[string]string, u measure.Units) (*args, error) {
	var names []string
	for _, in := range s.Inputs {
		names = append(names, in.Name)
	}
	for _, k := range slices.Sorted(maps.Keys(inputs)) {
		if !slices.Contains(names, k) {
			return nil, &InputError{Sum: s.Name, Msg: "no such input", Text: k, Hint: suggest(k, names)}
		}
	}
	a := &args{u: u, given: map[string]bool{}, text: map[string]string{}, lengths: map[string]measure.Length{},
		numbers: map[string]float64{}, temps: map[string]measure.Temperature{}, spans: map[string]measure.Span{}}
	for _, in := range s.Inputs {
		text, given := inputs[in.Name]
		text = strings.TrimSpace(text)
		if !given || text == "" {
			if in.Required {
				return nil, &InputError{Sum: s.Name, Input: in.Name, Col: 1, Msg: "is wanted: " + in.Help, Hint: "such as " + in.example(u)}
			}
			if text = in.DefaultIn(u); text == "" {
				continue
			}
		}
		if len(text) > maxInput {
			return nil, &InputError{Sum: s.Name, Input: in.Name, Col: 1, Msg: "too long", Text: text[:20]}
		}
		a.given[in.Name], a.text[in.Name] = true, text
		if err := a.parse(in, text); err != nil {
			ie := &InputError{Sum: s.Name, Input: in.Name, Col: 1, Msg: err.Error()}
			var pe *measure.ParseError
			if errors.As(err, &pe) {
				ie.Col, ie.Msg, ie.Text, ie.Hint = pe.Col, pe.Msg, pe.Text, pe.Hint
			} else if errors.As(err, &ie) {
				ie.Sum, ie.Input = s.Name, in.Name
			}
			return nil, ie
		}
	}
	return a, nil
}

func (i Input) example(u measure.Units) string {
	if i.Example != "" {
		return i.Example
	}
	if i.Kind == KindLength {
		if u.System == measure.Metric {
			return "300"
		}
		return "12-1/8"
	}
	if len(i.Choices) > 0 {
		return i.Choices[0]
	}
	return "..."
}

func (a *args) parse(in Input, text string) error {
	switch in.Kind {
	case KindLength:
		e, err := measure.ParseExpr(text, a.u.System)
		if err != nil {
			return err
		}
		v, err := e.Eval(nil)
		if err != nil {
			return err
		}
		a.lengths[in.Name] = v.Length
	case KindNumber, KindPercent, KindCount:
		t := text
		if in.Kind == KindPercent {
			t = strings.TrimSpace(strings.TrimSuffix(t, "%"))
		}
		x, err := parseNumber(t)
		if err != nil {
			return err
		}
		if in.Kind == KindPercent && (x < 0 || x > 100) {
			return &InputError{Col: 1, Msg: "a percentage is from 0 to 100", Text: text}
		}
		if in.Kind == KindCount && (x != math.Trunc(x) || x < 1 || x > 10_000) {
			return &InputError{Col: 1, Msg: "a count is a whole number from 1 to 10000", Text: text}
		}
		a.numbers[in.Name] = x
	case KindTemperature:
		t, err := measure.ParseTemperature(text)
		if err != nil {
			return err
		}
		a.temps[in.Name] = t
	case KindSpan:
		s, err := measure.ParseSpan(text)
		if err != nil {
			return err
		}
		if s < 0 {
			return &InputError{Col: 1, Msg: "a time cannot be negative", Text: text}
		}
		a.spans[in.Name] = s
	case KindChoice:
		w := strings.ToLower(text)
		if !slices.Contains(in.Choices, w) {
			return &InputError{Col: 1, Msg: "not one of the choices", Text: text, Hint: suggest(w, in.Choices)}
		}
		a.text[in.Name] = w
	}
	return nil
}

// mark writes a length to the nearest of the shop's marks.
func (a *args) mark(l measure.Length) string { return measure.FormatUnit(l.Round(a.u), a.u) }

// fine writes a small length where fractions of an inch say nothing: 0.0030 in, 0.038 mm.
func (a *args) fine(l measure.Length) string {
	if a.u.System == measure.Metric {
		return fmt.Sprintf("%.3f mm", l.Millimetres())
	}
	return fmt.Sprintf("%.4f in", l.Inches())
}

// show writes a length to the shop's marks, with the decimal figure behind it where an inch
// shop's marks do not say it; millimetres to 0.01.
func (a *args) show(l measure.Length) string {
	if a.u.System == measure.Metric {
		return measure.FormatUnit(l, measure.Units{System: measure.Metric, Mark: 2})
	}
	if l.Round(a.u) == l {
		return a.mark(l)
	}
	return a.mark(l) + " (" + a.fine(l) + ")"
}

// parseNumber reads a plain decimal number. A comma is decimal, unless it could part thousands.
func parseNumber(text string) (float64, error) {
	whole, frac, comma := strings.Cut(text, ",")
	if comma {
		if len(frac) == 3 && strings.Trim(whole, "-0") != "" {
			return 0, &InputError{Col: 1, Msg: "the comma could be decimal or part thousands", Text: text, Hint: "write " + whole + "." + frac + " or " + whole + frac}
		}
		text = whole + "." + frac
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || strings.ContainsAny(text, "xXpP_") || math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > 1e9 {
		return 0, &InputError{Col: 1, Msg: "cannot read this as a number", Text: text, Hint: "write a decimal number such as 3450 or 0.5"}
	}
	return x, nil
}

func lengthValue(name string, l measure.Length, text string) Value {
	return Value{Name: name, Text: text, Number: l.Millimetres(), Unit: "mm"}
}

func sources(ss ...measure.Source) []string {
	var out []string
	for _, s := range ss {
		if t := s.String(); t != "" && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}

func cautionText(cs []measure.Caution) []string {
	var out []string
	for _, c := range cs {
		out = append(out, c.Text)
	}
	return out
}

var geometry = measure.Source{Ref: "geometry"}
