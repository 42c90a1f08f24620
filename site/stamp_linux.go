package site

import (
	"bytes"
	"encoding/binary"
	"slices"

	"golang.org/x/sys/unix"
)

// folder adds every file of a folder: besides its size and time its number on
// the disk, and when that record was changed: a program may set a file's other
// times back, but not this one. In a large shop asking for files is most of the
// work, so a folder is opened from the one above it, its kind is taken from the
// listing where that tells it, and nothing is asked twice.
func (s *stamper) folder(dir string) error { return s.folderAt(unix.AT_FDCWD, dir, 0) }

func (s *stamper) folderAt(above int, name string, flags int) error {
	fd, err := again(func() (int, error) {
		return unix.Openat(above, name, flags|unix.O_RDONLY|unix.O_DIRECTORY|unix.O_CLOEXEC, 0)
	})
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	es, err := s.list(fd)
	if err != nil {
		return err
	}
	var st unix.Stat_t
	for _, e := range es {
		mode := uint32(unix.S_IFDIR)
		if !e.folder {
			_, err := again(func() (int, error) { return 0, unix.Fstatat(fd, e.name, &st, unix.AT_SYMLINK_NOFOLLOW) })
			if err != nil {
				return err
			}
			mode = st.Mode
		}
		s.buf = append(append(s.buf, e.name...), 0)
		if mode&unix.S_IFMT != unix.S_IFDIR {
			mod := st.Mtim.Nano()
			s.last = max(s.last, mod)
			s.word(uint64(mode))
			s.word(uint64(st.Size)) //nolint:gosec // a mark
			s.word(uint64(mod))     //nolint:gosec // a mark
			s.word(st.Ino)
			s.word(uint64(st.Ctim.Nano())) //nolint:gosec // a mark
			continue
		}
		s.word(unix.S_IFDIR)
		if err := s.folderAt(fd, e.name, unix.O_NOFOLLOW); err != nil {
			return err
		}
		s.buf = append(s.buf, 0) // the folder ends
	}
	return nil
}

// listing is a name in a folder, and whether the folder says that it is one
// itself; not every file system does.
type listing struct {
	name   string
	folder bool
}

// list reads a folder, in order of name. A record of getdents64(2) is the
// file's number and the place of the next record, of 8 bytes each, the record's
// length in 2, the kind in 1, and the name up to a zero.
func (s *stamper) list(fd int) ([]listing, error) {
	const head = 19
	if s.dirents == nil {
		s.dirents = make([]byte, 32<<10)
	}
	var es []listing
	for {
		n, err := again(func() (int, error) { return unix.Getdents(fd, s.dirents) })
		if err != nil {
			return nil, err
		}
		if n <= 0 {
			break
		}
		all := string(s.dirents[:n]) // the names lie in it
		if es == nil {
			es = make([]listing, 0, n/48+1)
		}
		for at := 0; at+head <= n; {
			size := int(binary.NativeEndian.Uint16(s.dirents[at+16:]))
			if size < head || at+size > n {
				return nil, unix.EIO
			}
			end := bytes.IndexByte(s.dirents[at+head:at+size], 0)
			if end < 0 {
				return nil, unix.EIO
			}
			if name := all[at+head : at+head+end]; name != "." && name != ".." {
				es = append(es, listing{name, s.dirents[at+18] == unix.DT_DIR})
			}
			at += size
		}
	}
	slices.SortFunc(es, func(a, b listing) int {
		switch {
		case a.name < b.name:
			return -1
		case a.name > b.name:
			return 1
		}
		return 0
	})
	return es, nil
}

// again repeats a call that a signal has cut off.
func again(call func() (int, error)) (int, error) {
	for {
		n, err := call()
		if err != unix.EINTR { //nolint:errorlint // a bare number
			return n, err
		}
	}
}
