package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/sync"
)

func newNew(e *env) *cobra.Command {
	c := &cobra.Command{Use: "new", Short: "make a shop or a job", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	c.AddCommand(newNewShop(e), newNewJob(e))
	return c
}

type newShopOptions struct {
	name, units, zone, money, machine string
}

func newNewShop(e *env) *cobra.Command {
	var o newShopOptions
	c := &cobra.Command{
		Use: "shop DIR", Short: "make a shop: a folder of plain files, kept in git",
		Args: exactly(1, "the folder to make"),
		RunE: func(_ *cobra.Command, args []string) error { return runNewShop(e, args[0], o) },
	}
	c.Flags().StringVar(&o.name, "name", "", "what the shop is called")
	c.Flags().StringVar(&o.units, "units", "in", "in or mm")
	c.Flags().StringVar(&o.zone, "zone", "", "time zone, as Europe/Berlin (default: this machine's)")
	c.Flags().StringVar(&o.money, "money", "USD", "currency, ISO 4217")
	c.Flags().StringVar(&o.machine, "machine", "home", "name of this machine in the log, as shop or home")
	return c
}

func runNewShop(e *env, given string, o newShopOptions) error {
	dir := given
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(e.cwd, dir)
	}
	if args := strings.TrimSpace(given); args == "" {
		return &fault{code: exitUsage, msg: "caul new shop needs the folder to make", hint: "such as: caul new shop my-shop"}
	}
	if err := sync.CheckName(o.machine); err != nil {
		return &fault{code: exitUsage, msg: "--machine: " + err.Error(), hint: sync.NextStep(err)}
	}
	if o.name == "" {
		o.name = filepath.Base(dir)
	}
	if err := job.NewShop(dir, o.name, job.NewShopOptions{Units: o.units, Zone: o.zone, Money: o.money}); err != nil {
		return refused(err, "name a new or an empty folder; `caul new shop --help` shows what else it takes")
	}
	if _, err := sync.Init(dir, o.machine); err != nil {
		return err
	}
	made := map[string]string{"dir": dir}
	if over := shopAbove(filepath.Dir(dir)); over != "" {
		made["inside"] = over
	}
	return e.print("new-shop", made, func() error {
		e.printf("made %s\n", dir)
		if over := made["inside"]; over != "" {
			e.printf("look: it lies inside another shop, %s, which neither reads nor syncs it\n", over)
		}
		e.printf("next: read %s and set hours, air, clamps and machines to your own\n", filepath.Join(dir, "shop.yaml"))
		e.printf("then: caul -C %s new job ID\n", dir)
		return nil
	})
}

// shopAbove is the shop that a folder lies in, or "".
func shopAbove(dir string) string {
	for d := filepath.Clean(dir); ; d = filepath.Dir(d) {
		if _, err := os.Lstat(filepath.Join(d, "shop.yaml")); err == nil {
			return d
		}
		if d == filepath.Dir(d) {
			return ""
		}
	}
}

func newNewJob(e *env) *cobra.Command {
	var name string
	c := &cobra.Command{
		Use: "job ID", Short: "make a job: a folder under jobs/",
		Args: exactly(1, "an id for the job, as sled-fence"),
		RunE: func(_ *cobra.Command, args []string) error { return runNewJob(e, args[0], name) },
	}
	c.Flags().StringVar(&name, "name", "", "what the job is called")
	return c
}

func runNewJob(e *env, id, name string) error {
	dir, err := e.shopDir()
	if err != nil {
		return err
	}
	if name == "" {
		name = id
	}
	if err := job.NewJob(dir, id, name); err != nil {
		return refused(err, newJobHint(err, id))
	}
	at := filepath.Join(dir, "jobs", id)
	return e.print("new-job", map[string]string{"dir": at}, func() error {
		e.printf("made %s\n", at)
		e.printf("next: write its parts and steps in job.yaml, its story in build.md, then `caul proof %s`\n", id)
		return nil
	})
}

// newJobHint is the next step after a job that could not be made.
func newJobHint(err error, id string) string {
	if job.IsThere(err) {
		return "write on in its job.yaml, or give the new one another id"
	}
	if slug := job.IDFrom(id); slug != "" && slug != id {
		return fmt.Sprintf("such as: caul new job %s --name %q", slug, id)
	}
	return "such as: caul new job sled-fence --name \"Crosscut sled fence\""
}

// refused gives what was asked for and cannot be made its exit code; a disk
// that fails keeps its own.
func refused(err error, hint string) error {
	var onDisk *fs.PathError
	var probs job.Problems
	if errors.As(err, &onDisk) || errors.As(err, &probs) {
		return err
	}
	return &fault{code: exitUsage, msg: err.Error(), hint: hint, err: err}
}

// exactly asks for n arguments and says what they are when they are missing.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			return &fault{code: exitUsage, msg: cmd.CommandPath() + " needs " + what, hint: "write it as `" + strings.TrimSuffix(cmd.UseLine(), " [flags]") + "`"}
		}
		return nil
	}
}

// atLeast asks for n arguments or more and says what the first are.
func atLeast(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < n {
			return exactly(n, what)(cmd, args)
		}
		return nil
	}
}
