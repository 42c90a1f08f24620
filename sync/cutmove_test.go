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

// words is every byte of a shop's own files.
func words(t testing.TB, dir string) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, filepath.WalkDir(dir, func(p string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() && e.Name() == ".git" {
			if err == nil {
				err = filepath.SkipDir
			}
			return err
		}
		if !e.IsDir() {
			data, err := os.ReadFile(p)
			require.NoError(t, err)
			b.Write(data)
		}
		return nil
	}))
	return b.String()
}

// A move of a renamed job is cut off, at any change of the disk; then somebody works under the job's old name, in files that
// stand there or, where the move had taken them already, in new ones of that name; a second sync may be cut off too. A file made
// anew is no edit of the one that was out of sight: what that one held stays in the job, and what was written by hand is kept.
func TestHandsAfterACutOffMove(t *testing.T) {
	t.Parallel()
	home, shop, stick := met(t, map[string]string{
		"shop.yaml":             "name: mine\n",
		"jobs/old/job.yaml":     "name: Table\nparts:\n  - id: skin\n    note: first-note\n",
		"jobs/old/build.md":     "# Table\n\n- [ ] mill\n\nWords on the core.\n",
		"jobs/old/photos/p.jpg": "\xff\xd8\xff first-photo",
		"jobs/old/log/a.md":     "---\ndid: finished\n---\nfirst-entry\n",
	})
	root := filepath.Dir(home)
	rename := func(from, to string) {
		require.NoError(t, os.Rename(filepath.Join(home, "jobs", from), filepath.Join(home, "jobs", to)))
		must(t, home)
	}
	rename("old", "new")
	keep := root + ".keep"
	require.NoError(t, os.CopyFS(keep, os.DirFS(root)))
	defer os.RemoveAll(keep)
	cut := func(at int, err error, power bool) bool {
		d := &faulty.Disk{At: at, Err: err, Cut: power}
		s, oerr := openOn(shop, d)
		require.NoError(t, oerr)
		defer s.Close()
		s.stale = 20 * time.Millisecond
		_, _ = s.Sync(context.Background(), Options{})
		return d.Count() >= at
	}
	seen := []string{"Words on the core.", "first-note", "first-photo", "first-entry"}
	hands := []struct {
		name string
		do   func() []string
	}{
		{"writes on", func() []string {
			p := filepath.Join(shop, "jobs/old/build.md")
			data, _ := os.ReadFile(p)
			write(t, shop, "jobs/old/build.md", string(data)+"\nBy hand.\n")
			return []string{"By hand."}
		}},
		{"makes an empty file", func() []string {
			if _, err := os.Stat(filepath.Join(shop, "jobs/old/build.md")); err != nil {
				write(t, shop, "jobs/old/build.md", "")
			}
			write(t, shop, "jobs/old/log/b.md", "---\ndid: finished\n---\nsecond-entry\n")
			return []string{"second-entry"}
		}},
		{"makes all files anew", func() []string {
			var out []string
			for p, s := range map[string]string{"job.yaml": "name: Stool\nnote: by-hand-%s\n", "build.md": "# Stool\n\nby-hand-%s\n", "photos/p.jpg": "\xff\xd8\xff by-hand-%s", "log/a.md": "---\ndid: begun\n---\nby-hand-%s\n"} {
				if _, err := os.Stat(filepath.Join(shop, "jobs/old", p)); err != nil {
					tok := strings.NewReplacer("/", "-", ".", "-").Replace(p)
					write(t, shop, "jobs/old/"+p, fmt.Sprintf(s, tok))
					out = append(out, "by-hand-"+tok)
				}
			}
			return out
		}},
		{"puts a folder there", func() []string {
			if _, err := os.Stat(filepath.Join(shop, "jobs/old/build.md")); err == nil {
				return nil
			}
			write(t, shop, "jobs/old/build.md/x.txt", "in-a-folder\n")
			return []string{"in-a-folder"}
		}},
	}
	for _, k := range []struct {
		name  string
		err   error
		power bool
	}{{"killed", nil, false}, {"power cut", nil, true}, {"full", syscall.ENOSPC, false}} {
		for hi, hand := range hands {
			for twice := range 2 {
				step := 50 // all changes with -every-op
				if k.err == nil && !k.power && twice == 0 {
					step = 12
				}
				at := 36 + (time.Now().YearDay()+5*hi+9*twice)%step // a move begins after some forty changes
				if *everyOp {
					step, at = 1, 1
				}
				for ; ; at += step {
					note := fmt.Sprintf("%s at change %d, then somebody %s, twice %d", k.name, at, hand.name, twice)
					for _, d := range []string{home, shop, stick} {
						require.NoError(t, os.RemoveAll(d))
					}
					require.NoError(t, os.CopyFS(root, os.DirFS(keep)))
					if !cut(at, k.err, k.power) {
						break
					}
					for _, s := range seen {
						require.Contains(t, words(t, shop), s, "right after: "+note)
					}
					if twice == 1 {
						write(t, shop, "prices.yaml", "glue: 3\n")
						cut(at+10, k.err, k.power)
					}
					want := append(hand.do(), seen...)
					rename("new", "newer")
					must(t, shop)
					must(t, home)
					must(t, shop)
					for _, dir := range []string{home, shop} {
						all := words(t, dir)
						for _, s := range want {
							require.Contains(t, all, s, note)
						}
						require.Equal(t, words(t, home), all, note)
					}
					job := "jobs/newer"
					if _, err := os.Stat(filepath.Join(shop, job, "job.yaml")); err != nil {
						job = "jobs/old" // worked on there while the other machine took it away
					}
					require.Contains(t, words(t, filepath.Join(shop, job)), "Words on the core.", note)
				}
			}
		}
	}
}
