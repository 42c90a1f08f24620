package sync

import (
	"context"
	"crypto/rand"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	gosync "sync"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
	"caul/sync/remote"
)

// places are the kinds of remote.
var places = []struct {
	name string
	make func(*testing.T) *place
}{{"folder", folderPlace}, {"folder by vfat's rules", fatPlace}, {"folder on vfat", vfatPlace}, {"ssh", sshPlace}, {"http", httpPlace}, {"peer", peerPlace}}

// Every kind of remote passes the same suite.
func TestRemotes(t *testing.T) {
	for _, k := range places {
		t.Run(k.name, func(t *testing.T) { conform(t, k.make(t)) })
	}
}

func conform(t *testing.T, p *place) {
	root := t.TempDir()
	o := p.options()
	machine := func(name string) *Shop {
		disk := &faulty.Disk{FAT: p.fat}
		if p.fat != "" {
			root = p.fat
		}
		s, err := initOn(filepath.Join(root, name), name, disk)
		require.NoError(t, err)
		if p.fat != "" { // what looking for a name in other capitals finds on a stick
			conf := filepath.Join(".git", "config")
			write(t, s.Dir(), conf, strings.Replace(read(t, s.Dir(), conf), "[core]\n", "[core]\n\tignorecase = true\n", 1))
			s, err = openOn(s.Dir(), disk)
			require.NoError(t, err)
		}
		require.NoError(t, s.AddRemote("meet", p.addr, RemoteOptions{}))
		return s
	}
	do := func(s *Shop) *Report {
		t.Helper()
		rep, err := s.Sync(context.Background(), o)
		require.NoError(t, err)
		require.Len(t, rep.Remotes, 1)
		require.Equal(t, InStep, rep.Remotes[0].State, "%s (%s)", rep.Remotes[0].Error, rep.Remotes[0].Hint)
		return rep
	}
	home, shop := machine("home"), machine("shop")

	// The first push makes the branch, a dry run before it does not.
	for i := range 20 {
		write(t, home.Dir(), fmt.Sprintf("jobs/job-%d/job.yaml", i), fmt.Sprintf("name: Job %d\nqty: 1\n", i))
	}
	photo := make([]byte, 300_000)
	_, _ = rand.Read(photo)
	write(t, home.Dir(), "jobs/job-0/photos/a.jpg", "\xff\xd8\xff"+string(photo))
	dry := o
	dry.DryRun = true
	rep, err := home.Sync(context.Background(), dry)
	require.NoError(t, err)
	require.Len(t, rep.Remotes[0].Went, 21)
	require.Len(t, do(home).Remotes[0].Went, 21)

	// A second machine gets all of it.
	require.Len(t, do(shop).Remotes[0].Came, 21)
	require.Equal(t, read(t, home.Dir(), "jobs/job-0/photos/a.jpg"), read(t, shop.Dir(), "jobs/job-0/photos/a.jpg"))
	rep = do(shop)
	require.Empty(t, rep.Remotes[0].Came)
	require.Empty(t, rep.Remotes[0].Went)

	// Both work; each has commits the other and the remote lack.
	write(t, home.Dir(), "jobs/job-1/job.yaml", "name: Job 1\nqty: 2\n")
	write(t, shop.Dir(), "jobs/job-1/job.yaml", "name: Job One\nqty: 1\n")
	write(t, shop.Dir(), "jobs/job-1/log/2026-03-14T1905-shop-did.md", "---\ndid: finished\nstep: mill\n---\n")
	do(home)
	rep = do(shop)
	require.True(t, rep.Remotes[0].Joined)
	do(home)
	for _, s := range []*Shop{home, shop} {
		require.Equal(t, "name: Job One\nqty: 2\n", read(t, s.Dir(), "jobs/job-1/job.yaml"))
	}

	// Two push at once, again and again: no update is lost.
	const n = 3
	var wg gosync.WaitGroup
	for i := range n {
		for _, s := range []*Shop{home, shop} {
			write(t, s.Dir(), fmt.Sprintf("jobs/job-2/log/%s-%d.md", s.Machine(), i), s.Machine())
			wg.Add(1)
			go func() {
				defer wg.Done()
				rep, err := s.Sync(context.Background(), o)
				if err != nil || rep.Partial() {
					t.Errorf("%v %+v", err, rep)
				}
			}()
		}
		wg.Wait()
	}
	do(home)
	do(shop)
	do(home)
	for _, s := range []*Shop{home, shop} {
		es, err := os.ReadDir(filepath.Join(s.Dir(), "jobs/job-2/log"))
		require.NoError(t, err)
		require.Len(t, es, 2*n)
	}
	if haveGit {
		for _, d := range []string{p.repo, home.Dir(), shop.Dir()} {
			require.Empty(t, git(t, d, "fsck", "--strict", "--no-dangling"))
		}
		gitBeside(t, p, home, do)
	}

	// No secret in any file of the shop.
	for _, secret := range p.env {
		for _, s := range []*Shop{home, shop} {
			require.NoError(t, filepath.WalkDir(s.Dir(), func(path string, d os.DirEntry, err error) error {
				if err != nil || d.IsDir() {
					return err
				}
				data, err := os.ReadFile(path)
				require.NotContains(t, string(data), secret, path)
				return err
			}))
		}
	}

	// A job whose name changes in its capitals alone: on a stick the new name is free only once the old one is gone.
	require.NoError(t, os.Rename(filepath.Join(home.Dir(), "jobs/job-6"), filepath.Join(home.Dir(), "jobs/Job-6")))
	do(home)
	do(shop)
	es, err := os.ReadDir(filepath.Join(shop.Dir(), "jobs"))
	require.NoError(t, err)
	require.Equal(t, "Job-6", es[0].Name())
	require.Equal(t, "name: Job 6\nqty: 1\n", read(t, shop.Dir(), "jobs/Job-6/job.yaml"))

	// Out of reach is no error, it is named.
	p.stop()
	write(t, home.Dir(), "shop.yaml", "name: kept\n")
	rep, err = home.Sync(context.Background(), o)
	require.NoError(t, err)
	require.Equal(t, Missing, rep.Remotes[0].State, rep.Remotes[0].Error)
	require.ErrorIs(t, rep.Remotes[0].Err(), remote.ErrAbsent)
	require.False(t, rep.Partial())
	require.Len(t, rep.Kept, 1)
}

// gitBeside lets the git program work on a clone of the same repository, merge, and push where it may.
func gitBeside(t *testing.T, p *place, s *Shop, do func(*Shop) *Report) {
	dir := filepath.Join(t.TempDir(), "clone")
	git(t, filepath.Dir(dir), "clone", "-q", p.repo, dir)
	write(t, dir, "jobs/job-3/build.md", "# By hand\n")
	git(t, dir, "add", ".")
	git(t, dir, "commit", "-q", "-m", "by hand")
	if _, err := os.Stat(filepath.Join(p.repo, ".git")); err == nil {
		return // a bench: its branch is checked out
	}
	write(t, s.Dir(), "jobs/job-4/build.md", "# By caul\n")
	do(s)
	git(t, dir, "pull", "-q", "--no-rebase", "--no-edit")
	git(t, dir, "push", "-q")
	do(s)
	require.Equal(t, "# By hand\n", read(t, s.Dir(), "jobs/job-3/build.md"))
	require.Empty(t, git(t, s.Dir(), "status", "--porcelain"))
	git(t, s.Dir(), "gc", "-q")
	write(t, s.Dir(), "jobs/job-5/build.md", "# After a clean-up\n")
	do(s)
	git(t, dir, "pull", "-q")
	require.Equal(t, "# After a clean-up\n", read(t, dir, "jobs/job-5/build.md"))
}
