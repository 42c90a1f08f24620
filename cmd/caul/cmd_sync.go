package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/sync"
)

type syncOptions struct {
	dry    bool
	only   []string
	status bool
}

func newSync(e *env) *cobra.Command {
	var o syncOptions
	c := &cobra.Command{
		Use: "sync [REMOTE...]", Short: "keep this machine and the others in step",
		Long: `sync keeps what changed here, fetches what changed elsewhere, settles the two by
what they mean, and hands the result on: to a stick, a folder, another computer.
It may be stopped at any moment and run again. A stick that is not plugged in
is named and is no error.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.only = args
			return runSync(cmd.Context(), e, o)
		},
	}
	c.Flags().BoolVar(&o.dry, "dry-run", false, "change nothing, say what would happen")
	c.Flags().BoolVar(&o.status, "status", false, "only say what changed here since the last sync")
	return c
}

func runSync(ctx context.Context, e *env, o syncOptions) error {
	s, err := openSync(e)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.status {
		st, err := s.Status(ctx)
		if err != nil {
			return err
		}
		return e.print("sync-status", st, func() error {
			if len(st.Changes) == 0 {
				e.printf("nothing changed here since the last sync\n")
			}
			printChanges(e, st.Changes)
			if st.BothWays > 0 {
				e.printf("%d value%s changed on two machines wait%s: caul both-ways\n", st.BothWays, plural(st.BothWays), map[bool]string{true: "s"}[st.BothWays == 1])
			}
			return nil
		})
	}
	for _, n := range o.only {
		if !slices.ContainsFunc(s.Remotes(), func(r sync.Remote) bool { return r.Name == n }) {
			return &fault{code: exitUsage, msg: fmt.Sprintf("no remote %q", n), hint: "`caul remote` lists them; make one known with `caul remote add NAME ADDRESS`"}
		}
	}
	done := e.progress("syncing")
	rep, err := s.Sync(ctx, sync.Options{DryRun: o.dry, Only: o.only, Now: e.now, Ask: e.ask(done), Reread: reread, RereadShop: rereadShop, Secret: tokenOf(s.Dir())})
	done()
	if err != nil {
		return &fault{code: exitFailed, err: err, hint: sync.NextStep(err)}
	}
	if n := unreadIn(s.Dir()); n != "" {
		rep.Look = append([]string{n}, rep.Look...) // the first thing to mend: no other command answers meanwhile
	}
	if err := e.print("sync", rep, func() error { printSync(e, rep); return nil }); err != nil {
		return err
	}
	if rep.Partial() {
		return &fault{code: exitPartial}
	}
	return nil
}

// reread reads a settled file as strictly as every command will.
func reread(path string, data []byte) error { return job.CheckFile(path, data) }

// unreadIn says that a shop's files do not read; "" where they do. They are kept
// in step all the same.
func unreadIn(dir string) string {
	_, err := job.Load(dir)
	var ps job.Problems
	if !errors.As(err, &ps) {
		return ""
	}
	return fmt.Sprintf("%d thing%s in this shop's files cannot be read: caul proof shows where", len(ps), plural(len(ps)))
}

// rereadShop reads what was settled as a folder.
func rereadShop(fsys fs.FS, jobs []string) error { return job.CheckFolder(fsys, jobs) }

func openSync(e *env) (*sync.Shop, error) {
	dir, err := e.shopDir()
	if err != nil {
		return nil, err
	}
	s, err := sync.Open(dir)
	if err != nil {
		return nil, &fault{code: exitFailed, err: err, hint: sync.NextStep(err)}
	}
	return s, nil
}

// ask puts a question of the sync to whoever sits at the terminal; with nobody
// there the answer is no.
func (e *env) ask(pause func()) func(string) bool {
	return func(question string) bool {
		if !e.asks || e.json {
			return false
		}
		pause()
		a := strings.ToLower(e.line(question + " [y/N] "))
		return a == "y" || a == "yes"
	}
}

// listed is how many changed files are named before the rest is counted.
const listed = 12

func printChanges(e *env, cs []sync.Change) {
	for i, c := range cs {
		if i == listed {
			e.printf("    and %d more\n", len(cs)-listed)
			return
		}
		e.printf("    %-8s %s\n", c.What, visible(c.Path))
	}
}
