package settle

import (
	"crypto/sha256"
	"strconv"
	"strings"
)

// A YAML file is read into a tree that keeps every byte: joining the pieces of
// the tree in order gives the file back. Settling picks and joins pieces; it
// never encodes a value anew.

type nodeKind int

const (
	leaf nodeKind = iota
	blockMap
	blockSeq
	flowMap
	flowSeq
)

// node is a value. A leaf (scalar) has only raw; a collection has entries.
type node struct {
	kind  nodeKind
	raw   string // a leaf's bytes
	value string // a leaf's value
	canon string // what it means: equal canon, equal value
	block bool   // a leaf in block style (| or >), which ends its own line

	ents []*entry

	// block collections: the column of the entries, and whether the first
	// entry stands on the line of the dash it belongs to
	indent  int
	compact bool

	// flow collections: what stands before the closing bracket, after a
	// trailing comma or in an empty collection
	comma bool
	trail string

	cached string
	done   bool
}

// entry is one key with its value, or one list item.
//
// In block style: lead holds the comment and blank lines above, head runs from
// the key (or dash) to the value, post from the value to the end of the line.
// In flow style: lead and post are the space around the entry within its
// commas.
type entry struct {
	lead string
	key  string
	head string
	val  *node
	post string
}

// doc is a file: what stands before the first entry, the value, what follows.
type doc struct {
	pre  string
	root *node
	tail string
}

func (d *doc) text() string { return d.pre + d.root.text() + d.tail }

func (n *node) isBlock() bool { return n.kind == blockMap || n.kind == blockSeq }
func (n *node) isMap() bool   { return n.kind == blockMap || n.kind == flowMap }
func (n *node) isSeq() bool   { return n.kind == blockSeq || n.kind == flowSeq }
func (n *node) isFlow() bool  { return n.kind == flowMap || n.kind == flowSeq }

// text is the node's bytes.
func (n *node) text() string {
	if n.kind == leaf {
		return n.raw
	}
	if !n.done {
		var w strings.Builder
		n.emit(&w)
		n.cached, n.done = w.String(), true
	}
	return n.cached
}

func (n *node) emit(w *strings.Builder) {
	switch {
	case n.kind == leaf:
		w.WriteString(n.raw)
	case n.isBlock():
		for i, e := range n.ents {
			if i > 0 || !n.compact {
				w.WriteString(e.lead)
				w.WriteString(strings.Repeat(" ", n.indent))
			}
			e.emit(w)
		}
	default:
		open, end := "{", "}"
		if n.kind == flowSeq {
			open, end = "[", "]"
		}
		w.WriteString(open)
		for i, e := range n.ents {
			if i > 0 {
				w.WriteByte(',')
			}
			w.WriteString(e.lead)
			e.emit(w)
		}
		if n.comma {
			w.WriteByte(',')
		}
		w.WriteString(n.trail)
		w.WriteString(end)
	}
}

func (e *entry) emit(w *strings.Builder) {
	w.WriteString(e.head)
	w.WriteString(e.val.text())
	w.WriteString(e.post)
}

// seal computes a collection's canon from its entries.
func (n *node) seal() *node {
	if n.kind == leaf {
		return n
	}
	var w strings.Builder
	if n.isMap() {
		w.WriteByte('{')
		for _, e := range n.ents {
			w.WriteString(strconv.Quote(e.key))
			w.WriteByte('=')
			w.WriteString(e.val.canon)
			w.WriteByte(';')
		}
	} else {
		w.WriteByte('[')
		for _, e := range n.ents {
			w.WriteString(e.val.canon)
			w.WriteByte(';')
		}
	}
	n.canon = short(w.String())
	return n
}

// short keeps the canon of deep trees from growing with depth times size.
func short(s string) string {
	if len(s) <= 128 {
		return s
	}
	h := sha256.Sum256([]byte(s))
	return s[:1] + "sha256:" + string(h[:])
}

func leafCanon(tag, value string) string {
	return short(tag + ":" + strconv.Itoa(len(value)) + ":" + value)
}

func (n *node) find(key string) *entry {
	if n == nil {
		return nil
	}
	for _, e := range n.ents {
		if e.key == key {
			return e
		}
	}
	return nil
}

// reindent gives the node moved by delta columns.
func (n *node) reindent(delta int) *node {
	if delta == 0 || n == nil {
		return n
	}
	c := *n
	c.done, c.cached = false, ""
	if n.kind == leaf {
		c.raw = shiftRest(n.raw, delta)
		return &c
	}
	if n.isBlock() {
		c.indent = max(0, n.indent+delta)
	}
	c.trail = shiftRest(n.trail, delta)
	c.ents = make([]*entry, len(n.ents))
	for i, e := range n.ents {
		x := *e
		if n.isBlock() {
			x.lead = shiftAll(e.lead, delta)
		} else {
			x.lead = shiftRest(e.lead, delta)
		}
		x.head = shiftRest(e.head, delta)
		x.post = shiftRest(e.post, delta)
		x.val = e.val.reindent(delta)
		c.ents[i] = &x
	}
	return &c
}

// shiftAll moves every line that is not blank; shiftRest all but the first.
func shiftAll(s string, delta int) string {
	if delta == 0 || s == "" {
		return s
	}
	lines := strings.SplitAfter(s, "\n")
	for i, l := range lines {
		lines[i] = shiftLine(l, delta)
	}
	return strings.Join(lines, "")
}

func shiftRest(s string, delta int) string {
	i := strings.IndexByte(s, '\n')
	if i < 0 || delta == 0 {
		return s
	}
	return s[:i+1] + shiftAll(s[i+1:], delta)
}

func shiftLine(l string, delta int) string {
	if strings.TrimRight(l, " \r\n") == "" && len(l) <= 2 {
		return l
	}
	if delta > 0 {
		if l == "" {
			return l
		}
		return strings.Repeat(" ", delta) + l
	}
	for ; delta < 0 && strings.HasPrefix(l, " "); delta++ {
		l = l[1:]
	}
	return l
}
