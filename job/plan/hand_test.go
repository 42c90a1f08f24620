package plan

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"caul/job"
)

// The glue of these tests is simple enough to reckon by hand: off in 60 min
// and cured in 12 h at 20 C, twice that at 10 C, nothing below 5 C.
const handGlues = "glues: [{id: test, type: pva-yellow, clamp: {20 C: 60 min, 10 C: 120 min}, cure: {20 C: 12 h, 10 C: 24 h}, lowest: 5 C}]\n"

const handStock = "stock: [{id: ply, form: sheet, size: 2440 x 1220 x 12}]\n"

// handShop is a shop with a night temperature, weekday evenings and a Saturday
// morning.
func handShop(night, more string) string {
	return `
name: Bench end
zone: Europe/Vienna
units: {length: mm, temperature: C}
hours:
  mon-fri: 19:00-21:30
  sat: 9:00-13:00
air:
  day: {"8:00": 20 C, "22:00": ` + night + `}
clamps: [{id: bar, kind: bar, qty: 8}]
places: [{id: table}]
machines:
  - {id: saw, kind: table-saw, set-up: 10 min}
  - {id: router, kind: router-table, set-up: 15 min}
` + more
}

const handJob = `
name: Press plate
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}, place: table}]
steps:
  - {id: cut, name: Cut the plates, takes: 40 min, setup: "saw, rip 400"}
  - {id: core, name: Glue the plates, takes: 30 min, after: [cut]}
  - {id: trim, name: Trim them flush, takes: 20 min, setup: "router, flush-trim", after: [core cured]}
`

func handFiles(night, jobYAML string) files {
	return files{"shop.yaml": handShop(night, ""), "glues.yaml": handGlues, "stock.yaml": handStock, "jobs/plate/job.yaml": jobYAML}
}

// Friday evening, worked by hand.
//
//	19:00-19:50  saw set up (10), cut (40)
//	19:50-20:20  glue: 30 min; clamps on 20:20
//	21:20        60 min at 20 C: the clamps may come off; off 21:20-21:25
//	cure: 20:20-22:00 at 20 C is 100 min of 720 (12 h)
//	      22:00-08:00 at the night's temperature:
//	        20 C: rate 1, done 620 min after 22:00 = 08:20 on Saturday
//	        10 C: rate 1/2, 600 min do 300; 720-100-300 = 320 min after 08:00 = 13:20
//	         4 C: stands still; 720-100 = 620 min after 08:00 = 18:20
//	trim: 20 min in one go, router set up (15) before it.
//	        20 C: cured 08:20, the shop opens 09:00; the router is set up Fri 21:25-21:30
//	              and Sat 09:00-09:10, trim 09:10-09:30
//	        10 C: cured Sat 13:20, the shop shuts 13:00; open again Mon 19:00, and the
//	              set-up can be made while it waits (Sat), so trim 19:00-19:20 Mon
//	         4 C: cured Sat 18:20, the same Monday
func TestHandWorkedNights(t *testing.T) {
	for _, c := range []struct{ night, cured, trimFrom, finish string }{
		{"20 C", "2026-03-07T08:20:00+01:00", "2026-03-06T21:25:00+01:00", "2026-03-07T09:30:00+01:00"},
		{"10 C", "2026-03-07T13:20:00+01:00", "", "2026-03-09T19:20:00+01:00"},
		{"4 C", "2026-03-07T18:20:00+01:00", "", "2026-03-09T19:20:00+01:00"},
	} {
		t.Run(c.night, func(t *testing.T) {
			sh := shopOf(t, handFiles(c.night, handJob))
			p := planOf(t, sh, instant(t, "2026-03-06T18:00:00+01:00"), Options{Explain: true})
			at(t, "cut from", item(t, p, "cut", Bench).From, "2026-03-06T19:00:00+01:00")
			at(t, "cut to", item(t, p, "cut", Bench).To, "2026-03-06T19:50:00+01:00")
			at(t, "clamps on", item(t, p, "core", Clamped).From, "2026-03-06T20:20:00+01:00")
			at(t, "clamps may come off", item(t, p, "core", Clamped).Earliest, "2026-03-06T21:20:00+01:00")
			at(t, "clamps off from", item(t, p, "core", ClampsOff).From, "2026-03-06T21:20:00+01:00")
			at(t, "clamps off to", item(t, p, "core", ClampsOff).To, "2026-03-06T21:25:00+01:00")
			at(t, "cured", item(t, p, "core", Cure).Earliest, c.cured)
			if c.trimFrom != "" {
				at(t, "trim from, set-up included", item(t, p, "trim", Bench).From, c.trimFrom)
			}
			at(t, "finish", p.Jobs[0].Finish, c.finish)
			if !p.Proved || p.Within != 0 || !p.Earliest.Equal(p.Jobs[0].Finish) {
				t.Errorf("proved %v, within %s, earliest %s", p.Proved, p.Within, p.Earliest)
			}
			if p.SetUps != 2 {
				t.Errorf("%d changes of set-up, want 2", p.SetUps)
			}
			cold := strings.Contains(strings.Join(p.Warnings, "\n"), "below 5 °C from 22:00 to 08:00")
			if cold != (c.night == "4 C") {
				t.Errorf("warnings: %q", p.Warnings)
			}
			if len(p.Chain) == 0 || !p.Items[p.Chain[len(p.Chain)-1].Item].To.Equal(p.Jobs[0].Finish) {
				t.Errorf("the chain does not end with the finish: %v", p.Chain)
			}
		})
	}
}

// In clamps now, by the log: begun 19:30, clamped at 20:00 with the
// thermometer at 20 C in a shop that is 20 C anyway; it is 20:30. The clamps
// may come off at 21:00; the cure has 30 of its 720 minutes, and with a night
// at 10 C is over at: 20:00-22:00 120 min, night 300, 300 more from 08:00 =
// 13:00 on Saturday, when the shop shuts.
func TestHandWorkedFromTheLog(t *testing.T) {
	fs := handFiles("10 C", handJob)
	log := func(name, did, step, when string) {
		fs["jobs/plate/log/"+name+".md"] = "---\nat: " + when + "\ndid: " + did + "\nstep: " + step + "\nair: 20 C\n---\n"
	}
	log("2026-03-06T1900-shop-finished-cut", "finished", "cut", "2026-03-06T19:25:00+01:00")
	log("2026-03-06T1930-shop-began-core", "began", "core", "2026-03-06T19:30:00+01:00")
	log("2026-03-06T2000-shop-clamped-core", "clamped", "core", "2026-03-06T20:00:00+01:00")
	sh := shopOf(t, fs)
	now := instant(t, "2026-03-06T20:30:00+01:00")
	p := planOf(t, sh, now, Options{})
	at(t, "clamps off from", item(t, p, "core", ClampsOff).From, "2026-03-06T21:00:00+01:00")
	at(t, "cured", item(t, p, "core", Cure).Earliest, "2026-03-07T13:00:00+01:00")
	at(t, "finish", p.Jobs[0].Finish, "2026-03-09T19:20:00+01:00")
	if c := item(t, p, "core", Clamped); !c.Started || c.Clamps["bar"] != 6 {
		t.Errorf("in clamps: %+v", c)
	}
	for _, it := range p.Items {
		if it.Step == "cut" {
			t.Errorf("what is done is planned again: %+v", it)
		}
	}
	n, err := At(sh, now, 0, p)
	if err != nil {
		t.Fatal(err)
	}
	if len(n.Timers) != 1 || n.Timers[0].Kind != Clamped {
		t.Fatalf("timers: %+v", n.Timers)
	}
	at(t, "timer", n.Timers[0].Ready, "2026-03-06T21:00:00+01:00")
	if len(n.Blocked) != 1 || !n.Blocked[0].Until.Equal(instant(t, "2026-03-07T13:00:00+01:00")) {
		t.Errorf("blocked: %+v", n.Blocked)
	}
}

// A colder reading than the profile delays what is in the clamps, and the plan
// follows the thermometer: at 20 C the clamps may come off after 60 minutes.
func TestLoggedAirMovesTheWait(t *testing.T) {
	var off [2]time.Time
	for i, air := range []string{"20 C", "12 C"} {
		fs := handFiles("20 C", handJob)
		fs["jobs/plate/log/2026-03-06T1925-shop-finished-cut.md"] = "---\nat: 2026-03-06T19:25:00+01:00\ndid: finished\nstep: cut\n---\n"
		fs["jobs/plate/log/2026-03-06T2000-shop-clamped-core.md"] = "---\nat: 2026-03-06T20:00:00+01:00\ndid: clamped\nstep: core\nair: " + air + "\n---\n"
		p := planOf(t, shopOf(t, fs), instant(t, "2026-03-06T20:05:00+01:00"), Options{})
		off[i] = item(t, p, "core", Clamped).Earliest
	}
	at(t, "at 20 C", off[0], "2026-03-06T21:00:00+01:00")
	// no warmer than 20 C and no colder than 12 C: between 1 and 2^0.8 times the hour
	if !off[1].After(off[0].Add(15*time.Minute)) || off[1].After(off[0].Add(45*time.Minute)) {
		t.Errorf("at 12 C off %s, at 20 C %s", off[1], off[0])
	}
}

// Clamps, by hand: two glue-ups of 6 clamps with 8 in the shop. Each: 30 min
// hands on, off 60 min later. Begun 9:00, on 9:30, off 10:30-10:35; the second
// cannot begin before 10:35: on 11:05, off 12:05-12:10, cured 12 h after 11:05.
// With 12 clamps the second is on at 10:00, off 11:00-11:05, and cured at 22:00:
// 65 min earlier.
func TestHandWorkedClamps(t *testing.T) {
	jobYAML := `
name: Two plates
parts: [{id: base, qty: 4, size: 600 x 400 x 12, from: ply}]
glue-ups:
  - {id: a, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}}
  - {id: b, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}}
steps:
  - {id: a, name: Glue one, takes: 30 min}
  - {id: b, name: Glue two, takes: 30 min}
  - {id: done, name: Look at both, takes: 5 min, after: [a clamps-off, b clamps-off]}
`
	fs := handFiles("20 C", jobYAML)
	p := planOf(t, shopOf(t, fs), instant(t, "2026-03-07T08:00:00+01:00"), Options{Explain: true, Helps: true})
	at(t, "look", item(t, p, "done", Bench).From, "2026-03-07T12:10:00+01:00")
	var second Item
	for _, it := range p.Items {
		if it.Kind == Bench && it.From.Equal(instant(t, "2026-03-07T10:35:00+01:00")) {
			second = it
		}
	}
	if !strings.Contains(second.Because, "bar clamps") {
		t.Errorf("the second glue-up: %+v", second)
	}
	at(t, "finish", p.Jobs[0].Finish, "2026-03-07T23:05:00+01:00")
	saves := time.Duration(0)
	for _, h := range p.Helps {
		if h.Change == "6 more bar clamps" {
			saves = h.Saves
		}
	}
	if saves != 65*time.Minute {
		t.Errorf("more clamps save %s: %v", saves, p.Helps)
	}
	fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], "qty: 8", "qty: 12", 1)
	p = planOf(t, shopOf(t, fs), instant(t, "2026-03-07T08:00:00+01:00"), Options{})
	at(t, "look, with 12 clamps", item(t, p, "done", Bench).From, "2026-03-07T11:05:00+01:00")
}

// Set aside steps, and what waits for them, stay out of the plan and are told;
// an optional one holds nothing up.
func TestSetAside(t *testing.T) {
	jobYAML := `
name: Plate
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
steps:
  - {id: a, name: Engrave, takes: 30 min%s}
  - {id: b, name: Wax, takes: 30 min, after: [a]}
  - {id: c, name: Hang up, takes: 30 min}
`
	for _, c := range []struct {
		optional string
		items    int
	}{{"", 1}, {", optional: true", 2}} {
		fs := handFiles("20 C", strings.Replace(jobYAML, "%s", c.optional, 1))
		fs["jobs/plate/log/2026-03-06T1925-shop-set-aside-a.md"] = "---\nat: 2026-03-06T19:25:00+01:00\ndid: set-aside\nstep: a\n---\n"
		p := planOf(t, shopOf(t, fs), instant(t, "2026-03-06T20:00:00+01:00"), Options{})
		if len(p.Items) != c.items || len(p.Warnings) != 3-c.items {
			t.Errorf("optional %q: %d items, warnings %q", c.optional, len(p.Items), p.Warnings)
		}
	}
}

// A second coat whose last moment is past is planned all the same, and told.
func TestLateCoatIsTold(t *testing.T) {
	jobYAML := `
name: Plate
steps:
  - {id: coat, name: First coat, takes: 20 min, finish: true}
  - {id: coat-2, name: Second coat, takes: 20 min, finish: true, after: [4 h to 24 h after coat]}
`
	fs := handFiles("20 C", jobYAML)
	fs["jobs/plate/log/2026-03-02T1925-shop-finished-coat.md"] = "---\nat: 2026-03-02T19:25:00+01:00\ndid: finished\nstep: coat\n---\n"
	for _, now := range []string{"2026-03-04T20:00:00+01:00", "2026-03-03T21:20:00+01:00"} {
		sh := shopOf(t, fs)
		p := planOf(t, sh, instant(t, now), Options{})
		if len(p.Warnings) != 1 || !strings.Contains(p.Warnings[0], "Tue 3 Mar 19:25") || !strings.Contains(p.Warnings[0], "sand") {
			t.Errorf("%s: warnings %q", now, p.Warnings)
		}
		if n := item(t, p, "coat-2", Bench); n.From.Before(instant(t, now)) {
			t.Errorf("planned %s", n.From)
		}
	}
	// in time it is no warning, and the last moment stands with the step
	p := planOf(t, shopOf(t, fs), instant(t, "2026-03-03T18:00:00+01:00"), Options{})
	at(t, "second coat", item(t, p, "coat-2", Bench).From, "2026-03-03T19:00:00+01:00")
	at(t, "its last moment", item(t, p, "coat-2", Bench).Latest, "2026-03-03T19:25:00+01:00")
	if len(p.Warnings) != 0 {
		t.Errorf("warnings: %q", p.Warnings)
	}
}

// On the bench: 40 minutes of work begun 25 minutes ago have 15 left.
func TestOnTheBench(t *testing.T) {
	fs := handFiles("20 C", handJob)
	fs["jobs/plate/log/2026-03-06T1915-shop-began-cut.md"] = "---\nat: 2026-03-06T19:15:00+01:00\ndid: began\nstep: cut\n---\n"
	sh := shopOf(t, fs)
	now := instant(t, "2026-03-06T19:40:00+01:00")
	p := planOf(t, sh, now, Options{})
	cut := item(t, p, "cut", Bench)
	at(t, "cut to", cut.To, "2026-03-06T19:55:00+01:00")
	if !cut.Started || cut.Change != 0 {
		t.Errorf("cut: %+v", cut)
	}
	n, err := At(sh, now, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(n.OnBench) != 1 || n.OnBench[0].Takes.Minutes() != 15 || n.OnBench[0].State != job.OnBench {
		t.Errorf("on the bench: %+v", n.OnBench)
	}
	// left overnight it is taken up again in the next session
	p = planOf(t, sh, instant(t, "2026-03-06T23:00:00+01:00"), Options{})
	at(t, "taken up", item(t, p, "cut", Bench).From, "2026-03-07T09:00:00+01:00")
}

// A due date decides between two jobs: the one that is due is done first.
func TestDueDates(t *testing.T) {
	one := func(due string) string {
		return "name: " + "Plate\n" + due + "steps:\n  - {id: a, name: Work, takes: 2 h}\n"
	}
	fs := handFiles("20 C", one(""))
	fs["jobs/zebra/job.yaml"] = one("due: 2026-03-02\n")
	p := planOf(t, shopOf(t, fs), instant(t, "2026-03-02T18:00:00+01:00"), Options{})
	for _, j := range p.Jobs {
		want := "2026-03-03T21:00:00+01:00"
		if j.Job == "zebra" {
			want = "2026-03-02T21:00:00+01:00"
		}
		at(t, j.Job, j.Finish, want)
		if j.Late != 0 {
			t.Errorf("%s is late by %s", j.Job, j.Late)
		}
	}
	fs["jobs/plate/job.yaml"] = one("due: 2026-03-02\n")
	p = planOf(t, shopOf(t, fs), instant(t, "2026-03-02T18:00:00+01:00"), Options{})
	late := p.Jobs[0].Late + p.Jobs[1].Late
	if late != 21*time.Hour { // one of the two ends Tuesday 21:00, due Monday 24:00
		t.Errorf("late by %s", late)
	}
}

// Sessions through the clock changes, by hand: the shop is open Sundays 00:30
// to 05:00, which is 3 h 30 min long in the spring night, 5 h 30 min in the
// autumn night and 4 h 30 min otherwise; 4 h in one go fit or do not.
func TestPlanThroughClockChanges(t *testing.T) {
	for _, c := range []struct{ zone, now, from, to string }{
		{"America/New_York", "2026-03-07T12:00:00-05:00", "2026-03-15T00:30:00-04:00", "2026-03-15T04:30:00-04:00"},
		{"America/New_York", "2026-10-31T12:00:00-04:00", "2026-11-01T00:30:00-04:00", "2026-11-01T03:30:00-05:00"},
		{"Europe/Berlin", "2026-03-28T12:00:00+01:00", "2026-04-05T00:30:00+02:00", "2026-04-05T04:30:00+02:00"},
		{"Europe/Berlin", "2026-10-24T12:00:00+02:00", "2026-10-25T00:30:00+02:00", "2026-10-25T03:30:00+01:00"},
		{"Australia/Lord_Howe", "2026-10-03T12:00:00+10:30", "2026-10-04T00:30:00+10:30", "2026-10-04T05:00:00+11:00"},
		{"Australia/Lord_Howe", "2026-04-04T12:00:00+11:00", "2026-04-05T00:30:00+11:00", "2026-04-05T04:00:00+10:30"},
	} {
		fs := files{
			"shop.yaml":           "name: Night owl\nzone: " + c.zone + "\nhours:\n  sun: 0:30-5:00\n",
			"jobs/plate/job.yaml": "name: Plate\nsteps: [{id: carve, name: Carve, takes: 4 h}]\n",
		}
		p := planOf(t, shopOf(t, fs), instant(t, c.now), Options{})
		it := item(t, p, "carve", Bench)
		at(t, c.zone+" from", it.From, c.from)
		at(t, c.zone+" to", it.To, c.to)
		if len(it.Sessions) != 0 || len(p.Days) == 0 {
			t.Errorf("%s: %+v, days %v", c.zone, it, p.Days)
		}
	}
}

// Clamp time through the autumn night is as long as it is: on at 23:30 with
// four hours to go, they may come off at 02:30 on the second round of the
// clock, four exact hours later.
func TestWaitThroughTheAutumnNight(t *testing.T) {
	fs := calendarShop("Europe/Berlin", "  mon-fri: 18:00-21:00\n  sat: 23:00-24:00\n  sun: 0:00-8:00\n")
	fs["glues.yaml"] = "glues: [{id: test, type: pva-yellow, clamp: {20 C: 4 h}, cure: {20 C: 24 h}}]\n"
	p := planOf(t, shopOf(t, fs), instant(t, "2026-10-24T20:00:00+02:00"), Options{})
	c := item(t, p, "core", Clamped)
	at(t, "clamps on", c.From, "2026-10-24T23:30:00+02:00")
	at(t, "may come off", c.Earliest, "2026-10-25T02:30:00+01:00")
	at(t, "come off", c.To, "2026-10-25T02:30:00+01:00")
}

// What is in the clamps of one job is not free for another, even when only the
// other is planned: 6 of 8 are on the plate until 21:00 and taken off by 21:05.
func TestOtherJobsHoldTheirClamps(t *testing.T) {
	fs := handFiles("20 C", handJob)
	fs["jobs/plate/log/2026-03-06T1925-shop-finished-cut.md"] = "---\nat: 2026-03-06T19:25:00+01:00\ndid: finished\nstep: cut\n---\n"
	fs["jobs/plate/log/2026-03-06T2000-shop-clamped-core.md"] = "---\nat: 2026-03-06T20:00:00+01:00\ndid: clamped\nstep: core\n---\n"
	fs["jobs/rail/job.yaml"] = `
name: Rail
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
glue-ups: [{id: glue, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 4}}]
steps: [{id: glue, name: Glue the rail, takes: 20 min}]
`
	sh := shopOf(t, fs)
	p := planOf(t, sh, instant(t, "2026-03-06T20:10:00+01:00"), Options{Jobs: []string{"rail"}})
	at(t, "glue", item(t, p, "glue", Bench).From, "2026-03-06T21:05:00+01:00")
	if len(p.Jobs) != 1 || p.Jobs[0].Job != "rail" {
		t.Errorf("jobs: %+v", p.Jobs)
	}
	if _, err := Make(context.Background(), sh, p.Now, Options{Jobs: []string{"sled"}}); err == nil {
		t.Error("a job that is not there is planned")
	}
}

// A job without steps, and one that is done, are said to be so.
func TestNothingToPlan(t *testing.T) {
	fs := handFiles("20 C", "name: Idea\n")
	fs["jobs/rail/job.yaml"] = "name: Rail\nsteps: [{id: cut, name: Cut, takes: 20 min}]\n"
	fs["jobs/rail/log/2026-03-06T1925-shop-finished-cut.md"] = "---\nat: 2026-03-06T19:25:00+01:00\ndid: finished\nstep: cut\n---\n"
	sh := shopOf(t, fs)
	p := planOf(t, sh, instant(t, "2026-03-06T20:10:00+01:00"), Options{Explain: true, Helps: true})
	txt := Text(p, 80, sh.Units)
	for _, want := range []string{"Idea: no steps to plan yet", "Rail: done", "nothing left to plan"} {
		if !strings.Contains(txt, want) {
			t.Errorf("no %q in:\n%s", want, txt)
		}
	}
}

// A search that is stopped gives what it has, or says that it has nothing.
func TestStoppedSearch(t *testing.T) {
	sh := shopOf(t, handFiles("20 C", handJob))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	p, err := Make(ctx, sh, instant(t, "2026-03-06T18:00:00+01:00"), Options{})
	if err == nil && len(p.Items) == 0 || err != nil && !errors.Is(err, ErrNoTime) {
		t.Errorf("plan %v, error %v", p, err)
	}
}
