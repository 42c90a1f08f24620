package settle

import (
	"regexp"
	"strings"
)

// A text is a row of blocks: headings, tasks, list items, paragraphs, fenced
// code. Joining their texts and gaps in order gives the text back.
type block struct {
	kind  blockKind
	text  string // whole lines, no blank line at the end
	gap   string // the blank lines that follow
	key   string // what it says, but for spacing and the tick
	under string // the heading above
	tick  byte   // of a task: ' ', 'x' or 'X'
	at    int    // of a task: where the tick is in text
}

type blockKind byte

const (
	heading   blockKind = 'h'
	task      blockKind = 't'
	listItem  blockKind = 'l'
	paragraph blockKind = 'p'
	code      blockKind = 'c'
	row       blockKind = 'r' // a line of a file that is no prose
)

func (k blockKind) String() string {
	switch k {
	case heading:
		return "heading"
	case task:
		return "task"
	case listItem:
		return "list item"
	case code:
		return "code"
	case row:
		return "line"
	}
	return "paragraph"
}

// tight kinds follow one another without a blank line between.
func (k blockKind) tight() bool { return k == task || k == listItem || k == row }

var (
	headingLine = regexp.MustCompile(`^ {0,3}#{1,6}([ \t]|\r?\n|$)`)
	itemLine    = regexp.MustCompile(`^[ \t]*([-*+]|[0-9]{1,9}[.)])[ \t]+`)
	tickMark    = regexp.MustCompile(`^\[([ xX])\][ \t]`)
	fenceLine   = regexp.MustCompile("^[ \t]*(```+|~~~+)")
)

// splitBlocks reads prose, or rows of lines. lead is the blank lines at the
// top.
func splitBlocks(s string, rows bool) (lead string, out []*block) {
	lines := strings.SplitAfter(s, "\n")
	if lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	under := ""
	open := false // the last block takes following lines
	for i := 0; i < len(lines); i++ {
		l := lines[i]
		last := len(out) - 1
		switch {
		case strings.TrimSpace(l) == "":
			open = false
			if last < 0 {
				lead += l
			} else {
				out[last].gap += l
			}
			continue
		case rows:
			out = append(out, &block{kind: row, text: l})
			continue
		}
		if f := fenceLine.FindStringSubmatch(l); f != nil {
			b := &block{kind: code, text: l, under: under}
			for i++; i < len(lines); i++ {
				b.text += lines[i]
				if t := strings.TrimSpace(lines[i]); strings.HasPrefix(t, f[1]) && strings.Trim(t, f[1][:1]) == "" {
					break
				}
			}
			out, open = append(out, b), false
			continue
		}
		switch m := itemLine.FindString(l); {
		case headingLine.MatchString(l):
			under = strings.TrimSpace(strings.Trim(strings.TrimSpace(l), "#"))
			out = append(out, &block{kind: heading, text: l, under: under})
			open = false
		case m != "":
			b := &block{kind: listItem, text: l, under: under}
			if t := tickMark.FindStringSubmatch(l[len(m):]); t != nil {
				b.kind, b.tick, b.at = task, t[1][0], len(m)+1
			}
			out, open = append(out, b), true
		case open:
			out[last].text += l
		default:
			out, open = append(out, &block{kind: paragraph, text: l, under: under}), true
		}
	}
	for _, b := range out {
		t := b.text
		if b.kind == task {
			t = t[:b.at] + " " + t[b.at+1:]
		}
		if b.kind != row && b.kind != code {
			t = strings.Join(strings.Fields(t), " ")
		}
		b.key = string(b.kind) + t
	}
	return lead, out
}

func blockKeys(bs []*block) []string {
	out := make([]string, len(bs))
	for i, b := range bs {
		out[i] = b.key
	}
	return out
}

// likeBlocks says how alike two blocks are, by the pairs of letters they
// share; 0 if they are not the same block.
func likeBlocks(a, b *block) float64 {
	if a.kind != b.kind {
		return 0
	}
	const limit = 4096
	ka, kb := a.key[:min(len(a.key), limit)], b.key[:min(len(b.key), limit)]
	pairs := map[[2]byte]int{}
	for i := 1; i+1 < len(ka); i++ {
		pairs[[2]byte{ka[i], ka[i+1]}]++
	}
	shared := 0
	for i := 1; i+1 < len(kb); i++ {
		if p := [2]byte{kb[i], kb[i+1]}; pairs[p] > 0 {
			pairs[p]--
			shared++
		}
	}
	if total := len(ka) + len(kb) - 4; total > 0 && 4*shared >= total {
		return 2 * float64(shared) / float64(total)
	}
	return 0
}
