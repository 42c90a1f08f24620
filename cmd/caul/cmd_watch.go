package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/mattn/go-runewidth"
	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/plan"
	"caul/site/bench"
)

func newWatch(e *env) *cobra.Command {
	var command string
	c := &cobra.Command{
		Use: "watch", Short: "stay open with the timers, and ring when a wait is over",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runWatch(cmd.Context(), e, command) },
	}
	c.Flags().StringVar(&command, "ring", "", "a `command` to run when a wait is over; its name and step are given as arguments")
	return c
}

// runWatch draws the timers anew every second on a terminal; into a pipe it
// writes one line when something begins or is over.
func runWatch(ctx context.Context, e *env, command string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	live := e.terminal && !e.json && e.getenv("TERM") != "dumb"
	if live {
		fmt.Fprint(e.out, "\x1b[?1049h\x1b[?25l")
		defer fmt.Fprint(e.out, "\x1b[?25h\x1b[?1049l")
	}
	var cache job.Cache
	w := watcher{e: e, command: command, seen: map[string]bool{}, over: map[string]bool{}}
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for first := true; ; first = false {
		// A file half-written by an editor leaves the last good reading in place.
		trouble := ""
		if fresh, err := cache.Load(s.Dir); err == nil {
			s = fresh
		} else {
			trouble = strings.SplitN(err.Error(), "\n", 2)[0]
		}
		n, err := plan.At(s, e.now(), 0, nil)
		if err != nil {
			return noFit(err)
		}
		if live {
			w.draw(s, n, trouble)
		}
		if err := w.tell(ctx, s, n, live, first); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// watchShown is how many timers, and how many choices, fit 24 lines.
const watchShown = 8

type watcher struct {
	e       *env
	command string
	seen    map[string]bool
	over    map[string]bool
}

func (w *watcher) draw(s *job.Shop, n *plan.Now, trouble string) {
	cols := w.e.columns()
	var b strings.Builder
	bold := false // the next line
	line := func(format string, a ...any) {
		s := runewidth.Truncate(fmt.Sprintf(format, a...), cols, "…")
		if bold {
			s = w.e.bold(s)
		}
		bold = false
		b.WriteString(s + "\x1b[K\n")
	}
	b.WriteString("\x1b[H")
	line("%s, %s", s.Name, n.At.In(zoneOf(s)).Format("Mon 2 Jan 15:04:05"))
	line("")
	if len(n.Timers) == 0 {
		line("nothing in the clamps, nothing curing")
	}
	for i, t := range n.Timers {
		if i == watchShown {
			line("  and %d more: caul now", len(n.Timers)-i)
			break
		}
		bold = !t.Ready.After(n.At)
		line("%-12s %12s  %s, ready %s", t.Kind, left(t.Ready.Sub(n.At)), t.Name, t.Ready.In(zoneOf(s)).Format("Mon 15:04"))
	}
	line("")
	shown := 0
	for _, c := range append(append([]plan.Choice{}, n.OnBench...), n.CanDo...) {
		if c.Off {
			continue // its timer stands above
		}
		if shown++; shown > watchShown {
			line("  and more: caul now")
			break
		}
		line("%-12s %12s  %s", c.State, c.Takes, c.Name)
	}
	if why := bench.Nothing(s, len(n.Timers) > 0); why != "" {
		line("%s", why)
	}
	if trouble != "" {
		line("")
		line("the files do not read just now: %s", trouble)
	}
	line("")
	line("ctrl-c ends")
	b.WriteString("\x1b[J")
	fmt.Fprint(w.e.out, b.String())
}

func (w *watcher) tell(ctx context.Context, s *job.Shop, n *plan.Now, live, first bool) error {
	for _, t := range n.Timers {
		key := t.Job + "/" + t.Step + "/" + string(t.Kind) + t.Since.String()
		over := !t.Ready.After(n.At)
		if !live && (!w.seen[key] || over != w.over[key]) {
			if err := w.line(s, n, t, over); err != nil {
				return err
			}
		}
		if over && w.seen[key] && !w.over[key] && !first {
			if live { // what stands on the screen says the rest
				fmt.Fprint(w.e.out, w.e.bell())
			}
			runRing(ctx, w.e, w.command, t)
		}
		w.seen[key], w.over[key] = true, over
	}
	return nil
}

func (w *watcher) line(s *job.Shop, n *plan.Now, t plan.Timer, over bool) error {
	return w.e.print("timer", t, func() error {
		what := "ready " + t.Ready.In(zoneOf(s)).Format("Mon 15:04")
		if over {
			what = "ready now"
		}
		_, err := fmt.Fprintf(w.e.out, "%s %s, %s: %s\n", n.At.In(zoneOf(s)).Format("15:04:05"), t.Name, t.Kind, what)
		return err
	})
}

// left writes a time left as hours, minutes and seconds.
func left(d time.Duration) string {
	if d <= 0 {
		return "ready now"
	}
	d = d.Round(time.Second)
	h, m, s := int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60
	if h > 0 {
		return fmt.Sprintf("%d:%02d:%02d", h, m, s)
	}
	return fmt.Sprintf("%d:%02d", m, s)
}

func zoneOf(s *job.Shop) *time.Location {
	if s.Zone != nil {
		return s.Zone
	}
	return time.Local
}
