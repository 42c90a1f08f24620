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
			if e.size != nil {
				e.width, e.height = e.size()
			}
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

const noTimers = "nothing in the clamps, nothing curing"

type watcher struct {
	e       *env
	command string
	seen    map[string]bool
	over    map[string]bool
}

// draw fills the screen from its top and never more than it: what sets by
// itself first, then what can be done, each cut short by a line that says so.
func (w *watcher) draw(s *job.Shop, n *plan.Now, trouble string) {
	row := func(a, b, c string) string { return fmt.Sprintf("%-12s %12s  %s", a, b, c) }
	var timers, over, todo []string
	for _, t := range n.Timers {
		text := row(string(t.Kind), left(t, n.At), t.Name)
		switch {
		case t.Never:
			text += ", " + t.Note
		case t.Ready.After(n.At):
			text += ", ready " + t.Ready.In(zoneOf(s)).Format("Mon 15:04")
		default:
			over = append(over, text)
			continue
		}
		timers = append(timers, text)
	}
	for _, c := range append(append([]plan.Choice{}, n.OnBench...), n.CanDo...) {
		if !c.Off { // its timer stands above
			todo = append(todo, row(string(c.State), c.Takes.String(), c.Name))
		}
	}
	if why := bench.Nothing(s, len(n.Timers) > 0); why != "" {
		todo = append(todo, why)
	}
	if len(n.Timers) == 0 {
		timers = []string{noTimers}
	}
	tail := []string{"", "ctrl-c ends"}
	if trouble != "" {
		tail = append([]string{"", "the files do not read just now: " + trouble}, tail...)
	}
	waits := append(over, timers...)
	room := w.e.rows() - 3 - len(tail) // below the heading, with an empty line between the two lists
	most := max(room-len(todo), (room+1)/2)
	waits = shorten(waits, most)
	todo = shorten(todo, room-len(waits))

	var b strings.Builder
	b.WriteString("\x1b[H")
	line := func(text string, bold bool) {
		text = runewidth.Truncate(text, w.e.columns(), "…")
		if bold {
			text = w.e.bold(text)
		}
		b.WriteString(text + "\x1b[K\r\n")
	}
	line(fmt.Sprintf("%s, %s", s.Name, n.At.In(zoneOf(s)).Format("Mon 2 Jan 15:04:05")), false)
	line("", false)
	for i, t := range waits {
		line(t, i < len(over))
	}
	line("", false)
	for _, t := range append(todo, tail...) {
		line(t, false)
	}
	fmt.Fprint(w.e.out, strings.TrimSuffix(b.String(), "\r\n")+"\x1b[J")
}

// shorten keeps a list to a number of lines, the last of which tells of the rest.
func shorten(lines []string, most int) []string {
	most = max(most, 1)
	if len(lines) <= most {
		return lines
	}
	rest := fmt.Sprintf("and %d more: caul now", len(lines)-most+1)
	return append(append([]string{}, lines[:most-1]...), rest)
}

func (w *watcher) tell(ctx context.Context, s *job.Shop, n *plan.Now, live, first bool) error {
	if first && !live && !w.e.json && len(n.Timers) == 0 {
		if _, err := fmt.Fprintf(w.e.out, "%s %s\n", n.At.In(zoneOf(s)).Format("15:04:05"), noTimers); err != nil {
			return err
		}
	}
	for _, t := range n.Timers {
		key := t.Job + "/" + t.Step + "/" + string(t.Kind) + t.Since.String()
		over := !t.Never && !t.Ready.After(n.At)
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
		what := readyWords(t, s, "Mon 15:04")
		if over {
			what = "ready now"
		}
		_, err := fmt.Fprintf(w.e.out, "%s %s, %s: %s\n", n.At.In(zoneOf(s)).Format("15:04:05"), t.Name, t.Kind, what)
		return err
	})
}

// readyWords says when something is ready that runs by itself.
func readyWords(t plan.Timer, s *job.Shop, layout string) string {
	if t.Never {
		return t.Note
	}
	return "ready " + t.Ready.In(zoneOf(s)).Format(layout)
}

// left writes a time left as hours, minutes and seconds.
func left(t plan.Timer, now time.Time) string {
	d := t.Ready.Sub(now).Round(time.Second)
	switch {
	case t.Never:
		return "too cold"
	case d <= 0:
		return "ready now"
	}
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
