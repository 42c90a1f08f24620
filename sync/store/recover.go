package store

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strconv"
)

// Recover finishes a move that was cut off. Files that hold the old or the new content are moved on. When there are hand edits
// among them, or git moved the branch, the commits that were on their way come back instead, for the caller to commit those
// edits and settle anew; Unmoved tells the edits from what the move itself did. With no journal it does nothing.
func (r *Repo) Recover(who Who) (pending []Hash, err error) {
	j, err := r.readJournal()
	if err != nil {
		return nil, err
	}
	if j == nil {
		r.clearStage()
		return nil, nil
	}
	to, ok := goodHash(j.To)
	start, ok2 := goodHash(j.Start)
	tree, ok3 := goodHash(j.Tree)
	if !ok || !ok2 || !ok3 {
		return nil, &Error{ErrDamaged, r.journalPath(), "delete this file and sync again: the incoming work is fetched anew", nil}
	}
	pending = j.pending()
	diffs, err := r.Objects.DiffTrees(start, tree)
	if err != nil {
		return nil, err
	}
	if err := r.rescue(j.Turn, diffs); err != nil {
		return nil, err
	}
	branch, head, err := r.Head()
	if err != nil {
		return nil, err
	}
	if head == to {
		r.clearStage()
		return nil, r.dropJournal()
	}
	if branch != j.Branch || head.String() != j.From {
		return pending, nil
	}
	x, err := r.LoadIndex(head)
	if err != nil {
		return nil, err
	}
	mixed, pure, err := r.mixed(x, diffs, start, tree)
	if err != nil || !pure {
		return pending, err
	}
	err = r.Apply(mixed, branch, head, to, who, "sync: carried on after a break")
	if errors.Is(err, ErrEdited) || errors.Is(err, ErrInTheWay) {
		return pending, nil
	}
	return nil, err
}

// Pending gives what Recover would, as far as that can be told by looking: the commits that were on their way in a move that
// was cut off. Nothing is changed.
func (r *Repo) Pending() ([]Hash, error) {
	j, err := r.readJournal()
	if err != nil || j == nil {
		return nil, err
	}
	_, head, err := r.Head()
	if err != nil || head.String() == j.To {
		return nil, err
	}
	return j.pending(), nil
}

// away lists the paths that a cut-off move, and those before it, took out of the shop: their files lie in its staging folder.
func (r *Repo) away(j *journal) ([]string, error) {
	out := j.Away
	es, err := os.ReadDir(r.stageDir(j.Turn))
	if errors.Is(err, os.ErrNotExist) {
		return out, nil
	}
	if err != nil {
		return nil, Name(err, r.Own)
	}
	start, ok := goodHash(j.Start)
	tree, ok2 := goodHash(j.Tree)
	if !ok || !ok2 {
		return nil, &Error{ErrDamaged, r.journalPath(), "delete this file and sync again: the incoming work is fetched anew", nil}
	}
	diffs, err := r.Objects.DiffTrees(start, tree)
	if err != nil {
		return nil, err
	}
	for _, e := range es {
		if i, err := strconv.Atoi(e.Name()); err == nil && i >= 0 && i < len(diffs) && diffs[i].NewMode == 0 {
			out = append(out, diffs[i].Path)
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// Unmoved gives the tree of the working files without what half-done moves did to them: where a file holds what one of the
// pending commits brought, or is gone as there, it counts as the head has it. What is left differs from the head by hand.
//
// A file that a move had taken away and that stands there again was made by somebody who did not see the old one. It must not
// pass for an edit of it, which would say that all the old one held was struck out: the tree has the old file, and the new one
// comes back as anew (Old is the head's, New the working file's), for the caller to keep beside it.
func (r *Repo) Unmoved(b *Batch, files, head Hash, pending []Hash) (tree Hash, anew []Diff, err error) {
	put := map[string]TreeEntry{}
	for _, c := range pending {
		t, err := r.TreeOf(c)
		if err != nil {
			return files, nil, err
		}
		ds, err := r.Objects.DiffTrees(head, t)
		if err != nil {
			return files, nil, err
		}
		for _, d := range ds {
			e, err := r.Objects.Find(files, d.Path)
			if err != nil {
				return files, nil, err
			}
			if e.Mode == ModeDir {
				continue // see below
			}
			if e.Hash == d.New && (e.Mode == d.NewMode || e.Mode.IsFile() && d.NewMode.IsFile()) {
				put[d.Path] = TreeEntry{Mode: d.OldMode, Hash: d.Old}
			}
		}
	}
	j, err := r.readJournal()
	if err != nil {
		return files, nil, err
	}
	var away []string
	if j != nil {
		if away, err = r.away(j); err != nil {
			return files, nil, err
		}
	}
	for _, p := range away {
		old, err := r.Objects.Find(head, p)
		if err != nil {
			return files, nil, err
		}
		now, err := r.Objects.Find(files, p)
		if err != nil {
			return files, nil, err
		}
		if _, known := put[p]; known || old.Mode == 0 || old.Mode == ModeDir || now.Mode == 0 || now.Hash == old.Hash {
			continue
		}
		anew = append(anew, Diff{p, old.Mode, now.Mode, old.Hash, now.Hash})
		if now.Mode != ModeDir {
			put[p] = TreeEntry{Mode: old.Mode, Hash: old.Hash}
		}
	}
	// What goes, goes first: a file of the move may stand where the head has a folder.
	del, add := map[string]TreeEntry{}, map[string]TreeEntry{}
	for p, e := range put {
		if e.Mode == 0 {
			del[p] = e
		} else {
			add[p] = e
		}
	}
	if files, err = b.Put(files, del); err != nil {
		return files, nil, err
	}
	files, err = b.Put(files, add)
	return files, anew, err
}

// Unfinished tells whether a move of the working files was cut off.
func (r *Repo) Unfinished() bool { return exists(r.journalPath()) }

// Settled drops the journal of a move whose commit has been settled in another way.
func (r *Repo) Settled() error {
	r.clearStage()
	if !exists(r.journalPath()) {
		return nil
	}
	return r.dropJournal()
}

// rescue looks for edits that were caught on their way out of the shop when the power went, and puts them back.
func (r *Repo) rescue(turn int, diffs []Diff) error {
	es, err := os.ReadDir(r.stageDir(turn))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return Name(err, r.Own)
	}
	for _, e := range es {
		i, err := strconv.Atoi(e.Name())
		if err != nil || i < 0 || i >= len(diffs) {
			continue
		}
		d := diffs[i]
		p := filepath.Join(r.stageDir(turn), e.Name())
		fi, err := os.Lstat(p)
		if err != nil {
			return Name(err, p)
		}
		n := nodeOf(e.Name(), fi)
		data, err := readNode(p, n.mode)
		if err != nil {
			return Name(err, p)
		}
		if h := HashOf(Blob, data); h == d.Old || h == d.New {
			continue
		}
		// Neither the old nor the new content: a hand edit, or an incoming file cut off while it was staged. The latter only
		// happens before the first move, when the shop still holds the old file or none.
		cur, cerr := os.Lstat(r.path(d.Path))
		if cerr == nil && !cur.IsDir() {
			old, isNew, err := r.holds(d, nodeOf("", cur))
			if err != nil {
				return err
			}
			if old || !isNew {
				continue
			}
			if err := r.Disk.Rename(p, r.path(d.Path)); err != nil { // the new content is in the history
				return Name(err, p)
			}
			continue
		}
		if d.NewMode == 0 && errors.Is(cerr, os.ErrNotExist) {
			if err := MakeBelow(r.Disk, r.Dir, filepath.Dir(r.path(d.Path)), 0o777); err != nil {
				return Name(err, p)
			}
			if err := r.Disk.Rename(p, r.path(d.Path)); err != nil {
				return Name(err, p)
			}
		}
	}
	return nil
}

// mixed builds the index of a half-moved shop; pure is false when some file holds neither the old nor the new content,
// or the index neither: then git has put into it what a hand did, and a file that is as the index says is no file of the move.
func (r *Repo) mixed(x *Index, diffs []Diff, start, tree Hash) (*Index, bool, error) {
	b := r.Objects.NewBatch(false)
	defer b.Drop()
	now, err := x.WriteTree(b)
	if err == nil {
		err = b.Flush() // the index vouches for these folders from now on
	}
	if err != nil {
		return nil, false, err
	}
	arrived := now == tree // the index was written, so every file was moved: what differs now is a hand edit
	at := map[string]Diff{}
	for _, d := range diffs {
		at[d.Path] = d
	}
	staged, err := r.Objects.DiffTrees(start, now)
	if err != nil {
		return nil, false, err
	}
	for _, d := range staged {
		if m, ok := at[d.Path]; !ok || d.New != m.New || d.NewMode != m.NewMode {
			return nil, false, nil
		}
	}
	w, err := r.walk(x)
	if err != nil {
		return nil, false, err
	}
	if arrived && len(w.gone) > 0 {
		return nil, false, nil
	}
	drop := map[int]bool{}
	var fresh []Entry
	for _, i := range w.gone {
		p := x.Entries[i].Path
		d, ok := at[p]
		if !ok || d.NewMode != 0 && d.OldMode != 0 {
			return nil, false, nil
		}
		drop[i] = true
		x.Tree.touch(p)
	}
	for _, f := range w.maybe {
		d, ok := at[f.path]
		data, err := readNode(r.path(f.path), f.node.mode)
		if err != nil {
			return nil, false, nil
		}
		h := HashOf(Blob, data)
		if f.at >= 0 && h == x.Entries[f.at].Hash && r.sameMode(x.Entries[f.at].Mode, f.node.mode) {
			continue
		}
		old, isNew := false, false
		if ok {
			if old, isNew, err = r.holds(d, f.node); err != nil {
				return nil, false, err
			}
		}
		if !old && !isNew || arrived {
			return nil, false, nil
		}
		e := Entry{Path: f.path, Hash: h, Mode: f.node.mode}
		if m := d.NewMode; isNew {
			e.Mode = m
		} else {
			e.Mode = d.OldMode
		}
		x.Tree.touch(f.path)
		if f.at >= 0 {
			x.Entries[f.at] = e
		} else {
			fresh = append(fresh, e)
		}
	}
	x.replace(drop, fresh)
	return x, true, nil
}
