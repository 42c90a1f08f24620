package store

import (
	"os"
	"syscall"
)

func sysStat(fi os.FileInfo, s *Stat) {
	if st, ok := fi.Sys().(*syscall.Stat_t); ok {
		s.CtimeS, s.CtimeN = uint32(st.Ctimespec.Sec), uint32(st.Ctimespec.Nsec)
		s.Dev, s.Ino, s.UID, s.GID = uint32(st.Dev), uint32(st.Ino), st.Uid, st.Gid
	}
}
