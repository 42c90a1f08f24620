package main

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/rogpeppe/go-internal/testscript"
)

// same holds every file of two folders against each other, names and bytes.
func same(ts *testscript.TestScript, neg bool, args []string) {
	a, b := filesOf(ts, args[0]), filesOf(ts, args[1])
	why := ""
	for p, data := range a {
		if other, ok := b[p]; !ok {
			why = p + " is in " + args[0] + " only"
		} else if !bytes.Equal(data, other) {
			why = p + " differs"
		}
	}
	for p := range b {
		if _, ok := a[p]; !ok {
			why = p + " is in " + args[1] + " only"
		}
	}
	if len(a) == 0 {
		why = args[0] + " is empty"
	}
	if (why == "") == neg {
		ts.Fatalf("%s and %s: %s", args[0], args[1], why)
	}
}

func filesOf(ts *testscript.TestScript, dir string) map[string][]byte {
	out, root := map[string][]byte{}, ts.MkAbs(dir)
	ts.Check(filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		out[filepath.ToSlash(rel)], err = os.ReadFile(p)
		return err
	}))
	return out
}
