package site

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sort"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"caul/job"
)

// Memory is what is kept, outside the shop, from one drawing of its pages to
// the next: which finished jobs were drawn, from what, and to what. A job
// whose files and pages have not been touched since need not be read or drawn
// again. It holds nothing that cannot be worked out, and may be deleted at any
// time. A nil Memory remembers nothing.
type Memory struct {
	o    MemoryOptions
	key  stamp            // of the program and the shop's own files
	seen map[string]stamp // of each job's files before they were read
	held map[string]*held // jobs whose pages stand as they are
	had  int              // jobs that were remembered

	listing []fs.DirEntry // of the folder of jobs
}

// MemoryOptions says what to remember, and where.
type MemoryOptions struct {
	Dir     string           // folder of the memory; empty: none
	Shop    string           // the shop's folder
	Out     string           // the folder of the pages
	Program string           // what tells this program from another that might draw otherwise
	Now     time.Time        // the instant the pages are drawn for
	Forget  bool             // draw all again, and remember that
	Clock   func() time.Time // the clock of the disks; nil: none, and nothing is remembered
}

// held is a finished job as remembered.
type held struct {
	ID          string
	In, Out     stamp // of its files, and of its pages
	From, Until int64 // the pages are true between these instants, in seconds
	Lines       string
	Card        string // on the shop's first page

	Name, For        string
	State            job.State
	Steps, StepsDone int
	Bare             int
	Feed             []feedHead

	// What the shop's own pages tell of it.
	Checks   []job.Check
	Fittings []job.Fitting
	StepIDs  []string
	Log      []heldEntry
}

// feedHead is an entry of the feed without its text, which is kept apart.
type feedHead struct {
	ID string
	At int64 // nanoseconds
}

// heldEntry is what the state of steps and the dates of readings follow from.
type heldEntry struct {
	ID, File, Machine, Did, Step, Entry, Check, Tap string
	Time                                            time.Time
}

// remembered is the one file of a memory, but for the texts of the feed.
type remembered struct {
	Key  stamp
	Jobs []*held
}

// Recall reads a shop for drawing. Jobs whose pages stand are not read: of
// them the shop has only what the pages of the shop as a whole tell.
func Recall(o MemoryOptions) (*job.Shop, *Memory, error) {
	m := &Memory{o: o, seen: map[string]stamp{}, held: map[string]*held{}}
	if o.Dir == "" || o.Clock == nil {
		s, err := job.Load(o.Shop)
		return s, nil, err
	}
	go templates() // while the disk is asked
	m.recall()
	if len(m.held) == 0 {
		s, err := job.Load(o.Shop)
		return s, m, err
	}
	root, err := os.OpenRoot(o.Shop)
	if err != nil {
		return nil, m, err
	}
	defer root.Close()
	s, err := job.LoadFS(unheld{root.FS(), m.held, m.listing}, o.Shop)
	if err != nil {
		return nil, m, err
	}
	for _, h := range m.held {
		s.Jobs = append(s.Jobs, h.job())
	}
	sort.Slice(s.Jobs, func(a, b int) bool { return s.Jobs[a].ID < s.Jobs[b].ID })
	return s, m, nil
}

// Holds tells whether a job's pages stand and need not be drawn.
func (m *Memory) Holds(id string) bool { return m != nil && m.held[id] != nil }

// Held counts the jobs whose pages stand.
func (m *Memory) Held() int {
	if m == nil {
		return 0
	}
	return len(m.held)
}

// recall finds out which jobs' pages stand.
func (m *Memory) recall() {
	m.key = m.shopKey()
	var code []byte
	if !m.o.Forget {
		code, _ = os.ReadFile(filepath.Join(m.o.Dir, "jobs"))
	}
	es, err := os.ReadDir(filepath.Join(m.o.Shop, "jobs"))
	if err != nil {
		return
	}
	m.listing = es
	type found struct {
		in, out stamp
		known   bool // in can be told again
		drawn   bool // there are pages
	}
	all := make([]found, len(es))
	now, disk := m.o.Now.Unix(), m.o.Clock()
	var g errgroup.Group
	n := max(1, runtime.GOMAXPROCS(0))
	for w := range n {
		g.Go(func() error {
			var st stamper
			for i := w; i < len(es); i += n {
				if !es[i].IsDir() {
					continue
				}
				f, id := &all[i], es[i].Name()
				f.in, f.known = st.tree(filepath.Join(m.o.Shop, "jobs", id), disk)
				if f.known && len(code) > 0 {
					f.out, f.drawn = st.tree(filepath.Join(m.o.Out, "jobs", id), time.Time{})
				}
			}
			return nil
		})
	}
	old := decode(code, m.key) // while the disk is asked
	_ = g.Wait()
	m.had = len(old)
	for i, f := range all {
		if !f.known {
			continue
		}
		id := es[i].Name()
		if h := old[id]; h != nil && h.In == f.in && f.drawn && h.Out == f.out && now >= h.From && now < h.Until {
			m.held[id] = h
		} else {
			m.seen[id] = f.in
		}
	}
}

// decode reads a memory by job; empty where it is spoiled, or was made for
// another key.
func decode(b []byte, key stamp) map[string]*held {
	old := map[string]*held{}
	if len(b) <= sha256.Size {
		return old
	}
	var r remembered
	if sum := sha256.Sum256(b[sha256.Size:]); !bytes.Equal(sum[:], b[:sha256.Size]) ||
		gob.NewDecoder(bytes.NewReader(b[sha256.Size:])).Decode(&r) != nil || r.Key != key {
		return old
	}
	for _, h := range r.Jobs {
		old[h.ID] = h
	}
	return old
}

// shopKey marks what every job's pages may depend on beside its own files.
func (m *Memory) shopKey() stamp {
	h := sha256.New()
	put := func(b []byte) {
		sum := sha256.Sum256(b)
		h.Write(sum[:])
	}
	put([]byte(m.o.Program))
	put([]byte(m.o.Shop))
	put([]byte(m.o.Out))
	for _, f := range []string{"shop.yaml", "stock.yaml", "prices.yaml", "glues.yaml"} {
		b, err := os.ReadFile(filepath.Join(m.o.Shop, f))
		if err != nil {
			put([]byte("no " + f))
			continue
		}
		put(append([]byte(f+"\n"), b...))
	}
	return stamp(h.Sum(nil)[:len(stamp{})])
}

// job is a held job as the pages of the whole shop need it.
func (h *held) job() *job.Job {
	j := &job.Job{ID: h.ID, Dir: "jobs/" + h.ID, Name: h.Name, For: h.For, Copies: 1, Checks: h.Checks, Fittings: h.Fittings}
	for _, id := range h.StepIDs {
		j.Steps = append(j.Steps, job.Step{ID: id})
	}
	for _, e := range h.Log {
		j.Log = append(j.Log, job.Entry{ID: e.ID, File: e.File, Machine: e.Machine, Did: e.Did, Step: e.Step, Entry: e.Entry, Check: e.Check, Tap: e.Tap, Time: e.Time})
	}
	return j
}

// drawn gives a held job's pages, and its entries of the feed from an instant on.
func (h *held) drawn(after int64) *drawn {
	d := &drawn{held: true, state: h.State, steps: h.Steps, stepsDone: h.StepsDone, bare: h.Bare, card: h.Card}
	for _, f := range h.Feed {
		if f.At >= after {
			d.feed = append(d.feed, feedEntry{job: h.ID, id: f.ID, at: time.Unix(0, f.At)})
		}
	}
	return d
}

// feedAfter is the instant, in nanoseconds, before which no entry of a held job
// can be in the feed: so many others of held jobs are as late or later.
func (m *Memory) feedAfter(most int) int64 {
	if m == nil || most < 1 {
		return math.MinInt64
	}
	late := make([]int64, 0, most) // the latest so far, in order
	for _, h := range m.held {
		for _, f := range h.Feed {
			if len(late) == most {
				if f.At <= late[0] {
					continue
				}
				late = slices.Delete(late, 0, 1)
			}
			at, _ := slices.BinarySearch(late, f.At)
			late = slices.Insert(late, at, f.At)
		}
	}
	if len(late) < most {
		return math.MinInt64
	}
	return late[0]
}

// unheld is a shop's folder without the files of the jobs that are held; the
// folders themselves are there, so that names are still held against each
// other.
type unheld struct {
	fs.FS
	held map[string]*held
	jobs []fs.DirEntry // the folder of jobs, as it was when they were looked at
}

func (f unheld) hides(name string) bool {
	id, ok := strings.CutPrefix(name, "jobs/")
	return ok && f.held[id] != nil
}

// ReadDir implements fs.ReadDirFS.
func (f unheld) ReadDir(name string) ([]fs.DirEntry, error) {
	switch {
	case f.hides(name):
		return nil, nil
	case name == "jobs":
		return f.jobs, nil
	}
	return fs.ReadDir(f.FS, name)
}

// ReadFile implements fs.ReadFileFS.
func (f unheld) ReadFile(name string) ([]byte, error) { return fs.ReadFile(f.FS, name) }

// ReadLink implements fs.ReadLinkFS.
func (f unheld) ReadLink(name string) (string, error) { return fs.ReadLink(f.FS, name) }

// Lstat implements fs.ReadLinkFS.
func (f unheld) Lstat(name string) (fs.FileInfo, error) {
	if f.hides(name) {
		return folderInfo(name), nil
	}
	return fs.Lstat(f.FS, name)
}

// folderInfo is a folder that was seen to be one.
type folderInfo string

func (n folderInfo) Name() string     { return filepath.Base(string(n)) }
func (folderInfo) Size() int64        { return 0 }
func (folderInfo) Mode() fs.FileMode  { return fs.ModeDir | 0o755 }
func (folderInfo) ModTime() time.Time { return time.Time{} }
func (folderInfo) IsDir() bool        { return true }
func (folderInfo) Sys() any           { return nil }
