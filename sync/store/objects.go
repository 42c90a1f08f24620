package store

import (
	"bytes"
	"compress/zlib"
	"crypto/sha1"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"

	"github.com/go-git/go-git/v5/plumbing"
)

// Hash names an object by its content.
type Hash = plumbing.Hash

// Kind is what an object is.
type Kind uint8

// The kinds of object, with the numbers they have in a pack.
const (
	Commit Kind = 1
	Tree   Kind = 2
	Blob   Kind = 3
	Tag    Kind = 4
)

func (k Kind) String() string {
	switch k {
	case Commit:
		return "commit"
	case Tree:
		return "tree"
	case Blob:
		return "blob"
	case Tag:
		return "tag"
	}
	return "kind " + strconv.Itoa(int(k))
}

func kindOf(name string) Kind {
	switch name {
	case "commit":
		return Commit
	case "tree":
		return Tree
	case "blob":
		return Blob
	case "tag":
		return Tag
	}
	return 0
}

// HashOf is the name of an object.
func HashOf(k Kind, data []byte) Hash {
	s := sha1.New()
	fmt.Fprintf(s, "%s %d\x00", k, len(data))
	s.Write(data)
	var h Hash
	s.Sum(h[:0])
	return h
}

// Objects is the object folder of a repository.
type Objects struct {
	Dir  string // .../objects
	disk Disk

	mu      sync.Mutex
	scanned bool
	packs   []*pack
	alts    []*Objects
	lent    []*Objects      // of a dry run
	extra   map[Hash]object // written but not yet on disk; see Batch
}

type object struct {
	kind Kind
	data []byte
}

// OpenObjects opens an object folder.
func OpenObjects(dir string, d Disk) *Objects { return &Objects{Dir: dir, disk: d} }

// Close lets go of all open files.
func (o *Objects) Close() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, p := range o.packs {
		p.close()
	}
	o.packs, o.scanned = nil, false
	for _, a := range o.alts {
		a.Close()
	}
	o.alts = nil
}

// rescan looks for packs that came or went since the last look. The caller holds mu.
func (o *Objects) rescan() error {
	names, err := os.ReadDir(filepath.Join(o.Dir, "pack"))
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return Name(err, o.Dir)
	}
	old := map[string]*pack{}
	for _, p := range o.packs {
		old[p.base] = p
	}
	var now []*pack
	for _, n := range names {
		base, ok := strings.CutSuffix(n.Name(), ".idx")
		if !ok || !strings.HasPrefix(base, "pack-") {
			continue
		}
		if p := old[base]; p != nil {
			now = append(now, p)
			delete(old, base)
			continue
		}
		now = append(now, &pack{base: base, path: filepath.Join(o.Dir, "pack", base)})
	}
	for _, p := range old {
		p.close()
	}
	o.packs = now
	if !o.scanned {
		o.alts = nil
		if data, err := os.ReadFile(filepath.Join(o.Dir, "info", "alternates")); err == nil {
			for _, l := range strings.Split(string(data), "\n") {
				if l = strings.TrimSpace(l); l == "" || l[0] == '#' {
					continue
				}
				if !filepath.IsAbs(l) {
					l = filepath.Join(o.Dir, l)
				}
				o.alts = append(o.alts, OpenObjects(l, o.disk))
			}
		}
	}
	o.scanned = true
	return nil
}

// find looks for an object in the packs.
func (o *Objects) find(h Hash) (*pack, int64, error) {
	for try := 0; try < 2; try++ {
		if !o.scanned || try > 0 {
			if err := o.rescan(); err != nil {
				return nil, 0, err
			}
		}
		for i, p := range o.packs {
			off, ok, err := p.lookup(h)
			if err != nil {
				if errors.Is(err, os.ErrNotExist) {
					continue // packed anew by git meanwhile; the second look finds it
				}
				return nil, 0, err
			}
			if ok {
				if i > 0 { // the next object is likely in the same pack
					o.packs[0], o.packs[i] = o.packs[i], o.packs[0]
				}
				return p, off, nil
			}
		}
		if try == 0 && exists(o.loose(h)) {
			return nil, 0, nil
		}
	}
	return nil, 0, nil
}

// openMax bounds the packs that are open at a time.
const openMax = 48

func (o *Objects) closeSome() {
	n := 0
	for _, p := range o.packs {
		if p.f != nil {
			n++
		}
	}
	if n < openMax {
		return
	}
	for _, p := range o.packs {
		if p.f != nil {
			p.f.Close()
			p.f, p.cache, p.held = nil, nil, 0
		}
	}
}

func (o *Objects) loose(h Hash) string {
	s := h.String()
	return filepath.Join(o.Dir, s[:2], s[2:])
}

// Has tells whether an object is here. It does not read it.
func (o *Objects) Has(h Hash) (bool, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.has(h)
}

func (o *Objects) has(h Hash) (bool, error) {
	if _, ok := o.extra[h]; ok {
		return true, nil
	}
	p, _, err := o.find(h)
	if err != nil || p != nil {
		return p != nil, err
	}
	if exists(o.loose(h)) {
		return true, nil
	}
	for _, a := range append(o.lent, o.alts...) {
		if ok, err := a.Has(h); ok || err != nil {
			return ok, err
		}
	}
	return false, nil
}

// Get reads an object. The bytes are checked against the name, so that a damaged object is never passed on.
func (o *Objects) Get(h Hash) (Kind, []byte, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	k, data, err := o.get(h)
	if err != nil {
		return 0, nil, err
	}
	return k, data, nil
}

func (o *Objects) get(h Hash) (Kind, []byte, error) {
	if x, ok := o.extra[h]; ok {
		return x.kind, x.data, nil
	}
	var bad error
	for try := 0; try < 2; try++ {
		p, off, err := o.find(h)
		if err != nil {
			return 0, nil, err
		}
		if p == nil {
			break
		}
		if p.f == nil {
			o.closeSome()
		}
		k, data, err := p.read(o, off, 0)
		if errors.Is(err, os.ErrNotExist) { // packed anew by git meanwhile
			if err := o.rescan(); err != nil {
				return 0, nil, err
			}
			continue
		}
		if err == nil && HashOf(k, data) != h {
			err = errors.New("content does not match its name")
		}
		if err == nil {
			return k, data, nil
		}
		if isGone(err) {
			return 0, nil, Name(err, p.path)
		}
		bad = damaged(h, p.path+".pack", err)
		break
	}
	k, data, err := readLoose(o.loose(h))
	switch {
	case err == nil && HashOf(k, data) == h:
		return k, data, nil
	case err == nil:
		bad = damaged(h, o.loose(h), errors.New("content does not match its name"))
	case isGone(err):
		return 0, nil, Name(err, o.loose(h))
	case !errors.Is(err, os.ErrNotExist):
		bad = damaged(h, o.loose(h), err)
	}
	for _, a := range append(o.lent, o.alts...) {
		if k, data, err := a.Get(h); err == nil {
			return k, data, nil
		}
	}
	if bad != nil {
		return 0, nil, bad
	}
	return 0, nil, missing(h, o.Dir)
}

func (o *Objects) want(h Hash, k Kind) ([]byte, error) {
	got, data, err := o.Get(h)
	if err == nil && got != k {
		err = damaged(h, o.Dir, fmt.Errorf("is a %s, not a %s", got, k))
	}
	return data, err
}

// GetBlob reads a file's content.
func (o *Objects) GetBlob(h Hash) ([]byte, error) { return o.want(h, Blob) }

// GetCommit reads a commit.
func (o *Objects) GetCommit(h Hash) (*CommitInfo, error) {
	data, err := o.want(h, Commit)
	if err != nil {
		return nil, err
	}
	c, err := parseCommit(data)
	if err != nil {
		return nil, damaged(h, o.Dir, err)
	}
	c.Hash = h
	return c, nil
}

// GetTree reads a folder's listing. The zero hash is the empty folder.
func (o *Objects) GetTree(h Hash) ([]TreeEntry, error) {
	if h.IsZero() || h == EmptyTree {
		return nil, nil
	}
	data, err := o.want(h, Tree)
	if err != nil {
		return nil, err
	}
	t, err := parseTree(data)
	if err != nil {
		return nil, damaged(h, o.Dir, err)
	}
	return t, nil
}

func readLoose(path string) (Kind, []byte, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return 0, nil, err
	}
	z, err := zlib.NewReader(bytes.NewReader(raw))
	if err != nil {
		return 0, nil, err
	}
	data, err := io.ReadAll(z)
	if err != nil {
		return 0, nil, err
	}
	i := bytes.IndexByte(data[:min(len(data), 64)], 0)
	if i < 0 {
		return 0, nil, errors.New("no object header")
	}
	name, size, ok := strings.Cut(string(data[:i]), " ")
	k := kindOf(name)
	if !ok || k == 0 || size != strconv.Itoa(len(data)-i-1) {
		return 0, nil, errors.New("bad object header")
	}
	return k, data[i+1:], nil
}

// Stage keeps an object in memory until a Batch writes it, and returns its name.
func (o *Objects) stage(k Kind, data []byte) Hash {
	h := HashOf(k, data)
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.extra == nil {
		o.extra = map[Hash]object{}
	}
	o.extra[h] = object{k, data}
	return h
}

// PackCount is the number of packs here;
func (o *Objects) PackCount() (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := o.rescan(); err != nil {
		return 0, err
	}
	return len(o.packs), nil
}

func sortHashes(hs []Hash) {
	sort.Slice(hs, func(i, j int) bool { return bytes.Compare(hs[i][:], hs[j][:]) < 0 })
}

// Borrow lets objects in another folder be read from here too, until Unborrow, and returns that folder. What comes in there may
// build on what is here by now.
func (o *Objects) Borrow(dir string) *Objects {
	o.mu.Lock()
	defer o.mu.Unlock()
	here := OpenObjects(o.Dir, o.disk)
	here.extra, here.lent = maps.Clone(o.extra), slices.Clone(o.lent)
	b := OpenObjects(dir, o.disk)
	b.lent = []*Objects{here}
	o.lent = append(slices.Clone(o.lent), b)
	return b
}

// Unborrow ends all borrowing.
func (o *Objects) Unborrow() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, b := range o.lent {
		for _, here := range b.lent {
			here.Close()
		}
		b.Close()
	}
	o.lent = nil
}
