package settle

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// leaves are the values of a YAML text with their number, or nil.
func leaves(s string) map[string]int {
	plain, _, ok := unframe([]byte(s))
	if !ok {
		return nil
	}
	d, err := readYAML(plain)
	if err != nil {
		return nil
	}
	out := map[string]int{}
	var walk func(n *node)
	walk = func(n *node) {
		if n.kind == leaf && n.raw != "" {
			out[n.canon]++
		}
		for _, e := range n.ents {
			walk(e.val)
		}
	}
	walk(d.root)
	return out
}

// checkPair checks what holds for any two versions, whatever their bytes.
func checkPair(t *testing.T, path string, base, ours, theirs File) {
	base, ours, theirs = base.tidy(), ours.tidy(), theirs.tidy()
	out := Settle(path, base, ours, theirs, atHome, atShop, Options{})
	back := Settle(path, base, theirs, ours, atShop, atHome, Options{})
	require.Equal(t, out, back, "not symmetric")
	require.Equal(t, path, out.Files[0].Path)
	if sameFile(base, ours) || sameFile(ours, theirs) {
		require.Equal(t, one(path, theirs), out)
		return
	}
	if sameFile(base, theirs) {
		require.Equal(t, one(path, ours), out)
		return
	}
	kept := []string{}
	for _, f := range out.Files {
		kept = append(kept, string(f.Data))
	}
	for _, r := range out.BothWays {
		again, err := ParseRecord(r.Name(), r.Marshal())
		require.NoError(t, err)
		require.Equal(t, r, again)
		kept = append(kept, string(r.Stands.Data), string(r.Other.Data))
		_, _ = Take(r, TakeOther, File{!out.Files[0].Deleted, out.Files[0].Data})
		_, _ = Take(r, TakeStands, ours)
	}
	isIn := func(s File) bool {
		for _, k := range kept {
			if k == string(s.Data) {
				return true
			}
		}
		return !s.Exists
	}
	if isIn(ours) && isIn(theirs) {
		return // both are there whole
	}
	res := string(out.Files[0].Data)
	if isYAML(path) {
		require.NotNil(t, leaves(res), "the result does not read: %q", res)
		checkLeaves(t, string(base.Data), string(ours.Data), string(theirs.Data), res, out.BothWays)
		return
	}
	parts := [4]front{}
	for i, s := range []string{string(base.Data), string(ours.Data), string(theirs.Data), res} {
		plain, _, _ := unframe([]byte(s))
		parts[i] = front{body: plain}
		if isMarkdown(path) {
			parts[i] = splitFront(plain)
		}
	}
	checkLeaves(t, parts[0].front, parts[1].front, parts[2].front, parts[3].front, out.BothWays)
	kept[0] = parts[3].body
	checkLines(t, parts[0].body, parts[1].body, parts[2].body, strings.Join(kept, "\n"))
}

// checkLeaves checks that every value of either side is in the result or in a
// record, or was removed by the other side.
func checkLeaves(t *testing.T, base, ours, theirs, res string, records []Record) {
	lb, lo, lt, have := leaves(base), leaves(ours), leaves(theirs), leaves(res)
	if have == nil {
		have = map[string]int{}
	}
	for _, r := range records {
		for _, v := range []Value{r.Stands, r.Other} {
			for l := range leaves(string(v.Data)) {
				have[l]++
			}
		}
	}
	for _, x := range []struct{ a, b map[string]int }{{lo, lt}, {lt, lo}} {
		for l := range x.a {
			if have[l] == 0 && x.b[l] >= lb[l] {
				t.Fatalf("%q is lost\nbase %q\nours %q\ntheirs %q\nresult %q", l, base, ours, theirs, res)
			}
		}
	}
}

// checkLines checks the same of every line of text, but for spacing and ticks.
func checkLines(t *testing.T, base, ours, theirs, kept string) {
	line := func(s string) string {
		s = strings.TrimSpace(s)
		if at := tickAt(s); at >= 0 {
			s = s[:at] + " " + s[at+1:]
		}
		return strings.Join(strings.Fields(s), " ")
	}
	lines := func(s string) map[string]int {
		m := map[string]int{}
		for _, l := range strings.Split(s, "\n") {
			m[line(l)]++
		}
		return m
	}
	have, all := lines(kept), line(strings.ReplaceAll(kept, "\n", " "))
	lb, lo, lt := lines(base), lines(ours), lines(theirs)
	for _, x := range []struct{ a, b map[string]int }{{lo, lt}, {lt, lo}} {
		for l := range x.a {
			if have[l] == 0 && x.b[l] >= lb[l] && !strings.Contains(all, l) {
				t.Fatalf("line %q is lost\nbase %q\nours %q\ntheirs %q\nkept %q", l, base, ours, theirs, kept)
			}
		}
	}
}

var fuzzPaths = []string{"shop.yaml", jobPath, "jobs/a/build.md", "prices.csv", "notes.txt", "jobs/a/log/x.md", "jobs/a/photos/x.jpg", "both-ways/x.md"}

func FuzzSettle(f *testing.F) {
	for _, s := range []string{job, build, "a: &x 1\nb: *x\n", "a: [1, {b: c}, 'it''s', \"q\\\"\"]\r\n", "? a\n: b\n", "- |2\n   x\n\n\n- >-\n  y\n", "---\na:\n# c\n...\n", "\ufeffa: 1", "a: >\n x\n  y\n\n z\nb:\n- - 1\n  - 2\n-\n  k: v\n"} {
		f.Add(uint8(0), []byte(s), []byte(strings.Replace(s, "a", "b", 1)), []byte(strings.Replace(s, "x", "yy", 1)))
		f.Add(uint8(2), []byte(s), []byte(s+"\n- [x] one\n"), []byte("- [ ] one\n"+s))
		f.Add(uint8(3), []byte(s), []byte(s+"q"), []byte("q"+s))
	}
	f.Fuzz(func(t *testing.T, kind uint8, base, ours, theirs []byte) {
		p := fuzzPaths[int(kind)%len(fuzzPaths)]
		checkPair(t, p, File{true, base}, File{true, ours}, File{true, theirs})
		checkPair(t, p, File{}, File{true, ours}, File{true, theirs})
		checkPair(t, p, File{true, base}, File{}, File{true, theirs})
	})
}

// FuzzEdits changes one text in two ways, so that the versions have much in
// common, as versions of one file have.
func FuzzEdits(f *testing.F) {
	f.Add(uint8(0), []byte(job), uint64(1))
	f.Add(uint8(1), []byte(job), uint64(7))
	f.Add(uint8(2), []byte(build), uint64(3))
	f.Add(uint8(3), []byte("a,b\nc,d\ne,f\n"), uint64(4))
	f.Fuzz(func(t *testing.T, kind uint8, base []byte, seed uint64) {
		next := func(n int) int {
			seed = seed*6364136223846793005 + 1442695040888963407
			return int(seed>>33) % max(n, 1)
		}
		mangle := func() []byte {
			lines := bytes.SplitAfter(base, []byte("\n"))
			for range 1 + next(3) {
				i := next(len(lines))
				switch next(5) {
				case 0:
					lines = append(lines[:i:i], lines[min(i+1, len(lines)):]...)
				case 1:
					l := append([]byte(nil), lines[i]...)
					if len(l) > 1 {
						l[next(len(l)-1)] = "ab1:-#[]{}\"' |,x"[next(16)]
					}
					lines = append(append(lines[:i:i], l), lines[i+1:]...)
				case 2:
					j := next(len(lines))
					lines = append(append(lines[:i:i], lines[j]), lines[i:]...)
				case 3:
					lines = append(append(lines[:i:i], []byte(fmt.Sprintf("k%d: v%d\n", next(9), next(99)))), lines[i:]...)
				default:
					l := bytes.Replace(lines[i], []byte(" "), []byte(fmt.Sprintf(" n%d ", next(99))), 1)
					lines = append(append(lines[:i:i], l), lines[i+1:]...)
				}
				if len(lines) == 0 {
					break
				}
			}
			return bytes.Join(lines, nil)
		}
		p := fuzzPaths[int(kind)%len(fuzzPaths)]
		checkPair(t, p, File{true, base}, File{true, mangle()}, File{true, mangle()})
	})
}

func FuzzRecord(f *testing.F) {
	r := Record{Path: jobPath, Kind: KindValue, What: "parts[skin].size", Base: some("a"), Stands: Value{true, []byte("``` b\r\n"), "home", homeTime}, Other: Value{false, nil, "shop", shopTime}}
	f.Add(r.Marshal())
	r.Kind, r.Stands.Data, r.Other = KindFile, []byte("\xff\x00"), Value{true, []byte("x\r\ny\r\n"), "true", time.Time{}}
	f.Add(r.Marshal())
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ParseRecord("both-ways/x.md", data)
		if err != nil {
			require.Contains(t, err.Error(), "both-ways/x.md:")
			return
		}
		require.Equal(t, string(data), string(r.Marshal()))
		again, err := ParseRecord("x", r.Marshal())
		require.NoError(t, err)
		require.Equal(t, r, again)
		require.True(t, strings.HasPrefix(r.Name(), "both-ways/"))
	})
}

func FuzzReadYAML(f *testing.F) {
	f.Add(job)
	f.Add("a: {b: [c, 'd'], \"e\": f}\n")
	f.Fuzz(func(t *testing.T, s string) {
		plain, fr, ok := unframe([]byte(s))
		if !ok {
			return
		}
		require.Equal(t, s, string(fr.wrap(plain)))
		if d, err := readYAML(plain); err == nil {
			require.Equal(t, plain, d.text())
			moved := d.root.reindent(2).reindent(-2)
			require.Equal(t, d.root.canon, moved.canon)
		}
		_, blocks := splitBlocks(plain, false)
		_ = blockKeys(blocks)
	})
}

// Every YAML and Markdown file of the project reads piece by piece and comes
// back byte for byte.
func TestReadsTheProjectsFiles(t *testing.T) {
	n := 0
	err := filepath.WalkDir(filepath.Join("..", ".."), func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !isYAML(p) && !isMarkdown(p) {
			return nil
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return nil
		}
		s, _, ok := unframe(data)
		if !ok {
			return nil
		}
		if isMarkdown(p) {
			lead, bs := splitBlocks(s, false)
			for _, b := range bs {
				lead += b.text + b.gap
			}
			require.Equal(t, s, lead, p)
			return nil
		}
		if doc, err := readYAML(s); err == nil {
			n++
			require.Equal(t, s, doc.text(), p)
		}
		return nil
	})
	require.NoError(t, err)
	if n == 0 {
		t.Skip("no yaml files beside this package")
	}
}
