package job

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"caul/job/measure"
)

// Load reads the shop in a folder, whole. Every problem of every file is in
// the one error, a Problems, and then no shop is given: nothing is worked out
// from half of what a maker wrote. Nothing is written.
func Load(dir string) (*Shop, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(abs)
	if err != nil {
		return nil, Problems{{Pos: Pos{File: dir}, Msg: "the folder cannot be read: " + plainError(err), Hint: "`caul new shop DIR` makes a new shop"}}
	}
	defer root.Close()
	return LoadFS(root.FS(), abs)
}

// LoadFS is Load over any file system, such as a tree of the shop's history;
// dir is only kept as the shop's folder.
func LoadFS(fsys fs.FS, dir string) (*Shop, error) {
	r := &reader{fsys: fsys, shop: &Shop{Dir: dir}, lost: map[string]bool{}}
	r.all()
	if len(r.probs) > 0 {
		return nil, r.probs.sorted()
	}
	return r.shop, nil
}

// FindShop goes up from a folder to the one that holds shop.yaml.
func FindShop(dir string) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	for d := abs; ; d = filepath.Dir(d) {
		if st, err := os.Lstat(filepath.Join(d, "shop.yaml")); err == nil && st.Mode().IsRegular() {
			return d, nil
		}
		if d == filepath.Dir(d) {
			return "", Problems{{Pos: Pos{File: dir}, Msg: "no shop.yaml here or in any folder above", Hint: "`caul new shop DIR` makes a new shop"}}
		}
	}
}

type reader struct {
	fsys  fs.FS
	shop  *Shop
	probs Problems
	sc    *scope
	lost  map[string]bool // files that could not be read at all
	also  []word          // kinds of stock that others name
	cache *Cache          // entries read before; nil for a single reading
	only  map[string]bool // the jobs to read; nil for all
}

func (r *reader) problem(file, hint, format string, args ...any) {
	r.probs = append(r.probs, Problem{Pos: Pos{File: file}, Hint: hint, Msg: fmt.Sprintf(format, args...)})
}

func (r *reader) all() {
	r.sc = &scope{
		units: measure.Units{System: measure.Inches, Mark: 64}, temp: "C", zone: time.UTC,
		vals: map[string]measure.Length{}, broken: map[string]bool{},
	}
	r.part("shop.yaml", true, r.readShop)
	r.sc.lost = r.lost["shop.yaml"]
	r.part("stock.yaml", false, r.readStock)
	r.part("prices.yaml", false, r.readPrices)
	r.part("glues.yaml", false, r.readGlues)
	r.checkShop()
	lower := map[string]string{}
	for _, e := range r.folder("jobs", false) {
		name := e.Name()
		dir := "jobs/" + name
		if hidden(name) {
			continue
		}
		if e.Type()&fs.ModeSymlink != 0 {
			r.problem(dir, "put the folder itself there; links are not followed", "a symbolic link")
			continue
		}
		if !e.IsDir() {
			continue
		}
		if !idShape.MatchString(name) {
			r.problem(dir, "use letters, digits, hyphens and dots, as in `torsion-table`", "%q cannot be a job's folder", name)
			continue
		}
		if other, dup := lower[strings.ToLower(name)]; dup {
			r.problem(dir, "rename one of them", "differs from %s only in capital letters; many disks cannot hold both", other)
		}
		lower[strings.ToLower(name)] = dir
		if r.only != nil && !r.only[name] {
			continue
		}
		inside := r.folder(dir, true)
		if len(visible(inside)) == 0 {
			continue
		}
		if j := r.readJob(name, dir, inside); j != nil {
			r.shop.Jobs = append(r.shop.Jobs, j)
		}
	}
}

// part reads one of the shop's own files, and keeps in mind when it could not
// be read at all: then what other files name in it is not called unknown.
func (r *reader) part(file string, must bool, read func(*source) bool) {
	before := len(r.probs)
	s := r.open(file, must)
	switch {
	case s != nil:
		r.lost[file] = !read(s)
	case len(r.probs) > before:
		r.lost[file] = true
	}
}

func hidden(name string) bool { return strings.HasPrefix(name, ".") }

func visible(es []fs.DirEntry) []fs.DirEntry {
	var out []fs.DirEntry
	for _, e := range es {
		if !hidden(e.Name()) {
			out = append(out, e)
		}
	}
	return out
}

// folder lists a folder in order of name; an absent one is empty.
func (r *reader) folder(dir string, must bool) []fs.DirEntry {
	if st, err := r.lstat(dir); err == nil && st.Mode()&fs.ModeSymlink != 0 {
		r.problem(dir, "put the folder itself there; links are not followed", "a symbolic link")
		return nil
	} else if err == nil && !st.IsDir() {
		r.problem(dir, "a folder of this name is needed here", "a file where a folder should be")
		return nil
	}
	es, err := fs.ReadDir(r.fsys, dir)
	if err != nil {
		if !must && errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		r.problem(dir, "check the folder's permissions", "the folder cannot be read: %s", plainError(err))
		return nil
	}
	sort.Slice(es, func(i, j int) bool { return es[i].Name() < es[j].Name() })
	return es
}

// lstat looks at a path without following a last link.
func (r *reader) lstat(name string) (fs.FileInfo, error) {
	if l, ok := r.fsys.(fs.ReadLinkFS); ok {
		return l.Lstat(name)
	}
	return fs.Stat(r.fsys, name)
}

// open reads one text file. nil means absent or told as a problem.
func (r *reader) open(file string, must bool) *source {
	st, err := r.lstat(file)
	if err != nil {
		if !errors.Is(err, fs.ErrNotExist) {
			r.problem(file, "check the file's permissions", "the file cannot be read: %s", plainError(err))
		} else if must {
			r.problem(file, missingHint(file), "the file is not there")
		}
		return nil
	}
	switch {
	case st.Mode()&fs.ModeSymlink != 0:
		r.problem(file, "put the file itself there; links are not followed", "a symbolic link")
		return nil
	case !st.Mode().IsRegular():
		r.problem(file, "", "not a plain file")
		return nil
	case st.Size() > MaxText:
		r.problem(file, "keep pictures and drawings beside it, not in it", "the file holds %d MB, more than the %d MB a text file may", st.Size()>>20, MaxText>>20)
		return nil
	}
	data, err := fs.ReadFile(r.fsys, file)
	if err != nil {
		r.problem(file, "check the file's permissions", "the file cannot be read: %s", plainError(err))
		return nil
	}
	return newSource(file, data, &r.probs)
}

func missingHint(file string) string {
	if file == "shop.yaml" {
		return "`caul new shop DIR` makes a new shop"
	}
	if path.Base(file) == "job.yaml" {
		return "`caul job` makes a new job; move other folders out of jobs/"
	}
	return ""
}

// yamlRoot reads a YAML file's map; an empty file is an empty map.
func (s *source) yamlRoot(what string) *obj {
	if !s.checkText(true) {
		return nil
	}
	before := len(*s.out)
	n := s.parseYAML(s.data)
	if n == nil {
		if len(*s.out) == before {
			return &obj{s: s, what: what}
		}
		return nil
	}
	return s.mapping(n, what)
}

// plainError is the reason without path or system call.
func plainError(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return err.Error()
}

// lineOf reads one line again, for a message.
func (r *reader) lineOf(at Pos) string {
	data, err := fs.ReadFile(r.fsys, at.File)
	if err != nil {
		return ""
	}
	var none Problems
	return newSource(at.File, data, &none).line(at.Line)
}
