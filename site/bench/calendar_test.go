package bench

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// readICS has ical.js, an independent reader of RFC 5545, say what a calendar
// holds: every instant in seconds since 1970.
const readICS = `
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
const ICAL = (await import(pathToFileURL(process.argv[1]).href)).default;
const comp = new ICAL.Component(ICAL.parse(readFileSync(0, "utf8")));
const at = t => t ? t.toUnixTime() : 0;
console.log(JSON.stringify(comp.getAllSubcomponents("vevent").map(v => {
  const e = new ICAL.Event(v);
  return { uid: e.uid, name: e.summary, from: at(e.startDate), to: at(e.endDate), utc: e.startDate.zone === ICAL.Timezone.utcTimezone,
    rings: v.getAllSubcomponents("valarm").map(a => a.getFirstPropertyValue("trigger").toSeconds()) };
})));`

type icsEvent struct {
	UID, Name string
	From, To  int64
	UTC       bool
	Rings     []int64
}

// nodeLib is a library of testdata/node, and node.
func nodeLib(t *testing.T, name string) (lib, node string) {
	t.Helper()
	lib, err := filepath.Abs("../../testdata/node/node_modules/" + name)
	if err == nil {
		_, err = os.Stat(lib)
	}
	node, err2 := exec.LookPath("node")
	if err != nil || err2 != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("node or ", name, " is missing: ", err, err2)
		}
		t.Skip("node or ", name, " is not here: npm install in testdata/node")
	}
	return lib, node
}

func readBack(t *testing.T, ics []byte) map[string]icsEvent {
	t.Helper()
	lib, node := nodeLib(t, "ical.js/dist/ical.js")
	c := exec.Command(node, "--input-type=module", "-e", readICS, lib)
	c.Stdin = bytes.NewReader(ics)
	var said bytes.Buffer
	c.Stderr = &said
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, said.Bytes())
	}
	var es []icsEvent
	if err := json.Unmarshal(out, &es); err != nil {
		t.Fatal(err)
	}
	m := map[string]icsEvent{}
	for _, e := range es {
		if _, twice := m[e.Name]; twice {
			e.Name += " again"
		}
		m[e.Name] = e
	}
	return m
}

// The feed, read by ical.js, through the spring and the autumn change of the
// clocks in three zones (instants from the IANA zone data). The glue of the
// test is out of the clamps after 60 and cured after 1,440 exact minutes at a
// steady 20 C, and the latest second coat is 30 hours after the first, whatever
// the clocks do that night.
func TestFeedThroughClockChanges(t *testing.T) {
	for _, c := range []struct{ zone, now, on, shop, next string }{
		{"America/New_York", "2026-03-07T17:00:00-05:00", "2026-03-07T23:30:00Z", "2026-03-07T23:00:00Z", "2026-03-08T22:00:00Z"},
		{"America/New_York", "2026-10-31T17:00:00-04:00", "2026-10-31T22:30:00Z", "2026-10-31T22:00:00Z", "2026-11-01T23:00:00Z"},
		{"Europe/Berlin", "2026-03-28T17:00:00+01:00", "2026-03-28T17:30:00Z", "2026-03-28T17:00:00Z", "2026-03-29T16:00:00Z"},
		{"Europe/Berlin", "2026-10-24T17:00:00+02:00", "2026-10-24T16:30:00Z", "2026-10-24T16:00:00Z", "2026-10-25T17:00:00Z"},
		{"Australia/Lord_Howe", "2026-04-04T17:00:00+11:00", "2026-04-04T07:30:00Z", "2026-04-04T07:00:00Z", "2026-04-05T07:30:00Z"},
		{"Australia/Lord_Howe", "2026-10-03T17:00:00+10:30", "2026-10-03T08:00:00Z", "2026-10-03T07:30:00Z", "2026-10-04T07:00:00Z"},
	} {
		t.Run(c.zone+" "+c.now[:10], func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			for name, text := range map[string]string{
				"shop.yaml":  "name: Bench\nzone: " + c.zone + "\nunits: {length: mm, temperature: C}\nhours: {mon-sun: 18:00-21:00}\nclamps: [{id: bar, kind: bar, qty: 8}]\nplaces: [{id: table}]\n",
				"glues.yaml": "glues: [{id: test, type: pva-yellow, clamp: {20 C: 60 min}, cure: {20 C: 24 h}}]\n",
				"stock.yaml": "stock: [{id: ply, form: sheet, size: 2440 x 1220 x 12}]\n",
				"jobs/sled/job.yaml": `name: Sled
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}, place: table}]
steps:
  - {id: core, name: Glue the base, takes: 30 min}
  - {id: trim, name: Trim it flush, takes: 30 min, after: [core cured]}
  - {id: coat, name: First coat, takes: 10 min, finish: true}
  - {id: coat-2, name: Second coat, takes: 10 min, finish: true, after: [4 h to 30 h after coat]}
`,
				"jobs/sled/log/2026-01-01T0000-shop-finished-coat.md": "---\nat: " + c.now + "\ndid: finished\nstep: coat\n---\n",
			} {
				p := filepath.Join(dir, filepath.FromSlash(name))
				if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			instant := func(s string) time.Time {
				at, err := time.Parse(time.RFC3339, s)
				if err != nil {
					t.Fatal(err)
				}
				return at
			}
			now := instant(c.now)
			s, err := New(Config{Dir: dir, Machine: "shop", Now: func() time.Time { return now }, Hosts: []string{"bench.test"}})
			if err != nil {
				t.Fatal(err)
			}
			w := do(s, "GET", "/calendar.ics", "", nil)
			if w.Code != 200 {
				t.Fatal(w.Code, w.Body)
			}
			es := readBack(t, w.Body.Bytes())
			for name, want := range map[string]time.Time{
				"Clamps may come off: Glue the base": instant(c.on).Add(time.Hour),
				"May be machined: Glue the base":     instant(c.on).Add(24 * time.Hour),
			} {
				e, ok := es[name]
				if !ok || e.From != want.Unix() || !e.UTC || len(e.Rings) != 1 || e.Rings[0] != 0 {
					t.Errorf("%s: %v %+v, want %s", name, time.Unix(e.From, 0).UTC(), e, want)
				}
			}
			// The first coat was done at the hour of looking, before the change; 30 h by any clock that does not jump.
			if e, ok := es["Latest to begin: Second coat"]; !ok || e.From != now.Add(30*time.Hour).Unix() || len(e.Rings) != 1 || e.Rings[0] != -3600 {
				t.Errorf("latest second coat: %v %+v", time.Unix(e.From, 0).UTC(), e)
			}
			sessions := map[int64]icsEvent{}
			uids := map[string]bool{}
			for name, e := range es {
				if uids[e.UID] {
					t.Errorf("the id of %s comes twice", name)
				}
				uids[e.UID] = true
				if len(name) > 5 && name[:5] == "Shop:" {
					sessions[e.From] = e
				}
			}
			// Glued in the first session; trimmed in the first after it is cured.
			first, ok := sessions[instant(c.shop).Unix()]
			if !ok || first.To-first.From != 3*3600 || len(first.Rings) != 1 || first.Rings[0] != -15*60 {
				t.Errorf("the first session: %+v", first)
			}
			cured := instant(c.on).Add(24 * time.Hour)
			trim := instant(c.next)
			if cured.Add(30 * time.Minute).After(trim.Add(3 * time.Hour)) {
				t.Fatal("the test's own times do not fit")
			}
			if e, ok := sessions[trim.Unix()]; !ok || e.To-e.From != 3*3600 {
				t.Errorf("no session at %s: %+v", trim, sessions)
			}
		})
	}
}
