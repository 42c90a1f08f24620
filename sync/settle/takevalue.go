package settle

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// takeValue puts a YAML value in at the record's key path.
func takeValue(r Record, from, to Value, s string) (string, error) {
	hand := func(why string) (string, error) {
		return "", fmt.Errorf("%s: %s: %s; put the value in by hand from the record", r.Path, r.What, why)
	}
	at, err := parseAddress(r.What)
	if err != nil || len(at) == 0 {
		return hand("not a key path")
	}
	d, err := readYAML(s)
	if err != nil {
		return hand("the file does not read: " + err.Error())
	}
	var v *node
	if to.Exists {
		vd, err := readYAML(string(to.Data) + "\n")
		if err != nil {
			return hand("the value does not read")
		}
		v = vd.root
		if len(strings.TrimSpace(string(to.Data))) == 0 {
			v = &node{kind: leaf, canon: leafCanon("!!null", "")}
		}
	}
	if n := len(at); n > 1 && at[n-2].item && slices.Contains(idFields, at[n-1].name) { // the id itself
		at[n-2].alts = []string{string(from.Data), string(to.Data)}
	}
	places := resolve(d.root, at)
	if len(places) > 1 || len(places) == 1 && at[len(at)-1].any {
		places = holding(places, from, v)
	}
	switch {
	case len(places) > 1:
		return hand("there are several such values")
	case len(places) == 0 && from.Exists:
		return hand("no longer there")
	case len(places) == 0 && v == nil:
		return s, nil
	case len(places) == 0:
		if err := insert(d.root, at, v); err != nil {
			return hand(err.Error())
		}
	case v == nil:
		p := places[0]
		p.in.ents = append(p.in.ents[:p.i:p.i], p.in.ents[p.i+1:]...)
		if p.in.compact && p.i == 0 && len(p.in.ents) > 0 {
			p.in.ents[0].lead = strings.TrimLeft(p.in.ents[0].lead, "\n")
		}
	case places[0].entry().val.canon == v.canon:
		return s, nil
	default:
		p := places[0]
		if err := put(p.in, p.entry(), v); err != nil {
			return hand(err.Error())
		}
	}
	d.root.settleAll()
	out := d.text()
	again, err := readYAML(out)
	if err != nil || again.root.canon != d.root.canon {
		return hand("the file would not read with it")
	}
	return out, nil
}

// holding picks, of several places, those with the value that is to go.
func holding(places []place, from Value, v *node) []place {
	var out, there []place
	for _, p := range places {
		if string(asFile(p.entry().val).Data) == string(from.Data) {
			out = append(out, p)
		}
		if v != nil && p.entry().val.canon == v.canon {
			there = append(there, p)
		}
	}
	if len(out) == 0 && len(there) == 1 {
		return there
	}
	return out
}

// put gives an entry another value, keeping its key and comments.
func put(in *node, e *entry, v *node) error {
	line, _, below := strings.Cut(e.head, "\n")
	key, note := line, ""
	if below {
		if i := commentStart(line); i >= 0 {
			key, note = line[:i], " "+line[i:]
		}
	}
	key = strings.TrimRight(key, " \t\r")
	post := e.post
	if below || e.val.block || e.val.isBlock() {
		post = note + "\n"
	}
	e.head = key + " "
	switch {
	case in.isFlow() && (v.isBlock() || v.block || strings.Contains(v.text(), "\n")):
		return fmt.Errorf("it does not fit between brackets")
	case in.isFlow():
		e.val = v
		if below {
			e.post = ""
		}
	case v.isBlock() && in.kind == blockSeq:
		c := *v.reindent(in.indent + len(e.head) - v.indent)
		c.compact, c.done = true, false
		e.val, e.post = &c, ""
	case v.isBlock():
		if c := strings.TrimSpace(post); c != "" {
			note = " " + c
		}
		e.head = key + note + "\n"
		e.val, e.post = v.reindent(in.indent+2-v.indent), ""
	case v.block && e.val.block: // in the column the text stood in
		e.val, e.post = v.reindent(max(contentColumn(e.val.raw), in.indent+1)-contentColumn(v.raw)), ""
	case v.block:
		e.val, e.post = v.reindent(in.indent), ""
	default:
		e.val, e.post = v.reindent(max(in.indent, 0)), post
		if v.raw == "" && v.kind == leaf {
			e.head = key
		}
	}
	return nil
}

// insert adds an entry that is not there any more at the end of its collection.
func insert(root *node, at []seg, v *node) error {
	in, last := root, at[len(at)-1]
	if len(at) > 1 {
		ps := resolve(root, at[:len(at)-1])
		if len(ps) != 1 {
			return fmt.Errorf("what it stood in is no longer there")
		}
		in = ps[0].entry().val
	}
	e := &entry{val: &node{kind: leaf}, post: "\n"}
	switch {
	case last.item && in.kind == blockSeq:
		e.head = "- "
	case last.item && in.kind == flowSeq:
		e.post = ""
	case !last.item && in.isMap():
		key := last.name
		if !plainName(key) || leafLooksTyped(key) {
			key = strconv.Quote(key)
		}
		e.key, e.head = last.name, key+": "
		if in.isFlow() {
			e.post = ""
		}
	default:
		return fmt.Errorf("what it stood in is no longer a list or a table")
	}
	if in.isFlow() && len(in.ents) > 0 {
		e.lead = " "
	}
	if in.kind == flowSeq {
		if v.isBlock() || v.block || strings.Contains(v.text(), "\n") {
			return fmt.Errorf("it does not fit between brackets")
		}
		e.val = v
	} else if err := put(in, e, v); err != nil {
		return err
	}
	in.ents = append(in.ents, e)
	return nil
}

func leafLooksTyped(s string) bool {
	d, err := readYAML(s + ": x\n")
	return err != nil || len(d.root.ents) != 1 || d.root.ents[0].key != s
}

// settleAll mends every entry below after an edit and forgets what was cached.
func (n *node) settleAll() {
	n.done = false
	for _, e := range n.ents {
		e.val.settleAll()
		e.settleDown()
	}
	n.seal()
}
