package lines

import (
	"strings"
	"testing"

	"github.com/mattn/go-runewidth"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// No line is wider than asked for, but for a word that is, and no word is lost.
func TestLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([a-zäß漢]{1,12} ?){0,30}`).Draw(t, "text")
		width := rapid.IntRange(8, 60).Draw(t, "width")
		longest := 0
		for _, w := range strings.Fields(text) {
			longest = max(longest, len([]rune(w)))
		}
		ls := Wrap(text, width)
		require.Equal(t, strings.Fields(text), strings.Fields(strings.Join(ls, " ")))
		for _, l := range ls {
			require.LessOrEqual(t, len([]rune(l)), max(width, longest))
		}
		var b strings.Builder
		Hang(&b, "  - ", text, width)
		for _, l := range strings.Split(b.String(), "\n") {
			require.LessOrEqual(t, runewidth.StringWidth(l), width)
		}
		squash := func(s string) string { return strings.Join(strings.Fields(s), "") }
		require.Equal(t, "-"+squash(text), squash(b.String()))
	})
}
