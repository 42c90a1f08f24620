package sync

import (
	"context"

	"caul/sync/store"
)

// Status is what a sync would commit, told by a quick look at times and sizes; only files that seem changed are read.
type Status struct {
	Machine string   `json:"machine"`
	Changes []Change `json:"changes"`
	Notes   []string `json:"notes,omitempty"`
	// Unfinished tells that a sync was cut off; the next one carries it on.
	Unfinished bool `json:"unfinished,omitempty"`
	// BothWays counts the values that wait to be looked at.
	BothWays int `json:"bothWays,omitempty"`
}

// Status looks at the files and changes nothing.
func (s *Shop) Status(ctx context.Context) (*Status, error) {
	defer s.repo.Close()
	_, head, err := s.repo.Head()
	if err != nil {
		return nil, err
	}
	x, err := s.repo.LoadIndex(head)
	if err != nil {
		return nil, err
	}
	tree, err := s.repo.TreeOf(head)
	if err != nil {
		return nil, err
	}
	b := s.repo.Objects.NewBatch(true)
	b.HashOnly()
	defer b.Drop()
	shot, err := s.repo.Snapshot(ctx, x, b)
	if err != nil {
		return nil, err
	}
	ds, err := s.repo.Objects.DiffTrees(tree, shot.Tree)
	if err != nil {
		return nil, err
	}
	out := &Status{Machine: s.own.Machine, Changes: changes(ds), Notes: shot.Notes, Unfinished: s.repo.Unfinished()}
	rs, err := s.BothWays()
	if err != nil {
		return nil, err
	}
	out.BothWays = len(rs)
	return out, nil
}

// HeadCommit is the last commit of the shop, empty before the first.
func (s *Shop) HeadCommit() (string, error) {
	_, h, err := s.repo.Head()
	if err != nil || h == (store.Hash{}) {
		return "", err
	}
	return h.String(), nil
}
