package store

import (
	"sort"
	"strings"
)

// Diff is a path that differs between two trees. A zero mode means: not there.
type Diff struct {
	Path             string
	OldMode, NewMode Mode
	Old, New         Hash
}

// DiffTrees lists the files that differ between two trees, sorted by path. Folders that are equal are not opened.
func (o *Objects) DiffTrees(a, b Hash) ([]Diff, error) {
	var out []Diff
	if err := o.diffTrees(a, b, "", &out); err != nil {
		return nil, err
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Path < out[j].Path })
	return out, nil
}

func (o *Objects) diffTrees(a, b Hash, prefix string, out *[]Diff) error {
	if a == b {
		return nil
	}
	ea, err := o.GetTree(a)
	if err != nil {
		return err
	}
	eb, err := o.GetTree(b)
	if err != nil {
		return err
	}
	ma := make(map[string]TreeEntry, len(ea))
	for _, e := range ea {
		ma[e.Name] = e
	}
	for _, e := range eb {
		f := ma[e.Name]
		delete(ma, e.Name)
		if f == e {
			continue
		}
		if err := o.diffEntry(f, e, prefix+e.Name, out); err != nil {
			return err
		}
	}
	for _, f := range ea {
		if _, left := ma[f.Name]; left {
			if err := o.diffEntry(f, TreeEntry{}, prefix+f.Name, out); err != nil {
				return err
			}
		}
	}
	return nil
}

func (o *Objects) diffEntry(f, e TreeEntry, path string, out *[]Diff) error {
	var fd, ed Hash
	if f.Mode == ModeDir {
		fd, f = f.Hash, TreeEntry{}
	}
	if e.Mode == ModeDir {
		ed, e = e.Hash, TreeEntry{}
	}
	if f.Mode != e.Mode || f.Hash != e.Hash {
		*out = append(*out, Diff{path, f.Mode, e.Mode, f.Hash, e.Hash})
	}
	return o.diffTrees(fd, ed, path+"/", out)
}

// EachFile calls f for every file below a tree, in the index's order.
func (o *Objects) EachFile(t Hash, prefix string, f func(path string, m Mode, h Hash) error) error {
	es, err := o.GetTree(t)
	if err != nil {
		return err
	}
	for _, e := range es {
		if e.Mode == ModeDir {
			err = o.EachFile(e.Hash, prefix+e.Name+"/", f)
		} else {
			err = f(prefix+e.Name, e.Mode, e.Hash)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Find looks up one path in a tree; a zero entry when it is not there.
func (o *Objects) Find(t Hash, path string) (TreeEntry, error) {
	for {
		es, err := o.GetTree(t)
		if err != nil {
			return TreeEntry{}, err
		}
		name, rest, deeper := strings.Cut(path, "/")
		var hit TreeEntry
		for _, e := range es {
			if e.Name == name {
				hit = e
				break
			}
		}
		if !deeper {
			return hit, nil
		}
		if hit.Mode != ModeDir {
			return TreeEntry{}, nil
		}
		t, path = hit.Hash, rest
	}
}

// Put returns a tree that differs from t in the given paths; a zero mode takes a path away. Folders left empty vanish. A file
// that stands where a folder is needed gives way.
func (b *Batch) Put(t Hash, files map[string]TreeEntry) (Hash, error) {
	if len(files) == 0 {
		if t.IsZero() {
			return EmptyTree, nil
		}
		return t, nil
	}
	es, err := b.o.GetTree(t)
	if err != nil {
		return t, err
	}
	here := map[string]TreeEntry{}
	below := map[string]map[string]TreeEntry{}
	for p, e := range files {
		name, rest, deeper := strings.Cut(p, "/")
		if !deeper {
			e.Name = name
			here[name] = e
			continue
		}
		if below[name] == nil {
			below[name] = map[string]TreeEntry{}
		}
		below[name][rest] = e
	}
	m := make(map[string]TreeEntry, len(es))
	for _, e := range es {
		m[e.Name] = e
	}
	for n, e := range here {
		if e.Mode == 0 {
			if m[n].Mode != ModeDir { // a file of that name is taken away, not a folder
				delete(m, n)
			}
		} else {
			m[n] = e
		}
	}
	names := make([]string, 0, len(below))
	for n := range below {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		var sub Hash
		if m[n].Mode == ModeDir {
			sub = m[n].Hash
		}
		h, err := b.Put(sub, below[n])
		if err != nil {
			return t, err
		}
		switch {
		case h != EmptyTree:
			m[n] = TreeEntry{n, ModeDir, h}
		case m[n].Mode == ModeDir:
			delete(m, n)
		}
	}
	out := make([]TreeEntry, 0, len(m))
	for _, e := range m {
		out = append(out, e)
	}
	if len(out) == 0 {
		return EmptyTree, nil
	}
	return b.AddTree(out)
}
