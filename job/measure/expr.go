package measure

import (
	"math/big"
	"slices"
	"strings"
	"unicode"
)

// Expr is a sum over lengths and named measures. It is read once and evaluated many times.
type Expr struct {
	text  string
	col   int // characters before text in a longer text, such as a size
	root  *node
	names []string
	num   *big.Rat // set when the sum is one bare number
}

// Value is what a sum comes to.
type Value struct {
	Length Length
	Exact  bool // false when the answer had to be rounded to 1/400000 mm
}

type op byte

const (
	opConst op = iota
	opName
	opNeg
	opAdd
	opSub
	opMul
	opDiv
	opMin
	opMax
)

// kind is the dimension of a value.
type kind byte

const (
	bare   kind = iota // a number as written: a length in the shop's unit, or a factor
	number             // a plain number, the quotient of two lengths; never a length
	length
)

type node struct {
	op   op
	from int // character offsets of the node's text
	to   int
	val  *big.Rat // opConst: units of length, or the bare number
	kind kind
	name string
	args []*node
}

// String is the text the sum was read from.
func (e *Expr) String() string { return strings.TrimSpace(e.text) }

// Names lists the named measures the sum refers to, sorted, each once.
func (e *Expr) Names() []string { return slices.Clone(e.names) }

// Number gives the value when the sum is one bare number without a unit, such as the count
// in `2 x 46 x 3/4`.
func (e *Expr) Number() (*big.Rat, bool) {
	if e.num == nil {
		return nil, false
	}
	return new(big.Rat).Set(e.num), true
}

// Const gives the value of a sum without names; ok is false when it has some or fails.
func (e *Expr) Const() (Value, bool) {
	if len(e.names) > 0 {
		return Value{}, false
	}
	v, err := e.Eval(nil)
	return v, err == nil
}

// maxDepth bounds how deep brackets may nest.
const maxDepth = 60

// ParseExpr reads a sum; bare numbers are lengths in the default system's unit. Dimensions
// are checked here, before any value is known. See the package comment for how `a-b`, `a - b`
// and `12-1/8` are told apart. Errors are *ParseError.
func ParseExpr(text string, def System) (*Expr, error) {
	s, err := startScan(text, "a length")
	if err != nil {
		return nil, err
	}
	p := &exprParser{scanner: s, def: def}
	root, err := p.sum(0)
	if err != nil {
		return nil, err
	}
	p.skip()
	if !p.eof() {
		return nil, p.unexpected()
	}
	return p.finish(text, root)
}

type exprParser struct {
	*scanner
	def  System
	args int // how many min( or max( are open
	size bool
}

func (p *exprParser) finish(text string, root *node) (*Expr, error) {
	if root.kind == number {
		return nil, p.fail(root.from, root.to, "a plain number where a length is wanted", "a length divided by a length has no unit left")
	}
	e := &Expr{text: text, root: p.asLength(root)}
	if root.op == opConst && root.kind == bare {
		e.num = root.val
	}
	var walk func(*node)
	walk = func(n *node) {
		if n.op == opName {
			e.names = append(e.names, n.name)
		}
		for _, a := range n.args {
			walk(a)
		}
	}
	walk(root)
	slices.Sort(e.names)
	e.names = slices.Compact(e.names)
	return e, nil
}

// asLength turns a bare value into a length in the default unit.
func (p *exprParser) asLength(n *node) *node {
	if n.kind != bare {
		return n
	}
	unit := p.def.Unit().Rat()
	if n.op == opConst {
		return &node{op: opConst, from: n.from, to: n.to, kind: length, val: unit.Mul(unit, n.val)}
	}
	return &node{op: opMul, from: n.from, to: n.to, kind: length, args: []*node{n,
		{op: opConst, from: n.from, to: n.to, kind: length, val: unit}}}
}

func (p *exprParser) unexpected() *ParseError {
	start := p.pos
	c := p.peek()
	if unicode.IsLetter(c) {
		for isNameRune(p.peek()) || (p.peek() == '-' && isNameRune(p.at(1))) {
			p.pos++
		}
		return p.fail(start, p.pos, "an operator is missing before this, or the unit is unknown",
			"units are in, ft, mm, cm and m; write + - * / between measures")
	}
	if c == ')' {
		return p.fail(start, start+1, "a closing bracket without an opening one", "")
	}
	if isDigit(c) {
		p.digits()
		return p.fail(start, p.pos, "an operator is missing before this number", "")
	}
	return p.fail(start, start+1, "cannot read this in a sum", "sums use + - * / ( ) min max and named measures")
}

func (p *exprParser) sum(depth int) (*node, error) {
	if depth > maxDepth {
		return nil, p.fail(p.pos, p.pos+1, "brackets nested too deep", "")
	}
	left, err := p.product(depth)
	if err != nil {
		return nil, err
	}
	for {
		save := p.pos
		p.skip()
		c := p.peek()
		var o op
		switch {
		case c == '+':
			o = opAdd
		case isMinus(c):
			o = opSub
			if err := p.minusSpacing(save); err != nil {
				return nil, err
			}
		default:
			p.pos = save
			return left, nil
		}
		p.pos++
		right, err := p.product(depth)
		if err != nil {
			return nil, err
		}
		if left, err = p.combine(o, left, right); err != nil {
			return nil, err
		}
	}
}

// minusSpacing insists that a minus between operands stands free, or touches a bracket.
func (p *exprParser) minusSpacing(before int) error {
	okLeft := before != p.pos || (before > 0 && p.r[before-1] == ')')
	okRight := isSpace(p.at(1)) || p.at(1) == '('
	if okLeft && okRight {
		return nil
	}
	return p.fail(p.pos, p.pos+2, "a minus between two measures needs a space on both sides",
		"write a - b to subtract; a-b is one name, 12-1/8 is one number")
}

func (p *exprParser) product(depth int) (*node, error) {
	left, err := p.factor(depth)
	if err != nil {
		return nil, err
	}
	for {
		save := p.pos
		p.skip()
		c := p.peek()
		var o op
		switch {
		case c == '*', c == '·', c == '×' && !p.size:
			o = opMul
		case isSlash(c), c == '÷':
			o = opDiv
		default:
			p.pos = save
			return left, nil
		}
		p.pos++
		right, err := p.factor(depth)
		if err != nil {
			return nil, err
		}
		if left, err = p.combine(o, left, right); err != nil {
			return nil, err
		}
	}
}

func (p *exprParser) factor(depth int) (*node, error) {
	if depth > maxDepth {
		return nil, p.fail(p.pos, p.pos+1, "brackets nested too deep", "")
	}
	p.skip()
	start := p.pos
	c := p.peek()
	_, isVulgar := vulgar[c]
	switch {
	case p.eof():
		return nil, p.fail(start, start, "a measure is missing at the end", "")
	case isMinus(c), c == '+':
		p.pos++
		n, err := p.factor(depth + 1)
		if err != nil || c == '+' {
			return n, err
		}
		return &node{op: opNeg, from: start, to: p.pos, kind: n.kind, args: []*node{n}}, nil
	case c == '(':
		p.pos++
		inner := p.args
		p.args = 0
		n, err := p.sum(depth + 1)
		if err != nil {
			return nil, err
		}
		p.args = inner
		return n, p.close(start)
	case isDigit(c), isVulgar, (c == '.' || c == ',') && isDigit(p.at(1)):
		v, unit, err := p.quantity(p.args > 0)
		if err != nil {
			return nil, err
		}
		k := bare
		if unit != 0 {
			k = length
		}
		return &node{op: opConst, from: start, to: p.pos, val: v, kind: k}, nil
	case unicode.IsLetter(c), c == '_':
		return p.word(depth)
	case c == ')':
		return nil, p.fail(start, start+1, "a measure is missing before the bracket", "")
	}
	return nil, p.fail(start, start+1, "a measure is wanted here", "")
}

func (p *exprParser) close(open int) error {
	p.skip()
	if p.peek() == ')' {
		p.pos++
		return nil
	}
	if p.eof() {
		return p.fail(open, open+1, "the bracket is not closed", "add )")
	}
	return p.unexpected()
}

// word reads a name, or min( and max(.
func (p *exprParser) word(depth int) (*node, error) {
	start := p.pos
	for isNameRune(p.peek()) || (p.peek() == '-' && isNameRune(p.at(1))) {
		p.pos++
	}
	w := p.text(start)
	if _, ok := unitWord(w); ok {
		return nil, p.fail(start, p.pos, "a unit without a number before it", "")
	}
	if w != "min" && w != "max" {
		return &node{op: opName, from: start, to: p.pos, kind: length, name: w}, nil
	}
	p.skip()
	open := p.pos
	if p.peek() != '(' {
		return nil, p.fail(start, p.pos, w+" needs brackets", "write "+w+"(a, b)")
	}
	p.pos++
	n := &node{op: opMin, from: start}
	if w == "max" {
		n.op = opMax
	}
	p.args++
	for {
		a, err := p.sum(depth + 1)
		if err != nil {
			return nil, err
		}
		n.args = append(n.args, a)
		p.skip()
		if p.peek() != ',' && p.peek() != ';' {
			break
		}
		p.pos++
	}
	p.args--
	if err := p.close(open); err != nil {
		return nil, err
	}
	n.to = p.pos
	return n, p.unify(n)
}

// unify brings the arguments of a sum, min or max to one dimension.
func (p *exprParser) unify(n *node) error {
	n.kind = bare
	for _, a := range n.args {
		if a.kind != bare {
			if n.kind != bare && n.kind != a.kind {
				return p.fail(n.from, n.to, "a length and a plain number cannot be added or compared", "")
			}
			n.kind = a.kind
		}
	}
	if n.kind == length {
		for i, a := range n.args {
			n.args[i] = p.asLength(a)
		}
	}
	return nil
}

func (p *exprParser) combine(o op, a, b *node) (*node, error) {
	n := &node{op: o, from: a.from, to: p.pos, args: []*node{a, b}}
	switch o {
	case opAdd, opSub:
		return n, p.unify(n)
	case opMul:
		if a.kind == length && b.kind == length {
			return nil, p.fail(n.from, n.to, "a length times a length is an area, and a length is wanted", "")
		}
	case opDiv:
		if b.kind == length {
			if a.kind != length {
				return nil, p.fail(n.from, n.to, "a number divided by a length is no length",
					"give the number a unit if it is a length")
			}
			n.kind = number
			return n, nil
		}
	}
	n.kind = max(a.kind, b.kind)
	return n, nil
}

// Eval works the sum out. lookup gives the value of a named measure; it may be nil when the
// sum has no names. Errors are *ParseError positioned in the sum's text.
func (e *Expr) Eval(lookup func(name string) (Length, bool)) (Value, error) {
	r, err := e.rat(func(n string) (*big.Rat, bool) {
		if lookup == nil {
			return nil, false
		}
		l, ok := lookup(n)
		return l.Rat(), ok
	})
	if err != nil {
		return Value{}, err
	}
	return e.round(r)
}

func (e *Expr) round(r *big.Rat) (Value, error) {
	l, exact, err := FromRat(r)
	if err != nil {
		return Value{}, e.fail(e.root, "longer than 100 km", "")
	}
	return Value{l, exact}, nil
}

func (e *Expr) fail(n *node, msg, hint string) error {
	r := []rune(e.text)
	return &ParseError{Col: n.from + 1 + e.col, Msg: msg, Text: string(r[min(n.from, len(r)):min(n.to, len(r))]), Hint: hint}
}

// maxBits bounds the size of the exact fractions, so that a chain of measures that squares a
// ratio again and again ends in an error and not in all the memory.
const maxBits = 1 << 13

const msgNoName = "no measure has this name"

func (e *Expr) rat(lookup func(string) (*big.Rat, bool)) (*big.Rat, error) {
	var eval func(n *node) (*big.Rat, error)
	eval = func(n *node) (*big.Rat, error) {
		switch n.op {
		case opConst:
			return n.val, nil
		case opName:
			v, ok := lookup(n.name)
			if !ok {
				hint := "name it under measures"
				if strings.Contains(n.name, "-") {
					hint = "name it under measures; to subtract, put a space on both sides of the minus"
				}
				return nil, e.fail(n, msgNoName, hint)
			}
			return v, nil
		}
		var v *big.Rat
		for i, a := range n.args {
			x, err := eval(a)
			if err != nil {
				return nil, err
			}
			switch {
			case n.op == opNeg:
				v = new(big.Rat).Neg(x)
			case i == 0:
				v = x
			case n.op == opAdd:
				v = new(big.Rat).Add(v, x)
			case n.op == opSub:
				v = new(big.Rat).Sub(v, x)
			case n.op == opMul:
				v = new(big.Rat).Mul(v, x)
			case n.op == opDiv:
				if x.Sign() == 0 {
					return nil, e.fail(n, "divided by zero", "")
				}
				v = new(big.Rat).Quo(v, x)
			case n.op == opMin && x.Cmp(v) < 0, n.op == opMax && x.Cmp(v) > 0:
				v = x
			}
		}
		if v.Num().BitLen() > maxBits || v.Denom().BitLen() > maxBits {
			return nil, e.fail(n, "too many digits to work out exactly", "")
		}
		return v, nil
	}
	return eval(e.root)
}
