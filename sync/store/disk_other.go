//go:build !linux

package store

import (
	"errors"
	"os"
)

// Swap is not to be had in one step on this system.
func (OS) Swap(a, b string) error { return errors.ErrUnsupported }

// Whole is not to be had on this system in a way that tells of failed writes.
func (OS) Whole(path string) (Whole, error) { return nil, errors.ErrUnsupported }

// Place moves a file to a free name: a second name first, which fails when the name is taken, then the old name goes.
func (OS) Place(from, to string) error {
	if err := os.Link(from, to); err != nil {
		if errors.Is(err, os.ErrExist) {
			return err
		}
		return errors.ErrUnsupported
	}
	return os.Remove(from)
}
