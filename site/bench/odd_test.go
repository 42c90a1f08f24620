package bench

import (
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"caul/job"
)

// What looks odd about a tap is told in its answer, whatever page is open, with
// undo beside it; it was written all the same. It is told after taps that
// waited for the network too, and by a plain form.
func TestLooksOdd(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/step/torsion-table/close")
	p.until(`document.querySelector("details.anyway")`)
	p.eval(`document.querySelector("details.anyway").open = true`)
	p.tap("close", "began")
	b.waitLog("torsion-table", before, 1)
	p.until(`document.getElementById("line").textContent.includes("Kept, but it looks odd: Glue on the upper skin, by the plan, ")`)
	if small := evalAs[int](p, `Array.from(document.querySelectorAll("#line button")).filter(b => b.getBoundingClientRect().height < 44).length`); small > 0 {
		t.Errorf("%d buttons are too small for a glove", small)
	}
	p.eval(`Array.from(document.querySelectorAll("#line button")).find(b => b.textContent === "Undo").click()`)
	es := b.waitLog("torsion-table", before, 2)
	if got := dids(es); got != "began close, undid close" || es[1].Entry != es[0].ID {
		t.Errorf("the log: %s, taken back is %q", got, es[1].Entry)
	}
	p.until(`!document.getElementById("line").textContent`)
	// Without a network nobody can say so yet; afterwards it is said, and seen.
	p.until(`document.querySelector("details.anyway")`)
	p.offline(true)
	p.eval(`document.querySelector("details.anyway").open = true`)
	p.tap("close", "began")
	p.shows("1 waiting to be sent")
	p.offline(false)
	b.waitLog("torsion-table", before, 3)
	p.until(`document.getElementById("line").textContent.includes("looks odd")`)
	p.open("/")
	p.until(`document.getElementById("line").textContent.includes("looks odd")`)
	p.eval(`Array.from(document.querySelectorAll("#line button")).find(b => b.textContent === "Seen").click()`)
	p.until(`!document.getElementById("line").textContent`)
	// By a plain form.
	b.later(time.Hour)
	b.tapped(t)
	p.call("Emulation.setScriptExecutionDisabled", map[string]any{"value": true})
	p.open("/step/torsion-table/close")
	p.act(chromedp.Click(chromedp.CSS("form.tap:not([hidden]) > button.clamped")))
	es = b.waitLog("torsion-table", before, 4)
	if es[3].Did != job.DidClamp {
		t.Fatalf("the log: %s", dids(es))
	}
}

// tapped gives a plain form twice: both times it says what looks odd, and the
// entry is written once.
func (b *shopAt) tapped(t *testing.T) {
	t.Helper()
	before := len(b.log("frame-spline"))
	f := url.Values{"id": {"form-0123456789"}, "job": {"frame-spline"}, "step": {"sheet"}, "did": {"took-up"}, "back": {"/step/frame-spline/sheet"}}
	for range 2 {
		r := newRequest("POST", "/tap", f.Encode())
		r.Host = strings.TrimPrefix(b.url, "http://")
		r.Header.Set("Origin", b.url)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := serve(b.s.Load(), r)
		es := b.waitLog("frame-spline", before, 1)
		if len(es) != 1 {
			t.Fatalf("%d entries", len(es))
		}
		for _, want := range []string{"Kept, but it looks odd", "was not set aside", `name="entry" value="` + es[0].ID + `"`, `href="/step/frame-spline/sheet"`} {
			if !strings.Contains(w.Body.String(), want) {
				t.Errorf("the answer lacks %s:\n%s", want, w.Body)
			}
		}
	}
}

// Uses of a finished jig are a tap on its page, where a check counts them.
func TestUsedOnce(t *testing.T) {
	s, dir := demoServer(t, nil)
	w := do(s, "POST", "/tap", `{"id":"used-0123456789","job":"shooting-board","did":"used"}`, nil)
	shop, err := job.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	l := shop.Job("shooting-board").Log
	if e := l[len(l)-1]; e.Did != job.DidUse || e.Item != "shooting-board" || e.Qty != 1 {
		t.Errorf("%d %s: %+v", w.Code, w.Body, e)
	}
	if !strings.Contains(w.Body.String(), "no check of shooting-board is due by uses") {
		t.Errorf("nothing is said of what does not count: %s", w.Body)
	}
	if strings.Contains(do(s, "GET", "/job/shooting-board", "", nil).Body.String(), `class="used"`) {
		t.Error("the button stands where no check counts uses")
	}
	file := filepath.Join(dir, "jobs", "shooting-board", "job.yaml")
	b, err := os.ReadFile(file)
	if err != nil || !strings.Contains(string(b), "every: 3 months") {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(strings.ReplaceAll(string(b), "every: 3 months", "every: 20 uses")), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.reload(); err != nil {
		t.Fatal(err)
	}
	if body := do(s, "GET", "/job/shooting-board", "", nil).Body.String(); !strings.Contains(body, `class="used"`) || !strings.Contains(body, ", 1 of 20") {
		t.Errorf("the page does not count the use:\n%s", body)
	}
}
