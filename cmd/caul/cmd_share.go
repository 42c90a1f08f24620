package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"go.yaml.in/yaml/v3"

	"caul/job"
	"caul/site"
	"caul/site/share"
	"caul/sync"
)

type shareOptions struct {
	out   string
	check bool
	never []string
}

func newShare(e *env) *cobra.Command {
	var o shareOptions
	c := &cobra.Command{
		Use: "share JOB", Short: "make a build fit to send: pages and files, scrubbed, and a zip",
		Long: `share makes a bundle of one job for others to read and to build from. Prices,
suppliers, hours, machine names, private notes, remotes and what a camera writes
into a picture stay at home; what was left out is listed. Words of your own that
must never go out stand in shop.yaml under sharing: never: [...].`,
		Args: exactly(1, "a job"),
		RunE: func(cmd *cobra.Command, a []string) error { return runShare(cmd.Context(), e, a[0], o) },
	}
	c.Flags().StringVarP(&o.out, "out", "o", "", "the `folder` to put it in (default: shared, beside the shop's pages)")
	c.Flags().BoolVar(&o.check, "check", false, "write nothing; list every text and picture that would go out")
	c.Flags().StringSliceVar(&o.never, "never", nil, "a word more that must not go out")
	return c
}

func runShare(ctx context.Context, e *env, id string, o shareOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, []string{id}); err != nil {
		return err
	}
	dir := filepath.Join(s.Dir, "site", "shared")
	if o.out != "" {
		dir = e.path(o.out)
	}
	y, m, d := e.now().In(zoneOf(s)).Date()
	in := share.Input{Shop: s, Job: id, Never: append(o.never, privateWords(s.Dir)...), Drawn: time.Date(y, m, d, 0, 0, 0, 0, time.UTC),
		Open: func(p string) ([]byte, error) { return job.ReadFile(s.Dir, p) }, Before: manifestIn(filepath.Join(dir, id))}
	done := e.progress("making the bundle")
	b, err := share.Make(ctx, in)
	done()
	if err != nil {
		return err
	}
	type answer struct {
		Folder   string         `json:"folder,omitempty"`
		Zip      string         `json:"zip,omitempty"`
		Version  string         `json:"version"`
		Changes  []string       `json:"changes,omitempty"`
		LeftOut  []string       `json:"left_out"`
		Likely   []share.Likely `json:"likely,omitempty"`
		Prose    []share.Prose  `json:"prose,omitempty"`
		Pictures []string       `json:"pictures,omitempty"`
	}
	a := answer{Version: b.Manifest.Version, Changes: b.Manifest.Changes, LeftOut: b.LeftOut}
	if o.check {
		a.Likely, a.Prose, a.Pictures = b.Likely, b.Prose, b.Pictures
		return e.print("share-check", a, func() error {
			printLikely(e, b.Likely)
			e.printf("all texts that would go out:\n")
			file := ""
			for _, p := range b.Prose {
				if p.File != file {
					file = p.File
					e.printf("\n%s\n", e.bold(p.File))
				}
				for _, l := range strings.Split(strings.TrimSpace(p.Text), "\n") {
					e.printf("  %s\n", l)
				}
			}
			if len(b.Pictures) > 0 {
				e.printf("\npictures that would go out, without place, time and device; look at what they\nshow, a face, a street, a letter on the bench:\n")
			}
			for _, p := range b.Pictures {
				e.printf("  %s\n", p)
			}
			printLeftOut(e, b.LeftOut)
			return nil
		})
	}
	a.Folder, a.Zip = filepath.Join(dir, id), filepath.Join(dir, id+"-"+b.Manifest.Version+".zip")
	if _, err := site.Write(a.Folder, &site.Site{Pages: b.Files}, nil); err != nil {
		return err
	}
	z, err := share.Zip(b.Files)
	if err != nil {
		return err
	}
	if err := job.WriteFile(a.Zip, z); err != nil {
		return err
	}
	return e.print("share", a, func() error {
		e.printf("folder: %s\nzip:    %s\nversion %s\n", a.Folder, a.Zip, a.Version)
		for _, c := range a.Changes {
			e.printf("  %s\n", c)
		}
		printLeftOut(e, b.LeftOut)
		return nil
	})
}

// printLikely lists what looks personal, to be looked at first.
func printLikely(e *env, all []share.Likely) {
	e.printf("nothing was written\n\n")
	if len(all) == 0 {
		e.printf("nothing looks like a name, a street, a number to call, a price or an address;\nread the texts all the same\n\n")
		return
	}
	e.printf("look at these first; they are guesses, and would go out:\n")
	for _, l := range all {
		at := l.File
		if l.Line > 0 {
			at += fmt.Sprintf(":%d", l.Line)
		}
		says := l.Says
		if r := []rune(says); len(r) > 120 {
			says = string(r[:119]) + "…"
		}
		e.printf("  %s: %s %q\n      %s\n", at, l.What, l.Text, says)
	}
	e.printf("to keep a word in: change it there, mark a log entry `private: true`, or name it\nin shop.yaml under sharing: never: [...]\n\n")
}

func printLeftOut(e *env, what []string) {
	e.printf("\nleft out:\n")
	for _, w := range what {
		e.printf("  %s\n", w)
	}
}

// manifestIn is the manifest of the build shared before, nil when there is
// none.
func manifestIn(dir string) *share.Manifest {
	b, err := os.ReadFile(filepath.Join(dir, "bundle.yaml"))
	if err != nil {
		return nil
	}
	var m share.Manifest
	if yaml.Unmarshal(b, &m) != nil {
		return nil
	}
	return &m
}

// privateWords are what this machine knows that nobody else must: where it
// syncs, and its own name where that is not a common word.
func privateWords(dir string) []string {
	s, err := sync.Open(dir)
	if err != nil {
		return nil
	}
	defer s.Close()
	var out []string
	for _, r := range s.Remotes() {
		out = append(out, r.URL)
	}
	switch m := strings.ToLower(s.Machine()); m {
	case "", "shop", "home", "bench", "desk", "laptop", "phone":
	default:
		out = append(out, s.Machine())
	}
	return out
}
