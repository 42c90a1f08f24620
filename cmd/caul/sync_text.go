package main

import (
	"fmt"
	"strings"
	"unicode"

	"github.com/mattn/go-runewidth"

	"caul/sync"
	"caul/sync/settle"
)

// syncRows is how much of a terminal of 24 lines a sync takes: all of it but
// the line of the command and the one of the next prompt.
const syncRows = 22

// syncText is what a sync says: lines of text, and after some of them a list of
// files, of which as many are named as the screen has room for.
type syncText struct {
	cols int
	rows []textRow
}

type textRow struct {
	text  string
	files []string
	whole bool // the files are to be copied from the screen: none is shortened
}

func (s *syncText) say(format string, a ...any) {
	s.rows = append(s.rows, textRow{text: visible(fmt.Sprintf(format, a...))})
}

// list adds files to the line before.
func (s *syncText) list(files []string) { s.rows[len(s.rows)-1].files = files }

// height is how many rows of the terminal a line takes.
func (s *syncText) height(l string) int { return max(1, (runewidth.StringWidth(l)+s.cols-1)/s.cols) }

// lines lays everything out. Every list gets the same room, and what one does
// not need the others have.
func (s *syncText) lines() []string {
	room, lists := syncRows, 0
	rows := map[int]int{} // of one file
	for i, r := range s.rows {
		room -= s.height(r.text)
		if len(r.files) > 0 {
			lists++
		}
		rows[i] = 1
		for _, f := range r.files {
			if r.whole {
				rows[i] = max(rows[i], s.height("    "+visible(f)))
			}
		}
	}
	share := map[int]int{} // in files
	for moved := true; moved && lists > 0; {
		each, open := max(1, room/lists), 0
		moved = false
		for i, r := range s.rows {
			if n := min(max(1, each/rows[i]), len(r.files)-share[i], room/rows[i]); n > 0 {
				share[i] += n
				room -= n * rows[i]
				moved = true
			}
			if share[i] < len(r.files) {
				open++
			}
		}
		lists = open
	}
	var out []string
	for i, r := range s.rows {
		out = append(out, r.text)
		n := share[i]
		if n < len(r.files) {
			n-- // the row for what is left out
		}
		for k := 0; k < n; k++ {
			l := "    " + visible(r.files[k])
			if !r.whole {
				l = s.clip(l)
			}
			out = append(out, l)
		}
		if n > 0 && n < len(r.files) { // the line before has their number
			out = append(out, fmt.Sprintf("    and %d more", len(r.files)-n))
		}
	}
	return out
}

// clip shortens a line to one row in its middle: a file is told by the job it
// is in and by its end.
func (s *syncText) clip(l string) string {
	if runewidth.StringWidth(l) <= s.cols {
		return l
	}
	half := (s.cols - 3) / 2
	return runewidth.Truncate(l, half, "") + "..." + runewidth.TruncateLeft(l, runewidth.StringWidth(l)-half, "")
}

// visible shows what a terminal would act on instead of showing: control
// characters, marks that turn the direction of writing, and bytes that are no
// text. A file's name may come from anybody's machine.
func visible(s string) string {
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == unicode.ReplacementChar && !strings.HasPrefix(s[i:], string(unicode.ReplacementChar)):
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case unicode.IsControl(r), r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0x2028, r == 0x2029:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// named writes changes for a list: the shop's own files first, then what waits
// under both-ways.
func named(cs []sync.Change) []string {
	var out, records []string
	for _, c := range cs {
		l := fmt.Sprintf("%-8s %s", c.What, c.Path)
		if strings.HasPrefix(c.Path, settle.RecordFolder+"/") {
			records = append(records, l)
		} else {
			out = append(out, l)
		}
	}
	return append(out, records...)
}

// firstLine is the first line of what may have several; the others show the
// place in the file.
func firstLine(s string) string {
	l, _, _ := strings.Cut(strings.TrimSpace(s), "\n")
	return l
}

// looksMax is how many notes are told in full.
const looksMax = 4

// printSync tells a sync in one screen: what came, what went, what needs a
// look. --json has every file.
func printSync(e *env, r *sync.Report) {
	s := &syncText{cols: e.columns()}
	if r.DryRun {
		s.say("nothing was changed; this is what a sync would do")
	}
	if r.Resumed {
		s.say("a sync that was cut off %s carried on", map[bool]string{true: "would be", false: "was"}[r.DryRun])
	}
	if len(r.Kept) > 0 {
		s.say("kept from here: %s", runewidth.Truncate(r.Message, 3*s.cols-20, "..."))
	}
	told := map[string]string{}
	files := func(word, name string, cs []sync.Change) {
		if len(cs) == 0 {
			return
		}
		list := named(cs)
		key := strings.Join(list, "\n")
		if at, ok := told[key]; ok && at != name {
			s.say("  %s: the same %s as at %s", word, map[bool]string{true: "file", false: "files"}[len(cs) == 1], at)
			return
		}
		told[key] = name
		s.say("%s", s.clip(fmt.Sprintf("  %s: %s", word, visible(sync.Summary(cs)))))
		s.list(list)
	}
	heads := map[int]string{} // rows that begin with a remote's name
	for i := range r.Remotes {
		m := &r.Remotes[i]
		heads[len(s.rows)] = m.Name
		s.say("%s: %s", m.Name, m.State)
		if m.Error != "" {
			s.say("    %s", firstLine(m.Error))
		}
		if m.Hint != "" {
			s.say("    hint: %s", m.Hint)
		}
		files("came", m.Name, m.Came)
		files("went", m.Name, m.Went)
		if m.State == sync.InStep && len(m.Came)+len(m.Went) == 0 {
			s.say("    nothing new on either side")
		}
		if n := len(m.Bundles); n > 0 {
			s.say("  offers %d shared build%s; to take one in: caul take FILE", n, plural(n))
			var list []string
			for _, b := range m.Bundles {
				list = append(list, b.Path)
			}
			s.list(list)
			s.rows[len(s.rows)-1].whole = true
		}
		for _, n := range m.Notes {
			s.say("    %s", n)
		}
	}
	if len(r.Remotes) == 0 {
		s.say("no other place to keep in step with; add one: caul remote add stick /media/stick")
	}
	for i, n := range r.Look {
		if i == looksMax && len(r.Look) > looksMax+1 {
			s.say("look: and %d more like these", len(r.Look)-looksMax)
			break
		}
		s.say("look: %s", firstLine(n))
	}
	if n := len(r.BothWays); n > 0 {
		s.say("look: %d value%s changed on two machines; the newer stand%s: caul both-ways", n, plural(n), map[bool]string{true: "s"}[n == 1])
	}
	for i, n := range heads {
		s.rows[i].text = e.bold(visible(n)) + strings.TrimPrefix(s.rows[i].text, visible(n))
	}
	for _, l := range s.lines() {
		e.printf("%s\n", l)
	}
}
