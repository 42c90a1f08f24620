package store

import (
	"errors"
	"os"
	"path/filepath"
)

// Every sync adds a pack. gatherAt is how many there may be before the small ones are made one; gatherSmall how large a pack
// may be, in bytes, to count as small.
const (
	gatherAt    = 50
	gatherSmall = 16 << 20
)

// Gather makes one pack of many small ones, so that looking up an object does not get slower with each sync. The new pack is
// on the disk before the first old one goes; a reader that is caught in between looks again. Nothing is dropped.
func (o *Objects) Gather() error {
	dir := filepath.Join(o.Dir, "pack")
	o.mu.Lock()
	err := o.rescan()
	var small []string
	var list []Hash
	if err == nil && len(o.packs) > gatherAt && !exists(filepath.Join(dir, "multi-pack-index")) {
		small, list, err = o.smallPacks()
	}
	o.mu.Unlock()
	if err != nil || len(small) < gatherAt/2 {
		return err
	}
	if err := o.CopyFrom(o, list); err != nil {
		return err
	}
	kept := map[string]bool{}
	o.mu.Lock()
	for _, p := range o.packs {
		kept[p.path] = p.n == len(list) // should one of the old packs be the very same
	}
	o.mu.Unlock()
	for _, base := range small {
		if kept[base] {
			continue
		}
		for _, ext := range []string{".idx", ".rev", ".pack"} { // the index first: without it the pack is not looked at
			if err := o.disk.Remove(base + ext); err != nil && !errors.Is(err, os.ErrNotExist) {
				return Name(err, dir)
			}
		}
	}
	if err := o.disk.SyncDir(dir); err != nil {
		return Name(err, dir)
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.rescan()
}

func (o *Objects) smallPacks() (small []string, list []Hash, err error) {
	seen := map[Hash]bool{}
	for _, p := range o.packs {
		fi, err := os.Stat(p.path + ".pack")
		if err != nil || fi.Size() > gatherSmall || exists(p.path+".keep") || exists(p.path+".promisor") || exists(p.path+".bitmap") || exists(p.path+".mtimes") {
			continue // git has plans with it
		}
		if err := p.openIdx(); err != nil {
			return nil, nil, err
		}
		small = append(small, p.path)
		for i := range p.n {
			var h Hash
			copy(h[:], p.name(i))
			if !seen[h] {
				seen[h] = true
				list = append(list, h)
			}
		}
	}
	return small, list, nil
}
