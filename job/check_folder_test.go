package job

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Only the jobs that are named are read, each with all it says of itself and the shop.
func TestCheckFolder(t *testing.T) {
	dir := soundShop(t)
	require.NoError(t, CheckFolder(os.DirFS(dir), nil))
	require.NoError(t, CheckFolder(os.DirFS(dir), []string{"torsion-table"}))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "jobs/other"), 0o777))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "jobs/other/job.yaml"), []byte("name: Other\nsteps:\n  - {id: mill, takes: 5 min, after: [gone]}\n"), 0o666))
	require.NoError(t, CheckFolder(os.DirFS(dir), []string{"torsion-table"}))
	err := CheckFolder(os.DirFS(dir), []string{"other"})
	require.ErrorContains(t, err, `the job has no step called "gone"`)
	_, all := Load(dir)
	require.Equal(t, all, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "shop.yaml"), []byte("nmae: Shop\n"), 0o666))
	require.Error(t, CheckFolder(os.DirFS(dir), nil))
}
