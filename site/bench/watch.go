package bench

import (
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
)

// settleTime gathers the many changes of one save into one look.
const settleTime = 120 * time.Millisecond

// watch tells when a file of the shop changes. New folders are watched as they
// appear; .git and drawn pages are not.
func watch(dir string) (<-chan struct{}, func(), error) {
	w, err := fsnotify.NewWatcher()
	if err != nil {
		return nil, nil, err
	}
	add := func(root string) {
		_ = filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
			if err != nil || !d.IsDir() {
				return nil
			}
			if skipFolder(dir, p) {
				return filepath.SkipDir
			}
			_ = w.Add(p) // a folder that is gone again is no matter
			return nil
		})
	}
	add(dir)
	out := make(chan struct{}, 1)
	go func() {
		var timer <-chan time.Time
		for {
			select {
			case ev, ok := <-w.Events:
				if !ok {
					return
				}
				if skipFolder(dir, ev.Name) || strings.HasPrefix(filepath.Base(ev.Name), ".") {
					continue
				}
				if ev.Has(fsnotify.Create) {
					add(ev.Name)
				}
				timer = time.After(settleTime)
			case _, ok := <-w.Errors:
				if !ok {
					return
				}
				timer = time.After(settleTime) // events may be missing: look
			case <-timer:
				timer = nil
				select {
				case out <- struct{}{}:
				default:
				}
			}
		}
	}()
	return out, func() { _ = w.Close() }, nil
}

func skipFolder(dir, p string) bool {
	rel, err := filepath.Rel(dir, p)
	if err != nil {
		return true
	}
	first := strings.Split(filepath.ToSlash(rel), "/")[0]
	return first == ".git" || first == "site"
}
