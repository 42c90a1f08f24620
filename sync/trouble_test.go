package sync

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
	"caul/sync/remote"
	"caul/sync/store"
)

// copies keeps a pair's folders to start over from.
func copies(t *testing.T, dirs ...string) (again func()) {
	keep := t.TempDir()
	root := filepath.Dir(dirs[0])
	require.NoError(t, os.CopyFS(keep, os.DirFS(root)))
	return func() {
		for _, d := range append(dirs, filepath.Join(root, "stick.away")) {
			require.NoError(t, os.RemoveAll(d))
		}
		require.NoError(t, os.CopyFS(root, os.DirFS(keep)))
	}
}

// steps are the changes of a disk at which something happens: all with -every-op, else every seventh, others each day.
func steps() (first, step int) {
	if *everyOp {
		return 1, 1
	}
	return 1 + time.Now().YearDay()%7, 7
}

// The stick is pulled out for good at any moment of a sync, also between two looks at it: it is named, this machine's own work is
// whole, and with the stick back the next sync carries on.
func TestStickTakenAway(t *testing.T) {
	home, shop, stick := pair(t, 3)
	again := copies(t, home, shop, stick)
	gone := 0
	for at, step := steps(); ; at += step {
		again()
		d := &faulty.Disk{}
		d.Before = func(n int, _, _ string) {
			if n == at {
				require.NoError(t, os.Rename(stick, stick+".away"))
			}
		}
		s, err := openOn(shop, d)
		require.NoError(t, err)
		s.stale = 20 * time.Millisecond
		rep, err := s.Sync(context.Background(), Options{})
		s.Close()
		require.NoError(t, err, "taken away at change %d", at)
		if d.Count() < at {
			break
		}
		if r := &rep.Remotes[0]; r.State != InStep {
			gone++
			require.True(t, r.State == Missing || r.State == Failed && strings.Contains(r.Error, store.ErrGone.Error()), "at change %d: %s %s", at, r.State, r.Error)
			require.NotEmpty(t, r.Hint, "at change %d: %s", at, r.Error)
		}
		require.Equal(t, "did\n", read(t, shop, "jobs/table/log/shop.md"))
		require.NoError(t, os.Rename(stick+".away", stick))
		must(t, shop)
		settled(t, home, shop, "taken away at change")
	}
	require.Greater(t, gone, 3)
}

// The folder that a stick is put in at stays when the stick is gone. Nothing goes into it; the stick is named as missing, until
// somebody says that it is a new one.
func TestEmptyMountPoint(t *testing.T) {
	home, shop, stick := pair(t, 1)
	must(t, shop)
	require.NoError(t, os.Rename(stick, stick+".away"))
	require.NoError(t, os.Mkdir(stick, 0o777))
	write(t, shop, "jobs/table/log/later.md", "later\n")
	rep := must(t, shop)
	require.Equal(t, Missing, rep.Remotes[0].State)
	require.ErrorIs(t, rep.Remotes[0].Err(), remote.ErrAbsent)
	require.Contains(t, rep.Remotes[0].Hint, "if this is a new, empty one: caul remote forget stick")
	require.Len(t, rep.Kept, 1)
	es, err := os.ReadDir(stick)
	require.NoError(t, err)
	require.Empty(t, es)
	require.NoError(t, os.Remove(stick))
	require.NoError(t, os.Rename(stick+".away", stick))
	require.Equal(t, InStep, must(t, shop).Remotes[0].State)
	must(t, home)
	require.Equal(t, words(t, shop), words(t, home))

	// A new stick in place of the old.
	require.NoError(t, os.RemoveAll(stick))
	require.NoError(t, os.Mkdir(stick, 0o777))
	s, err := openOn(shop, &faulty.Disk{})
	require.NoError(t, err)
	require.NoError(t, s.RemoveRemote("stick"))
	require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
	require.NotEmpty(t, must(t, shop).Remotes[0].Went)
}

// The git program commits in the shop at any moment of a sync: what it committed is in the shop's history after that, and so is
// all that came.
func TestGitAnywhere(t *testing.T) {
	needs(t, "git")
	home, shop, stick := pair(t, 2)
	again := copies(t, home, shop, stick)
	meanwhile := 0
	for at, step := steps(); ; at += step {
		again()
		d, did := &faulty.Disk{}, false
		d.Before = func(n int, _, _ string) {
			if n != at {
				return
			}
			write(t, shop, "jobs/table/build.md", "# Table\n\nBy hand.\n")
			c := exec.Command("git", "-c", "user.name=hand", "-c", "user.email=hand@caul.invalid", "-c", "gc.auto=0", "commit", "-q", "-m", "by hand", "--", "jobs/table/build.md")
			c.Dir = shop
			did = c.Run() == nil // it may find the index or the branch locked; then the edit is one of a hand
		}
		s, err := openOn(shop, d)
		require.NoError(t, err)
		rep, err := s.Sync(context.Background(), Options{})
		s.Close()
		require.NoError(t, err, "git at change %d", at)
		require.False(t, rep.Partial(), "git at change %d: %s", at, brief(rep))
		if d.Count() < at {
			break
		}
		must(t, shop)
		must(t, home)
		for _, dir := range []string{home, shop} {
			require.Equal(t, "# Table\n\nBy hand.\n", read(t, dir, "jobs/table/build.md"), "git at change %d", at)
			require.Equal(t, "name: Big table\nqty: 2\n", read(t, dir, "jobs/table/job.yaml"), "git at change %d", at)
			require.Equal(t, "new\n", read(t, dir, "jobs/table/log/0.md"), "git at change %d", at)
			require.NoFileExists(t, filepath.Join(dir, "jobs/old/job.yaml"))
			require.Empty(t, git(t, dir, "status", "--porcelain"), "git at change %d", at)
			require.Empty(t, git(t, dir, "fsck", "--strict", "--no-dangling"), "git at change %d", at)
		}
		if did {
			meanwhile++
			require.Contains(t, git(t, home, "log", "--format=%s"), "by hand\n", "git at change %d", at)
		}
	}
	require.Greater(t, meanwhile, 3)
}

// A sync is killed at any moment, then somebody edits a file and tells git of it (git add), and commits no more: the next sync
// must see that the file is not what the sync had moved.
func TestGitAddAfterACut(t *testing.T) {
	needs(t, "git")
	home, shop, stick := pair(t, 2)
	again := copies(t, home, shop, stick)
	added, resumed := 0, 0
	for at, step := steps(); ; at += step {
		again()
		d := &faulty.Disk{At: at}
		s, err := openOn(shop, d)
		if err == nil {
			s.stale = 20 * time.Millisecond
			_, _ = s.Sync(context.Background(), Options{})
			s.Close()
		}
		done := d.Count() < at
		write(t, shop, "jobs/table/build.md", "# Table\n\nBy hand.\n")
		write(t, shop, "jobs/table/log/by-hand.md", "did by hand\n")
		c := exec.Command("git", "add", "--", "jobs/table")
		c.Dir = shop
		if c.Run() == nil { // it may find the index locked; then the edit is one of a hand
			added++
		}
		rep := must(t, shop)
		if rep.Resumed {
			resumed++
		}
		must(t, home)
		must(t, shop)
		for _, dir := range []string{home, shop} {
			require.Equal(t, "# Table\n\nBy hand.\n", read(t, dir, "jobs/table/build.md"), "cut at %d", at)
			require.Equal(t, "did by hand\n", read(t, dir, "jobs/table/log/by-hand.md"), "cut at %d", at)
			require.Equal(t, "name: Big table\nqty: 2\n", read(t, dir, "jobs/table/job.yaml"), "cut at %d", at)
			require.Empty(t, git(t, dir, "status", "--porcelain"), "cut at %d", at)
		}
		if done {
			break
		}
	}
	require.Greater(t, added, 3)
	require.Greater(t, resumed, 1)
}

// A second sync of the same shop waits for the first one, and does nothing while it waits; when it waited too long, it says so.
func TestTwoSyncsOfOneShop(t *testing.T) {
	_, shop, _ := pair(t, 1)
	d := &faulty.Disk{}
	tried := false
	d.Before = func(n int, _, _ string) {
		if n != 5 {
			return
		}
		tried = true
		before := everything(t, shop)
		s, err := openOn(shop, &faulty.Disk{})
		require.NoError(t, err)
		s.wait = time.Millisecond
		for _, o := range []Options{{}, {DryRun: true}} {
			_, err = s.Sync(context.Background(), o)
			require.ErrorIs(t, err, store.ErrBusy)
			require.Contains(t, NextStep(err), "another caul is syncing this shop")
		}
		require.Equal(t, before, everything(t, shop))
	}
	s, err := openOn(shop, d)
	require.NoError(t, err)
	_, err = s.Sync(context.Background(), Options{})
	require.NoError(t, err)
	require.True(t, tried)

	// As processes: of several at once each ends well, one after the other.
	write(t, shop, "jobs/table/log/more.md", "more\n")
	var all []*exec.Cmd
	for range 4 {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), "CAUL_TEST_SYNC="+shop)
		require.NoError(t, c.Start())
		all = append(all, c)
	}
	for _, c := range all {
		require.NoError(t, c.Wait())
	}
	st, err := s.Status(context.Background())
	require.NoError(t, err)
	require.Empty(t, st.Changes)
}

// A damaged object in the shop's own history is named before anything of the shop or the stick is changed; once the object is
// back, the next sync does all that was to be done.
func TestDamagedHere(t *testing.T) {
	home, shop, stick := pair(t, 3)
	packs, err := filepath.Glob(filepath.Join(shop, ".git/objects/pack/*.pack"))
	require.NoError(t, err)
	require.NotEmpty(t, packs)
	whole := map[string][]byte{}
	for _, p := range packs {
		whole[p], err = os.ReadFile(p)
		require.NoError(t, err)
		bad := append([]byte{}, whole[p]...)
		for i := 40; i < len(bad)-20; i += 7 {
			bad[i] ^= 0x55
		}
		require.NoError(t, os.Chmod(p, 0o644))
		require.NoError(t, os.WriteFile(p, bad, 0o644))
	}
	files, there := words(t, shop), everything(t, stick)
	s, err := openOn(shop, &faulty.Disk{})
	require.NoError(t, err)
	_, err = s.Sync(context.Background(), Options{})
	s.Close()
	require.ErrorIs(t, err, store.ErrDamaged)
	require.Contains(t, err.Error(), filepath.Base(packs[0]), "the place is named")
	require.NotEmpty(t, NextStep(err))
	require.Equal(t, files, words(t, shop))
	require.Equal(t, there, everything(t, stick))
	for p, data := range whole {
		require.NoError(t, os.WriteFile(p, data, 0o644))
	}
	must(t, shop)
	settled(t, home, shop, "the object is back")
}

// A remote whose history was rewritten by force gives nothing and gets nothing, and the step that is told brings all back.
func TestRewrittenLeavesAllAsItWas(t *testing.T) {
	needs(t, "git")
	home, shop, stick := pair(t, 1)
	must(t, shop)
	must(t, home)
	write(t, shop, "jobs/table/log/later.md", "later\n")
	bare := filepath.Join(stick, remote.FolderRepo)
	tree := strings.TrimSpace(git(t, bare, "rev-parse", "main^{tree}"))
	git(t, bare, "update-ref", "refs/heads/main", strings.TrimSpace(git(t, bare, "commit-tree", "-m", "another", tree)))
	there := everything(t, stick)
	s, err := openOn(shop, &faulty.Disk{})
	require.NoError(t, err)
	rep, err := s.Sync(context.Background(), Options{})
	require.NoError(t, err)
	s.Close()
	require.ErrorIs(t, rep.Remotes[0].Err(), ErrRewritten)
	require.Contains(t, rep.Remotes[0].Hint, "rename the repository there and sync again")
	require.Equal(t, there, everything(t, stick))
	require.Equal(t, "later\n", read(t, shop, "jobs/table/log/later.md"))
	require.NoError(t, os.Rename(bare, bare+".old"))
	require.NotEmpty(t, must(t, shop).Remotes[0].Went)
	must(t, home)
	require.Equal(t, words(t, shop), words(t, home))
	require.Contains(t, words(t, home), "later\n")
}

// Another stick under the name of an old one is no old one that was rewritten, though it lacks what the old one had.
func TestNewStickUnderAnOldName(t *testing.T) {
	home, shop, stick := pair(t, 1)
	other := filepath.Join(filepath.Dir(stick), "other")
	require.NoError(t, os.Mkdir(other, 0o777))
	s, err := openOn(home, &faulty.Disk{})
	require.NoError(t, err)
	require.NoError(t, s.AddRemote("other", other, RemoteOptions{}))
	must(t, home)
	must(t, shop) // the first stick has what both did, the other what home did
	write(t, home, "jobs/table/log/later.md", "later\n")
	_, err = s.Sync(context.Background(), Options{Only: []string{"other"}})
	require.NoError(t, err)
	s.Close()
	s, err = openOn(shop, &faulty.Disk{})
	require.NoError(t, err)
	require.NoError(t, s.RemoveRemote("stick"))
	require.NoError(t, s.AddRemote("stick", other, RemoteOptions{}))
	s.Close()
	rep := must(t, shop)
	require.Equal(t, InStep, rep.Remotes[0].State)
	require.Equal(t, "later\n", read(t, shop, "jobs/table/log/later.md"))
	require.Equal(t, "did\n", read(t, shop, "jobs/table/log/shop.md"))
}

// Names that a stick or Windows cannot hold: the machine where they are made says so, and where the shop itself lies on such a disk
// nothing is half done; renamed, they go through.
func TestNamesADiskCannotHold(t *testing.T) {
	root := t.TempDir()
	stick := filepath.Join(root, "stick")
	home, shop := filepath.Join(root, "home"), filepath.Join(stick, "shop") // the shop lies on a stick
	fat := func() *faulty.Disk { return &faulty.Disk{FAT: stick} }
	require.NoError(t, os.MkdirAll(filepath.Join(root, "meet"), 0o777))
	for d, disk := range map[string]*faulty.Disk{home: {}, shop: fat()} {
		s, err := initOn(d, filepath.Base(d), disk)
		require.NoError(t, err)
		require.NoError(t, s.AddRemote("meet", filepath.Join(root, "meet"), RemoteOptions{}))
	}
	do := func(dir string, d *faulty.Disk) (*Report, error) {
		s, err := openOn(dir, d)
		require.NoError(t, err)
		defer s.Close()
		return s.Sync(context.Background(), Options{})
	}
	for _, d := range []string{home, shop} {
		write(t, home, "jobs/box/job.yaml", "name: Box\n")
		_, err := do(d, map[string]*faulty.Disk{home: {}, shop: fat()}[d])
		require.NoError(t, err)
	}
	names := []string{"what now?.md", "dot.", "blank ", "a:b.md", "con.md", "Lpt1"}
	if runtime.GOOS == "windows" {
		t.Skip("the names cannot be made here")
	}
	for _, n := range names {
		write(t, home, "jobs/box/"+n, "words\n")
	}
	write(t, home, "jobs/box/Küche 🪚.md", "words\n")
	rep, err := do(home, &faulty.Disk{})
	require.NoError(t, err)
	said := strings.Join(rep.Look, "\n")
	require.Len(t, rep.Look, len(names), said)
	for _, n := range names {
		require.Contains(t, said, "jobs/box/"+n+": a Windows machine, or a shop that lies on a stick, cannot hold this name; it ")
	}
	rep, err = do(home, &faulty.Disk{})
	require.NoError(t, err)
	require.Empty(t, rep.Look, "it is said once")

	write(t, shop, "jobs/box/mine.md", "mine\n")
	for range 2 {
		_, err = do(shop, fat())
		require.ErrorIs(t, err, store.ErrUnsafe)
		require.Contains(t, NextStep(err), "rename it on the machine it came from")
		require.NoFileExists(t, filepath.Join(shop, "jobs/box/con.md"))
		require.Equal(t, "mine\n", read(t, shop, "jobs/box/mine.md"))
	}
	for _, n := range names[:4] { // vfat holds the names of Windows' devices
		require.NoError(t, os.Rename(filepath.Join(home, "jobs/box", n), filepath.Join(home, "jobs/box", "good "+strings.Map(func(r rune) rune {
			if strings.ContainsRune("?:. ", r) {
				return 'x'
			}
			return r
		}, n))))
	}
	_, err = do(home, &faulty.Disk{})
	require.NoError(t, err)
	rep, err = do(shop, fat())
	require.NoError(t, err)
	require.Equal(t, InStep, rep.Remotes[0].State, rep.Remotes[0].Error)
	_, err = do(home, &faulty.Disk{})
	require.NoError(t, err)
	require.Equal(t, words(t, home), words(t, shop))
	es, err := os.ReadDir(filepath.Join(shop, "jobs/box"))
	require.NoError(t, err)
	require.Len(t, es, len(names)+3)
}
