package site

import (
	"crypto/sha256"
	"encoding/binary"
	"time"
)

// A stamp tells whether any file of a folder was touched: it is made of every
// file's name, size, times and place on the disk, not of what it holds.
type stamp [16]byte

// racy is how old a file must be for its time to tell a later change: file
// systems count in steps of up to two seconds.
const racy = 2 * time.Second

// stamper makes stamps, one after another.
type stamper struct {
	buf     []byte
	last    int64  // the latest change, in nanoseconds
	dirents []byte // room for a folder's listing, where the system gives it raw
}

// tree stamps a folder with all below it. ok is false where it cannot be read,
// and where a file is so new at disk, when that is given, that another change
// might not show.
func (s *stamper) tree(dir string, disk time.Time) (st stamp, ok bool) {
	s.buf, s.last = s.buf[:0], 0
	if s.folder(dir) != nil || !disk.IsZero() && s.last > disk.Add(-racy).UnixNano() {
		return stamp{}, false
	}
	sum := sha256.Sum256(s.buf)
	return stamp(sum[:len(st)]), true
}

func (s *stamper) word(n uint64) { s.buf = binary.LittleEndian.AppendUint64(s.buf, n) }
