package sync

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
)

// A value that was changed both ways is put where its job is now: renamed by hand and not synced yet, renamed here or on the other
// machine, twice, while the other machine rewrote every file, or with another job under the old name.
func TestTakeFollowsARenamedJob(t *testing.T) {
	t.Parallel()
	const another = "name: Stool\nqty: 8\n"
	var home, shop, yard string
	move := func(dir, from, to string) {
		require.NoError(t, os.Rename(filepath.Join(dir, "jobs", from), filepath.Join(dir, "jobs", to)))
	}
	step := func(dirs ...string) {
		for _, d := range dirs {
			must(t, d)
		}
	}
	for _, c := range []struct {
		name   string
		do     func()
		at     string // the job's folder at the end
		listed bool   // the list names that folder too
	}{
		{"not renamed", func() {}, "table", true},
		{"renamed, not synced", func() { move(home, "table", "bench") }, "bench", true},
		{"renamed and synced", func() { move(home, "table", "bench"); step(home) }, "bench", true},
		{"renamed twice", func() { move(home, "table", "bench"); step(home); move(home, "bench", "desk"); step(home) }, "desk", true},
		{"renamed, synced, renamed", func() { move(home, "table", "bench"); step(home); move(home, "bench", "desk") }, "desk", true},
		{"there and back", func() { move(home, "table", "bench"); step(home); move(home, "bench", "table"); step(home) }, "table", true},
		{"renamed on the other machine", func() { move(shop, "table", "bench"); step(shop, home) }, "bench", true},
		{"renamed there, every file rewritten here", func() {
			move(shop, "table", "bench")
			step(shop)
			write(t, home, "jobs/table/job.yaml", "name: Table\nqty: 3\nfor: the wall\n")
			write(t, home, "jobs/table/build.md", "# Table\n\nOther words.\n")
			write(t, home, "jobs/table/log/a.md", "---\ndid: begun\n---\n")
			write(t, home, "jobs/table/log/b.md", "---\ndid: begun\n---\n")
			step(home)
		}, "bench", true},
		{"renamed here, every file rewritten there", func() {
			move(home, "table", "bench")
			step(home)
			write(t, shop, "jobs/table/job.yaml", "name: Table\nqty: 3\nfor: the wall\n")
			write(t, shop, "jobs/table/build.md", "# Table\n\nOther words.\n")
			write(t, shop, "jobs/table/log/a.md", "---\ndid: begun\n---\n")
			write(t, shop, "jobs/table/log/b.md", "---\ndid: begun\n---\n")
			step(shop, home)
		}, "bench", true},
		{"renamed on a machine that has not met the record, every file rewritten here", func() {
			write(t, home, "jobs/table/job.yaml", "name: Table\nqty: 3\nfor: the wall\n")
			write(t, home, "jobs/table/build.md", "# Table\n\nOther words.\n")
			write(t, home, "jobs/table/log/a.md", "---\ndid: begun\n---\n")
			write(t, home, "jobs/table/log/b.md", "---\ndid: begun\n---\n")
			step(home)
			move(yard, "table", "bench")
			step(yard, home)
		}, "bench", true},
		{"renamed, another job takes the name later", func() {
			move(home, "table", "bench")
			step(home)
			write(t, home, "jobs/table/job.yaml", another)
			step(home)
		}, "bench", false},
		{"renamed, another job takes the name at once", func() {
			move(home, "table", "bench")
			write(t, home, "jobs/table/job.yaml", another)
			step(home)
		}, "bench", false},
		{"renamed, another job takes the name, not synced", func() {
			move(home, "table", "bench")
			write(t, home, "jobs/table/job.yaml", another)
		}, "bench", false},
		{"renamed there, another job takes the name there", func() {
			move(shop, "table", "bench")
			step(shop)
			write(t, shop, "jobs/table/job.yaml", another)
			step(shop, home)
		}, "bench", false},
	} {
		for _, which := range []Side{Stands, Other} {
			t.Run(c.name+[]string{", kept", ", taken"}[which], func(t *testing.T) {
				root := t.TempDir()
				home, shop, yard = filepath.Join(root, "home"), filepath.Join(root, "shop"), filepath.Join(root, "yard")
				stick := filepath.Join(root, "stick")
				require.NoError(t, os.Mkdir(stick, 0o777))
				for _, d := range []string{home, shop, yard} {
					s, err := initOn(d, filepath.Base(d), &faulty.Disk{})
					require.NoError(t, err)
					require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
					if d == home {
						write(t, d, "shop.yaml", "name: shop\n")
						write(t, d, "jobs/table/job.yaml", "name: Table\nqty: 1\n")
						write(t, d, "jobs/table/build.md", "# Table\n\nWords.\n")
						write(t, d, "jobs/table/log/a.md", "---\ndid: finished\n---\n")
						write(t, d, "jobs/table/log/b.md", "---\ndid: finished\n---\n")
						write(t, d, "jobs/vise/job.yaml", "name: Vise\nqty: 1\n")
					}
					must(t, d)
				}
				now := time.Now()
				for i, d := range []string{home, shop} {
					write(t, d, "jobs/table/job.yaml", []string{"name: Table\nqty: 2\n", "name: Table\nqty: 3\n"}[i])
					at := now.Add(time.Duration(i-2) * time.Minute)
					require.NoError(t, os.Chtimes(filepath.Join(d, "jobs/table/job.yaml"), at, at))
				}
				step(home, shop, home)
				c.do()
				s, err := openOn(home, &faulty.Disk{})
				require.NoError(t, err)
				defer s.Close()
				bs, err := s.BothWays()
				require.NoError(t, err)
				require.Len(t, bs, 1)
				if c.listed {
					require.Equal(t, "jobs/"+c.at+"/job.yaml", bs[0].Path)
				}
				p := "jobs/" + c.at + "/job.yaml"
				before := read(t, home, p)
				require.Contains(t, before, "qty: 3\n")
				require.NoError(t, s.Take(bs[0].Name, which))
				want := before
				if which == Other {
					want = "name: Table\nqty: 2\n" + before[len("name: Table\nqty: 3\n"):]
				}
				require.Equal(t, want, read(t, home, p))
				require.Equal(t, "name: Vise\nqty: 1\n", read(t, home, "jobs/vise/job.yaml"))
				if !c.listed {
					require.Equal(t, another, read(t, home, "jobs/table/job.yaml"))
				}
				step(home, shop, yard, home, shop)
				require.Equal(t, words(t, home), words(t, shop))
				require.Equal(t, words(t, home), words(t, yard))
				require.Equal(t, want, read(t, shop, p))
				require.NoDirExists(t, filepath.Join(shop, "both-ways"))
			})
		}
	}
}

// A job that was removed on one machine, worked on at the other and renamed since is removed under its new name.
func TestRemovedJobIsFollowed(t *testing.T) {
	home, shop, _ := met(t, map[string]string{"shop.yaml": "name: shop\n", "jobs/table/job.yaml": "name: Table\nqty: 1\n", "jobs/table/build.md": "# Table\n"})
	require.NoError(t, os.RemoveAll(filepath.Join(home, "jobs/table")))
	must(t, home)
	write(t, shop, "jobs/table/build.md", "# Table\n\nWords.\n")
	must(t, shop)
	require.NoError(t, os.Rename(filepath.Join(shop, "jobs/table"), filepath.Join(shop, "jobs/bench")))
	must(t, shop)
	write(t, shop, "jobs/table/job.yaml", "name: Stool\n")
	must(t, shop)
	s, err := openOn(shop, &faulty.Disk{})
	require.NoError(t, err)
	defer s.Close()
	bs, err := s.BothWays()
	require.NoError(t, err)
	require.Len(t, bs, 1)
	require.NoError(t, s.Take(bs[0].Name, Other))
	require.NoDirExists(t, filepath.Join(shop, "jobs/bench"))
	require.Equal(t, "name: Stool\n", read(t, shop, "jobs/table/job.yaml"))
}
