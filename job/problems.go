package job

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"
)

// Problem is one thing a file says that cannot be taken: where, the line it
// stands on, the offending text, what is wrong and the next step.
type Problem struct {
	Pos
	Line string `json:"source,omitempty"` // the offending line, without its end
	Text string `json:"text,omitempty"`   // the offending text
	Msg  string `json:"message"`          // lower case, no full stop
	Hint string `json:"hint,omitempty"`   // the next step; may be empty
}

// Problems are all problems of a folder, by file, line and column. It is the
// error that Load gives.
type Problems []Problem

// Where writes the place as file:line:col, as much of it as is known.
func (p Pos) Where() string {
	switch {
	case p.Line == 0:
		return p.File
	case p.Col == 0:
		return fmt.Sprintf("%s:%d", p.File, p.Line)
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Col)
}

// String writes the problem as `file:line:col: msg`, the line with a caret
// under the offending text, and the hint.
func (p Problem) String() string {
	var b strings.Builder
	if w := p.Where(); w != "" {
		b.WriteString(w + ": ")
	}
	b.WriteString(p.Msg)
	if p.Line != "" && p.Pos.Line > 0 {
		line, col := clip(p.Line, p.Col)
		fmt.Fprintf(&b, "\n%6d | %s", p.Pos.Line, printable(line))
		if col > 0 {
			n := utf8.RuneCountInString(p.Text)
			if rest := utf8.RuneCountInString(line) - col + 1; n > rest {
				n = rest
			}
			if n < 1 || strings.ContainsAny(p.Text, "\n") {
				n = 1
			}
			fmt.Fprintf(&b, "\n       | %s%s", caretPad(line, col), strings.Repeat("^", n))
		}
	}
	if p.Hint != "" {
		b.WriteString("\nhint: " + p.Hint)
	}
	return b.String()
}

// Error is the problem on its own as an error.
func (p Problem) Error() string { return p.String() }

// Error lists every problem, one after another with an empty line between.
func (ps Problems) Error() string {
	out := make([]string, len(ps))
	for i, p := range ps {
		out[i] = p.String()
	}
	return strings.Join(out, "\n\n")
}

func (ps Problems) sorted() Problems {
	sort.SliceStable(ps, func(i, j int) bool {
		a, b := ps[i], ps[j]
		if a.File != b.File {
			return a.File < b.File
		}
		if a.Pos.Line != b.Pos.Line {
			return a.Pos.Line < b.Pos.Line
		}
		return a.Col < b.Col
	})
	return ps
}

// clip keeps a very long line readable: at most 100 characters around the
// column. It gives the shown text and the column in it.
func clip(line string, col int) (string, int) {
	r := []rune(line)
	const width = 100
	if len(r) <= width {
		return line, col
	}
	from := 0
	if col > width*3/4 {
		from = col - width/2
	}
	if from > len(r) {
		from = len(r)
	}
	to := min(from+width, len(r))
	return string(r[from:to]), col - from
}

// caretPad is the white space before the caret; tabs stay tabs so that the
// caret lines up whatever the terminal makes of them.
func caretPad(line string, col int) string {
	var b strings.Builder
	i := 1
	for _, c := range line {
		if i >= col {
			break
		}
		if c == '\t' {
			b.WriteByte('\t')
		} else {
			b.WriteByte(' ')
		}
		i++
	}
	for ; i < col; i++ {
		b.WriteByte(' ')
	}
	return b.String()
}

// printable drops control characters, which could drive the terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' {
			return r
		}
		if r < 0x20 || r == 0x7f || (r >= 0x80 && r < 0xa0) || r == utf8.RuneError {
			return '?'
		}
		return r
	}, s)
}

// nearest finds the known word a mistyped one most likely meant, or "".
func nearest(word string, known []string) string {
	best, bestD := "", 0
	w := strings.ToLower(word)
	for _, k := range known {
		d := editDistance(w, strings.ToLower(k))
		limit := max(len([]rune(k))/3, 1)
		if d > limit && !(len(w) >= 3 && strings.HasPrefix(strings.ToLower(k), w)) {
			continue
		}
		if best == "" || d < bestD || d == bestD && k < best {
			best, bestD = k, d
		}
	}
	return best
}

// suggest is a hint naming the nearest known word, or listing the known ones.
func suggest(word string, known []string, list string) string {
	if n := nearest(word, known); n != "" {
		return fmt.Sprintf("did you mean %q?", n)
	}
	if len(known) == 0 {
		return ""
	}
	k := append([]string(nil), known...)
	sort.Strings(k)
	k = slices.Compact(k)
	more := ""
	if len(k) > 16 {
		more = fmt.Sprintf(" and %d more", len(k)-16)
		k = k[:16]
	}
	return list + ": " + strings.Join(k, ", ") + more
}

// lacking is the next step for something of shop.yaml that is not there: the
// one that may be meant, or where it is added and what there is.
func lacking(word string, known []string, key string) string {
	add := "add it to `" + key + ":` in shop.yaml"
	if len(known) == 0 {
		return add
	}
	return suggest(word, known, add+"; there is")
}

// editDistance counts insertions, deletions, exchanges and swaps of
// neighbours (optimal string alignment); words are cut at 64 characters.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 64 {
		x = x[:64]
	}
	if len(y) > 64 {
		y = y[:64]
	}
	prev2 := make([]int, len(y)+1)
	prev := make([]int, len(y)+1)
	cur := make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(y)]
}
