package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
)

// Refs is the names a repository gives to commits.
type Refs struct {
	Dir  string // the repository folder: .git, or a bare one
	disk Disk
	// Patience is how long to wait for a ref lock of another writer.
	Patience time.Duration
	// Stale is how long a lock that caul itself made must stand unchanged before it counts as left behind by a kill or a
	// pulled stick. Zero: never.
	Stale time.Duration
	// Sole says that this program holds the shop's lock, so that no other caul can be at work here.
	Sole bool
	// Remember keeps a second copy of each new value beside the ref, for media whose rename may be cut in half.
	Remember bool
}

// lockMark begins the content of every lock file caul makes, so that one left behind can be told from git's.
const lockMark = "caul lock\n"

func goodHash(s string) (Hash, bool) {
	if len(s) != 40 {
		return Hash{}, false
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return Hash{}, false
		}
	}
	return plumbing.NewHash(s), true
}

// packedRefs reads the packed-refs file.
func (r *Refs) packedRefs() (map[string]Hash, error) {
	data, err := os.ReadFile(filepath.Join(r.Dir, "packed-refs"))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, Name(err, r.Dir)
	}
	m := map[string]Hash{}
	for _, l := range strings.Split(string(data), "\n") {
		v, n, ok := strings.Cut(strings.TrimRight(l, "\r"), " ")
		if h, good := goodHash(v); ok && good {
			m[n] = h
		}
	}
	return m, nil
}

// Get reads a ref, following symbolic refs. The zero hash means: not there.
func (r *Refs) Get(name string) (Hash, error) {
	for range 5 {
		data, err := os.ReadFile(filepath.Join(r.Dir, filepath.FromSlash(name)))
		if errors.Is(err, os.ErrNotExist) || isDirErr(r.Dir, name) {
			m, err := r.packedRefs()
			if err == nil && m[name].IsZero() && r.Remember {
				return r.remembered(name), nil
			}
			return m[name], err
		}
		if err != nil {
			return Hash{}, Name(err, r.Dir)
		}
		s := strings.TrimSpace(string(data))
		if t, ok := strings.CutPrefix(s, "ref:"); ok {
			name = strings.TrimSpace(t)
			continue
		}
		if h, ok := goodHash(s); ok {
			return h, nil
		}
		if r.Remember {
			if h := r.remembered(name); !h.IsZero() {
				return h, nil
			}
		}
		return Hash{}, &Error{ErrDamaged, filepath.Join(r.Dir, filepath.FromSlash(name)), "the file should hold one commit name of 40 digits; see git fsck", nil}
	}
	return Hash{}, &Error{ErrDamaged, r.Dir + ": " + name, "the names point at each other in a ring", nil}
}

func isDirErr(dir, name string) bool {
	fi, err := os.Stat(filepath.Join(dir, filepath.FromSlash(name)))
	return err == nil && fi.IsDir()
}

// Symbolic reads where a symbolic ref such as HEAD points; empty when it names a commit itself.
func (r *Refs) Symbolic(name string) (string, error) {
	data, err := os.ReadFile(filepath.Join(r.Dir, filepath.FromSlash(name)))
	if err != nil {
		return "", Name(err, r.Dir)
	}
	if t, ok := strings.CutPrefix(strings.TrimSpace(string(data)), "ref:"); ok {
		return strings.TrimSpace(t), nil
	}
	return "", nil
}

// All lists every ref below refs/.
func (r *Refs) All() (map[string]Hash, error) {
	m, err := r.packedRefs()
	if err != nil {
		return nil, err
	}
	if m == nil {
		m = map[string]Hash{}
	}
	root := filepath.Join(r.Dir, "refs")
	err = filepath.WalkDir(root, func(p string, d os.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, os.ErrNotExist) {
				return nil
			}
			return err
		}
		if d.IsDir() || strings.HasSuffix(p, ".lock") || strings.HasSuffix(p, ".tmp") {
			return nil
		}
		rel, err := filepath.Rel(r.Dir, p)
		if err != nil {
			return err
		}
		name := filepath.ToSlash(rel)
		h, err := r.Get(name)
		if err != nil {
			return err
		}
		if !h.IsZero() {
			m[name] = h
		}
		return nil
	})
	if err == nil && r.Remember {
		// A ref whose last replacement was cut in half, on a disk that first removes the old name.
		files, _ := filepath.Glob(filepath.Join(r.Dir, "caul", "*.last"))
		for _, f := range files {
			data, err := os.ReadFile(f)
			if err != nil {
				return nil, Name(err, r.Dir)
			}
			if _, name, ok := strings.Cut(strings.TrimSpace(string(data)), " "); ok && m[name].IsZero() {
				if h := r.remembered(name); !h.IsZero() {
					m[name] = h
				}
			}
		}
	}
	return m, Name(err, r.Dir)
}

func (r *Refs) memory(name string) string {
	return filepath.Join(r.Dir, "caul", strings.ReplaceAll(name, "/", "-")+".last")
}

func (r *Refs) remembered(name string) Hash {
	data, err := os.ReadFile(r.memory(name))
	if err != nil {
		return Hash{}
	}
	v, n, _ := strings.Cut(strings.TrimSpace(string(data)), " ")
	if h, ok := goodHash(v); ok && n == name {
		return h
	}
	return Hash{}
}

// Set moves a ref from old to new, and only if it still is at old; the zero hash as old means it must not be there. It takes
// git's own lock for the ref, so that of two writers one gets ErrMoved and loses nothing.
func (r *Refs) Set(name string, old, new Hash) error {
	path := filepath.Join(r.Dir, filepath.FromSlash(name))
	if err := MakeBelow(r.disk, r.Dir, filepath.Dir(path), 0o777); err != nil {
		return Name(err, r.Dir)
	}
	lock := path + ".lock"
	if err := takeFileLock(r.disk, lock, r.Dir, r.Patience, r.Stale, r.Sole); err != nil {
		return err
	}
	err := r.set(path, name, old, new)
	if rerr := r.disk.Remove(lock); err == nil && rerr != nil && !errors.Is(rerr, os.ErrNotExist) {
		err = Name(rerr, r.Dir)
	}
	return err
}

func (r *Refs) set(path, name string, old, new Hash) error {
	now, err := r.Get(name)
	if err != nil {
		return err
	}
	if now != old {
		return &Error{ErrMoved, r.Dir + ": " + name, "sync again", nil}
	}
	line := []byte(new.String() + "\n")
	if r.Remember {
		// The new value is on the disk under one name or the other at any moment, and what it needs is there already.
		if err := MakeBelow(r.disk, r.Dir, filepath.Join(r.Dir, "caul"), 0o777); err != nil {
			return Name(err, r.Dir)
		}
		if err := WriteFile(r.disk, r.memory(name), []byte(new.String()+" "+name+"\n"), 0o644); err != nil {
			return Name(err, r.Dir)
		}
	}
	// The temporary file must not lie below refs/, where git would read it as a ref after a cut.
	tmp, err := writeTemp(r.disk, filepath.Join(r.Dir, "caul-ref"), line, 0o644)
	if err != nil {
		return Name(err, r.Dir)
	}
	if err := r.disk.Rename(tmp, path); err != nil {
		_ = r.disk.Remove(tmp)
		return Name(err, r.Dir)
	}
	return Name(r.disk.SyncDir(filepath.Dir(path)), r.Dir)
}

// SetSymbolic writes a symbolic ref.
func (r *Refs) SetSymbolic(name, target string) error {
	return Name(WriteFile(r.disk, filepath.Join(r.Dir, name), []byte("ref: "+target+"\n"), 0o644), r.Dir)
}

// takeFileLock makes a lock file as git does. A lock that is in the way is waited for. One that carries caul's mark is taken
// over: at once where sole says that no other caul can be at work here, else after it stood unchanged for the time stale.
// Temporary files go to the folder home: below refs/ git would take them for refs.
func takeFileLock(d Disk, path, home string, patience, stale time.Duration, sole bool) error {
	var since time.Time
	var seen os.FileInfo
	for start := time.Now(); ; {
		err := makeLock(d, path, home)
		if err == nil {
			return nil
		}
		if !errors.Is(err, os.ErrExist) {
			return Name(err, path)
		}
		fi, serr := os.Lstat(path)
		if serr != nil {
			continue // gone again: its owner is done
		}
		if seen == nil || !os.SameFile(seen, fi) || !seen.ModTime().Equal(fi.ModTime()) || seen.Size() != fi.Size() {
			seen, since = fi, time.Now()
		}
		wait := stale
		if sole && fi.Size() > 0 {
			wait = 1
		}
		if wait > 0 && time.Since(since) >= wait && ownLock(path, seen) {
			// Move it aside first: of two that take over, one succeeds, and neither removes the other's fresh lock.
			old := filepath.Join(home, "caul-lock."+nonce()+".tmp")
			if err := d.Rename(path, old); err == nil {
				_ = d.Remove(old)
			} else if !errors.Is(err, os.ErrNotExist) {
				return Name(err, path)
			}
			seen = nil
			continue
		}
		if time.Since(start) > max(patience, stale+stale/2) {
			return &Error{ErrBusy, path, "another program holds this lock; if none is running, delete the file and sync again", nil}
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// makeLock makes a lock file that carries caul's mark from its first moment, where the disk can do that in one step.
func makeLock(d Disk, path, home string) error {
	if exists(path) {
		return os.ErrExist
	}
	tmp := filepath.Join(home, "caul-lock."+nonce()+".tmp")
	err := markLock(d, tmp)
	if err == nil {
		err = d.Place(tmp, path)
		if err == nil {
			return nil
		}
		_ = d.Remove(tmp)
	}
	if errors.Is(err, errors.ErrUnsupported) {
		return markLock(d, path)
	}
	return err
}

func markLock(d Disk, path string) error {
	f, err := d.Create(path, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write([]byte(lockMark))
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		_ = d.Remove(path)
	}
	return err
}

// ownLock tells a lock that caul made: it carries caul's mark, or was cut off before the mark was written.
func ownLock(path string, fi os.FileInfo) bool {
	if fi.Size() == 0 {
		return true
	}
	data, err := os.ReadFile(path)
	return err == nil && strings.HasPrefix(lockMark, string(data))
}
