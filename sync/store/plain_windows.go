package store

import (
	"io"
	"os"
)

var errEOF = io.EOF

func openPlain(path string) (*os.File, error) {
	fi, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !fi.Mode().IsRegular() {
		return nil, errChanged
	}
	return os.Open(path)
}
