package settle

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path"
	"strings"
)

// Settle puts two versions of one path together. base is the version both
// started from (absent if both added the path), a and b say who changed ours
// and theirs and when.
//
// Swapping the sides gives the same files and the same records. If only one
// side changed the path, its bytes are the outcome, also when it deleted it.
func Settle(path string, base, ours, theirs File, a, b Side, opts Options) Outcome {
	base, ours, theirs = base.tidy(), ours.tidy(), theirs.tidy()
	switch {
	case sameFile(ours, theirs), sameFile(theirs, base):
		return one(path, ours)
	case sameFile(ours, base):
		return one(path, theirs)
	}
	if swapSides(ours, theirs, a, b) {
		ours, theirs, a, b = theirs, ours, b, a
	}
	m := &settling{path: path, kind: KindValue, old: &voice{side: a}, new: &voice{side: b}, trees: map[string]*doc{}}
	if isRecord(path) {
		if out, ok := settleRecord(path, base, ours, theirs); ok {
			return out
		}
	}
	switch {
	case !ours.Exists || !theirs.Exists:
		return m.whole(base, ours, theirs, opts)
	case addsUp(path), !isText(ours.Data), !isText(theirs.Data):
		return m.keepBoth(ours, theirs)
	case !base.Exists && !byKeyFromNothing(path), base.Exists && !isText(base.Data):
		return m.whole(base, ours, theirs, opts)
	}
	if data, err := m.byMeaning(base, ours, theirs); err == nil && strictly(path, data, opts) == nil {
		return Outcome{Files: []Out{{Path: path, Data: data}}, BothWays: m.records, Notes: m.clashNotes()}
	}
	m.records, m.notes = nil, nil
	return m.whole(base, ours, theirs, opts)
}

func sameFile(a, b File) bool { return a.Exists == b.Exists && bytes.Equal(a.Data, b.Data) }

func one(path string, f File) Outcome { return Outcome{Files: []Out{outOf(path, f)}} }

func outOf(path string, f File) Out {
	if !f.Exists {
		return Out{Path: path, Deleted: true}
	}
	return Out{Path: path, Data: f.Data}
}

// addsUp tells whether a path is of those of which both versions are kept: log
// entries and photos.
func addsUp(p string) bool {
	s := strings.Split(p, "/")
	return len(s) >= 4 && s[0] == "jobs" && (s[2] == "log" && isMarkdown(p) || s[2] == "photos")
}

// byKeyFromNothing tells whether two files that were made apart under one name
// are put together all the same: the shop's own lists are; a job or a text is
// one piece of work, and two of them woven together would be neither.
func byKeyFromNothing(p string) bool { return isYAML(p) && !strings.Contains(p, "/") }

func isYAML(p string) bool {
	e := strings.ToLower(path.Ext(p))
	return e == ".yaml" || e == ".yml"
}

func isMarkdown(p string) bool {
	e := strings.ToLower(path.Ext(p))
	return e == ".md" || e == ".markdown"
}

func isText(data []byte) bool { _, _, ok := unframe(data); return ok }

// byMeaning puts two versions of a text file together.
func (m *settling) byMeaning(base, ours, theirs File) ([]byte, error) {
	var bs *string
	var fb frame
	if base.Exists {
		s, f, _ := unframe(base.Data)
		bs, fb = &s, f
	}
	o, fo, _ := unframe(ours.Data)
	t, ft, _ := unframe(theirs.Data)
	f := mergeFrame(fb, fo, ft)
	var s string
	var err error
	switch {
	case isYAML(m.path):
		s, err = m.mergeYAML(bs, &o, &t)
		if err == nil && f.open && endsInBlockScalar(s) {
			f.open = false // the line end is part of the value
		}
	case isMarkdown(m.path):
		s, err = m.mergeMarkdown(bs, o, t)
	default:
		s, err = m.mergeBody(bs, o, t, strings.ToLower(path.Ext(m.path)) != ".txt")
	}
	if err != nil {
		return nil, err
	}
	return f.wrap(s), nil
}

func endsInBlockScalar(s string) bool {
	d, err := readYAML(s)
	if err != nil {
		return true
	}
	n := d.root
	for len(n.ents) > 0 {
		n = n.ents[len(n.ents)-1].val
	}
	return n.block
}

// strictly reads a result again.
func strictly(path string, data []byte, opts Options) error {
	if isYAML(path) {
		s, _, ok := unframe(data)
		if !ok {
			return errUnsound
		}
		if _, err := readYAML(s); err != nil && !errors.Is(err, errShape) {
			return err
		}
	}
	if opts.Reread != nil {
		return opts.Reread(path, data)
	}
	return nil
}

// whole lets one version of the file stand and records the other: what is
// there before what was deleted, what can be read before what cannot, then
// the newer.
func (m *settling) whole(base, ours, theirs File, opts Options) Outcome {
	is := func(f File) func(File) bool { return func(g File) bool { return sameFile(f, g) } }
	stands := ours
	if m.clash(KindFile, "whole file", base, ours, theirs, is(ours), is(theirs)) {
		stands = theirs
	}
	r := &m.records[len(m.records)-1]
	if r.Other.Exists && strictly(m.path, r.Stands.Data, opts) != nil && strictly(m.path, r.Other.Data, opts) == nil {
		r.Stands, r.Other = r.Other, r.Stands
		stands = File{true, r.Stands.Data}
	}
	note := fmt.Sprintf("%s was changed on two machines in a way that cannot be put together; the version of %s stands, the other is kept in both-ways/", m.path, r.Stands.Machine)
	if !r.Other.Exists {
		note = fmt.Sprintf("%s was deleted on %s and changed on %s; it stays", m.path, r.Other.Machine, r.Stands.Machine)
	}
	return Outcome{Files: []Out{outOf(m.path, stands)}, BothWays: m.records, Notes: []string{note}}
}

// keepBoth keeps both versions, the newer under the path's own name.
func (m *settling) keepBoth(ours, theirs File) Outcome {
	is := func(f File) func(File) bool { return func(g File) bool { return sameFile(f, g) } }
	stands, other := ours, theirs
	if m.clash(KindFile, "", File{}, ours, theirs, is(ours), is(theirs)) {
		stands, other = theirs, ours
	}
	second := SecondName(m.path, other.Data)
	return Outcome{
		Files: []Out{{Path: m.path, Data: stands.Data}, {Path: second, Data: other.Data}},
		Notes: []string{fmt.Sprintf("%s was changed on two machines; both are kept, the second as %s", m.path, second)},
	}
}

// SecondName is the name under which the second of two versions is kept. It
// depends on the path and the bytes alone.
func SecondName(p string, data []byte) string {
	h := sha256.Sum256(data)
	ext := path.Ext(p)
	if strings.Contains(ext, "/") || ext == p[strings.LastIndex(p, "/")+1:] {
		ext = ""
	}
	return strings.TrimSuffix(p, ext) + "-" + hex.EncodeToString(h[:4]) + ext
}

func (m *settling) clashNotes() []string {
	out := m.notes
	for _, r := range m.records {
		if !r.Other.Exists {
			out = append(out, fmt.Sprintf("%s: %s was deleted on %s and changed on %s; it stays", r.Path, r.What, r.Other.Machine, r.Stands.Machine))
			continue
		}
		out = append(out, fmt.Sprintf("%s: %s was changed on %s and on %s; that of %s stands", r.Path, r.What, r.Stands.Machine, r.Other.Machine, r.Stands.Machine))
	}
	return out
}
