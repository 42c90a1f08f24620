package settle

import (
	"strings"
)

// shape says how an entry's value stands to its key. Head, value and line end
// are picked one by one only between entries of one shape.
type shape int

const (
	shapeInline  shape = iota // key: value
	shapeEmpty                // key:
	shapeBelow                // key: and a scalar on the next line
	shapeScalar               // key: |
	shapeNested               // key: and a block collection below
	shapeCompact              // - key: value
)

func shapeOf(e *entry) shape {
	switch {
	case e.val.isBlock() && e.val.compact:
		return shapeCompact
	case e.val.isBlock():
		return shapeNested
	case e.val.block:
		return shapeScalar
	case strings.Contains(e.head, "\n"):
		return shapeBelow
	case e.val.kind == leaf && e.val.raw == "":
		return shapeEmpty
	}
	return shapeInline
}

// entry puts two versions of one entry together. in is the collection it
// stands in.
func (m *settling) entry(at []seg, b, o, t *entry, list bool, in *node) *entry {
	name := formatAddress(at)
	baseLead := ""
	if b != nil {
		baseLead = b.lead
	}
	lead := m.piece("comment above "+name, baseLead, o.lead, t.lead)
	if list && b == nil && o.val.canon != t.val.canon { // made on both machines under one id
		out, other := *o, t
		if m.clashNode(at, nil, o.val, t.val) {
			out, other = *t, o
		}
		m.keepEntryComments(name, b, other, &out)
		out.lead = lead
		return &out
	}
	if shapeOf(o) != shapeOf(t) {
		out, other := *t, o
		switch {
		case b != nil && t.val.canon == b.val.canon && o.val.canon != b.val.canon:
			out, other = *o, t
		case b != nil && o.val.canon == b.val.canon, o.val.canon == t.val.canon:
		default:
			if !m.clashNode(at, valOf(b), o.val, t.val) {
				out, other = *o, t
			}
		}
		m.keepEntryComments(name, b, other, &out)
		out.lead = lead
		return &out
	}
	out := &entry{key: t.key, lead: lead}
	head, post := "", ""
	if b != nil {
		head, post = b.head, b.post
	}
	out.head = m.piece("comment beside "+name, head, o.head, t.head)
	out.post = m.piece("comment beside "+name, post, o.post, t.post)
	column := -1
	if o.val.isBlock() && o.val.compact {
		column = in.indent + len(out.head)
	}
	out.val = m.node(at, valOf(b), o.val, t.val, column)
	return out.settleDown()
}

// settleDown mends what an entry cannot be written with: an empty block
// collection, comments above the first key beside a dash.
func (e *entry) settleDown() *entry {
	v := e.val
	if !v.isBlock() {
		return e
	}
	if len(v.ents) == 0 {
		line := strings.TrimSuffix(e.head, "\n")
		note := ""
		if i := commentStart(line); i >= 0 {
			line, note = line[:i], " "+line[i:]
		}
		e.head, e.post = strings.TrimRight(line, " \t\r")+" ", note+"\n"
		e.val = (&node{kind: flowMap}).seal()
		if v.kind == blockSeq {
			e.val = (&node{kind: flowSeq}).seal()
		}
		return e
	}
	if first := v.ents[0]; v.compact && first.lead != "" {
		if strings.TrimSpace(first.lead) != "" {
			e.lead += shiftAll(first.lead, -len(e.head))
		}
		x, c := *first, *v
		x.lead = ""
		c.ents = append([]*entry{&x}, v.ents[1:]...)
		c.done = false
		e.val = &c
	}
	return e
}

func valOf(e *entry) *node {
	if e == nil {
		return nil
	}
	return e.val
}

// piece settles the text around values: comments, blank lines, spacing. Only
// comments that both sides changed differently are worth a record.
func (m *settling) piece(what, b, o, t string) string {
	switch {
	case o == t, t == b:
		return o
	case o == b:
		return t
	}
	cb, co, ct := comments(b), comments(o), comments(t)
	switch {
	case co == ct, co == cb:
		return t
	case ct == cb:
		return o
	}
	if m.clash(KindPassage, what, textFile(cb), textFile(co), textFile(ct), hasText(co), hasText(ct)) {
		return t
	}
	return o
}

func textFile(s string) File { return File{s != "", []byte(s)} }

// hasText tells whether a version has these lines, wherever they are indented.
func hasText(s string) func(File) bool {
	return func(f File) bool {
		return s != "" && f.Exists && strings.Contains(trimLines(string(f.Data)), s) || s == "" && !f.Exists
	}
}

func trimLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimSpace(l)
	}
	return strings.Join(lines, "\n")
}

// commentStart is where a comment starts on a line, or -1.
func commentStart(line string) int {
	for i := 0; i < len(line); i++ {
		if line[i] == '#' && (i == 0 || line[i-1] == ' ' || line[i-1] == '\t') {
			return i
		}
	}
	return -1
}

// comments are the comment lines of a piece, without their indentation.
func comments(s string) string {
	var out []string
	for _, l := range strings.Split(s, "\n") {
		if i := commentStart(l); i >= 0 {
			out = append(out, strings.TrimSpace(l[i:]))
		}
	}
	return strings.Join(out, "\n")
}

// keepComments records comments within a value that is left for another, if
// the other and the base lack them.
func (m *settling) keepComments(at []seg, b, left, taken *node) {
	wrap := func(n *node) *entry {
		if n == nil {
			return nil
		}
		return &entry{val: n}
	}
	if left.kind == leaf {
		return
	}
	m.keepEntryComments(formatAddress(at), wrap(b), wrap(left), wrap(taken))
}

func (m *settling) keepEntryComments(name string, b, left, taken *entry) {
	lines := func(e *entry) string {
		if e == nil {
			return ""
		}
		x := *e
		x.lead = ""
		if i := commentStart(x.head); i >= 0 && !strings.Contains(x.head, "\n") {
			x.head = ""
		}
		return string(entryComments(&x))
	}
	had, has := "\n"+lines(b), "\n"+lines(taken)
	var lost []string
	for _, l := range strings.Split(strings.TrimSpace(lines(left)), "\n") {
		if l != "" && !strings.Contains(had, "\n"+l+"\n") && !strings.Contains(has, "\n"+l+"\n") {
			lost = append(lost, l)
		}
	}
	if len(lost) == 0 {
		return
	}
	s := strings.Join(lost, "\n")
	m.clash(KindPassage, "comment in "+name, textFile(strings.TrimSpace(had)), textFile(s), textFile(strings.TrimSpace(has)), hasText(s), hasText(strings.TrimSpace(has)))
	// the value decides which text stands; the record has to say the same
	r := &m.records[len(m.records)-1]
	if string(r.Stands.Data) == s {
		r.Stands, r.Other = r.Other, r.Stands
	}
}
