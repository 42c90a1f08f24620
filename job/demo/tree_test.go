package demo

import (
	"io/fs"
	"testing"

	"github.com/stretchr/testify/require"
)

func tree(t *testing.T, fsys fs.FS) map[string]string {
	out := map[string]string{}
	require.NoError(t, fs.WalkDir(fsys, ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := fs.ReadFile(fsys, p)
		out[p] = string(data)
		return err
	}))
	return out
}
