package job

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"strings"
)

// disk is the few calls a durable write needs, so that a test can pull the
// plug before, in the middle of, and after each of them.
type disk interface {
	Create(name string, mode fs.FileMode) (diskFile, error) // fails when the name is taken
	Link(old, name string) error                            // fails when the name is taken
	Rename(old, name string) error
	Remove(name string) error
	Mkdir(name string) error
	SyncDir(name string) error
}

type diskFile interface {
	Write(b []byte) (int, error)
	Chmod(mode fs.FileMode) error
	Sync() error
	Close() error
}

// osDisk is the real disk.
type osDisk struct{}

func (osDisk) Create(name string, mode fs.FileMode) (diskFile, error) {
	return os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
}
func (osDisk) Link(old, name string) error   { return os.Link(old, name) }
func (osDisk) Rename(old, name string) error { return os.Rename(old, name) }
func (osDisk) Remove(name string) error      { return os.Remove(name) }
func (osDisk) Mkdir(name string) error       { return os.Mkdir(name, 0o777) }

// SyncDir makes a rename or a link in the folder durable. Windows and some
// network disks cannot; there the file system's own journal has to do.
func (osDisk) SyncDir(name string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(name)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, fs.ErrInvalid) && !isUnsupported(err) {
		return err
	}
	return nil
}

func isUnsupported(err error) bool {
	return errors.Is(err, errors.ErrUnsupported) || strings.Contains(err.Error(), "invalid argument") || strings.Contains(err.Error(), "not supported")
}

// tempPrefix begins the name of a file that is still being written. One that
// is left after a power cut can be deleted; nothing reads it.
const tempPrefix = ".caul-"

// WriteFile puts data in a file so that, whatever happens, the file is the old
// or the new one, whole: a temporary file beside it, flushed, then renamed,
// then the folder flushed. It writes nothing when the file already holds these
// bytes, keeps the file's permissions, and refuses a symbolic link or anything
// that is not a plain file.
func WriteFile(name string, data []byte) error { return writeFile(osDisk{}, name, data) }

func writeFile(d disk, name string, data []byte) error {
	mode := fs.FileMode(0o666)
	keep := false
	st, err := os.Lstat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case st.Mode()&fs.ModeSymlink != 0:
		return fmt.Errorf("%s is a symbolic link; nothing is written through a link", name)
	case !st.Mode().IsRegular():
		return fmt.Errorf("%s is not a plain file", name)
	default:
		mode, keep = st.Mode().Perm(), true
		old, err := os.ReadFile(name)
		if err != nil {
			return fmt.Errorf("%s cannot be read, so it is not written over: %s", name, plainError(err))
		}
		if bytes.Equal(old, data) {
			return nil
		}
	}
	tmp, err := writeTemp(d, filepath.Dir(name), filepath.Base(name), data, mode, keep)
	if err != nil {
		return err
	}
	if err := d.Rename(tmp, name); err != nil {
		d.Remove(tmp)
		return err
	}
	return d.SyncDir(filepath.Dir(name))
}

// writeTemp writes and flushes a temporary file in a folder.
func writeTemp(d disk, dir, base string, data []byte, mode fs.FileMode, keep bool) (string, error) {
	var f diskFile
	var tmp string
	for i := 0; ; i++ {
		tmp = filepath.Join(dir, fmt.Sprintf("%s%s-%d-%d.tmp", tempPrefix, base, os.Getpid(), i))
		var err error
		if f, err = d.Create(tmp, mode|0o200); err == nil {
			break
		}
		if !errors.Is(err, fs.ErrExist) || i > 1000 {
			return "", err
		}
	}
	fail := func(err error) (string, error) {
		f.Close()
		d.Remove(tmp)
		return "", err
	}
	if _, err := f.Write(data); err != nil {
		return fail(err)
	}
	if keep {
		if err := f.Chmod(mode); err != nil && !isUnsupported(err) && runtime.GOOS != "windows" {
			return fail(err)
		}
	}
	if err := f.Sync(); err != nil {
		return fail(err)
	}
	if err := f.Close(); err != nil {
		d.Remove(tmp)
		return "", err
	}
	return tmp, nil
}

// createFile writes a file that is not there yet, and says fs.ErrExist when
// the name is taken; an existing file is never touched.
func createFile(d disk, name string, data []byte) error {
	if _, err := os.Lstat(name); err == nil {
		return fs.ErrExist
	}
	dir := filepath.Dir(name)
	tmp, err := writeTemp(d, dir, filepath.Base(name), data, 0o666, false)
	if err != nil {
		return err
	}
	err = d.Link(tmp, name) // takes the name or fails, in one step
	switch {
	case err == nil:
		d.Remove(tmp)
	case errors.Is(err, fs.ErrExist):
		d.Remove(tmp)
		return fs.ErrExist
	default:
		// a stick's file system has no links: look once more, then rename
		if _, there := os.Lstat(name); there == nil {
			d.Remove(tmp)
			return fs.ErrExist
		}
		if err := d.Rename(tmp, name); err != nil {
			d.Remove(tmp)
			return err
		}
	}
	return d.SyncDir(dir)
}

// inShop joins a slash path to a shop's folder, and refuses one that leaves
// it or that goes through a symbolic link.
func inShop(dir, file string) (string, error) {
	clean := path.Clean(file)
	if !fs.ValidPath(clean) || clean == "." || strings.ContainsAny(clean, "\\\x00:") {
		return "", fmt.Errorf("%q is not a path inside the shop", file)
	}
	at := dir
	for _, part := range strings.Split(clean, "/") {
		at = filepath.Join(at, part)
		st, err := os.Lstat(at)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		if st.Mode()&fs.ModeSymlink != 0 {
			return "", fmt.Errorf("%s is a symbolic link; nothing is written through a link", at)
		}
	}
	return at, nil
}

// makeDir makes a folder of the shop and the folders above it, durably.
func makeDir(d disk, dir, sub string) (string, error) {
	full, err := inShop(dir, sub)
	if err != nil {
		return "", err
	}
	at := dir
	for _, part := range strings.Split(path.Clean(sub), "/") {
		parent := at
		at = filepath.Join(at, part)
		st, err := os.Lstat(at)
		if err == nil {
			if !st.IsDir() {
				return "", fmt.Errorf("%s is not a folder", at)
			}
			continue
		}
		if err := d.Mkdir(at); err != nil && !errors.Is(err, fs.ErrExist) {
			return "", err
		}
		if err := d.SyncDir(parent); err != nil {
			return "", err
		}
	}
	return full, nil
}

// ReadFile reads one file of the shop for an edit: never through a link, never
// one that is too large.
func ReadFile(dir, file string) ([]byte, error) {
	full, err := inShop(dir, file)
	if err != nil {
		return nil, err
	}
	st, err := os.Lstat(full)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a plain file", file)
	}
	if st.Size() > MaxText {
		return nil, fmt.Errorf("%s holds %d MB, more than the %d MB a text file may", file, st.Size()>>20, MaxText>>20)
	}
	return os.ReadFile(full)
}

// UpdateFile reads a file of the shop, has it edited, and writes it back
// durably. When the file changed between the reading and the writing, it is
// read and edited again.
func UpdateFile(dir, file string, edit func(old []byte) ([]byte, error)) error {
	return updateFile(osDisk{}, dir, file, edit)
}

func updateFile(d disk, dir, file string, edit func(old []byte) ([]byte, error)) error {
	full, err := inShop(dir, file)
	if err != nil {
		return err
	}
	for range 8 {
		old, err := ReadFile(dir, file)
		if err != nil {
			return err
		}
		data, err := edit(old)
		if err != nil {
			return err
		}
		if again, err := os.ReadFile(full); err != nil {
			return err
		} else if !bytes.Equal(again, old) {
			continue
		}
		return writeFile(d, full, data)
	}
	return fmt.Errorf("%s keeps changing; try again when the editor has saved it", file)
}

func lstatDir(name string) (bool, error) {
	st, err := os.Lstat(name)
	if err != nil {
		return false, err
	}
	return st.IsDir(), nil
}

func sameBytes(name string, data []byte) bool {
	st, err := os.Lstat(name)
	if err != nil || !st.Mode().IsRegular() || st.Size() != int64(len(data)) {
		return false
	}
	old, err := os.ReadFile(name)
	return err == nil && bytes.Equal(old, data)
}
