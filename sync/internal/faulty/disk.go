package faulty

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"

	"caul/sync/store"
)

// ErrKilled is what every change gives after the machine was killed.
var ErrKilled = errors.New("killed")

// Disk passes changes on to the real disk until one of them is due to fail.
type Disk struct {
	store.OS
	mu sync.Mutex
	n  int
	// At is the number of the change that fails, counted from 1; 0 for never. From then on all fail.
	At int
	// Err is the error; ErrKilled when nil.
	Err error
	// Below limits failing, and counting, to paths below a folder.
	Below string
	// Cut loses, at the failing change, half of every file that was written and not synced.
	Cut bool
	// Side, with Cut, is a folder on the same disk for keeping second links to files; with it, names in folders that were not
	// synced are lost too.
	Side string
	// Before is called before each counted change with its number; may be nil.
	Before func(n int, op, path string)

	// FAT makes everything below a folder a vfat stick; see type fat.
	FAT string

	unsynced map[string]bool
	names    names
	cut      bool
}

func (d *Disk) fat() fat { return fat{d.FAT} }

// Count is the number of changes so far.
func (d *Disk) Count() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.n
}

func (d *Disk) step(op, path string) error {
	d.mu.Lock()
	if d.Below != "" && !strings.HasPrefix(path, d.Below) {
		d.mu.Unlock()
		return nil
	}
	d.n++
	n := d.n
	fail := d.At > 0 && n >= d.At
	if fail && d.Cut && !d.cut {
		d.cut = true
		for p := range d.unsynced {
			if fi, err := os.Lstat(p); err == nil && fi.Mode().IsRegular() {
				_ = os.Truncate(p, fi.Size()/2)
			}
		}
		d.names.lose()
	}
	before := d.Before
	d.mu.Unlock()
	if before != nil {
		before(n, op, path)
	}
	if !fail {
		return nil
	}
	err := d.Err
	if err == nil {
		err = ErrKilled
	}
	if errno, ok := err.(syscall.Errno); ok {
		return &fs.PathError{Op: op, Path: path, Err: errno}
	}
	return err
}

// naming notes the names that a change is about to change; the function it gives is called when that succeeded.
func (d *Disk) naming(paths ...string) func() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !d.Cut || d.Side == "" || d.cut {
		return func() {}
	}
	d.names.side = d.Side
	var done []func()
	for _, p := range paths {
		done = append(done, d.names.before(filepath.Clean(p)))
	}
	return func() {
		d.mu.Lock()
		defer d.mu.Unlock()
		for _, f := range done {
			f()
		}
	}
}

type file struct {
	*os.File
	d    *Disk
	path string
}

func (f *file) Write(b []byte) (int, error) {
	if err := f.d.step("write", f.path); err != nil {
		n, _ := f.File.Write(b[:len(b)/2])
		return n, err
	}
	return f.File.Write(b)
}

func (f *file) Sync() error {
	if err := f.d.step("sync", f.path); err != nil {
		return err
	}
	f.d.mu.Lock()
	delete(f.d.unsynced, f.path)
	f.d.mu.Unlock()
	return nil // the tests' own speed: no real sync
}

func (f *file) Close() error {
	err := f.File.Close()
	f.d.fat().stamp(f.path)
	return err
}

func (d *Disk) open(path string, f store.File, err error) (store.File, error) {
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	if d.unsynced == nil {
		d.unsynced = map[string]bool{}
	}
	d.unsynced[path] = true
	d.mu.Unlock()
	return &file{f.(*os.File), d, path}, nil
}

func (d *Disk) Create(path string, perm os.FileMode) (store.File, error) {
	if err := d.step("create", path); err != nil {
		return nil, err
	}
	if err := d.fat().named("create", path); err != nil {
		return nil, err
	}
	if d.fat().holds(path) {
		perm = 0o777
	}
	named := d.naming(path)
	f, err := d.OS.Create(path, perm)
	if err == nil {
		named()
	}
	return d.open(path, f, err)
}

func (d *Disk) Append(path string, perm os.FileMode) (store.File, error) {
	if err := d.step("append", path); err != nil {
		return nil, err
	}
	return d.OS.Append(path, perm)
}

func (d *Disk) moved(from, to string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.unsynced[from] {
		delete(d.unsynced, from)
		d.unsynced[to] = true
	} else {
		delete(d.unsynced, to)
	}
}

func (d *Disk) Rename(from, to string) error {
	if err := d.step("rename", to); err != nil {
		return err
	}
	if err := d.fat().named("rename", to); err != nil && !strings.EqualFold(from, to) {
		return err
	}
	named := d.naming(from, to)
	err := d.OS.Rename(from, to)
	if err == nil {
		named()
		d.moved(from, to)
	}
	return err
}

func (d *Disk) Place(from, to string) error {
	if err := d.step("place", to); err != nil {
		return err
	}
	if err := d.fat().unable(from, to); err != nil {
		return err
	}
	named := d.naming(from, to)
	err := d.OS.Place(from, to)
	if err == nil {
		named()
		d.moved(from, to)
	}
	return err
}

func (d *Disk) Swap(a, b string) error {
	if err := d.step("swap", b); err != nil {
		return err
	}
	if err := d.fat().unable(a, b); err != nil {
		return err
	}
	named := d.naming(a, b)
	err := d.OS.Swap(a, b)
	if err == nil {
		named()
		d.mu.Lock()
		x, y := d.unsynced[a], d.unsynced[b]
		delete(d.unsynced, a)
		delete(d.unsynced, b)
		if x {
			d.unsynced[b] = true
		}
		if y {
			d.unsynced[a] = true
		}
		d.mu.Unlock()
	}
	return err
}

func (d *Disk) Remove(path string) error {
	if err := d.step("remove", path); err != nil {
		return err
	}
	named := d.naming(path)
	err := d.OS.Remove(path)
	if err == nil {
		named()
	}
	return err
}

func (d *Disk) Mkdir(path string, perm os.FileMode) error {
	if err := d.step("mkdir", path); err != nil {
		return err
	}
	if err := d.fat().named("mkdir", path); err != nil {
		return err
	}
	named := d.naming(path)
	err := d.OS.Mkdir(path, perm)
	if err == nil {
		named()
	}
	return err
}

func (d *Disk) Symlink(target, path string) error {
	if err := d.step("symlink", path); err != nil {
		return err
	}
	if d.fat().holds(path) {
		return &fs.PathError{Op: "symlink", Path: path, Err: syscall.EPERM}
	}
	named := d.naming(path)
	err := d.OS.Symlink(target, path)
	if err == nil {
		named()
	}
	return err
}

// Chmod changes nothing on a stick.
func (d *Disk) Chmod(path string, perm os.FileMode) error {
	if d.fat().holds(path) {
		return nil
	}
	return d.OS.Chmod(path, perm)
}

type whole struct {
	d    *Disk
	path string
}

// Whole syncs what this Disk wrote, in one counted step.
func (d *Disk) Whole(path string) (store.Whole, error) {
	if d.fat().holds(path) {
		return nil, errors.ErrUnsupported // files one by one is tried too
	}
	return whole{d, path}, nil
}

func (w whole) Sync() error {
	if err := w.d.step("sync", w.path); err != nil {
		return err
	}
	w.d.mu.Lock()
	defer w.d.mu.Unlock()
	clear(w.d.unsynced)
	w.d.names.synced("")
	return nil
}

func (w whole) Close() error { return nil }

func (d *Disk) SyncDir(path string) error {
	path = filepath.Clean(path)
	if err := d.step("syncdir", path); err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.names.synced(path)
	return nil
}
