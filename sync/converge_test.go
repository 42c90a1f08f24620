package sync

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
	"caul/sync/store"
)

var (
	rounds    = flag.Int("rounds", 8, "runs of the convergence test")
	keep      = flag.String("keep", "", "folder in which the convergence test leaves its machines")
	everyStep = flag.Bool("every-step", false, "check the histories after every step of the convergence test")
	seed      = flag.Uint64("seed", 0, "first seed of the convergence test; 0: by the clock")
)

// world is some machines, the folders they meet at, and what was ever written by hand.
type world struct {
	t        testing.TB
	r        *rand.Rand
	root     string
	machines []*machine
	sticks   []string
	n        int
	// open are the texts written and not yet knowingly replaced or removed by someone who saw them.
	open map[string]string
	log  []string
	// during tells that a sync is under way.
	during bool
}

type machine struct {
	w    *world
	name string
	dir  string
	skew time.Duration
	disk *faulty.Disk
}

func (w *world) say(f string, a ...any) { w.log = append(w.log, fmt.Sprintf(f, a...)) }

// token is a text that occurs nowhere else.
func (w *world) token(kind string) string {
	w.n++
	return fmt.Sprintf("%s%04dz", kind, w.n)
}

func (w *world) now() time.Time {
	return time.Date(2026, 3, 14, 19, 0, 0, 0, time.UTC).Add(time.Duration(w.n) * time.Minute)
}

func (m *machine) now() time.Time { return m.w.now().Add(m.skew) }

// put writes a file as an editor does: a new one renamed over the old.
func (m *machine) put(path, data string) {
	p := filepath.Join(m.dir, filepath.FromSlash(path))
	require.NoError(m.w.t, os.MkdirAll(filepath.Dir(p), 0o777))
	tmp := filepath.Join(m.w.root, "editor")
	require.NoError(m.w.t, os.WriteFile(tmp, []byte(data), 0o666))
	at := m.now()
	require.NoError(m.w.t, os.Chtimes(tmp, at, at))
	require.NoError(m.w.t, os.Rename(tmp, p))
}

func (m *machine) get(path string) string {
	data, err := os.ReadFile(filepath.Join(m.dir, filepath.FromSlash(path)))
	if err != nil {
		return ""
	}
	return string(data)
}

func (m *machine) jobs() []string {
	es, _ := os.ReadDir(filepath.Join(m.dir, "jobs"))
	var out []string
	for _, e := range es {
		out = append(out, e.Name())
	}
	return out
}

func (m *machine) job() string {
	js := m.jobs()
	if len(js) == 0 {
		return ""
	}
	return js[m.w.r.IntN(len(js))]
}

var tokens = regexp.MustCompile(`\b[a-z]+[0-9]{4}z\b`)

// gone notes that the texts in some bytes were knowingly replaced or removed.
func (w *world) gone(data string) {
	for _, t := range tokens.FindAllString(data, -1) {
		delete(w.open, t)
	}
}

func (w *world) wrote(tok, what string) { w.open[tok] = what }

func (m *machine) open() *Shop {
	s, err := openOn(m.dir, m.disk)
	require.NoError(m.w.t, err)
	s.stale = 50 * time.Millisecond
	return s
}

func (m *machine) sync(only ...string) (*Report, error) {
	s := m.open()
	return s.Sync(context.Background(), Options{Only: only, Now: m.now, Getenv: func(string) string { return "" }, Progress: m.note})
}

// trouble syncs while something goes wrong.
func (m *machine) trouble() {
	w := m.w
	d := &faulty.Disk{}
	m.disk = d
	defer func() { m.disk = &faulty.Disk{} }()
	what := w.r.IntN(8)
	at := 1 + w.r.IntN(120)
	stick := w.r.IntN(len(w.sticks))
	switch what {
	case 0, 1: // killed
		d.At = at
	case 2: // power cut
		d.At, d.Cut, d.Side = at, true, filepath.Join(w.root, "side")
		require.NoError(w.t, os.MkdirAll(d.Side, 0o777))
		defer os.RemoveAll(d.Side)
	case 3: // the stick is pulled
		d.At, d.Below, d.Err = 1+w.r.IntN(25), w.sticks[stick], syscall.EIO
	case 4: // no stick there at all
		hidden := w.sticks[stick] + ".away"
		require.NoError(w.t, os.Rename(w.sticks[stick], hidden))
		defer func() { require.NoError(w.t, os.Rename(hidden, w.sticks[stick])) }()
	case 5: // full
		d.At, d.Err = at, syscall.ENOSPC
	case 6, 7: // a hand edit in the middle
		d.Before = func(n int, op, path string) {
			if n == at || n == at*2 {
				w.say("%s: in the middle of the sync, before %s %s:", m.name, op, path)
				w.during = true
				m.hand()
				w.during = false
			}
		}
	}
	var only []string
	if w.r.IntN(2) == 0 {
		only = []string{fmt.Sprintf("stick%d", w.r.IntN(len(w.sticks)))}
	}
	rep, err := m.sync(only...)
	defer w.paranoid(m)
	w.say("%s: sync %v with trouble %d at %d: %v %v", m.name, only, what, at, err, brief(rep))
	if err == nil && what != 6 && what != 7 {
		return
	}
	if err != nil && !errors.Is(err, faulty.ErrKilled) && !errors.Is(err, store.ErrGone) && !errors.Is(err, store.ErrFull) &&
		!errors.Is(err, ErrEmptied) && !errors.Is(err, ErrRestless) && !errors.Is(err, ErrNoRemote) {
		w.fail("unexpected error: %v", err)
	}
}

// paranoid checks the history after every step, for finding where a fault began.
func (w *world) paranoid(m *machine) {
	if !*everyStep {
		return
	}
	dirs := []string{m.dir}
	for _, s := range w.sticks {
		if _, err := os.Stat(filepath.Join(s, "caul.git")); err == nil {
			dirs = append(dirs, filepath.Join(s, "caul.git"))
		}
	}
	for _, d := range dirs {
		if out := gitMay(d, "fsck", "--strict", "--no-dangling"); out != "" && !strings.Contains(out, "unborn") && !strings.Contains(out, "No default") {
			w.fail("%s: git fsck: %s", d, out)
		}
	}
}

func brief(r *Report) string {
	if r == nil {
		return "-"
	}
	var s []string
	for _, x := range r.Remotes {
		s = append(s, fmt.Sprintf("%s %s +%d -%d %s", x.Name, x.State, len(x.Came), len(x.Went), x.Error))
	}
	return strings.Join(s, "; ") + " " + strings.Join(r.BothWays, " ")
}

func (w *world) fail(f string, a ...any) {
	w.t.Helper()
	for _, l := range w.log {
		w.t.Log(l)
	}
	w.t.Fatalf(f, a...)
}

func newWorld(t testing.TB, root string, sd uint64) *world {
	w := &world{t: t, r: rand.New(rand.NewPCG(sd, 7)), root: root, open: map[string]string{}}
	n := 2 + w.r.IntN(3)
	k := 1 + w.r.IntN(3)
	for i := range k {
		p := filepath.Join(root, fmt.Sprintf("stick%d", i))
		require.NoError(t, os.Mkdir(p, 0o777))
		w.sticks = append(w.sticks, p)
	}
	for i := range n {
		m := &machine{w: w, name: fmt.Sprintf("m%d", i), dir: filepath.Join(root, fmt.Sprintf("m%d", i)), disk: &faulty.Disk{}}
		m.skew = time.Duration(w.r.IntN(10*24)-5*24) * time.Hour
		w.machines = append(w.machines, m)
		s, err := initOn(m.dir, m.name, m.disk)
		require.NoError(t, err)
		for j, p := range w.sticks {
			// Every machine knows the first remote; the others by chance.
			if j == 0 || w.r.IntN(2) == 0 {
				require.NoError(t, s.AddRemote(fmt.Sprintf("stick%d", j), p, RemoteOptions{}))
			}
		}
	}
	first := w.machines[0]
	first.put("shop.yaml", "name: shop\n")
	first.hand()
	for _, m := range w.machines {
		_, err := m.sync("stick0")
		require.NoError(t, err)
	}
	return w
}

func (w *world) run(steps int) {
	for range steps {
		m := w.machines[w.r.IntN(len(w.machines))]
		switch w.r.IntN(7) {
		case 0:
			m.trouble()
		case 6:
			m.byGit()
			w.paranoid(m)
		case 1:
			var only []string
			if w.r.IntN(2) == 0 {
				only = []string{"stick0"}
			}
			rep, err := m.sync(only...)
			w.paranoid(m)
			w.say("%s: sync %v: %v %s", m.name, only, err, brief(rep))
			if err != nil && !errors.Is(err, ErrEmptied) {
				w.fail("sync failed: %v", err)
			}
			if err == nil {
				for _, x := range rep.Remotes {
					if x.State != InStep {
						w.fail("remote failed: %s", x.Error)
					}
				}
			}
		default:
			m.hand()
		}
	}
}

// Any number of machines, meeting at any folders in any order, with clocks off by days, kills, power cuts, full disks, pulled
// sticks, and commits and merges that the git program made by hand in between, end with the same files, and nothing that was written is lost.
func TestConvergence(t *testing.T) {
	first := *seed
	if first == 0 {
		first = uint64(time.Now().UnixNano() % 1_000_000_000)
	}
	for i := range *rounds {
		sd := first + uint64(i)
		t.Run(fmt.Sprint("seed=", sd), func(t *testing.T) {
			dir := t.TempDir()
			if *keep != "" {
				dir = filepath.Join(*keep, fmt.Sprint(sd))
				require.NoError(t, os.MkdirAll(dir, 0o777))
			}
			w := newWorld(t, dir, sd)
			w.run(40)
			w.settleAll(haveGit && i%5 == 0)
		})
	}
}

func (m *machine) note(s string) {
	if *everyStep {
		m.w.say("%s:   %s", m.name, s)
	}
}
