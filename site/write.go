package site

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
)

// manifest lists the files that Write has made in a folder, so that it removes
// its own old pages and never a file of anybody else.
const manifest = ".caul-pages"

// Report counts what Write did.
type Report struct {
	Written, Same, Removed int
	Bytes                  int64
}

// Write puts the files under dir: it writes only what differs and removes
// pages of an earlier call that are gone. It never follows a symlink and never
// overwrites a file it has not made itself.
func Write(dir string, files Files) (Report, error) {
	var rep Report
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return rep, err
	}
	mine := map[string]bool{}
	old, err := os.ReadFile(filepath.Join(dir, manifest))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return rep, err
	}
	for _, p := range strings.Split(string(old), "\n") {
		if p != "" && filepath.IsLocal(filepath.FromSlash(p)) {
			mine[p] = true
		}
	}
	made := map[string]bool{}
	for _, p := range files.Paths() {
		if !filepath.IsLocal(filepath.FromSlash(p)) {
			return rep, fmt.Errorf("page %q would lie outside its folder", p)
		}
		full := filepath.Join(dir, filepath.FromSlash(p))
		if err := folders(dir, p, made); err != nil {
			return rep, err
		}
		have, err := current(full)
		switch {
		case err != nil:
			return rep, err
		case have != nil && bytes.Equal(have, files[p]):
			rep.Same++
			continue
		case have != nil && !mine[p]:
			return rep, fmt.Errorf("%s is there already and caul did not make it", full)
		}
		if err := replace(full, files[p]); err != nil {
			return rep, err
		}
		rep.Written++
		rep.Bytes += int64(len(files[p]))
	}
	gone := make([]string, 0)
	for p := range mine {
		if _, keep := files[p]; !keep {
			gone = append(gone, p)
		}
	}
	sort.Strings(gone)
	for _, p := range gone {
		full := filepath.Join(dir, filepath.FromSlash(p))
		if fi, err := os.Lstat(full); err == nil && fi.Mode().IsRegular() {
			if err := os.Remove(full); err != nil {
				return rep, err
			}
			rep.Removed++
			prune(dir, filepath.Dir(full))
		}
	}
	list := strings.Join(files.Paths(), "\n") + "\n"
	if string(old) != list {
		return rep, replace(filepath.Join(dir, manifest), []byte(list))
	}
	return rep, nil
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

// current is the content of a regular file, nil when there is none.
func current(full string) ([]byte, error) {
	fi, err := os.Lstat(full)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if !fi.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a plain file", full)
	}
	b, err := os.ReadFile(full)
	if b == nil && err == nil {
		b = []byte{}
	}
	return b, err
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
