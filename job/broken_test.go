package job

import (
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden messages anew")

const (
	jobFile = "jobs/torsion-table/job.yaml"
	logFile = "jobs/torsion-table/log/2026-03-14T1905-shop-clamped-core.md"
)

// soundShop copies testdata/shop to a folder of its own.
func soundShop(t testing.TB) string {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/shop")))
	return dir
}

// swap changes one passage of a file, which must be there.
func swap(file, old, with string) func(t *testing.T, dir string) {
	return func(t *testing.T, dir string) {
		full := filepath.Join(dir, filepath.FromSlash(file))
		data, err := os.ReadFile(full)
		require.NoError(t, err)
		require.Contains(t, string(data), old)
		require.NoError(t, os.WriteFile(full, []byte(strings.Replace(string(data), old, with, 1)), 0o666))
	}
}

func whole(file string, text func(old string) string) func(t *testing.T, dir string) {
	return func(t *testing.T, dir string) {
		full := filepath.Join(dir, filepath.FromSlash(file))
		data, _ := os.ReadFile(full)
		require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o777))
		require.NoError(t, os.WriteFile(full, []byte(text(string(data))), 0o666))
	}
}

func always(s string) func(string) string { return func(string) string { return s } }

var broken = []struct {
	name   string
	mutate func(t *testing.T, dir string)
	sound  bool // a shop that reads all the same
}{
	{"unknown-key", swap(jobFile, "    qty: 2", "    qyt: 2"), false},
	{"bad-fraction", swap(jobFile, "depth: 3/16", "depth: 3/0"), false},
	{"bad-size", swap(jobFile, "48 x 24 x 1/2", "48 x 24"), false},
	{"cycle-of-steps", swap(jobFile, "setup: table saw, rip fence 3-1/2", "after: [trim]"), false},
	{"cycle-of-measures", swap("shop.yaml", "  slot: 3/4", "  slot: way + 1/8\n  way: slot - 1/8"), false},
	{"unknown-measure", swap(jobFile, "depth: 3/16", "depth: slott / 4"), false},
	{"length-times-length", swap(jobFile, "depth: 3/16", "depth: slot * slot"), false},
	{"missing-part", swap(jobFile, "joins: [skin, rib]", "joins: [skin, rip]"), false},
	{"missing-stock", swap(jobFile, "    from: birch-ply-1/2", "    from: birch-ply"), false},
	{"missing-step", swap(jobFile, "after: [core cured]", "after: [cor cured]"), false},
	{"bad-after", swap(jobFile, "after: [core cured]", "after: [core curred, 3 days after mill]"), false},
	{"same-id-twice", swap(jobFile, "{id: rib, qty: 4", "{id: skin, qty: 4"), false},
	{"same-key-twice", swap(jobFile, "    qty: 2", "    qty: 2\n    qty: 3"), false},
	{"unknown-glue", swap(jobFile, "glue: pva", "glue: pvaa"), false},
	{"unknown-clamp", swap(jobFile, "clamps: {bar: 8}", "clamps: {bars: 8}"), false},
	{"unknown-place", swap(jobFile, "place: flat-table", "place: flat"), false},
	{"unknown-machine", swap(jobFile, "setup: router table", "setup: rooter table"), false},
	{"unknown-cutter", swap(jobFile, "cutter: straight-1/4", "cutter: straight-1/3"), false},
	{"unknown-machining", swap(jobFile, "- groove:", "- grove:"), false},
	{"glue-up-no-step", swap(jobFile, "  - id: core\n    takes: 25 min\n    after: [mill]\n  - id: trim\n    takes: 20 min\n    setup: router table, flush-trim\n    after: [core cured]", "  - id: trim\n    takes: 20 min"), false},
	{"groove-from-wrong-edge", swap(jobFile, "at: 2 from near-edge", "at: 2 from left-end"), false},
	{"folder-for-a-file", func(t *testing.T, dir string) {
		require.NoError(t, os.Remove(filepath.Join(dir, "prices.yaml")))
		require.NoError(t, os.Mkdir(filepath.Join(dir, "prices.yaml"), 0o777))
	}, false},
	{"link-out-of-the-shop", func(t *testing.T, dir string) {
		require.NoError(t, os.Remove(filepath.Join(dir, "stock.yaml")))
		require.NoError(t, os.Symlink("/etc/hostname", filepath.Join(dir, "stock.yaml")))
	}, false},
	{"link-to-a-job", func(t *testing.T, dir string) {
		require.NoError(t, os.Symlink("torsion-table", filepath.Join(dir, "jobs", "other")))
	}, false},
	{"link-in-the-log", func(t *testing.T, dir string) {
		require.NoError(t, os.Symlink("2026-03-14T1905-shop-clamped-core.md", filepath.Join(dir, "jobs/torsion-table/log/2026-03-15T0900-x-noted.md")))
	}, false},
	{"alias-bomb", whole("prices.yaml", func(string) string {
		b := "a: &a [x, x, x, x, x, x, x, x, x]\n"
		for c := 'b'; c < 'j'; c++ {
			p := string(c - 1)
			b += fmt.Sprintf("%c: &%c [*%s, *%s, *%s, *%s, *%s, *%s, *%s, *%s, *%s]\n", c, c, p, p, p, p, p, p, p, p, p)
		}
		return b
	}), false},
	{"deep-nesting", whole("prices.yaml", always("items: "+strings.Repeat("[", 5000)+strings.Repeat("]", 5000)+"\n")), false},
	{"fifty-megabytes", whole("prices.yaml", always(strings.Repeat("# xxxxxxxx\n", 50<<20/11))), false},
	{"not-utf8", swap(jobFile, "a flat place", "a fl\xe4t place"), false},
	{"zeros", swap(logFile, "Squeeze", "\x00\x00queeze"), false},
	{"tabs", swap(jobFile, "    qty: 2", "\tqty: 2"), false},
	{"merge-leftovers", swap(jobFile, "copies: 1", "<<<<<<< ours\ncopies: 1\n=======\ncopies: 2\n>>>>>>> theirs"), false},
	{"negative-size", swap(jobFile, "46 x 3 x 1/2", "46 x -3 x 1/2"), false},
	{"zero-size", swap(jobFile, "46 x 3 x 1/2", "46 x 0 x 1/2"), false},
	{"zero-kerf", swap("shop.yaml", "kerf: 1/8", "kerf: 0"), false},
	{"hours-that-never-open", swap("shop.yaml", "  mon-fri: 19:00-21:30\n  sat: [9:00-12:00, 13:30-17:00]", "  mon-fri: []"), false},
	{"hours-backwards", swap("shop.yaml", "19:00-21:30", "21:30-19:00"), false},
	{"no-such-zone", swap("shop.yaml", "America/Denver", "America/Denvr"), false},
	{"no-such-day", swap("shop.yaml", "  sat:", "  satt:"), false},
	{"open-quote", swap(jobFile, "name: Mill the ribs to one width", `name: "Mill the ribs`), false},
	{"open-bracket", swap(jobFile, "after: [mill]", "after: [mill"), false},
	{"colon-in-text", swap(jobFile, "for: a flat place", "for: note: a flat place"), false},
	{"two-documents", swap(jobFile, "hardware:", "---\nhardware:"), false},
	{"list-for-a-map", swap("shop.yaml", "air:\n  day: {7:00: 18 C, 22:00: 8 C}", "air: [18 C]"), false},
	{"price-without-money", swap("prices.yaml", "price: 7.40", "price: seven"), false},
	{"no-shop-file", func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "shop.yaml"))) }, false},
	{"no-job-file", func(t *testing.T, dir string) {
		require.NoError(t, os.Remove(filepath.Join(dir, filepath.FromSlash(jobFile))))
	}, false},
	{"log-without-front-matter", whole(logFile, always("Squeeze-out even.\n")), false},
	{"log-that-says-nothing", swap(logFile, "did: clamped", "did: clampt"), false},
	{"everything-at-once", func(t *testing.T, dir string) {
		swap(jobFile, "    qty: 2", "    qyt: 2")(t, dir)
		swap(jobFile, "glue: pva", "glue: pvaa")(t, dir)
		swap("shop.yaml", "kerf: 1/8", "kerf: 0")(t, dir)
		swap(logFile, "did: clamped", "did: clampt")(t, dir)
		swap("prices.yaml", "date: 2026-03-01", "date: 1st March")(t, dir)
	}, false},

	{"crlf", whole(jobFile, func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }), true},
	{"crlf-log", whole(logFile, func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }), true},
	{"bom", whole(jobFile, func(s string) string { return "\ufeff" + s }), true},
	{"bom-log", whole(logFile, func(s string) string { return "\ufeff" + s }), true},
	{"future-dated-log", swap(logFile, "2026-03-14", "2027-03-14"), true},
	{"log-for-an-unknown-step", swap(logFile, "step: core", "step: coar"), true},
	{"part-larger-than-any-stock", swap(jobFile, "48 x 24 x 1/2 ", "148 x 24 x 1/2 "), true},
	{"empty-files", whole("prices.yaml", always("")), true},
	{"only-notes", whole("prices.yaml", always("# nothing yet\n")), true},
	{"stray-folder", func(t *testing.T, dir string) {
		require.NoError(t, os.Mkdir(filepath.Join(dir, "jobs", "empty"), 0o777))
	}, true},
}

// TestBroken reads many kinds of broken folder. Each gives a clear message at
// its place, held as a golden file, or reads; nothing is ever written.
func TestBroken(t *testing.T) {
	for _, c := range broken {
		t.Run(c.name, func(t *testing.T) {
			if strings.HasPrefix(c.name, "link-") && runtime.GOOS == "windows" {
				t.Skip("links need rights on Windows")
			}
			dir := soundShop(t)
			c.mutate(t, dir)
			before := listing(t, dir)
			shop, err := Load(dir)
			require.Equal(t, before, listing(t, dir), "something was written")
			if c.sound {
				require.NoError(t, err)
				require.Len(t, shop.Jobs, 1)
				require.Len(t, shop.Jobs[0].Log, 1)
				return
			}
			require.Error(t, err)
			require.Nil(t, shop)
			var ps Problems
			require.ErrorAs(t, err, &ps)
			got := err.Error() + "\n"
			golden := filepath.Join("testdata", "broken", c.name+".txt")
			if *update {
				require.NoError(t, os.MkdirAll(filepath.Dir(golden), 0o777))
				require.NoError(t, os.WriteFile(golden, []byte(got), 0o666))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			require.Equal(t, string(want), got)
		})
	}
}

// lockedFS refuses to open some files, as permissions do.
type lockedFS struct {
	fs.FS
	locked string
}

func (l lockedFS) Open(name string) (fs.File, error) {
	if name == l.locked {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
	}
	return l.FS.Open(name)
}

func (l lockedFS) ReadLink(name string) (string, error)   { return fs.ReadLink(l.FS, name) }
func (l lockedFS) Lstat(name string) (fs.FileInfo, error) { return fs.Lstat(l.FS, name) }

func TestUnreadable(t *testing.T) {
	for _, f := range []string{"shop.yaml", "stock.yaml", jobFile, "jobs/torsion-table/build.md", logFile} {
		_, err := LoadFS(lockedFS{os.DirFS("testdata/shop"), f}, "")
		require.EqualError(t, err, f+": the file cannot be read: permission denied\nhint: check the file's permissions")
	}
	_, err := LoadFS(lockedFS{os.DirFS("testdata/shop"), "jobs/torsion-table/log"}, "")
	require.EqualError(t, err, "jobs/torsion-table/log: the folder cannot be read: permission denied\nhint: check the folder's permissions")
}

func TestSoundShop(t *testing.T) {
	shop, err := Load("testdata/shop")
	require.NoError(t, err)
	j := shop.Job("torsion-table")
	require.Equal(t, "core", j.Step("core").GlueUp.ID)
	require.Equal(t, "table-saw", j.Step("mill").Machine)
	require.Equal(t, "rip fence 3-1/2", j.Step("mill").State)
	require.Equal(t, "shop", j.Log[0].Machine)
	require.Equal(t, []Picture{{File: "jobs/torsion-table/photos/core.jpg"}}, j.Log[0].Pictures)
	require.Equal(t, "mill", j.Build.Sections[1].Step)
}

func listing(t *testing.T, dir string) string {
	var b strings.Builder
	require.NoError(t, filepath.Walk(dir, func(p string, st os.FileInfo, err error) error {
		if err == nil {
			fmt.Fprintln(&b, p, st.Mode(), st.Size(), st.ModTime().UnixNano())
		}
		return err
	}))
	return b.String()
}
