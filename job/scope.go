package job

import (
	"errors"
	"maps"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"caul/job/measure"
)

// scope is what a length in a file may refer to: the shop's units and the
// named measures, the job's own before the shop's.
type scope struct {
	units  measure.Units
	money  string
	temp   string
	zone   *time.Location
	vals   map[string]measure.Length
	broken map[string]bool // named, but not worked out: told once, where it is named
	shop   map[string]*measure.Expr
	lost   bool // shop.yaml could not be read, so its measures and currency are not known
}

func (sc *scope) lookup(name string) (measure.Length, bool) {
	l, ok := sc.vals[name]
	if !ok && sc.broken[name] {
		return measure.MM, true // stands in; the answer is thrown away
	}
	return l, ok
}

// sign says which lengths a key may hold.
type sign int

const (
	anySign sign = iota
	notNegative
	positive
)

func (sg sign) refuse(l measure.Length) string {
	switch {
	case sg == positive && l < 0, sg == notNegative && l < 0:
		return "is negative"
	case sg == positive && l == 0:
		return "is zero"
	}
	return ""
}

// dim reads a length, or a sum over named measures, under a key.
func (o *obj) dim(key string, sc *scope, sg sign) Dim {
	return o.s.dim(o.get(key), key, sc, sg)
}

func (s *source) dim(n *yaml.Node, key string, sc *scope, sg sign) Dim {
	v, ok := s.scalar(n, key)
	if !ok {
		return Dim{}
	}
	return s.dimText(n, v, 1, key, sc, sg)
}

// dimText reads a length from part of a scalar: text stands at character col
// of the node's value.
func (s *source) dimText(n *yaml.Node, text string, col int, key string, sc *scope, sg sign) Dim {
	e, err := measure.ParseExpr(text, sc.units.System)
	if err != nil {
		s.measureError(n, col, key, sc, err)
		return Dim{}
	}
	return s.evalDim(n, e, text, col, col, key, sc, sg)
}

// evalDim works a sum out. It stands at character col of the node's value; the
// columns of its errors count from character from.
func (s *source) evalDim(n *yaml.Node, e *measure.Expr, text string, col, from int, key string, sc *scope, sg sign) Dim {
	val, err := e.Eval(sc.lookup)
	for _, name := range e.Names() {
		if _, known := sc.vals[name]; sc.broken[name] || sc.lost && !known {
			return Dim{}
		}
	}
	if err != nil {
		s.measureError(n, from, key, sc, err)
		return Dim{}
	}
	at := s.valuePos(n, col)
	if why := sg.refuse(val.Length); why != "" {
		s.add(at, text, "write a length above zero", "%q %s: %s", key, why, text)
		return Dim{}
	}
	return Dim{Length: val.Length, Set: true, Exact: val.Exact, Src: text, At: at}
}

// measureError tells what job/measure could not read, at its own place.
func (s *source) measureError(n *yaml.Node, col int, key string, sc *scope, err error) {
	var pe *measure.ParseError
	if !errors.As(err, &pe) {
		s.add(s.valuePos(n, col), "", "", "%q: %v", key, err)
		return
	}
	hint := pe.Hint
	if sc != nil && pe.Text != "" {
		if near := nearest(pe.Text, slices.Collect(maps.Keys(sc.vals))); near != "" && near != pe.Text {
			hint = "did you mean \"" + near + "\"?"
		}
	}
	s.add(s.valuePos(n, col+max(pe.Col, 1)-1), pe.Text, hint, "%q: %s", key, pe.Error())
}

// size3 reads `48 x 24 x 1/2`; with thick false the thickness may be left out.
func (s *source) size3(n *yaml.Node, key string, sc *scope, needThick bool) [3]Dim {
	v, ok := s.scalar(n, key)
	if !ok {
		return [3]Dim{}
	}
	es, err := measure.ParseDims(v, sc.units.System, 3)
	if err != nil && !needThick {
		if two, err2 := measure.ParseDims(v, sc.units.System, 2); err2 == nil {
			es, err = two, nil
		}
	}
	if err != nil {
		s.measureError(n, 1, key, sc, err)
		return [3]Dim{}
	}
	var out [3]Dim
	for i, e := range es {
		text := strings.TrimSpace(e.String())
		out[i] = s.evalDim(n, e, text, 1+exprOffset(v, es, i), 1, key, sc, positive)
	}
	return out
}

// exprOffset finds where the i-th sum of a size stands in its text.
func exprOffset(v string, es []*measure.Expr, i int) int {
	at := 0
	for k := 0; k <= i; k++ {
		t := strings.TrimSpace(es[k].String())
		j := strings.Index(v[at:], t)
		if j < 0 {
			return 0
		}
		at += j
		if k == i {
			break
		}
		at += len(t)
	}
	return len([]rune(v[:at]))
}

// measures reads a `measures:` map and adds it to the scope. Lengths inside
// may refer to each other and to those of the shop.
func (o *obj) measures(key string, sc *scope) []Measure {
	n := o.get(key)
	if n == nil {
		return nil
	}
	m := o.s.mapping(n, "`measures`")
	if m == nil {
		return nil
	}
	var out []Measure
	nodes := map[string]*yaml.Node{}
	exprs := maps.Clone(sc.shop)
	if exprs == nil {
		exprs = map[string]*measure.Expr{}
	}
	own := map[string]int{}
	for _, name := range m.order {
		v := m.get(name)
		me := Measure{Name: name}
		if v == nil {
			o.s.add(o.s.at(m.knode[name]), name, "write its length behind it, or measure it and then write it", "the measure %q has no length", name)
			sc.broken[name] = true
			continue
		}
		if e, err := measure.ParseExpr(name, sc.units.System); err != nil || len(e.Names()) != 1 || e.Names()[0] != name {
			o.s.add(o.s.at(m.knode[name]), name, "use letters, digits and hyphens, beginning with a letter, such as `slot-left`", "%q cannot name a measure", name)
			continue
		}
		if v.Kind == yaml.MappingNode {
			sub := o.s.mapping(v, "the measure "+name)
			v = sub.get("is")
			me.Ask, me.Note = sub.str("ask"), sub.str("note")
			sub.need("is", "write its length, such as `is: 3/4`")
			sub.done()
			if v == nil {
				sc.broken[name] = true
				continue
			}
		}
		text, ok := o.s.scalar(v, name)
		if !ok {
			sc.broken[name] = true
			continue
		}
		me.Src, me.At = text, o.s.at(v)
		e, err := measure.ParseExpr(text, sc.units.System)
		if err != nil {
			o.s.measureError(v, 1, name, sc, err)
			sc.broken[name] = true
			continue
		}
		exprs[name], nodes[name] = e, v
		own[name] = len(out)
		out = append(out, me)
	}
	m.done()
	for name := range sc.broken {
		if _, mine := nodes[name]; !mine {
			// a stand-in, so that what builds on a broken measure is not called unknown
			exprs[name], _ = measure.ParseExpr("1", sc.units.System)
		}
	}
	vals, errs := measure.ResolveAll(exprs)
	for _, e := range errs {
		bad := e.Name
		n := nodes[bad]
		for i := 0; n == nil && i < len(e.Cycle); i++ {
			bad = e.Cycle[i]
			n = nodes[bad]
		}
		if n == nil {
			continue
		}
		if len(e.Cycle) > 0 {
			o.s.add(o.s.at(n), "", "give one of them a plain length", "%s", e.Error())
			for _, c := range e.Cycle {
				sc.broken[c] = true
			}
			continue
		}
		if sc.lost {
			sc.broken[bad] = true
			continue
		}
		full := *sc
		full.vals = map[string]measure.Length{}
		for k := range exprs {
			full.vals[k] = 0
		}
		o.s.measureError(n, 1, bad, &full, e.Err)
	}
	known := map[string]bool{}
	var unsound []string
	for name := range exprs {
		v, ok := vals[name]
		if !ok || buildsOn(exprs, name, sc.broken, known) {
			unsound = append(unsound, name)
			delete(sc.vals, name)
			continue
		}
		sc.vals[name] = v.Length
		if i, mine := own[name]; mine {
			out[i].Length, out[i].Exact, out[i].Set = v.Length, v.Exact, true
		}
	}
	for _, name := range unsound {
		sc.broken[name] = true
	}
	if sc.shop == nil {
		sc.shop = exprs
	}
	return out
}

// buildsOn tells whether a measure rests on a broken one; known keeps answers.
func buildsOn(exprs map[string]*measure.Expr, name string, broken, known map[string]bool) bool {
	if b, ok := known[name]; ok {
		return b
	}
	known[name] = true // a circle is broken
	e := exprs[name]
	bad := e == nil || broken[name]
	if e != nil {
		for _, n := range e.Names() {
			bad = buildsOn(exprs, n, broken, known) || bad
		}
	}
	known[name] = bad
	return bad
}
