package settle

import (
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// inline reads a scalar or a flow collection at the position. parent is the
// column of the collection it stands in (-1 at the top).
func (r *reader) inline(n *yaml.Node, parent int) (*node, error) {
	if n.Anchor != "" || n.Style&yaml.TaggedStyle != 0 || n.Kind == yaml.AliasNode {
		return nil, errShape
	}
	if n.Kind != yaml.ScalarNode {
		return r.flow(n, parent)
	}
	start := r.pos
	out := &node{kind: leaf, value: n.Value, canon: leafCanon(n.ShortTag(), n.Value)}
	ok := true
	switch {
	case n.Style&yaml.DoubleQuotedStyle != 0:
		ok = r.doubleQuoted()
	case n.Style&yaml.SingleQuotedStyle != 0:
		ok = r.singleQuoted()
	case n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		ok = r.blockScalar(parent)
		out.block = true
	default:
		ok = r.plain(n.Value)
	}
	if !ok {
		return nil, errShape
	}
	out.raw = r.s[start:r.pos]
	return out, nil
}

func (r *reader) doubleQuoted() bool {
	if r.at(r.pos) != '"' {
		return false
	}
	for r.pos++; r.pos < len(r.s); r.pos++ {
		switch r.s[r.pos] {
		case '\\':
			r.pos++
		case '"':
			r.pos++
			return true
		}
	}
	return false
}

func (r *reader) singleQuoted() bool {
	if r.at(r.pos) != '\'' {
		return false
	}
	for r.pos++; r.pos < len(r.s); r.pos++ {
		if r.s[r.pos] == '\'' {
			if r.at(r.pos+1) != '\'' {
				r.pos++
				return true
			}
			r.pos++
		}
	}
	return false
}

// plain passes a plain scalar. A plain scalar has no escapes, so its value is
// its text with the space between words folded: walking both and leaving out
// space finds the end, over any number of lines.
func (r *reader) plain(value string) bool {
	if value == "" {
		return true
	}
	i := r.pos
	for _, c := range value {
		if strings.ContainsRune(" \t\n", c) {
			continue
		}
		for i < len(r.s) && strings.IndexByte(" \t\r\n", r.s[i]) >= 0 {
			i++
		}
		d, w := utf8.DecodeRuneInString(r.s[i:])
		if d != c {
			return false
		}
		i += w
	}
	r.pos = i
	return true
}

// blockScalar passes a | or > scalar: its header line and the lines indented
// deeper than what it stands in. Blank lines at its end count only where the
// header keeps them (+); else they belong to what follows.
func (r *reader) blockScalar(parent int) bool {
	head := r.pos
	if c := r.at(r.pos); c != '|' && c != '>' {
		return false
	}
	r.line()
	header, _, _ := strings.Cut(r.s[head:r.pos], " ")
	keep := strings.Contains(header, "+")
	content := -1
	if i := strings.IndexAny(header, "123456789"); i >= 0 {
		content = max(parent, 0) + int(header[i]-'0')
	}
	end := r.pos
	for r.pos < len(r.s) {
		i := r.pos
		for r.at(i) == ' ' {
			i++
		}
		blank := r.at(i) == '\n' || i >= len(r.s) || (r.at(i) == '\r' && r.at(i+1) == '\n')
		col := i - r.pos
		if !blank {
			if content < 0 {
				content = max(col, parent+1)
			}
			if col < content {
				break
			}
		}
		r.line()
		if !blank || keep || (content >= 0 && col > content) {
			end = r.pos
		}
	}
	r.pos = end
	return true
}

// flow reads a {…} or […] collection.
func (r *reader) flow(n *yaml.Node, parent int) (*node, error) {
	if n.Style&yaml.FlowStyle == 0 {
		return nil, errShape
	}
	out := &node{kind: flowMap}
	open, end, step := byte('{'), byte('}'), 2
	if n.Kind == yaml.SequenceNode {
		out.kind, open, end, step = flowSeq, '[', ']', 1
	} else if n.Kind != yaml.MappingNode {
		return nil, errShape
	}
	if r.at(r.pos) != open {
		return nil, errShape
	}
	r.pos++
	seen := map[string]bool{}
	for i := 0; i < len(n.Content); i += step {
		e := &entry{}
		start := r.pos
		r.space()
		e.lead = r.s[start:r.pos]
		start = r.pos
		val := n.Content[i+step-1]
		if step == 2 {
			k := n.Content[i]
			if k.Kind != yaml.ScalarNode || r.at(r.pos) == '?' && isEmptyNull(k) {
				return nil, errShape
			}
			if _, err := r.inline(k, parent); err != nil {
				return nil, err
			}
			if seen[k.Value] || strings.IndexByte(r.s[start:r.pos], '\n') >= 0 {
				return nil, errShape
			}
			e.key, seen[k.Value] = k.Value, true
			if r.colon() {
				stop := r.pos
				r.space()
				if isEmptyNull(val) {
					r.pos = stop
				}
			} else if !isEmptyNull(val) {
				return nil, errShape
			}
		}
		e.head = r.s[start:r.pos]
		v, err := r.inline(val, parent)
		if err != nil {
			return nil, err
		}
		e.val = v
		start = r.pos
		r.space()
		e.post = r.s[start:r.pos]
		out.ents = append(out.ents, e)
		if r.at(r.pos) == ',' {
			r.pos++
			out.comma = i+step >= len(n.Content)
		} else if i+step < len(n.Content) {
			return nil, errShape
		}
	}
	start := r.pos
	if len(out.ents) == 0 || out.comma {
		r.space()
		out.trail = r.s[start:r.pos]
	}
	if r.at(r.pos) != end {
		return nil, errShape
	}
	r.pos++
	return out.seal(), nil
}

// colon passes the colon of a flow entry, if there is one.
func (r *reader) colon() bool {
	i := r.pos
	r.blanks()
	if r.at(r.pos) == ':' {
		r.pos++
		return true
	}
	r.pos = i
	return false
}
