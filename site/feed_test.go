package site

import (
	"bytes"
	"path"
	"sort"
	"strings"
	"testing"

	"github.com/mmcdole/gofeed/atom"
	"github.com/stretchr/testify/require"

	"caul/job"
)

// TestFeedReadsElsewhere reads the feed by a library that other feed readers
// use and holds it against the shop's log: every entry that is not private or
// taken back, at its instant, under its job's name, latest first, with addresses that are
// files of the site.
func TestFeedReadsElsewhere(t *testing.T) {
	in := demoInput(t)
	s := render(t, in)
	f, err := (&atom.Parser{}).Parse(bytes.NewReader(s.Pages["feed.atom"]))
	require.NoError(t, err)
	require.Equal(t, "1.0", f.Version)
	require.Equal(t, in.Shop.Name+", log", f.Title)
	require.Len(t, f.Authors, 1)
	require.NotEmpty(t, f.Authors[0].Name)
	for _, l := range f.Links {
		require.Contains(t, []string{"self", "alternate"}, l.Rel)
		require.Contains(t, s.Pages, l.Href)
	}

	type logged struct {
		job   *job.Job
		entry job.Entry
	}
	var want []logged
	for _, j := range in.Shop.Jobs {
		back := map[string]bool{}
		for _, e := range j.Log {
			if e.Did == job.DidUndo {
				back[e.ID], back[e.Entry] = true, true
			}
		}
		for _, e := range j.Log {
			if !e.Private && !back[e.ID] {
				want = append(want, logged{j, e})
			}
		}
	}
	require.Less(t, len(want), feedMost)
	sort.SliceStable(want, func(a, b int) bool { return want[a].entry.Time.After(want[b].entry.Time) })
	require.Len(t, f.Entries, len(want))
	require.True(t, f.UpdatedParsed.Equal(want[0].entry.Time))
	require.Empty(t, f.Extensions, "no element the standard does not know")
	for i, e := range f.Entries {
		w := want[i]
		require.True(t, e.UpdatedParsed.Equal(w.entry.Time), "%s: %s", w.entry.ID, e.Updated)
		require.True(t, strings.HasPrefix(e.Title, w.job.Name+": "), e.Title)
		require.Len(t, e.Links, 1)
		at, id, _ := strings.Cut(e.Links[0].Href, "#")
		require.Contains(t, string(s.Pages[at]), ` id="`+id+`"`)
		require.Equal(t, path.Join("jobs", w.job.ID, "log.html"), at)
		require.Equal(t, w.entry.ID, id)
		require.Equal(t, "html", e.Content.Type)
		require.Empty(t, e.Extensions)
	}
}
