package store

import (
	"encoding/json"
	"errors"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"
)

// journal is what is on disk while the working files are on their way from one state to the next.
type journal struct {
	Branch string // the branch to move
	From   string // the commit it is at
	To     string // the commit it goes to
	Start  string // the tree the working files held when the move began
	Tree   string // the tree they go to
	// Past are the commits of earlier moves that were given up half done for this one: some files may hold what those brought.
	Past []string `json:",omitempty"`
	// Away are the paths that those took out of the shop: what stands there now was made anew, not written over what was there.
	Away []string `json:",omitempty"`
	// Turn names the staging folder, so that no move takes the files of another for its own.
	Turn int `json:",omitempty"`
}

func (r *Repo) journalPath() string      { return filepath.Join(r.Own, "journal") }
func (r *Repo) stageRoot() string        { return filepath.Join(r.Own, "in") }
func (r *Repo) stageDir(turn int) string { return filepath.Join(r.stageRoot(), strconv.Itoa(turn)) }

func (r *Repo) readJournal() (*journal, error) {
	data, err := os.ReadFile(r.journalPath())
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, Name(err, r.Own)
	}
	var j journal
	if err := json.Unmarshal(data, &j); err != nil {
		// It is written whole or not at all; an unreadable one is damage, and all it was for is finding the commit again.
		return nil, &Error{ErrDamaged, r.journalPath(), "delete this file and sync again: the incoming work is fetched anew", err}
	}
	return &j, nil
}

func (r *Repo) dropJournal() error {
	err := r.Disk.Remove(r.journalPath())
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return Name(err, r.Own)
	}
	return Name(r.Disk.SyncDir(r.Own), r.Own)
}

// Apply moves the working files from what the index x says they hold to the tree of the commit to, then the index, then the
// branch from the commit from. Any file that no longer holds what the index says makes it stop with ErrEdited: before the
// first write, nothing is changed; later, the journal stays and Recover sorts it out. No edit is overwritten.
func (r *Repo) Apply(x *Index, branch string, from, to Hash, who Who, why string) error {
	tree, err := r.TreeOf(to)
	if err != nil {
		return err
	}
	start, err := r.indexTree(x)
	if err != nil {
		return err
	}
	m := &mover{r: r, x: x}
	if m.diffs, err = r.Objects.DiffTrees(start, tree); err != nil {
		return err
	}
	if err := m.preflight(); err != nil {
		return err
	}
	j := journal{Branch: branch, From: from.String(), To: to.String(), Start: start.String(), Tree: tree.String()}
	was, err := r.readJournal()
	if err != nil {
		return err
	}
	if was != nil {
		if j.Past = was.Past; was.To != j.To {
			j.Past = append(j.Past, was.To)
		}
		if j.Away, err = r.away(was); err != nil {
			return err
		}
		j.Turn = was.Turn + 1
	}
	m.turn = j.Turn
	data, err := json.Marshal(j)
	if err != nil {
		return err
	}
	if err := WriteFile(r.Disk, r.journalPath(), append(data, '\n'), 0o666); err != nil {
		return Name(err, r.Own)
	}
	if len(m.diffs) > 0 {
		if err := m.stage(); err != nil {
			// Nothing of the shop is touched yet by this move: take the journal back, as far as the disk lets us.
			m.unstage()
			if was == nil {
				_ = r.dropJournal()
			}
			return err
		}
		if err := m.move(); err != nil {
			return err
		}
		if err := m.index(tree); err != nil {
			return err
		}
	}
	if from != to {
		if err := r.Refs.Set(branch, from, to); err != nil {
			return err
		}
		r.Reflog(branch, from, to, who, why)
	}
	m.unstage()
	return r.dropJournal()
}

// indexTree is the tree the index stands for; the snapshot before has made it.
func (r *Repo) indexTree(x *Index) (Hash, error) {
	b := r.Objects.NewBatch(true)
	t, err := x.WriteTree(b)
	if err == nil && len(b.list) > 0 { // must be on disk before the journal names it
		b.dry = false
		err = b.Flush()
	}
	return t, err
}

type mover struct {
	r     *Repo
	x     *Index
	diffs []Diff
	nodes []node // what each path held at preflight
	done  []bool // it already holds the new content
	came  []node // what each staged file was when it was whole
	dirs  map[string]bool
	turn  int
}

func (m *mover) staged(i int) string { return filepath.Join(m.r.stageDir(m.turn), strconv.Itoa(i)) }

// stage writes every incoming file, synced, beside the journal.
func (m *mover) stage() error {
	r := m.r
	m.unstage()
	if err := MkdirAll(r.Disk, r.stageDir(m.turn), 0o777); err != nil {
		return Name(err, r.Own)
	}
	err := parallel(len(m.diffs), func(i int) error {
		d := m.diffs[i]
		if m.done[i] || d.NewMode == 0 {
			return nil
		}
		data, err := r.Objects.GetBlob(d.New)
		if err != nil {
			return err
		}
		if d.NewMode == ModeLink && r.cfg.symlinks {
			if err := r.Disk.Symlink(string(data), m.staged(i)); err != nil {
				return Name(err, r.Own)
			}
			return m.note(i)
		}
		perm := os.FileMode(0o666)
		if d.NewMode == ModeExec {
			perm = 0o777
		}
		f, err := r.Disk.Create(m.staged(i), perm)
		if err != nil {
			return Name(err, r.Own)
		}
		_, err = f.Write(data)
		if err == nil {
			err = f.Sync()
		}
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			return Name(err, r.Own)
		}
		return m.note(i)
	})
	if err != nil {
		return err
	}
	return Name(r.Disk.SyncDir(r.stageDir(m.turn)), r.Own)
}

// note remembers the stamps of a staged file: an edit right after it was put in place must not pass for it.
func (m *mover) note(i int) error {
	fi, err := os.Lstat(m.staged(i))
	if err != nil {
		return Name(err, m.r.Own)
	}
	m.came[i] = nodeOf("", fi)
	return nil
}

// parallel runs f for 0..n-1, a few at a time: the syncs of many small files then share the disk's own commits.
func parallel(n int, f func(int) error) error {
	const width = 8
	var wg sync.WaitGroup
	var mu sync.Mutex
	var first error
	next := 0
	for range min(width, n) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for {
				mu.Lock()
				i := next
				next++
				stop := first != nil || i >= n
				mu.Unlock()
				if stop {
					return
				}
				if err := f(i); err != nil {
					mu.Lock()
					if first == nil {
						first = err
					}
					mu.Unlock()
					return
				}
			}
		}()
	}
	wg.Wait()
	return first
}

// move puts the staged files in place. What comes is there, on the disk for good, before what goes is taken away: a disk that
// fills up, a kill or a hand in between never finds a passage in neither place. Only where a name has to be free first - a file
// that becomes a folder, a new name that a case-folding disk takes for the old - does the old file go first.
func (m *mover) move() error {
	m.dirs = map[string]bool{}
	first, later := m.order()
	if err := m.takeAll(first); err != nil {
		return err
	}
	for i, d := range m.diffs {
		if m.done[i] || d.NewMode == 0 {
			continue
		}
		var err error
		if d.OldMode == 0 {
			err = m.bring(i)
		} else {
			err = m.replace(i)
		}
		if err != nil {
			return err
		}
	}
	if len(later) > 0 {
		if err := m.syncDirs(); err != nil {
			return err
		}
		if err := m.takeAll(later); err != nil {
			return err
		}
	}
	return m.syncDirs()
}

// order parts what goes into what stands in the way of what comes, and the rest.
func (m *mover) order() (first, later []int) {
	comes, above := map[string]bool{}, map[string]bool{}
	for i, d := range m.diffs {
		if m.done[i] || d.NewMode == 0 || d.OldMode != 0 {
			continue
		}
		p := Fold(d.Path)
		comes[p] = true
		for up := path.Dir(p); up != "." && !above[up]; up = path.Dir(up) {
			above[up] = true
		}
	}
	for i, d := range m.diffs {
		if d.NewMode != 0 {
			continue
		}
		p := Fold(d.Path)
		inWay := comes[p] || above[p]
		for up := path.Dir(p); up != "." && !inWay; up = path.Dir(up) {
			inWay = comes[up]
		}
		if inWay {
			first = append(first, i)
		} else {
			later = append(later, i)
		}
	}
	return first, later
}

// takeAll takes files away and removes the folders that leaves empty.
func (m *mover) takeAll(which []int) error {
	for _, i := range which {
		if !m.done[i] {
			if err := m.takeAway(i); err != nil {
				return err
			}
		}
	}
	for _, i := range which {
		m.prune(filepath.Dir(filepath.FromSlash(m.diffs[i].Path)))
	}
	return nil
}

// syncDirs makes the names in the touched folders last.
func (m *mover) syncDirs() error {
	dirs := make([]string, 0, len(m.dirs))
	for d := range m.dirs {
		dirs = append(dirs, d)
	}
	sort.Strings(dirs)
	clear(m.dirs)
	return parallel(len(dirs), func(i int) error {
		p := filepath.Join(m.r.Dir, dirs[i])
		if !exists(p) {
			return nil
		}
		return Name(m.r.Disk.SyncDir(p), p)
	})
}

func (m *mover) touchDir(path string) { m.dirs[filepath.Dir(filepath.FromSlash(path))] = true }

// still tells whether the file at p is the one seen at preflight, byte for byte as far as its stamps tell.
func still(p string, n node) bool {
	fi, err := os.Lstat(p)
	if err != nil {
		return false
	}
	return same(nodeOf(n.name, fi), n)
}

// same compares stamps; the time of the last change of the name is left out, a move changes it.
func same(x, y node) bool {
	a, b := x.stat, y.stat
	return x.mode == y.mode && a.Size == b.Size && a.MtimeS == b.MtimeS && a.MtimeN == b.MtimeN && a.Ino == b.Ino
}

func edited(path string) error { return &Error{ErrEdited, path, "sync again", nil} }

// takeAway moves a file out of the shop first and looks at it then: an edit of the last moment is put back.
func (m *mover) takeAway(i int) error {
	p := m.r.path(m.diffs[i].Path)
	if !still(p, m.nodes[i]) {
		return edited(m.diffs[i].Path)
	}
	m.touchDir(m.diffs[i].Path)
	if err := m.r.Disk.Rename(p, m.staged(i)); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return edited(m.diffs[i].Path)
		}
		return Name(err, p)
	}
	if !still(m.staged(i), m.nodes[i]) {
		m.putBack(i)
		return edited(m.diffs[i].Path)
	}
	return nil
}

func (m *mover) putBack(i int) {
	p := m.r.path(m.diffs[i].Path)
	if err := m.r.Disk.Place(m.staged(i), p); errors.Is(err, errors.ErrUnsupported) && !exists(p) {
		_ = m.r.Disk.Rename(m.staged(i), p)
	}
}

// bring moves a new file in, never over another.
func (m *mover) bring(i int) error {
	path := m.diffs[i].Path
	p := m.r.path(path)
	if err := m.makeDirs(filepath.Dir(filepath.FromSlash(path))); err != nil {
		if errors.Is(err, os.ErrNotExist) || isNotDir(err) { // somebody moved the folder away meanwhile
			return edited(path)
		}
		return Name(err, p)
	}
	if fi, err := os.Lstat(p); err == nil && fi.IsDir() {
		_ = m.removeEmpty(p)
	}
	m.touchDir(path)
	err := m.r.Disk.Place(m.staged(i), p)
	if errors.Is(err, errors.ErrUnsupported) {
		if exists(p) {
			return edited(path)
		}
		err = m.r.Disk.Rename(m.staged(i), p)
	}
	if errors.Is(err, os.ErrExist) || errors.Is(err, os.ErrNotExist) { // somebody put a file there, or moved the folder away
		return edited(path)
	}
	return Name(err, p)
}

// makeDirs makes the folders above an incoming file; their names are synced with the others at the end.
func (m *mover) makeDirs(dir string) error {
	p := filepath.Join(m.r.Dir, dir)
	if dir == "." || exists(p) {
		return nil
	}
	up := filepath.Dir(dir)
	if err := m.makeDirs(up); err != nil {
		return err
	}
	m.dirs[up], m.dirs[dir] = true, true
	if err := m.r.Disk.Mkdir(p, 0o777); err != nil && !errors.Is(err, os.ErrExist) {
		return err
	}
	return nil
}

// replace exchanges a file with its new content in one step and looks at what came out: an edit of the last moment goes back.
func (m *mover) replace(i int) error {
	path := m.diffs[i].Path
	p := m.r.path(path)
	if !still(p, m.nodes[i]) {
		return edited(path)
	}
	m.touchDir(path)
	err := m.r.Disk.Swap(m.staged(i), p)
	switch {
	case err == nil:
		if !still(m.staged(i), m.nodes[i]) {
			_ = m.r.Disk.Swap(m.staged(i), p)
			return edited(path)
		}
		return nil
	case errors.Is(err, errors.ErrUnsupported):
		return Name(m.r.Disk.Rename(m.staged(i), p), p)
	case errors.Is(err, os.ErrNotExist):
		return edited(path)
	}
	return Name(err, p)
}

// prune removes folders that a deletion left empty.
func (m *mover) prune(dir string) {
	for dir != "." && dir != string(filepath.Separator) {
		if m.r.Disk.Remove(filepath.Join(m.r.Dir, dir)) != nil {
			return
		}
		delete(m.dirs, dir)
		dir = filepath.Dir(dir)
		m.dirs[dir] = true
	}
}

func (m *mover) removeEmpty(p string) error {
	es, err := os.ReadDir(p)
	if err != nil {
		return err
	}
	for _, e := range es {
		if !e.IsDir() {
			return errors.New("not empty")
		}
		if err := m.removeEmpty(filepath.Join(p, e.Name())); err != nil {
			return err
		}
	}
	return m.r.Disk.Remove(p)
}

// index writes the index that goes with the moved files.
func (m *mover) index(tree Hash) error {
	now := time.Now()
	drop := map[int]bool{}
	var fresh []Entry
	for k, d := range m.diffs {
		i, ok := m.x.lookup(d.Path)
		m.x.Tree.touch(d.Path)
		if d.NewMode == 0 {
			if ok {
				drop[i] = true
			}
			continue
		}
		e := Entry{Path: d.Path, Mode: d.NewMode, Hash: d.New}
		// Without stamps the file is read at the next look.
		if fi, err := os.Lstat(m.r.path(d.Path)); err == nil && d.NewMode != ModeSub && same(nodeOf("", fi), m.came[k]) {
			e.Stat = nodeOf("", fi).stat
			if t := fi.ModTime(); !t.Before(now.Add(-slack(e.Stat.MtimeN))) {
				e.Stat.Size = 0
			}
		}
		if ok {
			m.x.Entries[i] = e
		} else {
			fresh = append(fresh, e)
		}
	}
	m.x.replace(drop, fresh)
	b := m.r.Objects.NewBatch(true)
	got, err := m.x.WriteTree(b)
	b.Drop()
	if err == nil && got != tree {
		err = &Error{ErrDamaged, m.r.indexPath(), "sync again", errors.New("the index does not give the tree that was settled")}
	}
	if err != nil {
		return err
	}
	return m.r.SaveIndex(m.x)
}

// unstage empties the staging folder. What lies there has been looked at.
func (m *mover) unstage() { m.r.clearStage() }

func (r *Repo) clearStage() {
	turns, err := os.ReadDir(r.stageRoot())
	if err != nil {
		return
	}
	for _, t := range turns {
		dir := filepath.Join(r.stageRoot(), t.Name())
		if es, err := os.ReadDir(dir); err == nil {
			for _, e := range es {
				_ = r.Disk.Remove(filepath.Join(dir, e.Name()))
			}
		}
		_ = r.Disk.Remove(dir)
	}
}

func isNotDir(err error) bool {
	var pe *os.PathError
	return errors.As(err, &pe) && strings.Contains(pe.Err.Error(), "not a directory")
}
