package sync

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
	"caul/sync/remote"
)

// everything is all that a folder holds, the histories too: names, kinds, modes, times and bytes.
func everything(t testing.TB, dirs ...string) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, dir := range dirs {
		if dir == "" {
			continue
		}
		require.NoError(t, filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
			require.NoError(t, err)
			fi, err := d.Info()
			require.NoError(t, err)
			all[p] = fmt.Sprintf("%s %s", fi.Mode(), fi.ModTime())
			if fi.Mode().IsRegular() {
				data, err := os.ReadFile(p)
				require.NoError(t, err)
				all[p] += " " + string(data)
			}
			return nil
		}))
	}
	return all
}

// A dry run changes not a byte, a time or a name: of the shop, its history, the remote, what this machine knows of hosts. What it
// says is what the sync after it does.
func TestDryRunChangesNothing(t *testing.T) {
	for _, k := range places {
		t.Run(k.name, func(t *testing.T) {
			p := k.make(t)
			root, o := t.TempDir(), p.options()
			machine := func(name string) *Shop {
				s, err := initOn(filepath.Join(root, name), name, &faulty.Disk{})
				require.NoError(t, err)
				require.NoError(t, s.AddRemote("meet", p.addr, RemoteOptions{}))
				return s
			}
			dry := func(s *Shop) *Report {
				look := o
				look.DryRun = true
				before := everything(t, s.Dir(), p.home, filepath.Dir(p.repo))
				rep, err := s.Sync(context.Background(), look)
				require.NoError(t, err)
				require.Equal(t, InStep, rep.Remotes[0].State, rep.Remotes[0].Error)
				require.Equal(t, before, everything(t, s.Dir(), p.home, filepath.Dir(p.repo)))
				return rep
			}
			do := func(s *Shop) *Report {
				said := dry(s)
				rep, err := s.Sync(context.Background(), o)
				require.NoError(t, err)
				require.Equal(t, InStep, rep.Remotes[0].State, rep.Remotes[0].Error)
				require.Equal(t, rep.Kept, said.Kept)
				require.Equal(t, rep.Message, said.Message)
				require.Equal(t, rep.Remotes[0].Came, said.Remotes[0].Came)
				require.Equal(t, rep.Remotes[0].Went, said.Remotes[0].Went)
				require.Equal(t, rep.Remotes[0].Joined, said.Remotes[0].Joined)
				require.Equal(t, rep.BothWays, said.BothWays)
				require.Equal(t, rep.Look, said.Look)
				return rep
			}
			home, shop := machine("home"), machine("shop")
			write(t, home.Dir(), "jobs/box/job.yaml", "name: Box\nqty: 1\n")
			write(t, home.Dir(), "jobs/box/old.md", "old\n")
			require.Len(t, do(home).Remotes[0].Went, 2)
			require.Len(t, do(shop).Remotes[0].Came, 2)
			write(t, home.Dir(), "jobs/box/job.yaml", "name: Box\nqty: 2\n")
			write(t, home.Dir(), "jobs/box/photos/a.jpg", "\xff\xd8\xff1")
			do(home)
			write(t, shop.Dir(), "jobs/box/job.yaml", "name: Box\nqty: 3\n")
			write(t, shop.Dir(), "jobs/box/photos/a.jpg", "\xff\xd8\xff2")
			require.NoError(t, os.Remove(filepath.Join(shop.Dir(), "jobs/box/old.md")))
			rep := do(shop)
			require.True(t, rep.Remotes[0].Joined)
			require.Len(t, rep.BothWays, 1)
			do(home)
			dry(home)
		})
	}
}

// A bench that is asked for a dry run does not even commit what was edited at it.
func TestDryRunAtABench(t *testing.T) {
	p := peerPlace(t)
	o := p.options()
	s, err := initOn(filepath.Join(t.TempDir(), "home"), "home", &faulty.Disk{})
	require.NoError(t, err)
	require.NoError(t, s.AddRemote("meet", p.addr, RemoteOptions{}))
	write(t, p.repo, "jobs/box/job.yaml", "name: Box\n")
	for _, left := range []bool{false, true} { // with nothing committed there, and with something
		o.DryRun = true
		before := everything(t, p.repo, s.Dir())
		rep, err := s.Sync(context.Background(), o)
		require.NoError(t, err)
		require.Equal(t, InStep, rep.Remotes[0].State, rep.Remotes[0].Error)
		require.Empty(t, rep.Remotes[0].Came)
		require.Equal(t, before, everything(t, p.repo, s.Dir()))
		if left {
			break
		}
		o.DryRun = false
		rep, err = s.Sync(context.Background(), o)
		require.NoError(t, err)
		require.NotEmpty(t, rep.Remotes[0].Came)
		write(t, p.repo, "jobs/box/job.yaml", "name: Bigger box\n")
	}
}

// After a sync that was cut off in the middle of its move, a dry run tells what the next sync does, and leaves all as it is.
func TestDryRunAfterACut(t *testing.T) {
	home, shop, stick := pair(t, 3)
	root := filepath.Dir(home)
	keep := t.TempDir()
	require.NoError(t, os.CopyFS(keep, os.DirFS(root)))
	halves := 0
	step := 4
	if *everyOp {
		step = 1
	}
	for at := 1; ; at += step {
		for _, d := range []string{home, shop, stick} {
			require.NoError(t, os.RemoveAll(d))
		}
		require.NoError(t, os.CopyFS(root, os.DirFS(keep)))
		d := &faulty.Disk{At: at}
		try := func(d *faulty.Disk, o Options) (*Report, error) {
			s, err := openOn(shop, d)
			require.NoError(t, err)
			defer s.Close()
			s.stale = 20 * time.Millisecond
			return s.Sync(context.Background(), o)
		}
		_, err := try(d, Options{})
		if d.Count() < at {
			require.NoError(t, err)
			break
		}
		before := everything(t, home, shop, stick)
		rep, err := try(&faulty.Disk{At: 1, Err: syscall.EROFS}, Options{DryRun: true})
		require.NoError(t, err, "cut at %d", at)
		require.Equal(t, before, everything(t, home, shop, stick), "cut at %d", at)
		if rep.Resumed {
			halves++
		}
		for _, c := range rep.Kept { // what the move brought or took away is no edit
			require.NotContains(t, []string{"jobs/new/job.yaml", "jobs/old/job.yaml", "jobs/table/log/0.md"}, c.Path, "cut at %d", at)
		}
		must(t, shop)
		settled(t, home, shop, fmt.Sprint("cut at ", at))
	}
	require.Greater(t, halves, 2, "too few cuts fell into the move")
}

// The first contact with a host in a dry run asks, and notes nothing.
func TestDryRunAtAnUnknownHost(t *testing.T) {
	p := sshPlace(t)
	s, err := initOn(filepath.Join(t.TempDir(), "home"), "home", &faulty.Disk{})
	require.NoError(t, err)
	write(t, s.Dir(), "shop.yaml", "name: shop\n")
	require.NoError(t, s.AddRemote("meet", p.addr, RemoteOptions{}))
	o := p.options()
	o.DryRun = true
	asked := 0
	o.Ask = func(q string) bool {
		asked++
		require.True(t, strings.HasPrefix(q, "first contact with "))
		return asked == 1
	}
	rep, err := s.Sync(context.Background(), o)
	require.NoError(t, err)
	require.Equal(t, InStep, rep.Remotes[0].State, rep.Remotes[0].Error)
	require.NoFileExists(t, filepath.Join(p.home, ".ssh", "known_hosts"))
	rep, err = s.Sync(context.Background(), o)
	require.NoError(t, err)
	require.ErrorIs(t, rep.Remotes[0].Err(), remote.ErrUnknown)
	require.Equal(t, 2, asked)
}
