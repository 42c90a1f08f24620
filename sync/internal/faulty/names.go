package faulty

import (
	"os"
	"path/filepath"
	"strconv"
)

// names are the changes of names that no sync of their folder has made last yet. What a disk may lose at a power cut is more
// than the content of files: a name in a folder lasts only once that folder was synced (POSIX, fsync: the file alone; Linux,
// fsync(2): "an explicit fsync() on a file descriptor for the directory is also needed"), and a move from one folder to
// another is two such names. A journaling disk keeps more than this; the worst that is allowed is what counts here.
type names struct {
	side string // a folder on the same disk for second links to files; empty: names are not lost
	n    int
	list []*name
}

// name is one name that came or went.
type name struct {
	path string
	was  string // a second link to the file that had it before; empty for none
	made bool   // a folder that came
	gone bool   // a folder that went
}

// link makes a second link to a file.
func (s *names) link(path string) string {
	fi, err := os.Lstat(path)
	if err != nil || fi.IsDir() {
		return ""
	}
	s.n++
	to := filepath.Join(s.side, strconv.Itoa(s.n))
	if os.Link(path, to) != nil {
		return ""
	}
	return to
}

// before notes what has a name that is about to be changed, and gives a function to be called once it was.
func (s *names) before(path string) func() {
	if s.side == "" {
		return func() {}
	}
	x := &name{path: path, was: s.link(path), gone: isDir(path)}
	return func() {
		x.made = isDir(path)
		s.list = append(s.list, x)
	}
}

func isDir(path string) bool {
	fi, err := os.Lstat(path)
	return err == nil && fi.IsDir()
}

// synced makes the names of a folder last; of all folders for "".
func (s *names) synced(dir string) {
	var left []*name
	for _, x := range s.list {
		if dir != "" && filepath.Dir(x.path) != dir {
			left = append(left, x)
			continue
		}
		if x.was != "" {
			_ = os.Remove(x.was)
		}
	}
	s.list = left
}

// lose takes back every name that does not last yet.
func (s *names) lose() {
	for i := len(s.list) - 1; i >= 0; i-- {
		switch x := s.list[i]; {
		case x.made:
			_ = os.RemoveAll(x.path)
		case x.gone:
			_ = os.Mkdir(x.path, 0o777)
		default:
			_ = os.Remove(x.path)
			if x.was != "" {
				_ = os.Link(x.was, x.path)
			}
		}
	}
	s.list = nil
}
