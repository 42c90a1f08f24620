package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"

	"caul/job"
)

// Exit codes, as `caul help exit-codes` lists them.
const (
	exitOK      = 0
	exitFailed  = 1
	exitUsage   = 2
	exitFiles   = 3
	exitStops   = 4
	exitNoFit   = 5
	exitPartial = 6
)

const exitCodes = `exit codes:
  0  done
  1  could not be done: a file, disk or network error
  2  the command was not understood, or names something that is not there
  3  the shop's files do not read; every error is listed with file:line:col
  4  proof found something that would ruin a part or hurt somebody
  5  no plan or no layout can be made; what would do is said
  6  done in part: some remote could not be reached or some value needs a look
`

// fault is an error with the exit code and the next step it should carry.
type fault struct {
	code int
	msg  string
	hint string
	err  error
}

func (f *fault) Error() string {
	if f.msg != "" {
		return f.msg
	}
	if f.err != nil {
		return f.err.Error()
	}
	return "failed"
}

func (f *fault) Unwrap() error { return f.err }

// report is the one place where an error becomes text and an exit code.
func report(e *env, err error) int {
	code := exitFailed
	hint := ""
	msg := err.Error()
	var f *fault
	var probs job.Problems
	var h interface{ Hint() string }
	switch {
	case errors.As(err, &f):
		code, hint = f.code, f.hint
	case errors.As(err, &probs):
		code = exitFiles
	case errors.Is(err, context.Canceled):
		msg, hint = "stopped", "nothing was half written; run the command again"
	case errors.As(err, &h):
		hint = h.Hint()
	}
	var onDisk *fs.PathError
	if probs == nil && errors.As(err, &onDisk) {
		if f == nil || f.msg == "" {
			at := onDisk.Path
			if strings.HasPrefix(filepath.Base(at), ".caul-") {
				at = filepath.Dir(at) // a file half written, whose name says nothing to anybody
			}
			msg = at + ": " + onDisk.Err.Error()
		}
		if hint == "" {
			hint = diskStep(onDisk)
		}
	}
	if hint == "" && probs == nil {
		hint = "nothing was half written; `caul proof` looks the shop's files over"
	}
	if f != nil && f.msg == "" && f.err == nil {
		return code // said already on standard output
	}
	const mend = "mend the place named first; `caul help files` lists every key"
	if e.json {
		if probs != nil {
			msg, hint = unread(probs), mend
		}
		body := map[string]any{"text": msg, "code": code}
		if hint != "" {
			body["hint"] = hint
		}
		if probs != nil {
			body["problems"] = probs
		}
		_ = e.writeJSON(answer{Caul: jsonVersion, Kind: "error", Error: body})
		return code
	}
	if probs != nil {
		fmt.Fprintln(e.err, strings.TrimRight(probs.Error(), "\n"))
		fmt.Fprintf(e.err, "\nerror: %s\n", unread(probs))
		fmt.Fprintln(e.err, "hint: "+mend)
		return code
	}
	fmt.Fprintln(e.err, "error: "+msg)
	if hint != "" {
		fmt.Fprintln(e.err, "hint: "+hint)
	}
	return code
}

func unread(ps job.Problems) string {
	return fmt.Sprintf("%d thing%s in this shop's files cannot be read; nothing was written", len(ps), plural(len(ps)))
}

// diskStep is what to do about a file or folder that refuses.
func diskStep(err *fs.PathError) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "check the name; the folder it lies in has to be there"
	case errors.Is(err, fs.ErrPermission):
		return "look at who may read and write there"
	case errors.Is(err, fs.ErrExist):
		return "name another file or folder; nothing is written over"
	}
	return "look at the disk and the folder, and give the command again"
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

func usage(format string, a ...any) error {
	return &fault{code: exitUsage, msg: fmt.Sprintf(format, a...), hint: "see `caul help`"}
}
