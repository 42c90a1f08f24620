package site

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/demo"
	"caul/job/plan"
)

// plain is a page's text without its tags, one space between words.
func plain(page []byte) string {
	return strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(string(page), " ")), " ")
}

// demoWith is the demo shop with its files edited.
func demoWith(t *testing.T, edit func(dir string)) (*job.Shop, Input) {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, demo.Write(dir, noon, time.UTC))
	edit(dir)
	s, err := job.Load(dir)
	require.NoError(t, err)
	in := Input{Shop: s, Now: noon, Open: func(p string) ([]byte, error) { return job.ReadFile(dir, p) }}
	in.Plan, err = plan.Make(t.Context(), s, noon, plan.Options{Jobs: []string{"torsion-table"}, Budget: 20_000})
	require.NoError(t, err)
	in.Live, err = plan.At(s, noon, 0, in.Plan)
	require.NoError(t, err)
	return s, in
}

// begunBefore writes down that the step in the clamps was begun earlier than
// the clamps went on, so that the two instants cannot be mistaken.
func begunBefore(t *testing.T, s *job.Shop, dir, step string, d time.Duration) {
	t.Helper()
	states, _ := s.Job("torsion-table").States()
	at := states[step].Clamped.Add(-d)
	file := filepath.Join(dir, "jobs", "torsion-table", "log", at.UTC().Format("2006-01-02T1504")+"-shop-began-"+step+".md")
	require.NoError(t, os.WriteFile(file, []byte("---\nat: "+at.UTC().Format(time.RFC3339)+"\ndid: began\nstep: "+step+"\n---\n"), 0o644))
}

// One time for clamps off: the glue-up's figures on the page, its card on the
// first page and the timer of `now` say the same, and it counts from the clamps
// and not from when the step was begun, here seven hours before.
func TestClampsOffIsOneTime(t *testing.T) {
	_, in := demoWith(t, func(d string) {
		s, err := job.Load(d)
		require.NoError(t, err)
		begunBefore(t, s, d, "core", 7*time.Hour)
	})
	var timer *plan.Timer
	for i := range in.Live.Timers {
		if x := &in.Live.Timers[i]; x.Step == "core" && x.Kind == plan.Clamped {
			timer = x
		}
	}
	require.NotNil(t, timer)
	r := &renderer{in: in}
	off := r.when(timer.Ready)
	s := render(t, in)
	page := plain(s.Pages["jobs/torsion-table/index.html"])
	require.Equal(t, 2, strings.Count(page, "clamps off from "+off), "by the plan, and on the glue-up's sheet")
	require.NotContains(t, page[strings.Index(page, "Glue the grid to the lower skin"):strings.Index(page, "Scrape the squeeze-out inside")], "clamps off after")
	require.Contains(t, plain(s.Pages["index.html"]), off)
	// clamps are called as shop.yaml calls them
	require.Contains(t, plain(s.Pages["index.html"]), "8 bar clamps, 4 F-clamps")
	require.NotContains(t, plain(s.Pages["index.html"]), "f-style")
}

// A joint too cold to set: no page has a date half a year on.
func TestTooColdHasNoDate(t *testing.T) {
	_, in := demoWith(t, func(dir string) {
		file := filepath.Join(dir, "shop.yaml")
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		cold := regexp.MustCompile(`(?m)^  day: \{.*\}$`).ReplaceAllString(string(b), "  day: {0:00: 1 C, 8:30: 2 C}")
		require.NotEqual(t, string(b), cold)
		require.NoError(t, os.WriteFile(file, []byte(cold), 0o644))
		// everything that would have to be spread in the cold is set aside but what is in the clamps
		for _, step := range []string{"close", "lipping"} {
			log := filepath.Join(dir, "jobs", "torsion-table", "log", "2026-03-14T0855-shop-aside-"+step+".md")
			require.NoError(t, os.WriteFile(log, []byte("---\nat: 2026-03-14T08:55:00Z\ndid: set-aside\nstep: "+step+"\n---\n"), 0o644))
		}
		logs, err := filepath.Glob(filepath.Join(dir, "jobs", "torsion-table", "log", "*"))
		require.NoError(t, err)
		for _, f := range logs { // and the thermometer read as cold
			b, err := os.ReadFile(f)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(f, regexp.MustCompile(`(?m)^air: .*$`).ReplaceAll(b, []byte("air: 2 C")), 0o644))
		}
	})
	require.NotEmpty(t, in.Plan.Never)
	s := render(t, in)
	made := regexp.MustCompile(`\b(Jul|Aug|Sep|Sept|Oct)\b|2026-(07|08|09|10)`)
	for path, b := range s.Pages {
		if strings.HasSuffix(path, ".html") || strings.HasSuffix(path, ".ics") || strings.HasSuffix(path, ".atom") {
			require.Empty(t, made.FindAllString(plain(b), -1), path)
		}
	}
	require.Contains(t, plain(s.Pages["index.html"]), "has no end in this air")
	require.Contains(t, plain(s.Pages["index.html"]), "finish "+noFinish)
	page := plain(s.Pages["jobs/torsion-table/index.html"])
	require.Contains(t, page, "clamps off not in this air")
	require.Contains(t, page, "clamps stay on: too cold to set")
}
