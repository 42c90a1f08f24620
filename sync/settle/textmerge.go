package settle

import (
	"fmt"
	"strings"
)

// front is a Markdown file taken apart: the YAML between the two --- lines,
// and the text after them.
type front struct {
	open, front, shut, body string
	has                     bool
}

func splitFront(s string) front {
	if !strings.HasPrefix(s, "---\n") {
		return front{body: s}
	}
	rest := s[4:]
	if strings.HasPrefix(rest, "---\n") {
		return front{"---\n", "", "---\n", rest[4:], true}
	}
	i := strings.Index(rest, "\n---\n")
	if i < 0 {
		return front{body: s}
	}
	return front{"---\n", rest[:i+1], "---\n", rest[i+5:], true}
}

// mergeMarkdown puts the front matter together by key and the text by task and
// paragraph.
func (m *settling) mergeMarkdown(b *string, o, t string) (string, error) {
	fo, ft := splitFront(o), splitFront(t)
	var fb front
	var body *string
	if b != nil {
		fb = splitFront(*b)
		body = &fb.body
	}
	if fo.has != ft.has {
		// front matter added or taken away on one side: only if the other
		// side left it alone can the rest still be put together
		switch {
		case fo.has == fb.has && fo.front == fb.front:
			fo.open, fo.front, fo.shut, fo.has = ft.open, ft.front, ft.shut, ft.has
		case ft.has == fb.has && ft.front == fb.front:
			ft.open, ft.front, ft.shut, ft.has = fo.open, fo.front, fo.shut, fo.has
		default:
			return "", errShape
		}
	}
	top := ""
	switch {
	case !fo.has:
	case fo.front == ft.front, fb.has && ft.front == fb.front:
		top = fo.open + fo.front + fo.shut
	case fb.has && fo.front == fb.front:
		top = ft.open + ft.front + ft.shut
	default:
		m.kind = KindFront
		var base *string
		if fb.has {
			base = &fb.front
		}
		s, err := m.mergeYAML(base, &fo.front, &ft.front)
		if err != nil {
			return "", err
		}
		top = "---\n" + s + "---\n"
		if got := splitFront(top); !got.has || got.front != s {
			return "", errUnsound
		}
	}
	text, err := m.mergeBody(body, fo.body, ft.body, false)
	if err != nil {
		return "", err
	}
	if splitFront(top+text) != (front{cutIf(top, "---\n"), topFront(top), cutIf(top, "---\n"), text, top != ""}) {
		return "", errUnsound
	}
	return top + text, nil
}

func cutIf(top, s string) string {
	if top == "" {
		return ""
	}
	return s
}

func topFront(top string) string {
	if top == "" {
		return ""
	}
	return top[4 : len(top)-4]
}

// mergeBody puts prose together block by block, or, with rows, line by line.
func (m *settling) mergeBody(b *string, o, t string, rows bool) (string, error) {
	if b == nil {
		b = new(string)
	}
	lb, bb := splitBlocks(*b, rows)
	lo, bo := splitBlocks(o, rows)
	lt, bt := splitBlocks(t, rows)
	keys := func(side []*block) []string {
		ks := blockKeys(side)
		return itemKeys(ks, matchItems(blockKeys(bb), ks, func(i, j int) float64 { return likeBlocks(bb[i], side[j]) }))
	}
	kb := make([]string, len(bb))
	for i := range bb {
		kb[i] = baseKey(i)
	}
	ko, kt := keys(bo), keys(bt)
	ib, io, it := indexOf(kb), indexOf(ko), indexOf(kt)
	get := func(bs []*block, idx map[string]int, k string) *block {
		if i, ok := idx[k]; ok {
			return bs[i]
		}
		return nil
	}
	keep, merged := map[string]bool{}, map[string]*block{}
	for _, k := range unionKeys(ko, kt) {
		x := m.block(get(bb, ib, k), get(bo, io, k), get(bt, it, k))
		if x != nil {
			keep[k], merged[k] = true, x
		}
	}
	order := mergeOrder(kb, ko, kt, keep, rows)
	next := func(ks []string, idx map[string]int, k, l string) bool {
		i, ok := idx[k]
		return ok && i+1 < len(ks) && ks[i+1] == l
	}
	var w strings.Builder
	w.WriteString(pick3(lb, lo, lt))
	var want []string
	for i, k := range order {
		x := *merged[k]
		if i+1 < len(order) {
			y, l := merged[order[i+1]], order[i+1]
			near := next(ko, io, k, l) || next(kt, it, k, l)
			switch {
			case x.kind.tight() && y.kind.tight() && !near:
				x.gap = ""
			case x.gap == "" && !near && !(x.kind.tight() && y.kind.tight()):
				x.gap = "\n"
			}
		}
		w.WriteString(x.text + x.gap)
		want = append(want, x.text)
	}
	s := w.String()
	_, again := splitBlocks(s, rows)
	for i, x := range again {
		if i >= len(want) || x.text != want[i] {
			return "", errUnsound
		}
	}
	if len(again) != len(want) {
		return "", errUnsound
	}
	return s, nil
}

// pick3 is the side that changed; the newer if both did.
func pick3(b, o, t string) string {
	if t == b {
		return o
	}
	return t
}

// block settles one block; nil if it is gone.
func (m *settling) block(b, o, t *block) *block {
	name := func(x *block) string {
		if x.kind == heading {
			return fmt.Sprintf("heading %q", x.under)
		}
		if x.under == "" {
			return x.kind.String()
		}
		return fmt.Sprintf("%s under %q", x.kind, x.under)
	}
	file := func(x *block) File {
		if x == nil {
			return File{}
		}
		return File{true, []byte(strings.TrimSuffix(x.text, "\n"))}
	}
	has := func(x *block) func(File) bool {
		if x == nil {
			return func(f File) bool { return !f.Exists || !strings.Contains(plain(f), b.text) }
		}
		return func(f File) bool { return f.Exists && strings.Contains("\n"+plain(f), "\n"+x.text) }
	}
	switch {
	case o != nil && t != nil:
	case b == nil && o != nil:
		return o
	case b == nil:
		return t
	case o == nil && t == nil, o == nil && t.text == b.text, t == nil && o.text == b.text:
		return nil
	case o == nil:
		m.clash(KindPassage, name(t), file(b), file(o), file(t), has(o), has(t))
		return t
	default:
		m.clash(KindPassage, name(o), file(b), file(o), file(t), has(o), has(t))
		return o
	}
	out := *t
	base := block{}
	if b != nil {
		base = *b
	}
	out.gap = pick3(base.gap, o.gap, t.gap)
	if o.kind == task && t.kind == task {
		to, tt := untick(o), untick(t)
		tick := t.tick
		switch ob, tb := o.tick == base.tick, t.tick == base.tick; {
		case tb && !ob:
			tick = o.tick
		case !ob && !tb && o.tick != t.tick && t.tick == ' ':
			tick = o.tick // added on both sides: a tick made survives
		}
		words, at := tt, t.at
		switch {
		case to == tt, b != nil && to == untick(b):
		case b != nil && tt == untick(b):
			words, at = to, o.at
		default:
			if !m.clash(KindPassage, name(t), file(b), file(o), file(t), has(o), has(t)) {
				words, at = to, o.at
			}
		}
		out.text = words[:at] + string(tick) + words[at+1:]
		return &out
	}
	switch {
	case o.text == t.text, b != nil && o.text == b.text:
	case b != nil && t.text == b.text:
		out.text = o.text
	case o.key == t.key: // spacing alone
	case b != nil && o.key == b.key:
	case b != nil && t.key == b.key:
		out.text = o.text
	default:
		if !m.clash(KindPassage, name(t), file(b), file(o), file(t), has(o), has(t)) {
			out.text = o.text
		}
	}
	return &out
}

func untick(b *block) string { return b.text[:b.at] + " " + b.text[b.at+1:] }

func plain(f File) string {
	s, _, _ := unframe(f.Data)
	return s
}
