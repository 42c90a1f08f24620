//go:build !linux && !darwin

package site

import (
	"os"
	"path/filepath"
)

// folder adds every file of a folder, told by its size and time.
func (s *stamper) folder(dir string) error {
	es, err := os.ReadDir(dir) // in order of name
	if err != nil {
		return err
	}
	for _, e := range es {
		fi, err := e.Info()
		if err != nil {
			return err
		}
		mod := fi.ModTime().UnixNano()
		s.last = max(s.last, mod)
		s.buf = append(append(s.buf, e.Name()...), 0)
		s.word(uint64(fi.Mode()))
		if !fi.IsDir() {
			s.word(uint64(fi.Size()))
			s.word(uint64(mod))
			continue
		}
		if err := s.folder(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
		s.buf = append(s.buf, 0) // the folder ends
	}
	return nil
}
