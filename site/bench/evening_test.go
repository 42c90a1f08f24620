package bench

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"caul/job"
)

func dids(es []job.Entry) string {
	var out []string
	for _, e := range es {
		out = append(out, strings.TrimSpace(e.Did+" "+e.Step))
	}
	return strings.Join(out, ", ")
}

// An evening at the bench: pair, clamps off, begin, clamps on, the timer runs
// out, clamps off, a note, a picture, undo.
func TestEveningAtTheBench(t *testing.T) {
	b := bench(t, func(c *Config) { c.Code = "ABCD-2345" })
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/")
	p.until(`location.pathname === "/pair"`)
	p.run(chromedp.SendKeys(chromedp.CSS("input[name=code]"), "abcd 2345\r"))
	p.shows("Glue the grid to the lower skin")
	p.tap("core", "unclamped")
	b.waitLog("torsion-table", before, 1)
	b.later(time.Minute)
	p.tap("close", "began")
	p.tap("close", "clamped")
	b.waitLog("torsion-table", before, 3)
	b.later(time.Minute)
	p.until(`document.querySelector("[data-ready][data-name='Glue on the upper skin']") && /\d min/.test(document.querySelector("[data-ready][data-name='Glue on the upper skin']").textContent)`)
	rang := `Number(document.documentElement.getAttribute("data-rang") || 0)`
	first := evalAs[int](p, rang)
	b.later(3 * time.Hour)
	p.until(`document.querySelector("[data-ready][data-name='Glue on the upper skin']").textContent === "ready now"`)
	p.until(rang + fmt.Sprintf(" > %d", first))
	p.until(`document.title.startsWith("(!)")`)
	p.tap("close", "unclamped")
	b.waitLog("torsion-table", before, 4)
	p.open("/step/torsion-table/close")
	p.note("Squeeze-out even all round.")
	b.waitLog("torsion-table", before, 5)
	file := filepath.Join(t.TempDir(), "<img src=x onerror=alert(1)>.jpg")
	if err := os.WriteFile(file, gpsPicture(t), 0o644); err != nil {
		t.Fatal(err)
	}
	p.pick(file)
	es := b.waitLog("torsion-table", before, 6)
	pic := es[5]
	if len(pic.Pictures) != 1 {
		t.Fatalf("the picture's entry: %+v", pic)
	}
	cleanPicture(t, filepath.Join(b.dir, filepath.FromSlash(pic.Pictures[0].File)), 20, 40)
	b.later(time.Minute)
	// Undo takes back what its button names, so the page must name the picture first.
	p.until(fmt.Sprintf(`document.querySelector("form.undo").elements.entry.value === %q`, pic.ID))
	p.tap("", "undid")
	es = b.waitLog("torsion-table", before, 7)
	if got, want := dids(es), "unclamped core, began close, clamped close, unclamped close, noted close, noted close, undid close"; got != want {
		t.Errorf("the log: %s\nwant:    %s", got, want)
	}
	if es[6].Entry != pic.ID {
		t.Errorf("taken back is %s, not the picture", es[6].Entry)
	}
	p.open("/job/torsion-table")
	p.shows("Squeeze-out even all round.")
	p.quiet()
}

// Ten taps without a network, the page closed and opened again: each is applied
// once, and in order.
func TestTenTapsOffline(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/step/torsion-table/mill-lips")
	p.shows("Begin")
	p.offline(true)
	p.tap("mill-lips", "began")
	for i := range 8 {
		p.note(fmt.Sprintf("note %d", i+1))
	}
	p.tap("mill-lips", "finished")
	p.shows("10 waiting to be sent")
	if n := len(b.log("torsion-table")); n != before {
		t.Fatalf("%d entries came without a network", n-before)
	}
	p.run(chromedp.Navigate("about:blank"))
	p.offline(false)
	p.open("/step/torsion-table/mill-lips")
	b.waitLog("torsion-table", before, 10)
	p.until(`!document.getElementById("line").textContent`)
	time.Sleep(200 * time.Millisecond)
	es := b.log("torsion-table")[before:]
	if len(es) != 10 {
		t.Fatalf("%d entries, want 10: %s", len(es), dids(es))
	}
	for i, e := range es {
		switch {
		case i == 0 && e.Did != job.DidBegin, i == 9 && e.Did != job.DidFinish, i > 0 && i < 9 && e.Text != fmt.Sprintf("note %d", i):
			t.Errorf("entry %d is %s %q", i, e.Did, e.Text)
		case i > 0 && !e.Time.After(es[i-1].Time):
			t.Errorf("entry %d is not after the one before", i)
		}
	}
}

// Two phones at once: nothing is lost, and each sees what the other did.
func TestTwoPhones(t *testing.T) {
	b := bench(t, nil)
	p, q := b.phone(360, 740), b.phone(390, 844)
	before := len(b.log("torsion-table"))
	p.open("/step/torsion-table/mill-lips")
	q.open("/")
	q.shows("Mill the lipping")
	p.tap("mill-lips", "began")
	q.until(`Array.from(document.querySelectorAll("h2")).some(h => h.textContent === "On the bench")`)
	q.open("/step/torsion-table/mill-lips")
	for i := range 5 {
		p.note(fmt.Sprintf("p %d", i))
		q.note(fmt.Sprintf("q %d", i))
	}
	es := b.waitLog("torsion-table", before, 11)
	seen := map[string]int{}
	for _, e := range es {
		seen[e.Text]++
	}
	for i := range 5 {
		for _, w := range []string{"p", "q"} {
			if k := fmt.Sprintf("%s %d", w, i); seen[k] != 1 {
				t.Errorf("%q is there %d times", k, seen[k])
			}
		}
	}
	p.quiet()
	q.quiet()
}

// The program is killed after the entry is on the disk and before the page has
// its answer; the page sends the tap again to the program that is started next.
func TestKilledBetweenTapAndAnswer(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/step/torsion-table/mill-lips")
	p.shows("Begin")
	var killed atomic.Int32
	var dead http.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/tap" && killed.CompareAndSwap(0, 1) {
			serve(b.s.Load(), r) // done, and nobody hears of it
		}
		panic(http.ErrAbortHandler)
	})
	b.front.Store(&dead)
	p.tap("mill-lips", "began")
	b.waitLog("torsion-table", before, 1)
	p.shows("1 waiting to be sent")
	s, err := New(b.cfg)
	if err != nil {
		t.Fatal(err)
	}
	b.s.Store(s)
	b.front.Store(nil)
	p.until(`!document.getElementById("line").textContent`)
	time.Sleep(200 * time.Millisecond)
	if es := b.log("torsion-table")[before:]; len(es) != 1 {
		t.Errorf("one tap, %d entries: %s", len(es), dids(es))
	}
}

// Without script every button is a plain form.
func TestWithoutScript(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.call("Emulation.setScriptExecutionDisabled", map[string]any{"value": true})
	p.open("/step/torsion-table/mill-lips")
	p.run(chromedp.Click(chromedp.CSS("form.tap:not([hidden]) > button.began")))
	b.waitLog("torsion-table", before, 1)
	p.run(chromedp.WaitVisible(chromedp.CSS("form.tap:not([hidden]) > button.finished")),
		chromedp.SendKeys(chromedp.CSS("textarea[name=note]"), "by form"), chromedp.Click(chromedp.CSS("form.write:has(textarea) button")))
	b.waitLog("torsion-table", before, 2)
	file := filepath.Join(t.TempDir(), "p.jpg")
	if err := os.WriteFile(file, gpsPicture(t), 0o644); err != nil {
		t.Fatal(err)
	}
	p.run(chromedp.WaitVisible(chromedp.CSS("form.pic button")), chromedp.SetUploadFiles(chromedp.CSS("input[type=file]"), []string{file}), chromedp.Click(chromedp.CSS("form.pic button")))
	es := b.waitLog("torsion-table", before, 3)
	if es[1].Text != "by form" || len(es[2].Pictures) != 1 {
		t.Errorf("the log: %+v", es)
	}
}
