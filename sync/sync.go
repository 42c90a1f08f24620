package sync

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"caul/sync/remote"
	"caul/sync/store"
)

// Trouble of a sync as a whole.
var (
	ErrUnrelated = errors.New("the remote holds another shop's history")
	ErrRewritten = errors.New("the remote's history was rewritten")
	ErrEmptied   = errors.New("every file of the shop is gone")
	ErrRestless  = errors.New("files kept changing while the sync ran")
)

// Options say how to sync.
type Options struct {
	// DryRun changes nothing, here or at the remotes, and reports what a sync would do.
	DryRun bool
	// Only names the remotes to sync with; none means all.
	Only []string
	// Now gives the time of new commits; nil means the computer's clock.
	Now func() time.Time
	// Progress gets short notes on what goes on; may be nil.
	Progress func(string)
	// Ask puts a yes-or-no question (a host met for the first time); nil means no.
	Ask func(question string) bool
	// Describe makes the commit message; nil means the usual shop words.
	Describe func([]Change) string
	// Reread reads a settled file as strictly as the program will; nil means no check.
	Reread func(path string, data []byte) error
	// RereadShop reads the shop's own files and the named jobs of a settled folder as strictly as the program will; nil means no
	// check.
	RereadShop func(fsys fs.FS, jobs []string) error
	// Join lets two shops that never met become one.
	Join bool
	// Rewritten lets a remote whose history was rewritten be settled with: what it dropped comes back from this machine.
	Rewritten bool
	// Emptied lets a sync go on although every file of the shop is gone.
	Emptied bool
	// Getenv reads the environment for tokens and the ssh agent; nil means os.Getenv.
	Getenv func(string) string
	// Home is the user's folder for .ssh; empty means os.UserHomeDir.
	Home string
	// Secret gives a peer's pairing token by remote name.
	Secret func(remote string) string
}

func (o *Options) now() time.Time {
	if o.Now != nil {
		return o.Now()
	}
	return time.Now()
}

func (o *Options) note(f string, a ...any) {
	if o.Progress != nil {
		o.Progress(fmt.Sprintf(f, a...))
	}
}

// tries bounds how often a sync starts over because files or refs changed under it.
const tries = 12

// session is one sync under way.
type session struct {
	*Shop
	ctx    context.Context
	o      Options
	rep    *Report
	branch string
	head   store.Hash
	index  *store.Index
	batch  *store.Batch // of a dry run: all that would be written
	dry    bool
	temps  []string // folders of a dry run
	// pending are commits whose files are half moved in; see store.Unmoved.
	pending []store.Hash
	// distrust asks for reading every file at the next look: one held something else than its stamps said.
	distrust bool
}

// Sync commits what changed here and brings this machine and the remotes in step. A remote that is missing or fails does not
// keep the others from being synced; the error is of this machine itself. It is safe to stop it at any moment and run it again.
func (s *Shop) Sync(ctx context.Context, o Options) (*Report, error) {
	if s.own.Machine == "" {
		return nil, &store.Error{Kind: ErrNoMachine, Path: s.repo.Dir, Hint: "name it first, for example: caul machine shop"}
	}
	todo, err := s.chosen(o.Only)
	if err != nil {
		return nil, err
	}
	lock := s.repo.Lock
	if o.DryRun {
		lock = s.repo.LockToLook
	}
	l, err := lock(s.lockWait())
	if err != nil {
		return nil, err
	}
	defer l.Release()
	defer s.repo.Close()
	x := &session{Shop: s, ctx: ctx, o: o, dry: o.DryRun, rep: &Report{Machine: s.own.Machine, At: o.now(), DryRun: o.DryRun, Remotes: []RemoteReport{}}}
	if err := x.begin(); err != nil {
		return x.rep, err
	}
	if x.dry {
		defer func() {
			x.batch.Drop()
			s.repo.Objects.Unborrow()
			for _, t := range x.temps {
				os.RemoveAll(t)
			}
		}()
	}
	x.rep.Remotes = make([]RemoteReport, len(todo))
	conns := make([]*link, len(todo))
	defer func() {
		for _, c := range conns {
			if c != nil {
				c.conn.Close()
			}
		}
	}()
	for i, r := range todo {
		rr := &x.rep.Remotes[i]
		*rr = RemoteReport{Name: r.Name, URL: r.URL, Kind: r.Kind, State: InStep}
		o.note("%s: %s", r.Name, r.URL)
		if r.Kind == remote.Group {
			rr.State = Offered
			if rr.Bundles, err = Bundles(r.URL); err != nil {
				rr.fail(absent(err, r))
			}
			continue
		}
		c, err := x.dial(r)
		if err == nil {
			conns[i] = c
			err = x.with(c, rr)
		}
		if err != nil {
			if fatal(err) {
				return x.rep, err
			}
			rr.fail(err)
		}
	}
	// What a later remote brought still has to reach the earlier ones.
	for i, c := range conns {
		if c == nil || x.rep.Remotes[i].State != InStep || c.tip == x.head {
			continue
		}
		if err := x.with(c, &x.rep.Remotes[i]); err != nil {
			if fatal(err) {
				return x.rep, err
			}
			x.rep.Remotes[i].fail(err)
		}
	}
	x.rep.Head = x.head.String()
	if !x.dry {
		_ = s.repo.Objects.Gather() // it can wait for the next time
	}
	return x.rep, nil
}

// local marks an error of this machine's own disk or files, after which going on with other remotes makes no sense.
type local struct{ error }

func (l local) Unwrap() error { return l.error }

func own(err error) error {
	if err == nil {
		return nil
	}
	return local{err}
}

func fatal(err error) bool {
	var l local
	return errors.As(err, &l) || errors.Is(err, context.Canceled)
}

func absent(err error, r Remote) error {
	if errors.Is(err, os.ErrNotExist) {
		return &store.Error{Kind: remote.ErrAbsent, Path: r.URL, Hint: "plug the stick in or connect the share, then sync again"}
	}
	return err
}

func (s *Shop) chosen(only []string) ([]Remote, error) {
	if len(only) == 0 {
		return s.Remotes(), nil
	}
	var out []Remote
	for _, n := range only {
		found := false
		for _, r := range s.own.Remotes {
			if r.Name == n {
				out, found = append(out, r), true
			}
		}
		if !found {
			return nil, &store.Error{Kind: ErrNoRemote, Path: n, Hint: "`caul remote` lists them"}
		}
	}
	return out, nil
}

func (x *session) who() store.Who {
	return store.Who{Name: x.own.Machine, Email: mail(x.own.Machine), When: x.o.now()}
}

// mail makes the address git wants. The domain is one that RFC 2606 keeps from ever existing.
func mail(machine string) string {
	return strings.ToLower(strings.ReplaceAll(machine, " ", "-")) + "@caul.invalid"
}

// begin carries on from a cut-off sync and commits what changed here.
func (x *session) begin() error {
	r := x.repo
	if x.dry {
		x.batch = r.Objects.NewBatch(true)
		var err error
		if x.pending, err = r.Pending(); err != nil {
			return err
		}
		x.rep.Resumed = r.Unfinished()
	} else {
		r.Tidy()
		if err := r.Quiet(); err != nil {
			return err
		}
		if err := x.recover(); err != nil {
			return err
		}
	}
	if err := r.Quiet(); err != nil {
		return err
	}
	if err := x.commit(); err != nil {
		return err
	}
	return x.catchUp()
}

// recover carries on a move that was cut off, or notes what was on its way.
func (x *session) recover() error {
	was := x.repo.Unfinished()
	p, err := x.repo.Recover(x.who())
	if was && err == nil {
		x.rep.Resumed = true
	}
	x.pending = p
	return err
}

// catchUp settles what was on its way in a move that hand edits cut off.
func (x *session) catchUp() error {
	if len(x.pending) == 0 {
		return nil
	}
	for _, p := range x.pending {
		if err := x.integrate(p, nil); err != nil {
			return err
		}
	}
	if x.dry {
		return nil
	}
	if len(x.pending) > 0 {
		// All of it is in the branch already, only the files are not where it has them.
		if err := x.repo.Apply(x.index, x.branch, x.head, x.head, x.who(), ""); err != nil {
			return err
		}
		x.pending = nil
	}
	return x.repo.Settled()
}

// commit looks over the working files and commits what changed. It starts over when git commits at the same time.
func (x *session) commit() error {
	for range tries {
		err := x.commitOnce()
		if !errors.Is(err, store.ErrMoved) {
			return err
		}
	}
	return &store.Error{Kind: ErrRestless, Path: x.repo.Dir, Hint: "let the other program finish, then sync again"}
}

func (x *session) commitOnce() error {
	r := x.repo
	var err error
	if x.branch, x.head, err = r.Head(); err != nil {
		return err
	}
	if x.index, err = r.LoadIndex(x.head); err != nil {
		return err
	}
	if x.distrust {
		x.index.Distrust()
		x.distrust = false
	}
	tracked := len(x.index.Entries)
	b := x.batch
	if !x.dry {
		b = r.Objects.NewBatch(false)
		defer b.Drop()
	}
	shot, err := r.Snapshot(x.ctx, x.index, b)
	if err != nil {
		return err
	}
	if tracked > 1 && shot.Present == 0 && !x.o.Emptied {
		return &store.Error{Kind: ErrEmptied, Path: r.Dir, Hint: "if the disk with the files is not connected, connect it; if you removed them on purpose, put one file of the last sync back, for example: git checkout shop.yaml, and sync again"}
	}
	x.look(shot.Notes...)
	was, err := r.TreeOf(x.head)
	if err != nil {
		return err
	}
	if len(x.pending) > 0 {
		var anew []store.Diff
		if shot.Tree, anew, err = r.Unmoved(b, shot.Tree, was, x.pending); err != nil {
			return err
		}
		if shot.Tree, err = x.beside(b, shot.Tree, anew, shot); err != nil {
			return err
		}
	}
	if shot.Tree == was && (!x.head.IsZero() || tracked == 0 && len(shot.Edited) == 0) {
		if shot.Stamped && !x.dry {
			// The index vouches for the folders it names: those of a half-moved state must be on disk before it is.
			if err := b.Flush(); err != nil {
				return err
			}
			// Only stamps were learned; when git holds the index just now, the next sync learns them again.
			if err := r.SaveIndex(x.index); err != nil && !errors.Is(err, store.ErrBusy) && !errors.Is(err, store.ErrMoved) {
				return err
			}
		}
		return nil
	}
	ds, err := r.Objects.DiffTrees(was, shot.Tree)
	if err != nil {
		return err
	}
	c, err := x.newCommit(b, shot, ds)
	if err != nil {
		return err
	}
	if !x.dry {
		if err := b.Flush(); err != nil {
			return err
		}
		if err := r.Refs.Set(x.branch, x.head, c.Hash); err != nil {
			return err
		}
		r.Reflog(x.branch, x.head, c.Hash, c.Committer, "commit: "+firstLine(c.Message))
		if err := r.SaveIndex(x.index); err != nil && !errors.Is(err, store.ErrMoved) {
			return err
		}
	}
	x.head = c.Hash
	x.rep.Kept = append(x.rep.Kept, changes(ds)...)
	if x.rep.Message != "" {
		x.rep.Message += "; "
	}
	x.rep.Message += firstLine(c.Message)
	return nil
}

func firstLine(s string) string {
	l, _, _ := strings.Cut(s, "\n")
	return l
}

func (x *session) newCommit(b *store.Batch, shot *store.Shot, ds []store.Diff) (*store.CommitInfo, error) {
	r := x.repo
	cs := changes(ds)
	at := map[string]store.Hash{}
	for _, d := range ds {
		at[d.Path] = d.New
	}
	var msg string
	if x.o.Describe != nil {
		msg = strings.TrimSpace(x.o.Describe(cs))
	}
	if msg == "" {
		moved, err := x.renamedIn(ds, shot.Tree)
		if err != nil {
			return nil, err
		}
		was := map[string]store.Hash{}
		for _, d := range ds {
			was[d.Path] = d.Old
		}
		cs = asRenamed(cs, moved, func(a, b string) bool { return was[a] == at[b] })
		msg = describe(cs, moved, func(p string) []byte {
			data, err := r.Objects.GetBlob(at[p])
			if err != nil {
				return nil
			}
			return data
		})
	}
	if msg == "" {
		msg = "work in the shop"
	}
	now := x.o.now()
	c := &store.CommitInfo{Tree: shot.Tree, Author: x.who(), Committer: x.who()}
	// The author's time is when the newest of the edits was made, as far as the disk tells and never after now.
	var last time.Time
	for _, d := range ds {
		if t, ok := shot.Edited[d.Path]; ok {
			last = newest(last, t)
		}
	}
	if !last.IsZero() && last.Before(now) && last.Unix() > 0 {
		c.Author.When = last.In(now.Location())
	}
	if !x.head.IsZero() {
		p, err := r.Objects.GetCommit(x.head)
		if err != nil {
			return nil, err
		}
		c.Parents = []store.Hash{x.head}
		// A clock that runs behind must not date a commit before its parent: walks over the history go by these times.
		if c.Committer.When.Before(p.Committer.When) {
			c.Committer.When = p.Committer.When
		}
		c.Message = msg + "\n" + trailers(shot.Edited)
	} else {
		c.Message = msg + "\n"
	}
	_, err := b.AddCommit(c)
	return c, err
}

func (x *session) look(notes ...string) {
	for _, n := range notes {
		dup := false
		for _, o := range x.rep.Look {
			dup = dup || o == n
		}
		if !dup {
			x.rep.Look = append(x.rep.Look, n)
		}
	}
}

// get reads commits of this machine.
func (x *session) get(h store.Hash) (*store.CommitInfo, error) { return x.repo.Objects.GetCommit(h) }
