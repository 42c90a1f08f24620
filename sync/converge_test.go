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
	"sort"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/internal/faulty"
	"caul/sync/store"
)

var (
	rounds    = flag.Int("rounds", 12, "runs of the convergence test")
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

// hand does one thing a person does in a shop.
func (m *machine) hand() {
	w := m.w
	j := m.job()
	do := w.r.IntN(15)
	if j == "" {
		do = 0
	}
	base := "jobs/" + j + "/"
	switch do {
	case 0: // a new job
		j = fmt.Sprintf("job-%c", 'a'+rune(w.r.IntN(5)))
		if m.get("jobs/"+j+"/job.yaml") != "" {
			return
		}
		v := w.token("val")
		w.wrote(v, "part of new job "+j)
		m.put("jobs/"+j+"/job.yaml", "name: "+j+"\nparts:\n  - id: skin\n    note: "+v+"\n    qty: 2\n  - id: rib\n    note: none\n# the end\n")
		m.put("jobs/"+j+"/build.md", "# "+j+"\n\nFirst words.\n\n- [ ] mill\n- [ ] clamp\n- [ ] trim\n\nLast words.\n")
		w.say("%s: new job %s", m.name, j)
	case 1, 2, 3: // a log entry
		v := w.token("log")
		w.wrote(v, "log entry")
		m.put(base+"log/"+m.now().Format("2006-01-02T1504")+"-"+m.name+"-did-"+v+".md", "---\nat: "+m.now().Format(time.RFC3339)+"\ndid: finished\nstep: mill\n---\n"+v+"\n")
		w.say("%s: entry %s in %s", m.name, v, j)
	case 4: // a photo, now and then under a name another may use
		v := w.token("pix")
		name := fmt.Sprintf("%sphotos/p%d.jpg", base, w.r.IntN(40))
		if old := m.get(name); old != "" {
			w.gone(old)
		}
		w.wrote(v, "photo "+name)
		m.put(name, "\xff\xd8\xff"+v+" "+strings.Repeat(fmt.Sprint(w.r.Uint64()), 20))
		w.say("%s: photo %s %s", m.name, name, v)
	case 5, 6: // a value
		old := m.get(base + "job.yaml")
		re := regexp.MustCompile(`(note: )(\w+)`)
		all := re.FindAllStringSubmatchIndex(old, -1)
		if len(all) == 0 {
			return
		}
		at := all[w.r.IntN(len(all))]
		v := w.token("val")
		w.gone(old[at[4]:at[5]])
		w.wrote(v, "value in "+j)
		m.put(base+"job.yaml", old[:at[4]]+v+old[at[5]:])
		w.say("%s: value %s over %s in %s", m.name, v, old[at[4]:at[5]], j)
	case 7: // a new part
		old := m.get(base + "job.yaml")
		if !strings.Contains(old, "# the end\n") {
			return
		}
		v := w.token("val")
		w.wrote(v, "new part of "+j)
		m.put(base+"job.yaml", strings.Replace(old, "# the end\n", fmt.Sprintf("  - id: part-%d\n    note: %s\n# the end\n", w.r.IntN(6), v), 1))
		w.say("%s: new part %s in %s", m.name, v, j)
	case 8: // a tick
		old := m.get(base + "build.md")
		m.put(base+"build.md", strings.Replace(old, "- [ ] ", "- [x] ", 1))
		w.say("%s: tick in %s", m.name, j)
	case 9: // a paragraph
		old := m.get(base + "build.md")
		if !strings.Contains(old, "Last words") {
			return
		}
		v := w.token("par")
		w.wrote(v, "paragraph in "+j)
		m.put(base+"build.md", strings.Replace(old, "Last words", "A word on "+v+".\n\nLast words", 1))
		w.say("%s: paragraph %s in %s", m.name, v, j)
	case 10: // a paragraph rewritten
		old := m.get(base + "build.md")
		t := regexp.MustCompile(`A word on (par\d+z)`).FindStringSubmatch(old)
		if t == nil {
			return
		}
		v := w.token("par")
		w.gone(t[1])
		w.wrote(v, "paragraph rewritten in "+j)
		m.put(base+"build.md", strings.Replace(old, t[1], v, 1))
		w.say("%s: paragraph %s over %s in %s", m.name, v, t[1], j)
	case 11: // shop-wide values
		old := m.get("prices.yaml")
		v := w.token("val")
		key := fmt.Sprintf("item-%d", w.r.IntN(4))
		line := regexp.MustCompile("(?m)^" + key + `: .*\n`)
		w.gone(line.FindString(old))
		w.wrote(v, "price of "+key)
		m.put("prices.yaml", line.ReplaceAllString(old, "")+key+": "+v+"\n")
		w.say("%s: price %s %s", m.name, key, v)
	case 12: // a file removed
		var files []string
		for _, d := range []string{"photos", "log"} {
			es, _ := os.ReadDir(filepath.Join(m.dir, base, d))
			for _, e := range es {
				files = append(files, base+d+"/"+e.Name())
			}
		}
		if len(files) == 0 {
			return
		}
		p := files[w.r.IntN(len(files))]
		w.gone(m.get(p))
		require.NoError(w.t, os.Remove(filepath.Join(m.dir, p)))
		w.say("%s: removed %s", m.name, p)
	case 13: // a job renamed, or rarely removed
		if w.r.IntN(3) == 0 {
			w.goneBelow(m, base)
			if w.during {
				w.goneHead(m, j)
			}
			require.NoError(w.t, os.RemoveAll(filepath.Join(m.dir, "jobs", j)))
			w.say("%s: removed job %s", m.name, j)
			return
		}
		to := fmt.Sprintf("job-%c-%d", 'a'+rune(w.r.IntN(5)), w.r.IntN(3))
		if _, err := os.Stat(filepath.Join(m.dir, "jobs", to)); err == nil {
			return
		}
		require.NoError(w.t, os.Rename(filepath.Join(m.dir, "jobs", j), filepath.Join(m.dir, "jobs", to)))
		w.say("%s: job %s is now %s", m.name, j, to)
	case 14: // a both-ways value taken or confirmed
		s, err := openOn(m.dir, store.OS{})
		require.NoError(w.t, err)
		bs, err := s.BothWays()
		require.NoError(w.t, err)
		if len(bs) == 0 {
			return
		}
		b := bs[w.r.IntN(len(bs))]
		require.NoError(w.t, b.Err)
		which := Side(w.r.IntN(2))
		rec := m.get(b.Name)
		before := m.all()
		if err := s.Take(b.Name, which); err != nil {
			w.say("%s: take %s: %v", m.name, b.Name, err)
			return
		}
		// Whoever settles a record has seen what it holds and what the file held.
		after := m.all()
		for _, t := range append(tokens.FindAllString(rec, -1), tokens.FindAllString(before, -1)...) {
			if !strings.Contains(after, t) {
				delete(w.open, t)
			}
		}
		w.say("%s: took %d of %s", m.name, which, b.Name)
	}
}

// all is every byte of the shop's files.
func (m *machine) all() string {
	var b strings.Builder
	_ = filepath.WalkDir(m.dir, func(p string, d os.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if d.IsDir() {
			if d.Name() == ".git" {
				return filepath.SkipDir
			}
			return nil
		}
		data, err := os.ReadFile(p)
		require.NoError(m.w.t, err)
		b.Write(data)
		b.WriteByte('\n')
		return nil
	})
	return b.String()
}

func (w *world) goneBelow(m *machine, base string) {
	_ = filepath.WalkDir(filepath.Join(m.dir, base), func(p string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			data, _ := os.ReadFile(p)
			w.gone(string(data))
		}
		return nil
	})
}

// goneHead notes what the last commit has of a job: who removes a job while a sync is bringing it up to date removes what they
// themselves had put in, though the file may hold the incoming text for the moment.
func (w *world) goneHead(m *machine, job string) {
	s, err := openOn(m.dir, store.OS{})
	require.NoError(w.t, err)
	defer s.Close()
	_, head, err := s.repo.Head()
	require.NoError(w.t, err)
	tree, err := s.repo.TreeOf(head)
	require.NoError(w.t, err)
	require.NoError(w.t, s.repo.Objects.EachFile(tree, "", func(p string, _ store.Mode, h store.Hash) error {
		if j, _ := splitJob(p); j == job {
			data, err := s.repo.Objects.GetBlob(h)
			require.NoError(w.t, err)
			w.gone(string(data))
		}
		return nil
	}))
}

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
		d.At, d.Cut = at, true
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
		switch w.r.IntN(6) {
		case 0:
			m.trouble()
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

// settleAll syncs until nothing moves any more, and checks what must hold then.
func (w *world) settleAll(gitToo bool) {
	for round := 0; ; round++ {
		heads := map[string]bool{}
		moved := false
		for _, m := range w.machines {
			s := m.open()
			rep, err := s.Sync(context.Background(), Options{Now: m.now, Emptied: true})
			w.say("%s: last sync: %v %s", m.name, err, brief(rep))
			if err != nil {
				w.fail("%s: %v", m.name, err)
			}
			for _, x := range rep.Remotes {
				if x.State != InStep {
					w.fail("%s: %s: %s", m.name, x.Name, x.Error)
				}
				moved = moved || len(x.Came)+len(x.Went) > 0
			}
			heads[rep.Head] = true
		}
		if !moved && len(heads) == 1 {
			break
		}
		if round > 6 {
			w.fail("no agreement after %d rounds: %d heads", round, len(heads))
		}
	}
	var first string
	for i, m := range w.machines {
		all := m.all()
		if i == 0 {
			first = all
		} else if all != first {
			w.fail("%s has other files than %s", m.name, w.machines[0].name)
		}
		if gitToo {
			if out := git(w.t, m.dir, "status", "--porcelain"); out != "" {
				w.fail("%s: git status: %s", m.name, out)
			}
			if out := git(w.t, m.dir, "fsck", "--strict", "--no-dangling"); out != "" {
				w.fail("%s: git fsck: %s", m.name, out)
			}
		}
		if es, _ := os.ReadDir(filepath.Join(m.dir, ".git", "caul", "in")); len(es) > 0 {
			w.fail("%s: %d files left in staging", m.name, len(es))
		}
		if m.open().repo.Unfinished() {
			w.fail("%s: journal left", m.name)
		}
	}
	if gitToo {
		for _, p := range w.sticks {
			if _, err := os.Stat(filepath.Join(p, "caul.git")); err == nil {
				if out := git(w.t, filepath.Join(p, "caul.git"), "fsck", "--strict", "--no-dangling"); out != "" {
					w.fail("%s: git fsck: %s", p, out)
				}
			}
		}
	}
	var lost []string
	for tok, what := range w.open {
		if !strings.Contains(first, tok) {
			lost = append(lost, tok+" ("+what+")")
		}
	}
	if len(lost) > 0 {
		sort.Strings(lost)
		w.fail("lost: %s\n%s", strings.Join(lost, ", "), first)
	}
	if strings.Contains(first, "<<<<<<<") {
		w.fail("a conflict marker")
	}
}

// Any number of machines, meeting at any folders in any order, with clocks off by days, kills, power cuts, full disks and pulled
// sticks in between, end with the same files, and nothing that was written is lost.
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
