package sync

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
)

// Links, modes and repositories inside the shop, changed on both machines: nothing is followed or entered, both machines come to
// the same, and git finds nothing wrong with it.
func TestLinksAndModes(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no links or modes here")
	}
	needs(t, "git")
	root := t.TempDir()
	home, shop, stick := filepath.Join(root, "home"), filepath.Join(root, "shop"), filepath.Join(root, "stick")
	require.NoError(t, os.Mkdir(stick, 0o777))
	write(t, root, "outside/secret.md", "secret\n")
	link := func(dir, name, to string) {
		p := filepath.Join(dir, name)
		_ = os.Remove(p)
		require.NoError(t, os.Symlink(to, p))
	}
	for _, d := range []string{home, shop} {
		s, err := initOn(d, filepath.Base(d), &faulty.Disk{})
		require.NoError(t, err)
		require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
		if d == home {
			write(t, home, "tool.sh", "echo one\n")
			write(t, home, "both.sh", "echo one\n\necho two\n")
			write(t, home, "jobs/box/job.yaml", "name: Box\n")
			for _, n := range []string{"moved", "gone", "turned"} {
				link(home, n, "jobs")
			}
			link(home, "out", filepath.Join(root, "outside"))
		}
		must(t, d)
	}
	// home: modes, and other targets; shop: other bytes, and other targets again.
	require.NoError(t, os.Chmod(filepath.Join(home, "tool.sh"), 0o755))
	require.NoError(t, os.Chmod(filepath.Join(home, "both.sh"), 0o755))
	write(t, home, "both.sh", "echo ONE\n\necho two\n")
	link(home, "moved", "jobs/box")
	require.NoError(t, os.Remove(filepath.Join(home, "gone")))
	require.NoError(t, os.Remove(filepath.Join(home, "turned")))
	write(t, home, "turned", "a file now\n")
	git(t, home, "init", "-q", "nested")
	write(t, home, "nested/file.md", "of another history\n")
	must(t, home)
	write(t, shop, "tool.sh", "echo changed\n")
	write(t, shop, "both.sh", "echo one\n\necho TWO\n")
	link(shop, "moved", "jobs/none")
	link(shop, "gone", "jobs/box")
	link(shop, "turned", "jobs/box")
	rep := must(t, shop)
	require.NotEmpty(t, rep.Look)
	must(t, home)
	for _, d := range []string{home, shop} {
		require.Equal(t, "echo changed\n", read(t, d, "tool.sh"))
		require.Equal(t, "echo ONE\n\necho TWO\n", read(t, d, "both.sh"))
		for _, n := range []string{"tool.sh", "both.sh"} {
			fi, err := os.Stat(filepath.Join(d, n))
			require.NoError(t, err)
			require.NotZero(t, fi.Mode()&0o100, n)
		}
		to, err := os.Readlink(filepath.Join(d, "gone")) // deleted here, changed there: the change stands
		require.NoError(t, err)
		require.Equal(t, "jobs/box", to)
		var targets []string
		turned := map[string]bool{} // the file, and the link
		es, err := os.ReadDir(d)
		require.NoError(t, err)
		for _, e := range es {
			if e.Type()&os.ModeSymlink != 0 && strings.HasPrefix(e.Name(), "moved") {
				to, err := os.Readlink(filepath.Join(d, e.Name()))
				require.NoError(t, err)
				targets = append(targets, to)
			}
			if strings.HasPrefix(e.Name(), "turned") {
				if to, err := os.Readlink(filepath.Join(d, e.Name())); err == nil {
					turned[to] = true
				} else {
					turned[read(t, d, e.Name())] = true
				}
			}
		}
		require.ElementsMatch(t, []string{"jobs/box", "jobs/none"}, targets)
		require.Equal(t, map[string]bool{"a file now\n": true, "jobs/box": true}, turned)
		require.Empty(t, git(t, d, "fsck", "--strict", "--no-dangling"))
		tree := git(t, d, "ls-tree", "-r", "--name-only", "HEAD")
		require.NotContains(t, tree, "secret")
		require.NotContains(t, tree, "nested")
	}
	require.Equal(t, git(t, home, "rev-parse", "HEAD"), git(t, shop, "rev-parse", "HEAD"))
	require.Equal(t, "secret\n", read(t, root, "outside/secret.md"))
	require.NoDirExists(t, filepath.Join(shop, "nested"))
}
