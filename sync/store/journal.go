package store

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
)

// journal is what is on disk while the working files are on their way from one state to the next.
type journal struct {
	Branch string // the branch to move
	From   string // the commit it is at
	To     string // the commit it goes to
	Start  string // the tree the working files held when the move began
	Tree   string // the tree they go to
	// Past are the commits of earlier moves that were given up half done for this one: some files may hold what those brought.
	Past []string `json:",omitempty"`
	// Away are the paths that those took out of the shop: what stands there now was made anew, not written over what was there.
	Away []string `json:",omitempty"`
	// Turn names the staging folder, so that no move takes the files of another for its own.
	Turn int `json:",omitempty"`
}

// pending are the commits that were on their way, the last one last.
func (j *journal) pending() []Hash {
	var out []Hash
	for _, p := range append(j.Past[:len(j.Past):len(j.Past)], j.To) {
		if h, ok := goodHash(p); ok {
			out = append(out, h)
		}
	}
	return out
}

func (r *Repo) journalPath() string      { return filepath.Join(r.Own, "journal") }
func (r *Repo) stageRoot() string        { return filepath.Join(r.Own, "in") }
func (r *Repo) stageDir(turn int) string { return filepath.Join(r.stageRoot(), strconv.Itoa(turn)) }

func (r *Repo) readJournal() (*journal, error) {
	data, err := os.ReadFile(r.journalPath())
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, Name(err, r.Own)
	}
	var j journal
	if err := json.Unmarshal(data, &j); err != nil {
		// It is written whole or not at all; an unreadable one is damage, and all it was for is finding the commit again.
		return nil, &Error{ErrDamaged, r.journalPath(), "delete this file and sync again: the incoming work is fetched anew", err}
	}
	return &j, nil
}

func (r *Repo) dropJournal() error {
	err := r.Disk.Remove(r.journalPath())
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return Name(err, r.Own)
	}
	return Name(r.Disk.SyncDir(r.Own), r.Own)
}
