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
)

// A first copy is written in bulk, and the disk synced as a whole: once for what is staged, once for the names. Cut off anywhere,
// the next sync carries it on; no file is ever seen half written.
func TestFirstCopyCutOff(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	home, stick := filepath.Join(root, "home"), filepath.Join(root, "stick")
	require.NoError(t, os.Mkdir(stick, 0o777))
	s, err := initOn(home, "home", &faulty.Disk{})
	require.NoError(t, err)
	require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
	write(t, home, "shop.yaml", "name: shop\n")
	for i := range 90 {
		write(t, home, fmt.Sprintf("jobs/job-%02d/job.yaml", i), fmt.Sprintf("name: Job %d\n", i))
	}
	must(t, home)
	for _, k := range []struct {
		name string
		cut  bool
		err  error
	}{{"killed", false, nil}, {"power cut", true, nil}, {"full", false, syscall.ENOSPC}} {
		step := 97 // all changes with -every-op
		at := 1 + time.Now().YearDay()%step
		if *everyOp {
			step, at = 1, 1
		}
		for ; ; at += step {
			note := fmt.Sprintf("%s at change %d", k.name, at)
			shop := filepath.Join(root, "shop")
			require.NoError(t, os.RemoveAll(shop))
			s, err := initOn(shop, "shop", &faulty.Disk{})
			require.NoError(t, err)
			require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
			side := filepath.Join(root, "side")
			require.NoError(t, os.RemoveAll(side))
			require.NoError(t, os.Mkdir(side, 0o777))
			d := &faulty.Disk{At: at, Cut: k.cut, Side: side, Err: k.err}
			wholes := 0
			d.Before = func(_ int, op, path string) {
				if op == "sync" && strings.HasPrefix(path, filepath.Join(shop, ".git", "caul", "in")) {
					wholes++
				}
			}
			s, err = openOn(shop, d)
			require.NoError(t, err)
			s.stale = 20 * time.Millisecond
			_, err = s.Sync(context.Background(), Options{})
			s.Close()
			require.NoError(t, filepath.WalkDir(filepath.Join(shop, "jobs"), func(p string, e os.DirEntry, err error) error {
				if err == nil && !e.IsDir() {
					data, err := os.ReadFile(p)
					require.NoError(t, err)
					rel, err := filepath.Rel(shop, p)
					require.NoError(t, err)
					require.Equal(t, read(t, home, filepath.ToSlash(rel)), string(data), note)
				}
				return nil
			}))
			if d.Count() < at {
				require.NoError(t, err)
				require.Equal(t, 2, wholes, "the disk is synced as a whole, and no file by itself")
				break
			}
			must(t, shop)
			require.Equal(t, words(t, home), words(t, shop), note)
		}
	}
}
