package sync

import (
	"time"

	"caul/sync/settle"
	"caul/sync/store"
)

// side tells who changed what on one side of a settling since the base.
type side struct {
	objs    *store.Objects
	commits []*store.CommitInfo // newest first
	rename  map[string]string   // job folders: name in the settled tree -> name on this side
	byPath  map[string][]touch
}

// touch is one commit's change of one path.
type touch struct {
	c    *store.CommitInfo
	diff store.Diff
}

// load finds the changes of every path, once; it is asked only when both sides changed something.
func (s *side) load() error {
	if s.byPath != nil {
		return nil
	}
	s.byPath = map[string][]touch{}
	for _, c := range s.commits {
		if len(c.Parents) > 1 {
			continue // a commit that only settles is nobody's edit
		}
		old := store.EmptyTree
		if len(c.Parents) == 1 {
			p, err := s.objs.GetCommit(c.Parents[0])
			if err != nil {
				return err
			}
			old = p.Tree
		}
		ds, err := s.objs.DiffTrees(old, c.Tree)
		if err != nil {
			return err
		}
		for _, d := range ds {
			s.byPath[d.Path] = append(s.byPath[d.Path], touch{c, d})
		}
	}
	return nil
}

// of describes who changed a path on this side, for the settling.
func (s *side) of(path string) (settle.Side, error) {
	if err := s.load(); err != nil {
		return settle.Side{}, err
	}
	ts := s.byPath[s.here(path)]
	var out settle.Side
	for _, t := range ts {
		if at := editedAt(t.c, t.diff.Path); out.Machine == "" || at.After(out.When) {
			out.Machine, out.When = t.c.Author.Name, at
		}
	}
	if out.Machine == "" && len(s.commits) > 0 { // changed by a settling only
		c := s.commits[0]
		out.Machine, out.When = c.Author.Name, c.Author.When
	}
	out.When = out.When.UTC()
	out.Edits = func() []settle.Edit {
		var es []settle.Edit
		for _, t := range ts {
			before, err1 := s.file(t.diff.OldMode, t.diff.Old)
			after, err2 := s.file(t.diff.NewMode, t.diff.New)
			if err1 != nil || err2 != nil {
				continue
			}
			es = append(es, settle.Edit{Machine: t.c.Author.Name, When: editedAt(t.c, t.diff.Path).UTC(), Before: before, After: after})
		}
		return es
	}
	return out, nil
}

// here is the name of a path on this side, where a job folder has another name than in the settled tree.
func (s *side) here(path string) string {
	if job, rest := splitJob(path); job != "" {
		if n, ok := s.rename[job]; ok {
			return "jobs/" + n + "/" + rest
		}
	}
	return path
}

func (s *side) file(m store.Mode, h store.Hash) (settle.File, error) {
	if m == 0 || m == store.ModeSub {
		return settle.File{}, nil
	}
	data, err := s.objs.GetBlob(h)
	return settle.File{Exists: true, Data: data}, err
}

// newest is the latest of some times.
func newest(ts ...time.Time) time.Time {
	var out time.Time
	for _, t := range ts {
		if t.After(out) {
			out = t
		}
	}
	return out
}
