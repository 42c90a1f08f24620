package store

import (
	"errors"
	"io"
	"os"
	"path/filepath"
)

// File is a file open for writing.
type File interface {
	io.Writer
	io.WriterAt
	io.ReaderAt
	Sync() error
	Close() error
	Name() string
}

// Disk is every way this package changes a disk. Reading is done with the os package.
type Disk interface {
	// Create makes a new file and fails when the name is taken.
	Create(path string, perm os.FileMode) (File, error)
	// Append opens a file to add at its end, making it when it is not there.
	Append(path string, perm os.FileMode) (File, error)
	Rename(from, to string) error
	Remove(path string) error
	Mkdir(path string, perm os.FileMode) error
	Symlink(target, path string) error
	Chmod(path string, perm os.FileMode) error
	// Swap exchanges two files in one step; errors.ErrUnsupported when the system cannot.
	Swap(a, b string) error
	// Place moves a file to a name that must be free; errors.ErrUnsupported when the system cannot do that in one step.
	Place(from, to string) error
	// SyncDir makes the names in a folder durable.
	SyncDir(path string) error
	// Whole opens the file system that path is on, to sync it in one go; errors.ErrUnsupported when the system cannot, or would
	// not tell of a write that failed.
	Whole(path string) (Whole, error)
}

// Whole is a file system as a whole.
type Whole interface {
	// Sync makes durable all that was written and named since the file system was opened, and fails when any of it could not be
	// written, by whomever.
	Sync() error
	Close() error
}

// OS is the real disk.
type OS struct{}

// Create makes a new file and fails when the name is taken.
func (OS) Create(path string, perm os.FileMode) (File, error) {
	return os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, perm)
}

// Append opens a file to add at its end.
func (OS) Append(path string, perm os.FileMode) (File, error) {
	return os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, perm)
}

// Rename moves a file over another.
func (OS) Rename(from, to string) error { return os.Rename(from, to) }

// Remove deletes a file or an empty folder.
func (OS) Remove(path string) error { return os.Remove(path) }

// Mkdir makes one folder.
func (OS) Mkdir(path string, perm os.FileMode) error { return os.Mkdir(path, perm) }

// Symlink makes a symbolic link.
func (OS) Symlink(target, path string) error { return os.Symlink(target, path) }

// Chmod changes a file's mode.
func (OS) Chmod(path string, perm os.FileMode) error { return os.Chmod(path, perm) }

// SyncDir makes the names in a folder durable. Where a system cannot sync a folder (Windows, some network shares) the call
// is a no-op there.
func (OS) SyncDir(path string) error { return syncDir(path) }

// MkdirAll makes a folder and its parents, syncing each parent that got a new name.
func MkdirAll(d Disk, path string, perm os.FileMode) error {
	fi, err := os.Stat(path)
	if err == nil {
		if fi.IsDir() {
			return nil
		}
		return &os.PathError{Op: "mkdir", Path: path, Err: errors.New("not a folder")}
	}
	if !errors.Is(err, os.ErrNotExist) {
		return err
	}
	parent := filepath.Dir(path)
	if parent != path {
		if err := MkdirAll(d, parent, perm); err != nil {
			return err
		}
	}
	if err := d.Mkdir(path, perm); err != nil && !errors.Is(err, os.ErrExist) {
		return err
	}
	return d.SyncDir(parent)
}

// MakeBelow makes folders below one that must be there: where a stick was pulled out, its files must not go on in a new folder
// of the same name on this machine's own disk.
func MakeBelow(d Disk, root, path string, perm os.FileMode) error {
	if _, err := os.Stat(root); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return &Error{ErrGone, root, "put the stick or share back and sync again; nothing was lost", err}
		}
		return err
	}
	return MkdirAll(d, path, perm)
}

// WriteFile replaces a file as a whole: a new file beside it, synced, renamed over it, and the folder synced. After a cut
// at any moment the name holds the old bytes or the new ones.
func WriteFile(d Disk, path string, data []byte, perm os.FileMode) error {
	tmp, err := writeTemp(d, path, data, perm)
	if err != nil {
		return err
	}
	if err := d.Rename(tmp, path); err != nil {
		_ = d.Remove(tmp)
		return err
	}
	return d.SyncDir(filepath.Dir(path))
}

// writeTemp writes data to a synced new file beside path and returns its name.
func writeTemp(d Disk, path string, data []byte, perm os.FileMode) (string, error) {
	tmp := path + "." + nonce() + ".tmp"
	f, err := d.Create(tmp, perm)
	if err != nil {
		return "", err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		_ = d.Remove(tmp)
		return "", err
	}
	return tmp, nil
}
