package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"time"

	"caul/job"
)

// env is everything a command may touch besides the shop's folder.
type env struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time
	getenv   func(string) string
	cwd      string
	terminal bool                       // out is a terminal
	asks     bool                       // somebody can answer on in
	width    int                        // columns, 0 when not known
	height   int                        // rows, 0 when not known
	size     func() (width, height int) // asks the terminal again, for what stays open; may be nil
	lines    *bufio.Reader

	// Flags every command takes.
	dir  string
	json bool
}

// columns is the width text is laid out for.
func (e *env) columns() int {
	if n, err := strconv.Atoi(e.getenv("COLUMNS")); err == nil && n >= 20 {
		return n
	}
	if e.width >= 20 {
		return e.width
	}
	return 80
}

// rows is how many lines a screen may fill.
func (e *env) rows() int {
	if e.height >= 8 {
		return e.height
	}
	return 24
}

// plain reports that no styling may be written.
func (e *env) plain() bool {
	return !e.terminal || e.getenv("NO_COLOR") != "" || e.getenv("TERM") == "dumb"
}

func (e *env) bold(s string) string { return e.style("1", s) }

func (e *env) style(code, s string) string {
	if e.plain() || s == "" {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

func (e *env) printf(format string, a ...any) { fmt.Fprintf(e.out, format, a...) }

// shopDir is the shop the command works on: the folder of -C, or the nearest
// folder upwards that holds a shop.yaml.
func (e *env) shopDir() (string, error) {
	start := e.cwd
	if e.dir != "" {
		start = e.dir
		if !filepath.IsAbs(start) {
			start = filepath.Join(e.cwd, start)
		}
		// a folder that is named has to be there: a slip must not end in the shop above it
		if fi, err := os.Stat(start); err == nil && !fi.IsDir() {
			return "", &fault{code: exitUsage, msg: fmt.Sprintf("-C %s is a file", e.dir), hint: "name the folder it lies in: -C " + filepath.Dir(e.dir)}
		} else if errors.Is(err, fs.ErrNotExist) {
			return "", &fault{code: exitUsage, msg: fmt.Sprintf("-C %s: there is no such folder", e.dir), hint: "name a shop's folder, or make one with `caul new shop " + e.dir + "`"}
		}
	}
	for d := filepath.Clean(start); ; d = filepath.Dir(d) {
		if _, err := os.Lstat(filepath.Join(d, "shop.yaml")); err == nil {
			return d, nil
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		if d == filepath.Dir(d) {
			return "", &fault{code: exitUsage, msg: fmt.Sprintf("no shop.yaml in %s or any folder above it", start),
				hint: "make a shop with `caul new shop DIR`, or name one with -C DIR"}
		}
	}
}

// shop reads the shop the command works on.
func (e *env) shop() (*job.Shop, error) {
	dir, err := e.shopDir()
	if err != nil {
		return nil, err
	}
	return job.Load(dir)
}

// answer is the shape of everything printed with --json; Caul counts up when a
// field changes its meaning, never when one is added.
type answer struct {
	Caul   int    `json:"caul"`
	Kind   string `json:"kind"`
	Answer any    `json:"answer,omitempty"`
	Error  any    `json:"error,omitempty"`
}

// jsonVersion is the version of every --json shape.
const jsonVersion = 1

// print writes v as JSON when --json was given, else calls text.
func (e *env) print(kind string, v any, text func() error) error {
	if !e.json {
		return text()
	}
	if r := reflect.ValueOf(v); r.Kind() == reflect.Slice && r.IsNil() {
		v = []string{} // a list with nothing in it is a list
	}
	return e.writeJSON(answer{Caul: jsonVersion, Kind: kind, Answer: v})
}

func (e *env) writeJSON(a answer) error {
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(a)
}

// openJobs checks that every name is a job of the shop, and returns all jobs
// when none is named.
func pickJobs(s *job.Shop, names []string) ([]string, error) {
	var have []string
	for _, j := range s.Jobs {
		have = append(have, j.ID)
	}
	for _, n := range names {
		found := false
		for _, h := range have {
			found = found || h == n
		}
		if !found {
			hint := "make one with `caul new job ID`"
			if len(have) > 0 {
				hint = "the jobs are: " + strings.Join(have, ", ")
			}
			return nil, &fault{code: exitUsage, msg: fmt.Sprintf("no job %q in this shop", n), hint: hint}
		}
	}
	if len(names) == 0 {
		return have, nil
	}
	return names, nil
}

// line asks one question at the terminal and reads the answer.
func (e *env) line(question string) string {
	fmt.Fprint(e.err, question)
	if e.lines == nil {
		e.lines = bufio.NewReader(e.in)
	}
	s, _ := e.lines.ReadString('\n')
	return strings.TrimSpace(s)
}
