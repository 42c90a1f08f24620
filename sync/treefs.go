package sync

import (
	"io"
	"io/fs"
	"strings"
	"time"

	"caul/sync/store"
)

// treeFS shows a tree of the history as a file system, for whoever reads a shop.
type treeFS struct {
	objs *store.Objects
	root store.Hash
}

type treeInfo struct {
	name string
	mode fs.FileMode
	size int64
}

func (i treeInfo) Name() string       { return i.name }
func (i treeInfo) Size() int64        { return i.size }
func (i treeInfo) Mode() fs.FileMode  { return i.mode }
func (i treeInfo) ModTime() time.Time { return time.Time{} }
func (i treeInfo) IsDir() bool        { return i.mode.IsDir() }
func (i treeInfo) Sys() any           { return nil }

func modeOf(m store.Mode) fs.FileMode {
	switch m {
	case store.ModeDir, store.ModeSub:
		return fs.ModeDir | 0o555
	case store.ModeLink:
		return fs.ModeSymlink | 0o444
	}
	return 0o444
}

func (t treeFS) find(op, name string) (store.TreeEntry, error) {
	if !fs.ValidPath(name) {
		return store.TreeEntry{}, &fs.PathError{Op: op, Path: name, Err: fs.ErrInvalid}
	}
	if name == "." {
		return store.TreeEntry{Mode: store.ModeDir, Hash: t.root, Name: "."}, nil
	}
	e, err := t.objs.Find(t.root, name)
	if err == nil && e.Mode == 0 {
		err = fs.ErrNotExist
	}
	if err != nil {
		return e, &fs.PathError{Op: op, Path: name, Err: err}
	}
	return e, nil
}

// Stat tells of a link itself: nothing in a tree is followed.
func (t treeFS) Stat(name string) (fs.FileInfo, error) {
	e, err := t.find("stat", name)
	if err != nil {
		return nil, err
	}
	i := treeInfo{name: name[strings.LastIndexByte(name, '/')+1:], mode: modeOf(e.Mode)}
	if i.mode.IsRegular() {
		data, err := t.objs.GetBlob(e.Hash)
		if err != nil {
			return nil, &fs.PathError{Op: "stat", Path: name, Err: err}
		}
		i.size = int64(len(data))
	}
	return i, nil
}

// ReadFile reads a file whole.
func (t treeFS) ReadFile(name string) ([]byte, error) {
	e, err := t.find("read", name)
	if err != nil {
		return nil, err
	}
	if !e.Mode.IsFile() {
		return nil, &fs.PathError{Op: "read", Path: name, Err: fs.ErrInvalid}
	}
	return t.objs.GetBlob(e.Hash)
}

// ReadDir lists a folder.
func (t treeFS) ReadDir(name string) ([]fs.DirEntry, error) {
	e, err := t.find("open", name)
	if err != nil {
		return nil, err
	}
	if e.Mode == store.ModeSub {
		return nil, nil
	}
	es, err := t.objs.GetTree(e.Hash)
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: err}
	}
	out := make([]fs.DirEntry, len(es))
	for i, e := range es {
		out[i] = fs.FileInfoToDirEntry(treeInfo{name: e.Name, mode: modeOf(e.Mode)})
	}
	return out, nil
}

// Open opens a file or folder.
func (t treeFS) Open(name string) (fs.File, error) {
	i, err := t.Stat(name)
	if err != nil {
		return nil, err
	}
	f := &treeFile{info: i}
	if i.IsDir() {
		return f, nil
	}
	data, err := t.ReadFile(name)
	f.r = strings.NewReader(string(data))
	return f, err
}

type treeFile struct {
	info fs.FileInfo
	r    *strings.Reader
}

func (f *treeFile) Stat() (fs.FileInfo, error) { return f.info, nil }
func (f *treeFile) Close() error               { return nil }
func (f *treeFile) Read(b []byte) (int, error) {
	if f.r == nil {
		return 0, io.EOF
	}
	return f.r.Read(b)
}
