package sync

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"caul/sync/store"
)

// ErrNotEmpty: the folder for a new copy of a shop has files in it.
var ErrNotEmpty = errors.New("the folder is not empty")

// Clone makes a copy of the shop at an address in the folder dir, which must be empty or not be there, and knows the address
// from then on as the remote of the given name. When it is cut off, run it again or sync in the folder.
func Clone(ctx context.Context, addr, dir, machine, name string, ro RemoteOptions, o Options) (*Shop, *Report, error) {
	es, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, nil, store.Name(err, dir)
	}
	for _, e := range es {
		if e.Name() != ".git" {
			return nil, nil, &store.Error{Kind: ErrNotEmpty, Path: dir, Hint: "choose a new folder; files you have can be put into the copy by hand"}
		}
	}
	s, err := Init(filepath.Clean(dir), machine)
	if err != nil {
		return nil, nil, err
	}
	known := false
	for _, r := range s.own.Remotes {
		known = known || r.Name == name
	}
	if !known {
		if err := s.AddRemote(name, addr, ro); err != nil {
			return nil, nil, err
		}
	}
	o.Only = []string{name}
	rep, err := s.Sync(ctx, o)
	return s, rep, err
}
