package sync

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func write(t testing.TB, dir, path, data string) {
	t.Helper()
	p := filepath.Join(dir, filepath.FromSlash(path))
	require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o777))
	require.NoError(t, os.WriteFile(p, []byte(data), 0o666))
}

func read(t testing.TB, dir, path string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(path)))
	require.NoError(t, err)
	return string(data)
}

// haveGit tells whether the git program is here to check against.
var haveGit = func() bool { _, err := exec.LookPath("git"); return err == nil }()

func git(t testing.TB, dir string, args ...string) string {
	t.Helper()
	c := exec.Command("git", args...)
	c.Dir = dir
	c.Env = append(os.Environ(), "GIT_CONFIG_NOSYSTEM=1", "GIT_AUTHOR_NAME=hand", "GIT_AUTHOR_EMAIL=hand@caul.invalid", "GIT_COMMITTER_NAME=hand", "GIT_COMMITTER_EMAIL=hand@caul.invalid")
	out, err := c.CombinedOutput()
	require.NoError(t, err, "git %v: %s", args, out)
	return string(out)
}

func TestTwoMachinesAndAStick(t *testing.T) {
	root := t.TempDir()
	stick := filepath.Join(root, "stick")
	require.NoError(t, os.Mkdir(stick, 0o777))
	home, err := Init(filepath.Join(root, "home"), "home")
	require.NoError(t, err)
	write(t, home.Dir(), "jobs/table/job.yaml", "name: Table\nparts:\n  - id: skin\n    qty: 2\n")
	write(t, home.Dir(), "jobs/table/log/2026-03-14T1905-home-clamped-core.md", "---\ndid: clamped\nstep: core\n---\nok\n")
	require.NoError(t, home.AddRemote("stick", stick, RemoteOptions{}))
	ctx := context.Background()
	rep, err := home.Sync(ctx, Options{})
	require.NoError(t, err)
	require.False(t, rep.Partial(), "%+v", rep)
	t.Logf("%+v", rep)
	shop, err := Init(filepath.Join(root, "shop"), "shop")
	require.NoError(t, err)
	require.NoError(t, shop.AddRemote("stick", stick, RemoteOptions{}))
	rep, err = shop.Sync(ctx, Options{})
	require.NoError(t, err)
	t.Logf("%+v", rep)
	require.Equal(t, "name: Table\nparts:\n  - id: skin\n    qty: 2\n", read(t, shop.Dir(), "jobs/table/job.yaml"))
	git(t, shop.Dir(), "fsck", "--strict")
	require.Empty(t, git(t, shop.Dir(), "status", "--porcelain"))
	// both edit
	write(t, home.Dir(), "jobs/table/job.yaml", "name: Table\nparts:\n  - id: skin\n    qty: 3\n")
	write(t, home.Dir(), "stock.yaml", "sheets: []\n")
	write(t, shop.Dir(), "jobs/table/job.yaml", "name: Big table\nparts:\n  - id: skin\n    qty: 2\n")
	write(t, shop.Dir(), "jobs/table/log/2026-03-15T1905-shop-finished-mill.md", "---\ndid: finished\nstep: mill\n---\nok\n")
	for _, s := range []*Shop{home, shop, home, shop} {
		rep, err = s.Sync(ctx, Options{})
		require.NoError(t, err)
		t.Logf("%+v", rep)
		require.Empty(t, git(t, s.Dir(), "status", "--porcelain"))
		require.Empty(t, git(t, s.Dir(), "fsck", "--strict"))
	}
	require.Equal(t, "name: Big table\nparts:\n  - id: skin\n    qty: 3\n", read(t, shop.Dir(), "jobs/table/job.yaml"))
	require.Equal(t, git(t, shop.Dir(), "rev-parse", "HEAD"), git(t, home.Dir(), "rev-parse", "HEAD"))
	t.Log(git(t, shop.Dir(), "log", "--graph"))
	// dry run
	write(t, home.Dir(), "prices.yaml", "a: 1\n")
	rep, err = home.Sync(ctx, Options{DryRun: true})
	require.NoError(t, err)
	t.Logf("%+v", rep)
	require.NotEmpty(t, git(t, home.Dir(), "status", "--porcelain"))
}

func gitMay(dir string, args ...string) string {
	c := exec.Command("git", args...)
	c.Dir = dir
	out, _ := c.CombinedOutput()
	return string(out)
}
