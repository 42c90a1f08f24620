package measure

import (
	"fmt"
	"unicode"
)

// ParseSize reads three sums with x, X, × or `by` between them: length along the grain, width
// across it, thickness. `48 x 24 x 1/2`, `48x24x1/2` and `base by 6 by ply` all do. A name that
// starts with x needs a space before it. Columns of errors count within the whole text.
func ParseSize(text string, def System) ([3]*Expr, error) {
	es, err := ParseDims(text, def, 3)
	if err != nil {
		return [3]*Expr{}, err
	}
	return [3]*Expr{es[0], es[1], es[2]}, nil
}

// ParseDims reads exactly n sums with x, X, × or `by` between them.
func ParseDims(text string, def System, n int) ([]*Expr, error) {
	s, err := startScan(text, "a size")
	if err != nil {
		return nil, err
	}
	p := &exprParser{scanner: s, def: def, size: true}
	var out []*Expr
	for {
		root, err := p.sum(0)
		if err != nil {
			return nil, err
		}
		e, err := p.finish(text, root)
		if err != nil {
			return nil, err
		}
		e.text, e.col = string(p.r[root.from:root.to]), root.from
		rebase(e.root, root.from)
		out = append(out, e)
		p.skip()
		if p.eof() {
			break
		}
		if !p.separator() {
			return nil, p.unexpected()
		}
		p.skip()
		if p.eof() {
			return nil, p.fail(p.pos, p.pos, "a measure is missing at the end", "")
		}
	}
	if len(out) != n {
		return nil, &ParseError{Col: 1, Msg: fmt.Sprintf("%d measures with x between them are wanted, and here are %d", n, len(out)), Text: text,
			Hint: "write a size as along the grain x across it x thick"}
	}
	return out, nil
}

// separator moves over x, X, × or by when one stands here.
func (p *exprParser) separator() bool {
	switch c := p.peek(); {
	case c == '×':
		p.pos++
		return true
	case (c == 'x' || c == 'X') && !(unicode.IsLetter(p.at(1)) || p.at(1) == '_' || p.at(1) == '-'):
		p.pos++
		return true
	case (c == 'b' || c == 'B') && (p.at(1) == 'y' || p.at(1) == 'Y') && !isNameRune(p.at(2)):
		p.pos += 2
		return true
	}
	return false
}

// rebase makes the node offsets count from the start of the part's own text. A node shared
// twice is not possible: the parser builds a tree.
func rebase(n *node, by int) {
	n.from, n.to = n.from-by, n.to-by
	for _, a := range n.args {
		rebase(a, by)
	}
}
