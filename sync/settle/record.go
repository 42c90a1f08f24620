package settle

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// RecordFolder is where records are kept in a shop.
const RecordFolder = "both-ways"

func isRecord(path string) bool {
	return strings.HasPrefix(path, RecordFolder+"/") && isMarkdown(path)
}

// Name is the record's file. It depends only on the place and the value that
// does not stand: the same clash settled on several machines gives one file.
func (r Record) Name() string {
	h := sha256.New()
	for _, s := range []string{r.Path, string(r.Kind), r.What, r.Other.Machine, stampText(r.Other.When), strconv.FormatBool(r.Other.Exists), string(r.Other.Data)} {
		fmt.Fprintf(h, "%d:%s\n", len(s), s)
	}
	slug := strings.Trim(notWord.ReplaceAllString(strings.ToLower(strings.TrimPrefix(r.Path, "jobs/")+" "+r.What), "-"), "-")
	if len(slug) > 60 {
		slug = strings.Trim(slug[:60], "-")
	}
	return RecordFolder + "/" + slug + "-" + hex.EncodeToString(h.Sum(nil)[:6]) + ".md"
}

var notWord = regexp.MustCompile(`[^a-z0-9]+`)

func stampText(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// Marshal writes the record as a readable file. Equal records give equal bytes.
func (r Record) Marshal() []byte {
	var w bytes.Buffer
	w.WriteString("---\n")
	put := func(k, v string) { w.WriteString(k + ": " + quoteField(v) + "\n") }
	put("path", r.Path)
	put("kind", string(r.Kind))
	put("what", r.What)
	put("stands", r.Stands.Machine)
	put("stands-at", stampText(r.Stands.When))
	put("other", r.Other.Machine)
	put("other-at", stampText(r.Other.When))
	w.WriteString("---\n" + recordIntro)
	section := func(title string, exists bool, data []byte) {
		w.WriteString("\n## " + title + "\n\n")
		if !exists {
			w.WriteString(nothingLine)
			return
		}
		writeFence(&w, data)
	}
	section("Stands in the file", r.Stands.Exists, r.Stands.Data)
	section("The other value", r.Other.Exists, r.Other.Data)
	section("Before both", r.Base.Exists, r.Base.Data)
	return w.Bytes()
}

const (
	recordIntro = "Two machines changed this differently. One value stands in the file; the\nother is kept here until someone settles it.\n"
	nothingLine = "(nothing)\n"
)

// writeFence writes bytes so that they come back exactly: as text in a fence
// longer than any in it, or, if they are no plain text, in base64. The words
// `open` and `crlf` say that the last line has no end, and that the line ends
// are those of the other system.
func writeFence(w *bytes.Buffer, data []byte) {
	raw := data
	n := bytes.Count(data, []byte("\r\n"))
	crlf := n > 0 && n == bytes.Count(data, []byte("\n"))
	if crlf {
		data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	}
	if !plainText(data) {
		w.WriteString("```base64\n")
		s := base64.StdEncoding.EncodeToString(raw)
		for len(s) > 76 {
			w.WriteString(s[:76] + "\n")
			s = s[76:]
		}
		if s != "" {
			w.WriteString(s + "\n")
		}
		w.WriteString("```\n")
		return
	}
	fence := "```"
	for bytes.Contains(data, []byte(fence)) {
		fence += "`"
	}
	info := "text"
	open := !bytes.HasSuffix(data, []byte("\n"))
	if open {
		info += " open"
	}
	if crlf {
		info += " crlf"
	}
	w.WriteString(fence + info + "\n")
	w.Write(data)
	if open {
		w.WriteString("\n")
	}
	w.WriteString(fence + "\n")
}

func plainText(data []byte) bool {
	if !utf8.Valid(data) {
		return false
	}
	for _, c := range string(data) {
		if c < ' ' && c != '\n' && c != '\t' || c == 0x7f || c == '\ufeff' || c == '\u0085' || c == '\u2028' || c == '\u2029' {
			return false
		}
	}
	return true
}

var plainField = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9 _/.,\[\]"()-]*[A-Za-z0-9_/.\])"]$|^[0-9]{4}-[0-9-]{5}T[0-9:.]{8,18}Z$`)

func quoteField(s string) string {
	switch strings.ToLower(s) {
	case "true", "false", "yes", "no", "on", "off", "null":
		return strconv.Quote(s)
	}
	if plainField.MatchString(s) {
		return s
	}
	return strconv.Quote(s)
}

// ParseRecord reads a record as strictly as it is written: what Marshal would
// not write is an error, with file:line:col.
func ParseRecord(name string, data []byte) (Record, error) {
	var r Record
	p := &recordReader{name: name, s: string(data), line: 1}
	p.want("---\n")
	r.Path = p.field("path")
	r.Kind = Kind(p.field("kind"))
	r.What = p.field("what")
	r.Stands.Machine = p.field("stands")
	r.Stands.When = p.time("stands-at")
	r.Other.Machine = p.field("other")
	r.Other.When = p.time("other-at")
	p.want("---\n" + recordIntro + "\n## Stands in the file\n\n")
	r.Stands.Exists, r.Stands.Data = p.fence()
	p.want("\n## The other value\n\n")
	r.Other.Exists, r.Other.Data = p.fence()
	p.want("\n## Before both\n\n")
	r.Base.Exists, r.Base.Data = p.fence()
	switch {
	case p.err != nil:
		return Record{}, p.err
	case r.Kind != KindValue && r.Kind != KindFront && r.Kind != KindPassage && r.Kind != KindFile:
		p.line = 3
		p.fail("%q is no kind of record; restore the file from an earlier commit", r.Kind)
	case p.s != "" || !bytes.Equal(r.Marshal(), data):
		p.fail("not as a record is written; restore the file from an earlier commit")
	}
	if p.err != nil {
		return Record{}, p.err
	}
	return r, nil
}

type recordReader struct {
	name, s string
	line    int
	err     error
}

func (p *recordReader) fail(format string, args ...any) {
	if p.err == nil {
		p.err = fmt.Errorf("%s:%d:1: "+format, append([]any{p.name, p.line}, args...)...)
	}
}

func (p *recordReader) take() string {
	l, rest, ok := strings.Cut(p.s, "\n")
	if !ok {
		p.fail("the record ends too soon; restore the file from an earlier commit")
		return ""
	}
	p.s = rest
	p.line++
	return l
}

func (p *recordReader) want(s string) {
	for _, l := range strings.Split(strings.TrimSuffix(s, "\n"), "\n") {
		if p.err != nil {
			return
		}
		if got := p.take(); got != l && p.err == nil {
			p.line--
			p.fail("%q where %q should be; restore the file from an earlier commit", got, l)
		}
	}
}

func (p *recordReader) field(key string) string {
	l := p.take()
	if p.err != nil {
		return ""
	}
	v, ok := strings.CutPrefix(l, key+": ")
	if ok && strings.HasPrefix(v, `"`) {
		u, err := strconv.Unquote(v)
		v, ok = u, err == nil
	}
	if !ok {
		p.line--
		p.fail("%q where `%s: …` should be; restore the file from an earlier commit", l, key)
	}
	return v
}

func (p *recordReader) time(key string) time.Time {
	v := p.field(key)
	t, err := time.Parse(time.RFC3339Nano, v)
	if err != nil && p.err == nil {
		p.line--
		p.fail("%q is no time; restore the file from an earlier commit", v)
	}
	return t
}

func (p *recordReader) fence() (bool, []byte) {
	l := p.take()
	if l+"\n" == nothingLine || p.err != nil {
		return false, nil
	}
	info := strings.TrimLeft(l, "`")
	fence := l[:len(l)-len(info)]
	text, crlf := strings.CutSuffix(info, " crlf")
	if len(fence) < 3 || text != "text" && text != "text open" && info != "base64" {
		p.line--
		p.fail("%q where a fenced value should be; restore the file from an earlier commit", l)
		return false, nil
	}
	var w bytes.Buffer
	for {
		l := p.take()
		if p.err != nil {
			return false, nil
		}
		if l == fence {
			break
		}
		w.WriteString(l + "\n")
	}
	data := w.Bytes()
	if text == "text open" {
		data = bytes.TrimSuffix(data, []byte("\n"))
	}
	if crlf {
		data = bytes.ReplaceAll(data, []byte("\n"), []byte("\r\n"))
	}
	if info == "base64" {
		d, err := base64.StdEncoding.DecodeString(w.String())
		if err != nil {
			p.fail("damaged base64; restore the file from an earlier commit")
		}
		data = d
	}
	if data == nil {
		data = []byte{}
	}
	return true, data
}

// settleRecord settles a record's own file. A record that was settled (its
// file deleted) on one machine is settled. Two records of one name keep the
// same value; the one that saw the later standing value holds.
func settleRecord(path string, base, ours, theirs File) (Outcome, bool) {
	if !ours.Exists || !theirs.Exists {
		return Outcome{Files: []Out{{Path: path, Deleted: true}}}, base.Exists
	}
	a, errA := ParseRecord(path, ours.Data)
	b, errB := ParseRecord(path, theirs.Data)
	switch {
	case errA != nil && errB != nil:
		return Outcome{}, false
	case errA != nil:
		return one(path, theirs), true
	case errB != nil:
		return one(path, ours), true
	}
	sa, sb := stamp{a.Stands.Machine, a.Stands.When}, stamp{b.Stands.Machine, b.Stands.When}
	if sa.less(sb) || !sb.less(sa) && bytes.Compare(ours.Data, theirs.Data) < 0 {
		return one(path, theirs), true
	}
	return one(path, ours), true
}
