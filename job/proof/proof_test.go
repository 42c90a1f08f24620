package proof

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/glue"
	"caul/job/machine"
)

var update = flag.Bool("update", false, "write what the checks say now into testdata/checks")

// now is when every proof of the tests is read.
var now = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

// entry is a reading four months old, for the checks that come due.
const entry = "---\nat: 2026-02-01T10:00:00Z\ndid: read\ncheck: flat\nvalue: 0.002 in\n---\n"

// shopWith reads the shop of the tests with one job, and with files of its own
// in place of the shop's.
func shopWith(t require.TestingT, jobYAML string, own ...txtar.File) *job.Shop {
	a, err := txtar.ParseFile(filepath.Join("testdata", "shop.txtar"))
	require.NoError(t, err)
	m := fstest.MapFS{"jobs/x/job.yaml": {Data: []byte(jobYAML)}}
	for _, f := range append(a.Files, own...) {
		m[f.Name] = &fstest.MapFile{Data: f.Data}
	}
	if strings.Contains(jobYAML, "checks:") {
		m["jobs/x/log/2026-02-01T1000-shop-read-flat.md"] = &fstest.MapFile{Data: []byte(entry)}
	}
	s, err := job.LoadFS(m, "")
	require.NoError(t, err)
	return s
}

// piece begins a job of one plywood part, a, whose machining follows.
func piece(size string) string {
	return "name: x\nparts:\n  - id: a\n    qty: 1\n    size: " + size + "\n    from: ply\n    machining:"
}

// Every check has a job that it passes and one that it stops, and says what
// the golden text says. No check stands without both.
func TestEveryCheck(t *testing.T) {
	rules := map[string]Rule{}
	for _, r := range Rules() {
		rules[r.ID] = r
	}
	files, err := filepath.Glob(filepath.Join("testdata", "checks", "*.txtar"))
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, file := range files {
		id := strings.TrimSuffix(filepath.Base(file), ".txtar")
		seen[id] = true
		t.Run(id, func(t *testing.T) {
			rule, ok := rules[id]
			require.True(t, ok, "no such check")
			a, err := txtar.ParseFile(file)
			require.NoError(t, err)
			part := map[string]*txtar.File{}
			for i := range a.Files {
				part[a.Files[i].Name] = &a.Files[i]
			}
			good := Check(shopWith(t, string(part["pass.yaml"].Data)), Options{Now: now})
			require.Empty(t, only(good, id), "the passing job")
			var own []txtar.File // of the failing job's shop
			for name, f := range part {
				if n, ok := strings.CutPrefix(name, "fail/"); ok {
					own = append(own, txtar.File{Name: n, Data: f.Data})
				}
			}
			bad := only(Check(shopWith(t, string(part["fail.yaml"].Data), own...), Options{Now: now}), id)
			require.NotEmpty(t, bad, "the failing job")
			var b strings.Builder
			for _, f := range bad {
				require.LessOrEqual(t, grave(f.Severity), grave(rule.Severity), "graver than the register says")
				b.WriteString(Text(&Proof{Findings: []Finding{f}}, 1000))
			}
			got := strings.ReplaceAll(b.String(), "0 looked at: 0 to stop for, 0 to look at\n", "")
			if *update {
				part["want.txt"].Data = []byte(got)
				require.NoError(t, os.WriteFile(file, txtar.Format(a), 0o644))
				return
			}
			require.Equal(t, string(part["want.txt"].Data), got)
		})
	}
	for id := range rules {
		require.True(t, seen[id], "%s has no pair of jobs in testdata", id)
	}
}

func grave(s Severity) int {
	if s == Stop {
		return 2
	}
	return 1
}

func only(p *Proof, id string) []Finding {
	var out []Finding
	for _, f := range p.Findings {
		if f.Check == id {
			out = append(out, f)
		}
	}
	return out
}

// Every finding of every test job is one that the register lists.
func TestFindingsAreRegistered(t *testing.T) {
	known := map[string]bool{}
	for _, r := range Rules() {
		known[r.ID] = true
	}
	files, _ := filepath.Glob(filepath.Join("testdata", "checks", "*.txtar"))
	for _, file := range files {
		a, err := txtar.ParseFile(file)
		require.NoError(t, err)
		for _, f := range a.Files {
			if !strings.HasSuffix(f.Name, ".yaml") || strings.Contains(f.Name, "/") {
				continue
			}
			for _, x := range Check(shopWith(t, string(f.Data)), Options{Now: now}).Findings {
				require.True(t, known[x.Check], x.Check)
				require.NotEmpty(t, x.Mend)
				require.NotZero(t, x.At.Line)
			}
		}
	}
}

// Every kind that a check, a caution or a sum knows stands in the list of keys
// that `caul help files` prints.
func TestFilesListKinds(t *testing.T) {
	words := map[string]bool{}
	_, list, found := strings.Cut(job.Files, "\nKinds that ")
	require.True(t, found)
	for _, w := range strings.FieldsFunc(list, func(r rune) bool { return r == ',' || r == '.' || r == ' ' || r == '\n' }) {
		words[w] = true
	}
	for _, k := range machine.Kinds() {
		require.True(t, words[k.ID], k.ID)
	}
	for _, k := range glue.ClampKinds() {
		require.True(t, words[k.ID], k.ID)
	}
	for _, k := range glue.Kinds() {
		require.True(t, words[k.ID], k.ID)
	}
	for _, k := range cutterKinds() {
		require.True(t, words[k], k)
	}
}
