package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/mattn/go-runewidth"
)

// showRows is how many rows of the two columns are shown; the record itself has
// all.
const showRows = 40

func runShowWay(e *env, which string) error {
	rows, err := bothWayRows(e)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(rows, func(r bothWayRow) bool { return which == fmt.Sprint(r.N) || which == r.Name })
	if at < 0 {
		return &fault{code: exitUsage, msg: which + ": no such record under both-ways", hint: "see `caul both-ways` for the numbers"}
	}
	r := rows[at]
	return e.print("both-way", r, func() error {
		if r.Error != "" {
			e.printf("%d. %s: %s\n", r.N, r.Name, visible(r.Error))
			return nil
		}
		e.printf("%s\n", e.bold(visible(fmt.Sprintf("%d. %s, %s", r.N, r.File, r.What))))
		e.printf("before: %s\n\n", strings.ReplaceAll(oneLine(r.Base, false), "\n           ", "\n        "))
		w := (e.columns() - 3) / 2
		for _, l := range besides(w, "stands: "+r.Stands.Machine+", "+r.Stands.When, "other: "+r.Other.Machine+", "+r.Other.When, "") {
			e.printf("%s\n", l)
		}
		e.printf("%s\n", strings.Repeat("-", 2*w+3))
		left, right := twoSides(w, r.Stands, r.Other)
		var out []string
		for i := range left {
			mark := " "
			if left[i] != right[i] {
				mark = "|"
			}
			out = append(out, besides(w, left[i], right[i], mark)...)
		}
		for i, l := range out {
			if i == showRows && len(out) > showRows+1 {
				e.printf("... %d rows more\n", len(out)-showRows)
				break
			}
			e.printf("%s\n", l)
		}
		e.printf("\nin full: both-ways/%s\nsettle with `caul both-ways keep %d` or `caul both-ways take %d`\n", r.Name, r.N, r.N)
		return nil
	})
}

// twoSides gives the lines of two values beside each other, equally many. What
// is the same at both ends and more than a few lines is left out, and so is the
// beginning of lines that have no end.
func twoSides(w int, a, b side) (left, right []string) {
	lines := func(s side) []string {
		if s.Gone {
			return []string{"(deleted)"}
		}
		return strings.Split(strings.TrimRight(s.Value, "\r\n"), "\n")
	}
	left, right = lines(a), lines(b)
	const near = 3
	head, tail := shared(left, right)
	end := func(s []string) []string { return s[len(s)-tail:] }
	mid := func(s []string) []string { return s[head : len(s)-tail] }
	ml, mr := slices.Clone(mid(left)), slices.Clone(mid(right))
	for len(ml) < len(mr) {
		ml = append(ml, "")
	}
	for len(mr) < len(ml) {
		mr = append(mr, "")
	}
	for i := range ml {
		ml[i], mr[i] = nearDifference(w, ml[i], mr[i])
	}
	var before, after []string
	if before = left[:head]; head > near+1 {
		before = append([]string{fmt.Sprintf("... %d lines the same", head-near)}, left[head-near:head]...)
	}
	if after = end(left); tail > near+1 {
		after = append(slices.Clone(after[:near]), fmt.Sprintf("... %d lines the same", tail-near))
	}
	return slices.Concat(before, ml, after), slices.Concat(before, mr, after)
}

// shared is how much two lists have in common at their beginnings, and of the
// rest at their ends.
func shared[T comparable](a, b []T) (head, tail int) {
	n := min(len(a), len(b))
	for head < n && a[head] == b[head] {
		head++
	}
	for tail < n-head && a[len(a)-1-tail] == b[len(b)-1-tail] {
		tail++
	}
	return head, tail
}

// nearDifference cuts off what two long lines have in common at their beginnings
// and their ends, but for a few words.
func nearDifference(w int, a, b string) (string, string) {
	p, q := shared([]byte(a), []byte(b))
	cut := func(s string) string {
		from, to := max(0, p-w), min(len(s), len(s)-q+w)
		for from > 0 && !utf8.RuneStart(s[from]) {
			from--
		}
		for to < len(s) && !utf8.RuneStart(s[to]) {
			to++
		}
		if from < 4 {
			from = 0
		}
		if len(s)-to < 4 {
			to = len(s)
		}
		out := s[from:to]
		if from > 0 {
			out = "..." + out
		}
		if to < len(s) {
			out += "..."
		}
		return out
	}
	return cut(a), cut(b)
}

// besides writes two texts in two columns, in as many rows as they take.
func besides(w int, a, b, mark string) []string {
	l, r := rowsOf(w, a), rowsOf(w, b)
	var out []string
	for i := range max(len(l), len(r)) {
		var x, y string
		if i < len(l) {
			x = l[i]
		}
		if i < len(r) {
			y = r[i]
		}
		out = append(out, strings.TrimRight(runewidth.FillRight(x, w)+fmt.Sprintf(" %-1s ", mark)+y, " "))
	}
	return out
}

// rowsOf breaks a line into rows of w columns, at blanks where it can.
func rowsOf(w int, s string) []string {
	s = visible(strings.ReplaceAll(strings.TrimRight(s, "\r"), "\t", "    "))
	var out []string
	for runewidth.StringWidth(s) > w {
		row := runewidth.Truncate(s, w, "")
		if i := strings.LastIndexByte(row, ' '); i > w/2 {
			row = row[:i]
		}
		if row == "" {
			break
		}
		out = append(out, row)
		s = strings.TrimPrefix(s[len(row):], " ")
	}
	return append(out, s)
}
