package sync

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"github.com/stretchr/testify/require"
)

// all is every byte of the shop's files.
func (m *machine) all() string { return m.bytesBut(".git") }

// own is every byte of the shop's files but what waits in both-ways.
func (m *machine) own() string { return m.bytesBut(".git", "both-ways") }

func (m *machine) bytesBut(left ...string) string {
	var b strings.Builder
	_ = filepath.WalkDir(m.dir, func(p string, d os.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if d.IsDir() {
			if slices.Contains(left, d.Name()) {
				return filepath.SkipDir
			}
			return nil
		}
		data, err := os.ReadFile(p)
		require.NoError(m.w.t, err)
		b.Write(data)
		b.WriteByte('\n')
		return nil
	})
	return b.String()
}

// settleAll syncs until nothing moves any more, and checks what must hold then.
func (w *world) settleAll(gitToo bool) {
	for round := 0; ; round++ {
		heads := map[string]bool{}
		moved := false
		for _, m := range w.machines {
			s := m.open()
			rep, err := s.Sync(context.Background(), Options{Now: m.now, Emptied: true})
			w.say("%s: last sync: %v %s", m.name, err, brief(rep))
			if err != nil {
				w.fail("%s: %v", m.name, err)
			}
			for _, x := range rep.Remotes {
				if x.State != InStep {
					w.fail("%s: %s: %s", m.name, x.Name, x.Error)
				}
				moved = moved || len(x.Came)+len(x.Went) > 0
			}
			heads[rep.Head] = true
		}
		if !moved && len(heads) == 1 {
			break
		}
		if round > 6 {
			w.fail("no agreement after %d rounds: %d heads", round, len(heads))
		}
	}
	var first string
	for i, m := range w.machines {
		all := m.all()
		if i == 0 {
			first = all
		} else if all != first {
			w.fail("%s has other files than %s", m.name, w.machines[0].name)
		}
		if gitToo {
			if out := git(w.t, m.dir, "status", "--porcelain"); out != "" {
				w.fail("%s: git status: %s", m.name, out)
			}
			if out := git(w.t, m.dir, "fsck", "--strict", "--no-dangling"); out != "" {
				w.fail("%s: git fsck: %s", m.name, out)
			}
		}
		if es, _ := os.ReadDir(filepath.Join(m.dir, ".git", "caul", "in")); len(es) > 0 {
			w.fail("%s: %d files left in staging", m.name, len(es))
		}
		if m.open().repo.Unfinished() {
			w.fail("%s: journal left", m.name)
		}
	}
	if gitToo {
		for _, p := range w.sticks {
			if _, err := os.Stat(filepath.Join(p, "caul.git")); err == nil {
				if out := git(w.t, filepath.Join(p, "caul.git"), "fsck", "--strict", "--no-dangling"); out != "" {
					w.fail("%s: git fsck: %s", p, out)
				}
			}
		}
	}
	var lost []string
	for tok, what := range w.open {
		if !strings.Contains(first, tok) {
			lost = append(lost, tok+" ("+what+")")
		}
	}
	if len(lost) > 0 {
		sort.Strings(lost)
		w.fail("lost: %s\n%s", strings.Join(lost, ", "), first)
	}
	if strings.Contains(first, "<<<<<<<") {
		w.fail("a conflict marker")
	}
}
