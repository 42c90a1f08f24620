package store

import (
	"context"
	"errors"
	"os"
	"sort"
	"strings"
	"time"
)

// Shot is the state of the working files at one look.
type Shot struct {
	Index   *Index
	Tree    Hash
	Edited  map[string]time.Time // when each changed file was last written, by the disk
	Notes   []string             // what was left out and why
	Present int                  // tracked files found
	Stamped bool                 // the index learned something worth saving
}

// slack is the coarsest step of a disk's clock: a file written so short before the look may change again unseen.
func slack(mtimeN uint32) time.Duration {
	if mtimeN == 0 { // a disk that keeps whole seconds; vfat keeps two
		return 2100 * time.Millisecond
	}
	return 25 * time.Millisecond
}

// Snapshot looks over the working files, takes what changed into the batch and gives the tree they make.
func (r *Repo) Snapshot(ctx context.Context, x *Index, b *Batch) (*Shot, error) {
	start := time.Now()
	w, err := r.walk(x)
	if err != nil {
		return nil, err
	}
	s := &Shot{Index: x, Edited: map[string]time.Time{}, Present: w.present}
	for _, n := range w.nested {
		s.Notes = append(s.Notes, n+": left out, it is a repository of its own")
	}
	for _, n := range w.odd {
		s.Notes = append(s.Notes, n+": left out, it is neither a file nor a link")
	}
	for _, n := range w.unread {
		s.Notes = append(s.Notes, n+": left as it was, the folder may not be read")
	}
	var fresh []Entry
	drop := map[int]bool{}
	for _, i := range w.gone {
		drop[i] = true
		x.Tree.touch(x.Entries[i].Path)
	}
	for _, f := range w.maybe {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if why := unsafeName(f.path); why != "" && f.at < 0 {
			s.Notes = append(s.Notes, f.path+": left out, "+why)
			continue
		}
		if why := Awkward(f.path); why != "" && f.at < 0 {
			s.Notes = append(s.Notes, f.path+": a Windows machine, or a shop that lies on a stick, cannot hold this name; it "+why)
		}
		data, err := readNode(r.path(f.path), f.node.mode)
		if err != nil {
			if errors.Is(err, os.ErrNotExist) || errors.Is(err, errChanged) {
				// It went or became something else between the two looks: the next sync sees it.
				continue
			}
			if errors.Is(err, os.ErrPermission) {
				s.Notes = append(s.Notes, f.path+": left as it was, it may not be read")
				continue
			}
			return nil, Name(err, r.path(f.path))
		}
		var h Hash
		if f.at >= 0 {
			h = HashOf(Blob, data)
		}
		mode := f.node.mode
		if f.at >= 0 && r.sameMode(x.Entries[f.at].Mode, mode) {
			mode = x.Entries[f.at].Mode
		} else if !r.cfg.fileMode && mode.IsFile() {
			mode = ModeFile
		}
		if f.at < 0 || h != x.Entries[f.at].Hash || x.Entries[f.at].Ext&extIntent != 0 {
			if b.hashOnly {
				h = HashOf(Blob, data)
			} else if h, err = b.Add(Blob, data); err != nil {
				return nil, err
			}
		}
		st := f.node.stat
		m := time.Unix(int64(st.MtimeS), int64(st.MtimeN))
		if !m.Before(start.Add(-slack(st.MtimeN))) {
			st.Size = 0 // git's sign for "look at the content next time"
		}
		e := Entry{Path: f.path, Hash: h, Mode: mode, Stat: st}
		s.Stamped = true
		if f.at >= 0 {
			old := &x.Entries[f.at]
			if old.Hash != h || old.Mode != mode || old.Ext != 0 {
				x.Tree.touch(f.path)
				s.Edited[f.path] = m
			}
			*old = e
			continue
		}
		x.Tree.touch(f.path)
		s.Edited[f.path] = m
		fresh = append(fresh, e)
	}
	if len(drop) > 0 || len(fresh) > 0 {
		s.Stamped = true
		x.replace(drop, fresh)
	}
	if s.Tree, err = x.WriteTree(b); err != nil {
		return nil, err
	}
	return s, nil
}

// replace takes entries out and puts new ones in.
func (x *Index) replace(drop map[int]bool, fresh []Entry) {
	sort.Slice(fresh, func(i, j int) bool { return fresh[i].Path < fresh[j].Path })
	out := make([]Entry, 0, len(x.Entries)-len(drop)+len(fresh))
	for i := range x.Entries {
		for len(fresh) > 0 && fresh[0].Path < x.Entries[i].Path {
			out = append(out, fresh[0])
			fresh = fresh[1:]
		}
		if !drop[i] {
			out = append(out, x.Entries[i])
		}
	}
	x.Entries = append(out, fresh...)
}

var errChanged = errors.New("changed while it was read")

// readNode reads a file's content or a link's target.
func readNode(path string, m Mode) ([]byte, error) {
	if m == ModeLink {
		t, err := os.Readlink(path)
		return []byte(t), err
	}
	f, err := openPlain(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	fi, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if !fi.Mode().IsRegular() {
		return nil, errChanged
	}
	if fi.Size() > maxObject {
		return nil, &Error{ErrUnhandled, path, "move it out of the shop: files over 2 GB are not kept", nil}
	}
	buf := make([]byte, fi.Size()+1)
	n := 0
	for {
		k, err := f.Read(buf[n:])
		n += k
		if err != nil {
			if errors.Is(err, errEOF) {
				return buf[:n:n], nil
			}
			return nil, err
		}
		if n == len(buf) {
			buf = append(buf, make([]byte, len(buf))...)
		}
	}
}

// WriteTree makes the trees of the index and returns the root. Folders that the cache tree vouches for are not looked into.
func (x *Index) WriteTree(b *Batch) (Hash, error) {
	if x.Tree == nil {
		x.Tree = &CacheTree{Count: -1}
	}
	return x.writeTree(b, x.Tree, 0, 0, len(x.Entries))
}

func (x *Index) writeTree(b *Batch, t *CacheTree, cut, lo, hi int) (Hash, error) {
	if t.Count == hi-lo && t.Count >= 0 && (hi > lo || cut == 0) && !t.Hash.IsZero() {
		return t.Hash, nil
	}
	var es []TreeEntry
	subs := map[string]*CacheTree{}
	last := ""
	for i := lo; i < hi; {
		e := &x.Entries[i]
		name, _, deeper := strings.Cut(e.Path[cut:], "/")
		if name == last {
			return Hash{}, &Error{ErrDamaged, e.Path, "git status shows both; remove one of them from the index", errors.New("a file and a folder have one name")}
		}
		last = name
		if !deeper {
			es = append(es, TreeEntry{name, e.Mode, e.Hash})
			i++
			continue
		}
		prefix := e.Path[:cut+len(name)+1]
		j := i + sort.Search(hi-i, func(k int) bool { return !strings.HasPrefix(x.Entries[i+k].Path, prefix) })
		sub := t.Sub[name]
		if sub == nil {
			sub = &CacheTree{Count: -1}
		}
		h, err := x.writeTree(b, sub, cut+len(name)+1, i, j)
		if err != nil {
			return h, err
		}
		subs[name] = sub
		es = append(es, TreeEntry{name, ModeDir, h})
		i = j
	}
	h, err := b.AddTree(es)
	if err != nil {
		return h, err
	}
	t.Count, t.Hash, t.Sub = hi-lo, h, subs
	return h, nil
}
