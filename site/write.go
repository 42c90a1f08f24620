package site

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
)

// manifest lists the files that Write has made in a folder, so that it removes
// its own old pages and never a file of anybody else; behind a picture stands
// what it was made from, so that it is not made again.
const manifest = ".caul-pages"

// Report counts what Write did.
type Report struct {
	Written, Same, Removed int
	Bytes                  int64
	Damaged                []string // pictures of the shop that do not read
}

// Write puts a site under dir: it writes only what differs and removes what an
// earlier call has made and is gone. It never follows a symlink and never
// overwrites a file it has not made itself; one that holds already what would
// be written is taken as its own. open reads a picture of the shop.
func Write(dir string, s *Site, open func(path string) ([]byte, error)) (Report, error) {
	w := &pageWriter{dir: dir, made: map[string]bool{}, mine: map[string]string{}}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return w.rep, err
	}
	old, err := os.ReadFile(filepath.Join(dir, manifest))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return w.rep, err
	}
	w.list = old
	w.stands = s.standing
	w.listedBefore(string(old))
	now := make(map[string]string, len(s.Pages)+len(s.Pictures))
	paths := s.Pages.Paths()
	for p := range s.Pictures {
		if _, page := s.Pages[p]; !page {
			paths = append(paths, p)
		}
	}
	sort.Strings(paths)
	for _, b := range s.standing {
		w.rep.Same += b.pages
	}
	if err := w.claim(paths, s, open); err != nil {
		return w.rep, err
	}
	for _, p := range paths {
		if data, page := s.Pages[p]; page {
			now[p] = ""
			if err := w.put(p, data); err != nil {
				return w.rep, err
			}
			continue
		}
		if now[p], err = w.picture(p, s.Pictures[p], open); err != nil {
			return w.rep, err
		}
	}
	gone := make([]string, 0)
	for p := range w.mine {
		if _, keep := now[p]; !keep {
			gone = append(gone, p)
		}
	}
	sort.Strings(gone)
	for _, p := range gone {
		full := filepath.Join(dir, filepath.FromSlash(p))
		if fi, err := os.Lstat(full); err == nil && fi.Mode().IsRegular() {
			if err := os.Remove(full); err != nil {
				return w.rep, err
			}
			w.rep.Removed++
			prune(dir, filepath.Dir(full))
		}
	}
	list := w.listed(paths, now)
	s.lines = linesOf(paths, now)
	if !bytes.Equal(w.list, list) {
		return w.rep, replace(filepath.Join(dir, manifest), list)
	}
	return w.rep, nil
}

// block are the pages of one job that stand as they are, as the list of pages
// has them.
type block struct {
	dir   string // under jobs/, with its slash
	lines string
	pages int
}

// standing are the pages of the held jobs, in order of their folders.
func (m *Memory) standing() []block {
	if m == nil {
		return nil
	}
	out := make([]block, 0, len(m.held))
	for _, h := range m.held {
		out = append(out, block{"jobs/" + h.ID + "/", h.Lines, strings.Count(h.Lines, "\n")})
	}
	slices.SortFunc(out, func(a, b block) int { return strings.Compare(a.dir, b.dir) })
	return out
}

// listedBefore reads what an earlier call has made, but for the pages that
// stand.
func (w *pageWriter) listedBefore(list string) {
	stands := make(map[string]bool, len(w.stands))
	for _, b := range w.stands {
		stands[b.dir] = true
	}
	dir, skip := "", false
	for line := range strings.Lines(list) {
		if dir == "" || !strings.HasPrefix(line, dir) {
			dir = jobFolder(line)
			skip = stands[dir]
		}
		if skip {
			continue
		}
		p, mark, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		if p != "" && filepath.IsLocal(filepath.FromSlash(p)) {
			w.mine[p] = mark
		}
	}
}

// linesOf are the lines of the list of pages, by job folder.
func linesOf(paths []string, marks map[string]string) map[string]string {
	out := map[string]string{}
	var b []byte
	for i, p := range paths {
		dir := jobFolder(p)
		if b = appendLine(b, p, marks[p]); i+1 == len(paths) || jobFolder(paths[i+1]) != dir {
			out[dir] += string(b)
			b = b[:0]
		}
	}
	return out
}

// jobFolder is the folder under jobs/ that a path begins with, with its slash.
func jobFolder(p string) string {
	rest, under := strings.CutPrefix(p, "jobs/")
	if id, _, ok := strings.Cut(rest, "/"); under && ok {
		return p[:len("jobs/")+len(id)+1]
	}
	return ""
}

func appendLine(b []byte, p, mark string) []byte {
	b = append(b, p...)
	if mark != "" {
		b = append(append(b, '\t'), mark...)
	}
	return append(b, '\n')
}

// listed is the list of pages: those of the paths given, in order, and those
// that stand.
func (w *pageWriter) listed(paths []string, marks map[string]string) []byte {
	b := make([]byte, 0, len(w.list)+1024)
	stands := w.stands
	for _, p := range paths {
		for len(stands) > 0 && stands[0].dir < p {
			b = append(b, stands[0].lines...)
			stands = stands[1:]
		}
		b = appendLine(b, p, marks[p])
	}
	for _, s := range stands {
		b = append(b, s.lines...)
	}
	return b
}

// claim lists new pages as this program's own before any is written, so that
// a run that was cut off can be run again. A file that is there already and
// holds anything else stops it, with nothing written.
func (w *pageWriter) claim(paths []string, s *Site, open func(path string) ([]byte, error)) error {
	union := make([]string, 0, len(paths)+len(w.mine))
	fresh := false
	for _, p := range paths {
		if !filepath.IsLocal(filepath.FromSlash(p)) {
			return fmt.Errorf("page %q would lie outside its folder", p)
		}
		union = append(union, p)
		if _, ours := w.mine[p]; ours {
			continue
		}
		full := filepath.Join(w.dir, filepath.FromSlash(p))
		data, page := s.Pages[p]
		same, there, err := holds(full, data)
		if err != nil {
			return err
		}
		if there && !page {
			if same, err = w.adopt(p, full, s.Pictures[p], open); err != nil {
				return err
			}
		}
		if there && !same {
			return &strangerError{full}
		}
		fresh = true
	}
	if !fresh {
		return nil
	}
	now := map[string]bool{}
	for _, p := range paths {
		now[p] = true
	}
	for p := range w.mine {
		if !now[p] {
			union = append(union, p)
		}
	}
	sort.Strings(union)
	w.list = w.listed(union, w.mine)
	return replace(filepath.Join(w.dir, manifest), w.list)
}

// strangerError is a file in the way that is none of this program's pages.
type strangerError struct{ file string }

func (e *strangerError) Error() string {
	return e.file + " is there already and is no page as caul would write it"
}

// Hint is the next step.
func (e *strangerError) Hint() string {
	return "nothing was written; move it away, or draw into another folder with --out"
}

// adopt tells whether a file holds what would be made of a picture, and then
// notes what it was made from.
func (w *pageWriter) adopt(p, full, from string, open func(path string) ([]byte, error)) (bool, error) {
	data, err := open(from)
	if err != nil {
		return false, fmt.Errorf("%s: %w", from, err)
	}
	out, _ := clean(data)
	same, _, err := holds(full, out)
	if same {
		w.mine[p] = origin(data)
	}
	return same, err
}

// origin marks the picture that one on a page was made from.
func origin(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:12])
}

type pageWriter struct {
	dir  string
	mine map[string]string // made by an earlier call, with the mark of what from
	made map[string]bool   // folders that are there
	rep  Report
	list []byte // as the list stands on the disk

	stands []block // pages that are not touched
}

// put writes one file, if it differs.
func (w *pageWriter) put(p string, data []byte) error {
	full := filepath.Join(w.dir, filepath.FromSlash(p))
	if err := folders(w.dir, p, w.made); err != nil {
		return err
	}
	same, there, err := holds(full, data)
	if err != nil {
		return err
	}
	if same {
		w.rep.Same++
		return nil
	}
	put := replace
	if !there {
		put = create // nobody can be reading what is not there yet
	}
	if err := put(full, data); err != nil {
		return err
	}
	w.rep.Written++
	w.rep.Bytes += int64(len(data))
	return nil
}

// picture cleans and writes one picture, unless it was made from the same
// bytes before. It gives the mark of those.
func (w *pageWriter) picture(p, from string, open func(path string) ([]byte, error)) (string, error) {
	data, err := open(from)
	if err != nil {
		return "", fmt.Errorf("%s: %w", from, err)
	}
	mark := origin(data)
	if had, ours := w.mine[p]; ours && had == mark {
		if fi, err := os.Lstat(filepath.Join(w.dir, filepath.FromSlash(p))); err == nil && fi.Mode().IsRegular() {
			w.rep.Same++
			return mark, nil
		}
	}
	out, ok := clean(data)
	if !ok {
		w.rep.Damaged = append(w.rep.Damaged, from)
	}
	return mark, w.put(p, out)
}

// folders makes the folders above a page, refusing a symlink in the way.
func folders(dir, page string, made map[string]bool) error {
	parts := strings.Split(page, "/")
	at := dir
	for _, p := range parts[:len(parts)-1] {
		at = filepath.Join(at, p)
		if made[at] {
			continue
		}
		fi, err := os.Lstat(at)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			if err := os.Mkdir(at, 0o755); err != nil {
				return err
			}
		case err != nil:
			return err
		case !fi.IsDir():
			return fmt.Errorf("%s is not a folder", at)
		}
		made[at] = true
	}
	return nil
}

// holds tells whether a plain file is there, and whether it holds the bytes.
func holds(full string, data []byte) (same, there bool, err error) {
	fi, err := os.Lstat(full)
	if errors.Is(err, fs.ErrNotExist) {
		return false, false, nil
	}
	if err != nil {
		return false, false, err
	}
	if !fi.Mode().IsRegular() {
		return false, true, fmt.Errorf("%s is not a plain file", full)
	}
	if fi.Size() != int64(len(data)) {
		return false, true, nil
	}
	b, err := os.ReadFile(full)
	return err == nil && bytes.Equal(b, data), true, err
}

// replace writes a page beside the old one and moves it into place, so that a
// reader never sees half a page. Pages can be drawn again, so they are not
// forced to disk one by one.
func replace(full string, data []byte) error { return replaceAs(full, data, 0o644) }

func replaceAs(full string, data []byte, mode os.FileMode) error {
	f, err := os.CreateTemp(filepath.Dir(full), ".caul-*")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Chmod(mode)
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), full)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// create writes a page that is not there yet; it never follows a link.
func create(full string, data []byte) error {
	f, err := os.OpenFile(full, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		os.Remove(full)
	}
	return err
}

// prune removes folders that the last page has left empty, up to dir.
func prune(dir, at string) {
	for at != dir && strings.HasPrefix(at, dir) {
		if os.Remove(at) != nil {
			return
		}
		at = filepath.Dir(at)
	}
}
