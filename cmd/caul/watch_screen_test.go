package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/mattn/go-runewidth"

	"caul/job"
	"caul/job/plan"
)

// screen is what a terminal of 80 by 24 shows of a text that uses no more of
// ECMA-48 than watch does: cursor home, erase to the end of line or screen,
// bold. It fails where a line runs over the edge or the screen would roll.
func screen(t *testing.T, text string) []string {
	t.Helper()
	text, ok := strings.CutPrefix(text, "\x1b[H")
	if !ok {
		t.Fatalf("it does not begin at the top: %q", text)
	}
	text, ok = strings.CutSuffix(text, "\x1b[J")
	if !ok {
		t.Fatalf("what stood below is not taken away: %q", text)
	}
	text = strings.NewReplacer("\x1b[K", "", "\x1b[1m", "", "\x1b[0m", "").Replace(text)
	lines := strings.Split(text, "\r\n")
	if len(lines) > 24 {
		t.Errorf("%d lines on a screen of 24:\n%s", len(lines), text)
	}
	for _, l := range lines {
		if runewidth.StringWidth(l) > 80 || strings.ContainsAny(l, "\x1b\n\t") {
			t.Errorf("a line of %d columns: %q", runewidth.StringWidth(l), l)
		}
	}
	return lines
}

// watch fits an 80 by 24 terminal however much there is, and says what it
// leaves out; what is over stands first and is never left out.
func TestWatchFitsTheScreen(t *testing.T) {
	at := time.Date(2026, 3, 14, 20, 0, 0, 0, time.UTC)
	s := &job.Shop{Name: "Shop 木工房", Zone: time.UTC, Jobs: []*job.Job{{ID: "x", Steps: []job.Step{{ID: "s"}}}}}
	long := strings.Repeat("a step of many words, 木材 ", 9)
	for _, c := range []struct {
		timers, over, todo int
		trouble            string
	}{{0, 0, 0, ""}, {1, 0, 3, ""}, {3, 1, 30, ""}, {30, 2, 0, "jobs/x/job.yaml:3:1: " + long}, {30, 3, 30, "jobs/x/job.yaml:3:1: " + long}} {
		n := &plan.Now{At: at}
		for i := range c.timers {
			ready := at.Add(time.Duration(i+1) * time.Hour)
			if i >= c.timers-c.over {
				ready = at.Add(-time.Minute)
			}
			n.Timers = append(n.Timers, plan.Timer{Job: "x", Step: "s", Name: fmt.Sprintf("t%d, %s", i, long), Kind: plan.Clamped, Ready: ready})
		}
		for i := range c.todo {
			n.CanDo = append(n.CanDo, plan.Choice{Job: "x", Step: "s", Name: fmt.Sprintf("c%d, %s", i, long), State: job.Ready, Takes: 3600})
		}
		var out bytes.Buffer
		w := watcher{e: &env{out: &out, terminal: true, getenv: func(string) string { return "" }}}
		w.draw(s, n, c.trouble)
		lines := screen(t, out.String())
		text := strings.Join(lines, "\n")
		shown, told := 0, 0
		for _, l := range lines {
			k := 0
			if _, err := fmt.Sscanf(l, "and %d more: caul now", &k); err == nil {
				told += k
			} else if strings.Contains(l, ", a step of") {
				shown++
			}
		}
		if shown+told != c.timers+c.todo {
			t.Errorf("%+v: %d shown and %d told of:\n%s", c, shown, told, text)
		}
		if n := strings.Count(text, "ready now"); n != c.over {
			t.Errorf("%+v: %d are over:\n%s", c, n, text)
		}
		if c.over > 0 && !strings.Contains(lines[2], "ready now") {
			t.Errorf("what is over does not stand first:\n%s", text)
		}
		if c.trouble != "" && !strings.Contains(text, "do not read just now: jobs/x") {
			t.Errorf("the trouble is not told:\n%s", text)
		}
		if c.timers == 1 && !strings.Contains(text, "1:00:00  t0") {
			t.Errorf("the time left is not told:\n%s", text)
		}
	}
}

// Where the glue stands still for good there is no time left to tell, in any of
// the forms: the figure in its place would be made up.
func TestTooColdForever(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"shop.yaml":  "name: Cold\nzone: UTC\nunits: {length: mm, temperature: C}\nhours: {mon-sun: \"18:00-21:00\"}\nair: {day: {0:00: 2 C}}\nclamps: [{id: bar, kind: bar, qty: 8}]\n",
		"stock.yaml": "stock: [{id: ply, form: sheet, size: 2440 x 1220 x 12}]\n",
		"jobs/sled/job.yaml": "name: Sled\nparts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]\nglue-ups: [{id: glue, joins: [base, base], glue: pva-yellow, bond: 600 x 400, clamps: {bar: 6}}]\n" +
			"steps:\n  - {id: glue, name: Glue the base, takes: 30 min}\n  - {id: trim, name: Trim it flush, takes: 30 min, after: [glue cured]}\n",
		"jobs/sled/log/2026-03-14T1930-shop-clamped-glue.md": "---\nat: 2026-03-14T19:30:00Z\ndid: clamped\nstep: glue\n---\n",
	} {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// 200 days on, where a stand-in moment of the plan would lie.
	made := []string{"30 Sep", "20260930", "2026-09-30", "4799", "4800"}
	for _, args := range [][]string{{"now"}, {"now", "--json"}, {"plan"}, {"plan", "--why", "--helps", "--json"}, {"calendar"}, {"calendar", "--json"}, {"unclamp", "glue"}} {
		var out, said bytes.Buffer
		e := &env{in: strings.NewReader(""), out: &out, err: &said, getenv: func(string) string { return "" }, cwd: dir,
			now: func() time.Time { return time.Date(2026, 3, 14, 19, 45, 0, 0, time.UTC) }}
		if code := run(t.Context(), e, args); code != exitOK {
			t.Fatalf("%v: %d %s", args, code, said.String())
		}
		for _, m := range made {
			if strings.Contains(out.String(), m) {
				t.Errorf("%v: a made-up time, %s:\n%s", args, m, out.String())
			}
		}
		if args[0] != "calendar" && args[0] != "plan" && !strings.Contains(strings.Join(strings.Fields(out.String()), " "), "too cold for the glue to set: warm the joint to 10 °C or more") {
			t.Errorf("%v does not say that it is too cold:\n%s", args, out.String())
		}
	}
}

// Into a pipe a shop in which nothing sets says that, once, and not nothing.
func TestWatchPipeWithNothing(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "shop.yaml"), []byte("name: Empty\nzone: UTC\nunits: {length: mm, temperature: C}\nhours: {mon-sun: \"18:00-21:00\"}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"watch"}, {"watch", "--json"}} {
		ctx, stop := context.WithCancel(t.Context())
		var out safeBuffer
		e := &env{in: strings.NewReader(""), out: &out, err: &out, getenv: func(string) string { return "" }, cwd: dir,
			now: func() time.Time { return time.Date(2026, 3, 14, 19, 45, 0, 0, time.UTC) }}
		ended := make(chan int, 1)
		go func() { ended <- run(ctx, e, args) }()
		for range 100 {
			if out.String() != "" || len(args) > 1 {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
		stop()
		if code := <-ended; code != exitOK {
			t.Errorf("%v ended with %d", args, code)
		}
		want := "19:45:00 nothing in the clamps, nothing curing\n"
		if len(args) > 1 {
			want = ""
		}
		if out.String() != want {
			t.Errorf("%v: %q, want %q", args, out.String(), want)
		}
	}
}
