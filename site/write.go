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
// overwrites a file it has not made itself. open reads a picture of the shop.
func Write(dir string, s *Site, open func(path string) ([]byte, error)) (Report, error) {
	w := &pageWriter{dir: dir, made: map[string]bool{}, mine: map[string]string{}}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return w.rep, err
	}
	old, err := os.ReadFile(filepath.Join(dir, manifest))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return w.rep, err
	}
	for _, line := range strings.Split(string(old), "\n") {
		p, mark, _ := strings.Cut(line, "\t")
		if p != "" && filepath.IsLocal(filepath.FromSlash(p)) {
			w.mine[p] = mark
		}
	}
	now := make(map[string]string, len(s.Pages)+len(s.Pictures))
	paths := s.Pages.Paths()
	for p := range s.Pictures {
		if _, page := s.Pages[p]; !page {
			paths = append(paths, p)
		}
	}
	sort.Strings(paths)
	for _, p := range paths {
		if !filepath.IsLocal(filepath.FromSlash(p)) {
			return w.rep, fmt.Errorf("page %q would lie outside its folder", p)
		}
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
	var list bytes.Buffer
	for _, p := range paths {
		list.WriteString(p)
		if m := now[p]; m != "" {
			list.WriteString("\t" + m)
		}
		list.WriteByte('\n')
	}
	if !bytes.Equal(old, list.Bytes()) {
		return w.rep, replace(filepath.Join(dir, manifest), list.Bytes())
	}
	return w.rep, nil
}

type pageWriter struct {
	dir  string
	mine map[string]string // made by an earlier call, with the mark of what from
	made map[string]bool   // folders that are there
	rep  Report
}

// put writes one file, if it differs.
func (w *pageWriter) put(p string, data []byte) error {
	full := filepath.Join(w.dir, filepath.FromSlash(p))
	if err := folders(w.dir, p, w.made); err != nil {
		return err
	}
	same, there, err := holds(full, data)
	switch _, ours := w.mine[p]; {
	case err != nil:
		return err
	case same:
		w.rep.Same++
		return nil
	case there && !ours:
		return fmt.Errorf("%s is there already and caul did not make it", full)
	}
	if err := replace(full, data); err != nil {
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
	sum := sha256.Sum256(data)
	mark := hex.EncodeToString(sum[:12])
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
func replace(full string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(full), ".caul-*")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Chmod(0o644)
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

// prune removes folders that the last page has left empty, up to dir.
func prune(dir, at string) {
	for at != dir && strings.HasPrefix(at, dir) {
		if os.Remove(at) != nil {
			return
		}
		at = filepath.Dir(at)
	}
}
