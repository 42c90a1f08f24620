package sync

import (
	"bytes"
	"fmt"
	"io/fs"
	"sort"
	"strings"

	"caul/sync/settle"
	"caul/sync/store"
)

// merger settles two trees against a base. Folders that are equal on two of the three are never opened; what both sides
// changed goes to package settle.
type merger struct {
	objs  *store.Objects
	batch *store.Batch
	a, b  *side
	opts  settle.Options

	base, ours, theirs store.Hash // the trees as they are settled
	paths              []string   // what both sides changed
	links              []string   // links and submodules that both sides changed
	records            []string
	look               []string

	shop func(fsys fs.FS, jobs []string) error // reads the result as a folder; nil for no check
	made []settle.Record                       // the records of this settling
}

// merge settles the trees and returns the result.
func (m *merger) merge(base, ours, theirs store.Hash) (store.Hash, error) {
	var err error
	if base, ours, theirs, err = m.renames(base, ours, theirs); err != nil {
		return store.Hash{}, err
	}
	m.base, m.ours, m.theirs = base, ours, theirs
	tree, err := m.tree(base, ours, theirs, "")
	if err != nil {
		return tree, err
	}
	put := map[string]store.TreeEntry{}
	if len(m.paths) > 0 {
		out, err := m.settle()
		if err != nil {
			return tree, err
		}
		for _, f := range out.Files {
			if f.Deleted {
				put[f.Path] = store.TreeEntry{}
				continue
			}
			e, err := m.entry(f)
			if err != nil {
				return tree, err
			}
			put[f.Path] = e
		}
		for _, r := range out.BothWays {
			m.records = append(m.records, r.Name())
		}
		m.made = out.BothWays
		m.look = append(m.look, out.Notes...)
	}
	for _, p := range m.links {
		if err := m.link(p, put); err != nil {
			return tree, err
		}
	}
	if tree, err = m.put(tree, put); err != nil {
		return tree, err
	}
	if tree, err = m.whole(tree); err != nil {
		return tree, err
	}
	if tree, err = m.unfold(tree); err != nil {
		return tree, err
	}
	return m.reread(tree)
}

// put lays files over a tree, deletions first: a file may have become a folder.
func (m *merger) put(tree store.Hash, files map[string]store.TreeEntry) (store.Hash, error) {
	del, add := map[string]store.TreeEntry{}, map[string]store.TreeEntry{}
	for p, e := range files {
		if e.Mode == 0 {
			del[p] = e
		} else {
			add[p] = e
		}
	}
	// A deletion below a name that comes back as a file must not find that file.
	tree, err := m.batch.Put(tree, del)
	if err != nil {
		return tree, err
	}
	return m.batch.Put(tree, add)
}

// tree walks three folders. What both sides changed is noted and left out or as ours has it; the settled version is laid
// over it afterwards.
func (m *merger) tree(base, a, b store.Hash, prefix string) (store.Hash, error) {
	switch {
	case a == b, b == base:
		return a, nil
	case a == base:
		return b, nil
	}
	lb, err := m.list(base)
	if err != nil {
		return a, err
	}
	la, err := m.list(a)
	if err != nil {
		return a, err
	}
	lt, err := m.list(b)
	if err != nil {
		return a, err
	}
	names := map[string]bool{}
	for n := range la {
		names[n] = true
	}
	for n := range lt {
		names[n] = true
	}
	for n := range lb {
		names[n] = true
	}
	sorted := make([]string, 0, len(names))
	for n := range names {
		sorted = append(sorted, n)
	}
	sort.Strings(sorted)
	var out []store.TreeEntry
	for _, n := range sorted {
		eb, ea, et := lb[n], la[n], lt[n]
		var pick store.TreeEntry
		switch {
		case ea == et, et == eb:
			pick = ea
		case ea == eb:
			pick = et
		case dirOrNone(ea) && dirOrNone(et):
			h, err := m.tree(sub(eb), sub(ea), sub(et), prefix+n+"/")
			if err != nil {
				return a, err
			}
			if eb.Mode != 0 && eb.Mode != store.ModeDir {
				m.paths = append(m.paths, prefix+n)
			}
			if !h.IsZero() && h != store.EmptyTree {
				pick = store.TreeEntry{Name: n, Mode: store.ModeDir, Hash: h}
			}
		case special(ea) || special(et):
			pick = ea
			m.links = append(m.links, prefix+n)
		case !isDir(ea) && !isDir(et):
			m.paths = append(m.paths, prefix+n)
			if isDir(eb) { // both replaced a folder; its files are gone on both sides
				eb = store.TreeEntry{}
			}
			pick = ea
		default: // a file on one side, a folder on the other
			m.paths = append(m.paths, prefix+n)
			for _, e := range []store.TreeEntry{eb, ea, et} {
				if !isDir(e) {
					continue
				}
				err := m.objs.EachFile(e.Hash, prefix+n+"/", func(p string, _ store.Mode, _ store.Hash) error {
					m.paths = append(m.paths, p)
					return nil
				})
				if err != nil {
					return a, err
				}
			}
		}
		if pick.Mode != 0 {
			pick.Name = n
			out = append(out, pick)
		}
	}
	if len(out) == 0 {
		return store.EmptyTree, nil
	}
	return m.batch.AddTree(out)
}

func isDir(e store.TreeEntry) bool     { return e.Mode == store.ModeDir }
func dirOrNone(e store.TreeEntry) bool { return e.Mode == store.ModeDir || e.Mode == 0 }
func special(e store.TreeEntry) bool   { return e.Mode == store.ModeSub || e.Mode == store.ModeLink }

func sub(e store.TreeEntry) store.Hash {
	if isDir(e) {
		return e.Hash
	}
	return store.EmptyTree
}

func (m *merger) list(t store.Hash) (map[string]store.TreeEntry, error) {
	es, err := m.objs.GetTree(t)
	if err != nil {
		return nil, err
	}
	out := make(map[string]store.TreeEntry, len(es))
	for _, e := range es {
		out[e.Name] = e
	}
	return out, nil
}

// settle asks for every path that both sides changed.
func (m *merger) settle() (settle.Outcome, error) {
	look := func(t store.Hash) settle.Lookup {
		return func(p string) (settle.File, error) {
			e, err := m.objs.Find(t, p)
			if err != nil || e.Mode == 0 || isDir(e) || e.Mode == store.ModeSub {
				return settle.File{}, err
			}
			data, err := m.objs.GetBlob(e.Hash)
			return settle.File{Exists: true, Data: data}, err
		}
	}
	var failed error
	sides := func(p string) (settle.Side, settle.Side) {
		x, err := m.a.of(p)
		if err != nil {
			failed = err
		}
		y, err := m.b.of(p)
		if err != nil {
			failed = err
		}
		return x, y
	}
	out, err := settle.SettleFolder(m.paths, settle.Folder{Base: look(m.base), Ours: look(m.ours), Theirs: look(m.theirs), Sides: sides}, m.opts)
	if err == nil {
		err = failed
	}
	return out, err
}

// entry stores a settled file. Its mode is the one that a side changed; of a file that is new, that of the side its content is from.
func (m *merger) entry(f settle.Out) (store.TreeEntry, error) {
	h, err := m.batch.Add(store.Blob, f.Data)
	if err != nil {
		return store.TreeEntry{}, err
	}
	var es [3]store.TreeEntry
	for i, t := range []store.Hash{m.base, m.ours, m.theirs} {
		if es[i], err = m.objs.Find(t, f.Path); err != nil {
			return store.TreeEntry{}, err
		}
	}
	base, a, b := es[0], es[1], es[2]
	e := store.TreeEntry{Mode: store.ModeFile, Hash: h}
	switch {
	case base.Mode.IsFile() && a.Mode.IsFile() && b.Mode.IsFile():
		if e.Mode = a.Mode; a.Mode == base.Mode {
			e.Mode = b.Mode
		}
	case a.Hash == h && b.Hash != h && !isDir(a) && a.Mode != 0:
		e.Mode = a.Mode
	case b.Hash == h && a.Hash != h && !isDir(b) && b.Mode != 0:
		e.Mode = b.Mode
	default:
		am, bm := a.Mode, b.Mode
		switch {
		case !am.IsFile() && bm.IsFile():
			e.Mode = bm
		case am.IsFile() && !bm.IsFile():
			e.Mode = am
		case am.IsFile() && bm.IsFile():
			if e.Mode = am; am == base.Mode {
				e.Mode = bm
			}
		}
	}
	return e, nil
}

// link settles links and submodules: they cannot be put together. The one whose name sorts first stays, so that every
// machine chooses the same; the other link is kept under a second name.
func (m *merger) link(p string, put map[string]store.TreeEntry) error {
	a, err := m.objs.Find(m.ours, p)
	if err != nil {
		return err
	}
	b, err := m.objs.Find(m.theirs, p)
	if err != nil {
		return err
	}
	switch {
	case a.Mode == 0 || b.Mode == 0: // deleted against changed: the change stands
		if a.Mode == 0 {
			a = b
		}
		put[p] = a
	default:
		if isDir(b) || !isDir(a) && bytes.Compare(b.Hash[:], a.Hash[:]) < 0 {
			a, b = b, a
		}
		put[p] = a
		if b.Mode != store.ModeSub && !isDir(b) {
			put[settle.SecondName(p, b.Hash[:])] = b
		}
	}
	m.look = append(m.look, fmt.Sprintf("%s is a link or a repository of its own and was changed on two machines; see which one you want", p))
	return nil
}

// whole keeps a job folder in one piece: where one side removed a job and the other worked on, the job stays with all of its
// files, and the removal is a record.
func (m *merger) whole(tree store.Hash) (store.Hash, error) {
	base, err := m.jobs(m.base)
	if err != nil {
		return tree, err
	}
	a, err := m.jobs(m.ours)
	if err != nil {
		return tree, err
	}
	b, err := m.jobs(m.theirs)
	if err != nil {
		return tree, err
	}
	names := make([]string, 0)
	for n := range base {
		if (a[n].IsZero() && !b[n].IsZero() && b[n] != base[n]) || (b[n].IsZero() && !a[n].IsZero() && a[n] != base[n]) {
			names = append(names, n)
		}
	}
	sort.Strings(names)
	for _, n := range names {
		keep, keeper, remover := b[n], m.b, m.a
		if keep.IsZero() {
			keep, keeper, remover = a[n], m.a, m.b
		}
		put := map[string]store.TreeEntry{}
		err := m.objs.EachFile(keep, "jobs/"+n+"/", func(p string, mode store.Mode, h store.Hash) error {
			put[p] = store.TreeEntry{Mode: mode, Hash: h}
			return nil
		})
		if err != nil {
			return tree, err
		}
		p := "jobs/" + n + "/job.yaml"
		if e := put[p]; e.Mode != 0 {
			rec, err := m.removal(p, e, keeper, remover)
			if err != nil {
				return tree, err
			}
			have, err := m.objs.Find(tree, rec.Name())
			if err != nil {
				return tree, err
			}
			if have.Mode == 0 {
				h, err := m.batch.Add(store.Blob, rec.Marshal())
				if err != nil {
					return tree, err
				}
				put[rec.Name()] = store.TreeEntry{Mode: store.ModeFile, Hash: h}
				m.records = append(m.records, rec.Name())
			}
			// One removal is one record. Were there one of each file beside it, somebody could take the file away while the other
			// record still has it, and somebody else settle that one while the file is still there.
			for _, r := range m.made {
				if r.Kind == settle.KindFile && !r.Other.Exists && strings.HasPrefix(r.Path, "jobs/"+n+"/") {
					put[r.Name()] = store.TreeEntry{}
					m.records = without(m.records, r.Name())
				}
			}
		}
		m.look = append(m.look, fmt.Sprintf("job %s was removed on one machine and worked on at another; it stays", n))
		if tree, err = m.put(tree, put); err != nil {
			return tree, err
		}
	}
	return tree, nil
}

// wholeJob is what a record of a removed job is about.
const wholeJob = "the whole job"

func (m *merger) removal(p string, e store.TreeEntry, keeper, remover *side) (settle.Record, error) {
	k, err := keeper.of(p)
	if err != nil {
		return settle.Record{}, err
	}
	r, err := remover.of(p)
	if err != nil {
		return settle.Record{}, err
	}
	data, err := m.objs.GetBlob(e.Hash)
	if err != nil {
		return settle.Record{}, err
	}
	rec := settle.Record{Path: p, Kind: settle.KindFile, What: wholeJob,
		Stands: settle.Value{Exists: true, Data: data, Machine: k.Machine, When: k.When},
		Other:  settle.Value{Machine: r.Machine, When: r.When}}
	if be, err := m.objs.Find(m.base, p); err != nil {
		return rec, err
	} else if be.Mode.IsFile() {
		bd, err := m.objs.GetBlob(be.Hash)
		if err != nil {
			return rec, err
		}
		rec.Base = settle.File{Exists: true, Data: bd}
	}
	return rec, nil
}

// unfold parts names that a case-folding disk could not hold side by side, where one machine brought the one and the other
// machine the other: the later in order gets a second name.
func (m *merger) unfold(tree store.Hash) (store.Hash, error) {
	return m.unfoldIn(tree, m.ours, m.theirs, "")
}

func (m *merger) unfoldIn(t, a, b store.Hash, prefix string) (store.Hash, error) {
	if t == a || t == b {
		return t, nil
	}
	es, err := m.objs.GetTree(t)
	if err != nil {
		return t, err
	}
	la, err := m.list(a)
	if err != nil {
		return t, err
	}
	lt, err := m.list(b)
	if err != nil {
		return t, err
	}
	sort.Slice(es, func(i, j int) bool { return es[i].Name < es[j].Name })
	at := map[string]string{}
	changed := false
	var out []store.TreeEntry
	for _, e := range es {
		f := store.Fold(e.Name)
		if other, clash := at[f]; clash {
			_, a1 := la[e.Name]
			_, a2 := la[other]
			_, b1 := lt[e.Name]
			_, b2 := lt[other]
			if !(a1 && a2) && !(b1 && b2) {
				second := settle.SecondName(e.Name, []byte(e.Name))
				m.look = append(m.look, fmt.Sprintf("%s and %s differ only in their capitals; the second is now %s", prefix+other, prefix+e.Name, prefix+second))
				e.Name, changed = second, true
			}
		} else {
			at[f] = e.Name
		}
		if isDir(e) {
			h, err := m.unfoldIn(e.Hash, sub(la[e.Name]), sub(lt[e.Name]), prefix+e.Name+"/")
			if err != nil {
				return t, err
			}
			if h != e.Hash {
				e.Hash, changed = h, true
			}
		}
		out = append(out, e)
	}
	if !changed {
		return t, nil
	}
	return m.batch.AddTree(out)
}
