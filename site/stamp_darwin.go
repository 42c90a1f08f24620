package site

import (
	"os"
	"sort"

	"golang.org/x/sys/unix"
)

// folder adds every file of a folder: besides its size and time its number on
// the disk, and when that record was changed: a program may set a file's other
// times back, but not this one. Files are asked for from their open folder; in
// a large shop that is most of the work.
func (s *stamper) folder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer f.Close()
	names, err := f.Readdirnames(-1)
	if err != nil {
		return err
	}
	sort.Strings(names)
	var st unix.Stat_t
	at := int(f.Fd()) //nolint:gosec // a descriptor is small
	for _, name := range names {
		if err := unix.Fstatat(at, name, &st, unix.AT_SYMLINK_NOFOLLOW); err != nil {
			return err
		}
		mod := st.Mtim.Nano()
		s.last = max(s.last, mod)
		s.buf = append(append(s.buf, name...), 0)
		s.word(uint64(st.Mode))
		if st.Mode&unix.S_IFMT != unix.S_IFDIR {
			s.word(uint64(st.Size)) //nolint:gosec // a mark
			s.word(uint64(mod))     //nolint:gosec // a mark
			s.word(st.Ino)
			s.word(uint64(st.Ctim.Nano())) //nolint:gosec // a mark
			continue
		}
		if err := s.folder(dir + "/" + name); err != nil {
			return err
		}
		s.buf = append(s.buf, 0) // the folder ends
	}
	return nil
}
