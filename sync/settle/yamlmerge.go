package settle

import (
	"bytes"
	"errors"
	"strconv"
	"strings"
)

var errUnsound = errors.New("put together by key, the file would not say what it should")

// mergeYAML puts two versions of a YAML text together key by key. b is nil
// where both sides added the file. The result has been read again: it says
// exactly what was meant.
func (m *settling) mergeYAML(b, o, t *string) (string, error) {
	read := func(s *string) (*doc, error) {
		if s == nil {
			return nil, nil
		}
		return readYAML(*s)
	}
	var ds [3]*doc
	for i, s := range []*string{b, o, t} {
		d, err := read(s)
		if err != nil && i > 0 {
			return "", err
		}
		if err != nil {
			return "", errShape
		}
		ds[i] = d
	}
	db, do, dt := ds[0], ds[1], ds[2]
	var rb *node
	pre, tail := "", ""
	if db != nil {
		rb, pre, tail = db.root, db.pre, db.tail
	}
	if do.root.kind != dt.root.kind || !do.root.isMap() && !do.root.isSeq() {
		return "", errShape
	}
	out := doc{
		pre:  m.piece("comment at the top", pre, do.pre, dt.pre),
		tail: m.piece("comment at the end", tail, do.tail, dt.tail),
		root: m.node(nil, rb, do.root, dt.root, 0),
	}
	s := out.text()
	if out.pre != "" && !strings.HasSuffix(out.pre, "\n") || !strings.HasSuffix(s, "\n") && s != "" {
		return "", errUnsound
	}
	again, err := readYAML(s)
	if err != nil {
		return "", errors.Join(errUnsound, err)
	}
	if again.root.canon != out.root.canon && len(out.root.ents)+len(again.root.ents) > 0 {
		return "", errUnsound
	}
	if id := doubled(again.root); id != "" && doubled(do.root) == "" && doubled(dt.root) == "" {
		return "", errUnsound
	}
	return s, nil
}

// doubled names an id that two items of one list share, or "".
func doubled(n *node) string {
	if n.isSeq() {
		seen := map[string]bool{}
		for _, e := range n.ents {
			if id := idValue(e.val, "id"); id != "" {
				if seen[id] {
					return id
				}
				seen[id] = true
			}
		}
	}
	for _, e := range n.ents {
		if id := doubled(e.val); id != "" {
			return id
		}
	}
	return ""
}

// node puts two versions of a value together; b is nil where the base had
// none. column, if not negative, is where a block collection has to stand.
func (m *settling) node(at []seg, b, o, t *node, column int) *node {
	if o.isBlock() && t.isBlock() {
		if column < 0 {
			column = t.indent
			if b != nil && b.isBlock() && t.indent == b.indent {
				column = o.indent
			}
		}
		o, t = o.reindent(column-o.indent), t.reindent(column-t.indent)
		if b != nil && b.isBlock() {
			b = b.reindent(column - b.indent)
		}
	}
	switch {
	case o.text() == t.text():
		return o
	case b != nil && b.text() == o.text():
		return t
	case b != nil && b.text() == t.text():
		return o
	}
	if o.kind == t.kind && o.kind != leaf && (b == nil || b.isMap() == o.isMap() && b.isSeq() == o.isSeq()) {
		if o.isMap() {
			return m.entries(at, b, o, t, mapKeys(b), mapKeys(o), mapKeys(t), false)
		}
		if kb, ko, kt, atomic := listKeys(b, o, t); !atomic {
			return m.entries(at, b, o, t, kb, ko, kt, true)
		}
	}
	switch { // one value; a change of quotes alone is no change
	case o.canon == t.canon && (b == nil || t.canon != b.canon || b.text() != t.text()):
		m.keepComments(at, b, o, t)
		return t
	case b != nil && o.canon == b.canon:
		m.keepComments(at, b, o, t)
		return t
	case b != nil && t.canon == b.canon:
		m.keepComments(at, b, t, o)
		return o
	}
	if m.clashNode(at, b, o, t) {
		return t
	}
	return o
}

// clashNode records two values of one key; true if t stands.
func (m *settling) clashNode(at []seg, b, o, t *node) bool {
	return m.clash(m.kind, formatAddress(at), asFile(b), asFile(o), asFile(t), m.hasValue(at, o), m.hasValue(at, t))
}

// asFile is a value's text moved to the left edge, or nothing.
func asFile(n *node) File {
	switch {
	case n == nil:
		return File{}
	case n.isBlock():
		c := *n.reindent(-n.indent)
		c.done, c.compact = false, false
		return File{true, []byte(c.text())}
	case n.block:
		return File{true, []byte(shiftRest(n.raw, 2-contentColumn(n.raw)))}
	}
	return File{true, []byte(n.text())}
}

// contentColumn is the column of a block scalar's text; 2 where its header
// gives the column itself, so that it is not moved.
func contentColumn(raw string) int {
	header, rest, _ := strings.Cut(raw, "\n")
	if strings.ContainsAny(strings.SplitN(header, "#", 2)[0], "123456789") {
		return 2
	}
	for _, l := range strings.Split(rest, "\n") {
		if t := strings.TrimLeft(l, " "); t != "" && t != "\r" {
			return len(l) - len(t)
		}
	}
	return 2
}

// hasValue tells whether a version of the file has this value at the address;
// with n nil, whether it has none.
func (m *settling) hasValue(at []seg, n *node) func(File) bool {
	return func(f File) bool {
		d := m.tree(f)
		var places []place
		if d != nil {
			if len(at) == 0 {
				return n != nil && d.root.canon == n.canon
			}
			places = resolve(d.root, at)
		}
		if n == nil {
			return len(places) == 0
		}
		for _, p := range places {
			if p.entry().val.canon == n.canon {
				return true
			}
		}
		return false
	}
}

func (m *settling) tree(f File) *doc {
	if !f.Exists {
		return nil
	}
	if d, ok := m.trees[string(f.Data)]; ok {
		return d
	}
	var d *doc
	if s, _, ok := unframe(f.Data); ok {
		if m.kind == KindFront {
			s = splitFront(s).front
		}
		d, _ = readYAML(s)
	}
	m.trees[string(f.Data)] = d
	return d
}

// entries puts the entries of two collections together by their keys.
func (m *settling) entries(at []seg, b, o, t *node, kb, ko, kt []string, list bool) *node {
	ib, io, it := indexOf(kb), indexOf(ko), indexOf(kt)
	get := func(n *node, idx map[string]int, k string) *entry {
		if i, ok := idx[k]; ok {
			return n.ents[i]
		}
		return nil
	}
	keep := map[string]bool{}
	merged := map[string]*entry{}
	for _, k := range unionKeys(ko, kt) {
		be, oe, te := get(b, ib, k), get(o, io, k), get(t, it, k)
		here := append(at[:len(at):len(at)], segOf(list, k, be, oe, te))
		from := len(m.records)
		var e *entry
		switch {
		case oe != nil && te != nil:
			e = m.entry(here, be, oe, te, list, o)
		case be == nil && oe != nil:
			e = oe
		case be == nil:
			e = te
		case oe != nil && !sameEntry(be, oe): // deleted there, edited here: the edit stands
			e = oe
			m.clash(m.kind, formatAddress(here), asFile(be.val), asFile(oe.val), File{}, m.hasValue(here, oe.val), m.hasValue(here, nil))
		case te != nil && !sameEntry(be, te):
			e = te
			m.clash(m.kind, formatAddress(here), asFile(be.val), File{}, asFile(te.val), m.hasValue(here, nil), m.hasValue(here, te.val))
		}
		if e != nil {
			keep[k], merged[k] = true, e
			m.rename(here, e, from)
		}
	}
	out := &node{kind: t.kind, indent: t.indent, compact: t.compact, comma: t.comma, trail: t.trail}
	if b != nil && b.kind == t.kind && b.comma == t.comma && b.trail == t.trail {
		out.comma, out.trail = o.comma, o.trail
	}
	for _, k := range mergeOrder(kb, ko, kt, keep, true) {
		out.ents = append(out.ents, merged[k])
	}
	if out.isFlow() {
		out.tidyFlow(t)
	}
	return out.seal()
}

// tidyFlow spaces the entries of a flow collection that comes from two sides.
func (n *node) tidyFlow(like *node) {
	first, last := "", ""
	if len(like.ents) > 0 {
		if first = like.ents[0].lead; strings.TrimSpace(first) != "" {
			first = ""
		}
		if last = like.ents[len(like.ents)-1].post; strings.TrimSpace(last) != "" || strings.Contains(last, "\n") && n.comma {
			last = ""
		}
	}
	if len(n.ents) == 0 {
		n.comma = false
		if strings.TrimSpace(n.trail) == "" {
			n.trail = ""
		}
		return
	}
	if !n.comma && strings.TrimSpace(n.trail) == "" {
		n.trail = ""
	}
	blank := func(s string) bool { return strings.Trim(s, " \t") == "" }
	for i, e := range n.ents {
		x := *e
		switch {
		case i == 0 && strings.TrimSpace(x.lead) == "":
			x.lead = first
		case i > 0 && x.lead == "":
			x.lead = " "
			if strings.Contains(first, "\n") {
				x.lead = first
			}
		}
		switch {
		case i == len(n.ents)-1 && strings.TrimSpace(x.post) == "":
			x.post = last
		case i < len(n.ents)-1 && (blank(x.post) || strings.TrimSpace(x.post) == ""):
			x.post = ""
		}
		if x.val.kind == leaf && x.val.raw == "" && x.post == "" && strings.HasSuffix(x.head, ":") && i < len(n.ents)-1 {
			x.post = " " // `a:,` reads as a key `a:`
		}
		n.ents[i] = &x
	}
}

// rename makes the records of a renamed item speak of it by the id it has now.
func (m *settling) rename(at []seg, e *entry, from int) {
	last := at[len(at)-1]
	if !last.item || last.any {
		return
	}
	now := append(at[:len(at)-1:len(at)-1], seg{name: itemName(e.val), item: true})
	for i := from; i < len(m.records) && now[len(now)-1].name != last.name; i++ {
		m.records[i].What = strings.Replace(m.records[i].What, formatAddress(at), formatAddress(now), 1)
	}
}

// segOf names an entry for its address.
func segOf(list bool, key string, es ...*entry) seg {
	if !list {
		return seg{name: key}
	}
	var ids []string
	for _, e := range es {
		if e != nil && strings.HasPrefix(key, "id:") {
			if id := itemName(e.val); id != "" {
				ids = append(ids, id)
			}
		}
	}
	if len(ids) > 0 {
		return seg{name: ids[0], item: true, alts: ids[1:]}
	}
	n := 0
	if strings.HasPrefix(key, "#") {
		n, _ = strconv.Atoi(strings.TrimLeft(key, "#"))
	}
	return seg{name: "#" + strconv.Itoa(n+1), item: true, any: true}
}

func unionKeys(a, b []string) []string {
	seen := indexOf(a)
	out := append([]string(nil), a...)
	for _, k := range b {
		if _, ok := seen[k]; !ok {
			out = append(out, k)
		}
	}
	return out
}

func mapKeys(n *node) []string {
	if n == nil {
		return nil
	}
	out := make([]string, len(n.ents))
	for i, e := range n.ents {
		out[i] = e.key
	}
	return out
}

// sameEntry tells whether a side left an entry as it was, but for spacing and
// quotes: value and comments alike.
func sameEntry(a, b *entry) bool {
	return a.val.canon == b.val.canon && bytes.Equal(entryComments(a), entryComments(b))
}

func entryComments(e *entry) []byte {
	var w bytes.Buffer
	var walk func(e *entry)
	add := func(s string) {
		for _, l := range strings.Split(s, "\n") {
			if i := strings.IndexByte(l, '#'); i >= 0 {
				w.WriteString(strings.TrimSpace(l[i:]) + "\n")
			}
		}
	}
	walk = func(e *entry) {
		add(e.lead)
		if strings.Contains(e.head, "\n") {
			add(e.head)
		}
		for _, c := range e.val.ents {
			walk(c)
		}
		add(e.val.trail)
		add(e.post)
	}
	walk(e)
	return w.Bytes()
}
