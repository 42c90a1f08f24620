package sync

import (
	"errors"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"caul/sync/settle"
	"caul/sync/store"
)

// integrate brings the commit theirs into the branch and the working files. It starts over when files were edited or git
// committed in the meantime: those edits are committed first and settled with the rest.
func (x *session) integrate(theirs store.Hash, rr *RemoteReport) error {
	for range tries {
		target, err := x.target(theirs, rr)
		if err != nil {
			return err
		}
		if target == x.head {
			return nil
		}
		if x.dry {
			x.head = target
			return nil
		}
		err = x.repo.Apply(x.index, x.branch, x.head, target, x.who(), "sync: "+x.own.Machine)
		if err == nil {
			x.head, x.pending = target, nil
			return nil
		}
		inWay := errors.Is(err, store.ErrInTheWay)
		if !errors.Is(err, store.ErrEdited) && !errors.Is(err, store.ErrMoved) && !inWay {
			return err
		}
		x.o.note("files changed meanwhile (%v); once more", err)
		if err := x.recover(); err != nil {
			return err
		}
		x.distrust = true
		before := x.head
		if err := x.commit(); err != nil {
			return err
		}
		if inWay && x.head == before {
			return err // it is in the way and not part of the shop: the user decides
		}
		x.o.note("settling anew")
	}
	return &store.Error{Kind: ErrRestless, Path: x.repo.Dir, Hint: "let the other program finish, then sync again"}
}

// target is the commit that holds both the branch and theirs: one of the two where it has the other already, or a new one.
func (x *session) target(theirs store.Hash, rr *RemoteReport) (store.Hash, error) {
	if x.head.IsZero() || x.head == theirs {
		return theirs, nil
	}
	bases, err := store.Bases(x.get, x.head, theirs)
	if err != nil {
		return theirs, err
	}
	if len(bases) == 1 && bases[0] == theirs {
		return x.head, nil
	}
	if len(bases) == 1 && bases[0] == x.head {
		return theirs, nil
	}
	if len(bases) == 0 && !x.o.Join {
		return theirs, &store.Error{Kind: ErrUnrelated, Path: theirs.String()[:12], Hint: "check that this is the right stick or address; two shops are not made into one"}
	}
	if rr != nil {
		rr.Joined = true
	}
	x.o.note("settling")
	b := x.batch
	if !x.dry {
		b = x.repo.Objects.NewBatch(false)
		defer b.Drop()
	}
	c, m, err := x.settle(b, x.head, theirs, bases, 0)
	if err != nil {
		return theirs, err
	}
	if !x.dry {
		if err := b.Only(c.Hash); err != nil {
			return theirs, err
		}
		if err := b.Flush(); err != nil {
			return theirs, err
		}
	}
	x.look(m.look...)
	for _, r := range m.records {
		x.addRecord(r)
	}
	return c.Hash, nil
}

func (x *session) addRecord(p string) {
	for _, q := range x.rep.BothWays {
		if p == q {
			return
		}
	}
	x.rep.BothWays = append(x.rep.BothWays, p)
	sort.Strings(x.rep.BothWays)
}

// basesDepth bounds how often histories may cross before the oldest base is taken as it is.
const basesDepth = 40

// settle joins two commits. Everything about the new commit follows from the two: machines that join the same two make the
// same commit.
func (x *session) settle(b *store.Batch, one, two store.Hash, bases []store.Hash, depth int) (*store.CommitInfo, *merger, error) {
	p, err := x.get(one)
	if err != nil {
		return nil, nil, err
	}
	q, err := x.get(two)
	if err != nil {
		return nil, nil, err
	}
	if two.String() < one.String() {
		p, q = q, p
	}
	base := store.EmptyTree
	switch {
	case len(bases) == 1 || len(bases) > 1 && depth >= basesDepth:
		if base, err = x.repo.TreeOf(bases[0]); err != nil {
			return nil, nil, err
		}
	case len(bases) > 1:
		// Histories that crossed: settle their bases first, in the order of their names.
		v := bases[0]
		for _, w := range bases[1:] {
			bb, err := store.Bases(x.get, v, w)
			if err != nil {
				return nil, nil, err
			}
			c, _, err := x.settle(b, v, w, bb, depth+1)
			if err != nil {
				return nil, nil, err
			}
			v = c.Hash
		}
		if base, err = x.repo.TreeOf(v); err != nil {
			return nil, nil, err
		}
	}
	m := &merger{objs: x.repo.Objects, batch: b, opts: settle.Options{Reread: x.o.Reread}}
	if depth == 0 { // what crossed histories share is only compared with
		m.shop = x.o.RereadShop
	}
	if m.a, err = x.sideOf(p.Hash, q.Hash); err != nil {
		return nil, nil, err
	}
	if m.b, err = x.sideOf(q.Hash, p.Hash); err != nil {
		return nil, nil, err
	}
	tree, err := m.merge(base, p.Tree, q.Tree)
	if err != nil {
		return nil, nil, err
	}
	w := store.Who{Name: "caul", Email: "settled@caul.invalid", When: newest(p.Committer.When, q.Committer.When).UTC()}
	c := &store.CommitInfo{Tree: tree, Parents: []store.Hash{p.Hash, q.Hash}, Author: w, Committer: w}
	c.Message = "settled " + names(p, q)
	if len(m.records) > 0 {
		c.Message += "; " + count(len(m.records), "value", "values") + " changed both ways"
	}
	c.Message += "\n"
	if len(m.look) > 0 {
		c.Message += "\n" + strings.Join(m.look, "\n") + "\n"
	}
	_, err = b.AddCommit(c)
	return c, m, err
}

func names(p, q *store.CommitInfo) string {
	a, b := p.Author.Name, q.Author.Name
	if a == b {
		return "work of " + a
	}
	if b < a {
		a, b = b, a
	}
	return "work of " + a + " and " + b
}

func (x *session) sideOf(tip, other store.Hash) (*side, error) {
	cs, err := store.Since(x.get, []store.Hash{tip}, []store.Hash{other})
	if err != nil {
		return nil, err
	}
	return &side{objs: x.repo.Objects, commits: cs}, nil
}

// ownTemp is a folder for objects that a dry run looks at.
func ownTemp() (string, error) {
	d, err := os.MkdirTemp("", "caul-dry-")
	if err != nil {
		return "", err
	}
	d = filepath.Join(d, "objects")
	return d, os.Mkdir(d, 0o700)
}
