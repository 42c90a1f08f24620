package remote

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"caul/sync/store"
)

// A folder remote is a bare git repository in the folder caul.git of the folder that was named, or the named folder itself
// when it is a repository already. Bare, because working files on a stick would be one more place to edit, and vfat keeps
// neither modes nor links; a repository, because every git program reads it and everything in it is written once under a name
// of digits and small letters: nothing in it depends on upper and lower case, modes, links, or times finer than two seconds.
// A folder of its own, so that the maker may keep other things on the stick.

// FolderRepo is the name of the repository in a folder remote.
const FolderRepo = "caul.git"

// isRepo tells a bare repository.
func isRepo(dir string) bool {
	for _, n := range []string{"HEAD", "objects", "refs"} {
		if _, err := os.Stat(filepath.Join(dir, n)); err != nil {
			return false
		}
	}
	return true
}

type folder struct {
	dir   string
	objs  *store.Objects
	refs  *store.Refs
	disk  store.Disk
	fresh bool
	busy  bool // the branch is checked out there
}

func dialFolder(s Spec, e *Env) (Conn, error) {
	fi, err := os.Stat(s.URL)
	if err != nil || !fi.IsDir() {
		named := store.Name(err, s.URL)
		if err == nil || errors.Is(err, os.ErrNotExist) {
			return nil, &store.Error{Kind: ErrAbsent, Path: s.URL, Hint: "plug the stick in or connect the share, then sync again"}
		}
		return nil, named
	}
	f := &folder{disk: e.Disk}
	switch {
	case isRepo(s.URL):
		f.dir = s.URL
	case isRepo(filepath.Join(s.URL, FolderRepo)):
		f.dir = filepath.Join(s.URL, FolderRepo)
	case isRepo(filepath.Join(s.URL, ".git")):
		f.dir, f.busy = filepath.Join(s.URL, ".git"), true
	default:
		// Where a stick is put in the tree by hand, its folder stays when it is gone, and is empty: what is written there would lie
		// on this machine's own disk, and never reach the other.
		if es, err := os.ReadDir(s.URL); s.Met && err == nil && len(es) == 0 {
			return nil, &store.Error{Kind: ErrAbsent, Path: s.URL, Hint: "it was synced with before and is an empty folder now: plug the stick in or connect the share; if this is a new, empty one: caul remote forget " + s.Name + ", then caul remote add " + s.Name + " " + s.URL}
		}
		f.dir, f.fresh = filepath.Join(s.URL, FolderRepo), true
	}
	f.objs, f.refs = store.OpenBare(f.dir, e.Disk, e.stale())
	return f, nil
}

// Close lets go of the stick.
func (f *folder) Close() error {
	f.objs.Close()
	return nil
}

// Refs lists what the folder has.
func (f *folder) Refs(context.Context) (*Advert, error) {
	if f.fresh {
		return &Advert{}, nil
	}
	refs, err := f.refs.All()
	if err != nil {
		return nil, gone(err, f.dir)
	}
	head, err := f.refs.Symbolic("HEAD")
	if err != nil {
		return nil, gone(err, f.dir)
	}
	return &Advert{Refs: refs, Head: head}, nil
}

// gone names a stick that went away while it was being read.
func gone(err error, dir string) error {
	if err == nil {
		return nil
	}
	if _, serr := os.Stat(dir); serr != nil && !errors.Is(err, store.ErrReadOnly) && !errors.Is(err, store.ErrFull) {
		return &store.Error{Kind: store.ErrGone, Path: dir, Hint: "put the stick or share back and sync again; nothing was lost", Err: err}
	}
	return store.Name(err, dir)
}

// Fetch copies what is missing into the store, as one pack.
func (f *folder) Fetch(ctx context.Context, tip store.Hash, known []store.Hash, into *store.Objects) error {
	if f.fresh {
		return &store.Error{Kind: ErrNoRepo, Path: f.dir, Hint: "sync a machine that has the shop first"}
	}
	err := transfer(ctx, f.objs, into, tip, known)
	return gone(err, f.dir)
}

// transfer copies all that tip reaches and known does not from one store to another. known are commits that the receiving
// store has in full; they need not be in the other.
func transfer(ctx context.Context, from, to *store.Objects, tip store.Hash, known []store.Hash) error {
	commits, err := store.Since(store.Either(from, to), []store.Hash{tip}, known)
	if err != nil {
		return err
	}
	list, err := from.ObjectsOf(commits)
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	var need []store.Hash
	for _, h := range list {
		ok, err := to.Has(h)
		if err != nil {
			return err
		}
		if !ok {
			need = append(need, h)
		}
	}
	if need, err = to.CopyPacks(from, need); err != nil {
		return err
	}
	return to.CopyFrom(from, need)
}

// Push copies what is missing to the folder, then moves the branch.
func (f *folder) Push(ctx context.Context, ref string, old, new store.Hash, known []store.Hash, from *store.Objects) error {
	if f.busy {
		head, err := f.refs.Symbolic("HEAD")
		if err != nil {
			return gone(err, f.dir)
		}
		if head == ref {
			return &store.Error{Kind: ErrCheckout, Path: filepath.Dir(f.dir), Hint: "sync through an empty folder, a stick, or caul bench --lan; pushing under somebody's working files would turn their next commit back"}
		}
	}
	if f.fresh {
		if err := store.InitBare(f.dir, filepath.Base(ref), f.disk); err != nil {
			return gone(err, f.dir)
		}
		f.fresh = false
		f.objs.Close()
	}
	err := transfer(ctx, from, f.objs, new, known)
	if err == nil {
		err = f.refs.Set(ref, old, new)
	}
	if err == nil {
		_ = f.objs.Gather() // it can wait for the next time
	}
	if errors.Is(err, store.ErrMoved) {
		return err
	}
	return gone(err, f.dir)
}
