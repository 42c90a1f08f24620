package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// doubtful tells the part of a path that not every disk can hold; empty when all can. Length: 255 bytes on most Linux file systems,
// 255 UTF-16 units on vfat, exFAT, NTFS and APFS (their documentation, unverified).
func doubtful(path string) string {
	for _, n := range strings.Split(path, "/") {
		if Awkward(n) != "" || len(n) > 200 || !utf8.ValidString(n) {
			return n
		}
	}
	return ""
}

// canHold tries, beside the journal, whether the shop's disk can hold the names of a path: a name that it cannot hold must be known
// before the first file is moved, not in the middle.
func (m *mover) canHold(path string) error {
	n := doubtful(path)
	if n == "" {
		return nil
	}
	if err, known := m.held[n]; known {
		return err
	}
	if m.held == nil {
		m.held = map[string]error{}
	}
	err := m.tryName(n)
	if err != nil {
		var named *Error
		if err = Name(err, m.r.Own); !errors.As(err, &named) {
			err = &Error{ErrUnsafe, path, "rename it on the machine it came from, sync there, then sync here again; nothing was changed here", errors.New("this disk cannot hold the name")}
		}
	}
	m.held[n] = err
	return err
}

// tryName makes a file of that name and looks whether it is there under it: some disks drop a dot at the end without a word.
func (m *mover) tryName(n string) error {
	dir := filepath.Join(m.r.stageRoot(), "probe")
	if err := MakeBelow(m.r.Disk, m.r.Git, dir, 0o777); err != nil {
		return err
	}
	p := filepath.Join(dir, n)
	f, err := m.r.Disk.Create(p, 0o666)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	es, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	there := false
	for _, e := range es {
		there = there || e.Name() == n
		if err := m.r.Disk.Remove(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
	}
	if !there {
		return errors.New("it came out under another name")
	}
	return nil
}
