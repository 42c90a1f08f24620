package main

import (
	"flag"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "write what the commands print now into the scripts")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"caul": func() { os.Exit(realMain()) },
	})
}

// TestScript runs every command as a user would, in an empty folder, with no
// git program, no network and a clock that stands still.
func TestScript(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"photo": photo, "bare": bare, "same": same},
		Setup: func(env *testscript.Env) error {
			env.Setenv("CAUL_NOW", "2026-03-14T09:00:00-06:00")
			env.Setenv("TZ", "America/Denver")
			env.Setenv("COLUMNS", "80")
			env.Setenv("HOME", env.WorkDir)
			return nil
		},
	})
}
