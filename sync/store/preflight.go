package store

import (
	"errors"
	"os"
	"path/filepath"
)

// preflight checks every touched path before the first write.
func (m *mover) preflight() error {
	r := m.r
	m.nodes, m.done, m.came = make([]node, len(m.diffs)), make([]bool, len(m.diffs)), make([]node, len(m.diffs))
	going := map[string]bool{}
	for _, d := range m.diffs {
		if d.NewMode == 0 {
			going[d.Path] = true
		}
	}
	parents := map[string]error{}
	for i, d := range m.diffs {
		if d.NewMode != 0 && d.OldMode == 0 {
			if why := unsafeName(d.Path); why != "" {
				return &Error{ErrUnsafe, d.Path, "rename it on the machine it came from (" + why + ")", nil}
			}
			if err := m.canHold(d.Path); err != nil {
				return err
			}
		}
		if d.OldMode == ModeSub || d.NewMode == ModeSub {
			m.done[i] = true // carried in the history only
			continue
		}
		if err := m.parent(filepath.Dir(filepath.FromSlash(d.Path)), going, parents); err != nil {
			return err
		}
		fi, err := os.Lstat(r.path(d.Path))
		gone := errors.Is(err, os.ErrNotExist) || isNotDir(err)
		if err != nil && !gone {
			return Name(err, r.path(d.Path))
		}
		switch {
		case gone && d.OldMode == 0:
		case gone && d.NewMode == 0:
			m.done[i] = true
		case gone:
			return &Error{ErrEdited, d.Path, "sync again", errors.New("it was deleted")}
		case fi.IsDir() && d.OldMode == 0:
			if !m.emptied(d.Path, going) {
				return &Error{ErrInTheWay, d.Path, "move the folder " + d.Path + " out of the shop, then sync again", nil}
			}
		case fi.IsDir():
			return &Error{ErrEdited, d.Path, "sync again", errors.New("it became a folder")}
		default:
			n := nodeOf(filepath.Base(d.Path), fi)
			same, isNew, err := r.holds(d, n)
			if err != nil {
				return err
			}
			switch {
			case isNew:
				m.done[i], m.came[i] = true, n
			case d.OldMode == 0:
				return &Error{ErrInTheWay, d.Path, "move or rename your " + d.Path + ", then sync again", nil}
			case !same:
				return &Error{ErrEdited, d.Path, "sync again", nil}
			}
			m.nodes[i] = n
		}
	}
	return m.folds()
}

// holds reads a file and tells whether it is the old or the new side of a change.
func (r *Repo) holds(d Diff, n node) (old, new bool, err error) {
	data, err := readNode(r.path(d.Path), n.mode)
	if err != nil {
		if errors.Is(err, errChanged) || errors.Is(err, os.ErrNotExist) {
			return false, false, nil
		}
		return false, false, Name(err, r.path(d.Path))
	}
	h := HashOf(Blob, data)
	old = d.OldMode != 0 && h == d.Old && r.sameMode(d.OldMode, n.mode)
	new = d.NewMode != 0 && h == d.New && r.sameMode(d.NewMode, n.mode)
	return old, new, nil
}

// parent makes sure that no folder above a path is a link or an ignored file.
func (m *mover) parent(dir string, going map[string]bool, known map[string]error) error {
	if dir == "." {
		return nil
	}
	if err, ok := known[dir]; ok {
		return err
	}
	err := m.parent(filepath.Dir(dir), going, known)
	if err == nil {
		fi, serr := os.Lstat(filepath.Join(m.r.Dir, dir))
		slash := filepath.ToSlash(dir)
		if serr == nil && !fi.IsDir() && !going[slash] {
			err = &Error{ErrInTheWay, slash, "a folder of that name comes in: move or rename your " + slash + ", then sync again", nil}
		}
	}
	known[dir] = err
	return err
}

// emptied tells whether every file below a folder goes in this same move.
func (m *mover) emptied(path string, going map[string]bool) bool {
	ok := true
	_ = filepath.WalkDir(m.r.path(path), func(p string, d os.DirEntry, err error) error {
		if err != nil {
			ok = false
			return err
		}
		if d.IsDir() {
			return nil
		}
		rel, err := filepath.Rel(m.r.Dir, p)
		if err != nil || !going[filepath.ToSlash(rel)] {
			ok = false
			return filepath.SkipAll
		}
		return nil
	})
	return ok
}

// folds refuses, on a disk that does not tell upper from lower case, an incoming name that would fall on another one.
func (m *mover) folds() error {
	if !m.r.cfg.ignoreCase {
		return nil
	}
	at := map[string]string{}
	gone := map[string]bool{}
	for _, d := range m.diffs {
		if d.NewMode == 0 {
			gone[d.Path] = true
		}
	}
	clash := func(p string) error {
		f := Fold(p)
		if q, ok := at[f]; ok && q != p {
			return &Error{ErrUnsafe, p, "on this disk it falls on " + q + "; rename one of them on the machine it came from", nil}
		}
		at[f] = p
		return nil
	}
	for i := range m.x.Entries {
		if p := m.x.Entries[i].Path; !gone[p] {
			at[Fold(p)] = p
		}
	}
	for _, d := range m.diffs {
		if d.OldMode == 0 && d.NewMode != 0 {
			if err := clash(d.Path); err != nil {
				return err
			}
		}
	}
	return nil
}
