package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// Repo is a shop's folder with its history.
type Repo struct {
	Dir     string // the shop
	Git     string // its .git folder
	Own     string // .git/caul: lock, journal and staging of this program
	Disk    Disk
	Objects *Objects
	Refs    *Refs
	cfg     settings
}

// DefaultBranch is the branch of a new shop.
const DefaultBranch = "main"

// path turns a shop path with slashes into one of the system.
func (r *Repo) path(p string) string { return filepath.Join(r.Dir, filepath.FromSlash(p)) }

// Init makes a history for the folder dir; an existing one is left as it is.
func Init(dir string, d Disk) error {
	git := filepath.Join(dir, ".git")
	if exists(filepath.Join(git, "HEAD")) {
		return nil
	}
	if err := MkdirAll(d, git, 0o777); err != nil {
		return Name(err, dir)
	}
	mode, fold, links := probe(git, d)
	conf := fmt.Sprintf("[core]\n\trepositoryformatversion = 0\n\tfilemode = %t\n\tbare = false\n\tlogallrefupdates = true\n\tautocrlf = false\n", mode)
	if fold {
		conf += "\tignorecase = true\n"
	}
	if !links {
		conf += "\tsymlinks = false\n"
	}
	return bareBones(git, conf, DefaultBranch, d)
}

// InitBare makes an empty repository without working files, as a remote.
func InitBare(dir, branch string, d Disk) error {
	if exists(filepath.Join(dir, "HEAD")) {
		return nil
	}
	conf := "[core]\n\trepositoryformatversion = 0\n\tfilemode = false\n\tbare = true\n"
	return bareBones(dir, conf, branch, d)
}

// bareBones writes what git asks for in a repository. HEAD comes last: git and caul take a folder without it for no repository,
// so a half-made one is simply made again.
func bareBones(git, conf, branch string, d Disk) error {
	for _, s := range []string{"objects/pack", "objects/info", "refs/heads", "refs/tags", "info"} {
		if err := MakeBelow(d, filepath.Dir(git), filepath.Join(git, filepath.FromSlash(s)), 0o777); err != nil {
			return Name(err, git)
		}
	}
	if !exists(filepath.Join(git, "config")) {
		if err := WriteFile(d, filepath.Join(git, "config"), []byte(conf), 0o666); err != nil {
			return Name(err, git)
		}
	}
	return Name(WriteFile(d, filepath.Join(git, "HEAD"), []byte("ref: refs/heads/"+branch+"\n"), 0o666), git)
}

// probe finds out what the file system can do: keep the executable bit, tell upper from lower case, hold symbolic links.
func probe(dir string, d Disk) (mode, fold, links bool) {
	p := filepath.Join(dir, "Probe-"+nonce())
	if f, err := d.Create(p, 0o666); err == nil {
		f.Close()
		defer os.Remove(p)
		if runtime.GOOS != "windows" && d.Chmod(p, 0o755) == nil {
			if a, err := os.Stat(p); err == nil && a.Mode()&0o100 != 0 && d.Chmod(p, 0o644) == nil {
				b, err := os.Stat(p)
				mode = err == nil && b.Mode()&0o100 == 0
			}
		}
		fold = exists(filepath.Join(dir, strings.ToLower(filepath.Base(p))))
	}
	l := filepath.Join(dir, "probe-link-"+nonce())
	if d.Symlink("x", l) == nil {
		links = true
		os.Remove(l)
	}
	return mode, fold, links
}

// Open opens the history of the shop at dir.
func Open(dir string, d Disk) (*Repo, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	git := filepath.Join(dir, ".git")
	fi, err := os.Stat(git)
	if err != nil {
		return nil, &Error{ErrNotAShop, dir, "run caul init there", nil}
	}
	if !fi.IsDir() {
		data, err := os.ReadFile(git)
		if err != nil {
			return nil, Name(err, git)
		}
		p, ok := strings.CutPrefix(strings.TrimSpace(string(data)), "gitdir: ")
		if !ok {
			return nil, &Error{ErrNotAShop, dir, "the file .git should name a folder", nil}
		}
		if git = p; !filepath.IsAbs(p) {
			git = filepath.Join(dir, p)
		}
	}
	if !exists(filepath.Join(git, "HEAD")) {
		return nil, &Error{ErrNotAShop, dir, "run caul init there", nil}
	}
	if exists(filepath.Join(git, "commondir")) {
		return nil, &Error{ErrUnhandled, dir, "open the main folder of this repository; this is a linked worktree", nil}
	}
	if exists(filepath.Join(git, "shallow")) {
		return nil, &Error{ErrUnhandled, dir, "run git fetch --unshallow: a cut-off history cannot be settled", nil}
	}
	cfg, err := loadSettings(git)
	if err != nil {
		return nil, err
	}
	r := &Repo{Dir: dir, Git: git, Own: filepath.Join(git, "caul"), Disk: d, cfg: cfg}
	r.Objects = OpenObjects(filepath.Join(git, "objects"), d)
	r.Refs = &Refs{Dir: git, disk: d, Patience: 2 * time.Second, Stale: 3 * time.Second, Sole: true}
	return r, nil
}

// OpenBare opens a remote repository folder for its objects and refs. stale is how long a lock must stand unchanged before it
// counts as left behind.
func OpenBare(dir string, d Disk, stale time.Duration) (*Objects, *Refs) {
	return OpenObjects(filepath.Join(dir, "objects"), d), &Refs{Dir: dir, disk: d, Patience: 5 * time.Second, Stale: stale, Remember: true}
}

// Close lets go of all open files.
func (r *Repo) Close() { r.Objects.Close() }

// Lock takes the lock against a second sync.
func (r *Repo) Lock(wait time.Duration) (*Lock, error) {
	if err := MakeBelow(r.Disk, r.Git, r.Own, 0o777); err != nil {
		return nil, Name(err, r.Own)
	}
	return TakeLock(filepath.Join(r.Own, "lock"), wait)
}

// LockToLook takes the lock for one that only looks, and so must not make its file: where there is none, nobody has synced yet.
func (r *Repo) LockToLook(wait time.Duration) (*Lock, error) {
	l, err := takeLock(filepath.Join(r.Own, "lock"), os.O_RDWR, wait)
	if errors.Is(err, os.ErrNotExist) {
		return &Lock{}, nil
	}
	return l, err
}

// Quiet refuses to work while git is in the middle of something of its own.
func (r *Repo) Quiet() error {
	for _, n := range []string{"MERGE_HEAD", "CHERRY_PICK_HEAD", "REVERT_HEAD", "rebase-merge", "rebase-apply"} {
		if exists(filepath.Join(r.Git, n)) {
			return &Error{ErrUnmerged, r.Dir, "finish it (git commit, git rebase --continue) or call it off (git merge --abort, git rebase --abort), then sync again", nil}
		}
	}
	return nil
}

// Branch is the full name of the branch the shop is on.
func (r *Repo) Branch() (string, error) {
	b, err := r.Refs.Symbolic("HEAD")
	if err == nil && b == "" {
		err = &Error{ErrUnhandled, r.Dir, "go back to a branch, for example: git switch main", errors.New("HEAD is detached")}
	}
	return b, err
}

// Head is the branch's name and its commit; the zero hash before the first.
func (r *Repo) Head() (string, Hash, error) {
	b, err := r.Branch()
	if err != nil {
		return "", Hash{}, err
	}
	h, err := r.Refs.Get(b)
	return b, h, err
}

// TreeOf is the tree of a commit; of the zero hash, the empty tree.
func (r *Repo) TreeOf(c Hash) (Hash, error) {
	if c.IsZero() {
		return EmptyTree, nil
	}
	ci, err := r.Objects.GetCommit(c)
	if err != nil {
		return Hash{}, err
	}
	return ci.Tree, nil
}

func (r *Repo) indexPath() string { return filepath.Join(r.Git, "index") }

// LoadIndex reads the index; where it is missing it is made anew from the last commit, so that the next look over the
// working files finds what changed.
func (r *Repo) LoadIndex(head Hash) (*Index, error) {
	x, err := ReadIndex(r.indexPath())
	if err != nil {
		return nil, err
	}
	if x.Unmerged() {
		return nil, &Error{ErrUnmerged, r.Dir, "finish the merge in git, then sync again", nil}
	}
	if x.raw == nil && !head.IsZero() {
		t, err := r.TreeOf(head)
		if err != nil {
			return nil, err
		}
		err = r.Objects.EachFile(t, "", func(p string, m Mode, h Hash) error {
			x.Entries = append(x.Entries, Entry{Path: p, Mode: m, Hash: h})
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return x, nil
}

// SaveIndex writes the index under git's own lock for it. When the index was changed by another program since it was read,
// nothing is written and ErrMoved comes back.
func (r *Repo) SaveIndex(x *Index) error {
	path := r.indexPath()
	lock := path + ".lock"
	// This program holds the shop's lock, so an index.lock with caul's mark was left behind by a kill: no need to wait.
	if err := takeFileLock(r.Disk, lock, r.Git, 3*time.Second, 0, true); err != nil {
		return err
	}
	err := func() error {
		fi, err := os.Stat(path)
		if (err == nil) != (x.raw != nil) || err == nil && (!os.SameFile(fi, x.raw) || !fi.ModTime().Equal(x.raw.ModTime()) || fi.Size() != x.raw.Size()) {
			return &Error{ErrMoved, path, "sync again", nil}
		}
		if err := WriteFile(r.Disk, path, x.encode(), 0o666); err != nil {
			return Name(err, path)
		}
		fi, err = os.Stat(path)
		if err != nil {
			return Name(err, path)
		}
		x.raw, x.Written = fi, fi.ModTime()
		return nil
	}()
	if rerr := r.Disk.Remove(lock); err == nil {
		err = Name(rerr, lock)
	}
	return err
}

// Reflog notes a move of the branch where git looks for it. It is a convenience: a failure is not an error.
func (r *Repo) Reflog(branch string, from, to Hash, w Who, why string) {
	line := fmt.Sprintf("%s %s %s\t%s\n", from, to, w.encode(), why)
	for _, n := range []string{"HEAD", branch} {
		p := filepath.Join(r.Git, "logs", filepath.FromSlash(n))
		if MakeBelow(r.Disk, r.Git, filepath.Dir(p), 0o777) != nil {
			return
		}
		if f, err := r.Disk.Append(p, 0o666); err == nil {
			_, _ = f.Write([]byte(line))
			_ = f.Close()
		}
	}
}

// Clean tells whether every file below a folder of the shop is in the last commit as it stands.
func (r *Repo) Clean(dir string) (bool, error) {
	rel, err := filepath.Rel(r.Dir, dir)
	if err != nil {
		return false, err
	}
	_, head, err := r.Head()
	if err != nil {
		return false, err
	}
	tree, err := r.TreeOf(head)
	if err != nil {
		return false, err
	}
	ok := true
	err = filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		sub, err := filepath.Rel(dir, p)
		if err != nil {
			return err
		}
		fi, err := d.Info()
		if err != nil {
			return err
		}
		e, err := r.Objects.Find(tree, filepath.ToSlash(filepath.Join(rel, sub)))
		if err != nil {
			return err
		}
		data, err := readNode(p, nodeOf("", fi).mode)
		if err != nil {
			return err
		}
		if e.Mode == 0 || e.Hash != HashOf(Blob, data) {
			ok = false
			return filepath.SkipAll
		}
		return nil
	})
	return ok, Name(err, dir)
}

// WriteWork replaces a working file as a whole. The new file is made beside the lock, not beside the file: what a kill leaves
// behind must not look like a file of the shop.
func (r *Repo) WriteWork(path string, data []byte) error {
	p := r.path(path)
	if err := MakeBelow(r.Disk, r.Dir, filepath.Dir(p), 0o777); err != nil {
		return Name(err, p)
	}
	if err := MakeBelow(r.Disk, r.Git, r.Own, 0o777); err != nil {
		return Name(err, p)
	}
	tmp, err := writeTemp(r.Disk, filepath.Join(r.Own, "work"), data, 0o666)
	if err != nil {
		return Name(err, p)
	}
	if err := r.Disk.Rename(tmp, p); err != nil {
		_ = r.Disk.Remove(tmp)
		return Name(err, p)
	}
	return Name(r.Disk.SyncDir(filepath.Dir(p)), p)
}

// Tidy removes what cut-off writes left behind. The caller holds the shop's lock.
func (r *Repo) Tidy() {
	r.Objects.Tidy()
	for _, dir := range []string{r.Git, r.Own} {
		es, err := os.ReadDir(dir)
		if err != nil {
			continue
		}
		for _, e := range es {
			n := e.Name()
			if strings.HasSuffix(n, ".tmp") && (dir == r.Own || strings.HasPrefix(n, "index.") || strings.HasPrefix(n, "caul-")) {
				_ = r.Disk.Remove(filepath.Join(dir, n))
			}
		}
	}
}
