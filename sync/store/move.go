package store

import (
	"errors"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
)

// move puts the staged files in place. What comes is there, on the disk for good, before what goes is taken away: a disk that
// fills up, a kill or a hand in between never finds a passage in neither place. Only where a name has to be free first - a file
// that becomes a folder, a new name that a case-folding disk takes for the old - does the old file go first.
func (m *mover) move() error {
	m.dirs = map[string]bool{}
	first, later := m.order()
	if err := m.takeAll(first); err != nil {
		return err
	}
	for i, d := range m.diffs {
		if m.done[i] || d.NewMode == 0 {
			continue
		}
		var err error
		if d.OldMode == 0 {
			err = m.bring(i)
		} else {
			err = m.replace(i)
		}
		if err != nil {
			return err
		}
	}
	if len(later) > 0 {
		if err := m.syncDirs(); err != nil {
			return err
		}
		if err := m.takeAll(later); err != nil {
			return err
		}
	}
	return m.syncDirs()
}

// order parts what goes into what stands in the way of what comes, and the rest.
func (m *mover) order() (first, later []int) {
	comes, above := map[string]bool{}, map[string]bool{}
	for i, d := range m.diffs {
		if m.done[i] || d.NewMode == 0 || d.OldMode != 0 {
			continue
		}
		p := Fold(d.Path)
		comes[p] = true
		for up := path.Dir(p); up != "." && !above[up]; up = path.Dir(up) {
			above[up] = true
		}
	}
	for i, d := range m.diffs {
		if d.NewMode != 0 {
			continue
		}
		p := Fold(d.Path)
		inWay := comes[p] || above[p]
		for up := path.Dir(p); up != "." && !inWay; up = path.Dir(up) {
			inWay = comes[up]
		}
		if inWay {
			first = append(first, i)
		} else {
			later = append(later, i)
		}
	}
	return first, later
}

// takeAll takes files away and removes the folders that leaves empty.
func (m *mover) takeAll(which []int) error {
	for _, i := range which {
		if !m.done[i] {
			if err := m.takeAway(i); err != nil {
				return err
			}
		}
	}
	for _, i := range which {
		m.prune(filepath.Dir(filepath.FromSlash(m.diffs[i].Path)))
	}
	return nil
}

// syncDirs makes the names in the touched folders last.
func (m *mover) syncDirs() error {
	dirs := make([]string, 0, len(m.dirs))
	for d := range m.dirs {
		dirs = append(dirs, d)
	}
	sort.Strings(dirs)
	clear(m.dirs)
	if m.whole != nil && len(dirs) > 0 {
		return Name(m.whole.Sync(), m.r.Dir)
	}
	return parallel(len(dirs), func(i int) error {
		p := filepath.Join(m.r.Dir, dirs[i])
		if !exists(p) {
			return nil
		}
		return Name(m.r.Disk.SyncDir(p), p)
	})
}

func (m *mover) touchDir(path string) { m.dirs[filepath.Dir(filepath.FromSlash(path))] = true }

// still tells whether the file at p is the one seen at preflight, byte for byte as far as its stamps tell.
func still(p string, n node) bool {
	fi, err := os.Lstat(p)
	if err != nil {
		return false
	}
	return same(nodeOf(n.name, fi), n)
}

// same compares stamps; the time of the last change of the name is left out, a move changes it.
func same(x, y node) bool {
	a, b := x.stat, y.stat
	return x.mode == y.mode && a.Size == b.Size && a.MtimeS == b.MtimeS && a.MtimeN == b.MtimeN && a.Ino == b.Ino
}

func edited(path string) error { return &Error{ErrEdited, path, "sync again", nil} }

// takeAway moves a file out of the shop first and looks at it then: an edit of the last moment is put back.
func (m *mover) takeAway(i int) error {
	p := m.r.path(m.diffs[i].Path)
	if !still(p, m.nodes[i]) {
		return edited(m.diffs[i].Path)
	}
	m.touchDir(m.diffs[i].Path)
	if err := m.r.Disk.Rename(p, m.staged(i)); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return edited(m.diffs[i].Path)
		}
		return Name(err, p)
	}
	if !still(m.staged(i), m.nodes[i]) {
		m.putBack(i)
		return edited(m.diffs[i].Path)
	}
	return nil
}

func (m *mover) putBack(i int) {
	p := m.r.path(m.diffs[i].Path)
	if err := m.r.Disk.Place(m.staged(i), p); errors.Is(err, errors.ErrUnsupported) && !exists(p) {
		_ = m.r.Disk.Rename(m.staged(i), p)
	}
}

// bring moves a new file in, never over another.
func (m *mover) bring(i int) error {
	path := m.diffs[i].Path
	p := m.r.path(path)
	if err := m.makeDirs(filepath.Dir(filepath.FromSlash(path))); err != nil {
		if errors.Is(err, os.ErrNotExist) || isNotDir(err) { // somebody moved the folder away meanwhile
			return edited(path)
		}
		return Name(err, p)
	}
	if fi, err := os.Lstat(p); err == nil && fi.IsDir() {
		_ = m.removeEmpty(p)
	}
	m.touchDir(path)
	err := m.r.Disk.Place(m.staged(i), p)
	if errors.Is(err, errors.ErrUnsupported) {
		if exists(p) {
			return edited(path)
		}
		err = m.r.Disk.Rename(m.staged(i), p)
	}
	if errors.Is(err, os.ErrExist) || errors.Is(err, os.ErrNotExist) { // somebody put a file there, or moved the folder away
		return edited(path)
	}
	return Name(err, p)
}

// makeDirs makes the folders above an incoming file; their names are synced with the others at the end.
func (m *mover) makeDirs(dir string) error {
	p := filepath.Join(m.r.Dir, dir)
	if dir == "." || exists(p) {
		return nil
	}
	up := filepath.Dir(dir)
	if err := m.makeDirs(up); err != nil {
		return err
	}
	m.dirs[up], m.dirs[dir] = true, true
	if err := m.r.Disk.Mkdir(p, 0o777); err != nil && !errors.Is(err, os.ErrExist) {
		return err
	}
	return nil
}

// replace exchanges a file with its new content in one step and looks at what came out: an edit of the last moment goes back.
func (m *mover) replace(i int) error {
	path := m.diffs[i].Path
	p := m.r.path(path)
	if !still(p, m.nodes[i]) {
		return edited(path)
	}
	m.touchDir(path)
	err := m.r.Disk.Swap(m.staged(i), p)
	switch {
	case err == nil:
		if !still(m.staged(i), m.nodes[i]) {
			_ = m.r.Disk.Swap(m.staged(i), p)
			return edited(path)
		}
		return nil
	case errors.Is(err, errors.ErrUnsupported):
		return Name(m.r.Disk.Rename(m.staged(i), p), p)
	case errors.Is(err, os.ErrNotExist):
		return edited(path)
	}
	return Name(err, p)
}

// prune removes folders that a deletion left empty.
func (m *mover) prune(dir string) {
	for dir != "." && dir != string(filepath.Separator) {
		if m.r.Disk.Remove(filepath.Join(m.r.Dir, dir)) != nil {
			return
		}
		delete(m.dirs, dir)
		dir = filepath.Dir(dir)
		m.dirs[dir] = true
	}
}

func (m *mover) removeEmpty(p string) error {
	es, err := os.ReadDir(p)
	if err != nil {
		return err
	}
	for _, e := range es {
		if !e.IsDir() {
			return errors.New("not empty")
		}
		if err := m.removeEmpty(filepath.Join(p, e.Name())); err != nil {
			return err
		}
	}
	return m.r.Disk.Remove(p)
}

func isNotDir(err error) bool {
	var pe *os.PathError
	return errors.As(err, &pe) && strings.Contains(pe.Err.Error(), "not a directory")
}
