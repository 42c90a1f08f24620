//go:build !windows

package store

import (
	"io"
	"os"
	"syscall"
)

var errEOF = io.EOF

// openPlain opens a file for reading, never through a link in its last name, and never waiting on a pipe.
func openPlain(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if pe, ok := err.(*os.PathError); ok && pe.Err == syscall.ELOOP {
		return nil, errChanged
	}
	return f, err
}
