package settle

import (
	"bytes"
	"strings"
	"unicode/utf8"
)

// frame is what a text file has around its lines: the byte order mark, the
// line ends, and whether the last line ends. Each is settled on its own, so
// that an editor that changed all line ends on one machine does not make every
// line a clash.
type frame struct {
	bom, crlf, open bool // open: the last line has no end
}

const bom = "\ufeff"

// unframe gives the text with plain line ends and a closed last line. ok is
// false for bytes that are no text. Mixed line ends stay as they are.
func unframe(data []byte) (text string, f frame, ok bool) {
	if !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0 {
		return "", f, false
	}
	s := string(data)
	if strings.HasPrefix(s, bom) {
		f.bom = true
		s = s[len(bom):]
	}
	if n := strings.Count(s, "\r\n"); n > 0 && n == strings.Count(s, "\n") && n == strings.Count(s, "\r") {
		f.crlf = true
		s = strings.ReplaceAll(s, "\r\n", "\n")
	}
	if s != "" && !strings.HasSuffix(s, "\n") {
		f.open = true
		s += "\n"
	}
	return s, f, true
}

func (f frame) wrap(s string) []byte {
	if f.open {
		s = strings.TrimSuffix(s, "\n")
	}
	if f.crlf {
		s = strings.ReplaceAll(s, "\r\n", "\n")
		s = strings.ReplaceAll(s, "\n", "\r\n")
	}
	if f.bom {
		s = bom + s
	}
	return []byte(s)
}

// mergeFrame settles the three properties one by one; with two values each, a
// property that both sides changed they changed alike.
func mergeFrame(b, o, n frame) frame {
	pick := func(b, o, n bool) bool {
		if o == b {
			return n
		}
		return o
	}
	return frame{pick(b.bom, o.bom, n.bom), pick(b.crlf, o.crlf, n.crlf), pick(b.open, o.open, n.open)}
}
