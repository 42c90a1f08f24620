package settle

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"sort"
	"strings"

	"go.yaml.in/yaml/v3"
)

// hands edits a shop's files as a person with an editor does: on the text, with
// no knowledge of how settling reads it. Every value, word, comment and
// paragraph it writes is a token that occurs nowhere else, so that what became
// of it can be told at the end.
type hands struct {
	r      *rand.Rand
	n      int
	values bool // only values change, nothing is added, moved or deleted
}

var token = regexp.MustCompile(`w[0-9]+w`)

func (h *hands) word() string {
	h.n++
	return fmt.Sprintf("w%dw", h.n)
}

func (h *hands) pick(n int) int { return h.r.IntN(n) }

func (h *hands) yaml() string {
	w := h.word
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\nname: %s\ncopies: %s # %s\n", w(), w(), w(), w())
	b.WriteString("parts:\n")
	for range 2 + h.pick(3) {
		if h.pick(3) == 0 {
			fmt.Fprintf(&b, "  # %s\n", w())
		}
		fmt.Fprintf(&b, "  - id: %s\n    qty: %s\n    size: \"%s\"   # %s\n", w(), w(), w(), w())
		if h.pick(2) == 0 {
			fmt.Fprintf(&b, "    machining:\n      - groove: {cutter: %s, depth: %s}\n      - holes: {through: %s, at: [[2, 2], [2, 22]]}\n", w(), w(), w())
		}
		if h.pick(3) == 0 {
			fmt.Fprintf(&b, "    note: |\n      %s\n\n      # %s\n", w(), w())
		}
	}
	fmt.Fprintf(&b, "hardware:\n  - {item: %s, qty: %s}\n  - {item: %s, qty: %s}\n", w(), w(), w(), w())
	fmt.Fprintf(&b, "steps:\n  - id: %s\n    after: [%s, %s]\n  - id: %s\n    joins:\n      - %s\n      - %s\n", w(), w(), w(), w(), w(), w())
	fmt.Fprintf(&b, "air:\n  day: %s\n  night: %s\nfittings: []\n", w(), w())
	return b.String()
}

func (h *hands) markdown() string {
	w := h.word
	var b strings.Builder
	fmt.Fprintf(&b, "---\nfor: %s\ntags: [%s, %s]\n---\n# %s\n\n%s and so on\nto the line's end %s\n\n", w(), w(), w(), w(), w(), w())
	for range 2 {
		fmt.Fprintf(&b, "## %s\n\n", w())
		for range 2 + h.pick(2) {
			fmt.Fprintf(&b, "- [%s] glue and clamp it %s\n", []string{" ", "x"}[h.pick(2)], w())
		}
		fmt.Fprintf(&b, "\n%s stands here for long %s\n\n", w(), w())
	}
	return b.String()
}

func (h *hands) rows() string {
	w := h.word
	return fmt.Sprintf("item,price\nhard maple %s,%s\nbirch ply %s,%s\nscrews, box %s,%s\n", w(), w(), w(), w(), w(), w())
}

// edit changes a text in one place.
func (h *hands) edit(path, s string) string {
	switch {
	case h.values:
		all := plainValue.FindAllStringSubmatchIndex(s, -1)
		a := all[h.pick(len(all))]
		return s[:a[2]] + h.word() + s[a[3]:]
	case h.pick(3) == 0:
		return h.reword(s)
	case strings.HasSuffix(path, ".yaml"):
		out := h.editYAML(s)
		var v any
		if err := yaml.Unmarshal([]byte(out), &v); err != nil {
			panic(fmt.Sprintf("the hand wrote bad yaml: %v\n%s", err, out))
		}
		return out
	case strings.HasSuffix(path, ".md"):
		return h.editMarkdown(s)
	}
	lines := strings.SplitAfter(s, "\n")
	i := 1 + h.pick(max(1, len(lines)-1))
	i = min(i, len(lines)-1)
	if h.pick(3) == 0 && len(lines) > 3 {
		return join(lines[:i-1], lines[i:])
	}
	return join(lines[:i], []string{h.word() + "," + h.word() + "\n"}, lines[i:])
}

// plainValue matches values that stand at a key path of their own, long
// paragraphs, and the price in a row.
var plainValue = regexp.MustCompile(`(?:(?:name|copies|qty|day|night|for): |size: "|stands here for long |,)(w[0-9]+w)`)

func (h *hands) reword(s string) string {
	all := token.FindAllStringIndex(s, -1)
	if len(all) == 0 {
		return s + h.word() + "\n"
	}
	a := all[h.pick(len(all))]
	return s[:a[0]] + h.word() + s[a[1]:]
}

func join(parts ...[]string) string {
	var b strings.Builder
	for _, p := range parts {
		b.WriteString(strings.Join(p, ""))
	}
	return b.String()
}

var (
	itemStart = regexp.MustCompile(`^( *)- id: `)
	keyLine   = regexp.MustCompile(`^( +)[a-z0-9]+: w[0-9]+w$`)
	wordList  = regexp.MustCompile(`\[(w[0-9]+w(?:, w[0-9]+w)*)\]`)
	flowItem  = regexp.MustCompile(`^ *- \{item: .*\}\n$`)
)

func (h *hands) editYAML(s string) string {
	lines := strings.SplitAfter(s, "\n")
	where := func(re *regexp.Regexp) int {
		var at []int
		for i, l := range lines {
			if re.MatchString(strings.TrimSuffix(l, "\n")) || re.MatchString(l) {
				at = append(at, i)
			}
		}
		if len(at) == 0 {
			return -1
		}
		return at[h.pick(len(at))]
	}
	indent := func(i int) int { return len(lines[i]) - len(strings.TrimLeft(lines[i], " ")) }
	end := func(i int) int { // the line after the item that starts at i
		j := i + 1
		for j < len(lines) && (indent(j) > indent(i) || strings.TrimSpace(lines[j]) == "") && lines[j] != "" {
			j++
		}
		return j
	}
	i := where(itemStart)
	switch op := h.pick(15); {
	case op == 0 && i >= 0: // an item added
		pad := strings.Repeat(" ", indent(i))
		return join(lines[:i], []string{fmt.Sprintf("%s- id: %s\n%s  qty: %s\n", pad, h.word(), pad, h.word())}, lines[i:])
	case op == 1 && i >= 0 && strings.Count(s, "\n  - id:") > 3: // an item deleted
		return join(lines[:i], lines[end(i):])
	case op == 2 && i >= 0: // an item moved
		j := end(i)
		rest := append(append([]string(nil), lines[:i]...), lines[j:]...)
		cut := append([]string(nil), lines[i:j]...)
		for k, l := range rest {
			if itemStart.MatchString(l) && len(l)-len(strings.TrimLeft(l, " ")) == indent(i) {
				return join(rest[:k], cut, rest[k:])
			}
		}
	case op == 3: // a key added
		if k := where(keyLine); k >= 0 && !strings.Contains(lines[k], "- ") {
			return join(lines[:k+1], []string{strings.Repeat(" ", indent(k)) + h.word() + ": " + h.word() + "\n"}, lines[k+1:])
		}
	case op == 4: // a key deleted
		if k := where(keyLine); k >= 0 && strings.Count(s, ": w") > 8 {
			return join(lines[:k], lines[k+1:])
		}
	case op == 5: // a comment above
		if k := where(regexp.MustCompile(`^ *(- )?[a-z]+: w`)); k >= 0 {
			return join(lines[:k], []string{strings.Repeat(" ", indent(k)) + "# " + h.word() + "\n"}, lines[k:])
		}
	case op == 6 || op == 7: // a word added to or taken from a list
		if k := where(wordList); k >= 0 {
			m := wordList.FindStringSubmatch(lines[k])
			ws := strings.Split(m[1], ", ")
			if op == 6 {
				at := h.pick(len(ws) + 1)
				ws = append(ws[:at:at], append([]string{h.word()}, ws[at:]...)...)
			} else if len(ws) > 1 {
				at := h.pick(len(ws))
				ws = append(ws[:at:at], ws[at+1:]...)
			}
			return join(lines[:k], []string{strings.Replace(lines[k], m[0], "["+strings.Join(ws, ", ")+"]", 1)}, lines[k+1:])
		}
	case op == 8: // a flow item added or deleted
		if k := where(flowItem); k >= 0 {
			if h.pick(2) == 0 && strings.Count(s, "{item:") > 1 {
				return join(lines[:k], lines[k+1:])
			}
			return join(lines[:k], []string{fmt.Sprintf("%s- {item: %s, qty: %s}\n", strings.Repeat(" ", indent(k)), h.word(), h.word())}, lines[k:])
		}
	case op == 9: // the same value in other quotes
		if k := where(keyLine); k >= 0 {
			return join(lines[:k], []string{regexp.MustCompile(`(w[0-9]+w)$`).ReplaceAllString(strings.TrimSuffix(lines[k], "\n"), `"$1"`) + "\n"}, lines[k+1:])
		}
	case op == 11 && i >= 0: // an item under a name that another machine takes too
		id := fmt.Sprintf("pool-%d", h.pick(3))
		if !strings.Contains(strings.ReplaceAll(s, "\r", ""), "id: "+id+"\n") {
			pad := strings.Repeat(" ", indent(i))
			return join(lines[:i], []string{fmt.Sprintf("%s- id: %s\n%s  qty: %s\n", pad, id, pad, h.word())}, lines[i:])
		}
	case op == 12: // a key likewise, as a value, a table or a list
		if k := where(keyLine); k >= 0 && !strings.Contains(lines[k], "- ") {
			pad := strings.Repeat(" ", indent(k))
			key := fmt.Sprintf("extra-%d", h.pick(2))
			v := []string{h.word(), "\n" + pad + "  " + h.word() + ": " + h.word(), "[" + h.word() + "]", "|\n" + pad + "  " + h.word(), ""}[h.pick(5)]
			from, to := max(0, k-6), min(len(lines), k+6)
			if !strings.Contains(strings.Join(lines[from:to], ""), key) {
				return join(lines[:k+1], []string{pad + key + ": " + v + "\n"}, lines[k+1:])
			}
		}
	case op == 13: // a top-level section moved to the end
		if k := where(regexp.MustCompile(`^[a-z]+:$`)); k >= 0 && !strings.Contains(s, "\r") {
			j := end(k)
			for j < len(lines) && strings.HasPrefix(lines[j], "- ") {
				j++
			}
			return join(lines[:k], lines[j:], lines[k:j])
		}
	case op == 14: // everything below the sections indented by two more
		if !strings.Contains(s, "\n    - id") && !strings.Contains(s, "\r") {
			out := strings.Split(s, "\n")
			for k, l := range out {
				if strings.HasPrefix(l, " ") {
					out[k] = "  " + l
				}
			}
			return strings.Join(out, "\n")
		}
	case op == 10: // all line ends
		if strings.Contains(s, "\r\n") {
			return strings.ReplaceAll(s, "\r\n", "\n")
		}
		return strings.ReplaceAll(s, "\n", "\r\n")
	}
	return h.reword(s)
}

func (h *hands) editMarkdown(s string) string {
	lines := strings.SplitAfter(s, "\n")
	top := strings.Index(s, "\n---\n")
	start := strings.Count(s[:top+1], "\n") + 1
	if top < 0 || strings.Contains(s, "\r") || start >= len(lines)-1 {
		return h.reword(s)
	}
	i := start + h.pick(len(lines)-1-start)
	isTask := strings.HasPrefix(lines[i], "- [")
	switch op := h.pick(5); {
	case op == 0 && isTask: // ticked or unticked
		t := "x"
		if lines[i][3] == 'x' {
			t = " "
		}
		lines[i] = lines[i][:3] + t + lines[i][4:]
		return join(lines)
	case op == 1 && isTask:
		return join(lines[:i], []string{"- [ ] cut and sand it " + h.word() + "\n"}, lines[i:])
	case op == 2 && isTask:
		return join(lines[:i], lines[i+1:])
	case op == 3 && strings.TrimSpace(lines[i]) == "":
		return join(lines[:i+1], []string{h.word() + " was added by hand " + h.word() + "\n\n"}, lines[i+1:])
	case op == 4 && strings.TrimSpace(lines[i]) != "" && !isTask && len(lines) > start+6:
		return join(lines[:i], lines[i+1:])
	}
	return h.reword(s)
}

func tokensOf(tree map[string]string) map[string]bool {
	out := map[string]bool{}
	for p, s := range tree {
		if isRecord(p) && s != "" {
			r, err := ParseRecord(p, []byte(s))
			if err != nil {
				panic(err)
			}
			s += " " + string(r.Stands.Data) + " " + string(r.Other.Data)
		}
		for _, t := range token.FindAllString(s, -1) {
			out[t] = true
		}
	}
	return out
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
