package sync

import (
	"os"
	"path/filepath"
	"time"

	"caul/sync/store"
)

// Shop is a shop's folder with its history and this machine's settings.
type Shop struct {
	repo *store.Repo
	own  machineFile

	// Zero outside of tests.
	stale time.Duration // see remote.Env
	wait  time.Duration // how long a sync waits for another one of the same shop
}

// Init makes a history for the shop in dir, unless it has one, and names this machine. The shop's files are not touched.
func Init(dir, machine string) (*Shop, error) { return initOn(dir, machine, store.OS{}) }

func initOn(dir, machine string, d store.Disk) (*Shop, error) {
	if err := checkName(machine); err != nil {
		return nil, err
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if err := store.MkdirAll(d, dir, 0o777); err != nil {
		return nil, store.Name(err, dir)
	}
	if err := store.Init(dir, d); err != nil {
		return nil, err
	}
	s, err := openOn(dir, d)
	if err != nil {
		return nil, err
	}
	if s.own.Machine == "" {
		if err := s.SetMachine(machine); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// Open opens the shop in dir.
func Open(dir string) (*Shop, error) { return openOn(dir, store.OS{}) }

func openOn(dir string, d store.Disk) (*Shop, error) {
	r, err := store.Open(dir, d)
	if err != nil {
		return nil, err
	}
	s := &Shop{repo: r}
	if err := s.loadMachine(); err != nil {
		return nil, err
	}
	return s, nil
}

// Dir is the shop's folder.
func (s *Shop) Dir() string { return s.repo.Dir }

// Close lets go of open files.
func (s *Shop) Close() { s.repo.Close() }

// Within reports whether a remote is within reach without going to a network: a folder that is there.
func (s *Shop) Within(r Remote) bool {
	if r.Kind != "folder" && r.Kind != "group" {
		return false
	}
	fi, err := os.Stat(r.URL)
	return err == nil && fi.IsDir()
}

// lockWait is how long a sync waits for another one of the same shop.
func (s *Shop) lockWait() time.Duration {
	if s.wait > 0 {
		return s.wait
	}
	return 10 * time.Second
}
