package main

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/mattn/go-runewidth"

	"caul/sync"
)

// Whatever a sync has to tell fits the screen of 24 lines of 80 columns that a
// terminal opens with, in print: names that a terminal would act on, or that
// have no end, are no exception.
func TestSyncIsOneScreen(t *testing.T) {
	changes := func(n int, name string) []sync.Change {
		var out []sync.Change
		for i := range n {
			out = append(out, sync.Change{Path: fmt.Sprintf("jobs/%s/log/%d.md", name, i), What: sync.Added})
		}
		return out
	}
	long := strings.Repeat("Frästisch-für-die-Küche-", 20)
	big := &sync.Report{DryRun: true, Resumed: true, Kept: changes(900, "a"), Message: strings.Repeat("box: finished mill; ", 90), BothWays: []string{"a", "b"}}
	for i := range 3 {
		big.Remotes = append(big.Remotes, sync.RemoteReport{Name: fmt.Sprint("stick-", i), State: sync.InStep, Came: changes(400, fmt.Sprint(long, i)), Went: changes(900, "a")})
	}
	for i := range 300 {
		big.Look = append(big.Look, fmt.Sprintf("%d.md: left out", i))
	}
	group := &sync.Report{Remotes: []sync.RemoteReport{{Name: "group", State: sync.Offered}}}
	for i := range 2000 {
		group.Remotes[0].Bundles = append(group.Remotes[0].Bundles, sync.Bundle{Path: fmt.Sprintf("/media/group/%s%d.zip", long, i)})
	}
	odd := &sync.Report{Kept: changes(1, "a"), Message: "new\x1b[2Jjob", Remotes: []sync.RemoteReport{{Name: "stick", State: sync.InStep,
		Came: []sync.Change{{Path: "jobs/a/\x1b]0;title\x07new\nline\xff\u202egnp.md", What: sync.Added}, {Path: "jobs/für 🪚/é.md", What: sync.Edited}}, Error: "bad\rname\nand more"}}, Look: []string{"x\ty"}}
	for name, c := range map[string]struct {
		r    *sync.Report
		want []string
	}{
		"much":  {big, []string{"went: the same files as at stick-0", "look: and 296 more", "look: 2 values changed on two machines"}},
		"group": {group, []string{"offers 2000 shared builds", long + "0.zip", "    and 199"}},
		"odd":   {odd, []string{`\u001b]0;title\u0007new\u000aline\xff\u202egnp.md`, "jobs/für 🪚/é.md", `new\u001b[2Jjob`, `bad\u000dname`, `x\u0009y`}},
		"little": {&sync.Report{Remotes: []sync.RemoteReport{{Name: "stick", State: sync.InStep, Came: changes(14, "b")}}},
			[]string{"added    jobs/b/log/0.md", "added    jobs/b/log/13.md"}},
	} {
		var out bytes.Buffer
		printSync(&env{out: &out, getenv: func(string) string { return "" }}, c.r)
		rows := 0
		for l := range strings.Lines(out.String()) {
			l = strings.TrimSuffix(l, "\n")
			rows += max(1, (runewidth.StringWidth(l)+79)/80)
			for _, r := range l {
				if r < ' ' || r == 0x202e || r == 0xfffd {
					t.Errorf("%s: %q goes to the terminal", name, l)
				}
			}
		}
		if rows > 22 {
			t.Errorf("%s: %d rows:\n%s", name, rows, out.String())
		}
		for _, w := range c.want {
			if !strings.Contains(out.String(), w) {
				t.Errorf("%s: no %q in\n%s", name, w, out.String())
			}
		}
	}
}
