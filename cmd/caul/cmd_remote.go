package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"caul/sync"
)

func newRemote(e *env) *cobra.Command {
	c := &cobra.Command{Use: "remote", Short: "the places this machine syncs with", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return runRemoteList(e) }}
	var o sync.RemoteOptions
	add := &cobra.Command{
		Use: "add NAME ADDRESS", Short: "make a place known: a folder, ssh://host/path or https://host/path",
		Args: exactly(2, "a name and an address"),
		RunE: func(_ *cobra.Command, a []string) error { return runRemoteAdd(e, a[0], a[1], o) },
	}
	add.Flags().BoolVar(&o.Group, "group", false, "others' work: only shared builds are taken from it")
	add.Flags().BoolVar(&o.Auto, "auto", false, "sync with it after every log entry, when it is there")
	add.Flags().StringVar(&o.Branch, "branch", "", "the branch there (default: the one it has)")
	rm := &cobra.Command{
		Use: "forget NAME", Short: "forget a place; nothing there is touched",
		Args: exactly(1, "the remote's name"),
		RunE: func(_ *cobra.Command, a []string) error { return runRemoteForget(e, a[0]) },
	}
	c.AddCommand(add, rm, newCopy(e))
	return c
}

func runRemoteList(e *env) error {
	s, err := openSync(e)
	if err != nil {
		return err
	}
	defer s.Close()
	rs := s.Remotes()
	return e.print("remotes", rs, func() error {
		for _, r := range rs {
			e.printf("%-12s %-8s %s\n", r.Name, r.Kind, r.URL)
		}
		if len(rs) == 0 {
			e.printf("none yet; add one: caul remote add stick /media/stick\n")
		}
		return nil
	})
}

func runRemoteAdd(e *env, name, addr string, o sync.RemoteOptions) error {
	s, err := openSync(e)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := s.AddRemote(name, addr, o); err != nil {
		return &fault{code: exitUsage, err: err, hint: sync.NextStep(err)}
	}
	return e.print("remote", map[string]string{"name": name, "url": addr}, func() error {
		e.printf("%s is known now; next: caul sync %s\n", name, name)
		return nil
	})
}

func runRemoteForget(e *env, name string) error {
	s, err := openSync(e)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := s.RemoveRemote(name); err != nil {
		return &fault{code: exitUsage, err: err, hint: sync.NextStep(err)}
	}
	return e.print("remote", map[string]string{"forgotten": name}, func() error {
		e.printf("%s is forgotten; nothing there was touched\n", name)
		return nil
	})
}

// newCopy makes a second machine's copy of a shop.
func newCopy(e *env) *cobra.Command {
	var machine, name string
	c := &cobra.Command{
		Use: "copy ADDRESS DIR", Short: "make this machine's own copy of a shop that lies at an address",
		Args: exactly(2, "an address and a folder"),
		RunE: func(cmd *cobra.Command, a []string) error {
			return runCopy(cmd.Context(), e, a[0], a[1], machine, name)
		},
	}
	c.Flags().StringVar(&machine, "machine", "shop", "name of this machine in the log, as shop or home")
	c.Flags().StringVar(&name, "name", "stick", "what the address is called from now on")
	return c
}

func runCopy(ctx context.Context, e *env, addr, dir, machine, name string) error {
	full := e.path(dir)
	_, before := os.Lstat(full)
	done := e.progress("copying")
	s, rep, err := sync.Clone(ctx, addr, full, machine, name, sync.RemoteOptions{}, sync.Options{Now: e.now, Ask: e.ask(done), Reread: reread, RereadShop: rereadShop})
	done()
	if err != nil {
		return &fault{code: exitFailed, err: err, hint: sync.NextStep(err)}
	}
	defer s.Close()
	if _, err := os.Lstat(filepath.Join(full, "shop.yaml")); err != nil {
		f := &fault{code: exitFailed, msg: "there is no shop at " + addr, hint: "check the address; another machine puts the shop there with `caul remote add` and `caul sync`"}
		if len(rep.Remotes) > 0 && rep.Remotes[0].Error != "" {
			f.msg, f.hint = rep.Remotes[0].Error, rep.Remotes[0].Hint
		}
		if errors.Is(before, fs.ErrNotExist) {
			_ = os.RemoveAll(full) // made just now, and nothing came
		}
		return f
	}
	return e.print("copy", rep, func() error {
		e.printf("the shop is in %s\n", s.Dir())
		return nil
	})
}

func newMachine(e *env) *cobra.Command {
	return &cobra.Command{
		Use: "machine [NAME]", Short: "this machine's name in the log", Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, a []string) error {
			s, err := openSync(e)
			if err != nil {
				return err
			}
			defer s.Close()
			if len(a) == 1 {
				if err := s.SetMachine(a[0]); err != nil {
					return &fault{code: exitUsage, err: err, hint: sync.NextStep(err)}
				}
			}
			return e.print("machine", map[string]string{"machine": s.Machine()}, func() error {
				e.printf("%s\n", s.Machine())
				return nil
			})
		},
	}
}

// machineName is this machine's name for the log, "shop" when it has none.
func machineName(dir string) string {
	s, err := sync.Open(dir)
	if err != nil {
		return "shop"
	}
	defer s.Close()
	if s.Machine() == "" {
		return "shop"
	}
	return s.Machine()
}
