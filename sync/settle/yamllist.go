package settle

import (
	"regexp"
	"strconv"
)

// figure matches a bare number, length or the like. A list of such is one
// value (a position, a row of measures), never a set.
var figure = regexp.MustCompile(`^[-+.]?[0-9][0-9\s./'"x*-]*(mm|cm|m|in|ft|h|min|s|d|C|F|%)?$`)

// listKeys names the items of a list's three versions so that one item has
// one name. atomic is true for a list that is one value.
//
//   - words, each once: by the word;
//   - maps that all have an id (else item, else name) of their own: by it, and
//     an item whose id changed but little else, where it stood, is the same item;
//   - other maps: by what they say, the changed ones by likeness and place.
func listKeys(b, o, t *node) (kb, ko, kt []string, atomic bool) {
	lists := []*node{o, t}
	if b != nil {
		lists = append(lists, b)
	}
	maps, words := true, true
	for _, l := range lists {
		seen := map[string]bool{}
		for _, e := range l.ents {
			v := e.val
			maps = maps && v.isMap()
			words = words && v.kind == leaf && !v.block && v.raw != "" && !seen[v.canon] && !figure.MatchString(v.value)
			seen[v.canon] = true
		}
	}
	switch {
	case words:
		return wordKeys(b), wordKeys(o), wordKeys(t), false
	case !maps:
		return nil, nil, nil, true
	}
	if f := idField(lists); f != "" {
		kb = idKeys(b, f)
		return prefix(kb), prefix(idMatch(b, o, f, kb)), prefix(idMatch(b, t, f, kb)), false
	}
	cb := canonKeys(b)
	match := func(side *node) []string {
		cs := canonKeys(side)
		return itemKeys(cs, matchItems(cb, cs, func(i, j int) float64 {
			return likeItems(b.ents[i].val, side.ents[j].val)
		}))
	}
	for i := range cb {
		kb = append(kb, baseKey(i))
	}
	return kb, match(o), match(t), false
}

func canonKeys(n *node) []string {
	if n == nil {
		return nil
	}
	out := make([]string, len(n.ents))
	for i, e := range n.ents {
		out[i] = e.val.canon
	}
	return out
}

// wordKeys sort by the word.
func wordKeys(n *node) []string {
	out := canonKeys(n)
	for i := range out {
		out[i] = n.ents[i].val.value + "\x00" + out[i]
	}
	return out
}

func prefix(ids []string) []string {
	out := make([]string, len(ids))
	for i, s := range ids {
		out[i] = "id:" + s
	}
	return out
}

// idField is the first field that every item has and no two of a list share.
func idField(lists []*node) string {
next:
	for _, f := range idFields {
		for _, l := range lists {
			seen := map[string]bool{}
			for _, e := range l.ents {
				v := idValue(e.val, f)
				if v == "" || seen[v] {
					continue next
				}
				seen[v] = true
			}
		}
		return f
	}
	return ""
}

func idKeys(n *node, field string) []string {
	if n == nil {
		return nil
	}
	out := make([]string, len(n.ents))
	for i, e := range n.ents {
		out[i] = idValue(e.val, field)
	}
	return out
}

// idMatch gives the side's items the base's ids, renamed ones included.
func idMatch(b, side *node, field string, base []string) []string {
	own := idKeys(side, field)
	to := matchItems(base, own, func(i, j int) float64 {
		same, total := alike(b.ents[i].val, side.ents[j].val, field)
		if same >= 1 && same == total || same >= 2 && 2*same >= total {
			return float64(same) / float64(total)
		}
		return 0
	})
	for j, i := range to {
		if i >= 0 {
			own[j] = base[i]
		}
	}
	return own
}

// likeItems says how alike two items without ids are; 0 if they are not the
// same item.
func likeItems(a, b *node) float64 {
	same, total := alike(a, b, "")
	if same >= 1 && 5*same >= 3*total {
		return float64(same) / float64(total)
	}
	if len(a.ents) == 1 && len(b.ents) == 1 && a.ents[0].key == b.ents[0].key {
		return 0.1 // `groove: …` became another groove
	}
	return 0
}

// alike counts the values that two maps share, by their key paths, and the
// values of the larger one; skip is left out.
func alike(a, b *node, skip string) (same, total int) {
	la, lb := map[string]string{}, map[string]string{}
	values(a, "", skip, la)
	values(b, "", skip, lb)
	for k, v := range la {
		if lb[k] == v {
			same++
		}
	}
	return same, max(len(la), len(lb))
}

func values(n *node, path, skip string, out map[string]string) {
	if n.kind == leaf || len(n.ents) == 0 {
		out[path] = n.canon
		return
	}
	for i, e := range n.ents {
		k := e.key
		if n.isSeq() {
			k = strconv.Itoa(i)
		}
		if path == "" && k == skip && skip != "" {
			continue
		}
		values(e.val, path+"/"+k, skip, out)
	}
}
