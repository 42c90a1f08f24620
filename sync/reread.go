package sync

import (
	"fmt"
	"sort"
	"time"

	"caul/sync/settle"
	"caul/sync/store"
)

// Files that read well each may not read together: a step that one machine struck out is waited for by one that another machine
// added. So what was settled is read once more as a folder before it is committed, as strictly as every command will. Read are
// only the jobs that can have come to harm: a job that is as one side has it, under that side's own shop files, reads as it did
// there, and what no side changed reads as it did before.
//
// What does not read is taken whole from one side - of the shop's own files and of each job.yaml the newer version that reads -
// and the other side's version goes whole to both-ways/. Log entries, photos and build.md need no such choice.

// shopFiles are the shop's own files, of which every job's reading depends.
var shopFiles = []string{"shop.yaml", "stock.yaml", "prices.yaml", "glues.yaml"}

// shopLists are the shop's own files in one tree.
type shopLists [4]store.TreeEntry

func (m *merger) lists(t store.Hash) (l shopLists, err error) {
	for i, p := range shopFiles {
		if l[i], err = m.objs.Find(t, p); err != nil {
			return l, err
		}
	}
	return l, nil
}

// rereader holds the trees of one settling while its result is read.
type rereader struct {
	m                       *merger
	jobs, base, ours, their map[string]store.Hash
	a, b                    shopLists       // ours, theirs
	bad                     map[string]bool // jobs that did not read before
}

// choice is one way to put the folder together: the shop's own files, and job.yaml of some jobs.
type choice struct {
	put    map[string]store.TreeEntry
	waits  []*settle.Record // the versions that give way
	failed []string         // jobs that read in no version
	err    error
}

// reread gives the tree, changed where it does not read.
func (m *merger) reread(tree store.Hash) (store.Hash, error) {
	if m.shop == nil {
		return tree, nil
	}
	r := &rereader{m: m, bad: map[string]bool{}}
	s, err := r.load(tree)
	if err != nil {
		return tree, err
	}
	need := r.need(s)
	if len(need) == 0 && (s == r.a || s == r.b) {
		return tree, nil
	}
	if m.shop(treeFS{m.objs, tree}, need) == nil {
		return tree, nil
	}
	if broken := r.before(tree, s, need); broken {
		return tree, nil
	}
	// The shop's lists as settled, then whole of either side. The fewest jobs that read in no version win, then the fewest edits
	// that have to wait in both-ways/, then the older of them.
	var best *choice
	for i, l := range []shopLists{s, r.a, r.b} {
		if i > 0 && l == s {
			continue
		}
		c, err := r.try(tree, s, l)
		if err != nil {
			return tree, err
		}
		if best == nil || c.better(best) {
			best = c
		}
	}
	for _, j := range best.failed {
		m.look = append(m.look, fmt.Sprintf("%s does not read: %v", j, firstLine(best.err.Error())))
	}
	return r.apply(tree, best)
}

func (c *choice) better(d *choice) bool {
	if x, y := len(c.failed), len(d.failed); x != y {
		return x < y
	}
	if x, y := len(c.waits), len(d.waits); x != y {
		return x < y
	}
	return c.last().Before(d.last())
}

// last is when the newest of the edits was made that have to wait.
func (c *choice) last() (t time.Time) {
	for _, w := range c.waits {
		t = newest(t, w.Other.When)
	}
	return t
}

// before finds what did not read on the side it is from either: a fault that was there before is not made good by taking an edit
// away. It tells whether that is so of the shop's own files, without which nothing reads.
func (r *rereader) before(tree store.Hash, s shopLists, need []string) bool {
	m := r.m
	sides := []struct {
		t    store.Hash
		jobs map[string]store.Hash
		l    shopLists
	}{{m.ours, r.ours, r.a}, {m.theirs, r.their, r.b}}
	if err := m.shop(treeFS{m.objs, tree}, nil); err != nil {
		for _, x := range sides {
			if s == x.l && m.shop(treeFS{m.objs, x.t}, nil) != nil {
				m.look = append(m.look, fmt.Sprintf("the shop's own files do not read: %v", err))
				return true
			}
		}
	}
	for _, n := range need {
		for _, x := range sides {
			if r.jobs[n] != x.jobs[n] || r.bad[n] {
				continue
			}
			if err := m.shop(treeFS{m.objs, x.t}, []string{n}); err != nil {
				r.bad[n] = true
				m.look = append(m.look, fmt.Sprintf("job %s does not read: %v", n, firstLine(err.Error())))
			}
		}
	}
	return false
}

func (r *rereader) load(tree store.Hash) (s shopLists, err error) {
	m := r.m
	var base shopLists
	for _, x := range []struct {
		t    store.Hash
		jobs *map[string]store.Hash
		l    *shopLists
	}{{tree, &r.jobs, &s}, {m.base, &r.base, &base}, {m.ours, &r.ours, &r.a}, {m.theirs, &r.their, &r.b}} {
		if *x.jobs, err = m.jobs(x.t); err != nil {
			return s, err
		}
		if *x.l, err = m.lists(x.t); err != nil {
			return s, err
		}
	}
	return s, nil
}

// need lists the jobs that have to be read under some shop lists.
func (r *rereader) need(s shopLists) []string {
	var out []string
	for n, h := range r.jobs {
		if r.bad[n] || h == r.base[n] || h == r.ours[n] && s == r.a || h == r.their[n] && s == r.b {
			continue
		}
		out = append(out, n)
	}
	sort.Strings(out)
	return out
}

// theirsNewer tells which side changed a path last; the same on every machine.
func (r *rereader) theirsNewer(path string) (bool, error) {
	x, err := r.m.a.of(path)
	if err != nil {
		return false, err
	}
	y, err := r.m.b.of(path)
	return y.When.After(x.When), err
}

// try puts the folder together with the given shop lists and finds, for each job that then does not read, a version that does.
func (r *rereader) try(tree store.Hash, s, l shopLists) (*choice, error) {
	m, c := r.m, &choice{put: map[string]store.TreeEntry{}}
	for i, p := range shopFiles {
		if l[i] != s[i] {
			c.put[p] = l[i]
		}
	}
	t, err := m.put(tree, c.put)
	if err != nil {
		return nil, err
	}
	need := r.need(l)
	if err := m.shop(treeFS{m.objs, t}, nil); err != nil {
		c.failed, c.err = append([]string{"the shop"}, need...), err
		return c, nil
	}
	for _, n := range need {
		first := m.shop(treeFS{m.objs, t}, []string{n})
		if first == nil {
			continue
		}
		p := "jobs/" + n + "/job.yaml"
		now, err := m.objs.Find(t, p)
		if err != nil {
			return nil, err
		}
		one, two := m.ours, m.theirs
		if ok, err := r.theirsNewer(p); err != nil {
			return nil, err
		} else if ok {
			one, two = two, one
		}
		found := false
		for _, side := range []store.Hash{one, two} {
			e, err := m.objs.Find(side, p)
			if err != nil {
				return nil, err
			}
			if !e.Mode.IsFile() || e == now {
				continue
			}
			u, err := m.put(t, map[string]store.TreeEntry{p: e})
			if err != nil {
				return nil, err
			}
			if m.shop(treeFS{m.objs, u}, []string{n}) == nil {
				c.put[p], found = e, true
				break
			}
		}
		if !found {
			c.failed, c.err = append(c.failed, "job "+n), first
		}
	}
	for _, p := range c.paths() {
		rec, err := r.record(p, c.put[p])
		if err != nil {
			return nil, err
		}
		if rec != nil {
			c.waits = append(c.waits, rec)
		}
	}
	return c, nil
}

func (c *choice) paths() []string {
	out := make([]string, 0, len(c.put))
	for p := range c.put {
		out = append(out, p)
	}
	sort.Strings(out)
	return out
}

// apply lays a choice over the tree, with a record of every version that gave way.
func (r *rereader) apply(tree store.Hash, c *choice) (store.Hash, error) {
	m := r.m
	put := map[string]store.TreeEntry{}
	for _, p := range c.paths() {
		put[p] = c.put[p]
		// The values that were settled in it are in the two whole versions now.
		for _, old := range m.made {
			if old.Path == p {
				put[old.Name()] = store.TreeEntry{}
				m.records = without(m.records, old.Name())
			}
		}
	}
	for _, rec := range c.waits {
		h, err := m.batch.Add(store.Blob, rec.Marshal())
		if err != nil {
			return tree, err
		}
		put[rec.Name()] = store.TreeEntry{Mode: store.ModeFile, Hash: h}
		m.records = append(without(m.records, rec.Name()), rec.Name())
		m.look = append(m.look, fmt.Sprintf("%s: what two machines wrote does not read together; the version of %s stands, the other is kept in both-ways/", rec.Path, rec.Stands.Machine))
	}
	return m.put(tree, put)
}

// record keeps the version of a file that gave way; nil when it held nothing new.
func (r *rereader) record(p string, stands store.TreeEntry) (*settle.Record, error) {
	m := r.m
	k, o := m.a, m.b
	other, err := m.objs.Find(m.theirs, p)
	if err != nil {
		return nil, err
	}
	if mine, err := m.objs.Find(m.ours, p); err != nil {
		return nil, err
	} else if mine.Hash != stands.Hash {
		k, o, other = m.b, m.a, mine
	}
	base, err := m.objs.Find(m.base, p)
	if err != nil || !other.Mode.IsFile() || other.Hash == stands.Hash || other.Hash == base.Hash {
		return nil, err
	}
	rec := &settle.Record{Path: p, Kind: settle.KindFile, What: "whole file"}
	if base.Mode.IsFile() {
		if rec.Base.Data, err = m.objs.GetBlob(base.Hash); err != nil {
			return nil, err
		}
		rec.Base.Exists = true
	}
	for _, x := range []struct {
		e  store.TreeEntry
		s  *side
		to *settle.Value
	}{{stands, k, &rec.Stands}, {other, o, &rec.Other}} {
		who, err := x.s.of(p)
		if err != nil {
			return nil, err
		}
		x.to.Machine, x.to.When = who.Machine, who.When
		if !x.e.Mode.IsFile() {
			continue
		}
		if x.to.Data, err = m.objs.GetBlob(x.e.Hash); err != nil {
			return nil, err
		}
		x.to.Exists = true
	}
	return rec, nil
}

func without(list []string, name string) []string {
	out := list[:0]
	for _, n := range list {
		if n != name {
			out = append(out, n)
		}
	}
	return out
}
