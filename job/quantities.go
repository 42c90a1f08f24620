package job

import (
	"errors"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"caul/job/measure"
)

// span reads a time such as `1 h 30 min`.
func (o *obj) span(key string) measure.Span {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return 0
	}
	return o.s.spanText(n, v, 1, key)
}

func (s *source) spanText(n *yaml.Node, text string, col int, key string) measure.Span {
	sp, err := measure.ParseSpan(text)
	if err != nil {
		s.measureError(n, col, key, nil, err)
		return 0
	}
	if sp < 0 {
		s.add(s.valuePos(n, col), text, "write a time of zero or more", "%q is negative: %s", key, text)
		return 0
	}
	return sp
}

// temp reads a temperature; a bare number is in the shop's own scale when the
// shop names one.
func (o *obj) temp(key string, sc *scope) *measure.Temperature {
	return o.s.temp(o.get(key), key, sc)
}

func (s *source) temp(n *yaml.Node, key string, sc *scope) *measure.Temperature {
	v, ok := s.scalar(n, key)
	if !ok {
		return nil
	}
	text := v
	if _, err := strconv.ParseFloat(v, 64); err == nil && sc.temp != "" {
		text += " " + sc.temp
	}
	t, err := measure.ParseTemperature(text)
	if err != nil {
		s.measureError(n, 1, key, nil, err)
		return nil
	}
	return &t
}

func (o *obj) money(key string, sc *scope) *measure.Money {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return nil
	}
	m, err := measure.ParseMoney(v, sc.money)
	if err != nil && sc.lost {
		m, err = measure.ParseMoney(v, "USD") // stands in; nothing is worked out from it
	}
	if err != nil {
		o.s.measureError(n, 1, key, nil, err)
		return nil
	}
	if strings.HasPrefix(v, "-") {
		o.s.add(o.s.at(n), v, "write the amount without a sign", "%q is negative: %s", key, v)
		return nil
	}
	return &m
}

// date reads a calendar day as midnight in the shop's zone.
func (o *obj) date(key string, sc *scope) time.Time {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return time.Time{}
	}
	t, err := time.ParseInLocation("2006-01-02", v, sc.zone)
	if err != nil {
		o.s.add(o.s.at(n), v, "write it as year-month-day, such as 2026-03-14", "%q is not a date: %s", key, v)
		return time.Time{}
	}
	if y := t.Year(); y < 1900 || y > 2200 {
		o.s.add(o.s.at(n), v, "check the year", "%q is in the year %d", key, y)
		return time.Time{}
	}
	return t
}

// angle reads degrees: `14`, `22.5`, `-2 deg`, `14°`.
func (o *obj) angle(key string, least, most float64) float64 {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return 0
	}
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(v, "degrees"), "deg"), "°"))
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || f != f {
		o.s.add(o.s.at(n), v, "write degrees, such as 14 or 22.5", "%q is not an angle: %s", key, v)
		return 0
	}
	if f < least || f > most {
		o.s.add(o.s.at(n), v, "write degrees from "+strconv.FormatFloat(least, 'g', -1, 64)+" to "+strconv.FormatFloat(most, 'g', -1, 64), "%q is %s degrees", key, text)
		return 0
	}
	return f
}

var clockShape = regexp.MustCompile(`^(\d{1,2}):(\d{2})$`)

// clock reads a time of day as minutes after midnight; 24:00 is the end of
// the day.
func clock(v string) (int, bool) {
	m := clockShape.FindStringSubmatch(strings.TrimSpace(v))
	if m == nil {
		return 0, false
	}
	h, _ := strconv.Atoi(m[1])
	mi, _ := strconv.Atoi(m[2])
	if h > 24 || mi > 59 || h == 24 && mi > 0 {
		return 0, false
	}
	return h*60 + mi, true
}

var forceShape = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?(N|kN|lbf|lb|kgf)$`)

// newtons per unit of force: SI Brochure, and NIST SP 811 appendix B.8 for
// the pound-force and the kilogram-force (both exact).
var forceUnits = map[string]*big.Rat{
	"N":   big.NewRat(1, 1),
	"kN":  big.NewRat(1000, 1),
	"lbf": rat("4.4482216152605"),
	"lb":  rat("4.4482216152605"),
	"kgf": rat("9.80665"),
}

func rat(s string) *big.Rat {
	r, _ := new(big.Rat).SetString(s)
	return r
}

func (o *obj) force(key string) int {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return 0
	}
	m := forceShape.FindStringSubmatch(v)
	if m == nil || len(m[1]) > 12 {
		o.s.add(o.s.at(n), v, "write it with its unit, such as 4000 N or 900 lbf", "%q is not a force: %s", key, v)
		return 0
	}
	f, _ := new(big.Rat).Mul(rat(m[1]), forceUnits[m[2]]).Float64()
	if f < 1 || f > 1e6 {
		o.s.add(o.s.at(n), v, "a clamp gives from some 50 N to some 30 kN", "%q is out of reason: %s", key, v)
		return 0
	}
	return int(f + 0.5)
}

// counts reads a map of name to whole number, such as `{bar: 8}`.
func (o *obj) counts(key string, least int) (map[string]int, map[string]*yaml.Node) {
	n := o.get(key)
	if n == nil {
		return nil, nil
	}
	m := o.s.mapping(n, "`"+key+"`")
	if m == nil {
		return nil, nil
	}
	out, nodes := map[string]int{}, map[string]*yaml.Node{}
	for _, k := range m.order {
		if m.get(k) == nil {
			o.s.add(o.s.at(m.knode[k]), k, "write how many, such as `"+k+": 4`", "%q in %q has no number", k, key)
			continue
		}
		out[k] = m.integer(k, 0, least, 100_000)
		nodes[k] = m.knode[k]
	}
	m.done()
	return out, nodes
}

// scaleOf reads "C" or "F".
func scaleOf(v string) (string, error) {
	switch strings.ToUpper(strings.Trim(v, "° ")) {
	case "C", "CELSIUS":
		return "C", nil
	case "F", "FAHRENHEIT":
		return "F", nil
	}
	return "", errors.New("write C or F")
}
