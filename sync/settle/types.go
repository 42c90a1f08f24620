package settle

import "time"

// File is one version of a path: absent, or its bytes.
type File struct {
	Exists bool
	Data   []byte
}

// Edit is one change a machine made to the path: a commit with one parent in
// which the path's bytes differ from the parent's. Commits that only settle
// (two parents) are no edits.
type Edit struct {
	Machine       string
	When          time.Time
	Before, After File
}

// Side says who last changed the path on one side, and when.
type Side struct {
	Machine string
	When    time.Time
	// Edits, if not nil, gives the edits of this path that this side has and
	// the other has not, in any order. It is asked only when both sides
	// changed one value, and lets "newer" be decided by the edit that made
	// that value, not by the file's last change. Without it When decides.
	Edits func() []Edit
}

// Version is a file together with its side, for SettleBases.
type Version struct {
	File File
	Side Side
}

// Options are the caller's hooks. The zero value is usable.
type Options struct {
	// Reread, if not nil, reads a settled file as strictly as the program
	// will. When it fails on a result put together by meaning, one side is
	// kept whole and the other goes whole into a record; of the two, one that
	// reads is kept before one that does not. A file that comes unchanged from
	// one side is taken as it is.
	Reread func(path string, data []byte) error
}

// Out is one file to write (or delete) as the outcome of settling.
type Out struct {
	Path    string
	Deleted bool
	Data    []byte
}

// Outcome is what became of one path.
type Outcome struct {
	// Files has the path itself first; a second file when both versions of a
	// photo, log entry or other binary are kept.
	Files []Out
	// BothWays are the values that both sides changed; the caller writes each
	// as a file (Record.Name, Record.Marshal) or lets SettleFolder do so.
	BothWays []Record
	// Notes tell in shop words what a person may want to look at.
	Notes []string
}

// Kind says how a record's values are found again in the file.
type Kind string

const (
	// KindValue is a YAML value, found by its key path.
	KindValue Kind = "value"
	// KindFront is a value in the front matter of a Markdown file.
	KindFront Kind = "front-matter value"
	// KindPassage is a passage of text (paragraph, task, comment, line), found
	// by its wording.
	KindPassage Kind = "passage"
	// KindFile is the whole file.
	KindFile Kind = "file"
)

// Value is one side's value in a record. Exists is false where that side
// deleted it.
type Value struct {
	Exists  bool
	Data    []byte
	Machine string
	When    time.Time
}

// Record is one value that two machines changed differently: what it was,
// what stands in the file now, and the other value, whole.
type Record struct {
	Path string // the file, relative to the shop
	Kind Kind
	What string // `parts[skin].size`, `paragraph under "Glue-up"`, `whole file`
	Base File   // the value both started from
	// Stands is in the file, Other is not.
	Stands, Other Value
}

// Which names one of a record's two values.
type Which int

const (
	TakeStands Which = iota
	TakeOther
)
