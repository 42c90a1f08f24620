package sync

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
)

// A commit tells what happened in the words of the shop. The sentences are written here by hand, from what a maker would say.
func TestMessages(t *testing.T) {
	entries := map[string]string{
		"jobs/table/log/1.md": "---\nat: 2026-03-14T19:05\ndid: clamped\nstep: core\n---\nall well\n",
		"jobs/table/log/2.md": "---\r\ndid: finished\r\n---\r\n",
		"jobs/table/log/3.md": "---\ndid: noted\n---\nthe saw wanders\n",
		"jobs/sled/log/1.md":  "---\ndid: \"measured\"\nstep: 'fence'\n---\n",
	}
	add := func(ps ...string) (cs []Change) {
		for _, p := range ps {
			cs = append(cs, Change{p, Added})
		}
		return cs
	}
	many := func(n int, f string) (cs []Change) {
		for i := range n {
			cs = append(cs, Change{fmt.Sprintf(f, i), Added})
		}
		return cs
	}
	for _, c := range []struct {
		cs   []Change
		want string
	}{
		{add("jobs/table/log/1.md"), "table: clamped core"},
		{add("jobs/table/log/1.md", "jobs/table/log/3.md", "jobs/table/photos/a.jpg", "jobs/table/photos/b.jpg"), "table: clamped core, noted; 2 photos"},
		{add("jobs/sled/log/1.md"), "sled: measured fence"},
		{add("jobs/table/log/2.md"), "table: finished"},
		{[]Change{{"jobs/table/job.yaml", Edited}, {"jobs/table/build.md", Edited}}, "table: edited job.yaml, edited build.md"},
		{add("jobs/table/job.yaml", "jobs/table/build.md"), "table: new job"},
		{[]Change{{"jobs/table/job.yaml", Deleted}, {"jobs/table/log/1.md", Deleted}}, "table: removed the job"},
		{[]Change{{"jobs/table/photos/a.jpg", Deleted}}, "table: deleted photos/a.jpg"},
		{[]Change{{"prices.yaml", Edited}, {"both-ways/table-qty.md", Deleted}}, "edited prices.yaml; decided 1 value that two machines had changed"},
		{[]Change{{"jobs/a/notes.md", Added}, {"jobs/b/notes.md", Edited}, {"shop.yaml", Edited}}, "a: added notes.md; b: edited notes.md; edited shop.yaml"},
		{many(8, "jobs/table/log/x%d.md"), "table: entry x0, entry x1, entry x2, entry x3, entry x4, and 3 more entries"},
		{many(5, "jobs/table/%d.md"), "table: 5 files"},
		{many(9, "%d.md"), "added 0.md, added 1.md, added 2.md, added 3.md, added 4.md, and 4 more files"},
		{add("jobs/a/new\nline.md", "jobs/b/bad\xff.md"), "a: added new line.md; b: added bad�.md"},
	} {
		require.Equal(t, c.want, describe(c.cs, nil, func(p string) []byte { return []byte(entries[p]) }), "%v", c.cs)
	}
	// More than a line: the first tells how much, the others what.
	long := describe(many(30, "jobs/a-job-with-a-name-%d/notes.md"), nil, func(string) []byte { return nil })
	first, rest, _ := strings.Cut(long, "\n\n")
	require.Equal(t, "work on 30 jobs", first)
	require.Len(t, strings.Split(rest, "\n"), 30)
	require.Equal(t, "a-job-with-a-name-0: added notes.md", strings.Split(rest, "\n")[0])

	// The times of edits go along, and only of names that a line of text can hold.
	at := time.Date(2026, 3, 14, 20, 5, 0, 0, time.FixedZone("", 3600))
	require.Equal(t, "\nEdited: 2026-03-14T19:05:00Z jobs/für/job.yaml\n", trailers(map[string]time.Time{"jobs/für/job.yaml": at, "a\nb.md": at, "\xff.md": at, "a.jpg": at}))
}

// A job that was renamed is told as that, and not as one that went and another that came.
func TestMessageOfARenamedJob(t *testing.T) {
	s, err := initOn(filepath.Join(t.TempDir(), "home"), "home", &faulty.Disk{})
	require.NoError(t, err)
	message := func() string {
		rep, err := s.Sync(context.Background(), Options{})
		require.NoError(t, err)
		return rep.Message
	}
	for _, f := range []string{"job.yaml", "build.md", "log/1.md", "photos/a.jpg", "notes.md"} {
		write(t, s.Dir(), "jobs/box/"+f, "words of "+f+"\n")
	}
	write(t, s.Dir(), "shop.yaml", "name: shop\n")
	write(t, s.Dir(), "jobs/old/job.yaml", "name: Old\n")
	write(t, s.Dir(), "jobs/old/notes.md", "of the old one\n")
	require.Equal(t, "box: new job; entry 1; 1 photo; old: new job; added shop.yaml", message())
	require.NoError(t, os.Rename(filepath.Join(s.Dir(), "jobs/box"), filepath.Join(s.Dir(), "jobs/chest")))
	require.Equal(t, "chest: renamed from box", message())
	require.NoError(t, os.Rename(filepath.Join(s.Dir(), "jobs/chest"), filepath.Join(s.Dir(), "jobs/trunk")))
	write(t, s.Dir(), "jobs/trunk/job.yaml", "name: Trunk\n")
	write(t, s.Dir(), "jobs/trunk/log/2.md", "---\ndid: finished\nstep: mill\n---\n")
	require.NoError(t, os.Remove(filepath.Join(s.Dir(), "jobs/trunk/notes.md")))
	require.NoError(t, os.RemoveAll(filepath.Join(s.Dir(), "jobs/old")))
	require.Equal(t, "old: removed the job; trunk: renamed from chest; finished mill; deleted notes.md, edited job.yaml", message())
}
