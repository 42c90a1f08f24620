package store

import (
	"errors"
	"fmt"
	"os"
	"sync"

	"golang.org/x/sys/unix"
)

// Swap exchanges two files in one step.
func (OS) Swap(a, b string) error {
	return renameat2(a, b, unix.RENAME_EXCHANGE)
}

// Place moves a file to a free name in one step.
func (OS) Place(from, to string) error {
	return renameat2(from, to, unix.RENAME_NOREPLACE)
}

// Whole opens the file system that path is on. Only those of a disk of this machine count: over a network or through a program
// the call need not reach the disk that keeps the bytes.
func (OS) Whole(path string) (Whole, error) {
	if !syncTells() {
		return nil, errors.ErrUnsupported
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	var st unix.Statfs_t
	if err := unix.Fstatfs(int(f.Fd()), &st); err != nil {
		f.Close()
		return nil, errors.ErrUnsupported
	}
	switch int64(st.Type) & 0xffffffff {
	case unix.EXT4_SUPER_MAGIC, unix.XFS_SUPER_MAGIC, unix.BTRFS_SUPER_MAGIC, unix.F2FS_SUPER_MAGIC, unix.MSDOS_SUPER_MAGIC, unix.EXFAT_SUPER_MAGIC:
		return whole{f}, nil
	}
	f.Close()
	return nil, errors.ErrUnsupported
}

type whole struct{ *os.File }

func (w whole) Sync() error {
	if err := unix.Syncfs(int(w.Fd())); err != nil {
		return &os.PathError{Op: "syncfs", Path: w.Name(), Err: err}
	}
	return nil
}

// syncTells tells whether syncfs gives an error when something could not be written: since Linux 5.8.
//
// Source: the Linux man-pages, sync(2), "VERSIONS".
var syncTells = sync.OnceValue(func() bool {
	var u unix.Utsname
	if unix.Uname(&u) != nil {
		return false
	}
	return since(unix.ByteSliceToString(u.Release[:]), 5, 8)
})

// since compares a kernel's release, such as "6.1.0-13-amd64".
func since(release string, major, minor int) bool {
	var a, b int
	if n, err := fmt.Sscanf(release, "%d.%d", &a, &b); n != 2 || err != nil {
		return false
	}
	return a > major || a == major && b >= minor
}

func renameat2(from, to string, flags uint) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, flags)
	switch err {
	case nil:
		return nil
	case unix.EINVAL, unix.ENOSYS, unix.EOPNOTSUPP:
		return errors.ErrUnsupported
	}
	return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
}
