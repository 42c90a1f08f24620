package sync

import (
	"sort"

	"caul/sync/store"
)

func (m *merger) jobs(t store.Hash) (map[string]store.Hash, error) { return jobsOf(m.objs, t) }

// jobsOf lists the job folders of a tree.
func jobsOf(objs *store.Objects, t store.Hash) (map[string]store.Hash, error) {
	e, err := objs.Find(t, "jobs")
	if err != nil || !isDir(e) {
		return nil, err
	}
	es, err := objs.GetTree(e.Hash)
	if err != nil {
		return nil, err
	}
	out := make(map[string]store.Hash, len(es))
	for _, e := range es {
		if isDir(e) {
			out[e.Name] = e.Hash
		}
	}
	return out, nil
}

// renames finds job folders that one side gave another name, and renames them in the base and on the other side before
// settling, so that a note written to the old name goes where the job went.
func (m *merger) renames(base, a, b store.Hash) (store.Hash, store.Hash, store.Hash, error) {
	if base == a || base == b || a == b {
		return base, a, b, nil
	}
	jb, err := m.jobs(base)
	if err != nil {
		return base, a, b, err
	}
	ja, err := m.jobs(a)
	if err != nil {
		return base, a, b, err
	}
	jt, err := m.jobs(b)
	if err != nil {
		return base, a, b, err
	}
	fromA, err := m.renamed(jb, ja)
	if err != nil {
		return base, a, b, err
	}
	fromB, err := m.renamed(jb, jt)
	if err != nil {
		return base, a, b, err
	}
	apply := func(moved, other map[string]string, jo map[string]store.Hash, o *store.Hash, s *side) error {
		olds := make([]string, 0, len(moved))
		for n := range moved {
			olds = append(olds, n)
		}
		sort.Strings(olds)
		for _, old := range olds {
			now := moved[old]
			if _, both := other[old]; both || jo[old].IsZero() || jo[old] == jb[old] || !jo[now].IsZero() {
				continue
			}
			if base, err = m.moveJob(base, old, now); err != nil {
				return err
			}
			if *o, err = m.moveJob(*o, old, now); err != nil {
				return err
			}
			if s.rename == nil {
				s.rename = map[string]string{}
			}
			s.rename[now] = old
		}
		return nil
	}
	if err := apply(fromA, fromB, jt, &b, m.b); err != nil {
		return base, a, b, err
	}
	err = apply(fromB, fromA, ja, &a, m.a)
	return base, a, b, err
}

// renamed pairs jobs of the base that a side has no more with jobs that it has anew.
func (m *merger) renamed(base, now map[string]store.Hash) (map[string]string, error) {
	return renamedJobs(m.objs, base, now)
}

// jobFiles are the files of a job's folder, by their path in it.
type jobFiles map[string]store.Hash

func filesOf(objs *store.Objects, t store.Hash) (jobFiles, error) {
	out := jobFiles{}
	err := objs.EachFile(t, "", func(p string, _ store.Mode, h store.Hash) error {
		out[p] = h
		return nil
	})
	return out, err
}

// renamedJobs pairs the jobs that are gone between two trees with those that came.
func renamedJobs(objs *store.Objects, base, now map[string]store.Hash) (map[string]string, error) {
	gone, fresh := map[string]jobFiles{}, map[string]jobFiles{}
	for n := range base {
		if now[n].IsZero() {
			gone[n] = nil
		}
	}
	for n := range now {
		if base[n].IsZero() {
			fresh[n] = nil
		}
	}
	if len(gone) == 0 || len(fresh) == 0 {
		return nil, nil
	}
	var err error
	for n := range gone {
		if gone[n], err = filesOf(objs, base[n]); err != nil {
			return nil, err
		}
	}
	for n := range fresh {
		if fresh[n], err = filesOf(objs, now[n]); err != nil {
			return nil, err
		}
	}
	return pairJobs(gone, fresh), nil
}

// pairJobs pairs job folders that are gone with new ones, where at least half of the old files are there unchanged.
func pairJobs(gone, fresh map[string]jobFiles) map[string]string {
	out := map[string]string{}
	taken := map[string]bool{}
	news := sortedNames(fresh)
	for _, g := range sortedNames(gone) {
		best, score := "", 0
		for _, n := range news {
			same := 0
			for p, h := range gone[g] {
				if fresh[n][p] == h {
					same++
				}
			}
			if !taken[n] && same > score && 2*same >= len(gone[g]) {
				best, score = n, same
			}
		}
		if best != "" {
			out[g] = best
			taken[best] = true
		}
	}
	return out
}

func sortedNames(m map[string]jobFiles) []string {
	out := make([]string, 0, len(m))
	for n := range m {
		out = append(out, n)
	}
	sort.Strings(out)
	return out
}

func (m *merger) moveJob(t store.Hash, from, to string) (store.Hash, error) {
	e, err := m.objs.Find(t, "jobs/"+from)
	if err != nil || !isDir(e) {
		return t, err
	}
	put := map[string]store.TreeEntry{}
	err = m.objs.EachFile(e.Hash, "", func(p string, mode store.Mode, h store.Hash) error {
		put["jobs/"+from+"/"+p] = store.TreeEntry{}
		put["jobs/"+to+"/"+p] = store.TreeEntry{Mode: mode, Hash: h}
		return nil
	})
	if err != nil {
		return t, err
	}
	return m.batch.Put(t, put)
}
