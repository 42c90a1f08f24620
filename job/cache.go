package job

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// A Cache reads a shop again and again, as a page that stays open must: log
// entries, which are written once and never changed by the program, are kept
// as long as their file has the same size and time. All other files are read
// anew. The zero Cache is ready; it may be used from several goroutines.
type Cache struct {
	mu   sync.Mutex
	jobs map[string]*logCache
}

// racy is how old a file must be when it is read for its time to tell a later
// change: file systems count in steps of up to two seconds.
const racy = 2 * time.Second

type logCache struct {
	scope   string // what lengths and times in the entries were read with
	entries map[string]keptEntry
}

type keptEntry struct {
	size int64
	mod  time.Time
	e    Entry
}

// Load is the package's Load, quicker from the second time on. The entries of
// two readings may share memory: they are to be read, not changed.
func (c *Cache) Load(dir string) (*Shop, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.jobs == nil {
		c.jobs = map[string]*logCache{}
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(abs)
	if err != nil {
		return Load(dir) // which says why
	}
	defer root.Close()
	r := &reader{fsys: root.FS(), shop: &Shop{Dir: abs}, lost: map[string]bool{}, cache: c}
	r.all()
	if len(r.probs) > 0 {
		return nil, r.probs.sorted()
	}
	return r.shop, nil
}

// kept gives the part of a job's log that was read before, in this scope.
func (c *Cache) kept(job string, sc *scope) *logCache {
	if c == nil {
		return nil
	}
	as := fmt.Sprintf("%v %q %q %s %v %v %v", sc.units, sc.money, sc.temp, sc.zone, sc.vals, sc.broken, sc.lost)
	l := c.jobs[job]
	if l == nil || l.scope != as {
		l = &logCache{scope: as, entries: map[string]keptEntry{}}
		c.jobs[job] = l
	}
	return l
}

// stat looks at a file that may be kept; nil when it cannot tell a change.
func (l *logCache) stat(d fs.DirEntry) fs.FileInfo {
	if l == nil {
		return nil
	}
	fi, err := d.Info()
	if err != nil || !fi.Mode().IsRegular() || time.Since(fi.ModTime()) < racy {
		return nil
	}
	return fi
}

func (l *logCache) get(name string, fi fs.FileInfo) (Entry, bool) {
	if fi == nil {
		return Entry{}, false
	}
	k, ok := l.entries[name]
	return k.e, ok && k.size == fi.Size() && k.mod.Equal(fi.ModTime())
}

func (l *logCache) put(name string, fi fs.FileInfo, e Entry) {
	if fi != nil {
		l.entries[name] = keptEntry{fi.Size(), fi.ModTime(), e}
	}
}

// only forgets the entries whose files are gone.
func (l *logCache) only(names map[string]bool) {
	if l == nil {
		return
	}
	for n := range l.entries {
		if !names[n] {
			delete(l.entries, n)
		}
	}
}
