package bench

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"caul/job"
)

// A tap stands in the log at its own time, however wrong the device's clock is:
// what counts is how long before its sending it was made. One from the future,
// or from a clock that was set in between, stands at the time it came.
func TestTapHasItsOwnTime(t *testing.T) {
	s, dir := demoServer(t, nil)
	off := time.Date(1970, 1, 1, 0, 3, 0, 0, time.UTC) // a phone that lost its clock
	for i, c := range []struct {
		at, sent time.Time
		want     time.Duration
	}{
		{benchNow.Add(-25 * time.Minute), benchNow, -25 * time.Minute},
		{off, off.Add(40 * time.Minute), -40 * time.Minute},
		{off, off.Add(13 * 24 * time.Hour), -13 * 24 * time.Hour},
		{off, benchNow, 0},
		{benchNow.Add(time.Hour), benchNow, 0},
	} {
		body := fmt.Sprintf(`{"id":"%08dabcd","job":"torsion-table","did":"noted","note":"tap %d","at":%q,"sent":%q}`, i, i, c.at.Format(time.RFC3339), c.sent.Format(time.RFC3339))
		if w := do(s, "POST", "/tap", body, nil); w.Code != 200 {
			t.Fatal(w.Code, w.Body)
		}
		shop, err := job.Load(dir)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, e := range shop.Job("torsion-table").Log {
			if e.Text == fmt.Sprintf("tap %d", i) {
				found = true
				if !e.Time.Equal(benchNow.Add(c.want)) {
					t.Errorf("made %s, sent %s: in the log at %s", c.at, c.sent, e.Time)
				}
			}
		}
		if !found {
			t.Errorf("tap %d is not in the log", i)
		}
	}
}

// A reading is not guessed at: a comma in it could be a decimal one or a second
// reading, and the answer says how to write it. A long note in any script is kept.
func TestWhatIsTyped(t *testing.T) {
	s, _ := demoServer(t, nil)
	if w := do(s, "POST", "/tap", `{"id":"0123456789ab-01","job":"torsion-table","did":"read","check":"flat","value":"0,08 mm"}`, nil); w.Code != 422 || !strings.Contains(w.Body.String(), "decimals with a point") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if w := do(s, "POST", "/tap", fmt.Sprintf(`{"id":"0123456789ab-02","job":"torsion-table","did":"noted","note":%q}`, strings.Repeat("木", 16000)), nil); w.Code != 200 {
		t.Errorf("a note of 16,000 characters: %d %s", w.Code, w.Body)
	}
}

// The scripts are in the language of ECMAScript 5 (2011), by an independent
// parser, so that an old phone's browser reads them.
func TestScriptsForOldBrowsers(t *testing.T) {
	lib, node := nodeLib(t, "acorn/dist/acorn.js")
	for _, name := range []string{"bench.js", "alarm.js", "sw.js"} {
		src, err := assets.ReadFile("static/" + name)
		if err != nil {
			t.Fatal(err)
		}
		c := exec.Command(node, "-e", `require(process.argv[1]).parse(require("fs").readFileSync(0, "utf8"), { ecmaVersion: 5 })`, lib)
		c.Stdin = strings.NewReader(string(src))
		if out, err := c.CombinedOutput(); err != nil {
			t.Errorf("%s: %v: %s", name, err, out)
		}
	}
	es, err := filepath.Glob("static/*.js")
	if err != nil || len(es) != 3 {
		t.Errorf("scripts: %v %v", es, err)
	}
}
