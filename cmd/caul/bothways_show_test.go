package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/mattn/go-runewidth"
)

// Two values stand side by side, what differs is on the screen however long
// they are, and no row is wider than the terminal. The rows are written here by
// hand.
func TestSideBySide(t *testing.T) {
	show := func(w int, a, b side) string {
		l, r := twoSides(w, a, b)
		var out []string
		for i := range l {
			mark := " "
			if l[i] != r[i] {
				mark = "|"
			}
			out = append(out, besides(w, l[i], r[i], mark)...)
		}
		for _, row := range out {
			if runewidth.StringWidth(row) > 2*w+3 {
				t.Errorf("a row of %d columns: %q", runewidth.StringWidth(row), row)
			}
		}
		return strings.Join(out, "\n")
	}
	words := strings.Repeat("Küche 🪚 ", 5000)
	var many []string
	for i := range 50 {
		many = append(many, fmt.Sprint("line ", i))
	}
	all := strings.Join(many, "\n")
	for _, c := range []struct {
		a, b side
		want string
	}{
		{side{Value: "25 min\n"}, side{Value: "30 min\n"}, "25 min     | 30 min"},
		{side{Value: "25 min"}, side{Gone: true}, "25 min     | (deleted)"},
		{side{Value: "glue the rails\r\nthen wait\r\n"}, side{Value: "glue the long rails\r\nthen wait\r\n"}, "glue the   | glue the\nrails      | long rails\nthen wait    then wait"},
		{side{Value: "a\nb"}, side{Value: "a\nx\ny\nb"}, "a            a\n           | x\n           | y\nb            b"},
		{side{Value: all}, side{Value: strings.Replace(all, "line 25\n", "line X\n", 1)},
			"... 22       ... 22\nlines the    lines the\nsame         same\nline 22      line 22\nline 23      line 23\nline 24      line 24\nline 25    | line X\nline 26      line 26\nline 27      line 27\nline 28      line 28\n... 21       ... 21\nlines the    lines the\nsame         same"},
		{side{Value: "\x1b[2J"}, side{Value: "x"}, "\\u001b[2J  | x"},
	} {
		if got := show(10, c.a, c.b); got != c.want {
			t.Errorf("got\n%s\nwant\n%s", got, c.want)
		}
	}
	long := show(38, side{Value: words + "one" + words}, side{Value: words + "two" + words})
	if n := strings.Count(long, "\n"); n > 5 || !strings.Contains(long, "one") || !strings.Contains(long, "two") || strings.Contains(long, "\ufffd") {
		t.Errorf("%d rows:\n%s", n, long)
	}
}
