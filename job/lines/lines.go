package lines

import (
	"strings"

	"github.com/mattn/go-runewidth"
)

// Wrap breaks text at blanks into lines of at most width characters. A word
// longer than that stands on a line of its own, whole.
func Wrap(text string, width int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case len([]rune(line))+1+len([]rune(word)) > width:
			out = append(out, line)
			line = word
		default:
			line += " " + word
		}
	}
	return append(out, line)
}

// Hang writes text behind a prefix in lines of at most width terminal columns,
// later lines indented as far as the prefix reaches. A word longer than a line
// is cut.
func Hang(b *strings.Builder, prefix, text string, width int) {
	pad := strings.Repeat(" ", runewidth.StringWidth(prefix))
	room := width - len(pad)
	at := 0
	b.WriteString(prefix)
	for _, word := range strings.Fields(text) {
		n := runewidth.StringWidth(word)
		if at > 0 && at+1+n > room {
			b.WriteString("\n" + pad)
			at = 0
		}
		for at == 0 && n > room {
			head := runewidth.Truncate(word, room, "")
			if head == "" {
				break
			}
			b.WriteString(head + "\n" + pad)
			word = word[len(head):]
			n = runewidth.StringWidth(word)
		}
		if at > 0 {
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += n
	}
	b.WriteByte('\n')
}
