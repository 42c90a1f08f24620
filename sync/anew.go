package sync

import (
	"caul/sync/settle"
	"caul/sync/store"
)

// beside keeps, in the tree of the working files, what was made anew where a cut-off move had taken a file away; see
// store.Unmoved.
func (x *session) beside(b *store.Batch, tree store.Hash, anew []store.Diff, shot *store.Shot) (store.Hash, error) {
	if len(anew) == 0 {
		return tree, nil
	}
	head, err := x.get(x.head)
	if err != nil {
		return tree, err
	}
	put := map[string]store.TreeEntry{}
	for _, d := range anew {
		old, err := x.repo.Objects.GetBlob(d.Old)
		if err != nil {
			return tree, err
		}
		if d.NewMode == store.ModeDir { // a folder stands there now
			put[settle.SecondName(d.Path, old)] = store.TreeEntry{Mode: d.OldMode, Hash: d.Old}
			continue
		}
		now, err := x.repo.Objects.GetBlob(d.New)
		if err != nil {
			return tree, err
		}
		at := shot.Edited[d.Path]
		if at.IsZero() {
			at = x.o.now()
		}
		out := settle.Beside(d.Path, settle.File{Exists: true, Data: old}, settle.File{Exists: true, Data: now},
			settle.Side{Machine: head.Author.Name, When: head.Author.When}, settle.Side{Machine: x.own.Machine, When: at})
		for _, f := range out.Files[1:] {
			put[f.Path] = store.TreeEntry{Mode: d.NewMode, Hash: d.New}
		}
		for _, r := range out.BothWays {
			h, err := b.Add(store.Blob, r.Marshal())
			if err != nil {
				return tree, err
			}
			put[r.Name()] = store.TreeEntry{Mode: store.ModeFile, Hash: h}
			x.addRecord(r.Name())
		}
		x.look(out.Notes...)
	}
	return b.Put(tree, put)
}
