package job

import (
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"sort"
	"strings"
	"time"
)

// Dids lists what an entry may say was done.
func Dids() []string {
	return []string{DidBegin, DidClamp, DidUnclamp, DidFinish, DidUndo, DidAside, DidResume, DidNote, DidRead, DidBuy, DidUse, DidCut, DidSpoil, DidAir}
}

func isDid(v string) bool {
	for _, d := range Dids() {
		if d == v {
			return true
		}
	}
	return false
}

// readLog reads every entry of a job's log.
func (r *reader) readLog(j *Job) {
	dir := j.Dir + "/log"
	sc := r.jobScope()
	if j.Units != nil {
		sc.units.System = *j.Units
	}
	for _, m := range j.Measures {
		if m.Set {
			sc.vals[m.Name] = m.Length
		}
	}
	kept, names := r.cache.kept(j.ID, sc), map[string]bool{}
	for _, e := range r.folder(dir, false) {
		name := e.Name()
		if hidden(name) {
			continue
		}
		if e.Type()&fs.ModeSymlink != 0 {
			r.problem(dir+"/"+name, "put the file itself there; links are not followed", "a symbolic link")
			continue
		}
		if e.IsDir() || path.Ext(name) != ".md" {
			continue
		}
		names[name] = true
		fi := kept.stat(e)
		if en, ok := kept.get(name, fi); ok {
			j.Log = append(j.Log, en)
			continue
		}
		s := r.open(dir+"/"+name, true)
		if s == nil {
			continue
		}
		if en, ok := s.entry(sc); ok {
			j.Log = append(j.Log, en)
			kept.put(name, fi, en)
		}
	}
	kept.only(names)
	SortEntries(j.Log)
}

// SortEntries puts entries in order of time, then of file name, whatever
// machine wrote them.
func SortEntries(es []Entry) {
	sort.SliceStable(es, func(i, k int) bool {
		if !es[i].Time.Equal(es[k].Time) {
			return es[i].Time.Before(es[k].Time)
		}
		return es[i].ID < es[k].ID
	})
}

// ReadEntry reads one log entry on its own, in the units of a shop; errors are
// a Problems.
func ReadEntry(file string, data []byte, u Units, zone *time.Location) (Entry, error) {
	var ps Problems
	sc := &scope{units: u.Length, temp: u.Temp, money: u.Money, zone: zone}
	if zone == nil {
		sc.zone = time.UTC
	}
	e, _ := newSource(file, data, &ps).entry(sc)
	if len(ps) > 0 {
		return Entry{}, ps.sorted()
	}
	return e, nil
}

// frontMatter finds the text between the first `---` line and the next. line
// is how many lines stand above the text; body is the offset behind.
func frontMatter(data []byte) (text string, body int, ok bool) {
	s := string(data)
	at := 0
	if strings.HasPrefix(s, "\ufeff") {
		at = 3
	}
	next := func() (string, bool) {
		if at >= len(s) {
			return "", false
		}
		end := len(s)
		if i := strings.IndexByte(s[at:], '\n'); i >= 0 {
			end = at + i + 1
		}
		l := strings.TrimRight(s[at:end], "\r\n \t")
		at = end
		return l, true
	}
	if l, more := next(); !more || l != "---" {
		return "", 0, false
	}
	from := at
	for {
		here := at
		l, more := next()
		if !more {
			return "", 0, false
		}
		if l == "---" {
			return s[from:here], at, true
		}
	}
}

func (s *source) entry(sc *scope) (Entry, bool) {
	if !s.checkText(false) {
		return Entry{}, false
	}
	text, body, ok := frontMatter(s.data)
	if !ok {
		if s.line(1) == "---" {
			s.add(s.pos(1, 1), "---", "write a second line `---` between `did:` and the prose", "what stands between two lines `---` has no second one")
			return Entry{}, false
		}
		s.add(s.pos(1, 1), "", "begin with a line `---`, then `at:` and `did:`, then `---`, then the prose", "the log entry has no front matter")
		return Entry{}, false
	}
	before := len(*s.out)
	fm := &source{file: s.file, data: []byte(text), lines: strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n"), first: 1, out: s.out}
	if !fm.checkText(true) {
		return Entry{}, false
	}
	n := fm.parseYAML(fm.data)
	if n == nil {
		if len(*s.out) == before {
			s.add(s.pos(1, 1), "", "write `at:` and `did:` between the two `---` lines", "the front matter is empty")
		}
		return Entry{}, false
	}
	o := fm.mapping(n, "a log entry")
	if o == nil {
		return Entry{}, false
	}
	e := Entry{File: s.file, ID: strings.TrimSuffix(path.Base(s.file), ".md"), At: s.pos(1, 1)}
	if o.need("at", "write when, such as `at: 2026-03-14T19:05:00-06:00`") {
		e.Time = o.instant("at", sc.zone)
	} else {
		o.get("at")
	}
	if o.need("did", "one of: "+strings.Join(Dids(), ", ")) {
		e.Did = o.oneOf("did", Dids())
	} else {
		o.get("did")
	}
	e.Written = o.instant("written", sc.zone)
	e.Step = o.str("step")
	e.Entry = strings.TrimSuffix(o.str("entry"), ".md")
	e.Check = o.str("check")
	e.Value = o.dim("value", sc, anySign)
	for _, v := range o.list("five") {
		if d := fm.dim(v, "five", sc, positive); d.Set {
			e.Five = append(e.Five, d)
		}
	}
	if f := o.keys["five"]; f != nil && len(f.Content) != len(e.Five) && len(*s.out) == before {
		fm.add(fm.at(f), "", "", "a five-cut reading that does not read")
	}
	e.Air = o.temp("air", sc)
	clamps, named := o.counts("clamps", 0)
	e.Clamps = clamps
	e.Item = o.str("item")
	e.Qty = o.integer("qty", 0, 0, 1_000_000)
	e.Paid = o.money("paid", sc)
	e.Minutes = o.span("minutes")
	e.Private = o.boolean("private")
	e.Tap = o.str("tap")
	o.done()
	switch e.Did {
	case DidUndo:
		o.need("entry", "name the entry that is taken back: its file name without .md")
	case DidBegin, DidClamp, DidUnclamp, DidFinish, DidAside, DidResume:
		o.need("step", "name the step")
	case DidRead:
		o.need("check", "name the check")
	case DidBuy, DidUse, DidCut, DidSpoil:
		o.need("item", "name the item of the price book, or the part")
	case DidAir:
		o.need("air", "write the temperature, such as `air: 16 C`")
	}
	e.places = map[string]Pos{}
	for _, k := range []string{"step", "check", "item"} {
		if n := o.keys[k]; n != nil {
			e.places[k] = fm.at(n)
		}
	}
	for k, n := range named {
		e.places["clamps/"+k] = fm.at(n)
	}
	e.Machine = machineOfName(e.ID, e.Did)
	e.Text = strings.Trim(strings.ReplaceAll(string(s.data[body:]), "\r\n", "\n"), "\n")
	e.Pictures = pictures(e.Text, path.Dir(s.file))
	return e, len(*s.out) == before
}

var entryName = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}T\d{4,6}-(.+)$`)

// machineOfName reads the machine out of `2026-03-14T1905-shop-clamped-core`.
func machineOfName(id, did string) string {
	m := entryName.FindStringSubmatch(id)
	if m == nil {
		return ""
	}
	rest := m[1] + "-"
	if i := strings.Index(rest, "-"+did+"-"); i > 0 {
		return rest[:i]
	}
	return ""
}

// instant reads when something happened: RFC 3339, or a local date and time
// in the shop's zone when a person wrote it by hand.
func (o *obj) instant(key string, zone *time.Location) time.Time {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return time.Time{}
	}
	t, err := parseInstant(v, zone)
	if err != nil {
		o.s.add(o.s.at(n), v, "write it as 2026-03-14T19:05:00-06:00, or 2026-03-14 19:05 in the shop's own time", "%q is not a moment: %s", key, v)
		return time.Time{}
	}
	if y := t.Year(); y < 1900 || y > 2200 {
		o.s.add(o.s.at(n), v, "check the year", "%q is in the year %d", key, y)
		return time.Time{}
	}
	return t
}

func parseInstant(v string, zone *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, v); err == nil {
		return t, nil
	}
	for _, f := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04"} {
		if t, err := time.ParseInLocation(f, v, zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("not a moment")
}

var pictureLink = regexp.MustCompile(`!\[([^\]]*)\]\(\s*<?([^)\s>]+)>?(?:\s+"[^"]*")?\s*\)`)

// pictures finds the images of a Markdown text that lie inside the shop.
func pictures(text, dir string) []Picture {
	var out []Picture
	for _, m := range pictureLink.FindAllStringSubmatch(text, -1) {
		target := m[2]
		if strings.Contains(target, ":") || strings.HasPrefix(target, "/") || strings.Contains(target, "\\") {
			continue
		}
		p := path.Join(dir, target)
		if p == ".." || strings.HasPrefix(p, "../") {
			continue
		}
		out = append(out, Picture{File: p, Alt: m[1]})
	}
	return out
}
