package job

import (
	"regexp"
	"strings"
	"unicode/utf8"
)

var (
	headingLine = regexp.MustCompile(`^ {0,3}(#{1,6})(?:[ \t]+(.*?))?(?:[ \t]+#+)?[ \t]*$`)
	taskLine    = regexp.MustCompile(`^[ \t>]*(?:[-*+]|\d{1,9}[.)])[ \t]+\[([ xX])\][ \t]+(.*)$`)
	fenceLine   = regexp.MustCompile("^ {0,3}(```+|~~~+)(.*)$")
	headingID   = regexp.MustCompile(`\s*\{#([^}\s]+)\}\s*$`)
	setextLine  = regexp.MustCompile(`^ {0,3}(=+|-+)[ \t]*$`)
)

// ReadBuild reads build.md: sections by heading, and the task items in them. A
// heading belongs to a step when it is the step's id or its name, or ends in
// `{#id}`; deeper headings below it belong to the same step. Code blocks hold
// no headings and no tasks. Any text is taken; nothing in it is an error.
func ReadBuild(file string, data []byte, steps []Step) Build {
	b := Build{File: file, Data: data}
	byWord := map[string]string{}
	for _, s := range steps {
		byWord[plainWord(s.Name)] = s.ID
	}
	for _, s := range steps {
		byWord[plainWord(s.ID)] = s.ID
	}
	cur := Section{At: Pos{File: file, Line: 1, Col: 1}}
	bodyFrom := 0
	stepLevel, stepID := 0, ""
	fence := ""
	comment := false
	text := string(data)
	start := 0
	if strings.HasPrefix(text, "\ufeff") {
		start, bodyFrom = 3, 3
	}
	closeSection := func(at int) {
		cur.Body = strings.Trim(text[bodyFrom:at], "\r\n")
		if cur.Level > 0 || strings.TrimSpace(cur.Body) != "" {
			b.Sections = append(b.Sections, cur)
		}
	}
	open := func(heading string, level, line, end int) {
		id := ""
		if m := headingID.FindStringSubmatch(heading); m != nil {
			heading = strings.TrimSuffix(heading, m[0])
			id = byWord[plainWord(m[1])]
		}
		if id == "" {
			id = byWord[plainWord(strings.Trim(heading, "*_` "))]
		}
		if id != "" {
			stepID, stepLevel = id, level
		} else if level <= stepLevel {
			stepID, stepLevel = "", 0
		}
		cur = Section{Heading: heading, Level: level, Step: stepID, At: Pos{File: file, Line: line, Col: 1}}
		bodyFrom = end
	}
	prev, prevAt, prevOK := "", 0, false // the line above, for underlined headings
	for line := 1; start < len(text); line++ {
		end := len(text)
		if i := strings.IndexByte(text[start:], '\n'); i >= 0 {
			end = start + i + 1
		}
		l := strings.TrimRight(text[start:end], "\r\n")
		at := start
		start = end
		if comment {
			comment = !strings.Contains(l, "-->")
			prevOK = false
			continue
		}
		if fence != "" {
			if m := fenceLine.FindStringSubmatch(l); m != nil && m[1][0] == fence[0] && len(m[1]) >= len(fence) && strings.TrimSpace(m[2]) == "" {
				fence = ""
			}
			prevOK = false
			continue
		}
		if m := fenceLine.FindStringSubmatch(l); m != nil && (m[1][0] == '~' || !strings.Contains(m[2], "`")) {
			fence = m[1]
			prevOK = false
			continue
		}
		if t := strings.TrimLeft(l, " "); strings.HasPrefix(t, "<!--") && len(l)-len(t) < 4 {
			comment = !strings.Contains(t[4:], "-->")
			prevOK = false
			continue
		}
		if m := headingLine.FindStringSubmatch(l); m != nil {
			closeSection(at)
			open(strings.TrimSpace(m[2]), len(m[1]), line, end)
			prevOK = false
			continue
		}
		if m := setextLine.FindStringSubmatch(l); m != nil && prevOK {
			closeSection(prevAt)
			level := 1
			if m[1][0] == '-' {
				level = 2
			}
			open(prev, level, line-1, end)
			prevOK = false
			continue
		}
		if m := taskLine.FindStringSubmatchIndex(l); m != nil {
			cur.Tasks = append(cur.Tasks, Task{
				Text: strings.TrimSpace(l[m[4]:m[5]]), Done: l[m[2]] != ' ', Byte: at + m[2],
				At: Pos{File: file, Line: line, Col: utf8.RuneCountInString(l[:m[2]]) + 1},
			})
			prevOK = false
			continue
		}
		t := strings.TrimSpace(l)
		// only a lone line of plain text above can be an underlined heading
		above := prev == "" || !prevOK
		prevOK = t != "" && above && !strings.HasPrefix(l, "    ") && !strings.HasPrefix(l, "\t") && !strings.ContainsAny(t[:1], "-*+>|<")
		if t != "" && !above {
			prevOK = false
		}
		prev, prevAt = t, at
	}
	closeSection(len(text))
	return b
}

// StepSections gives the sections of one step, in order.
func (b Build) StepSections(step string) []Section {
	var out []Section
	for _, s := range b.Sections {
		if s.Step == step && step != "" {
			out = append(out, s)
		}
	}
	return out
}

// Tasks gives every task item of the build, in order.
func (b Build) Tasks() []Task {
	var out []Task
	for _, s := range b.Sections {
		out = append(out, s.Tasks...)
	}
	return out
}
