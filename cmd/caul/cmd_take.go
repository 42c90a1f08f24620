package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"caul/site/share"
)

type takeOptions struct {
	as       string
	measures []string
	stock    []string
	cutters  []string
	machines []string
	blades   []string
	glues    []string
	add      bool
	propose  bool
}

func newTake(e *env) *cobra.Command {
	var o takeOptions
	c := &cobra.Command{
		Use: "take FILE", Short: "take in a build somebody shared, for your own saw, stock and units",
		Long: `take reads a shared build as a stranger's: nothing in it is run, no link is
followed, nothing is written outside its own new job. It asks for the lengths
that depend on your saw, and for what of yours stands for their stock, cutters
and machines. With --propose it only says what is to be settled; without, it
writes the job when all of that is settled and the whole shop reads with it,
and nothing otherwise. A later version of a build is settled with your copy.`,
		Args: exactly(1, "a bundle: a zip or a folder"),
		RunE: func(_ *cobra.Command, a []string) error { return runTake(e, a[0], o) },
	}
	f := c.Flags()
	f.StringVar(&o.as, "as", "", "`id` of the new job (default: as in the bundle)")
	f.StringArrayVar(&o.measures, "measure", nil, "a length of your own, as `name=12 mm`")
	f.StringArrayVar(&o.stock, "stock", nil, "stock of your own for theirs, as `theirs=yours`")
	f.StringArrayVar(&o.cutters, "cutter", nil, "a cutter of your own for theirs, as `theirs=yours`")
	f.StringArrayVar(&o.machines, "machine", nil, "a machine of your own for theirs, or \"by hand\", as `theirs=yours`")
	f.StringArrayVar(&o.blades, "blade", nil, "a blade of your own for theirs, as `theirs=yours`")
	f.StringArrayVar(&o.glues, "glue", nil, "a glue of your own for theirs, as `theirs=yours`")
	f.BoolVar(&o.add, "add-missing", false, "add the cutters, machines and kinds of stock you lack to shop.yaml and stock.yaml, as theirs are")
	f.BoolVar(&o.propose, "propose", false, "write nothing; say what must be settled")
	return c
}

func runTake(e *env, file string, o takeOptions) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := os.Lstat(filepath.Join(e.path(file), "shop.yaml")); err == nil {
		return &fault{code: exitUsage, msg: file + " is a shop, not a shared build", hint: "there, `caul share JOB` makes a build fit to take; `caul remote copy` copies a whole shop"}
	}
	b, err := share.Open(e.path(file))
	if errors.Is(err, fs.ErrNotExist) {
		return &fault{code: exitUsage, msg: fmt.Sprintf("no file %s", file), hint: "name the .zip or the folder that `caul share` made"}
	}
	if err != nil {
		return err
	}
	a := share.Answers{As: o.as, AddMissing: o.add, Measures: map[string]string{}, Stock: map[string]string{}, Cutters: map[string]string{},
		Machines: map[string]string{}, Blades: map[string]string{}, Glues: map[string]string{}}
	for _, p := range []struct {
		in   []string
		flag string
		out  map[string]string
	}{{o.measures, "--measure", a.Measures}, {o.stock, "--stock", a.Stock}, {o.cutters, "--cutter", a.Cutters},
		{o.machines, "--machine", a.Machines}, {o.blades, "--blade", a.Blades}, {o.glues, "--glue", a.Glues}} {
		if err := readPairs(p.in, p.flag, p.out); err != nil {
			return err
		}
	}
	p := share.Propose(b, s, a)
	if o.propose {
		return e.print("take-proposal", p, func() error { printProposal(e, p); return nil })
	}
	askFor(e, p, &a)
	t, err := share.Take(b, s, a, e.now())
	if errors.Is(err, share.ErrAnswer) {
		return &fault{code: exitUsage, err: err, hint: "nothing was written; see `caul take --propose`, then answer with --measure, --stock, --cutter, --machine, or --add-missing"}
	}
	if err != nil {
		return err
	}
	return e.print("take", t, func() error {
		if len(t.Files) == 0 {
			e.printf("jobs/%s: this version is in the shop already; nothing was written\n", t.Job)
			return nil
		}
		e.printf("taken in as jobs/%s: %d files written\n", t.Job, len(t.Files))
		for _, n := range t.Notes {
			e.printf("look: %s\n", n)
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
	for _, s := range p.Swaps {
		if _, ok := a.Stock[s.Theirs]; ok || len(s.Choices) == 0 || s.Choices[0].Stock == s.Theirs {
			continue
		}
		c := s.Choices[0]
		if c.Far { // nothing that pressing Enter may stand for
			if v := e.line(fmt.Sprintf("which of your stock for %s, %s (none of yours is near it): ", s.Theirs, s.Thick)); v != "" {
				a.Stock[s.Theirs] = v
			}
			continue
		}
		v := e.line(fmt.Sprintf("which of your stock for %s, %s (%s, %s): ", s.Theirs, s.Thick, c.Stock, c.Thick))
		if v == "" {
			v = c.Stock
		}
		a.Stock[s.Theirs] = v
	}
	for _, q := range p.Questions {
		if _, ok := a.Measures[q.Name]; ok || q.Yours != "" || q.Follows != "" {
			continue
		}
		if v := e.line(fmt.Sprintf("%s (theirs: %s): ", q.Ask, q.Theirs)); v != "" {
			a.Measures[q.Name] = v
		}
	}
	for _, n := range p.Needs {
		to := map[string]map[string]string{"cutter": a.Cutters, "machine": a.Machines}[n.Kind]
		if n.Settled != "" || to == nil {
			continue
		}
		q := fmt.Sprintf("which of your %ss for %s", n.Kind, n.Theirs)
		if len(n.Choices) > 0 {
			q += " (" + strings.Join(n.Choices, ", ") + ")"
		}
		if v := e.line(q + ": "); v != "" {
			to[n.Theirs] = v
		}
	}
}

func printProposal(e *env, p *share.Proposal) {
	e.printf("%s\n", e.bold(p.Name))
	if p.By != "" {
		e.printf("by %s\n", p.By)
	}
	units := map[string]string{"in": "inches", "mm": "millimetres"}[p.Units]
	if units == "" {
		units = p.Units
	}
	e.printf("version %s, written in %s, which it keeps\n", p.Version, units)
	if p.Update {
		e.printf("an earlier version is in this shop; taking it in settles the two\n")
	}
	if len(p.Questions) > 0 {
		e.printf("\nlengths of your own:\n")
	}
	for _, q := range p.Questions {
		name := q.Name
		if q.Ask != q.Name {
			name += ": " + q.Ask
		}
		e.printf("  %s\n    theirs %s", name, q.Theirs)
		switch {
		case q.Yours != "":
			e.printf(", yours %s (shop.yaml)", q.Yours)
		case q.Follows != "":
			e.printf("; yours follows from the stock you choose for %s", q.Follows)
		}
		e.printf("\n")
	}
	if len(p.Swaps) > 0 {
		e.printf("\nstock:\n")
	}
	for _, s := range p.Swaps {
		e.printf("  %s, %s, for %s\n", s.Theirs, s.Thick, strings.Join(s.Parts, ", "))
		if len(s.Choices) == 0 {
			e.printf("    your shop has no %s that could stand for it: --add-missing adds theirs\n", s.Form)
		} else if s.Choices[0].Far {
			e.printf("    none of yours is near as thick: --add-missing adds theirs\n")
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
	if len(p.Needs) > 0 {
		e.printf("\nwhat your shop has otherwise, or not at all:\n")
	}
	for _, n := range p.Needs {
		e.printf("  %s %s", n.Kind, n.Theirs)
		if n.What != "" {
			e.printf(" (%s)", n.What)
		}
		switch {
		case n.Settled != "":
			e.printf(": %s\n", n.Settled)
		case len(n.Choices) > 0:
			e.printf(": you have none like it; --%s %s=%s, or --add-missing\n", n.Kind, quoted(n.Theirs), quoted(n.Choices[0]))
		default:
			e.printf(": you have none; --add-missing adds theirs to shop.yaml\n")
		}
	}
}

// quoted writes a word as a shell wants it.
func quoted(s string) string {
	if strings.ContainsAny(s, " \t") {
		return "'" + s + "'"
	}
	return s
}
