//go:build !windows

package store

import (
	"os"

	"golang.org/x/sys/unix"
)

// tryLock takes a lock that the system drops when the process ends, however it ends.
func tryLock(f *os.File) (bool, error) {
	for {
		err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		switch err {
		case nil:
			return true, nil
		case unix.EWOULDBLOCK:
			return false, nil
		case unix.EINTR:
			continue
		}
		return false, err
	}
}
