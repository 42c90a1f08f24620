package store

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

// Apply moves the working files from what the index x says they hold to the tree of the commit to, then the index, then the
// branch from the commit from. Any file that no longer holds what the index says makes it stop with ErrEdited: before the
// first write, nothing is changed; later, the journal stays and Recover sorts it out. No edit is overwritten.
func (r *Repo) Apply(x *Index, branch string, from, to Hash, who Who, why string) error {
	tree, err := r.TreeOf(to)
	if err != nil {
		return err
	}
	start, err := r.indexTree(x)
	if err != nil {
		return err
	}
	m := &mover{r: r, x: x}
	if m.diffs, err = r.Objects.DiffTrees(start, tree); err != nil {
		return err
	}
	if err := m.preflight(); err != nil {
		return err
	}
	j := journal{Branch: branch, From: from.String(), To: to.String(), Start: start.String(), Tree: tree.String()}
	was, err := r.readJournal()
	if err != nil {
		return err
	}
	if was != nil {
		if j.Past = was.Past; was.To != j.To {
			j.Past = append(j.Past, was.To)
		}
		if j.Away, err = r.away(was); err != nil {
			return err
		}
		j.Turn = was.Turn + 1
	}
	m.turn = j.Turn
	defer func() {
		if m.whole != nil {
			m.whole.Close()
		}
	}()
	data, err := json.Marshal(j)
	if err != nil {
		return err
	}
	if err := WriteFile(r.Disk, r.journalPath(), append(data, '\n'), 0o666); err != nil {
		return Name(err, r.Own)
	}
	if len(m.diffs) > 0 {
		if err := m.stage(); err != nil {
			// Nothing of the shop is touched yet by this move: take the journal back, as far as the disk lets us.
			m.unstage()
			if was == nil {
				_ = r.dropJournal()
			}
			return err
		}
		if err := m.move(); err != nil {
			return err
		}
		if err := m.index(tree); err != nil {
			return err
		}
	}
	if from != to {
		if err := r.Refs.Set(branch, from, to); err != nil {
			return err
		}
		r.Reflog(branch, from, to, who, why)
	}
	m.unstage()
	return r.dropJournal()
}

// indexTree is the tree the index stands for; the snapshot before has made it.
func (r *Repo) indexTree(x *Index) (Hash, error) {
	b := r.Objects.NewBatch(true)
	t, err := x.WriteTree(b)
	if err == nil && len(b.list) > 0 { // must be on disk before the journal names it
		b.dry = false
		err = b.Flush()
	}
	return t, err
}

type mover struct {
	r     *Repo
	x     *Index
	diffs []Diff
	nodes []node // what each path held at preflight
	done  []bool // it already holds the new content
	came  []node // what each staged file was when it was whole
	dirs  map[string]bool
	held  map[string]error // names tried on this disk
	turn  int
	whole Whole // the disk of the shop, when it is synced as a whole; nil when file by file
}

func (m *mover) staged(i int) string { return filepath.Join(m.r.stageDir(m.turn), strconv.Itoa(i)) }

// index writes the index that goes with the moved files.
func (m *mover) index(tree Hash) error {
	now := time.Now()
	drop := map[int]bool{}
	var fresh []Entry
	for k, d := range m.diffs {
		i, ok := m.x.lookup(d.Path)
		m.x.Tree.touch(d.Path)
		if d.NewMode == 0 {
			if ok {
				drop[i] = true
			}
			continue
		}
		e := Entry{Path: d.Path, Mode: d.NewMode, Hash: d.New}
		// Without stamps the file is read at the next look.
		if fi, err := os.Lstat(m.r.path(d.Path)); err == nil && d.NewMode != ModeSub && same(nodeOf("", fi), m.came[k]) {
			e.Stat = nodeOf("", fi).stat
			if t := fi.ModTime(); !t.Before(now.Add(-slack(e.Stat.MtimeN))) {
				e.Stat.Size = 0
			}
		}
		if ok {
			m.x.Entries[i] = e
		} else {
			fresh = append(fresh, e)
		}
	}
	m.x.replace(drop, fresh)
	b := m.r.Objects.NewBatch(true)
	got, err := m.x.WriteTree(b)
	b.Drop()
	if err == nil && got != tree {
		err = &Error{ErrDamaged, m.r.indexPath(), "sync again", errors.New("the index does not give the tree that was settled")}
	}
	if err != nil {
		return err
	}
	return m.r.SaveIndex(m.x)
}
