package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
)

type costOptions struct {
	copies  int
	oneStop bool
	hours   bool
	offcuts bool
	csv     bool
	list    bool // only what to buy
	upTo    int
}

func newCost(e *env) *cobra.Command {
	var o costOptions
	c := &cobra.Command{
		Use: "cost [JOB...]", Short: "to buy, spent, used and left over, per job and per copy",
		RunE: func(cmd *cobra.Command, args []string) error { return runCost(cmd.Context(), e, args, o) },
	}
	costFlags(c, &o)
	c.Flags().BoolVar(&o.hours, "hours", false, "count the maker's hours at the shop's rate, as a plan does, changes of machine settings left out")
	c.Flags().BoolVar(&o.offcuts, "offcuts", false, "take the worth of offcuts to keep off the price of a copy")
	c.Flags().IntVar(&o.upTo, "up-to", 0, "only the price of 1, 2, ... up to this many copies, and of each")
	return c
}

func newBuy(e *env) *cobra.Command {
	o := costOptions{list: true}
	c := &cobra.Command{
		Use: "buy [JOB...]", Short: "the buy list, in whole packs",
		RunE: func(cmd *cobra.Command, args []string) error { return runCost(cmd.Context(), e, args, o) },
	}
	costFlags(c, &o)
	return c
}

func costFlags(c *cobra.Command, o *costOptions) {
	c.Flags().IntVar(&o.copies, "copies", 0, "how many copies of each job (default: as job.yaml says)")
	c.Flags().BoolVar(&o.oneStop, "one-stop", false, "buy everything from one supplier")
	c.Flags().BoolVar(&o.csv, "csv", false, "print the list as CSV (RFC 4180)")
}

// runSeries prints what 1 to N copies cost.
func runSeries(ctx context.Context, e *env, s *job.Shop, jobs []string, o costOptions) error {
	done := e.progress("laying out the cuts")
	all, err := cost.Series(ctx, s, o.upTo, cost.Options{Jobs: jobs, OneStop: o.oneStop, WithHours: o.hours, Offcuts: o.offcuts}, cutting.Options{})
	done()
	if err != nil {
		return err
	}
	return e.print("copies", all, func() error {
		e.printf("%6s  %14s  %14s\n", "copies", "in all", "each")
		for _, c := range all {
			e.printf("%6d  %14s  %14s\n", c.Copies, c.Total, c.PerCopy)
		}
		said := map[string]bool{}
		for _, c := range all {
			for _, item := range c.Missing {
				if w := "no price for " + item + ": it is in no sum"; !said[w] {
					said[w] = true
					e.printf("%s\n", w)
				}
			}
			for _, w := range c.Warn {
				if !said[w] {
					said[w] = true
					e.printf("note: %s\n", w)
				}
			}
		}
		return nil
	})
}

func runCost(ctx context.Context, e *env, jobs []string, o costOptions) error {
	for _, n := range []struct {
		flag string
		n    int
	}{{"copies", o.copies}, {"up-to", o.upTo}} {
		if n.n < 0 || n.n > 1000 {
			return usage("--%s %d: from 1 to 1000 copies", n.flag, n.n)
		}
	}
	s, err := e.shop()
	if err != nil {
		return err
	}
	if _, err := pickJobs(s, jobs); err != nil {
		return err
	}
	if o.upTo > 0 {
		return runSeries(ctx, e, s, jobs, o)
	}
	done := e.progress("laying out the cuts")
	cut, err := cutting.Make(ctx, s, cutting.Options{Jobs: jobs, Copies: o.copies})
	done()
	if err != nil {
		return err
	}
	bill, err := cost.Make(s, cut, cost.Options{Jobs: jobs, Copies: o.copies, OneStop: o.oneStop, WithHours: o.hours, Offcuts: o.offcuts})
	if err != nil {
		return err
	}
	if o.csv && !e.json {
		if o.list {
			bill.Buy = slices.DeleteFunc(bill.Buy, func(l cost.Line) bool { return l.Packs == 0 && l.Priced })
		}
		_, err := e.out.Write(cost.CSV(bill))
		return err
	}
	return e.print("cost", bill, func() error {
		text := cost.Text
		if o.list {
			text = cost.BuyText
		}
		_, err := fmt.Fprint(e.out, text(bill, e.columns()))
		return err
	})
}
