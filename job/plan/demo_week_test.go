package plan

import (
	"context"
	"flag"
	"testing"
	"time"

	"caul/job"
	"caul/job/demo"
)

var demoHours = flag.Bool("demo-hours", false, "plan the demo shop at every hour of every week below, not at one in forty-one")

// The demo shop has a plan whatever the day and the hour, over weeks in which
// the clocks change too.
func TestDemoAlwaysHasAPlan(t *testing.T) {
	every := 41 * time.Hour
	if *demoHours {
		every = time.Hour
	}
	for _, week := range []struct {
		zone string
		from time.Time
	}{
		{"UTC", time.Date(2026, 3, 11, 0, 0, 0, 0, time.UTC)},
		{"America/Chicago", time.Date(2026, 3, 5, 0, 0, 0, 0, time.UTC)},     // forward on 8 March
		{"Europe/Lisbon", time.Date(2026, 10, 22, 0, 0, 0, 0, time.UTC)},     // back on 25 October
		{"Australia/Lord_Howe", time.Date(2026, 4, 2, 0, 0, 0, 0, time.UTC)}, // back by half an hour on 5 April
	} {
		z := zone(t, week.zone)
		for at := week.from.Add(every % (24 * time.Hour)); at.Before(week.from.AddDate(0, 0, 7)); at = at.Add(every) {
			now := at.In(z)
			dir := t.TempDir()
			if err := demo.Write(dir, now, z); err != nil {
				t.Fatal(err)
			}
			sh, err := job.Load(dir)
			if err != nil {
				t.Fatal(err)
			}
			p, err := Make(context.Background(), sh, now, Options{})
			if err != nil {
				t.Errorf("%s: %v", now, err)
				continue
			}
			for _, j := range p.Jobs {
				if j.Late > 0 {
					t.Errorf("%s: %s is late", now, j.Job)
				}
			}
			if len(p.Warnings) > 0 {
				t.Errorf("%s: %q", now, p.Warnings)
			}
		}
	}
}
