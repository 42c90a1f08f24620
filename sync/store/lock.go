package store

import (
	"crypto/rand"
	"encoding/hex"
	"os"
	"time"
)

// nonce is a short random name part for temporary files; it never reaches anything that is kept.
func nonce() string {
	var b [6]byte
	_, _ = rand.Read(b[:]) // never fails on the systems Go supports
	return hex.EncodeToString(b[:])
}

// Lock is the lock against two syncs of one shop at once. The system drops it when the process ends.
type Lock struct{ f *os.File }

// TakeLock takes the lock file at path, waiting up to the given time. It returns ErrBusy when another holds it.
func TakeLock(path string, wait time.Duration) (*Lock, error) {
	return takeLock(path, os.O_RDWR|os.O_CREATE, wait)
}

func takeLock(path string, flags int, wait time.Duration) (*Lock, error) {
	f, err := os.OpenFile(path, flags, 0o666)
	if err != nil {
		return nil, err
	}
	for end := time.Now().Add(wait); ; {
		ok, err := tryLock(f)
		if ok {
			return &Lock{f}, nil
		}
		if err == nil && !time.Now().Before(end) {
			err = &Error{Kind: ErrBusy, Path: path, Hint: "another caul is syncing this shop; wait for it to finish and run again"}
		}
		if err != nil {
			f.Close()
			return nil, err
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// Release drops the lock.
func (l *Lock) Release() error {
	if l.f == nil {
		return nil
	}
	return l.f.Close()
}
