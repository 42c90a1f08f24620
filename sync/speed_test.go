package sync

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var speed = flag.String("speed", "", "folder in which to make the big shop and time syncs against the git program")

// TestMain lets the test program stand in for caul: as a process of its own, as git is, so that starting up counts for both.
func TestMain(m *testing.M) {
	if dir := os.Getenv("CAUL_TEST_SYNC"); dir != "" {
		s, err := Open(dir)
		if err == nil {
			var rep *Report
			rep, err = s.Sync(context.Background(), Options{})
			if err == nil && rep.Partial() {
				err = fmt.Errorf("%s", brief(rep))
			}
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// asProcess syncs in a process of its own and gives its time and peak memory.
func asProcess(t testing.TB, dir string) (time.Duration, int64) {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "CAUL_TEST_SYNC="+dir)
	start := time.Now()
	out, err := c.CombinedOutput()
	took := time.Since(start)
	require.NoError(t, err, "%s", out)
	return took, peakOf(c.ProcessState)
}

func timed(f func()) time.Duration {
	start := time.Now()
	f()
	return time.Since(start)
}

func middle(ds []time.Duration) time.Duration {
	sort.Slice(ds, func(i, j int) bool { return ds[i] < ds[j] })
	return ds[len(ds)/2]
}

// bigShop makes 2,000 jobs, 300 commits and 500 photos.
func bigShop(t testing.TB, root string) (home, stick string) {
	home, stick = filepath.Join(root, "home"), filepath.Join(root, "stick")
	if _, err := os.Stat(stick); err == nil {
		return home, stick
	}
	require.NoError(t, os.MkdirAll(stick, 0o777))
	s, err := Init(home, "home")
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range 2000 {
		base := fmt.Sprintf("jobs/job-%04d/", i)
		write(t, home, base+"job.yaml", fmt.Sprintf("name: Job %d\nparts:\n  - id: skin\n    qty: %d\n    size: 48 x 24 x 1/2\n  - id: rib\n    qty: 7\n", i, i))
		write(t, home, base+"build.md", fmt.Sprintf("# Job %d\n\nWords about it.\n\n- [ ] mill\n- [ ] clamp\n", i))
		for k := range 4 {
			write(t, home, fmt.Sprintf("%slog/2026-03-14T190%d-home-did.md", base, k), fmt.Sprintf("---\ndid: finished\nstep: mill\n---\n%d %d\n", i, k))
		}
		if i%4 == 0 {
			b := make([]byte, 300_000)
			for k := 0; k+8 <= len(b); k += 8 {
				v := r.Uint64()
				for x := range 8 {
					b[k+x] = byte(v >> (8 * x))
				}
			}
			write(t, home, base+"photos/a.jpg", "\xff\xd8\xff"+string(b))
		}
	}
	many(t, s, 300, "home", 0)
	require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
	_, err = s.Sync(context.Background(), Options{})
	require.NoError(t, err)
	git(t, home, "gc", "-q")
	git(t, filepath.Join(stick, "caul.git"), "gc", "-q")
	return home, stick
}

// many makes n commits of a few files each.
func many(t testing.TB, s *Shop, n int, who string, from int) {
	for i := range n {
		write(t, s.Dir(), fmt.Sprintf("jobs/job-%04d/log/x-%s-%d.md", (from+i*7)%2000, who, i), "---\ndid: finished\nstep: mill\n---\nwords "+who+"\n")
		write(t, s.Dir(), fmt.Sprintf("jobs/job-%04d/build.md", (from+i*13)%2000), fmt.Sprintf("# Job\n\nWords by %s, %d.\n\n- [ ] mill\n", who, i))
		if n <= 50 && i%5 == 0 {
			write(t, s.Dir(), fmt.Sprintf("jobs/job-%04d/photos/%s-%d.jpg", (from+i)%2000, who, i), "\xff\xd8\xff"+fmt.Sprint(rand.Perm(20000)))
		}
		_, err := s.Sync(context.Background(), Options{})
		require.NoError(t, err)
	}
}

func copyDir(t testing.TB, from, to string) {
	require.NoError(t, os.RemoveAll(to))
	out, err := exec.Command("cp", "-a", from, to).CombinedOutput()
	require.NoError(t, err, "%s", out)
}

// Run with: go test ./sync -run TestAgainstGit -v -timeout 30m -speed /tmp/big
func TestAgainstGit(t *testing.T) {
	if *speed == "" {
		t.Skip("give -speed a folder")
	}
	root := *speed
	home, stick := bigShop(t, root)
	bare := filepath.Join(stick, "caul.git")

	// Nothing to do.
	git(t, home, "config", "remote.bare.url", bare)
	git(t, home, "config", "remote.bare.fetch", "+refs/heads/*:refs/remotes/bare/*")
	git(t, home, "fetch", "-q", "bare")
	asProcess(t, home)
	var theirs, ours []time.Duration
	var peak int64
	for range 7 {
		theirs = append(theirs, timed(func() {
			git(t, home, "fetch", "-q", "bare")
			git(t, home, "status", "--porcelain")
		}))
		d, p := asProcess(t, home)
		ours, peak = append(ours, d), max(peak, p)
	}
	t.Logf("nothing to do: git fetch + status %v, caul %v, ratio %.2f, caul's peak %d MB", middle(theirs), middle(ours), float64(middle(ours))/float64(middle(theirs)), peak>>20)

	// A first copy on a new machine.
	fresh := filepath.Join(root, "fresh")
	require.NoError(t, os.RemoveAll(fresh))
	gitClone := timed(func() { git(t, root, "clone", "-q", bare, fresh) })
	require.NoError(t, os.RemoveAll(fresh))
	s, err := Init(fresh, "fresh")
	require.NoError(t, err)
	require.NoError(t, s.AddRemote("stick", stick, RemoteOptions{}))
	d, peak := asProcess(t, fresh)
	t.Logf("first copy: git clone %v, caul %v, ratio %.2f, caul's peak %d MB", gitClone, d, float64(d)/float64(gitClone), peak>>20)

	// 50 new commits on each side.
	theirs, ours, peak = nil, nil, 0
	for range 3 {
		a, b, st := filepath.Join(root, "a"), filepath.Join(root, "b"), filepath.Join(root, "st")
		copyDir(t, home, a)
		copyDir(t, home, b)
		copyDir(t, stick, st)
		for _, m := range []struct {
			dir string
			at  int
		}{{a, 0}, {b, 1000}} {
			s, err := Open(m.dir)
			require.NoError(t, err)
			require.NoError(t, s.RemoveRemote("stick"))
			many(t, s, 50, filepath.Base(m.dir), m.at)
			require.NoError(t, s.AddRemote("stick", st, RemoteOptions{}))
			git(t, m.dir, "config", "remote.bare.url", filepath.Join(st, "caul.git"))
		}
		git(t, b, "push", "-q", "bare", "main")
		ga, gst := filepath.Join(root, "ga"), filepath.Join(root, "gst")
		copyDir(t, a, ga)
		copyDir(t, st, gst)
		git(t, ga, "config", "remote.bare.url", filepath.Join(gst, "caul.git"))
		git(t, ga, "status")
		git(t, a, "status")
		theirs = append(theirs, timed(func() {
			git(t, ga, "fetch", "-q", "bare")
			git(t, ga, "merge", "-q", "--no-edit", "bare/main")
			git(t, ga, "push", "-q", "bare", "main")
		}))
		d, p := asProcess(t, a)
		ours, peak = append(ours, d), max(peak, p)
		want := git(t, ga, "rev-parse", "HEAD^{tree}")
		require.Equal(t, want, git(t, a, "rev-parse", "HEAD^{tree}"))
		require.Empty(t, git(t, a, "status", "--porcelain"))
	}
	require.Empty(t, git(t, filepath.Join(root, "a"), "fsck", "--strict", "--no-dangling"))
	t.Logf("50 commits on each side: git fetch + merge + push %v, caul %v, ratio %.2f, caul's peak %d MB", middle(theirs), middle(ours), float64(middle(ours))/float64(middle(theirs)), peak>>20)
}

// BenchmarkFirstCopy makes a copy on a new machine, by the git program and by caul in turn.
func BenchmarkFirstCopy(b *testing.B) {
	if *speed == "" {
		b.Skip("give -speed a folder")
	}
	_, stick := bigShop(b, *speed)
	fresh := filepath.Join(*speed, "fresh")
	var theirs, ours time.Duration
	for b.Loop() {
		require.NoError(b, os.RemoveAll(fresh))
		theirs += timed(func() { git(b, *speed, "clone", "-q", filepath.Join(stick, "caul.git"), fresh) })
		require.NoError(b, os.RemoveAll(fresh))
		s, err := Init(fresh, "fresh")
		require.NoError(b, err)
		require.NoError(b, s.AddRemote("stick", stick, RemoteOptions{}))
		d, _ := asProcess(b, fresh)
		ours += d
	}
	b.ReportMetric(theirs.Seconds()/float64(b.N), "git-s/op")
	b.ReportMetric(ours.Seconds()/float64(b.N), "caul-s/op")
	b.ReportMetric(float64(ours)/float64(theirs), "ratio")
}

// BenchmarkNothingToDo is the same in one process.
func BenchmarkNothingToDo(b *testing.B) {
	if *speed == "" {
		b.Skip("give -speed a folder")
	}
	home, _ := bigShop(b, *speed)
	s, err := Open(home)
	require.NoError(b, err)
	for b.Loop() {
		_, err := s.Sync(context.Background(), Options{})
		require.NoError(b, err)
	}
}
