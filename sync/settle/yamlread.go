package settle

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"go.yaml.in/yaml/v3"
)

// errShape is returned for YAML that is valid but beyond what is put together
// piece by piece: anchors, aliases, tags, several documents, `? ` keys. Such a
// file is settled whole.
var errShape = errors.New("yaml beyond what is settled by key")

// readYAML reads text with plain line ends.
func readYAML(s string) (d *doc, err error) {
	defer func() { // the library panics on some malformed input
		if p := recover(); p != nil {
			d, err = nil, fmt.Errorf("not readable as yaml: %v", p)
		}
	}()
	if strings.ContainsAny(s, "\u0085\u2028\u2029") || strings.Count(s, "\r") != strings.Count(s, "\r\n") || strings.HasPrefix(s, "%") {
		return nil, errShape // rare line ends, which the library counts as lines
	}
	dec := yaml.NewDecoder(strings.NewReader(s))
	var top yaml.Node
	err = dec.Decode(&top)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if err == nil {
		var more yaml.Node
		if e := dec.Decode(&more); e != io.EOF {
			return nil, errShape
		}
	}
	r := &reader{s: s}
	d = &doc{}
	r.lines()
	if rest := s[r.pos:]; strings.HasPrefix(rest, "---\n") {
		r.pos += 4
		d.pre = s[:r.pos]
	} else {
		r.pos = 0
	}
	if len(top.Content) == 0 || isEmptyNull(top.Content[0]) {
		d.root = (&node{kind: blockMap}).seal()
		r.lines()
		d.pre = s[:r.pos]
	} else if n := top.Content[0]; n.Kind != yaml.ScalarNode && n.Style&yaml.FlowStyle == 0 {
		if d.root, err = r.block(n, false, -1); err != nil {
			return nil, err
		}
		if e := d.root.ents; len(e) > 0 { // a heading of the file stays with the file
			cut := lastBlank(e[0].lead)
			if cut == 0 {
				cut = len(e[0].lead)
			}
			d.pre, e[0].lead = d.pre+e[0].lead[:cut], e[0].lead[cut:]
		}
	} else {
		start := r.pos
		r.space()
		d.pre += s[start:r.pos]
		if d.root, err = r.inline(n, -1); err != nil {
			return nil, err
		}
	}
	d.tail = s[r.pos:]
	r.rest()
	r.lines()
	if strings.HasPrefix(s[r.pos:], "...\n") {
		r.pos += 4
		r.lines()
	}
	if r.pos != len(s) || d.text() != s {
		return nil, errShape
	}
	return d, nil
}

// lastBlank is the offset just after the last blank line of s.
func lastBlank(s string) int {
	cut, at := 0, 0
	for _, l := range strings.SplitAfter(s, "\n") {
		at += len(l)
		if l != "" && strings.TrimSpace(l) == "" {
			cut = at
		}
	}
	return cut
}

func isEmptyNull(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Value == "" && n.Style == 0 && n.Anchor == ""
}

// reader walks the text beside the library's node tree: the tree says what
// comes next, the text says where it ends.
type reader struct {
	s   string
	pos int
}

func (r *reader) at(i int) byte {
	if i < len(r.s) {
		return r.s[i]
	}
	return 0
}

func (r *reader) eol() bool {
	return r.pos >= len(r.s) || r.s[r.pos] == '\n' || (r.s[r.pos] == '\r' && r.at(r.pos+1) == '\n')
}

// lines passes blank lines and comment lines.
func (r *reader) lines() {
	for r.pos < len(r.s) {
		i := r.pos
		for r.at(i) == ' ' || r.at(i) == '\t' {
			i++
		}
		if c := r.at(i); i < len(r.s) && c != '#' && c != '\n' && c != '\r' {
			return
		}
		r.pos = i
		r.line()
	}
}

// line passes the rest of the line with its end.
func (r *reader) line() {
	if i := strings.IndexByte(r.s[r.pos:], '\n'); i >= 0 {
		r.pos += i + 1
	} else {
		r.pos = len(r.s)
	}
}

// blanks passes spaces and tabs.
func (r *reader) blanks() {
	for r.at(r.pos) == ' ' || r.at(r.pos) == '\t' {
		r.pos++
	}
}

// rest passes spaces, a comment and the end of the line; false if a value
// stands in the way.
func (r *reader) rest() bool {
	i := r.pos
	r.blanks()
	if r.eol() || (r.at(r.pos) == '#' && (r.pos > i || i == 0 || r.s[i-1] == '\n')) {
		r.line()
		return true
	}
	return false
}

// space passes blanks, comments and line ends.
func (r *reader) space() {
	for {
		r.blanks()
		switch {
		case r.pos >= len(r.s):
			return
		case r.eol():
			r.line()
		case r.at(r.pos) == '#' && r.pos > 0 && strings.IndexByte(" \t\n,[{", r.s[r.pos-1]) >= 0 || r.at(r.pos) == '#' && r.pos == 0:
			r.line()
		default:
			return
		}
	}
}

// block reads a block collection. The position is at the start of a line, or,
// for a compact one, at its first entry.
func (r *reader) block(n *yaml.Node, compact bool, parent int) (*node, error) {
	if n.Anchor != "" || n.Style&yaml.TaggedStyle != 0 || n.Kind == yaml.AliasNode || len(n.Content) == 0 {
		return nil, errShape
	}
	out := &node{kind: blockMap, compact: compact, indent: n.Content[0].Column - 1}
	step := 2
	if n.Kind == yaml.SequenceNode {
		out.kind, step = blockSeq, 1
		out.indent = n.Column - 1
	} else if n.Kind != yaml.MappingNode {
		return nil, errShape
	}
	if !compact { // count the spaces: the library's column is the same, this is sure
		save := r.pos
		r.lines()
		i := r.pos
		for r.at(i) == ' ' {
			i++
		}
		out.indent = i - r.pos
		r.pos = save
	}
	if out.indent < parent || (out.indent == parent && out.kind == blockMap) {
		return nil, errShape
	}
	seen := map[string]bool{}
	for i := 0; i < len(n.Content); i += step {
		e := &entry{}
		if i > 0 || !compact {
			start := r.pos
			r.lines()
			e.lead = r.s[start:r.pos]
			for k := 0; k < out.indent; k++ {
				if r.at(r.pos) != ' ' {
					return nil, errShape
				}
				r.pos++
			}
		}
		start := r.pos
		val := n.Content[i+step-1]
		if step == 2 {
			k := n.Content[i]
			if k.Kind != yaml.ScalarNode || strings.IndexByte("?|>", r.at(r.pos)) >= 0 && k.Style == 0 && k.Value == "" {
				return nil, errShape
			}
			if _, err := r.inline(k, out.indent); err != nil {
				return nil, err
			}
			if strings.IndexByte(r.s[start:r.pos], '\n') >= 0 {
				return nil, errShape
			}
			if seen[k.Value] {
				return nil, fmt.Errorf("line %d: the key %q is there twice", k.Line, k.Value)
			}
			e.key, seen[k.Value] = k.Value, true
			r.blanks()
			if r.at(r.pos) != ':' {
				return nil, errShape
			}
		} else if r.at(r.pos) != '-' {
			return nil, errShape
		}
		r.pos++
		if err := r.entryValue(e, val, start, out); err != nil {
			return nil, err
		}
		out.ents = append(out.ents, e)
	}
	return out.seal(), nil
}

// entryValue reads what follows `key:` or `-`.
func (r *reader) entryValue(e *entry, val *yaml.Node, start int, in *node) (err error) {
	after := r.pos
	r.blanks()
	gap := r.s[after:r.pos]
	onLine := !r.eol() && (r.at(r.pos) != '#' || gap == "")
	if onLine && gap == "" {
		return errShape
	}
	isBlock := val.Kind != yaml.ScalarNode && val.Style&yaml.FlowStyle == 0
	switch {
	case isEmptyNull(val):
		r.pos = after
		e.head, e.val = r.s[start:after], &node{kind: leaf, canon: leafCanon("!!null", "")}
		if !r.rest() {
			return errShape
		}
		e.post = r.s[after:r.pos]
		return nil
	case !onLine && isBlock:
		r.line()
		e.head = r.s[start:r.pos]
		e.val, err = r.block(val, false, in.indent)
		return err
	case !onLine:
		r.space()
	case isBlock && in.kind == blockSeq:
		if strings.Contains(gap, "\t") {
			return errShape
		}
		e.head = r.s[start:r.pos]
		e.val, err = r.block(val, true, in.indent)
		if err == nil && e.val.indent != in.indent+len(e.head) {
			return errShape
		}
		return err
	case isBlock:
		return errShape
	}
	e.head = r.s[start:r.pos]
	if e.val, err = r.inline(val, in.indent); err != nil {
		return err
	}
	if e.val.block {
		return nil
	}
	end := r.pos
	if !r.rest() {
		return errShape
	}
	e.post = r.s[end:r.pos]
	return nil
}
