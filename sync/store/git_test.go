package store

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// git runs the git program, the counterpart of every test here.
func git(t testing.TB, dir string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("git is not installed")
		}
		t.Skip("git is not installed")
	}
	c := exec.Command("git", args...)
	c.Dir = dir
	c.Env = append(os.Environ(), "GIT_CONFIG_NOSYSTEM=1", "GIT_AUTHOR_NAME=a", "GIT_AUTHOR_EMAIL=a@caul.invalid", "GIT_COMMITTER_NAME=a", "GIT_COMMITTER_EMAIL=a@caul.invalid")
	out, err := c.CombinedOutput()
	require.NoError(t, err, "git %v: %s", args, out)
	return string(out)
}

func put(t testing.TB, dir, path, data string) {
	t.Helper()
	p := filepath.Join(dir, filepath.FromSlash(path))
	require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o777))
	require.NoError(t, os.WriteFile(p, []byte(data), 0o666))
}

func open(t testing.TB, dir string) *Repo {
	t.Helper()
	r, err := Open(dir, OS{})
	require.NoError(t, err)
	t.Cleanup(r.Close)
	return r
}

// Random trees of files, random rules of what to ignore: what caul would commit is what `git add -A` stages, tree for tree.
func TestSnapshotIsGitAdd(t *testing.T) {
	names := []string{"a", "b.txt", "c.md", "site", "x~", "A b", "ä.md", "#h", "log", "d[1].md", "z.tmp"}
	rules := []string{"*.tmp", "/site/", "site", "!keep.tmp", "*~", "log/*.md", "**/b.txt", "a/**", "!a/b.txt", "d\\[1\\].md", "[ab].txt", "\\#h", "c.*", "/a/*", "!/a/c.md", "  ", "A\\ b", "x?", "*.m[!x]", "log/**/a"}
	for seed := range uint64(25) {
		r := rand.New(rand.NewPCG(seed, 1))
		dir := t.TempDir()
		git(t, dir, "init", "-q", "-b", "main")
		path := func() string {
			var s []string
			for range 1 + r.IntN(3) {
				s = append(s, names[r.IntN(len(names))])
			}
			return strings.Join(s, "/")
		}
		fill := func(n int) {
			for range n {
				p := filepath.Join(dir, path())
				if os.MkdirAll(filepath.Dir(p), 0o777) == nil {
					_ = os.WriteFile(p, []byte(fmt.Sprint(r.IntN(1000))), 0o666)
				}
			}
		}
		fill(25)
		git(t, dir, "add", "-A")
		git(t, dir, "commit", "-q", "--allow-empty", "-m", "one")
		for _, d := range []string{"", "a/", "log/"} {
			if r.IntN(2) == 0 {
				var b strings.Builder
				for range 4 {
					b.WriteString(rules[r.IntN(len(rules))] + "\n")
				}
				if fi, err := os.Stat(filepath.Join(dir, d)); err == nil && fi.IsDir() {
					put(t, dir, d+".gitignore", b.String())
				}
			}
		}
		put(t, dir, ".git/info/exclude", rules[r.IntN(len(rules))]+"\n")
		fill(20)
		var all []string
		require.NoError(t, filepath.WalkDir(dir, func(p string, e os.DirEntry, err error) error {
			if e != nil && e.IsDir() && e.Name() == ".git" {
				return filepath.SkipDir
			}
			if err == nil && !e.IsDir() {
				all = append(all, p)
			}
			return err
		}))
		sort.Strings(all)
		for _, p := range all {
			switch r.IntN(8) {
			case 0:
				require.NoError(t, os.Remove(p))
			case 1:
				require.NoError(t, os.Chmod(p, 0o755))
			case 2:
				require.NoError(t, os.Remove(p))
				require.NoError(t, os.Symlink("a", p))
			}
		}
		repo := open(t, dir)
		_, head, err := repo.Head()
		require.NoError(t, err)
		x, err := repo.LoadIndex(head)
		require.NoError(t, err)
		b := repo.Objects.NewBatch(true)
		s, err := repo.Snapshot(context.Background(), x, b)
		require.NoError(t, err)
		b.Drop()
		git(t, dir, "add", "-A")
		want := strings.TrimSpace(git(t, dir, "write-tree"))
		if s.Tree.String() != want {
			t.Errorf("seed %d: caul's tree %s, git's %s\n%s", seed, s.Tree, want, git(t, dir, "status", "--porcelain", "--ignored"))
		}
	}
}

// The index that caul writes is one that git reads and finds nothing wrong with, and the other way round, in each version.
func TestIndexBothWays(t *testing.T) {
	dir := t.TempDir()
	git(t, dir, "init", "-q", "-b", "main")
	for i := range 300 {
		put(t, dir, fmt.Sprintf("jobs/job-%d/%s", i%40, strings.Repeat("n", i%90+1)), fmt.Sprint(i))
	}
	git(t, dir, "add", "-A")
	git(t, dir, "commit", "-q", "-m", "one")
	for _, v := range []string{"2", "3", "4"} {
		git(t, dir, "update-index", "--index-version", v)
		git(t, dir, "update-index", "--skip-worktree", "jobs/job-1/nn")
		r := open(t, dir)
		x, err := ReadIndex(r.indexPath())
		require.NoError(t, err)
		before := git(t, dir, "ls-files", "--stage", "-v")
		require.NoError(t, r.SaveIndex(x))
		require.Equal(t, before, git(t, dir, "ls-files", "--stage", "-v"))
		require.Empty(t, git(t, dir, "status", "--porcelain"))
		again, err := parseIndex(x.encode(), "again")
		require.NoError(t, err)
		require.Equal(t, x.Entries, again.Entries)
		require.Equal(t, x.Tree, again.Tree)
	}
	git(t, dir, "update-index", "--split-index")
	_, err := ReadIndex(filepath.Join(dir, ".git/index"))
	require.ErrorIs(t, err, ErrUnhandled)
}

// Every object of a repository that git packed with deltas reads the same, also through a pack that came over a network.
func TestPacksOfGit(t *testing.T) {
	dir := t.TempDir()
	git(t, dir, "init", "-q", "-b", "main")
	text := strings.Repeat("a line of the story\n", 200)
	for i := range 30 {
		put(t, dir, "build.md", text+fmt.Sprint(i))
		put(t, dir, fmt.Sprintf("f%d", i), fmt.Sprint(i)+text)
		git(t, dir, "add", "-A")
		git(t, dir, "commit", "-q", "-m", fmt.Sprint(i))
	}
	git(t, dir, "gc", "-q", "--aggressive")
	all := strings.Fields(git(t, dir, "cat-file", "--batch-all-objects", "--batch-check=%(objectname)"))
	require.Greater(t, len(all), 90)
	r := open(t, dir)
	packs, err := filepath.Glob(filepath.Join(dir, ".git/objects/pack/*.pack"))
	require.NoError(t, err)
	require.Len(t, packs, 1)
	data, err := os.ReadFile(packs[0])
	require.NoError(t, err)
	other := OpenObjects(t.TempDir(), OS{})
	defer other.Close()
	require.NoError(t, other.Ingest(bytes.NewReader(data)))
	for _, s := range all {
		h, ok := goodHash(s)
		require.True(t, ok)
		k, a, err := r.Objects.Get(h)
		require.NoError(t, err)
		require.Equal(t, h, HashOf(k, a))
		_, b, err := other.Get(h)
		require.NoError(t, err)
		require.Equal(t, a, b)
	}
	// A pack that is cut short or changed in one byte is not taken.
	for _, cut := range []int{0, 11, 40, len(data) / 2, len(data) - 1} {
		o := OpenObjects(t.TempDir(), OS{})
		require.Error(t, o.Ingest(bytes.NewReader(data[:cut])))
		bad := bytes.Clone(data)
		bad[cut] ^= 1
		require.Error(t, o.Ingest(bytes.NewReader(bad)))
		left, err := filepath.Glob(filepath.Join(o.Dir, "pack", "*"))
		require.NoError(t, err)
		require.Empty(t, left)
	}
}

// The bases of random histories with merges are those git finds, whatever the clocks said.
func TestBasesAreGits(t *testing.T) {
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 3))
		dir := t.TempDir()
		git(t, dir, "init", "-q", "-b", "main")
		repo := open(t, dir)
		b := repo.Objects.NewBatch(false)
		tree, err := b.AddTree(nil)
		require.NoError(t, err)
		var cs []Hash
		for i := range 30 {
			c := &CommitInfo{Tree: tree, Message: fmt.Sprint(i), Author: Who{Name: "a", Email: "a"}, Committer: Who{Name: "a", Email: "a"}}
			c.Committer.When = time.Unix(1_700_000_000+int64(i), 0)
			if seed%2 == 1 { // clocks that run wild
				c.Committer.When = time.Unix(1_700_000_000+r.Int64N(1000), 0)
			}
			for range 1 + r.IntN(2) {
				if len(cs) > 0 {
					p := cs[max(0, len(cs)-1-r.IntN(6))]
					if len(c.Parents) == 0 || c.Parents[0] != p {
						c.Parents = append(c.Parents, p)
					}
				}
			}
			h, err := b.AddCommit(c)
			require.NoError(t, err)
			cs = append(cs, h)
		}
		require.NoError(t, b.Flush())
		for range 20 {
			x, y := cs[r.IntN(len(cs))], cs[r.IntN(len(cs))]
			got, err := Bases(repo.Objects.GetCommit, x, y)
			require.NoError(t, err)
			var s []string
			for _, h := range got {
				s = append(s, h.String())
			}
			want := strings.Fields(git(t, dir, "merge-base", "--all", x.String(), y.String()))
			sort.Strings(want)
			require.Equal(t, want, s, "seed %d", seed)
			list, err := Since(repo.Objects.GetCommit, []Hash{x}, []Hash{y})
			require.NoError(t, err)
			var l []string
			for _, c := range list {
				l = append(l, c.Hash.String())
			}
			wantList := strings.Fields(git(t, dir, "rev-list", x.String(), "^"+y.String()))
			if seed%2 == 0 { // wild clocks may add commits the other side has, never leave one out
				require.Equal(t, len(wantList), len(l))
			}
			require.Subset(t, l, wantList)
		}
	}
}

func TestUnsafeNames(t *testing.T) {
	for _, bad := range []string{"", "/a", "../a", "a/../b", "a//b", ".git/config", "a/.GIT/x", ".git ", ".git.", "git~1/x", ".g\u200cit/x", ".git::$INDEX_ALLOCATION/x", "a\\b"} {
		require.NotEmpty(t, Unsafe(bad), "%q", bad)
	}
	for _, good := range []string{"a", ".gitignore", "jobs/x/log/a.md", "git~2", "a.git/x"} {
		require.Empty(t, Unsafe(good), good)
	}
}

func FuzzIndex(f *testing.F) {
	f.Add((&Index{Entries: []Entry{{Path: "a", Mode: ModeFile}, {Path: "a/b", Mode: ModeExec, Ext: extSkip}}, Tree: &CacheTree{Count: -1}}).encode())
	f.Add([]byte("DIRC"))
	f.Fuzz(func(t *testing.T, data []byte) {
		x, err := parseIndex(data, "index")
		if err != nil {
			return
		}
		y, err := parseIndex(x.encode(), "index")
		require.NoError(t, err)
		require.Equal(t, len(x.Entries), len(y.Entries))
	})
}

func FuzzObjects(f *testing.F) {
	f.Add([]byte("tree 4b825dc642cb6eb9a060e54bf8d69288fbee4904\nauthor a <b> 1 +0000\n\nx"), []byte("\x05\x05\x90\x05"))
	f.Add(encodeTree([]TreeEntry{{"a", ModeFile, EmptyTree}}), []byte("\x01\x01\x01a"))
	f.Fuzz(func(_ *testing.T, a, b []byte) {
		_, _ = parseCommit(a)
		_, _ = parseTree(a)
		_, _ = applyDelta(a, b)
	})
}

func FuzzRule(f *testing.F) {
	for _, s := range []string{"*.tmp", "!a/**/b", "[!a-z]", "\\#", "a[", "**"} {
		f.Add(s, "a/b.tmp")
	}
	f.Fuzz(func(_ *testing.T, rule, path string) {
		if r, ok := parseRule(rule, false); ok {
			r.re.MatchString(path)
		}
	})
}
