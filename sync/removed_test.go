package sync

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A job that is removed on one machine and worked on at another is one question, with one record. With a second record for each
// of its files, one maker could take the file away since the other record still has it, another settle that record since the file
// is still there, and both together lose it.
func TestRemovedJobIsOneQuestion(t *testing.T) {
	home, shop, _ := met(t, map[string]string{"shop.yaml": "name: shop\n", "jobs/table/job.yaml": "name: Table\nqty: 1\n", "jobs/table/build.md": "# Table\n"})
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
