package sync

import (
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"

	"caul/sync/remote"
	"caul/sync/settle"
	"caul/sync/store"
)

// What happened to a file.
type What string

// What may happen to a file.
const (
	Added   What = "added"
	Edited  What = "edited"
	Deleted What = "deleted"
)

// Change is one file that changed.
type Change struct {
	Path string `json:"path"`
	What What   `json:"what"`
}

// State says how a sync with one remote ended.
type State string

// The ways a sync with a remote ends.
const (
	InStep  State = "in step"
	Missing State = "missing" // not plugged in, not reachable: no error
	Failed  State = "failed"
	Offered State = "offered" // a group's folder: looked into, nothing taken
)

// RemoteReport is what went on with one remote.
type RemoteReport struct {
	Name  string      `json:"name"`
	URL   string      `json:"url"`
	Kind  remote.Kind `json:"kind"`
	State State       `json:"state"`
	// Came are the files that differ from what this machine had before, Went those that differ from what the remote had.
	Came []Change `json:"came,omitempty"`
	Went []Change `json:"went,omitempty"`
	// Joined tells that both sides had new work and were settled into one.
	Joined  bool     `json:"joined,omitempty"`
	Error   string   `json:"error,omitempty"`
	Hint    string   `json:"hint,omitempty"`
	Notes   []string `json:"notes,omitempty"`
	Bundles []Bundle `json:"bundles,omitempty"`

	err error
}

// Err is the error of a failed remote, with its kind.
func (r *RemoteReport) Err() error { return r.err }

func (r *RemoteReport) fail(err error) {
	r.err, r.Error, r.State = err, err.Error(), Failed
	r.Hint = NextStep(err)
	if errors.Is(err, remote.ErrAbsent) {
		r.State = Missing
	}
}

// Report is what a sync did, or with DryRun would do.
type Report struct {
	Machine string    `json:"machine"`
	At      time.Time `json:"at"`
	DryRun  bool      `json:"dry_run,omitempty"`
	// Kept are the changes of this machine that were committed, and Message how the commit tells them.
	Kept    []Change       `json:"kept,omitempty"`
	Message string         `json:"message,omitempty"`
	Remotes []RemoteReport `json:"remotes"`
	// BothWays are the records under both-ways/ that are new with this sync.
	BothWays []string `json:"bothWays,omitempty"`
	// Look are notes on what a person may want to look at.
	Look []string `json:"look,omitempty"`
	// Resumed tells that a sync that had been cut off was carried on.
	Resumed bool   `json:"resumed,omitempty"`
	Head    string `json:"head,omitempty"`
}

// Partial tells that at least one remote failed; a missing one does not count.
func (r *Report) Partial() bool {
	for i := range r.Remotes {
		if r.Remotes[i].State == Failed {
			return true
		}
	}
	return false
}

// NextStep is what an error suggests doing; empty when it suggests nothing.
func NextStep(err error) string {
	var e *store.Error
	if errors.As(err, &e) {
		return e.Hint
	}
	return ""
}

// changes lists a difference of trees for a person: without the inner workings.
func changes(ds []store.Diff) []Change {
	out := make([]Change, 0, len(ds))
	for _, d := range ds {
		c := Change{d.Path, Edited}
		switch {
		case d.OldMode == 0:
			c.What = Added
		case d.NewMode == 0:
			c.What = Deleted
		}
		out = append(out, c)
	}
	return out
}

// count puts a number before a word of shop English.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Summary tells changes in one line: by job, in shop words.
func Summary(cs []Change) string {
	jobs := map[string]int{}
	var entries, photos, other, wait, decided int
	for _, c := range cs {
		if strings.HasPrefix(c.Path, settle.RecordFolder+"/") {
			switch c.What {
			case Added:
				wait++
			case Deleted:
				decided++
			}
			continue
		}
		j, rest := splitJob(c.Path)
		if j != "" {
			jobs[j]++
		}
		switch {
		case j != "" && strings.HasPrefix(rest, "log/"):
			entries++
		case j != "" && strings.HasPrefix(rest, "photos/"):
			photos++
		default:
			other++
		}
	}
	var parts []string
	if entries > 0 {
		parts = append(parts, count(entries, "log entry", "log entries"))
	}
	if photos > 0 {
		parts = append(parts, count(photos, "photo", "photos"))
	}
	if other > 0 {
		parts = append(parts, count(other, "file", "files"))
	}
	if wait > 0 {
		parts = append(parts, count(wait, "value to look at", "values to look at"))
	}
	if decided > 0 {
		parts = append(parts, count(decided, "value decided", "values decided"))
	}
	if len(parts) == 0 {
		parts = append(parts, count(len(cs), "record", "records"))
	}
	s := strings.Join(parts, ", ")
	if len(jobs) > 0 && len(jobs) <= 3 {
		names := make([]string, 0, len(jobs))
		for j := range jobs {
			names = append(names, j)
		}
		sort.Strings(names)
		s += " (" + strings.Join(names, ", ") + ")"
	} else if len(jobs) > 3 {
		s += fmt.Sprintf(" (%d jobs)", len(jobs))
	}
	return s
}
