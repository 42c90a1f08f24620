package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
	"caul/job/demo"
	"caul/job/plan"
	"caul/sync"
)

func newDemo(e *env) *cobra.Command {
	return &cobra.Command{
		Use: "demo [DIR]", Short: "make the demo shop and run the whole job on it",
		Long: `demo makes an invented shop with three jobs, one finished, one in the clamps and
one not begun, and shows what caul answers about it. Its dates are relative to
now, so that it is alive.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "caul-demo"
			if len(args) == 1 {
				dir = args[0]
			}
			return runDemo(cmd.Context(), e, e.path(dir))
		},
	}
}

func runDemo(ctx context.Context, e *env, dir string) error {
	switch ents, err := os.ReadDir(dir); {
	case err == nil && len(ents) > 0:
		return &fault{code: exitUsage, msg: fmt.Sprintf("%s is there already and not empty", dir), hint: "name another folder: caul demo DIR"}
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if err := demo.Write(dir, e.now(), time.Local); err != nil {
		return err
	}
	if _, err := sync.Init(dir, "home"); err != nil {
		return err
	}
	s, err := job.Load(dir)
	if err != nil {
		return err
	}
	done := e.progress("working it out")
	now := e.now()
	n, err := plan.At(s, now, 0, nil)
	if err != nil {
		return noFit(err)
	}
	p, err := plan.Make(ctx, s, now, plan.Options{})
	if err != nil {
		return noFit(err)
	}
	cut, err := cutting.Make(ctx, s, cutting.Options{})
	if err != nil {
		return err
	}
	bill, err := cost.Make(s, cut, cost.Options{})
	if err != nil {
		return err
	}
	page, _, err := drawShop(ctx, e, s, filepath.Join(dir, "site"), nil, results{now, p})
	done()
	if err != nil {
		return err
	}
	return e.print("demo", map[string]any{"dir": dir, "now": n, "plan": p, "cut": cut, "cost": bill, "page": page}, func() error {
		w := e.columns()
		e.printf("The demo shop is in %s\n\n%s\n%s\n", dir, e.bold("NOW"), plan.NowText(fewCautions(n, 1, "caul now --cautions"), w, s.Units))
		e.printf("%s\n%s  the days after that: caul -C %s plan\n\n", e.bold("PLAN"), plan.Text(firstDays(p, 2), w, s.Units), dir)
		e.printf("%s\n%s\n", e.bold("CUTS"), cutting.Summary(cut, w, s.Units.Length))
		e.printf("%s\n%s\n", e.bold("TO BUY"), cost.BuyText(bill, w))
		e.printf("%s\n  %s\n\n", e.bold("PAGES"), page)
		e.printf("try next: caul -C %s now --for 50m\n", dir)
		return nil
	})
}

// firstDays keeps what begins in the first days of a plan.
func firstDays(p *plan.Plan, days int) *plan.Plan {
	q := *p
	q.Items, q.Chain = nil, nil
	end := p.Now.AddDate(0, 0, days)
	for _, it := range p.Items {
		if it.From.Before(end) {
			q.Items = append(q.Items, it)
		}
	}
	return &q
}
