package plan

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"caul/job/measure"
)

// coldFiles is the hand shop at 3 °C day and night; its glue stands still below
// 5 °C. The plate is in the clamps since Friday 20:00.
func coldFiles(jobYAML string) files {
	fs := handFiles("20 C", jobYAML)
	fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], `day: {"8:00": 20 C, "22:00": 20 C}`, `day: {"8:00": 3 C}`, 1)
	fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], "{id: bar, kind: bar, qty: 8}", "{id: bar, name: long bar clamps, kind: bar, qty: 8}", 1)
	fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], "[{id: table}]", "[{id: table, name: the flat table}]", 1)
	fs["jobs/plate/log/2026-03-06T1925-shop-finished-cut.md"] = "---\nat: 2026-03-06T19:25:00+01:00\ndid: finished\nstep: cut\n---\n"
	fs["jobs/plate/log/2026-03-06T2000-shop-clamped-core.md"] = "---\nat: 2026-03-06T20:00:00+01:00\ndid: clamped\nstep: core\nair: 3 C\n---\n"
	return fs
}

// A joint too cold to set has no end, and nothing that waits for it a time: no
// finish is made up, in no form of the plan. What does not wait is planned.
//
// By hand: the label's 12 h at 20 °C and 24 h at 10 °C are a doubling for each
// 10 degrees (handGlues), so at 5 °C, the least, it is 24 h × 2^0.5 = 33.94 h =
// 33 h 57 min, rounded up.
func TestNeverSetsHasNoFinish(t *testing.T) {
	fs := coldFiles(handJob)
	fs["jobs/rail/job.yaml"] = "name: Rail\nsteps: [{id: saw, name: Saw the rail, takes: 20 min}]\n"
	sh := shopOf(t, fs)
	now := instant(t, "2026-03-06T20:10:00+01:00")
	p := planOf(t, sh, now, Options{Explain: true, Helps: true})
	last := now.AddDate(0, 0, 8)
	for _, it := range p.Items {
		if it.Step == "trim" || it.Kind == ClampsOff {
			t.Errorf("%s (%s) waits for a glue that does not set, and is planned %s", it.Name, it.Kind, it.From)
		}
		if it.From.After(last) || it.To.After(last) || it.Earliest.After(last) {
			t.Errorf("%s: %s to %s, earliest %s", it.Name, it.From, it.To, it.Earliest)
		}
	}
	at(t, "the rail", item(t, p, "saw", Bench).To, "2026-03-06T20:30:00+01:00")
	for _, j := range p.Jobs {
		if j.Never != (j.Job == "plate") || j.Finish.IsZero() != (j.Job == "plate") {
			t.Errorf("%s: never %v, finish %s", j.Job, j.Never, j.Finish)
		}
	}
	if len(p.Never) != 1 || p.Never[0].Step != "core" || p.Never[0].Lowest != measure.InCelsius(5) || p.Proved {
		t.Fatalf("never: %+v, proved %v", p.Never, p.Proved)
	}
	text := Text(p, 200, sh.Units)
	for _, want := range []string{
		"Press plate: no finish can be told", "Rail: finishes Fri 6 Mar 20:30",
		"Glue the plates: PVA, interior, yellow (aliphatic) sets at 5 °C or above",
		"warm the joint to 5 °C or more", "33 h 57 min",
		"6 long bar clamps on the flat table", "too cold to set; the clamps stay on",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	n, err := At(sh, now, 0, p)
	if err != nil {
		t.Fatal(err)
	}
	js, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	// 200 days after 6 March is 22 September: of the months between, no form of
	// the answer has one.
	forms := map[string]string{
		"the plan": text, "JSON": string(js), "now": NowText(n, 80, sh.Units),
		"the day sheet": string(DaySheet(p, SheetOptions{})), "the calendar": string(Calendar(p, CalendarOptions{})),
	}
	for what, s := range forms {
		for _, made := range []string{"Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "2026-04", "2026-09", "202609", "0001-01"} {
			if strings.Contains(s, made) {
				t.Errorf("%s has a made-up date, %s:\n%s", what, made, s)
			}
		}
	}
	if !strings.Contains(forms["the day sheet"], "too cold to set") {
		t.Error("the day sheet does not say that it is too cold")
	}
	if !strings.Contains(forms["now"], "6 long bar clamps on the flat table") {
		t.Errorf("clamps are not called by name:\n%s", forms["now"])
	}
}

// A joint that is not glued yet, in air below its glue's least temperature,
// cannot be planned: the step, the glue, that temperature and a change are
// named. The change holds: at 5 °C there is a plan.
func TestNeverSetsCannotBePlanned(t *testing.T) {
	fs := coldFiles(handJob)
	delete(fs, "jobs/plate/log/2026-03-06T2000-shop-clamped-core.md")
	sh := shopOf(t, fs)
	now := instant(t, "2026-03-06T20:10:00+01:00")
	_, err := Make(context.Background(), sh, now, Options{})
	var inf *Infeasible
	if !errors.As(err, &inf) {
		t.Fatalf("error %v", err)
	}
	if inf.Step != "core" || !strings.Contains(inf.What, "5 °C") || !strings.Contains(inf.What, "yellow") || !strings.Contains(inf.Change, "5 °C") {
		t.Errorf("%q, %q", inf.What, inf.Change)
	}
	fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], `{"8:00": 3 C}`, `{"8:00": 5 C}`, 1)
	p := planOf(t, shopOf(t, fs), now, Options{})
	if len(p.Never) > 0 || p.Jobs[0].Finish.After(now.Add(14*24*time.Hour)) {
		t.Errorf("at 5 °C: %+v, finish %s", p.Never, p.Jobs[0].Finish)
	}
}

// Clamps are called as shop.yaml calls them, in its order; a kind without a
// name by its id.
func TestClampWords(t *testing.T) {
	sh := shopOf(t, files{"shop.yaml": "name: s\nhours: {sat: 9:00-12:00}\nclamps: [{id: f-style, name: F-clamps, kind: f-style, qty: 9}, {id: bar, kind: bar, qty: 9}]\n"})
	for want, m := range map[string]map[string]int{
		"4 F-clamps, 8 bar clamps": {"bar": 8, "f-style": 4},
		"1 F-clamp, 1 bar clamp":   {"bar": 1, "f-style": 1},
		"2 lost clamps":            {"lost": 2, "bar": 0},
		"":                         nil,
	} {
		if got := ClampWords(sh, m); got != want {
			t.Errorf("%v: %q, want %q", m, got, want)
		}
	}
}
