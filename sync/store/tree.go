package store

import (
	"bytes"
	"errors"
	"fmt"
	"sort"
	"strconv"

	"github.com/go-git/go-git/v5/plumbing"
)

// EmptyTree is the name of the folder with nothing in it.
var EmptyTree = plumbing.NewHash("4b825dc642cb6eb9a060e54bf8d69288fbee4904")

// Mode is what a name in a folder stands for.
type Mode uint32

// The modes git knows.
const (
	ModeDir  Mode = 0o40000
	ModeFile Mode = 0o100644
	ModeExec Mode = 0o100755
	ModeLink Mode = 0o120000
	ModeSub  Mode = 0o160000 // another repository's commit; caul carries it along and never enters it
)

// IsFile tells a plain file, executable or not.
func (m Mode) IsFile() bool { return m == ModeFile || m == ModeExec }

// TreeEntry is one name in a folder.
type TreeEntry struct {
	Name string
	Mode Mode
	Hash Hash
}

func parseTree(data []byte) ([]TreeEntry, error) {
	n := bytes.Count(data, []byte{0})
	out := make([]TreeEntry, 0, min(n, len(data)/24+1))
	for len(data) > 0 {
		sp := bytes.IndexByte(data, ' ')
		if sp < 0 {
			return nil, errors.New("bad folder listing")
		}
		m, err := strconv.ParseUint(string(data[:sp]), 8, 32)
		if err != nil {
			return nil, err
		}
		data = data[sp+1:]
		z := bytes.IndexByte(data, 0)
		if z <= 0 || len(data) < z+21 {
			return nil, errors.New("folder listing cut short")
		}
		e := TreeEntry{Name: string(data[:z]), Mode: Mode(m)}
		if e.Mode&0o170000 == 0o100000 && !e.Mode.IsFile() { // old writers kept other permission bits
			if e.Mode&0o100 != 0 {
				e.Mode = ModeExec
			} else {
				e.Mode = ModeFile
			}
		}
		copy(e.Hash[:], data[z+1:z+21])
		out = append(out, e)
		data = data[z+21:]
	}
	return out, nil
}

func treeKey(e TreeEntry) string {
	if e.Mode == ModeDir {
		return e.Name + "/"
	}
	return e.Name
}

func encodeTree(es []TreeEntry) []byte {
	sort.Slice(es, func(i, j int) bool { return treeKey(es[i]) < treeKey(es[j]) })
	var b bytes.Buffer
	for _, e := range es {
		fmt.Fprintf(&b, "%o %s\x00", uint32(e.Mode), e.Name)
		b.Write(e.Hash[:])
	}
	return b.Bytes()
}
