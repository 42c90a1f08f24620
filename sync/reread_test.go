package sync

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/sync/internal/faulty"
)

const (
	rereadShopYAML = `name: A shop
units: {length: in, finest: 1/64, temperature: C, money: USD}
zone: America/Denver
hours:
  sat: 9:00-12:00
machines:
  - {id: table-saw}
  - {id: band-saw}
blades:
  - {id: combination, machine: table-saw, kerf: 1/8}
  - {id: ripping, machine: table-saw, kerf: 1/8}
measures:
  slot: 3/4
`
	rereadJobYAML = `name: Torsion-box assembly table
parts:
  - id: skin
    qty: 2
    size: 48 x 24 x 1/2
    from: ply
  - id: rib
    qty: 4
    size: 46 x 3 x 1/2
    from: ply
steps:
  - id: mill
    takes: 40 min
  - id: core
    takes: 25 min
  - id: trim
    takes: 20 min
fittings: []
`
)

// Files that read well each may not read together. Then one side's version stands whole, the newer one where it reads, and the
// other is kept whole: on both machines the shop reads, and all that either wrote is there.
func TestRereadAsAFolder(t *testing.T) {
	swap := func(file string, pairs ...string) func(t *testing.T, dir string) {
		return func(t *testing.T, dir string) {
			s := read(t, dir, file)
			require.Contains(t, s, pairs[0])
			write(t, dir, file, strings.NewReplacer(pairs...).Replace(s))
		}
	}
	both := func(fs ...func(*testing.T, string)) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			for _, f := range fs {
				f(t, dir)
			}
		}
	}
	const jobFile = "jobs/table/job.yaml"
	noTrim := swap(jobFile, "  - id: trim\n    takes: 20 min\n", "")
	for _, c := range []struct {
		name       string
		home, shop func(*testing.T, string)
		homeNewer  bool
		file       string            // the file of which one version was kept whole; none where all reads together
		stands     string            // in that file afterwards
		kept       string            // in its record
		also       map[string]string // other files, and what they hold
		unread     string            // what does not read afterwards either
	}{
		{name: "a step struck out, and waited for",
			home: noTrim, shop: swap(jobFile, "- id: core\n    takes: 25 min", "- id: core\n    takes: 26 min\n    after: [trim]"),
			file: jobFile, stands: "after: [trim]", kept: "takes: 25 min\n"},
		{name: "a step struck out, and waited for before that", homeNewer: true,
			home: noTrim, shop: swap(jobFile, "- id: core\n    takes: 25 min", "- id: core\n    takes: 26 min\n    after: [trim]"),
			file: jobFile, stands: "takes: 25 min\n", kept: "after: [trim]"},
		{name: "two steps that wait for each other",
			home: swap(jobFile, "takes: 40 min", "takes: 40 min\n    after: [trim]"), shop: swap(jobFile, "takes: 20 min", "takes: 20 min\n    after: [mill]"),
			file: jobFile, stands: "after: [mill]", kept: "after: [trim]"},
		{name: "a glue-up whose step is struck out",
			home: swap(jobFile, "  - id: core\n    takes: 25 min\n", ""), shop: swap(jobFile, "steps:\n", "glue-ups:\n  - {id: core, glue: pva, joins: [skin, rib]}\nsteps:\n"),
			file: jobFile, stands: "glue-ups:", kept: "id: trim"},
		{name: "a blade given away, and a fitting for it",
			home: swap("shop.yaml", "  - {id: ripping, machine: table-saw, kerf: 1/8}\n", ""), shop: swap(jobFile, "fittings: []", "fittings:\n  - {id: insert, kind: insert, blade: ripping}"),
			file: "shop.yaml", stands: "ripping", kept: "slot: 3/4", also: map[string]string{jobFile: "blade: ripping"}},
		{name: "a named measure struck out, and used",
			home: swap("shop.yaml", "  slot: 3/4\n", "  deep: 1/2\n"), shop: swap(jobFile, "size: 46 x 3 x 1/2", "size: 46 x slot x 1/2"),
			file: "shop.yaml", stands: "slot: 3/4", kept: "deep: 1/2", also: map[string]string{jobFile: "46 x slot"}},
		{name: "shop lists of both needed", // the blade is given away at home, where a new job needs a new blade
			home: both(swap("shop.yaml", "  - {id: ripping, machine: table-saw, kerf: 1/8}\n", "  - {id: thin, machine: table-saw, kerf: 3/32}\n"),
				swap(jobFile, "fittings: []", "fittings:\n  - {id: insert, kind: insert, blade: thin}")),
			shop: swap("jobs/stool/job.yaml", "fittings: []", "fittings:\n  - {id: insert, kind: insert, blade: ripping}"),
			file: "jobs/stool/job.yaml", stands: "fittings: []", kept: "blade: ripping", also: map[string]string{jobFile: "blade: thin", "shop.yaml": "thin"}},
		{name: "an entry for a step that is struck out", // reads: what happened, happened
			home: noTrim, shop: func(t *testing.T, dir string) {
				write(t, dir, "jobs/table/log/2026-03-14T1905-shop-finished-trim.md", "---\ndid: finished\nat: 2026-03-14T19:05:00-06:00\nstep: trim\n---\nflush all round\n")
			},
			also: map[string]string{"jobs/table/log/2026-03-14T1905-shop-finished-trim.md": "flush"}},
		{name: "a job that did not read before", // its own fault is no reason to take an edit away
			home: swap("shop.yaml", "slot: 3/4", "slot: 7/8"), shop: swap(jobFile, "takes: 25 min", "takes: 25 min\n    after: [gone]"),
			also: map[string]string{jobFile: "after: [gone]", "shop.yaml": "slot: 7/8"}, unread: `no step called "gone"`},
		{name: "two edits that go together",
			home: swap(jobFile, "takes: 40 min", "takes: 45 min"), shop: swap(jobFile, "takes: 20 min", "takes: 20 min\n    after: [core]"),
			also: map[string]string{jobFile: "takes: 45 min"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			home, shop, _ := met(t, map[string]string{"shop.yaml": rereadShopYAML, "stock.yaml": "stock:\n  - {id: ply, form: sheet, size: 96 x 48 x 1/2}\n",
				jobFile: rereadJobYAML, "jobs/stool/job.yaml": rereadJobYAML})
			_, err := job.Load(home)
			require.NoError(t, err)
			c.home(t, home)
			c.shop(t, shop)
			at := time.Now().Add(-time.Hour).Truncate(time.Second)
			for dir, when := range map[string]time.Time{home: at, shop: at.Add(time.Minute)} {
				if dir == home && c.homeNewer {
					when = at.Add(2 * time.Minute)
				}
				for _, f := range []string{"shop.yaml", jobFile, "jobs/stool/job.yaml"} {
					require.NoError(t, os.Chtimes(filepath.Join(dir, f), when, when))
				}
			}
			sync := func(dir string) *Report {
				s, err := openOn(dir, &faulty.Disk{})
				require.NoError(t, err)
				defer s.Close()
				rep, err := s.Sync(context.Background(), Options{Reread: job.CheckFile, RereadShop: job.CheckFolder})
				require.NoError(t, err)
				require.False(t, rep.Partial(), brief(rep))
				return rep
			}
			sync(home)
			rep := sync(shop)
			sync(home)
			require.Equal(t, words(t, home), words(t, shop))
			if _, err := job.Load(shop); c.unread != "" {
				require.ErrorContains(t, err, c.unread)
				require.Contains(t, strings.Join(rep.Look, "\n"), c.unread)
			} else {
				require.NoError(t, err)
			}
			s, err := Open(shop)
			require.NoError(t, err)
			bs, err := s.BothWays()
			require.NoError(t, err)
			for f, want := range c.also {
				require.Contains(t, read(t, shop, f), want)
			}
			if c.file == "" {
				require.Empty(t, bs)
				return
			}
			require.Contains(t, read(t, shop, c.file), c.stands)
			require.Len(t, bs, 1)
			require.Equal(t, rep.BothWays, []string{bs[0].Name})
			require.Equal(t, c.file, bs[0].Path)
			require.Equal(t, "whole file", bs[0].What)
			require.Equal(t, read(t, shop, c.file), string(bs[0].Record.Stands.Data))
			require.Contains(t, string(bs[0].Record.Other.Data), c.kept)
			require.NotContains(t, string(bs[0].Record.Other.Data), c.stands)
		})
	}
}
