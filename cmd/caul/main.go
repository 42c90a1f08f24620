package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/term"
)

func main() { os.Exit(realMain()) }

// realMain is main with its exit code returned, so that test scripts can run it.
func realMain() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	e := &env{
		in: os.Stdin, out: os.Stdout, err: os.Stderr,
		now:    clock(os.Getenv("CAUL_NOW")),
		getenv: os.Getenv,
	}
	if wd, err := os.Getwd(); err == nil {
		e.cwd = wd
	}
	if term.IsTerminal(int(os.Stdout.Fd())) {
		e.terminal = true
		e.size = func() (int, int) {
			w, h, err := term.GetSize(int(os.Stdout.Fd()))
			if err != nil {
				return 0, 0
			}
			return w, h
		}
		e.width, e.height = e.size()
	}
	if term.IsTerminal(int(os.Stdin.Fd())) {
		e.asks = true
	}
	return run(ctx, e, os.Args[1:])
}

// clock is the wall clock, or one that stands at the instant CAUL_NOW names
// (RFC 3339), for scripts and tests that want the same answer twice.
func clock(fixed string) func() time.Time {
	if t, err := time.Parse(time.RFC3339, fixed); err == nil {
		return func() time.Time { return t }
	}
	return time.Now
}
