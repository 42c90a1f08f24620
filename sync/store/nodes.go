package store

import (
	"os"
)

// nodeOf makes a node of what os.Lstat says. Where the system tells no inode the index keeps none.
func nodeOf(name string, fi os.FileInfo) node {
	n := node{name: name}
	switch m := fi.Mode(); {
	case m.IsDir():
		n.mode = ModeDir
		return n
	case m&os.ModeSymlink != 0:
		n.mode = ModeLink
	case m.IsRegular():
		n.mode = ModeFile
		if m&0o100 != 0 {
			n.mode = ModeExec
		}
	default:
		return n
	}
	t := fi.ModTime()
	n.stat = Stat{MtimeS: uint32(t.Unix()), MtimeN: uint32(t.Nanosecond()), Size: uint32(fi.Size())}
	sysStat(fi, &n.stat)
	return n
}
