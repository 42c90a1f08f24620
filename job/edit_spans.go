package job

import (
	"bytes"
	"strings"

	"go.yaml.in/yaml/v3"
)

// scalarSpan finds the bytes of one scalar, quotes included. Values over
// several lines are taken whole.
func (d *editing) scalarSpan(n *yaml.Node) (from, to int, err error) {
	from = d.offset(n.Line, n.Column)
	if from > len(d.data) {
		return 0, 0, errShape
	}
	if isEmpty(n) {
		return from, from, nil
	}
	switch {
	case n.Style&yaml.DoubleQuotedStyle != 0:
		if from >= len(d.data) || d.data[from] != '"' {
			return 0, 0, errShape
		}
		for i := from + 1; i < len(d.data); i++ {
			switch d.data[i] {
			case '\\':
				i++
			case '"':
				return from, i + 1, nil
			}
		}
		return 0, 0, errShape
	case n.Style&yaml.SingleQuotedStyle != 0:
		if from >= len(d.data) || d.data[from] != '\'' {
			return 0, 0, errShape
		}
		for i := from + 1; i < len(d.data); i++ {
			if d.data[i] == '\'' {
				if i+1 < len(d.data) && d.data[i+1] == '\'' {
					i++
					continue
				}
				return from, i + 1, nil
			}
		}
		return 0, 0, errShape
	case n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		return d.blockScalar(from, n)
	}
	if bytes.HasPrefix(d.data[from:], []byte(n.Value)) {
		return from, from + len(n.Value), nil
	}
	return d.foldedPlain(from, n)
}

// foldedPlain finds the end of a plain value over several lines: its words
// are those of the value, with line breaks where the value has spaces.
func (d *editing) foldedPlain(from int, n *yaml.Node) (int, int, error) {
	i, at := 0, from
	v := n.Value
	for i < len(v) {
		if at >= len(d.data) {
			return 0, 0, errShape
		}
		if v[i] == d.data[at] && v[i] != ' ' && v[i] != '\n' {
			i++
			at++
			continue
		}
		// white space: skip it on both sides
		j, k := i, at
		for j < len(v) && (v[j] == ' ' || v[j] == '\n') {
			j++
		}
		for k < len(d.data) && strings.IndexByte(" \t\r\n", d.data[k]) >= 0 {
			k++
		}
		if j == i || k == at {
			return 0, 0, errShape
		}
		i, at = j, k
	}
	return from, at, nil
}

// blockScalar finds the end of a `|` or `>` value: the last line that is
// indented deeper than the line it begins on, without closing empty lines.
func (d *editing) blockScalar(from int, n *yaml.Node) (int, int, error) {
	if from >= len(d.data) || d.data[from] != '|' && d.data[from] != '>' {
		return 0, 0, errShape
	}
	if n.Line >= len(d.lines) {
		return from, len(d.data), nil
	}
	// the block's own indentation is that of its first line with text
	own := -1
	end := d.lineEnd(from)
	for l := n.Line + 1; l <= len(d.lines); l++ {
		text := d.lineText(l)
		t := strings.TrimLeft(text, " ")
		if strings.TrimSpace(t) == "" {
			continue
		}
		ind := len(text) - len(t)
		if own < 0 {
			if ind == 0 {
				break
			}
			own = ind
		}
		if ind < own {
			break
		}
		end = d.lineEnd(d.lines[l-1])
	}
	return from, end, nil
}

func (d *editing) lineText(l int) string {
	from := d.lines[l-1]
	return string(d.data[from:d.lineEnd(from)])
}

// lineEnd is the offset of the line's end, before its line break.
func (d *editing) lineEnd(at int) int {
	i := bytes.IndexByte(d.data[at:], '\n')
	if i < 0 {
		return len(d.data)
	}
	end := at + i
	if end > at && d.data[end-1] == '\r' {
		end--
	}
	return end
}

// closing finds the bracket or brace that closes a flow node.
func (d *editing) closing(n *yaml.Node) (int, error) {
	at := d.offset(n.Line, n.Column)
	if at >= len(d.data) || d.data[at] != '[' && d.data[at] != '{' {
		return 0, errShape
	}
	at++
	for _, c := range n.Content {
		end, err := d.end(c)
		if err != nil {
			return 0, err
		}
		at = max(at, end)
	}
	want := byte(']')
	if n.Kind == yaml.MappingNode {
		want = '}'
	}
	for i := at; i < len(d.data); i++ {
		switch c := d.data[i]; {
		case c == want:
			return i, nil
		case c == '#' && strings.IndexByte(" \t\r\n", d.data[i-1]) >= 0:
			i = d.lineEnd(i)
		case strings.IndexByte(" \t\r\n,:", c) < 0:
			return 0, errShape
		}
	}
	return 0, errShape
}

// end is the offset behind the last byte of a node.
func (d *editing) end(n *yaml.Node) (int, error) {
	switch {
	case n.Kind == yaml.ScalarNode:
		_, to, err := d.scalarSpan(n)
		return to, err
	case n.Style&yaml.FlowStyle != 0:
		c, err := d.closing(n)
		return c + 1, err
	case len(n.Content) == 0:
		return 0, errShape
	}
	last := n.Content[len(n.Content)-1]
	if isEmpty(last) {
		if n.Kind == yaml.MappingNode {
			return d.afterKey(n, n.Content[len(n.Content)-2])
		}
		return 0, errShape
	}
	return d.end(last)
}

// afterKey is the offset behind a key's colon.
func (d *editing) afterKey(parent, k *yaml.Node) (int, error) {
	if parent.Kind != yaml.MappingNode {
		return 0, errShape
	}
	_, to, err := d.scalarSpan(k)
	if err != nil {
		return 0, err
	}
	for ; to < len(d.data); to++ {
		switch d.data[to] {
		case ':':
			return to + 1, nil
		case ' ', '\t':
		default:
			return 0, errShape
		}
	}
	return 0, errShape
}

// addKey adds `key: text` at the end of a map.
func (d *editing) addKey(m *yaml.Node, path Path, key, text string) ([]byte, error) {
	k := quote(key, d.inFlow(m))
	if isEmpty(m) {
		// `units:` with nothing behind it
		parent, err := d.find(path[:max(len(path)-1, 0)])
		if err != nil || len(path) == 0 {
			return nil, errShape
		}
		_, kn := child(parent, path[len(path)-1])
		at, err := d.afterKey(parent, kn)
		if err != nil {
			return nil, err
		}
		if d.inFlow(parent) {
			return splice(d.data, at, at, " {"+k+": "+text+"}"), nil
		}
		end := d.lineEnd(at)
		return splice(d.data, end, end, d.nl+strings.Repeat(" ", kn.Column-1+2)+k+": "+text), nil
	}
	if m.Style&yaml.FlowStyle != 0 {
		close, err := d.closing(m)
		if err != nil {
			return nil, err
		}
		lead := ""
		if len(m.Content) > 0 {
			lead = ", "
			if d.trailingComma(m, close) {
				lead = " "
			}
		}
		at := d.backOverSpace(close)
		if d.commentBefore(at) {
			return nil, errShape
		}
		return splice(d.data, at, at, lead+k+": "+text), nil
	}
	if len(m.Content) == 0 { // an empty file
		lead := ""
		if n := len(d.data); n > 0 && d.data[n-1] != '\n' && n > d.lines[0] {
			lead = d.nl
		}
		return splice(d.data, len(d.data), len(d.data), lead+k+": "+text+d.nl), nil
	}
	end, err := d.end(m)
	if err != nil {
		return nil, err
	}
	end = d.lineEnd(end)
	return splice(d.data, end, end, d.nl+strings.Repeat(" ", m.Content[0].Column-1)+k+": "+text), nil
}

// backOverSpace goes back from a closing bracket over white space.
func (d *editing) backOverSpace(at int) int {
	for at > 0 && strings.IndexByte(" \t\r\n", d.data[at-1]) >= 0 {
		at--
	}
	return at
}

// commentBefore tells whether the offset stands in a comment. A # inside
// quotes counts too: then the edit is refused rather than guessed.
func (d *editing) commentBefore(at int) bool {
	from := bytes.LastIndexByte(d.data[:at], '\n') + 1
	line := d.data[from:at]
	return bytes.Contains(line, []byte(" #")) || bytes.HasPrefix(line, []byte("#"))
}

func (d *editing) trailingComma(n *yaml.Node, close int) bool {
	end, err := d.end(n.Content[len(n.Content)-1])
	if err != nil || end > close {
		return false
	}
	return bytes.IndexByte(d.data[end:close], ',') >= 0
}

// dashColumn is the column of the dash before a block list's item, 0 when it
// is not on the item's line.
func (d *editing) dashColumn(item *yaml.Node) int {
	line := d.lineText(item.Line)
	r := []rune(line)
	for i := item.Column - 2; i >= 0 && i < len(r); i-- {
		switch r[i] {
		case ' ':
		case '-':
			return i + 1
		default:
			return 0
		}
	}
	return 0
}

// removeBlock takes out whole lines.
func (d *editing) removeBlock(parent, n, kn *yaml.Node) ([]byte, error) {
	var end int
	var err error
	col := 0
	if parent.Kind == yaml.SequenceNode {
		col = d.dashColumn(n)
		if isEmpty(n) {
			return nil, errShape
		}
		end, err = d.end(n)
	} else {
		col = kn.Column
		if isEmpty(n) {
			end, err = d.afterKey(parent, kn)
		} else {
			end, err = d.end(n)
		}
	}
	if err != nil {
		return nil, err
	}
	if col < 1 {
		return nil, errShape
	}
	only := len(parent.Content) == 1 || parent.Kind == yaml.MappingNode && len(parent.Content) == 2
	from := d.lines[kn.Line-1]
	lead := d.data[from:d.offset(kn.Line, col)]
	to := d.lineEnd(end)
	if len(bytes.TrimSpace(lead)) > 0 {
		// the first key of a list item, behind its dash: the next key moves up
		if only || parent.Kind != yaml.MappingNode {
			return nil, errShape
		}
		next := parent.Content[2]
		return splice(d.data, d.offset(kn.Line, col), d.offset(next.Line, next.Column), ""), nil
	}
	if only && parent != d.root {
		return nil, errOnly
	}
	switch {
	case to < len(d.data) && d.data[to] == '\r':
		to += 2
	case to < len(d.data):
		to++
	}
	return splice(d.data, from, to, ""), nil
}

// removeFlow takes out a piece inside brackets with its comma.
func (d *editing) removeFlow(parent, n, kn *yaml.Node) ([]byte, error) {
	step := 1
	if parent.Kind == yaml.MappingNode {
		step = 2
	}
	i := 0
	for parent.Content[i] != kn {
		i += step
	}
	from := d.offset(kn.Line, kn.Column)
	endOf := func(i int) (int, error) {
		v := parent.Content[i+step-1]
		if isEmpty(v) {
			if step == 2 {
				return d.afterKey(parent, parent.Content[i])
			}
			return 0, errShape
		}
		return d.end(v)
	}
	end, err := endOf(i)
	if err != nil {
		return nil, err
	}
	switch {
	case i+step < len(parent.Content): // up to the next one
		next := parent.Content[i+step]
		end = d.offset(next.Line, next.Column)
	case i > 0: // from behind the one before
		if from, err = endOf(i - step); err != nil {
			return nil, err
		}
	}
	if bytes.Contains(d.data[from:end], []byte("#")) && bytes.ContainsAny(d.data[from:end], "\n") {
		return nil, errShape
	}
	_ = n
	return splice(d.data, from, end, ""), nil
}
