package settle

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// seg is one step of a key path: a map key, or an item of a list by its id. An
// item without an id has the name #n and is found again by its value.
type seg struct {
	name string
	item bool
	any  bool     // an item without an id
	alts []string // other ids the item goes by, where it was renamed
}

func (s seg) is(name string) bool {
	return s.name == name || slices.Contains(s.alts, name)
}

// formatAddress writes a key path as a person reads it: parts[skin].size
func formatAddress(at []seg) string {
	var w strings.Builder
	for i, s := range at {
		name := s.name
		if !s.any && !plainName(name) {
			name = strconv.Quote(name)
		}
		switch {
		case s.item:
			w.WriteString("[" + name + "]")
		case i > 0:
			w.WriteString("." + name)
		default:
			w.WriteString(name)
		}
	}
	return w.String()
}

func plainName(s string) bool {
	for _, c := range s {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || strings.ContainsRune("-_/ ", c)) {
			return false
		}
	}
	return s != "" && s == strings.TrimSpace(s)
}

// parseAddress reads what formatAddress wrote.
func parseAddress(s string) ([]seg, error) {
	bad := func() ([]seg, error) { return nil, fmt.Errorf("not a key path: %q", s) }
	var out []seg
	for i := 0; i < len(s); {
		var g seg
		switch {
		case s[i] == '[':
			g.item = true
			i++
		case s[i] == '.' && len(out) > 0:
			i++
		case len(out) > 0:
			return bad()
		}
		if i < len(s) && s[i] == '"' {
			q, err := strconv.QuotedPrefix(s[i:])
			if err != nil {
				return bad()
			}
			if g.name, err = strconv.Unquote(q); err != nil {
				return bad()
			}
			i += len(q)
		} else {
			j := i
			for j < len(s) && strings.IndexByte(".[]\"", s[j]) < 0 {
				j++
			}
			g.name = s[i:j]
			g.any = g.item && strings.HasPrefix(g.name, "#")
			if !g.any && !plainName(g.name) {
				return bad()
			}
			i = j
		}
		if g.item {
			if i >= len(s) || s[i] != ']' {
				return bad()
			}
			i++
		}
		out = append(out, g)
	}
	return out, nil
}

// place is where an address leads: the collection and the entry's number.
type place struct {
	in *node
	i  int
}

func (p place) entry() *entry { return p.in.ents[p.i] }

// resolve lists the entries an address leads to: none or one, or, with an
// item without an id in it, any number.
func resolve(n *node, at []seg) []place {
	if n == nil || len(at) == 0 {
		return nil
	}
	var out []place
	for i, e := range n.ents {
		s := at[0]
		switch {
		case s.item != n.isSeq():
			continue
		case s.any:
		case s.item && !s.is(itemName(e.val)):
			continue
		case !s.item && e.key != s.name:
			continue
		}
		if len(at) == 1 {
			out = append(out, place{n, i})
		} else {
			out = append(out, resolve(e.val, at[1:])...)
		}
	}
	return out
}

// idFields name an item of a list, the first that there is.
var idFields = []string{"id", "item", "name"}

// itemName is the value by which an item of a list is known, or "".
func itemName(n *node) string {
	for _, f := range idFields {
		if v := idValue(n, f); v != "" {
			return v
		}
	}
	return ""
}

func idValue(n *node, field string) string {
	if n == nil || !n.isMap() {
		return ""
	}
	if e := n.find(field); e != nil && e.val.kind == leaf && !e.val.block && e.val.raw != "" {
		return e.val.value
	}
	return ""
}
