package settle

import (
	"fmt"
	"strings"
)

// Take puts one of a record's two values into the file as it is now, changing
// only the bytes of that value. The record itself is left to the caller, who
// deletes it once the file is written. If the place is not found, or the file
// has since been changed there in a way that does not let the value be told
// apart, the error says what to do by hand.
func Take(r Record, which Which, current File) (File, error) {
	from, to := r.Stands, r.Other
	if which == TakeStands {
		from, to = to, from
	}
	if r.Kind == KindFile {
		return takeFile(r, from, to, current)
	}
	if !current.Exists {
		return File{}, fmt.Errorf("%s is no longer there; restore it from an earlier commit, or delete the record", r.Path)
	}
	s, f, ok := unframe(current.Data)
	if !ok {
		return File{}, fmt.Errorf("%s is not readable as text; put the value in by hand", r.Path)
	}
	var err error
	switch r.Kind {
	case KindPassage:
		s, err = takePassage(r, from, to, s)
	case KindFront:
		p := splitFront(s)
		if !p.has {
			return File{}, fmt.Errorf("%s has no front matter any more; put the value in by hand", r.Path)
		}
		if p.front, err = takeValue(r, from, to, p.front); err == nil {
			s = p.open + p.front + p.shut + p.body
		}
	default:
		s, err = takeValue(r, from, to, s)
	}
	if err != nil {
		return File{}, err
	}
	return File{true, f.wrap(s)}, nil
}

func takeFile(r Record, from, to Value, current File) (File, error) {
	is := func(v Value) bool { return sameFile(File{v.Exists, v.Data}, current) }
	if !is(from) && !is(to) {
		return File{}, fmt.Errorf("%s was changed since the two versions met; taking the other whole would undo that; put it in by hand from the record", r.Path)
	}
	return File{to.Exists, to.Data}, nil
}

// takePassage replaces a passage by its wording.
func takePassage(r Record, from, to Value, s string) (string, error) {
	i, j, n := findLines(s, string(from.Data))
	if !from.Exists || n == 0 {
		if _, _, there := findLines(s, string(to.Data)); to.Exists && there > 0 {
			return s, nil
		}
	}
	switch {
	case from.Exists && n == 0:
		return "", fmt.Errorf("%s: the passage is no longer there as it stood (%s); put the other in by hand from the record", r.Path, r.What)
	case n > 1:
		return "", fmt.Errorf("%s: the passage is there %d times (%s); put the other in by hand from the record", r.Path, n, r.What)
	case !from.Exists && !to.Exists:
		return s, nil
	case !from.Exists: // it was deleted: back at the end, where it is seen
		if s != "" && !strings.HasSuffix(s, "\n\n") && !strings.HasPrefix(string(to.Data), "#") {
			s += "\n"
		}
		return s + string(to.Data) + "\n", nil
	case !to.Exists:
		return s[:i] + s[j:], nil
	}
	old := s[i:j]
	pad := old[:len(old)-len(strings.TrimLeft(old, " \t"))]
	put := string(to.Data)
	if strings.HasPrefix(put, "#") && pad != "" { // a comment keeps its column
		put = pad + strings.ReplaceAll(put, "\n", "\n"+pad)
	}
	if at := tickAt(old); at >= 0 {
		if bt := tickAt(put); bt >= 0 { // the tick stays as it is now
			put = put[:bt] + old[at:at+1] + put[bt+1:]
		}
	}
	if k := strings.Index(old, string(from.Data)); k >= 0 && pad == "" {
		return s[:i] + strings.Replace(old, string(from.Data), put, 1) + s[j:], nil
	}
	return s[:i] + put + "\n" + s[j:], nil
}

func tickAt(s string) int {
	m := itemLine.FindString(s)
	if t := tickMark.FindString(s[len(m):]); m != "" && t != "" {
		return len(m) + 1
	}
	return -1
}

// findLines finds whole lines by their wording: indentation and a task's tick
// do not count. It returns the bytes of the last place and how many there are.
// Comments that stand behind a value are found as the end of its line.
func findLines(s, want string) (start, end, n int) {
	if want == "" {
		return 0, 0, 0
	}
	norm := func(l string) string {
		if at := tickAt(l); at >= 0 {
			l = l[:at] + " " + l[at+1:]
		}
		return strings.TrimSpace(l)
	}
	ws := strings.Split(want, "\n")
	ls := strings.SplitAfter(s, "\n")
	at := 0
next:
	for i := range ls {
		begin := at
		at += len(ls[i])
		if i+len(ws) > len(ls) {
			continue
		}
		stop := begin
		for k, w := range ws {
			l := ls[i+k]
			stop += len(l)
			if norm(l) == norm(w) {
				continue
			}
			if c := commentStart(l); len(ws) == 1 && strings.HasPrefix(w, "#") && c >= 0 && strings.TrimSpace(l[c:]) == w {
				begin += c
				stop = begin + len(w)
				continue
			}
			continue next
		}
		start, end, n = begin, stop, n+1
	}
	return start, end, n
}
