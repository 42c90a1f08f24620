package store

import (
	"bytes"
	"crypto/sha1"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"sort"
	"strconv"
	"strings"
	"time"
)

// Entry is one tracked file as git's index has it. Format: git's Documentation/gitformat-index.
type Entry struct {
	Path  string
	Hash  Hash
	Mode  Mode
	Stat  Stat
	Flags uint16 // assume-valid and stage; the name's length is worked out anew
	Ext   uint16 // skip-worktree, intent-to-add
}

// Stat is what tells an unchanged file from a changed one without reading it.
type Stat struct {
	CtimeS, CtimeN, MtimeS, MtimeN, Dev, Ino, UID, GID, Size uint32
}

const (
	flagAssume = 0x8000
	flagStage  = 0x3000
	flagExt    = 0x4000
	extSkip    = 0x4000
	extIntent  = 0x2000
)

// CacheTree keeps the names of folders whose entries have not changed since they were last written as trees.
type CacheTree struct {
	Count int // entries below; -1: must be built anew
	Hash  Hash
	Sub   map[string]*CacheTree
}

// Index is the list of tracked files.
type Index struct {
	Entries []Entry // sorted by path
	Tree    *CacheTree
	Written time.Time // the index file's own time; zero: no file yet
	raw     os.FileInfo
}

func indexErr(path, what string) error {
	return &Error{ErrDamaged, path, "delete the file and sync again: caul makes it anew from the last commit", errors.New(what)}
}

func splitErr(path string) error {
	return &Error{ErrUnhandled, path, "run: git update-index --no-split-index", errors.New("the index is split")}
}

// ReadIndex reads the index; a missing file is an empty index.
func ReadIndex(path string) (*Index, error) {
	fi, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return &Index{Tree: &CacheTree{Count: -1}}, nil
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, Name(err, path)
	}
	x, err := parseIndex(data, path)
	if err != nil {
		return nil, err
	}
	x.Written, x.raw = fi.ModTime(), fi
	return x, nil
}

func parseIndex(data []byte, path string) (*Index, error) {
	be := binary.BigEndian
	if len(data) < 12+20 || string(data[:4]) != "DIRC" {
		return nil, indexErr(path, "not an index")
	}
	sum := data[len(data)-20:]
	if got := sha1.Sum(data[:len(data)-20]); !bytes.Equal(got[:], sum) && !bytes.Equal(sum, make([]byte, 20)) {
		return nil, indexErr(path, "checksum is wrong")
	}
	version := be.Uint32(data[4:])
	if version < 2 || version > 4 {
		return nil, &Error{ErrUnhandled, path, "run: git update-index --index-version 2", fmt.Errorf("index version %d", version)}
	}
	n := int(be.Uint32(data[8:]))
	data = data[:len(data)-20]
	if n < 0 || n > len(data)/62+1 {
		return nil, indexErr(path, "count is wrong")
	}
	text := string(data) // paths are cut from here, without a copy each
	x := &Index{Entries: make([]Entry, n)}
	at := 12
	last := ""
	for i := range x.Entries {
		if at+62 > len(data) {
			return nil, indexErr(path, "cut short")
		}
		e := &x.Entries[i]
		b := data[at:]
		e.Stat = Stat{be.Uint32(b), be.Uint32(b[4:]), be.Uint32(b[8:]), be.Uint32(b[12:]), be.Uint32(b[16:]), be.Uint32(b[20:]),
			be.Uint32(b[28:]), be.Uint32(b[32:]), be.Uint32(b[36:])}
		e.Mode = Mode(be.Uint32(b[24:]))
		copy(e.Hash[:], b[40:60])
		fl := be.Uint16(b[60:])
		e.Flags = fl & (flagAssume | flagStage)
		start := at
		at += 62
		if fl&flagExt != 0 {
			if version < 3 || at+2 > len(data) {
				return nil, indexErr(path, "bad flags")
			}
			e.Ext = be.Uint16(data[at:])
			at += 2
		}
		if version == 4 {
			strip, k := binaryVarint(data[at:])
			if k == 0 || strip > len(last) {
				return nil, indexErr(path, "bad path")
			}
			at += k
			z := strings.IndexByte(text[at:], 0)
			if z < 0 {
				return nil, indexErr(path, "bad path")
			}
			e.Path = last[:len(last)-strip] + text[at:at+z]
			at += z + 1
		} else {
			z := strings.IndexByte(text[at:], 0)
			if z < 0 {
				return nil, indexErr(path, "bad path")
			}
			e.Path = text[at : at+z]
			at += z
			at = start + (at-start+8)/8*8
		}
		if e.Path == "" { // how a split index marks an entry of its shared part
			return nil, splitErr(path)
		}
		if i > 0 && (e.Path < last || e.Path == last && e.Flags&flagStage == 0) {
			return nil, indexErr(path, "paths out of order at "+e.Path)
		}
		last = e.Path
	}
	x.Tree = &CacheTree{Count: -1}
	for at+8 <= len(data) {
		sig, size := text[at:at+4], int(be.Uint32(data[at+4:]))
		at += 8
		if size < 0 || at+size > len(data) {
			return nil, indexErr(path, "extension cut short")
		}
		switch {
		case sig == "TREE":
			if t, rest, ok := parseCacheTree(data[at:at+size], 0); ok && len(rest) == 0 {
				x.Tree = t
			}
		case sig == "link":
			return nil, splitErr(path)
		case sig == "sdir":
			return nil, &Error{ErrUnhandled, path, "run: git sparse-checkout disable", errors.New("the index is sparse")}
		case sig[0] < 'A' || sig[0] > 'Z':
			return nil, &Error{ErrUnhandled, path, "run: git update-index --index-version 2", fmt.Errorf("index extension %q", sig)}
		}
		at += size
	}
	return x, nil
}

// binaryVarint reads the offset encoding that packs and index version 4 use.
func binaryVarint(b []byte) (int, int) {
	if len(b) == 0 {
		return 0, 0
	}
	v := int(b[0] & 0x7f)
	i := 1
	for b[i-1]&0x80 != 0 {
		if i >= len(b) || i > 4 {
			return 0, 0
		}
		v = (v+1)<<7 | int(b[i]&0x7f)
		i++
	}
	return v, i
}

func parseCacheTree(b []byte, depth int) (*CacheTree, []byte, bool) {
	// name NUL count SP subtrees LF [hash]; the caller has taken the name
	if depth == 0 {
		if len(b) == 0 || b[0] != 0 {
			return nil, nil, false
		}
		b = b[1:]
	}
	nl := bytes.IndexByte(b, '\n')
	if nl < 0 || depth > 200 {
		return nil, nil, false
	}
	cs, ss, ok := strings.Cut(string(b[:nl]), " ")
	count, err1 := strconv.Atoi(cs)
	subs, err2 := strconv.Atoi(ss)
	b = b[nl+1:]
	if !ok || err1 != nil || err2 != nil || subs < 0 || subs > len(b) {
		return nil, nil, false
	}
	t := &CacheTree{Count: count}
	if count >= 0 {
		if len(b) < 20 {
			return nil, nil, false
		}
		copy(t.Hash[:], b)
		b = b[20:]
	}
	if subs > 0 {
		t.Sub = make(map[string]*CacheTree, subs)
	}
	for range subs {
		z := bytes.IndexByte(b, 0)
		if z < 0 {
			return nil, nil, false
		}
		name := string(b[:z])
		var c *CacheTree
		if c, b, ok = parseCacheTree(b[z+1:], depth+1); !ok {
			return nil, nil, false
		}
		t.Sub[name] = c
	}
	return t, b, true
}

func (t *CacheTree) encode(b *bytes.Buffer, name string) {
	b.WriteString(name)
	b.WriteByte(0)
	fmt.Fprintf(b, "%d %d\n", t.Count, len(t.Sub))
	if t.Count >= 0 {
		b.Write(t.Hash[:])
	}
	names := make([]string, 0, len(t.Sub))
	for n := range t.Sub {
		names = append(names, n)
	}
	sort.Slice(names, func(i, j int) bool { // git's order: by length, then by bytes
		if len(names[i]) != len(names[j]) {
			return len(names[i]) < len(names[j])
		}
		return names[i] < names[j]
	})
	for _, n := range names {
		t.Sub[n].encode(b, n)
	}
}

// touch marks the folders above a path as changed.
func (t *CacheTree) touch(path string) {
	for t != nil {
		t.Count = -1
		name, rest, ok := strings.Cut(path, "/")
		if !ok {
			return
		}
		path = rest
		t = t.Sub[name]
	}
}

// encode writes the index as version 2, or 3 when an entry needs it.
func (x *Index) encode() []byte {
	be := binary.BigEndian
	version := uint32(2)
	for i := range x.Entries {
		if x.Entries[i].Ext != 0 {
			version = 3
			break
		}
	}
	b := make([]byte, 0, 12+len(x.Entries)*112)
	b = append(b, "DIRC"...)
	b = be.AppendUint32(b, version)
	b = be.AppendUint32(b, uint32(len(x.Entries)))
	for i := range x.Entries {
		e := &x.Entries[i]
		start := len(b)
		s := &e.Stat
		for _, v := range [...]uint32{s.CtimeS, s.CtimeN, s.MtimeS, s.MtimeN, s.Dev, s.Ino, uint32(e.Mode), s.UID, s.GID, s.Size} {
			b = be.AppendUint32(b, v)
		}
		b = append(b, e.Hash[:]...)
		fl := e.Flags | uint16(min(len(e.Path), 0xfff))
		if e.Ext != 0 {
			fl |= flagExt
		}
		b = be.AppendUint16(b, fl)
		if e.Ext != 0 {
			b = be.AppendUint16(b, e.Ext)
		}
		b = append(b, e.Path...)
		pad := start + (len(b)-start+8)/8*8 - len(b)
		b = append(b, "\x00\x00\x00\x00\x00\x00\x00\x00"[:pad]...)
	}
	if x.Tree != nil && (x.Tree.Count >= 0 || len(x.Tree.Sub) > 0) {
		var t bytes.Buffer
		x.Tree.encode(&t, "")
		b = append(b, "TREE"...)
		b = be.AppendUint32(b, uint32(t.Len()))
		b = append(b, t.Bytes()...)
	}
	s := sha1.Sum(b)
	return append(b, s[:]...)
}

// lookup finds a path's place in the index.
func (x *Index) lookup(path string) (int, bool) {
	i := sort.Search(len(x.Entries), func(i int) bool { return x.Entries[i].Path >= path })
	return i, i < len(x.Entries) && x.Entries[i].Path == path
}

// Unmerged tells whether git left a merge unfinished in the index.
func (x *Index) Unmerged() bool {
	for i := range x.Entries {
		if x.Entries[i].Flags&flagStage != 0 {
			return true
		}
	}
	return false
}
