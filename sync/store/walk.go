package store

import (
	"errors"
	"os"
	"runtime"
	"sort"
	"strings"
	"sync"
)

// node is one name in a folder of the working files.
type node struct {
	name string
	mode Mode // 0: neither file, folder nor link
	stat Stat
}

// found is a file that may differ from what the index says: its times or size differ, or it is not in the index.
type found struct {
	path string
	at   int // place in the index, -1 when not tracked
	node node
}

// Distrust forgets the stamps, so that every file is read at the next look.
func (x *Index) Distrust() {
	for i := range x.Entries {
		x.Entries[i].Stat = Stat{}
	}
}

// walked is what one look over the working files found.
type walked struct {
	maybe   []found  // to be read to know
	gone    []int    // tracked and not there
	nested  []string // other repositories lying in the shop
	odd     []string // sockets, devices: left alone
	unread  []string // no permission: left alone, and their tracked files too
	present int      // tracked files that are there
}

type walker struct {
	r       *Repo
	x       *Index
	seen    []bool
	written int64 // the index file's time in ns
	mu      sync.Mutex
	out     walked
	err     error
	wg      sync.WaitGroup
	slots   chan struct{}
}

// walk compares the working files with the index by size, time, inode and mode. A file that changed within the
// resolution of the index's own time is named as doubtful too, as git does.
func (r *Repo) walk(x *Index) (*walked, error) {
	w := &walker{r: r, x: x, seen: make([]bool, len(x.Entries)), slots: make(chan struct{}, runtime.GOMAXPROCS(0)*2-1)}
	if !x.Written.IsZero() {
		w.written = x.Written.UnixNano()
	}
	root := &ignores{parent: r.baseIgnores(), file: r.path(".gitignore"), fold: r.cfg.ignoreCase}
	w.dir("", 0, len(x.Entries), root)
	w.wg.Wait()
	if w.err != nil {
		return nil, Name(w.err, r.Dir)
	}
	for i := range x.Entries {
		e := &x.Entries[i]
		if w.seen[i] {
			w.out.present++
		} else if e.Mode != ModeSub && e.Ext&extSkip == 0 && e.Flags&flagAssume == 0 && !under(e.Path, w.out.unread) {
			w.out.gone = append(w.out.gone, i)
		}
	}
	sort.Slice(w.out.maybe, func(i, j int) bool { return w.out.maybe[i].path < w.out.maybe[j].path })
	sort.Strings(w.out.nested)
	sort.Strings(w.out.odd)
	sort.Strings(w.out.unread)
	return &w.out, nil
}

func under(path string, dirs []string) bool {
	for _, d := range dirs {
		if path == d || strings.HasPrefix(path, d+"/") || d == "" {
			return true
		}
	}
	return false
}

// dir looks at one folder. lo and hi bound its entries in the index; g are the rules for names in it.
func (w *walker) dir(path string, lo, hi int, g *ignores) {
	nodes, err := readNodes(w.r.path(path))
	if err != nil {
		w.mu.Lock()
		defer w.mu.Unlock()
		switch {
		case errors.Is(err, os.ErrNotExist):
		case errors.Is(err, os.ErrPermission) && path != "":
			w.out.unread = append(w.out.unread, path)
		case w.err == nil:
			w.err = err
		}
		return
	}
	prefix := path
	if path != "" {
		prefix += "/"
	}
	es := w.x.Entries
	rules := false
	for i := range nodes {
		rules = rules || nodes[i].name == ".gitignore"
	}
	if !rules {
		g.file = "" // spares a look for it
	}
	for i := range nodes {
		n := &nodes[i]
		if path == "" && n.name == ".git" {
			continue
		}
		// The first entry at or after this name, compared without joining strings.
		a := lo + sort.Search(hi-lo, func(i int) bool { return es[lo+i].Path[len(prefix):] >= n.name })
		if n.mode == ModeDir {
			w.sub(prefix, n.name, a, hi, g)
			continue
		}
		at := -1
		if a < hi && es[a].Path[len(prefix):] == n.name {
			at = a
		}
		if at < 0 {
			p := prefix + n.name
			if g.covered() || g.match(p, false) {
				continue
			}
			w.mu.Lock()
			switch {
			case n.mode == 0:
				w.out.odd = append(w.out.odd, p)
			default:
				w.out.maybe = append(w.out.maybe, found{p, -1, *n})
			}
			w.mu.Unlock()
			continue
		}
		e := &es[at]
		if n.mode == 0 { // a socket in a tracked file's place: the file is gone
			continue
		}
		w.seen[at] = true
		if e.Ext&extSkip != 0 || e.Flags&flagAssume != 0 || e.Mode == ModeSub {
			continue
		}
		if w.clean(e, n) {
			continue
		}
		w.mu.Lock()
		w.out.maybe = append(w.out.maybe, found{e.Path, at, *n})
		w.mu.Unlock()
	}
}

// clean tells a file whose stamps are those of the index and are old enough to be trusted.
func (w *walker) clean(e *Entry, n *node) bool {
	s, t := &e.Stat, &n.stat
	if e.Ext&extIntent != 0 || s.Size != t.Size || s.MtimeS != t.MtimeS || s.MtimeN != t.MtimeN {
		return false
	}
	if s.Ino != 0 && t.Ino != 0 && s.Ino != t.Ino {
		return false
	}
	// The time of the last change of the name or mode cannot be set by hand: it tells a file from another one that was given
	// the old one's time, size and freed inode.
	if s.CtimeS != 0 && t.CtimeS != 0 && (s.CtimeS != t.CtimeS || s.CtimeN != t.CtimeN) {
		return false
	}
	if !w.r.sameMode(e.Mode, n.mode) {
		return false
	}
	m := int64(t.MtimeS)*1e9 + int64(t.MtimeN)
	return m < w.written
}

// sameMode compares modes where the file system keeps them.
func (r *Repo) sameMode(index, disk Mode) bool {
	if index == disk {
		return true
	}
	if index.IsFile() && disk.IsFile() {
		return !r.cfg.fileMode
	}
	return index == ModeLink && disk.IsFile() && !r.cfg.symlinks
}

func (w *walker) sub(prefix, name string, a, hi int, g *ignores) {
	es := w.x.Entries
	full := prefix + name
	// Entries below full/ lie together, after those like "full.txt".
	below := full + "/"
	b := a + sort.Search(hi-a, func(i int) bool { return es[a+i].Path >= below })
	c := b + sort.Search(hi-b, func(i int) bool { return !strings.HasPrefix(es[b+i].Path, below) })
	if a < hi && es[a].Path == full && es[a].Mode == ModeSub {
		w.seen[a] = true
		return
	}
	tracked := c > b
	if !tracked {
		if g.covered() || g.match(full, true) {
			return
		}
		if exists(w.r.path(full + "/.git")) {
			w.mu.Lock()
			w.out.nested = append(w.out.nested, full)
			w.mu.Unlock()
			return
		}
	}
	child := &ignores{parent: g, dir: below, file: w.r.path(below + ".gitignore"), fold: w.r.cfg.ignoreCase}
	select {
	case w.slots <- struct{}{}:
		w.wg.Add(1)
		go func() {
			defer w.wg.Done()
			w.dir(full, b, c, child)
			<-w.slots
		}()
	default:
		w.dir(full, b, c, child)
	}
}
