package sync

import (
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"caul/sync/store"
)

// Bundle is a shared build that lies in a group's folder: a zip file, or a folder with a bundle.yaml. Sync only lists it;
// taking it in is another command, and the user's own decision.
type Bundle struct {
	Name   string    `json:"name"`
	Path   string    `json:"path"`
	Folder bool      `json:"folder,omitempty"`
	Bytes  int64     `json:"bytes,omitempty"`
	Time   time.Time `json:"time"`
}

// groupDepth is how deep below the group's folder bundles are looked for.
const groupDepth = 3

// bundlesMax bounds the list: a folder with more is not a group's folder.
const bundlesMax = 2000

// Bundles lists the shared builds in a group's folder. Nothing in the folder is run, and no link, no repository and no hidden
// folder is entered.
func Bundles(dir string) ([]Bundle, error) {
	fi, err := os.Lstat(dir)
	if err != nil {
		return nil, store.Name(err, dir)
	}
	if !fi.IsDir() {
		return nil, &store.Error{Kind: store.ErrUnsafe, Path: dir, Hint: "name the folder itself, not a link to it"}
	}
	var out []Bundle
	err = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			if p == dir {
				return err
			}
			return nil // a folder that may not be read offers nothing
		}
		if p == dir {
			return nil
		}
		rel, err := filepath.Rel(dir, p)
		if err != nil {
			return err
		}
		if len(out) >= bundlesMax {
			return filepath.SkipAll
		}
		name := d.Name()
		switch {
		case d.IsDir():
			if strings.HasPrefix(name, ".") || strings.HasSuffix(name, ".git") || strings.Count(filepath.ToSlash(rel), "/") >= groupDepth {
				return fs.SkipDir
			}
			if f, err := os.Lstat(filepath.Join(p, ".git")); err == nil && f != nil {
				return fs.SkipDir
			}
			if f, err := os.Lstat(filepath.Join(p, "bundle.yaml")); err == nil && f.Mode().IsRegular() {
				out = append(out, Bundle{Name: filepath.ToSlash(rel), Path: p, Folder: true, Time: f.ModTime()})
				return fs.SkipDir
			}
		case d.Type().IsRegular() && strings.EqualFold(filepath.Ext(name), ".zip") && !strings.HasPrefix(name, "."):
			if f, err := d.Info(); err == nil {
				out = append(out, Bundle{Name: filepath.ToSlash(rel), Path: p, Bytes: f.Size(), Time: f.ModTime()})
			}
		}
		return nil
	})
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out, store.Name(err, dir)
}
