package store

import (
	"errors"
	"os"
	"path/filepath"
	"sync"
)

// wholeFrom is from how many incoming files on the disk is synced once, as a whole, and not file by file: a first copy would wait
// for thousands of single syncs.
const wholeFrom = 64

// stage writes every incoming file, synced, beside the journal.
func (m *mover) stage() error {
	r := m.r
	m.unstage()
	if err := MakeBelow(r.Disk, r.Git, r.stageDir(m.turn), 0o777); err != nil {
		return Name(err, r.Own)
	}
	if len(m.diffs) >= wholeFrom {
		w, err := r.Disk.Whole(r.stageDir(m.turn))
		if err == nil {
			m.whole = w
		} else if !errors.Is(err, errors.ErrUnsupported) {
			return Name(err, r.Own)
		}
	}
	err := parallel(len(m.diffs), func(i int) error {
		d := m.diffs[i]
		if m.done[i] || d.NewMode == 0 {
			return nil
		}
		data, err := r.Objects.GetBlob(d.New)
		if err != nil {
			return err
		}
		if d.NewMode == ModeLink && r.cfg.symlinks {
			if err := r.Disk.Symlink(string(data), m.staged(i)); err != nil {
				return Name(err, r.Own)
			}
			return m.note(i)
		}
		perm := os.FileMode(0o666)
		if d.NewMode == ModeExec {
			perm = 0o777
		}
		f, err := r.Disk.Create(m.staged(i), perm)
		if err != nil {
			return Name(err, r.Own)
		}
		_, err = f.Write(data)
		if err == nil && m.whole == nil {
			err = f.Sync()
		}
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			return Name(err, r.Own)
		}
		return m.note(i)
	})
	if err != nil {
		return err
	}
	if m.whole != nil {
		return Name(m.whole.Sync(), r.Own)
	}
	return Name(r.Disk.SyncDir(r.stageDir(m.turn)), r.Own)
}

// note remembers the stamps of a staged file: an edit right after it was put in place must not pass for it.
func (m *mover) note(i int) error {
	fi, err := os.Lstat(m.staged(i))
	if err != nil {
		return Name(err, m.r.Own)
	}
	m.came[i] = nodeOf("", fi)
	return nil
}

// parallel runs f for 0..n-1, a few at a time: the syncs of many small files then share the disk's own commits.
func parallel(n int, f func(int) error) error {
	const width = 8
	var wg sync.WaitGroup
	var mu sync.Mutex
	var first error
	next := 0
	for range min(width, n) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for {
				mu.Lock()
				i := next
				next++
				stop := first != nil || i >= n
				mu.Unlock()
				if stop {
					return
				}
				if err := f(i); err != nil {
					mu.Lock()
					if first == nil {
						first = err
					}
					mu.Unlock()
					return
				}
			}
		}()
	}
	wg.Wait()
	return first
}

// unstage empties the staging folder. What lies there has been looked at.
func (m *mover) unstage() { m.r.clearStage() }

func (r *Repo) clearStage() {
	turns, err := os.ReadDir(r.stageRoot())
	if err != nil {
		return
	}
	for _, t := range turns {
		dir := filepath.Join(r.stageRoot(), t.Name())
		if es, err := os.ReadDir(dir); err == nil {
			for _, e := range es {
				_ = r.Disk.Remove(filepath.Join(dir, e.Name()))
			}
		}
		_ = r.Disk.Remove(dir)
	}
}
