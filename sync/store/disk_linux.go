package store

import (
	"errors"
	"os"

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
