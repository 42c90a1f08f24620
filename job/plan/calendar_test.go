package plan

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
)

// Folding by RFC 5545, section 3.1: no physical line over 75 octets, the
// leading space of a continuation counted, no character split.
func TestFold(t *testing.T) {
	for _, c := range []struct {
		line string
		want []int
	}{
		{"DESCRIPTION:" + strings.Repeat("x", 63), []int{75}},
		{"DESCRIPTION:" + strings.Repeat("x", 64), []int{75, 2}},
		{"SUMMARY:" + strings.Repeat("é", 40), []int{74, 15}},
	} {
		got := strings.Split(fold(c.line), "\r\n")
		var lens []int
		for _, l := range got {
			lens = append(lens, len(l))
			if !utf8.ValidString(l) {
				t.Errorf("a character is split in %q", l)
			}
		}
		if len(lens) != len(c.want) {
			t.Fatalf("%.20s: lines of %v octets, want %v", c.line, lens, c.want)
		}
		for i := range lens {
			if lens[i] != c.want[i] {
				t.Errorf("%.20s: lines of %v octets, want %v", c.line, lens, c.want)
			}
		}
		if back := strings.ReplaceAll(fold(c.line), "\r\n ", ""); back != c.line {
			t.Errorf("unfolded: %q", back)
		}
	}
}

// TEXT by RFC 5545, section 3.3.11; the colon is not escaped.
func TestEscapeText(t *testing.T) {
	got := escapeText("a\\b; c, d: e\nf\r\ng\x00\x1b\tok\xff")
	if want := `a\\b\; c\, d: e\nf\ng ok` + "\uFFFD"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The version 5 UUID of "www.example.com" in the DNS namespace is the example
// of RFC 9562, appendix A.4.
func TestUUID5(t *testing.T) {
	dns := [16]byte{0x6b, 0xa7, 0xb8, 0x10, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8}
	if got := uuid5(dns, "www.example.com"); got != "2ed6657d-e927-568b-95e1-2665a8aea6a2" {
		t.Errorf("got %s", got)
	}
}

func TestAlarmIsExactTime(t *testing.T) {
	for d, want := range map[time.Duration]string{0: "PT0S", time.Hour: "-PT1H", 24 * time.Hour: "-PT24H", 90 * time.Minute: "-PT90M", 61 * time.Second: "-PT61S", -time.Hour: "PT0S"} {
		if got := alarm(d); got != want {
			t.Errorf("%s before is %s, want %s", d, got, want)
		}
	}
}

// calendarShop has one glue-up, a cure and a second coat within a day.
func calendarShop(zone, hours string) files {
	return files{
		"shop.yaml": "name: Bench, end; of the yard\nzone: " + zone + "\nunits: {length: mm, temperature: C}\nhours:\n" + hours +
			"clamps: [{id: bar, kind: bar, qty: 8}]\nplaces: [{id: table}]\n",
		"glues.yaml": "glues: [{id: test, type: pva-yellow, clamp: {20 C: 60 min}, cure: {20 C: 24 h}}]\n",
		"stock.yaml": "stock: [{id: ply, form: sheet, size: 2440 x 1220 x 12}]\n",
		"jobs/sled/job.yaml": `
name: "Sled, with a \"runner\" — and a long name so that the line has to be folded somewhere"
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}, place: table}]
steps:
  - {id: core, name: Glue the base, takes: 30 min}
  - {id: trim, name: Trim it flush, takes: 30 min, after: [core cured]}
  - {id: coat, name: First coat, takes: 20 min, finish: true, after: [trim]}
  - {id: coat-2, name: Second coat, takes: 20 min, finish: true, after: [12 h to 36 h after coat]}
`,
	}
}

// The calendar is read back by an independent library, through the spring and
// the autumn change of the clocks in three zones. At a steady 20 C the cure is
// 24 exact hours after the clamps go on, whatever the clocks do that night.
func TestCalendarReadBackThroughClockChanges(t *testing.T) {
	evening := "  mon-sun: 18:00-21:00\n"
	for _, c := range []struct {
		zone, now   string // the evening before the change
		off, cured  string // 60 min and 24 h after the clamps go on at 18:30 local
		local, next string // the cure on the shop's clock, and the session it is machined in
	}{
		{"America/New_York", "2026-03-07T17:00:00-05:00", "2026-03-08T00:30:00Z", "2026-03-08T23:30:00Z", "19:30", "2026-03-08T22:00:00Z"},
		{"America/New_York", "2026-10-31T17:00:00-04:00", "2026-10-31T23:30:00Z", "2026-11-01T22:30:00Z", "17:30", "2026-11-01T23:00:00Z"},
		{"Europe/Berlin", "2026-03-28T17:00:00+01:00", "2026-03-28T18:30:00Z", "2026-03-29T17:30:00Z", "19:30", "2026-03-29T16:00:00Z"},
		{"Europe/Berlin", "2026-10-24T17:00:00+02:00", "2026-10-24T17:30:00Z", "2026-10-25T16:30:00Z", "17:30", "2026-10-25T17:00:00Z"},
		{"Australia/Lord_Howe", "2026-04-04T17:00:00+11:00", "2026-04-04T08:30:00Z", "2026-04-05T07:30:00Z", "18:00", "2026-04-05T07:30:00Z"},
		{"Australia/Lord_Howe", "2026-10-03T17:00:00+10:30", "2026-10-03T09:00:00Z", "2026-10-04T08:00:00Z", "19:00", "2026-10-04T07:00:00Z"},
	} {
		t.Run(c.zone+" "+c.now[:10], func(t *testing.T) {
			sh := shopOf(t, calendarShop(c.zone, evening))
			p := planOf(t, sh, instant(t, c.now), Options{})
			data := Calendar(p, CalendarOptions{Shop: sh.Name})
			if again := Calendar(planOf(t, sh, instant(t, c.now), Options{}), CalendarOptions{Shop: sh.Name}); !bytes.Equal(data, again) {
				t.Error("the same plan gives other bytes")
			}
			for _, l := range strings.Split(strings.TrimSuffix(string(data), "\r\n"), "\r\n") {
				if len(l) > 75 || strings.ContainsAny(l, "\r\n") {
					t.Errorf("a line of %d octets: %q", len(l), l)
				}
			}
			cal, err := ics.ParseCalendar(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			found := map[string]time.Time{}
			ids := map[string]bool{}
			sessions := map[int64]time.Time{}
			for _, e := range cal.Events() {
				begin, err := e.GetStartAt()
				if err != nil {
					t.Fatal(err)
				}
				name := e.GetProperty(ics.ComponentPropertySummary).Value
				found[name] = begin
				if ids[e.Id()] {
					t.Errorf("the id %s comes twice", e.Id())
				}
				ids[e.Id()] = true
				if strings.HasPrefix(name, "Shop: ") {
					end, err := e.GetEndAt()
					if err != nil {
						t.Fatal(err)
					}
					sessions[begin.Unix()] = end
				}
				if len(e.Alarms()) != 1 {
					t.Errorf("%s has %d alarms", name, len(e.Alarms()))
				}
			}
			at(t, "clamps off", found["Clamps may come off: Glue the base"], c.off)
			at(t, "cured", found["May be machined: Glue the base"], c.cured)
			if got := found["May be machined: Glue the base"].In(sh.Zone).Format("15:04"); got != c.local {
				t.Errorf("on the shop's clock it is cured at %s, want %s", got, c.local)
			}
			trim := item(t, p, "trim", Bench)
			s, ok := openAt(sessionsBetween(&sh.Hours, sh.Zone, p.Now, trim.To), trim.From)
			if !ok || !s.from.Equal(instant(t, c.next)) && trim.From.Before(s.from) {
				t.Errorf("trimmed at %s, outside the hours", trim.From)
			}
			if end, ok := sessions[s.from.Unix()]; !ok || !end.Equal(s.to) {
				t.Errorf("the session of %s is not in the calendar: %v", s.from, sessions)
			}
			coat := item(t, p, "coat", Bench)
			if want := coat.To.Add(36 * time.Hour); !found["Latest to begin: Second coat"].Equal(want) {
				t.Errorf("latest second coat %s, want %s", found["Latest to begin: Second coat"], want)
			}
		})
	}
}

// What happens on another day keeps its id: a calendar that is read in again
// moves the event.
func TestCalendarIDsStand(t *testing.T) {
	fs := calendarShop("Europe/Berlin", "  mon-sun: 18:00-21:00\n")
	sh := shopOf(t, fs)
	ids := func(now string) map[string]string {
		cal, err := ics.ParseCalendar(bytes.NewReader(Calendar(planOf(t, sh, instant(t, now), Options{}), CalendarOptions{Shop: sh.Name, Moments: true})))
		if err != nil {
			t.Fatal(err)
		}
		m := map[string]string{}
		for _, e := range cal.Events() {
			m[e.GetProperty(ics.ComponentPropertySummary).Value] = e.Id()
		}
		return m
	}
	a, b := ids("2026-05-01T10:00:00Z"), ids("2026-05-09T10:00:00Z")
	if a["Latest to begin: Second coat"] == "" {
		t.Fatalf("the events: %v", a)
	}
	for name, id := range a {
		if b[name] != id {
			t.Errorf("%s: id %s, then %s", name, id, b[name])
		}
	}
	// A step that is called something else is the same step.
	fs["jobs/sled/job.yaml"] = strings.NewReplacer("Glue the base", "Glue it", "Second coat", "Coat again").Replace(fs["jobs/sled/job.yaml"])
	sh = shopOf(t, fs)
	c := ids("2026-05-01T10:00:00Z")
	for was, is := range map[string]string{"Clamps may come off: Glue the base": "Clamps may come off: Glue it", "Latest to begin: Second coat": "Latest to begin: Coat again"} {
		if a[was] == "" || a[was] != c[is] {
			t.Errorf("%s: id %q, then %q", was, a[was], c[is])
		}
	}
}

func FuzzEscapeAndFold(f *testing.F) {
	for _, s := range []string{"", "a,b;c\\d\ne", strings.Repeat("é", 80), "\xff\x00", strings.Repeat("木", 60)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		out := fold("SUMMARY:" + escapeText(s))
		for _, l := range strings.Split(out, "\r\n") {
			if len(l) > 75 || !utf8.ValidString(l) || strings.ContainsAny(l, "\r\n") {
				t.Fatalf("bad line %q", l)
			}
		}
		var w icalWriter
		w.text("SUMMARY", s)
		if !strings.HasSuffix(w.buf.String(), "\r\n") {
			t.Fatal("no line end")
		}
	})
}
