package job

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Path leads to a value of a YAML file: keys of maps, and for an item of a
// list its id (its `id`, `item`, `name` or `date`), or its number from 0
// written `#2`.
type Path []string

// String writes the path for messages: parts/skin/qty.
func (p Path) String() string { return strings.Join(p, "/") }

// SetValue sets one scalar, and changes no other byte than those of the value.
// A key that is not there yet is added at the end of its map. The value is
// quoted when it must be. The result is read again, and the edit is refused
// unless it changed that one value and nothing else.
func SetValue(data []byte, path Path, value string) ([]byte, error) {
	d, err := openEdit(data)
	if err != nil {
		return nil, err
	}
	if len(path) == 0 {
		return nil, errors.New("no path to set")
	}
	parent, err := d.find(path[:len(path)-1])
	if err != nil {
		return nil, err
	}
	key := path[len(path)-1]
	var out []byte
	n, at := child(parent, key)
	switch {
	case n != nil && n.Kind != yaml.ScalarNode:
		return nil, fmt.Errorf("%s is %s, not one value", path, kindOf(n))
	case n != nil && !isEmpty(n):
		if n.Value == value && n.Tag != "!!null" {
			return data, nil
		}
		from, to, err := d.scalarSpan(n)
		if err != nil {
			return nil, err
		}
		out = splice(data, from, to, quote(value, d.inFlow(parent)))
	case n != nil:
		at, err := d.afterKey(parent, at)
		if err != nil {
			return nil, err
		}
		out = splice(data, at, at, " "+quote(value, d.inFlow(parent)))
	default:
		if parent.Kind != yaml.MappingNode && !isEmpty(parent) {
			return nil, fmt.Errorf("%s has no item %q", path[:len(path)-1], key)
		}
		if out, err = d.addKey(parent, path[:len(path)-1], key, quote(value, d.inFlow(parent))); err != nil {
			return nil, err
		}
	}
	return d.verify(out, path, func(want *yaml.Node) (*yaml.Node, error) {
		return setIn(want, path, &yaml.Node{Kind: yaml.ScalarNode, Value: value}), nil
	})
}

// AppendItem adds an item at the end of a list; item is YAML on one line,
// such as `{id: rib, qty: 4}` or a single value. A list that is not there yet
// is made.
func AppendItem(data []byte, path Path, item string) ([]byte, error) {
	d, err := openEdit(data)
	if err != nil {
		return nil, err
	}
	if strings.ContainsAny(item, "\n\r") {
		return nil, errors.New("an item is written on one line")
	}
	var itemDoc yaml.Node
	if err := yaml.Unmarshal([]byte("- "+item+"\n"), &itemDoc); err != nil || len(itemDoc.Content) != 1 || len(itemDoc.Content[0].Content) != 1 {
		return nil, fmt.Errorf("the item does not read: %s", item)
	}
	if len(path) == 0 {
		return nil, errors.New("no list to add to")
	}
	parent, err := d.find(path[:len(path)-1])
	if err != nil {
		return nil, err
	}
	key := path[len(path)-1]
	n, kn := child(parent, key)
	var out []byte
	switch {
	case n == nil:
		if parent.Kind != yaml.MappingNode && !isEmpty(parent) {
			return nil, fmt.Errorf("%s has no item %q", path[:len(path)-1], key)
		}
		if out, err = d.addKey(parent, path[:len(path)-1], key, "["+item+"]"); err != nil {
			return nil, err
		}
	case isEmpty(n):
		at, err := d.afterKey(parent, kn)
		if err != nil {
			return nil, err
		}
		if d.inFlow(parent) {
			out = splice(data, at, at, " ["+item+"]")
		} else {
			end := d.lineEnd(at)
			ind := strings.Repeat(" ", kn.Column-1+2)
			out = splice(data, end, end, d.nl+ind+"- "+item)
		}
	case n.Kind != yaml.SequenceNode:
		return nil, fmt.Errorf("%s is %s, not a list", path, kindOf(n))
	case n.Style&yaml.FlowStyle != 0:
		close, err := d.closing(n)
		if err != nil {
			return nil, err
		}
		lead := ""
		if len(n.Content) > 0 {
			lead = ", "
			if d.trailingComma(n, close) {
				lead = " "
			}
		}
		at := d.backOverSpace(close)
		if d.commentBefore(at) {
			at, lead = close, strings.TrimLeft(lead, " ")
			if lead == "," {
				// a comma behind a comment would be part of it: put it after the last item
				end, err := d.end(n.Content[len(n.Content)-1])
				if err != nil {
					return nil, err
				}
				out = splice(data, close, close, item)
				out = splice(out, end, end, ",")
				break
			}
		}
		out = splice(data, at, at, lead+item)
	default:
		last := n.Content[len(n.Content)-1]
		end, err := d.end(last)
		if err != nil {
			return nil, err
		}
		end = d.lineEnd(end)
		dash := d.dashColumn(last)
		if dash < 1 {
			return nil, fmt.Errorf("the list %s is written in a way that cannot be added to", path)
		}
		out = splice(data, end, end, d.nl+strings.Repeat(" ", dash-1)+"- "+item)
	}
	return d.verify(out, path, func(want *yaml.Node) (*yaml.Node, error) {
		l := getIn(want, path)
		if l == nil || isEmpty(l) {
			l = &yaml.Node{Kind: yaml.SequenceNode}
			want = setIn(want, path, l)
		}
		l.Content = append(l.Content, itemDoc.Content[0].Content[0])
		return want, nil
	})
}

// Remove takes out a key with its value, or an item of a list, with the lines
// it stands on; comments above it stay.
func Remove(data []byte, path Path) ([]byte, error) {
	d, err := openEdit(data)
	if err != nil {
		return nil, err
	}
	if len(path) == 0 {
		return nil, errors.New("no path to remove")
	}
	parent, err := d.find(path[:len(path)-1])
	if err != nil {
		return nil, err
	}
	key := path[len(path)-1]
	n, kn := child(parent, key)
	if n == nil {
		return nil, fmt.Errorf("there is no %s", path)
	}
	var out []byte
	if parent.Style&yaml.FlowStyle != 0 {
		out, err = d.removeFlow(parent, n, kn)
	} else {
		out, err = d.removeBlock(parent, n, kn)
	}
	if err != nil {
		return nil, err
	}
	return d.verify(out, path, func(want *yaml.Node) (*yaml.Node, error) {
		p := getIn(want, path[:len(path)-1])
		removeIn(p, key)
		return want, nil
	})
}

// editing is a file being edited: its bytes, its lines and its tree.
type editing struct {
	data  []byte
	lines []int // offset of each line's first byte
	root  *yaml.Node
	nl    string
	flow  map[*yaml.Node]bool // inside brackets or braces
}

var errShape = errors.New("the file is written in a way that cannot be edited here; edit it by hand")

var errOnly = errors.New("it is the only one there; take out the whole list instead")

func openEdit(data []byte) (*editing, error) {
	var ps Problems
	s := newSource("", data, &ps)
	d := &editing{data: data, nl: "\n", flow: map[*yaml.Node]bool{}}
	if s.checkText(true) {
		d.root = s.parseYAML(data)
	}
	if len(ps) > 0 {
		return nil, fmt.Errorf("the file does not read, so it is not edited: %w", ps.sorted())
	}
	if bytes.Contains(data, []byte("\r\n")) {
		d.nl = "\r\n"
	}
	if d.root == nil {
		d.root = &yaml.Node{Kind: yaml.MappingNode, Line: 1, Column: 1}
	}
	at := 0
	if bytes.HasPrefix(data, []byte("\ufeff")) {
		at = 3
	}
	d.lines = []int{at}
	for i := at; i < len(data); i++ {
		if data[i] == '\n' {
			d.lines = append(d.lines, i+1)
		}
	}
	d.markFlow(d.root, false)
	return d, nil
}

func (d *editing) markFlow(n *yaml.Node, in bool) {
	in = in || n.Style&yaml.FlowStyle != 0
	d.flow[n] = in
	for _, c := range n.Content {
		d.markFlow(c, in)
	}
}

func (d *editing) inFlow(n *yaml.Node) bool { return d.flow[n] }

// offset turns a line and a column in characters into a byte offset.
func (d *editing) offset(line, col int) int {
	if line < 1 || line > len(d.lines) {
		return len(d.data)
	}
	at := d.lines[line-1]
	for i := 1; i < col && at < len(d.data); i++ {
		at++
		for at < len(d.data) && d.data[at]&0xc0 == 0x80 {
			at++
		}
	}
	return at
}

func (d *editing) find(path Path) (*yaml.Node, error) {
	n := d.root
	for i, key := range path {
		c, _ := child(n, key)
		if c == nil {
			return nil, fmt.Errorf("there is no %s", path[:i+1])
		}
		n = c
	}
	return n, nil
}

// child finds a key's value in a map with the key's node, or an item of a
// list (then the second node is the item).
func child(n *yaml.Node, key string) (value, k *yaml.Node) {
	if n == nil {
		return nil, nil
	}
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == key {
				return n.Content[i+1], n.Content[i]
			}
		}
	case yaml.SequenceNode:
		if i := itemIndex(n, key); i >= 0 {
			return n.Content[i], n.Content[i]
		}
	}
	return nil, nil
}

func itemIndex(n *yaml.Node, key string) int {
	if num, ok := strings.CutPrefix(key, "#"); ok {
		if i, err := strconv.Atoi(num); err == nil && i >= 0 && i < len(n.Content) {
			return i
		}
		return -1
	}
	for _, by := range []string{"id", "item", "name", "date"} {
		for i, c := range n.Content {
			if c.Kind != yaml.MappingNode {
				continue
			}
			for k := 0; k+1 < len(c.Content); k += 2 {
				if c.Content[k].Value == by && c.Content[k+1].Kind == yaml.ScalarNode && c.Content[k+1].Value == key {
					return i
				}
			}
		}
	}
	for i, c := range n.Content {
		if c.Kind == yaml.ScalarNode && c.Value == key {
			return i
		}
	}
	return -1
}

func isEmpty(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Tag == "!!null" && n.Value == ""
}

func splice(data []byte, from, to int, with string) []byte {
	out := make([]byte, 0, len(data)-(to-from)+len(with))
	out = append(out, data[:from]...)
	out = append(out, with...)
	return append(out, data[to:]...)
}

// verify reads an edited file again and holds it against the tree the edit
// was to give.
func (d *editing) verify(out []byte, path Path, change func(want *yaml.Node) (*yaml.Node, error)) ([]byte, error) {
	var ps Problems
	s := newSource("", out, &ps)
	var got *yaml.Node
	if s.checkText(true) {
		got = s.parseYAML(out)
	}
	if len(ps) > 0 {
		return nil, fmt.Errorf("%s: %w", path, errShape)
	}
	if got == nil {
		got = &yaml.Node{Kind: yaml.MappingNode}
	}
	want, err := change(cloneTree(d.root))
	if err != nil {
		return nil, err
	}
	if !sameTree(got, want) {
		return nil, fmt.Errorf("%s: %w", path, errShape)
	}
	return out, nil
}

func cloneTree(n *yaml.Node) *yaml.Node {
	c := *n
	c.Content = make([]*yaml.Node, len(n.Content))
	for i, k := range n.Content {
		c.Content[i] = cloneTree(k)
	}
	return &c
}

// sameTree compares what two trees say, not how they are written. A list or
// map with nothing in it and an empty value say the same.
func sameTree(a, b *yaml.Node) bool {
	if len(a.Content) == 0 && len(b.Content) == 0 && (hollow(a) && hollow(b)) {
		return true
	}
	if a.Kind != b.Kind || a.Value != b.Value || len(a.Content) != len(b.Content) {
		return false
	}
	if a.Kind == yaml.ScalarNode && (a.Tag == "!!null") != (b.Tag == "!!null") {
		return false
	}
	for i := range a.Content {
		if !sameTree(a.Content[i], b.Content[i]) {
			return false
		}
	}
	return true
}

func hollow(n *yaml.Node) bool { return n.Kind != yaml.ScalarNode || isEmpty(n) }

func getIn(n *yaml.Node, path Path) *yaml.Node {
	for _, key := range path {
		c, _ := child(n, key)
		if c == nil {
			return nil
		}
		n = c
	}
	return n
}

// setIn puts a value at a path of a tree, adding the last key when it is not
// there.
func setIn(n *yaml.Node, path Path, v *yaml.Node) *yaml.Node {
	p := getIn(n, path[:len(path)-1])
	if p == nil {
		return n
	}
	if isEmpty(p) {
		p.Kind, p.Tag = yaml.MappingNode, "!!map"
	}
	key := path[len(path)-1]
	if p.Kind == yaml.SequenceNode {
		if i := itemIndex(p, key); i >= 0 {
			p.Content[i] = v
		}
		return n
	}
	for i := 0; i+1 < len(p.Content); i += 2 {
		if p.Content[i].Value == key {
			p.Content[i+1] = v
			return n
		}
	}
	p.Content = append(p.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: key}, v)
	return n
}

func removeIn(p *yaml.Node, key string) {
	if p.Kind == yaml.SequenceNode {
		if i := itemIndex(p, key); i >= 0 {
			p.Content = append(p.Content[:i:i], p.Content[i+1:]...)
		}
		return
	}
	for i := 0; i+1 < len(p.Content); i += 2 {
		if p.Content[i].Value == key {
			p.Content = append(p.Content[:i:i], p.Content[i+2:]...)
			return
		}
	}
}
