//go:build !linux

package store

import (
	"errors"
	"os"
)

// readNodes lists a folder with what stat says of each name.
func readNodes(dir string) ([]node, error) {
	es, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	out := make([]node, 0, len(es))
	for _, e := range es {
		if e.IsDir() {
			out = append(out, node{name: e.Name(), mode: ModeDir})
			continue
		}
		fi, err := e.Info()
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, nodeOf(e.Name(), fi))
	}
	return out, nil
}
