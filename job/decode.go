package job

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// MaxText is the largest YAML or Markdown file that is read, in bytes.
const MaxText = 4 << 20

// maxDepth is how deep lists and maps may nest.
const maxDepth = 32

// source is one file as read, with its lines for messages.
type source struct {
	file  string
	data  []byte
	lines []string // without line ends
	first int      // lines above the first one, for front matter
	out   *Problems

	anchors bool // an anchor is already told
}

func newSource(file string, data []byte, out *Problems) *source {
	text := string(data)
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = strings.TrimSuffix(lines[i], "\r")
	}
	if len(lines) > 0 {
		lines[0] = strings.TrimPrefix(lines[0], "\ufeff")
	}
	return &source{file: file, data: data, lines: lines, out: out}
}

func (s *source) line(n int) string {
	if i := n - 1 - s.first; i >= 0 && i < len(s.lines) {
		return s.lines[i]
	}
	return ""
}

func (s *source) pos(line, col int) Pos { return Pos{File: s.file, Line: line, Col: col} }

func (s *source) add(at Pos, text, hint, format string, args ...any) {
	*s.out = append(*s.out, Problem{Pos: at, Line: s.line(at.Line), Text: text, Hint: hint, Msg: fmt.Sprintf(format, args...)})
}

// checkText refuses what no text file of a shop may hold, before any parser
// sees it. It reports whether the file may be parsed at all.
func (s *source) checkText(yamlText bool) bool {
	n := len(*s.out)
	if len(s.data) > MaxText {
		s.add(Pos{File: s.file}, "", "keep pictures and drawings beside it, not in it",
			"the file holds %d MB, more than the %d MB a text file may", len(s.data)>>20, MaxText>>20)
		return false
	}
	for i, l := range s.lines {
		ln := i + 1 + s.first
		if !utf8.ValidString(l) {
			col, bad := 1, byte(0)
			for j := 0; j < len(l); {
				r, size := utf8.DecodeRuneInString(l[j:])
				if r == utf8.RuneError && size == 1 {
					bad = l[j]
					break
				}
				j += size
				col++
			}
			s.add(s.pos(ln, col), "?", "save the file as UTF-8", "byte 0x%02x is not UTF-8", bad)
			continue
		}
		col := 1
		for _, r := range l {
			if r == 0 {
				s.add(s.pos(ln, col), "?", "restore the file from an earlier version; a power cut can leave zeros", "the line holds a zero byte")
				break
			}
			if r == 0x85 || r == 0x2028 || r == 0x2029 {
				s.add(s.pos(ln, col), "?", "delete the character and begin a new line with the return key", "the line holds an invisible line break (U+%04X)", r)
				break
			}
			if r < 0x20 && r != '\t' || r == 0x7f {
				s.add(s.pos(ln, col), "?", "delete the character", "the line holds control character 0x%02x", r)
				break
			}
			col++
		}
		if mark := conflictMark(l); mark != "" {
			s.add(s.pos(ln, 1), mark, "keep one side and delete the lines with <<<<<<<, ======= and >>>>>>>", "a merge was left half done here")
		}
		if yamlText {
			trimmed := strings.TrimLeft(l, " \t")
			if ind := l[:len(l)-len(trimmed)]; strings.Contains(ind, "\t") && trimmed != "" && !strings.HasPrefix(trimmed, "#") {
				s.add(s.pos(ln, strings.Index(ind, "\t")+1), "\t", "indent with spaces", "a tab in the indentation")
			}
		}
	}
	return len(*s.out) == n
}

func conflictMark(l string) string {
	for _, m := range []string{"<<<<<<<", ">>>>>>>", "|||||||"} {
		if l == m || strings.HasPrefix(l, m+" ") {
			return m
		}
	}
	return ""
}

// parseYAML reads the one document of a file. nil means that problems were
// added, or that the file is empty.
func (s *source) parseYAML(text []byte) *yaml.Node {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	dec := yaml.NewDecoder(bytes.NewReader(text))
	var doc yaml.Node
	err := dec.Decode(&doc)
	if err == io.EOF {
		return nil
	}
	if err != nil {
		s.yamlError(text, err)
		return nil
	}
	var second yaml.Node
	if err := dec.Decode(&second); err == nil {
		s.add(s.pos(second.Line+s.first, 1), "", "put each job in its own folder; keep one document in the file", "a second document begins here")
		return nil
	} else if err != io.EOF {
		s.yamlError(text, err)
		return nil
	}
	if len(doc.Content) == 0 {
		return nil
	}
	root := doc.Content[0]
	if s.first > 0 {
		shift(root, s.first, 0)
	}
	if !s.plainNodes(root, 0) {
		return nil
	}
	return root
}

func shift(n *yaml.Node, by, depth int) {
	n.Line += by
	if depth > maxDepth+1 {
		return
	}
	for _, c := range n.Content {
		shift(c, by, depth+1)
	}
}

// plainNodes refuses anchors, aliases, tags, merge keys, duplicate keys and
// bottomless nesting everywhere in the tree.
func (s *source) plainNodes(n *yaml.Node, depth int) bool {
	at := s.pos(n.Line, n.Column)
	if depth > maxDepth {
		s.add(at, "", "", "lists and maps are nested more than %d deep", maxDepth)
		return false
	}
	ok := true
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		// told once a file: a file that uses them uses them often
		if !s.anchors {
			s.anchors = true
			if n.Anchor != "" {
				s.add(at, "&"+n.Anchor, "delete the anchor and write the value out wherever it is used", "anchors and aliases are not read")
			} else {
				s.add(at, "*"+n.Value, "write the value out where it is used", "anchors and aliases are not read")
			}
		}
		if n.Kind == yaml.AliasNode {
			return false
		}
		ok = false
	}
	if n.Style&yaml.TaggedStyle != 0 {
		s.add(at, n.Tag, "delete the tag; values are read by what their key means", "tags are not read")
		ok = false
	}
	if n.Kind == yaml.MappingNode {
		seen := map[string]int{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			if k.Kind != yaml.ScalarNode {
				s.add(s.pos(k.Line, k.Column), "", "", "a key must be a plain word")
				ok = false
				continue
			}
			if k.Tag == "!!merge" {
				s.add(s.pos(k.Line, k.Column), k.Value, "write the keys out", "merge keys are not read")
				ok = false
				continue
			}
			if line, dup := seen[k.Value]; dup {
				s.add(s.pos(k.Line, k.Column), k.Value, "keep one of the two", "%q is given twice, first on line %d", k.Value, line)
				ok = false
				continue
			}
			seen[k.Value] = k.Line
		}
	}
	for _, c := range n.Content {
		ok = s.plainNodes(c, depth+1) && ok
	}
	return ok
}

var yamlLine = regexp.MustCompile(`line (\d+): `)

func (s *source) yamlError(text []byte, err error) {
	msg := strings.TrimPrefix(err.Error(), "yaml: ")
	line := 1
	if m := yamlLine.FindStringSubmatchIndex(msg); m != nil {
		line, _ = strconv.Atoi(msg[m[2]:m[3]])
		msg = msg[:m[0]] + msg[m[1]:]
	}
	if from := lastGoodLine(text); from > 0 {
		line = from
	}
	if n := bytes.Count(text, []byte("\n")) + 1; line > n {
		line = n
	}
	src := ""
	if all := strings.Split(string(text), "\n"); line-1 < len(all) {
		src = strings.TrimRight(all[line-1], "\r")
	}
	col := len([]rune(src)) - len([]rune(strings.TrimLeft(src, " "))) + 1
	hint := "check the indentation, the brackets and the quotes of this line and the one above"
	switch {
	case strings.Contains(msg, "mapping values are not allowed"):
		hint = "put text that holds `: ` in quotes, and check the indentation"
		if i := strings.Index(src, ": "); i >= 0 {
			if j := strings.Index(src[i+2:], ": "); j >= 0 {
				col = len([]rune(src[:i+2+j])) + 1
			}
		}
	case strings.Contains(msg, "unexpected end of stream"), strings.Contains(msg, "quoted scalar"):
		msg = "a quote is opened and not closed"
		hint = "close the quote, or put the whole value in single quotes when it holds an inch mark"
		if i := strings.IndexAny(src, `"'`); i >= 0 {
			col = len([]rune(src[:i])) + 1
		}
	case strings.Contains(msg, "did not find expected ',' or"):
		msg = "a bracket is opened and not closed, or a comma is missing"
	}
	s.add(s.pos(line+s.first, col), "", hint, "%s", strings.ToLower(msg[:1])+msg[1:])
}

// lastGoodLine finds the line a syntax error begins on: the first after the
// longest run of whole lines that reads well. 0 when the file is too large to
// look.
func lastGoodLine(text []byte) int {
	if len(text) > 64<<10 {
		return 0
	}
	good := 0
	lines := bytes.SplitAfter(text, []byte("\n"))
	if len(lines) > 400 {
		return 0
	}
	end := 0
	for i, l := range lines {
		end += len(l)
		var n yaml.Node
		if yaml.Unmarshal(text[:end], &n) == nil {
			good = i + 1
		}
	}
	return good + 1
}

// obj reads one mapping: each key is asked for by name, and those nobody asked
// for are unknown.
type obj struct {
	s     *source
	n     *yaml.Node
	what  string
	keys  map[string]*yaml.Node // values
	knode map[string]*yaml.Node
	order []string
	known []string
}

// mapping takes a node as a mapping; what names it in messages ("a part").
func (s *source) mapping(n *yaml.Node, what string) *obj {
	if n == nil {
		return nil
	}
	if n.Kind != yaml.MappingNode {
		s.add(s.at(n), snippet(n), "write it as `key: value` lines or in braces", "%s must be a map of keys, not %s", what, kindOf(n))
		return nil
	}
	o := &obj{s: s, n: n, what: what, keys: map[string]*yaml.Node{}, knode: map[string]*yaml.Node{}}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k := n.Content[i].Value
		o.keys[k], o.knode[k] = n.Content[i+1], n.Content[i]
		o.order = append(o.order, k)
	}
	return o
}

func (s *source) at(n *yaml.Node) Pos {
	if n == nil {
		return Pos{File: s.file}
	}
	return s.pos(n.Line, n.Column)
}

func (o *obj) pos() Pos { return o.s.at(o.n) }

// get asks for a key's value; an empty value counts as not given.
func (o *obj) get(key string) *yaml.Node {
	o.known = append(o.known, key)
	n := o.keys[key]
	if n != nil && n.Kind == yaml.ScalarNode && n.Tag == "!!null" {
		if n.Value == "" {
			return nil
		}
		o.s.add(o.s.at(n), n.Value, "leave the key out where there is no value", "%q is no value", n.Value)
		return nil
	}
	return n
}

// done reports the keys that nobody asked for.
func (o *obj) done() {
	if o == nil {
		return
	}
	known := map[string]bool{}
	for _, k := range o.known {
		known[k] = true
	}
	for _, k := range o.order {
		if !known[k] {
			if v := o.keys[k]; digits(k) && v != nil && v.Kind == yaml.ScalarNode && v.Value == "" {
				o.s.add(o.s.at(o.knode[k]), k, "write decimals with a point, as 0.5; within { } and [ ] a comma goes on to the next value", "a comma stands before %q", k)
				continue
			}
			o.s.add(o.s.at(o.knode[k]), k, suggest(k, o.known, "known keys"), "unknown key %q in %s", k, o.what)
		}
	}
}

// digits tells what is left of a number whose decimal comma ended its value.
func digits(k string) bool {
	k, _, _ = strings.Cut(k, " ") // a unit may follow
	return k != "" && strings.Trim(k, "0123456789") == ""
}

// need reports a key that must be there.
func (o *obj) need(key, hint string) bool {
	if n := o.keys[key]; n == nil || n.Tag == "!!null" {
		o.s.add(o.pos(), "", hint, "%s has no %q", o.what, key)
		return false
	}
	return true
}

func (o *obj) str(key string) string {
	v, _ := o.s.scalar(o.get(key), key)
	return v
}

// scalar takes a node as one value, as written.
func (s *source) scalar(n *yaml.Node, what string) (string, bool) {
	if n == nil {
		return "", false
	}
	if n.Kind != yaml.ScalarNode {
		s.add(s.at(n), snippet(n), "", "%q must be one value, not %s", what, kindOf(n))
		return "", false
	}
	return strings.TrimSpace(n.Value), true
}

func (o *obj) integer(key string, def, least, most int) int {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return def
	}
	i, err := strconv.Atoi(v)
	if err != nil {
		o.s.add(o.s.at(n), v, fmt.Sprintf("such as `%s: %d`", key, max(least, 2)), "%q must be a whole number, not %q", key, v)
		return def
	}
	if i < least || i > most {
		o.s.add(o.s.at(n), v, fmt.Sprintf("write a number from %d to %d", least, most), "%q is %d", key, i)
		return def
	}
	return i
}

func (o *obj) boolean(key string) bool {
	b := o.boolPtr(key)
	return b != nil && *b
}

func (o *obj) boolPtr(key string) *bool {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return nil
	}
	var b bool
	switch strings.ToLower(v) {
	case "true", "yes":
		b = true
	case "false", "no":
	default:
		o.s.add(o.s.at(n), v, "write true or false", "%q must be true or false, not %q", key, v)
		return nil
	}
	return &b
}

// list gives the items of a list; a single value counts as a list of one.
func (o *obj) list(key string) []*yaml.Node {
	n := o.get(key)
	if n == nil {
		return nil
	}
	if n.Kind == yaml.SequenceNode {
		return n.Content
	}
	o.s.add(o.s.at(n), snippet(n), "begin each item with `- `", "%q must be a list, not %s", key, kindOf(n))
	return nil
}

// words gives a list of single values; one value alone is a list of one.
func (o *obj) words(key string) ([]string, []*yaml.Node) {
	n := o.get(key)
	if n == nil {
		return nil, nil
	}
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		items = n.Content
	}
	var out []string
	var nodes []*yaml.Node
	for _, it := range items {
		if v, ok := o.s.scalar(it, key); ok {
			if v == "" {
				o.s.add(o.s.at(it), "", "", "an item of %q is empty", key)
				continue
			}
			out = append(out, v)
			nodes = append(nodes, it)
		}
	}
	return out, nodes
}

var idShape = regexp.MustCompile(`^[\p{L}\p{N}][\p{L}\p{N}._/+-]*$`)

// id reads an id and checks its shape; slash says whether ids of this kind
// may hold one.
func (o *obj) id(key string, slash bool) string {
	if !o.need(key, "give it a short id, such as `"+key+": rib`") {
		o.get(key)
		return ""
	}
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return ""
	}
	if !idShape.MatchString(v) || len(v) > 64 || !slash && strings.Contains(v, "/") {
		o.s.add(o.s.at(n), v, "use letters, digits, hyphens and dots, beginning with a letter or digit", "%q cannot be an id", v)
		return ""
	}
	return v
}

func kindOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a map"
	case yaml.SequenceNode:
		return "a list"
	}
	if n.Value == "" {
		return "nothing"
	}
	return "one value"
}

func snippet(n *yaml.Node) string {
	if n.Kind == yaml.ScalarNode && !strings.Contains(n.Value, "\n") {
		return n.Value
	}
	return ""
}

// valuePos is the place of a character of a scalar's text: exact for plain
// and quoted values on one line, the value's beginning otherwise.
func (s *source) valuePos(n *yaml.Node, col int) Pos {
	at := s.at(n)
	if col < 1 || n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 {
		return at
	}
	in := at
	in.Col += col - 1
	if n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
		in.Col++
	}
	if in.Col > utf8.RuneCountInString(s.line(at.Line))+1 {
		return at // the value goes on in another line
	}
	return in
}
