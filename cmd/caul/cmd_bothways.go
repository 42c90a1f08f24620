package main

import (
	"fmt"
	"path"
	"strings"
	"time"

	"github.com/mattn/go-runewidth"
	"github.com/spf13/cobra"

	"caul/job"
	"caul/site"
	"caul/sync"
	"caul/sync/settle"
)

func newBothWays(e *env) *cobra.Command {
	c := &cobra.Command{
		Use: "both-ways", Short: "values that two machines changed: look at both, take either",
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return runBothWays(e) },
	}
	take := func(use, short string, side sync.Side) *cobra.Command {
		return &cobra.Command{Use: use, Short: short, Args: exactly(1, "the number or name of a value"),
			RunE: func(_ *cobra.Command, a []string) error { return runTakeWay(e, a[0], side) }}
	}
	show := &cobra.Command{Use: "show NUMBER", Short: "the two values side by side, in full", Args: exactly(1, "the number or name of a value"),
		RunE: func(_ *cobra.Command, a []string) error { return runShowWay(e, a[0]) }}
	c.AddCommand(show, take("keep NUMBER", "leave the value that stands, and settle the matter", sync.Stands),
		take("take NUMBER", "put the other value into the file, and settle the matter", sync.Other))
	return c
}

type bothWayRow struct {
	N      int    `json:"n"`
	Name   string `json:"name"`
	File   string `json:"file"`
	What   string `json:"what"`
	Base   string `json:"base"`
	Stands side   `json:"stands"`
	Other  side   `json:"other"`
	Error  string `json:"error,omitempty"`
}

type side struct {
	Value   string `json:"value"`
	Gone    bool   `json:"gone,omitempty"`
	Machine string `json:"machine"`
	When    string `json:"when"`
}

func sideOf(v settle.Value, zone *time.Location) side {
	return side{Value: string(v.Data), Gone: !v.Exists, Machine: v.Machine, When: v.When.In(zone).Format("Mon 2 Jan 2006 15:04")}
}

// bothWayRows are the values that wait, numbered.
func bothWayRows(e *env) ([]bothWayRow, error) {
	s, err := openSync(e)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	rs, err := s.BothWays()
	if err != nil {
		return nil, err
	}
	zone := time.Local
	if shop, err := job.Load(s.Dir()); err == nil { // one that does not read just now can be settled all the same
		zone = zoneOf(shop)
	}
	rows := []bothWayRow{}
	for i, r := range rs {
		row := bothWayRow{N: i + 1, Name: path.Base(r.Name), File: r.Path, What: r.What, Base: string(r.Base.Data), Stands: sideOf(r.Stands, zone), Other: sideOf(r.Other, zone)}
		if r.Err != nil {
			row.Error = r.Err.Error()
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func runBothWays(e *env) error {
	rows, err := bothWayRows(e)
	if err != nil {
		return err
	}
	return e.print("both-ways", rows, func() error {
		for _, r := range rows {
			if r.Error != "" {
				e.printf("%d. %s: %s\n", r.N, r.Name, visible(r.Error))
				continue
			}
			e.printf("%s\n", e.bold(visible(fmt.Sprintf("%d. %s, %s", r.N, r.File, r.What))))
			e.printf("   before: %s\n", oneLine(r.Base, false))
			e.printf("   stands: %s  (%s, %s)\n", oneLine(r.Stands.Value, r.Stands.Gone), r.Stands.Machine, r.Stands.When)
			e.printf("   other:  %s  (%s, %s)\n", oneLine(r.Other.Value, r.Other.Gone), r.Other.Machine, r.Other.When)
		}
		if len(rows) == 0 {
			e.printf("nothing waits: no value was changed on two machines\n")
			return nil
		}
		e.printf("\nside by side: `caul both-ways show N`\nsettle with `caul both-ways keep N` or `caul both-ways take N`\n")
		return nil
	})
}

// oneLine shows a value of several lines by its first ones.
func oneLine(v string, gone bool) string {
	if gone {
		return "(deleted)"
	}
	lines := strings.Split(strings.TrimSpace(v), "\n")
	if len(lines) > 4 {
		lines = append(lines[:4], fmt.Sprintf("... %d lines more", len(lines)-4))
	}
	for i, l := range lines {
		lines[i] = visible(runewidth.Truncate(strings.TrimRight(l, "\r"), 240, "..."))
	}
	return strings.Join(lines, "\n           ")
}

func runTakeWay(e *env, which string, side sync.Side) error {
	s, err := openSync(e)
	if err != nil {
		return err
	}
	defer s.Close()
	rs, err := s.BothWays()
	if err != nil {
		return err
	}
	name := which
	for i, r := range rs {
		if which == fmt.Sprint(i+1) || which == path.Base(r.Name) {
			name = r.Name
		}
	}
	if err := s.Take(name, side); err != nil {
		return &fault{code: exitUsage, err: err, hint: "see `caul both-ways` for the numbers"}
	}
	return e.print("settled", map[string]string{"name": path.Base(name)}, func() error {
		e.printf("settled: %s\n", path.Base(name))
		return nil
	})
}

// bothWaysFor lists the unsettled values for the pages.
func bothWaysFor(dir string) []site.BothWay {
	s, err := sync.Open(dir)
	if err != nil {
		return nil
	}
	defer s.Close()
	rs, err := s.BothWays()
	if err != nil {
		return nil
	}
	var out []site.BothWay
	for _, r := range rs {
		if r.Err != nil {
			continue
		}
		out = append(out, site.BothWay{File: r.Path, Path: path.Base(r.Name), What: r.What,
			Stands: oneLine(string(r.Stands.Data), !r.Stands.Exists), Other: oneLine(string(r.Other.Data), !r.Other.Exists),
			StandsBy: r.Stands.Machine, OtherBy: r.Other.Machine, StandsAt: r.Stands.When, OtherAt: r.Other.When, Before: oneLine(string(r.Base.Data), !r.Base.Exists)})
	}
	return out
}
