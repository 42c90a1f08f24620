package sync

import (
	"errors"
	"os"
	"path/filepath"
	"strings"

	"caul/sync/remote"
	"caul/sync/settle"
	"caul/sync/store"
)

// link is a remote within reach during a sync.
type link struct {
	r      Remote
	conn   remote.Conn
	branch string     // full name of the branch there
	tip    store.Hash // what it was at when last seen
	start  store.Hash // what it was at first, for the report
	met    bool
}

func (x *session) dial(r Remote) (*link, error) {
	home := x.o.Home
	if home == "" {
		home, _ = os.UserHomeDir()
	}
	getenv := x.o.Getenv
	if getenv == nil {
		getenv = os.Getenv
	}
	e := &remote.Env{Disk: x.repo.Disk, Ask: x.o.Ask, Getenv: getenv, Home: home, Secret: x.o.Secret, Progress: x.o.Progress, Look: x.dry, Stale: x.stale}
	c, err := remote.Dial(x.ctx, remote.Spec{Name: r.Name, URL: r.URL, Kind: r.Kind, Branch: r.Branch, Met: r.Met}, e)
	if err != nil {
		return nil, err
	}
	return &link{r: r, conn: c}, nil
}

// refName is a remote's name in a ref, which takes no blanks.
func refName(remote string) string { return strings.ReplaceAll(remote, " ", "-") }

// tracking is where git keeps what a remote was at when last seen.
func (l *link) tracking() string {
	return "refs/remotes/" + refName(l.r.Name) + "/" + strings.TrimPrefix(l.branch, "refs/heads/")
}

// chooseBranch finds the branch at the remote: the one that was named, else main, else where its HEAD points.
func (l *link) chooseBranch(ad *remote.Advert) {
	if l.r.Branch != "" {
		l.branch = "refs/heads/" + l.r.Branch
		return
	}
	l.branch = "refs/heads/" + store.DefaultBranch
	if ad.Refs[l.branch].IsZero() && strings.HasPrefix(ad.Head, "refs/heads/") && !ad.Refs[ad.Head].IsZero() {
		l.branch = ad.Head
	}
}

// with brings this machine and one remote in step. When another machine pushes in between, it fetches and settles again.
func (x *session) with(l *link, rr *RemoteReport) error {
	for range tries {
		ad, err := l.conn.Refs(x.ctx)
		if err != nil {
			return err
		}
		l.chooseBranch(ad)
		l.tip = ad.Refs[l.branch]
		if !l.met {
			l.met, l.start = true, l.tip
		}
		if !l.tip.IsZero() && l.tip != x.head {
			if err := x.take(l, rr); err != nil {
				return err
			}
		}
		if l.tip == x.head || x.head.IsZero() {
			return own(x.track(l, l.tip))
		}
		if x.dry {
			return x.told(&rr.Went, l.start, x.head)
		}
		var known []store.Hash
		if !l.tip.IsZero() {
			known = append(known, l.tip)
		}
		x.o.note("%s: pushing", l.r.Name)
		err = l.conn.Push(x.ctx, l.branch, l.tip, x.head, known, x.repo.Objects)
		if err == nil {
			l.tip = x.head
			if err := x.told(&rr.Went, l.start, x.head); err != nil {
				return err
			}
			return own(x.track(l, x.head))
		}
		if !errors.Is(err, store.ErrMoved) {
			return err
		}
		x.o.note("%s: another machine was faster; once more", l.r.Name)
	}
	return &store.Error{Kind: ErrRestless, Path: l.r.URL, Hint: "another machine keeps pushing; sync again in a moment"}
}

// take fetches what a remote has and settles it with this machine's work.
func (x *session) take(l *link, rr *RemoteReport) error {
	objs := x.repo.Objects
	old, err := x.repo.Refs.Get(l.tracking())
	if err != nil {
		return own(err)
	}
	have, err := objs.Has(l.tip)
	if err != nil {
		return own(err)
	}
	if have && !x.head.IsZero() {
		// Most often the remote is simply behind.
		if have, err = store.IsAncestor(x.get, l.tip, x.head); err != nil {
			return own(err)
		}
	}
	if !have {
		var known []store.Hash
		for _, h := range []store.Hash{x.head, old} {
			if !h.IsZero() {
				known = append(known, h)
			}
		}
		x.o.note("%s: fetching", l.r.Name)
		into := objs
		if x.dry {
			dir, err := ownTemp()
			if err != nil {
				return own(err)
			}
			x.temps = append(x.temps, filepath.Dir(dir))
			into = objs.Borrow(dir)
		}
		if err := l.conn.Fetch(x.ctx, l.tip, known, into); err != nil {
			return err
		}
	}
	// What is noted under the name of a remote that was added anew may be of another place.
	if l.r.Met && !old.IsZero() && old != l.tip && !x.o.Rewritten {
		if err := x.rewritten(l, old); err != nil {
			return err
		}
	}
	before := x.head
	if err := x.integrate(l.tip, rr); err != nil {
		if errors.Is(err, ErrUnrelated) {
			return err
		}
		return own(err)
	}
	if err := x.told(&rr.Came, before, x.head); err != nil {
		return own(err)
	}
	for _, c := range rr.Came { // also those that another machine wrote when it settled
		if strings.HasPrefix(c.Path, settle.RecordFolder+"/") && c.What == Added {
			x.addRecord(c.Path)
		}
	}
	return nil
}

// rewritten tells a remote whose branch was moved by force: what it had is no longer in it. A remote that only fell back (an
// older copy of a stick) is no such case, it is pushed to again.
func (x *session) rewritten(l *link, old store.Hash) error {
	bases, err := store.Bases(x.get, old, l.tip)
	if err != nil {
		return own(err)
	}
	if len(bases) == 1 && (bases[0] == old || bases[0] == l.tip) {
		return nil
	}
	return &store.Error{Kind: ErrRewritten, Path: l.r.URL, Hint: "this machine still has everything, and nothing was taken or pushed; if the rewriting was a mistake, rename the repository there and sync again, which makes it anew; if it was meant, make a new copy of the shop from there"}
}

// told adds a difference to a report.
func (x *session) told(to *[]Change, from, now store.Hash) error {
	a, err := x.repo.TreeOf(from)
	if err != nil {
		return err
	}
	b, err := x.repo.TreeOf(now)
	if err != nil {
		return err
	}
	ds, err := x.repo.Objects.DiffTrees(a, b)
	if err != nil {
		return err
	}
	*to = merged(*to, changes(ds))
	return nil
}

// merged adds changes to a list, each path once.
func merged(old, more []Change) []Change {
	at := map[string]int{}
	for i, c := range old {
		at[c.Path] = i
	}
	for _, c := range more {
		if i, ok := at[c.Path]; ok {
			old[i] = c
			continue
		}
		old = append(old, c)
	}
	return old
}

// track notes what a remote is at.
func (x *session) track(l *link, h store.Hash) error {
	if x.dry || h.IsZero() {
		return nil
	}
	now, err := x.repo.Refs.Get(l.tracking())
	if err != nil {
		return err
	}
	if now != h {
		if err := x.repo.Refs.Set(l.tracking(), now, h); err != nil {
			return err
		}
	}
	short := strings.TrimPrefix(l.branch, "refs/heads/")
	if l.r.Branch != short || !l.r.Met {
		for i := range x.own.Remotes {
			if r := &x.own.Remotes[i]; r.Name == l.r.Name {
				r.Branch, r.Met = short, true
				l.r = *r
				return x.saveMachine()
			}
		}
	}
	return nil
}
