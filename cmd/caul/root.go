package main

import (
	"context"
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// run carries out one command line and returns the exit code. A panic below is
// a fault of the program: it is told as one line, and never as a trace.
func run(ctx context.Context, e *env, args []string) (code int) {
	defer func() {
		if r := recover(); r != nil {
			code = exitFailed
			fmt.Fprintf(e.err, "error: caul made a mistake of its own: %v\nhint: nothing of yours was changed half-way; please report it with the command you gave\n", r)
			if e.getenv("CAUL_TRACE") != "" {
				fmt.Fprintf(e.err, "%s\n", debug.Stack())
			}
		}
	}()
	root := newRoot(e)
	root.SetArgs(args)
	root.SetOut(e.out)
	root.SetErr(e.err)
	root.SetIn(e.in)
	if err := root.ExecuteContext(ctx); err != nil {
		return report(e, err)
	}
	return exitOK
}

func newRoot(e *env) *cobra.Command {
	root := &cobra.Command{
		Use:   "caul",
		Short: "follow a shop job from idea to a jig that stays true",
		Long: `caul keeps each build of a jig as a folder of plain files and works out the rest:
whether it can be made, how to cut it, what it costs, what to do when around
glue that sets on its own clock, and what is to be done now.

Its figures are for planning. The label on the glue, the manual of the machine,
local rules and qualified people come first.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.PersistentFlags().StringVarP(&e.dir, "shop", "C", "", "the shop's `folder` (default: the nearest one upwards with a shop.yaml)")
	root.PersistentFlags().BoolVar(&e.json, "json", false, "print the answer as JSON")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage("%v", err) })

	const (
		build  = "build"
		bench  = "bench"
		keep   = "keep"
		others = "others"
	)
	root.AddGroup(
		&cobra.Group{ID: build, Title: "at the desk:"},
		&cobra.Group{ID: bench, Title: "at the bench:"},
		&cobra.Group{ID: keep, Title: "keep and share:"},
	)
	add := func(group string, cmds ...*cobra.Command) {
		for _, c := range cmds {
			if group != others {
				c.GroupID = group
			}
			root.AddCommand(c)
		}
	}
	add(build, newNew(e), newProof(e), newCut(e), newBuy(e), newCost(e), newPlan(e), newGlueUp(e), newReckon(e), newSetUps(e), newDraw(e))
	add(bench, append([]*cobra.Command{newNow(e), newFittings(e), newBench(e), newWatch(e)}, newLogCommands(e)...)...)
	add(keep, newSite(e), newCalendar(e), newSync(e), newRemote(e), newMachine(e), newBothWays(e), newShare(e), newTake(e))
	add(others, newDemo(e), newVersion(e), newExitCodes())
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	return root
}

func newExitCodes() *cobra.Command {
	return &cobra.Command{Use: "exit-codes", Short: "the exit codes and what they mean", Long: exitCodes}
}
