package sync

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
	"caul/sync/remote"
	"caul/sync/store"
)

var (
	kills   = flag.Int("kills", 4, "rounds of killing a sync as a process")
	everyOp = flag.Bool("every-op", false, "cut a sync off at every single change of a disk, not at every fourth")
)

// met is two machines beside one another that met once at a stick: home came with some files, and both have them.
func met(t testing.TB, files map[string]string) (home, shop, stick string) {
	root := t.TempDir()
	home, shop, stick = filepath.Join(root, "home"), filepath.Join(root, "shop"), filepath.Join(root, "stick")
	require.NoError(t, os.Mkdir(stick, 0o777))
	for _, d := range []string{home, shop} {
		s, err := initOn(d, filepath.Base(d), &faulty.Disk{})
		require.NoError(t, err)
		require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
		for f, data := range files {
			if d == home {
				write(t, d, f, data)
			}
		}
		must(t, d)
	}
	return home, shop, stick
}

// pair is two machines that met once at a stick and have both worked since: home has pushed, shop has not.
func pair(t testing.TB, files int) (home, shop, stick string) {
	first := map[string]string{"jobs/table/job.yaml": "name: Table\nqty: 1\n", "jobs/table/build.md": "# Table\n", "jobs/old/job.yaml": "name: Old\n"}
	for i := range files {
		first[fmt.Sprintf("jobs/table/log/%d.md", i)] = "old\n"
	}
	home, shop, stick = met(t, first)
	for i := range files {
		write(t, home, fmt.Sprintf("jobs/table/log/%d.md", i), "new\n")
	}
	write(t, home, "jobs/table/job.yaml", "name: Table\nqty: 2\n")
	write(t, home, "jobs/new/job.yaml", "name: New\n")
	require.NoError(t, os.RemoveAll(filepath.Join(home, "jobs/old")))
	must(t, home)
	write(t, shop, "jobs/table/job.yaml", "name: Big table\nqty: 1\n")
	write(t, shop, "jobs/table/log/shop.md", "did\n")
	return home, shop, stick
}

func must(t testing.TB, dir string) *Report {
	t.Helper()
	s, err := openOn(dir, &faulty.Disk{})
	require.NoError(t, err)
	s.stale = 20 * time.Millisecond
	rep, err := s.Sync(context.Background(), Options{})
	require.NoError(t, err)
	require.False(t, rep.Partial(), brief(rep))
	return rep
}

// settled checks what every interrupted sync of a pair must come to.
func settled(t testing.TB, home, shop, note string) {
	t.Helper()
	require.Equal(t, "name: Big table\nqty: 2\n", read(t, shop, "jobs/table/job.yaml"), note)
	require.Equal(t, "new\n", read(t, shop, "jobs/table/log/0.md"), note)
	require.Equal(t, "did\n", read(t, shop, "jobs/table/log/shop.md"), note)
	require.Equal(t, "name: New\n", read(t, shop, "jobs/new/job.yaml"), note)
	require.NoFileExists(t, filepath.Join(shop, "jobs/old/job.yaml"), note)
	must(t, home)
	require.Equal(t, "did\n", read(t, home, "jobs/table/log/shop.md"), note)
	a, err := openOn(home, store.OS{})
	require.NoError(t, err)
	b, err := openOn(shop, store.OS{})
	require.NoError(t, err)
	x, err := a.HeadCommit()
	require.NoError(t, err)
	y, err := b.HeadCommit()
	require.NoError(t, err)
	require.Equal(t, x, y, note)
	// Two commits of home, one of the shop, and the one that joins them: nothing that came passes for the shop's own work.
	cs, err := store.Since(b.repo.Objects.GetCommit, []store.Hash{plumbing.NewHash(y)}, nil)
	require.NoError(t, err, note)
	require.Len(t, cs, 4, note)
	st, err := b.Status(context.Background())
	require.NoError(t, err)
	require.Empty(t, st.Changes, note)
	require.False(t, st.Unfinished, note)
}

// A sync that is cut off at any change of any disk - killed, power cut, disk full, stick pulled - is carried on by the next
// one to the same result.
func TestCutOffAnywhere(t *testing.T) {
	t.Parallel()
	home, shop, stick := pair(t, 3)
	root := filepath.Dir(home)
	keep := root + ".keep"
	require.NoError(t, os.CopyFS(keep, os.DirFS(root)))
	defer os.RemoveAll(keep)
	side := filepath.Join(filepath.Dir(keep), "side")
	again := func() {
		require.NoError(t, os.RemoveAll(side))
		require.NoError(t, os.Mkdir(side, 0o777))
		for _, d := range []string{home, shop, stick} {
			require.NoError(t, os.RemoveAll(d))
		}
		require.NoError(t, os.CopyFS(root, os.DirFS(keep)))
	}
	for _, k := range []struct {
		name  string
		cut   bool
		err   error
		below string
	}{
		{"killed", false, nil, ""},
		{"power cut", true, nil, ""},
		{"full", false, syscall.ENOSPC, ""},
		{"stick pulled", false, syscall.EIO, stick},
	} {
		t.Run(k.name, func(t *testing.T) {
			// All changes with -every-op; else every fourth, another quarter each day.
			step, at := 4, 1+time.Now().YearDay()%4
			if *everyOp {
				step, at = 1, 1
			}
			for ; ; at += step {
				again()
				d := &faulty.Disk{Cut: k.cut, Side: side, Err: k.err, Below: k.below, At: at}
				s, err := openOn(shop, d)
				require.NoError(t, err)
				s.stale = 20 * time.Millisecond
				rep, err := s.Sync(context.Background(), Options{})
				s.Close()
				if d.Count() < at {
					require.NoError(t, err)
					require.Greater(t, at, 10)
					return
				}
				note := fmt.Sprintf("%s at change %d", k.name, at)
				if err == nil && rep.Partial() {
					err = rep.Remotes[0].Err()
				}
				switch {
				case err == nil: // only tidying up was left
				case k.err == syscall.ENOSPC:
					require.ErrorIs(t, err, store.ErrFull, note)
				case k.err == syscall.EIO:
					require.ErrorIs(t, err, store.ErrGone, note)
				default:
					require.ErrorIs(t, err, faulty.ErrKilled, note)
				}
				if err != nil && k.err != nil {
					require.NotEmpty(t, NextStep(err), note)
				}
				must(t, shop)
				settled(t, home, shop, note)
			}
		})
	}
}

// The same with a real process and a real kill -9, on the real disk.
func TestKillProcess(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no kill -9 here")
	}
	for i := range *kills {
		home, shop, _ := pair(t, 60)
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), "CAUL_TEST_SYNC="+shop)
		require.NoError(t, c.Start())
		time.Sleep(time.Duration(5+i*7) * time.Millisecond)
		_ = c.Process.Kill()
		_ = c.Wait()
		must(t, shop)
		settled(t, home, shop, fmt.Sprint("kill ", i))
		if haveGit {
			require.Empty(t, git(t, shop, "status", "--porcelain"))
			require.Empty(t, git(t, shop, "fsck", "--strict", "--no-dangling"))
		}
	}
}

// A hand edit at any moment of a sync is kept.
func TestEditAnywhere(t *testing.T) {
	home, shop, stick := pair(t, 2)
	root := filepath.Dir(home)
	keep := root + ".keep"
	require.NoError(t, os.CopyFS(keep, os.DirFS(root)))
	defer os.RemoveAll(keep)
	step, at := 4, 1+time.Now().YearDay()%4
	if *everyOp {
		step, at = 1, 1
	}
	for ; ; at += step {
		for _, d := range []string{home, shop, stick} {
			require.NoError(t, os.RemoveAll(d))
		}
		require.NoError(t, os.CopyFS(root, os.DirFS(keep)))
		d := &faulty.Disk{}
		d.Before = func(n int, _, _ string) {
			if n == at {
				write(t, shop, "jobs/table/log/1.md", "by hand\n")
				write(t, shop, "jobs/table/build.md", "# Table\n\nBy hand.\n")
			}
		}
		s, err := openOn(shop, d)
		require.NoError(t, err)
		rep, err := s.Sync(context.Background(), Options{})
		s.Close()
		require.NoError(t, err)
		require.False(t, rep.Partial(), brief(rep))
		if d.Count() < at {
			return
		}
		must(t, shop)
		require.Equal(t, "# Table\n\nBy hand.\n", read(t, shop, "jobs/table/build.md"), "edit at change %d", at)
		all := ""
		require.NoError(t, filepath.WalkDir(shop, func(p string, e os.DirEntry, err error) error {
			if err == nil && !e.IsDir() && !strings.Contains(p, "/.git/") {
				data, _ := os.ReadFile(p)
				all += string(data)
			}
			return err
		}))
		require.Contains(t, all, "by hand\n", "edit at change %d", at)
	}
}

func TestNamedTroubles(t *testing.T) {
	try := func(dir string, o Options) (*Report, error) {
		s, err := openOn(dir, &faulty.Disk{})
		require.NoError(t, err)
		s.stale = 20 * time.Millisecond
		return s.Sync(context.Background(), o)
	}
	t.Run("damaged object on the stick", func(t *testing.T) {
		_, shop, stick := pair(t, 1)
		packs, err := filepath.Glob(filepath.Join(stick, "caul.git/objects/pack/*.pack"))
		require.NoError(t, err)
		for _, p := range packs {
			data, err := os.ReadFile(p)
			require.NoError(t, err)
			for i := 40; i < len(data)-20; i += 7 {
				data[i] ^= 0x55
			}
			require.NoError(t, os.WriteFile(p, data, 0o644))
		}
		rep, err := try(shop, Options{})
		require.NoError(t, err)
		require.ErrorIs(t, rep.Remotes[0].Err(), store.ErrDamaged)
		require.NotEmpty(t, rep.Remotes[0].Hint)
		require.Equal(t, "name: Big table\nqty: 1\n", read(t, shop, "jobs/table/job.yaml"))
	})
	t.Run("read-only stick", func(t *testing.T) {
		_, shop, stick := pair(t, 1)
		s, err := openOn(shop, &faulty.Disk{At: 1, Below: stick, Err: syscall.EROFS})
		require.NoError(t, err)
		rep, err := s.Sync(context.Background(), Options{})
		require.NoError(t, err)
		require.ErrorIs(t, rep.Remotes[0].Err(), store.ErrReadOnly)
		require.NotEmpty(t, rep.Remotes[0].Came) // what was on it is here all the same
		require.Empty(t, rep.Remotes[0].Went)
		require.Equal(t, "name: Big table\nqty: 2\n", read(t, shop, "jobs/table/job.yaml"))
	})
	t.Run("rewritten by force", func(t *testing.T) {
		home, shop, stick := pair(t, 1)
		must(t, shop)
		must(t, home)
		// Somebody replaces the history there by one that lacks the last commits.
		other := filepath.Join(t.TempDir(), "other")
		s, err := initOn(other, "other", &faulty.Disk{})
		require.NoError(t, err)
		require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
		must(t, other)
		require.NoError(t, s.RemoveRemote("stick"))
		_, head, err := s.repo.Head()
		require.NoError(t, err)
		c, err := s.repo.Objects.GetCommit(head)
		require.NoError(t, err)
		b := s.repo.Objects.NewBatch(false)
		fake := &store.CommitInfo{Tree: c.Tree, Parents: c.Parents[:1], Author: c.Author, Committer: c.Committer, Message: "rewritten\n"}
		_, err = b.AddCommit(fake)
		require.NoError(t, err)
		require.NoError(t, b.Flush())
		objs, refs := store.OpenBare(filepath.Join(stick, "caul.git"), &faulty.Disk{}, time.Second)
		require.NoError(t, objs.CopyFrom(s.repo.Objects, []store.Hash{fake.Hash}))
		require.NoError(t, refs.Set("refs/heads/main", head, fake.Hash))
		rep, err := try(shop, Options{})
		require.NoError(t, err)
		require.ErrorIs(t, rep.Remotes[0].Err(), ErrRewritten)
		require.NotEmpty(t, rep.Remotes[0].Hint)
		rep, err = try(shop, Options{Rewritten: true})
		require.NoError(t, err)
		require.Equal(t, InStep, rep.Remotes[0].State)
	})
	t.Run("another shop's stick", func(t *testing.T) {
		_, _, stick := pair(t, 1)
		dir := filepath.Join(t.TempDir(), "stranger")
		s, err := initOn(dir, "stranger", &faulty.Disk{})
		require.NoError(t, err)
		write(t, dir, "shop.yaml", "name: mine\n")
		require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
		rep, err := try(dir, Options{})
		require.NoError(t, err)
		require.ErrorIs(t, rep.Remotes[0].Err(), ErrUnrelated)
		require.NoFileExists(t, filepath.Join(dir, "jobs/table/job.yaml"))
	})
	t.Run("all files gone", func(t *testing.T) {
		_, shop, _ := pair(t, 1)
		require.NoError(t, os.RemoveAll(filepath.Join(shop, "jobs")))
		_, err := try(shop, Options{})
		require.ErrorIs(t, err, ErrEmptied)
	})
	t.Run("an ignored file in the way", func(t *testing.T) {
		_, shop, _ := pair(t, 1)
		write(t, shop, ".git/info/exclude", "/jobs/new/job.yaml\n")
		write(t, shop, "jobs/new/job.yaml", "mine\n")
		_, err := try(shop, Options{})
		require.ErrorIs(t, err, store.ErrInTheWay)
		require.Equal(t, "mine\n", read(t, shop, "jobs/new/job.yaml"))
	})
	t.Run("git holds the index", func(t *testing.T) {
		_, shop, _ := pair(t, 1)
		lock := filepath.Join(shop, ".git/index.lock")
		require.NoError(t, os.WriteFile(lock, []byte("DIRC"), 0o666))
		_, err := try(shop, Options{})
		require.ErrorIs(t, err, store.ErrBusy)
		require.FileExists(t, lock)
		require.NoError(t, os.Remove(lock))
		must(t, shop)
	})
	t.Run("two syncs of one shop", func(t *testing.T) {
		_, shop, _ := pair(t, 1)
		s, err := openOn(shop, store.OS{})
		require.NoError(t, err)
		l, err := s.repo.Lock(0)
		require.NoError(t, err)
		_, err = s.repo.Lock(0)
		require.ErrorIs(t, err, store.ErrBusy)
		require.NoError(t, l.Release())
	})
	t.Run("an unfinished merge of git", func(t *testing.T) {
		_, shop, _ := pair(t, 1)
		write(t, shop, ".git/MERGE_HEAD", strings.Repeat("1", 40)+"\n")
		_, err := try(shop, Options{})
		require.ErrorIs(t, err, store.ErrUnmerged)
	})
	t.Run("a shop that is worked in as a remote", func(t *testing.T) {
		home, shop, _ := pair(t, 1)
		s, err := openOn(shop, &faulty.Disk{})
		require.NoError(t, err)
		require.NoError(t, s.AddRemote("there", home, RemoteOptions{}))
		rep, err := s.Sync(context.Background(), Options{Only: []string{"there"}})
		require.NoError(t, err)
		require.ErrorIs(t, rep.Remotes[0].Err(), remote.ErrCheckout)
		require.NotEmpty(t, rep.Remotes[0].Came)
	})
}

// Hundreds of syncs do not leave hundreds of packs, here or on the stick, and a cut while they are gathered loses nothing.
func TestManySyncs(t *testing.T) {
	home, shop, stick := pair(t, 1)
	must(t, shop)
	must(t, home)
	for i := range 70 {
		write(t, home, fmt.Sprintf("jobs/table/log/more-%d.md", i), "did\n")
		s, err := openOn(home, &faulty.Disk{At: 60 + i%40, Cut: i%2 == 0, Side: t.TempDir()}) // some are cut off, at the end of the sync too
		require.NoError(t, err)
		s.stale = time.Millisecond
		_, _ = s.Sync(context.Background(), Options{})
		must(t, home)
	}
	must(t, shop)
	require.Equal(t, "did\n", read(t, shop, "jobs/table/log/more-69.md"))
	for _, d := range []string{filepath.Join(home, ".git"), filepath.Join(stick, "caul.git")} {
		packs, err := filepath.Glob(filepath.Join(d, "objects/pack/*.pack"))
		require.NoError(t, err)
		require.Less(t, len(packs), 60, d)
		if haveGit {
			require.Empty(t, git(t, d, "fsck", "--strict", "--no-dangling"))
		}
	}
}

// A group's folder is only looked into: no link is followed, no repository entered, nothing taken.
func TestGroupFolder(t *testing.T) {
	root := t.TempDir()
	group, shop := filepath.Join(root, "group"), filepath.Join(root, "shop")
	write(t, group, "anna/sled.zip", "PK\x03\x04")
	write(t, group, "bench/bundle.yaml", "format: 1\n")
	write(t, group, "bench/build/shop.yaml", "name: theirs\n")
	write(t, group, "bare/job.yaml", "name: No shared build\n")
	write(t, group, ".hidden/x.zip", "PK\x03\x04")
	write(t, group, "sub/.git", "gitdir: ../repo/.git\n")
	write(t, group, "sub/bundle.yaml", "format: 1\n")
	write(t, group, "repo/.git/HEAD", "ref: refs/heads/main\n")
	write(t, group, "repo/bundle.yaml", "format: 1\n")
	write(t, root, "secret/x.zip", "PK\x03\x04")
	write(t, group, "half/readme", "see the link\n")
	for link, to := range map[string]string{"link": "secret", "link.zip": "secret/x.zip", "half/bundle.yaml": "group/bench/bundle.yaml"} {
		if err := os.Symlink(filepath.Join(root, to), filepath.Join(group, link)); err != nil {
			t.Logf("no links on this system: %v", err)
		}
	}
	s, err := initOn(shop, "shop", &faulty.Disk{})
	require.NoError(t, err)
	write(t, shop, "shop.yaml", "name: mine\n")
	require.NoError(t, s.AddRemote("group", group, RemoteOptions{Group: true}))
	before := everything(t, group)
	rep, err := s.Sync(context.Background(), Options{})
	require.NoError(t, err)
	require.Equal(t, before, everything(t, group))
	require.Equal(t, Offered, rep.Remotes[0].State)
	var names []string
	for _, b := range rep.Remotes[0].Bundles {
		names = append(names, b.Name)
	}
	require.Equal(t, []string{"anna/sled.zip", "bench"}, names)
	require.Equal(t, "name: mine\n", words(t, shop))

	// A link in the place of the folder is not followed either; a folder that is not there is missing.
	if os.Symlink(group, filepath.Join(root, "other")) == nil {
		_, err = Bundles(filepath.Join(root, "other"))
		require.ErrorIs(t, err, store.ErrUnsafe)
	}
	require.NoError(t, os.Rename(group, group+".away"))
	rep, err = s.Sync(context.Background(), Options{})
	require.NoError(t, err)
	require.Equal(t, Missing, rep.Remotes[0].State)
	require.NotEmpty(t, rep.Remotes[0].Hint)
}
