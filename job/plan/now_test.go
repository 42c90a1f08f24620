package plan

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"caul/job"
	"caul/job/measure"
)

// nowOf answers what can be done, which it always must.
func nowOf(t testing.TB, sh *job.Shop, now string, span measure.Span) *Now {
	t.Helper()
	n, err := At(sh, instant(t, now), span, nil)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func choices(cs []Choice) string {
	var out []string
	for _, c := range cs {
		s := c.Step
		if c.Helps {
			s += "*"
		}
		if !c.Fits {
			s += "!"
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

func blockedBy(n *Now, step string) string {
	for _, b := range n.Blocked {
		if b.Step == step {
			return b.By
		}
	}
	return ""
}

const nowJob = `
name: Press plate
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
glue-ups:
  - {id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}, place: table, scrape: 30 min to 60 min}
  - {id: side, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 4}}
steps:
  - {id: cut, name: Cut the plates, takes: 40 min, setup: "saw, rip 400"}
  - {id: core, name: Glue the plates, takes: 30 min, after: [cut]}
  - {id: side, name: Glue the sides, takes: 20 min}
  - {id: carve, name: Carve, takes: 3 h, split: true}
  - {id: label, name: Write the label, takes: 5 min}
  - {id: trim, name: Trim them flush, takes: 20 min, setup: "router, flush-trim", after: [core cured]}
  - {id: coat, name: First coat, takes: 15 min, finish: true, after: [trim]}
  - {id: coat-2, name: Second coat, takes: 15 min, finish: true, after: [2 h to 24 h after coat]}
`

// What can be begun, by hand: cut leads the longest way (40 min and the glue's
// 12 h), so the finish hangs on it; then the side's cure, the carving, the
// label. Cut wants 10 min of set-up: 50 in all.
func TestNowOrdersByWhatHelps(t *testing.T) {
	sh := shopOf(t, handFiles("20 C", nowJob))
	for _, c := range []struct {
		span measure.Span
		want string
	}{
		{50 * measure.Minute, "cut* side carve label"},
		{49 * measure.Minute, "side carve label cut*!"},
		{5 * measure.Minute, "label cut*! side! carve!"},
		{0, "cut* side carve label"}, // what is left of the session: 150 min
	} {
		n := nowOf(t, sh, "2026-03-06T19:00:00+01:00", c.span)
		if got := choices(n.CanDo); got != c.want {
			t.Errorf("in %s: %s, want %s", c.span, got, c.want)
		}
		if !n.Open {
			t.Error("the shop is open")
		}
	}
	n := nowOf(t, sh, "2026-03-06T12:00:00+01:00", 0)
	if n.Open || !n.Next.Equal(instant(t, "2026-03-06T19:00:00+01:00")) {
		t.Errorf("open %v, next %s", n.Open, n.Next)
	}
	if by := blockedBy(n, "core"); by != "waits for Cut the plates" {
		t.Errorf("core: %q", by)
	}
}

// In clamps: what the clamps hold is not free, the squeeze-out is scraped in
// its half hour, and the clamps come off when the glue lets them.
func TestNowThroughAGlueUp(t *testing.T) {
	fs := handFiles("20 C", nowJob)
	fs["jobs/plate/log/2026-03-06T1930-shop-finished-cut.md"] = "---\nat: 2026-03-06T19:30:00+01:00\ndid: finished\nstep: cut\n---\n"
	fs["jobs/plate/log/2026-03-06T2000-shop-clamped-core.md"] = "---\nat: 2026-03-06T20:00:00+01:00\ndid: clamped\nstep: core\n---\n"
	sh := shopOf(t, fs)
	for _, c := range []struct{ now, can, timers, side string }{
		{"20:10", "carve label", "Scrape the squeeze-out: Glue the plates wait 20:30, Glue the plates in clamps 21:00", "takes 4 bar clamps, and 2 of 8 are free"},
		{"20:45", "core* carve label", "Glue the plates in clamps 21:00", "takes 4 bar clamps, and 2 of 8 are free"},
		{"21:05", "core* carve label", "Glue the plates in clamps 21:00", "takes 4 bar clamps, and 2 of 8 are free"},
	} {
		n := nowOf(t, sh, "2026-03-06T"+c.now+":00+01:00", 60*measure.Minute)
		var timers []string
		for _, x := range n.Timers {
			timers = append(timers, fmt.Sprintf("%s %s %s", x.Name, x.Kind, x.Ready.Format("15:04")))
		}
		if got := strings.Join(timers, ", "); got != c.timers {
			t.Errorf("%s: timers %s, want %s", c.now, got, c.timers)
		}
		if got := choices(n.CanDo); got != c.can {
			t.Errorf("%s: can do %s, want %s", c.now, got, c.can)
		}
		if by := blockedBy(n, "side"); by != c.side {
			t.Errorf("%s: side is blocked by %q", c.now, by)
		}
	}
	fs["jobs/plate/log/2026-03-06T2110-shop-unclamped-core.md"] = "---\nat: 2026-03-06T21:10:00+01:00\ndid: unclamped\nstep: core\n---\n"
	n := nowOf(t, shopOf(t, fs), "2026-03-06T21:15:00+01:00", 60*measure.Minute)
	if by := blockedBy(n, "side"); by != "" {
		t.Errorf("the clamps are back, and side is blocked by %q", by)
	}
	if len(n.Timers) != 1 || n.Timers[0].Kind != Cure || !n.Timers[0].Ready.Equal(instant(t, "2026-03-07T08:00:00+01:00")) {
		t.Errorf("timers: %+v", n.Timers)
	}
	// twelve hours on at 20 C it is done, without a word in the log
	n = nowOf(t, shopOf(t, fs), "2026-03-07T09:00:00+01:00", 60*measure.Minute)
	if got := choices(n.CanDo); got != "side* carve trim label" || len(n.Timers) != 0 { // the side's cure is now the longest way
		t.Errorf("in the morning: %s, timers %+v", got, n.Timers)
	}
}

// A step whose follow-up would fall when the shop is shut does not fit, and it
// is said why: glue at 20:40 is clamped at 21:10, scraped 21:40 to 22:10.
func TestNowLooksAhead(t *testing.T) {
	fs := handFiles("20 C", nowJob)
	fs["jobs/plate/log/2026-03-06T1930-shop-finished-cut.md"] = "---\nat: 2026-03-06T19:30:00+01:00\ndid: finished\nstep: cut\n---\n"
	sh := shopOf(t, fs)
	find := func(n *Now) Choice {
		for _, c := range n.CanDo {
			if c.Step == "core" {
				return c
			}
		}
		return Choice{}
	}
	if c := find(nowOf(t, sh, "2026-03-06T20:00:00+01:00", 0)); !c.Fits || !strings.Contains(c.Why, "21:00 to 21:30") {
		t.Errorf("at 20:00: %+v", c)
	}
	if c := find(nowOf(t, sh, "2026-03-06T20:40:00+01:00", 0)); c.Fits || !strings.Contains(c.Why, "21:40 to 22:10, when the shop is shut") {
		t.Errorf("at 20:40: %+v", c)
	}
	// unless the maker says they have the time
	if c := find(nowOf(t, sh, "2026-03-06T20:40:00+01:00", 90*measure.Minute)); !c.Fits {
		t.Errorf("at 20:40 with 90 min: %+v", c)
	}
	// the varnish has its last moment
	for i, did := range []string{"core", "side", "carve", "label", "trim", "coat"} {
		fs[fmt.Sprintf("jobs/plate/log/2026-03-09T19%02d-shop-finished-%s.md", i, did)] = fmt.Sprintf("---\nat: 2026-03-09T19:%02d:00+01:00\ndid: finished\nstep: %s\n---\n", i, did)
	}
	n := nowOf(t, shopOf(t, fs), "2026-03-10T19:00:00+01:00", 0)
	if len(n.CanDo) != 1 || !n.CanDo[0].Latest.Equal(instant(t, "2026-03-10T19:05:00+01:00")) {
		t.Errorf("second coat: %+v", n.CanDo)
	}
	if txt := NowText(n, 40, job.Units{}); !strings.Contains(txt, "begin by 19:05") {
		t.Errorf("the text does not say so:\n%s", txt)
	}
}

// Too cold to spread: the air at 7:00 is the night's 4 C, below the glue's 5 C,
// and it is warm again when the shop opens at 9:00.
func TestNowTooCold(t *testing.T) {
	fs := handFiles("4 C", nowJob)
	n := nowOf(t, shopOf(t, fs), "2026-03-07T07:00:00+01:00", 60*measure.Minute)
	for _, b := range n.Blocked {
		if b.Step == "side" {
			if !strings.Contains(b.By, "the air is 4 °C") || !b.Until.Equal(instant(t, "2026-03-07T09:00:00+01:00")) {
				t.Errorf("side: %+v", b)
			}
			return
		}
	}
	t.Errorf("side is not blocked: %+v", n.CanDo)
}

// Readings come round: three months after the last one by the calendar, after
// so many uses since, and once when a finished jig was never read.
func TestChecksComeRound(t *testing.T) {
	fs := handFiles("20 C", `
name: Sled
steps: [{id: cut, name: Cut, takes: 10 min}]
checks: [{id: square, measure: five-cut strip, at-most: 0.1 mm, every: 3 months}, {id: flat, measure: gap, at-most: 0.1 mm}, {id: middle, measure: offset, at-most: 0.1 mm, every: 3 uses}]
hardware: [{item: screw, qty: 4, step: cut}]
`)
	fs["jobs/plate/log/2026-01-05T1930-shop-finished-cut.md"] = "---\nat: 2026-01-05T19:30:00+01:00\ndid: finished\nstep: cut\n---\n"
	fs["jobs/plate/log/2026-01-06T1930-shop-read-square.md"] = "---\nat: 2026-01-06T19:30:00+01:00\ndid: read\ncheck: square\nvalue: 0.05 mm\n---\n"
	fs["jobs/plate/log/2026-01-06T1931-shop-read-middle.md"] = "---\nat: 2026-01-06T19:31:00+01:00\ndid: read\ncheck: middle\nvalue: 0.05 mm\n---\n"
	due := func(now string) string {
		var out []string
		for _, c := range nowOf(t, shopOf(t, fs), now, 0).Checks {
			out = append(out, c.Check)
		}
		return strings.Join(out, " ")
	}
	if got := due("2026-04-06T19:29:00+02:00"); got != "flat" {
		t.Errorf("before the time has come: %q", got)
	}
	if got := due("2026-04-06T19:30:00+02:00"); got != "square flat" {
		t.Errorf("when it has come: %q", got)
	}
	use := func(at, item string, qty int) {
		fs["jobs/plate/log/2026-"+at+"-shop-used-"+item+".md"] = fmt.Sprintf("---\nat: 2026-%sT19:00:00+01:00\ndid: used\nitem: %s\nqty: %d\n---\n", at[:5], item, qty)
	}
	use("01-05T1900", "plate", 9) // before the reading
	use("02-01T1900", "plate", 2)
	use("02-02T1900", "screw", 4) // used up in the making: no use of the jig
	if got := due("2026-04-06T19:29:00+02:00"); got != "flat" {
		t.Errorf("after 2 uses of 3: %q", got)
	}
	use("02-03T1900", "plate", 1)
	if got := due("2026-04-06T19:29:00+02:00"); got != "flat middle" {
		t.Errorf("after 3 uses of 3: %q", got)
	}
}

// Two thousand entries in a log.
func BenchmarkNowLongLog(b *testing.B) {
	sh := shopOf(b, handFiles("10 C", nowJob))
	j := sh.Jobs[0]
	from := instant(b, "2026-03-01T10:00:00Z")
	air := measure.InCelsius(17)
	for i := range 2000 {
		e := job.Entry{ID: fmt.Sprintf("e%d", i), File: fmt.Sprintf("e%d.md", i), Time: from.Add(time.Duration(i) * time.Minute), Did: job.DidNote, Step: "cut"}
		if i%4 == 0 {
			e.Did, e.Step, e.Air = job.DidAir, "", &air
		}
		j.Log = append(j.Log, e)
	}
	for b.Loop() {
		if _, err := At(sh, from.Add(48*time.Hour), 50*measure.Minute, nil); err != nil {
			b.Fatal(err)
		}
	}
}
