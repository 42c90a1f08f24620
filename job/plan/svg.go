package plan

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// svgPen writes SVG elements, coordinates to a tenth of a pixel.
type svgPen struct{ b bytes.Buffer }

func (s *svgPen) f(format string, args ...any) { fmt.Fprintf(&s.b, format, args...) }

// px writes a coordinate.
func px(v float64) string {
	r := math.Round(v*10) / 10
	if r == 0 {
		r = 0 // no minus zero
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}

// xmlText escapes text for an element or an attribute and leaves out what XML
// 1.0 does not allow.
func xmlText(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&quot;")
		case r == '\'':
			b.WriteString("&#39;")
		case r == '\n' || r == '\t':
			b.WriteByte(' ')
		case r < 0x20 || r == 0x7f || r == 0xFFFE || r == 0xFFFF:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func (s *svgPen) rect(class string, x, y, w, h float64) {
	if h <= 0 || w <= 0 {
		return
	}
	s.f(`<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`+"\n", class, px(x), px(y), px(w), px(h))
}

func (s *svgPen) line(class string, x1, y1, x2, y2 float64) {
	s.f(`<path class="%s" d="M%s %sL%s %s"/>`+"\n", class, px(x1), px(y1), px(x2), px(y2))
}

func (s *svgPen) text(class string, x, y float64, t string) {
	s.f(`<text class="%s" x="%s" y="%s">%s</text>`+"\n", class, px(x), px(y), xmlText(t))
}

// upright writes text that runs down a column.
func (s *svgPen) upright(class string, x, y float64, t string) {
	s.f(`<text class="%s" transform="translate(%s %s) rotate(90)">%s</text>`+"\n", class, px(x), px(y), xmlText(t))
}

// ruled draws a box as a drafter does, each line run a little past the corner.
func (s *svgPen) ruled(class string, x, y, w, h float64) {
	const over = 2.5
	s.f(`<path class="%s" d="M%s %sH%sM%s %sH%sM%s %sV%sM%s %sV%s"/>`+"\n", class,
		px(x-over), px(y), px(x+w+over), px(x-over), px(y+h), px(x+w+over),
		px(x), px(y-over), px(y+h+over), px(x+w), px(y-over), px(y+h+over))
}

// textWide estimates the width of a line of text at a font size: fonts differ,
// so it is on the wide side.
func textWide(t string, size float64) float64 {
	w := 0.0
	for _, r := range t {
		switch {
		case strings.ContainsRune("iljtf.,:;'|!I ()[]-", r):
			w += 0.36
		case strings.ContainsRune("mwMW@", r):
			w += 0.92
		case r >= 'A' && r <= 'Z':
			w += 0.7
		case r > 0x2e80: // wide scripts
			w += 1.05
		default:
			w += 0.58
		}
	}
	return w * size
}

// fit cuts text to a width and marks the cut.
func fit(t string, size, wide float64) string {
	if textWide(t, size) <= wide {
		return t
	}
	rs := []rune(t)
	for len(rs) > 0 && textWide(string(rs)+"…", size) > wide {
		rs = rs[:len(rs)-1]
	}
	if len(rs) < 2 {
		return ""
	}
	return strings.TrimRight(string(rs), " ,") + "…"
}

// wrap breaks text into at most n lines of a width, the last one cut.
func wrap(t string, size, wide float64, n int) []string {
	var lines []string
	cur := ""
	words := strings.Fields(t)
	for i, w := range words {
		try := w
		if cur != "" {
			try = cur + " " + w
		}
		if cur == "" || textWide(try, size) <= wide {
			cur = try
			continue
		}
		lines = append(lines, fit(cur, size, wide))
		cur = w
		if len(lines) == n-1 {
			cur = strings.Join(words[i:], " ")
			break
		}
	}
	if cur != "" {
		lines = append(lines, fit(cur, size, wide))
	}
	return lines
}
