package sync

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
)

// A job that is removed on one machine and worked on at another is one question, with one record. With a second record for each
// of its files, one maker could take the file away since the other record still has it, another settle that record since the file
// is still there, and both together lose it.
func TestRemovedJobIsOneQuestion(t *testing.T) {
	root := t.TempDir()
	home, shop, stick := filepath.Join(root, "home"), filepath.Join(root, "shop"), filepath.Join(root, "stick")
	require.NoError(t, os.Mkdir(stick, 0o777))
	for _, d := range []string{home, shop} {
		s, err := initOn(d, filepath.Base(d), &faulty.Disk{})
		require.NoError(t, err)
		require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
		if d == home {
			write(t, d, "shop.yaml", "name: shop\n")
			write(t, d, "jobs/table/job.yaml", "name: Table\nqty: 1\n")
			write(t, d, "jobs/table/build.md", "# Table\n")
		}
		must(t, d)
	}
	require.NoError(t, os.RemoveAll(filepath.Join(home, "jobs/table")))
	must(t, home)
	write(t, shop, "jobs/table/job.yaml", "name: Table\nqty: 1\nfor: the note\n")
	write(t, shop, "jobs/table/build.md", "# Table\n\nWords.\n")
	rep := must(t, shop)
	must(t, home)
	require.Len(t, rep.BothWays, 1)
	for _, d := range []string{home, shop} {
		s, err := Open(d)
		require.NoError(t, err)
		bs, err := s.BothWays()
		require.NoError(t, err)
		require.Len(t, bs, 1)
		require.Equal(t, wholeJob, bs[0].What)
		require.Contains(t, words(t, filepath.Join(d, "jobs")), "Words.")
		// Each settles it in another way: who takes the job away has seen it all.
		which := Stands
		if d == home {
			which = Other
		}
		require.NoError(t, s.Take(bs[0].Name, which))
	}
	require.NoDirExists(t, filepath.Join(home, "jobs/table"))
	require.Contains(t, read(t, shop, "jobs/table/job.yaml"), "the note")
}
