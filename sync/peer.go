package sync

import (
	"context"
	"errors"
	"io"
	"net/http"
	gosync "sync"

	"caul/sync/remote"
	"caul/sync/store"
)

// PeerPath is where a bench mounts the handler of PeerHandler.
const PeerPath = remote.PeerPath

// NewToken makes a pairing token to show on the bench.
func NewToken() string { return remote.NewToken() }

// PeerHandler serves this shop to paired machines on the LAN, to be mounted at PeerPath: they fetch, and what they push is
// moved into the working files here as a sync would do, never over an edit. token is asked at every request; while it gives
// nothing, nobody is let in.
func (s *Shop) PeerHandler(token func() string, o Options) http.Handler {
	return remote.Serve(&bench{dir: s.repo.Dir, disk: s.repo.Disk, o: o}, token)
}

// bench serves a shop. Every request opens the shop anew, as another program might have worked on it meanwhile.
type bench struct {
	dir  string
	disk store.Disk
	o    Options
	mu   gosync.Mutex
}

// open takes the shop's lock and commits what was edited here, so that the other machine gets it too; with look it changes
// nothing.
func (b *bench) open(ctx context.Context, look bool) (*session, func(), error) {
	b.mu.Lock()
	fail := func(err error) (*session, func(), error) {
		b.mu.Unlock()
		return nil, nil, err
	}
	s, err := openOn(b.dir, b.disk)
	if err != nil {
		return fail(err)
	}
	if s.own.Machine == "" {
		return fail(&store.Error{Kind: ErrNoMachine, Path: b.dir, Hint: "name this machine first"})
	}
	lock := s.repo.Lock
	if look {
		lock = s.repo.LockToLook
	}
	l, err := lock(s.lockWait())
	if err != nil {
		return fail(err)
	}
	done := func() {
		s.repo.Close()
		l.Release()
		b.mu.Unlock()
	}
	x := &session{Shop: s, ctx: ctx, o: b.o, rep: &Report{Machine: s.own.Machine}}
	x.o.DryRun = false
	if look {
		x.branch, x.head, err = s.repo.Head()
	} else {
		err = x.begin()
	}
	if err != nil {
		done()
		return nil, nil, err
	}
	return x, done, nil
}

// Offer gives the branch: with what was edited here, or with look, as of the last sync.
func (b *bench) Offer(ctx context.Context, look bool) (*remote.Advert, *store.Objects, func(), error) {
	x, done, err := b.open(ctx, look)
	if err != nil {
		return nil, nil, nil, err
	}
	ad := &remote.Advert{Refs: map[string]store.Hash{}, Head: peerBranch}
	if !x.head.IsZero() {
		ad.Refs[peerBranch] = x.head
	}
	return ad, x.repo.Objects, done, nil
}

// peerBranch is what a bench calls the branch it is on, whatever its name here.
const peerBranch = "refs/heads/" + store.DefaultBranch

// Receive takes a push of a paired machine.
func (b *bench) Receive(ctx context.Context, ref string, old, new store.Hash, pack io.Reader) error {
	if ref != peerBranch {
		return errors.New("only the branch that is offered is taken")
	}
	x, done, err := b.open(ctx, false)
	if err != nil {
		return err
	}
	defer done()
	if x.head != old {
		return &store.Error{Kind: store.ErrMoved, Path: ref, Hint: "sync again"}
	}
	if err := x.repo.Objects.Ingest(pack); err != nil {
		return err
	}
	var known []store.Hash
	if !old.IsZero() {
		known = append(known, old)
		ok, err := store.IsAncestor(x.get, old, new)
		if err != nil {
			return err
		}
		if !ok {
			return &store.Error{Kind: store.ErrMoved, Path: ref, Hint: "sync again"}
		}
	}
	// Nothing is believed that is not there in full.
	if err := x.repo.Objects.Complete(new, known); err != nil {
		return err
	}
	return x.integrate(new, nil)
}
