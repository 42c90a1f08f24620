package sync

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"caul/sync/settle"
	"caul/sync/store"
)

// A record keeps the name its job had when it was written: a record that is changed later would come back after somebody settled
// it on another machine. Where that job is now is told by the history: from the commit that brought the record on, each step that
// gave the job's folder another name is followed, the same way a settling pairs folders, and last the step to the working files.
type follower struct{ s *Shop }

func (s *Shop) follower() follower { return follower{s} }

// record gives a record with its path as it is now.
func (f follower) record(name string, r settle.Record) (settle.Record, error) {
	job, rest := splitJob(r.Path)
	if job == "" {
		return r, nil
	}
	repo := f.s.repo
	_, head, err := repo.Head()
	if err != nil {
		return r, err
	}
	if !head.IsZero() {
		if job, err = f.at(head, name, job, map[store.Hash]string{}); err != nil {
			return r, err
		}
	}
	if job, err = f.working(head, job); err != nil {
		return r, err
	}
	r.Path = "jobs/" + job + "/" + rest
	return r, nil
}

// job is a job's folder in a tree, zero when there is none.
func (f follower) job(tree store.Hash, name string) (store.Hash, error) {
	e, err := f.s.repo.Objects.Find(tree, "jobs/"+name)
	if err != nil || !isDir(e) {
		return store.Hash{}, err
	}
	return e.Hash, nil
}

// at gives the name that a record's job has in a commit; first is what it had when the record was written. known keeps what was
// found for other commits.
func (f follower) at(c store.Hash, record, first string, known map[store.Hash]string) (string, error) {
	if n, ok := known[c]; ok {
		return n, nil
	}
	objs := f.s.repo.Objects
	info, err := objs.GetCommit(c)
	if err != nil {
		return "", err
	}
	name, met := first, false
	for _, p := range info.Parents {
		was, err := f.s.repo.TreeOf(p)
		if err != nil {
			return "", err
		}
		if e, err := objs.Find(was, record); err != nil {
			return "", err
		} else if e.Mode == 0 {
			continue
		}
		n, err := f.at(p, record, first, known)
		if err != nil {
			return "", err
		}
		if n, err = f.step(was, info.Tree, n); err != nil {
			return "", err
		}
		here, err := f.job(info.Tree, n)
		if err != nil {
			return "", err
		}
		if !met || !here.IsZero() { // of two sides, the one that knows where the job is
			name, met = n, true
		}
	}
	known[c] = name
	return name, nil
}

// step follows one job from one tree to the next. A folder of the old name that has none of the old files any more is another
// job, if the old files are in a new folder.
func (f follower) step(was, now store.Hash, n string) (string, error) {
	objs := f.s.repo.Objects
	a, err := f.job(was, n)
	if err != nil {
		return n, err
	}
	b, err := f.job(now, n)
	if err != nil || a.IsZero() || a == b {
		return n, err
	}
	if !b.IsZero() {
		old, err := filesOf(objs, a)
		if err != nil {
			return n, err
		}
		is, err := filesOf(objs, b)
		if err != nil || shares(old, is) {
			return n, err
		}
	}
	wasJobs, err := jobsOf(objs, was)
	if err != nil {
		return n, err
	}
	nowJobs, err := jobsOf(objs, now)
	if err != nil {
		return n, err
	}
	delete(nowJobs, n)
	to, err := renamedJobs(objs, wasJobs, nowJobs)
	if m, ok := to[n]; ok {
		return m, err
	}
	return n, err
}

func shares(a, b jobFiles) bool {
	for p, h := range a {
		if b[p] == h {
			return true
		}
	}
	return false
}

// working follows a job from the last commit to the working files.
func (f follower) working(head store.Hash, n string) (string, error) {
	repo := f.s.repo
	tree, err := repo.TreeOf(head)
	if err != nil {
		return n, err
	}
	was, err := jobsOf(repo.Objects, tree)
	if err != nil || was[n].IsZero() {
		return n, err
	}
	dir := filepath.Join(repo.Dir, "jobs")
	es, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return n, store.Name(err, dir)
	}
	there := map[string]bool{}
	fresh := map[string]jobFiles{}
	for _, e := range es {
		if !e.IsDir() {
			continue
		}
		there[e.Name()] = true
		if was[e.Name()].IsZero() {
			if fresh[e.Name()], err = workingFiles(filepath.Join(dir, e.Name())); err != nil {
				return n, err
			}
		}
	}
	if len(fresh) == 0 {
		return n, nil
	}
	gone := map[string]jobFiles{}
	for j, h := range was {
		if there[j] && j != n {
			continue
		}
		if gone[j], err = filesOf(repo.Objects, h); err != nil {
			return n, err
		}
		if there[j] {
			is, err := workingFiles(filepath.Join(dir, j))
			if err != nil || shares(gone[j], is) {
				return n, err
			}
		}
	}
	if m, ok := pairJobs(gone, fresh)[n]; ok {
		return m, nil
	}
	return n, nil
}

func workingFiles(dir string) (jobFiles, error) {
	out := jobFiles{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, p)
		out[filepath.ToSlash(rel)] = store.HashOf(store.Blob, data)
		return err
	})
	return out, store.Name(err, dir)
}
