package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
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
		Use: "share JOB", Short: "make a build fit to send: pages and plain files, scrubbed, as a folder and a zip",
		Long: `share makes a bundle of one job for others to read and to build from. Prices,
suppliers, hours, machine names, private notes, remotes and what a camera writes
into a picture stay at home; what was left out is listed. Words of your own that
must never go out stand in shop.yaml under sharing: never: [...].`,
		Args: exactly(1, "a job"),
		RunE: func(cmd *cobra.Command, a []string) error { return runShare(cmd.Context(), e, a[0], o) },
	}
	c.Flags().StringVarP(&o.out, "out", "o", "", "the `folder` to put it in (default: shared, beside the shop's pages)")
	c.Flags().BoolVar(&o.check, "check", false, "write nothing; list every text that would go out")
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
		Folder  string        `json:"folder,omitempty"`
		Zip     string        `json:"zip,omitempty"`
		Version string        `json:"version"`
		Changes []string      `json:"changes,omitempty"`
		LeftOut []string      `json:"left_out"`
		Prose   []share.Prose `json:"prose,omitempty"`
	}
	a := answer{Version: b.Manifest.Version, Changes: b.Manifest.Changes, LeftOut: b.LeftOut}
	if o.check {
		a.Prose = b.Prose
		return e.print("share-check", a, func() error {
			e.printf("nothing was written; these texts would go out:\n")
			for _, p := range b.Prose {
				e.printf("\n%s\n", e.bold(p.File))
				for _, l := range strings.Split(strings.TrimSpace(p.Text), "\n") {
					e.printf("  %s\n", l)
				}
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

type takeOptions struct {
	as       string
	measures []string
	stock    []string
	propose  bool
}

func newTake(e *env) *cobra.Command {
	var o takeOptions
	c := &cobra.Command{
		Use: "take FILE", Short: "take in a build somebody shared, for your own saw, stock and units",
		Long: `take reads a shared build as a stranger's: nothing in it is run, no link is
followed, nothing is written outside its own new job. It asks for the lengths
that depend on your saw and for the stock that stands for theirs.`,
		Args: exactly(1, "a bundle: a zip or a folder"),
		RunE: func(_ *cobra.Command, a []string) error { return runTake(e, a[0], o) },
	}
	c.Flags().StringVar(&o.as, "as", "", "id of the new job (default: as in the bundle)")
	c.Flags().StringArrayVar(&o.measures, "measure", nil, "a length of your own, as `name=12 mm`")
	c.Flags().StringArrayVar(&o.stock, "stock", nil, "stock of your own for theirs, as `theirs=yours`")
	c.Flags().BoolVar(&o.propose, "propose", false, "write nothing; say what must be settled")
	return c
}

func runTake(e *env, file string, o takeOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	b, err := share.Open(e.path(file))
	if errors.Is(err, fs.ErrNotExist) {
		return &fault{code: exitUsage, msg: fmt.Sprintf("no file %s", file)}
	}
	if err != nil {
		return err
	}
	p := share.Propose(b, s)
	if o.propose {
		return e.print("take-proposal", p, func() error { printProposal(e, p); return nil })
	}
	a := share.Answers{As: o.as, Measures: map[string]string{}, Stock: map[string]string{}}
	if err := readPairs(o.measures, "--measure", a.Measures); err != nil {
		return err
	}
	if err := readPairs(o.stock, "--stock", a.Stock); err != nil {
		return err
	}
	askFor(e, p, &a)
	t, err := share.Take(b, s, a, e.now())
	if errors.Is(err, share.ErrAnswer) {
		return &fault{code: exitUsage, err: err, hint: "see `caul take --propose`, then give --measure name=length and --stock theirs=yours"}
	}
	if err != nil {
		return err
	}
	return e.print("take", t, func() error {
		e.printf("taken in as jobs/%s: %d files\n", t.Job, len(t.Files))
		for _, n := range t.Notes {
			e.printf("look: %s\n", n)
		}
		for _, m := range p.Missing {
			e.printf("look: your shop has no %s\n", m)
		}
		e.printf("next: caul proof %s, caul cut %s, caul cost %s, caul plan %s\n", t.Job, t.Job, t.Job, t.Job)
		return nil
	})
}

func readPairs(in []string, flag string, out map[string]string) error {
	for _, kv := range in {
		k, v, ok := strings.Cut(kv, "=")
		if !ok || k == "" || v == "" {
			return &fault{code: exitUsage, msg: fmt.Sprintf("%s %q has no name=value", flag, kv), hint: "write it as in the help of the command"}
		}
		out[strings.TrimSpace(k)] = strings.TrimSpace(v)
	}
	return nil
}

// askFor puts what is not settled yet to whoever sits at the terminal.
func askFor(e *env, p *share.Proposal, a *share.Answers) {
	if !e.asks || e.json || p.Update && a.As == "" {
		return
	}
	for _, q := range p.Questions {
		if _, ok := a.Measures[q.Name]; ok || q.Yours != "" {
			continue
		}
		if v := e.line(fmt.Sprintf("%s (theirs: %s): ", q.Ask, q.Theirs)); v != "" {
			a.Measures[q.Name] = v
		}
	}
	for _, s := range p.Swaps {
		if _, ok := a.Stock[s.Theirs]; ok || len(s.Choices) == 0 || s.Choices[0].Stock == s.Theirs {
			continue
		}
		c := s.Choices[0]
		v := e.line(fmt.Sprintf("which of your stock for %s, %s (%s, %s): ", s.Theirs, s.Thick, c.Stock, c.Thick))
		if v == "" {
			v = c.Stock
		}
		a.Stock[s.Theirs] = v
	}
}

func printProposal(e *env, p *share.Proposal) {
	e.printf("%s\n", e.bold(p.Name))
	if p.By != "" {
		e.printf("by %s\n", p.By)
	}
	e.printf("version %s, drawn in %s\n", p.Version, p.Units)
	if p.Update {
		e.printf("an earlier version is in this shop; taking it in settles the two\n")
	}
	if len(p.Questions) > 0 {
		e.printf("\nlengths of your own:\n")
	}
	for _, q := range p.Questions {
		e.printf("  %s: %s\n    theirs %s", q.Name, q.Ask, q.Theirs)
		if q.Yours != "" {
			e.printf(", yours %s (shop.yaml)", q.Yours)
		}
		e.printf("\n")
	}
	if len(p.Swaps) > 0 {
		e.printf("\nstock:\n")
	}
	for _, s := range p.Swaps {
		e.printf("  %s, %s, for %s\n", s.Theirs, s.Thick, strings.Join(s.Parts, ", "))
		if len(s.Choices) == 0 {
			e.printf("    your shop has no %s that could stand for it: add one to stock.yaml\n", s.Form)
		}
		for i, c := range s.Choices {
			if i == 3 {
				break
			}
			e.printf("    %s, %s", c.Stock, c.Thick)
			if c.Differs != "" {
				e.printf(", %s", c.Differs)
			}
			e.printf("\n")
			for _, ch := range c.Changes {
				e.printf("      changes: %s\n", ch)
			}
		}
	}
	for _, m := range p.Missing {
		e.printf("your shop has no %s\n", m)
	}
}
