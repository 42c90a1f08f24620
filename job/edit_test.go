package job

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
	"pgregory.net/rapid"
)

func TestSetValue(t *testing.T) {
	for _, c := range []struct{ name, in, path, value, want string }{
		{"plain", "a: 1\nb: 2 # note\n", "b", "3/4", "a: 1\nb: 3/4 # note\n"},
		{"plain of several words", "a: two words   # note\n", "a", "x", "a: x   # note\n"},
		{"after umlauts", "größe: {ä: ü, b: 2}\n", "größe b", "7", "größe: {ä: ü, b: 7}\n"},
		{"crlf", "a: 1\r\nb: 2\r\n", "a", "9", "a: 9\r\nb: 2\r\n"},
		{"bom", "\ufeffa: 1\n", "a", "9", "\ufeffa: 9\n"},
		{"single quotes", "a: 'it''s' # x\n", "a", "that's", "a: that's # x\n"},
		{"double quotes", `a: "x \" y" # z` + "\n", "a", "w", "a: w # z\n"},
		{"needs quotes", "a: b\n", "a", "x: y", "a: 'x: y'\n"},
		{"needs quotes in braces", "a: {b: c}\n", "a b", "1, 2", "a: {b: '1, 2'}\n"},
		{"inch mark", "a: b\n", "a", `12-1/8"`, "a: 12-1/8\"\n"},
		{"line break", "a: b\n", "a", "x\ny", "a: \"x\\ny\"\n"},
		{"null word", "a: b\n", "a", "null", "a: 'null'\n"},
		{"empty value", "a:\nb: 1\n", "a", "x", "a: x\nb: 1\n"},
		{"empty value with a note", "a: # note\nb: 1\n", "a", "x", "a: x # note\nb: 1\n"},
		{"literal block", "a: |\n  one\n  two\nb: 1\n", "a", "x", "a: x\nb: 1\n"},
		{"folded plain", "a: one\n  two\nb: 1\n", "a", "x", "a: x\nb: 1\n"},
		{"by id", "l:\n  - {id: p, q: 1}\n  - id: r\n    q: 2 # two\n", "l r q", "5", "l:\n  - {id: p, q: 1}\n  - id: r\n    q: 5 # two\n"},
		{"by number", "l: [a, b, c]\n", "l #1", "x", "l: [a, x, c]\n"},
		{"new key", "a: 1\n# end\n", "b", "2", "a: 1\nb: 2\n# end\n"},
		{"new key in braces", "a: {b: 1}\n", "a c", "2", "a: {b: 1, c: 2}\n"},
		{"new key in empty braces", "a: {}\n", "a c", "2", "a: {c: 2}\n"},
		{"new key in an item", "l:\n  - id: p\n    q: 1 # one\n  - id: r\n", "l p s", "2", "l:\n  - id: p\n    q: 1 # one\n    s: 2\n  - id: r\n"},
		{"new key in an empty file", "# only a note\n", "a", "1", "# only a note\na: 1\n"},
		{"new key without a last line end", "a: 1", "b", "2", "a: 1\nb: 2"},
		{"new key under an empty one", "a:\nb: 1\n", "a c", "2", "a:\n  c: 2\nb: 1\n"},
		{"same value", "a: '1'\n", "a", "1", "a: '1'\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := SetValue([]byte(c.in), strings.Fields(c.path), c.value)
			require.NoError(t, err)
			require.Equal(t, c.want, string(got))
		})
	}
}

func TestAppendItem(t *testing.T) {
	for _, c := range []struct{ name, in, path, item, want string }{
		{"block", "l:\n  - a # x\nb: 1\n", "l", "c", "l:\n  - a # x\n  - c\nb: 1\n"},
		{"block not indented", "l:\n- a\nb: 1\n", "l", "{id: c}", "l:\n- a\n- {id: c}\nb: 1\n"},
		{"block of maps", "l:\n  - id: a\n    q:\n      - 1\n\n# next\nb: 1\n", "l", "{id: c}", "l:\n  - id: a\n    q:\n      - 1\n  - {id: c}\n\n# next\nb: 1\n"},
		{"flow", "l: [a, b] # x\n", "l", "c", "l: [a, b, c] # x\n"},
		{"flow over lines", "l: [a,\n    b\n   ] # x\n", "l", "c", "l: [a,\n    b, c\n   ] # x\n"},
		{"empty flow", "l: [] # x\n", "l", "c", "l: [c] # x\n"},
		{"empty value", "l:\nb: 1\n", "l", "c", "l:\n  - c\nb: 1\n"},
		{"no key", "b: 1\n", "l", "c", "b: 1\nl: [c]\n"},
		{"inside an item", "l:\n  - {id: a, after: [x]}\n", "l a after", "y", "l:\n  - {id: a, after: [x, y]}\n"},
		{"crlf", "l:\r\n  - a\r\n", "l", "b", "l:\r\n  - a\r\n  - b\r\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := AppendItem([]byte(c.in), strings.Fields(c.path), c.item)
			require.NoError(t, err)
			require.Equal(t, c.want, string(got))
		})
	}
}

func TestRemove(t *testing.T) {
	for _, c := range []struct{ name, in, path, want string }{
		{"key", "a: 1\n# about b\nb: 2 # two\nc: 3\n", "b", "a: 1\n# about b\nc: 3\n"},
		{"item", "l:\n  - {id: a}\n  - {id: b}  # x\n  - {id: c}\n", "l b", "l:\n  - {id: a}\n  - {id: c}\n"},
		{"item over lines", "l:\n  - id: a\n    q: 1\n  - id: b\n    q: 2\n", "l a", "l:\n  - id: b\n    q: 2\n"},
		{"flow first", "l: [a, b, c]\n", "l #0", "l: [b, c]\n"},
		{"flow last", "l: [a, b, c]\n", "l #2", "l: [a, b]\n"},
		{"flow only", "l: [a]\n", "l #0", "l: []\n"},
		{"flow key", "m: {a: 1, b: 2}\n", "m a", "m: {b: 2}\n"},
		{"first key of an item", "l:\n  - id: a\n    q: 1\n", "l a id", "l:\n  - q: 1\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Remove([]byte(c.in), strings.Fields(c.path))
			require.NoError(t, err)
			require.Equal(t, c.want, string(got))
		})
	}
}

func TestEditRefuses(t *testing.T) {
	_, err := SetValue([]byte("a: &x 1\nb: *x\n"), Path{"a"}, "2")
	require.ErrorContains(t, err, "anchors and aliases are not read")
	_, err = SetValue([]byte("a: [1\n"), Path{"a"}, "2")
	require.ErrorContains(t, err, "does not read")
	_, err = SetValue([]byte("a: {b: 1}\n"), Path{"a"}, "2")
	require.ErrorContains(t, err, "not one value")
	_, err = Remove([]byte("a: 1\n"), Path{"b"})
	require.ErrorContains(t, err, "there is no b")
	_, err = AppendItem([]byte("a: 1\n"), Path{"a"}, "x")
	require.ErrorContains(t, err, "not a list")
}

// document draws a YAML file full of notes and odd spacing, and the paths of
// its single values.
func document(t *rapid.T) (string, []Path) {
	nl := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
	var b strings.Builder
	var paths []Path
	note := func() string {
		return rapid.SampledFrom([]string{"", "", " # a note: with 'odd' {marks}, [and] \"quotes\"", "   # größer", " #", "\t# tab"}).Draw(t, "note")
	}
	block := false // behind a block value an indented note would be part of it
	line := func() {
		if block {
			block = false
			return
		}
		b.WriteString(rapid.SampledFrom([]string{"", "", nl, "# alone - x: y" + nl, "   # indented" + nl}).Draw(t, "between"))
	}
	value := func(flow bool) string {
		v := rapid.SampledFrom([]string{"1", "12-1/8", "48 x 24 x 1/2", "'it''s # no note'", `"a \" b"`, "grün", "a b  c", "2 from near-edge", "19:00-21:30", "true", "4/4", "-3", "~x"}).Draw(t, "value")
		return v
	}
	if rapid.Bool().Draw(t, "bom") {
		b.WriteString("\ufeff")
	}
	n := rapid.IntRange(1, 5).Draw(t, "keys")
	for i := range n {
		k := fmt.Sprintf("k%d", i)
		line()
		switch rapid.IntRange(0, 5).Draw(t, "shape") {
		case 0:
			b.WriteString(k + ":  " + value(false) + note() + nl)
			paths = append(paths, Path{k})
		case 1:
			fmt.Fprintf(&b, "%s: {ä: %s,  'b': %s }%s%s", k, value(true), value(true), note(), nl)
			paths = append(paths, Path{k, "ä"}, Path{k, "b"})
		case 2:
			fmt.Fprintf(&b, "%s: [ %s,%s %s]%s%s", k, value(true), nl+"   ", value(true), note(), nl)
			paths = append(paths, Path{k, "#0"}, Path{k, "#1"})
		case 3:
			b.WriteString(k + ":" + note() + nl)
			for j := range rapid.IntRange(1, 3).Draw(t, "items") {
				id := fmt.Sprintf("i%d", j)
				line()
				fmt.Fprintf(&b, "  - id: %s%s%s", id, note(), nl)
				line()
				fmt.Fprintf(&b, "    q:   %s%s%s", value(false), note(), nl)
				paths = append(paths, Path{k, id, "q"})
			}
		case 4:
			fmt.Fprintf(&b, "%s: |%s  first # no note%s%s  second%s", k, nl, nl, nl, nl)
			paths = append(paths, Path{k})
			block = true
		case 5:
			fmt.Fprintf(&b, "%s: one%s  two # note%s", k, nl, nl)
			paths = append(paths, Path{k})
		}
	}
	line()
	s := b.String()
	if rapid.Bool().Draw(t, "no last line end") {
		s = strings.TrimSuffix(s, nl)
	}
	return s, paths
}

// TestEditsLeaveTheRest sets random values at random paths of random files,
// one after another. Every byte before and behind the value stands; the value
// is the one that was meant, as a general YAML library reads it.
func TestEditsLeaveTheRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, paths := document(t)
		data := []byte(text)
		for range rapid.IntRange(1, 3).Draw(t, "edits") {
			p := rapid.SampledFrom(paths).Draw(t, "path")
			v := rapid.OneOf(rapid.SampledFrom([]string{"3/4", "x: y", "a, b", "#", "- a", "null", " lead", "", "it's", `in "`, "größe", "&a", "1\n2", "a #b", "[", "key:", "0x1f"}), rapid.StringN(0, 12, -1)).Draw(t, "new")
			if !validScalar(v) {
				continue
			}
			out, err := SetValue(data, p, v)
			if err != nil {
				t.Fatalf("%q %v = %q: %v", data, p, v, err)
			}
			if got := at(t, out, p); got != v {
				t.Fatalf("%q: wanted %q, got %q", out, v, got)
			}
			onlyOnePlace(t, data, out, p)
			data = out
		}
	})
}

func validScalar(v string) bool {
	for _, r := range v {
		if r < 0x20 && r != '\n' && r != '\t' && r != '\r' || r == 0x7f || r >= 0x80 && r < 0xa0 || r == 0xfffd || r == 0xfeff || r == 0x2028 || r == 0x2029 || r > 0xffff {
			return false
		}
	}
	return true
}

// at reads a value with the library alone.
func at(t *rapid.T, data []byte, p Path) string {
	var doc yaml.Node
	if err := yaml.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &doc); err != nil {
		t.Fatalf("%q: %v", data, err)
	}
	n := doc.Content[0]
	for _, k := range p {
		n, _ = child(n, k)
	}
	return n.Value
}

// onlyOnePlace holds two versions against each other as the library reads
// them: every other value, and every note wherever it stands, must be the same;
// and the bytes before and behind the changed stretch are those there were.
func onlyOnePlace(t *rapid.T, a, b []byte, p Path) {
	if x, y := notes(a, p), notes(b, p); x != y {
		t.Fatalf("%v changed more than itself:\n%s\nwas\n%s", p, y, x)
	}
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	j := 0
	for j < len(a)-i && j < len(b)-i && a[len(a)-1-j] == b[len(b)-1-j] {
		j++
	}
	if gone := a[i : len(a)-j]; len(gone) > 40 {
		t.Fatalf("%v took %q away", p, gone)
	}
}

// notes writes down everything a file says but for one value.
func notes(data []byte, p Path) string {
	var doc yaml.Node
	_ = yaml.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &doc)
	skip := doc.Content[0]
	for _, k := range p {
		skip, _ = child(skip, k)
	}
	var b strings.Builder
	var said []string
	var walk func(n *yaml.Node)
	walk = func(n *yaml.Node) {
		v := n.Value
		if n == skip {
			v = ""
		}
		fmt.Fprintf(&b, "%d %q\n", n.Kind, v)
		for _, c := range []string{n.HeadComment, n.LineComment, n.FootComment} {
			// the library hangs a note on one node or another as it sees fit
			for _, l := range strings.Split(c, "\n") {
				if l = strings.TrimSpace(l); l != "" {
					said = append(said, l)
				}
			}
		}
		for _, c := range n.Content {
			walk(c)
		}
	}
	walk(&doc)
	slices.Sort(said)
	return b.String() + strings.Join(said, "\n")
}
