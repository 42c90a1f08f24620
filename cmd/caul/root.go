package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
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
	root.SetErr(e.err)
	root.SetIn(e.in)
	out := &watched{to: e.out}
	e.out = out
	root.SetOut(out)
	err := root.ExecuteContext(ctx)
	if err == nil && out.err != nil {
		err = &fault{code: exitFailed, msg: "the answer could not be written: " + out.err.Error(), hint: "what was to be done is done; give the command again with its output somewhere else"}
	}
	if err != nil {
		return report(e, err)
	}
	return exitOK
}

// watched remembers the first write that failed, so that an answer that went
// nowhere is not taken for one that was given.
type watched struct {
	to  io.Writer
	err error
}

func (w *watched) Write(p []byte) (int, error) {
	n, err := w.to.Write(p)
	if err != nil && w.err == nil {
		w.err = err
	}
	return n, err
}

func newRoot(e *env) *cobra.Command {
	root := &cobra.Command{
		Use:   "caul",
		Short: "follow a shop job from idea to a jig that stays true",
		Long: `caul keeps each build of a jig as a folder of plain files and works out the
rest: whether it can be made, how to cut it, what it costs, what to do when
around glue that sets on its own clock, and what is to be done now.

Its figures are for planning. The label on the glue, the manual of the machine,
local rules and qualified people come first.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          func(cmd *cobra.Command, args []string) error { return known(cmd, args) },
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.PersistentFlags().StringVarP(&e.dir, "shop", "C", "", "the shop's `folder` (default: the nearest one upwards with a shop.yaml)")
	root.PersistentFlags().BoolVar(&e.json, "json", false, "print the answer as JSON")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return &fault{code: exitUsage, msg: err.Error(), hint: "see `" + cmd.CommandPath() + " --help`"}
	})

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
	add(keep, newSite(e), newCalendar(e), newSync(e), newRemote(e), newPair(e), newMachine(e), newBothWays(e), newShare(e), newTake(e))
	add(others, newDemo(e), newVersion(e), newExitCodes(), newFiles())
	root.SetHelpCommand(newHelp())
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() == "completion" {
			c.Short = "words for the shell to complete: bash, zsh, fish, powershell"
		}
	}
	root.SetUsageTemplate(strings.NewReplacer("Additional Commands:", "besides:", "Available Commands:", "commands:", "Additional help topics:", "more help:", "Examples:", "examples:",
		".FlagUsages", ".FlagUsagesWrapped 80").Replace(root.UsageTemplate()))
	addExamples(root)
	askArgs(root)
	return root
}

func newExitCodes() *cobra.Command {
	return &cobra.Command{Use: "exit-codes", Short: "the exit codes and what they mean", Long: exitCodes}
}

func newFiles() *cobra.Command {
	return &cobra.Command{Use: "files", Short: "every key of a shop's files", Long: job.Files}
}

// newHelp is help that does not take a word it does not know for a success.
func newHelp() *cobra.Command {
	return &cobra.Command{
		Use: "help [COMMAND]", Short: "help about any command",
		RunE: func(c *cobra.Command, args []string) error {
			of, rest, err := c.Root().Find(args)
			if err != nil || of == nil || len(rest) > 0 {
				return known(c.Root(), args)
			}
			of.InitDefaultHelpFlag()
			return of.Help()
		},
	}
}

// known refuses a word that is no command, and names the one that was meant.
func known(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	hint := "`" + cmd.CommandPath() + " --help` lists the commands"
	if c := alsoSaid[strings.ToLower(args[0])]; c != "" && !cmd.HasParent() {
		return &fault{code: exitUsage, msg: fmt.Sprintf("%s has no command %q", cmd.CommandPath(), args[0]), hint: "did you mean `caul " + c + "`?"}
	}
	if cmd.SuggestionsMinimumDistance <= 0 {
		cmd.SuggestionsMinimumDistance = 2
	}
	if s := cmd.SuggestionsFor(args[0]); len(s) > 0 && args[0] != "" {
		hint = "did you mean `" + cmd.CommandPath() + " " + s[0] + "`?"
	}
	return &fault{code: exitUsage, msg: fmt.Sprintf("%s has no command %q", cmd.CommandPath(), args[0]), hint: hint}
}

// alsoSaid are words that people say for a command that is called something
// else here.
var alsoSaid = map[string]string{
	"start": "begin", "began": "begin", "done": "finish", "finished": "finish", "end": "finish",
	"clamped": "clamp", "unclamped": "unclamp", "off": "unclamp", "pause": "aside", "resume": "take-up",
	"read": "reading", "measure": "reading", "check": "proof", "prove": "proof", "log": "note", "spoil": "spoiled",
	"use": "used", "temperature": "air", "price": "cost", "init": "new shop", "make": "new job",
	"glue": "glue-up", "setup": "set-ups", "setups": "set-ups", "drawing": "draw", "pages": "site",
	"status": "now", "today": "now", "copy": "remote copy", "send": "share",
}

// askArgs words what cobra says of too many or too few arguments as every other
// error is worded.
func askArgs(c *cobra.Command) {
	for _, sub := range c.Commands() {
		askArgs(sub)
	}
	check := c.Args
	if check == nil {
		return
	}
	c.Args = func(cmd *cobra.Command, args []string) error {
		err := check(cmd, args)
		var f *fault
		if err == nil || errors.As(err, &f) {
			return err
		}
		if cmd.HasSubCommands() {
			return known(cmd, args)
		}
		_, takes, _ := strings.Cut(cmd.Use, " ")
		msg := fmt.Sprintf("%s takes %s, not %q", cmd.CommandPath(), takes, strings.Join(args, " "))
		switch {
		case takes == "":
			msg = fmt.Sprintf("%s takes no %q", cmd.CommandPath(), strings.Join(args, " "))
		case len(args) == 0:
			msg = cmd.CommandPath() + " needs " + takes
		}
		return &fault{code: exitUsage, msg: msg, hint: "write it as `" + strings.TrimSuffix(cmd.UseLine(), " [flags]") + "`"}
	}
}
