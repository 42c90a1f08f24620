package settle

import (
	"strings"
)

// move is a job whose folder one side renamed while the other went on working
// in it under the old name.
type move struct {
	from, to string // "jobs/old/", "jobs/new/"
	ours     bool   // our side renamed it
}

// moves finds renamed jobs: on one side the folder is gone and one new folder
// has its job.yaml, the same or nearly so; the other side has the folder still
// and none of the new name. Without this, what the other side wrote since would
// stay behind in a folder without a job.
func (f Folder) moves(paths []string) ([]move, error) {
	var out []move
	taken := map[string]int{}
	for _, p := range paths {
		folder, ok := jobFolder(p)
		if !ok {
			continue
		}
		v, err := f.versions(p)
		if err != nil {
			return nil, err
		}
		if !v.base.Exists || v.ours.Exists == v.theirs.Exists {
			continue
		}
		m := move{from: folder, ours: !v.ours.Exists}
		stays, err := f.anyUnder(folder, paths, m.ours)
		if err != nil {
			return nil, err
		}
		n := 0
		for _, q := range paths {
			to, ok := jobFolder(q)
			if !ok || to == folder || stays {
				continue
			}
			w, err := f.versions(q)
			if err != nil {
				return nil, err
			}
			side, other := w.ours, w.theirs
			if !m.ours {
				side, other = other, side
			}
			if w.base.Exists || other.Exists || !side.Exists || !sameJob(v.base, side) {
				continue
			}
			there, err := f.anyUnder(to, paths, !m.ours)
			if err != nil {
				return nil, err
			}
			if !there {
				m.to = to
				n++
			}
		}
		if n == 1 {
			out = append(out, m)
			taken[m.to]++
		}
	}
	kept := out[:0]
	for _, m := range out {
		if taken[m.to] == 1 {
			kept = append(kept, m)
		}
	}
	return kept, nil
}

func jobFolder(p string) (string, bool) {
	folder, ok := strings.CutSuffix(p, "job.yaml")
	return folder, ok && strings.Count(p, "/") == 2 && strings.HasPrefix(p, "jobs/")
}

func (f Folder) anyUnder(folder string, paths []string, ours bool) (bool, error) {
	l := f.Theirs
	if ours {
		l = f.Ours
	}
	for _, p := range paths {
		if strings.HasPrefix(p, folder) {
			if v, err := l(p); err != nil || v.Exists {
				return v.Exists, err
			}
		}
	}
	return false, nil
}

// sameJob tells whether a new job.yaml is an old one under another name.
func sameJob(a, b File) bool {
	if sameFile(a, b) {
		return true
	}
	x, _, okX := unframe(a.Data)
	y, _, okY := unframe(b.Data)
	if !okX || !okY {
		return false
	}
	dx, errX := readYAML(x)
	dy, errY := readYAML(y)
	if errX != nil || errY != nil {
		return false
	}
	same, total := alike(dx.root, dy.root, "")
	return 4*same >= 3*total && same > 0
}

// follow gives, for the paths of a renamed job, the new paths and where each
// version of them stands.
func (f Folder) follow(paths []string) (all []string, at map[string]source, gone map[string]bool, err error) {
	ms, err := f.moves(paths)
	if err != nil {
		return nil, nil, nil, err
	}
	at, gone = map[string]source{}, map[string]bool{}
	for _, p := range paths {
		for _, m := range ms {
			rest, ok := strings.CutPrefix(p, m.from)
			if !ok {
				continue
			}
			q := m.to + rest
			s := source{base: p, ours: p, theirs: q}
			if m.ours {
				s.ours, s.theirs = q, p
			}
			at[q] = s
			gone[p] = true
		}
	}
	all = append(all, paths...)
	for q := range at {
		all = append(all, q)
	}
	return all, at, gone, nil
}

// source says under which path each of the three trees has a file.
type source struct{ base, ours, theirs string }
