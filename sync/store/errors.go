package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/go-git/go-git/v5/plumbing"
)

// Kinds of trouble. An *Error wraps one of them and carries what to do next.
var (
	ErrBusy      = errors.New("the shop is being worked on by another program")
	ErrDamaged   = errors.New("damaged object in the history")
	ErrMissing   = errors.New("object missing from the history")
	ErrFull      = errors.New("the disk is full")
	ErrReadOnly  = errors.New("the disk is read-only")
	ErrGone      = errors.New("the disk went away in the middle of the work")
	ErrEdited    = errors.New("a file was edited while the sync was running")
	ErrInTheWay  = errors.New("a file that git ignores is in the way of an incoming one")
	ErrUnsafe    = errors.New("a name that must not be written to a disk")
	ErrUnmerged  = errors.New("an unfinished git merge or rebase")
	ErrNotAShop  = errors.New("no shop history here")
	ErrMoved     = errors.New("the branch moved in the meantime")
	ErrUnhandled = errors.New("a repository of a kind that caul does not write")
)

// Error is a named trouble with the place and the next step.
type Error struct {
	Kind error  // one of the Err values of this package
	Path string // file, folder or object
	Hint string // what to do next
	Err  error  // what the system said, may be nil
}

func (e *Error) Error() string {
	s := e.Kind.Error()
	if e.Path != "" {
		s = e.Path + ": " + s
	}
	if err := e.Err; err != nil {
		var at *fs.PathError
		if errors.As(err, &at) && e.Path != "" && strings.HasPrefix(at.Path, e.Path) { // the place is told already
			err = at.Err
		}
		s = fmt.Sprintf("%s (%v)", s, err)
	}
	return s
}

// Unwrap gives the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// NextStep is what the user may do about it.
func (e *Error) NextStep() string { return e.Hint }

// Name turns what a system says about a disk into one of the named kinds; other errors pass through.
func Name(err error, where string) error {
	var named *Error
	switch {
	case err == nil || errors.As(err, &named):
		return err
	case isFull(err):
		return &Error{ErrFull, where, "make room and sync again; nothing was lost", err}
	case isReadOnly(err), errors.Is(err, fs.ErrPermission):
		return &Error{ErrReadOnly, where, "set the write-protect switch off or check the folder's permissions, then sync again", err}
	case isGone(err):
		return &Error{ErrGone, where, "put the stick or share back and sync again; nothing was lost", err}
	}
	return err
}

func damaged(h plumbing.Hash, where string, err error) error {
	return &Error{ErrDamaged, where + ": " + h.String(), "sync again with a remote or machine that still has it; git fsck lists all damage", err}
}

func missing(h plumbing.Hash, where string) error {
	return &Error{ErrMissing, where + ": " + h.String(), "sync again with a remote or machine that still has it; git fsck lists all damage", nil}
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
