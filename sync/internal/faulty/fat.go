package faulty

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"caul/sync/store"
)

// fat holds the changes below a folder to the rules of a vfat stick: no links, no modes, no exchange of two files, names that fall
// together when only their capitals differ, no name with one of " * : < > ? \ | or a dot or space at its end, times in steps of
// two seconds. A real vfat needs a kernel that has it and the right to mount.
//
// Source: Microsoft's "FAT32 File System Specification" 1.03 (names, dates) and the kernel's vfat documentation (unverified).
type fat struct{ below string }

func (f fat) holds(path string) bool {
	return f.below != "" && strings.HasPrefix(path, f.below+string(filepath.Separator))
}

// named refuses a new name that vfat cannot hold, or would put on another file.
func (f fat) named(op, path string) error {
	if !f.holds(path) {
		return nil
	}
	n := filepath.Base(path)
	if strings.ContainsAny(n, `"*:<>?\|`) || strings.HasSuffix(n, ".") || strings.HasSuffix(n, " ") {
		return &fs.PathError{Op: op, Path: path, Err: syscall.EINVAL}
	}
	es, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil // the change itself will say so
	}
	for _, e := range es {
		if e.Name() != n && store.Fold(e.Name()) == store.Fold(n) {
			return &fs.PathError{Op: op, Path: path, Err: fmt.Errorf("falls on %s on a vfat disk: %w", e.Name(), fs.ErrExist)}
		}
	}
	return nil
}

// stamp coarsens a file's time.
func (f fat) stamp(path string) {
	if !f.holds(path) {
		return
	}
	if fi, err := os.Lstat(path); err == nil && fi.Mode().IsRegular() {
		t := fi.ModTime().Truncate(2 * time.Second)
		_ = os.Chtimes(path, t, t)
	}
}

func (f fat) unable(paths ...string) error {
	for _, p := range paths {
		if f.holds(p) {
			return errors.ErrUnsupported
		}
	}
	return nil
}
