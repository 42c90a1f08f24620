package bench

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"caul/job"
)

// Pictures taken without a network, and the page closed: they come in the order
// they were made, turned, scaled and bare, each once; one that was taken back
// at once is in the log with its undo.
func TestPicturesOffline(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	// The large store opens late, after the first word of the shop's machine.
	p.call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `
		const add = IDBOpenDBRequest.prototype.__lookupSetter__("onsuccess");
		Object.defineProperty(IDBOpenDBRequest.prototype, "onsuccess", { set(f) { add.call(this, e => setTimeout(() => f(e), 1500)); } });`})
	before := len(b.log("torsion-table"))
	p.open("/step/torsion-table/mill-lips")
	p.shows("Begin")
	time.Sleep(2 * time.Second) // until it is open
	p.offline(true)
	for i, size := range [][2]int{{2400, 1200}, {40, 20}, {60, 20}} {
		file := filepath.Join(t.TempDir(), "p.jpg")
		if err := os.WriteFile(file, gpsPictureOf(t, size[0], size[1]), 0o644); err != nil {
			t.Fatal(err)
		}
		p.pick(file)
		p.shows(fmt.Sprintf("%d waiting to be sent", i+1))
	}
	p.tap("", "undid")
	p.shows("4 waiting to be sent")
	p.run(chromedp.Navigate("about:blank"))
	if n := len(b.log("torsion-table")); n != before {
		t.Fatalf("%d entries came without a network", n-before)
	}
	p.offline(false)
	p.open("/")
	p.shows("waiting to be sent")
	b.waitLog("torsion-table", before, 4)
	p.until(`!document.getElementById("line").textContent`)
	time.Sleep(200 * time.Millisecond)
	es := b.log("torsion-table")[before:]
	if got, want := dids(es), "noted mill-lips, noted mill-lips, noted mill-lips, undid mill-lips"; got != want {
		t.Fatalf("the log: %s, want %s", got, want)
	}
	for i, size := range [][2]int{{800, 1600}, {20, 40}, {20, 60}} {
		if len(es[i].Pictures) != 1 {
			t.Fatalf("entry %d: %+v", i, es[i])
		}
		cleanPicture(t, filepath.Join(b.dir, filepath.FromSlash(es[i].Pictures[0].File)), size[0], size[1])
	}
	if es[3].Entry != es[2].ID {
		t.Errorf("taken back is %s, and the last picture is %s", es[3].Entry, es[2].ID)
	}
}

// Without a network the page shows what was tapped: the state in words where
// the button stood, no alarm for clamps that are off, and the name of what undo
// takes back. Taken back, it stands as before, and afterwards as the shop's
// machine has it. What comes up under a bouncing finger is not tapped.
func TestShownAsTapped(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/")
	p.shows("Mill the lipping")
	p.until(`document.querySelector("form.undo .what").textContent.includes("Scrape")`)
	p.offline(true)
	card := `Array.from(document.querySelectorAll(".cards > li")).find(c => c.textContent.includes("Mill the lipping"))`
	p.tap("mill-lips", "began")
	if n := evalAs[int](p, `Array.from(document.querySelectorAll("form.tap button")).filter(b => b.offsetParent && !b.disabled).length`); n != 0 {
		t.Errorf("%d buttons can be tapped by a bouncing finger", n)
	}
	p.eval(card + `.querySelector("button.finished").click()`) // where begin stood
	p.shows("1 waiting to be sent")
	p.until(card + `.querySelector(".tapped").textContent === "Begun"`)
	if got := evalAs[string](p, `document.querySelector("form.undo .what").textContent`); got != "Begun: Mill the lipping" {
		t.Errorf("undo names %q", got)
	}
	p.tap("", "undid")
	p.shows("2 waiting to be sent")
	p.until(card + `.querySelector("button.began").offsetParent && !` + card + `.querySelector(".tapped")`)
	p.tap("core", "unclamped")
	p.shows("3 waiting to be sent")
	p.until(`document.querySelector("[data-clamps] .left").textContent === "Clamps off"`)
	p.until(`!document.title.startsWith("(!)")`)
	p.offline(false)
	es := b.waitLog("torsion-table", before, 3)
	if got := dids(es); got != "began mill-lips, undid mill-lips, unclamped core" || es[1].Entry != es[0].ID {
		t.Errorf("the log: %s", got)
	}
	p.until(`!document.getElementById("line").textContent`)
	p.until(card + `.querySelector("button.began").offsetParent && !` + card + `.querySelector(".tapped")`)
	p.until(`document.querySelector("form.undo .what").textContent.startsWith("Clamps off: Glue the grid to the lower skin")`)
}

// A phone that leaves the Wi-Fi hears nothing more, and nobody tells it so: the
// page says by itself that it is out of reach, and when it is back.
func TestHearsNothing(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	p.call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `
		window.skew = 0;
		const now = Date.now.bind(Date);
		Date.now = () => now() + window.skew;`})
	var dumb http.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/events" {
			<-r.Context().Done()
			return
		}
		b.s.Load().ServeHTTP(w, r)
	})
	b.front.Store(&dumb) // before the page is there, so that no beat comes between
	p.open("/")
	p.shows("Mill the lipping")
	p.eval(`skew = 40000`) // as if so long had passed
	p.shows("Out of reach")
	b.front.Store(nil)
	p.eval(`skew = 80000`)
	p.until(`!document.getElementById("line").textContent`)
	p.quiet()
}

// The session ends while taps wait: the page asks for the code, an old code is
// refused, and after the new one what waited is applied.
func TestSessionEndsWhileTapsWait(t *testing.T) {
	b := bench(t, func(c *Config) {
		c.Code, c.NewCode = "ABCD-2345", func() string { return "EFGH-6789" }
	})
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/pair?code=ABCD-2345")
	p.eval(`document.querySelector("form button").click()`)
	p.shows("Mill the lipping")
	p.open("/step/torsion-table/mill-lips")
	p.shows("Begin")
	p.offline(true)
	p.tap("mill-lips", "began")
	p.note("while the session ended")
	p.shows("2 waiting to be sent")
	b.later(sessionLife + time.Hour)
	p.offline(false)
	p.until(`location.pathname === "/pair"`)
	enter := func(code string) {
		t.Helper()
		p.until(`document.querySelector("input[name=code]")`)
		p.eval(fmt.Sprintf(`{const i = document.querySelector("input[name=code]"); i.value = %q; i.form.querySelector("button").click()}`, code))
	}
	enter("ABCD-2345")
	p.shows(words["pair-old"])
	enter("EFGH-6789")
	p.until(`location.pathname === "/"`)
	es := b.waitLog("torsion-table", before, 2)
	p.until(`!document.getElementById("line").textContent`)
	if got := dids(es); got != "began mill-lips, noted mill-lips" || es[1].Text != "while the session ended" {
		t.Errorf("the log: %s, %q", got, es[1].Text)
	}
}

// At a glue-up: the dry fit that was ticked, the note half written and the open
// time stand when the page is closed and opened; the open time runs out with an
// alarm; clamps on ends them. A task is ticked by changing one byte, and the
// other device shows it.
func TestGlueUpAtTheBench(t *testing.T) {
	b := bench(t, nil)
	p, q := b.phone(360, 740), b.phone(1280, 800)
	before := len(b.log("torsion-table"))
	p.open("/")
	p.tap("core", "unclamped")
	b.waitLog("torsion-table", before, 1)
	b.later(time.Minute)
	p.open("/step/torsion-table/close")
	p.tap("close", "began")
	b.waitLog("torsion-table", before, 2)
	p.until(`document.querySelectorAll("[data-dry]").length > 1`)
	p.eval(`document.querySelectorAll("[data-dry]")[1].click()`)
	p.act(chromedp.SendKeys(chromedp.CSS("textarea[name=note]"), "half a sen"))
	p.eval(`document.activeElement.blur()`)
	open := `document.querySelector("button.open-time")`
	p.eval(open + ".click()")
	p.until(`/^Open time \d+:\d\d$/.test(` + open + `.textContent)`)
	p.run(chromedp.Navigate("about:blank"))
	p.open("/step/torsion-table/close")
	p.until(`/^Open time \d+:\d\d$/.test(` + open + `.textContent)`)
	if got := evalAs[string](p, `Array.from(document.querySelectorAll("[data-dry]")).map(d => d.checked ? "x" : "-").join("").slice(0, 3)`); got != "-x-" {
		t.Errorf("the dry fit stands as %s", got)
	}
	if got := evalAs[string](p, `document.querySelector("textarea[name=note]").value`); got != "half a sen" {
		t.Errorf("the note stands as %q", got)
	}
	rang := `Number(document.documentElement.getAttribute("data-rang") || 0)`
	was := evalAs[int](p, rang)
	b.later(time.Hour)
	p.until(open + `.classList.contains("late") && ` + open + `.textContent.startsWith("Open time -")`)
	p.until(rang + fmt.Sprintf(" === %d", was+1))
	p.tap("close", "clamped")
	b.waitLog("torsion-table", before, 3)
	p.until(open + `.textContent === ` + fmt.Sprintf("%q", words["start-open"]))
	p.open("/step/torsion-table/close")
	if n := evalAs[int](p, `document.querySelectorAll("[data-dry]:checked").length`); n != 0 {
		t.Errorf("%d of the old dry fit are ticked", n)
	}

	build := filepath.Join(b.dir, "jobs/torsion-table/build.md")
	old, err := os.ReadFile(build)
	if err != nil {
		t.Fatal(err)
	}
	q.open("/step/torsion-table/close")
	task := `Array.from(document.querySelectorAll("form.tick button")).find(b => b.textContent.includes("winding sticks"))`
	q.until(task)
	p.until(task)
	p.eval(task + ".click()")
	p.until(task + `.getAttribute("aria-checked") === "true"`)
	q.until(task + `.getAttribute("aria-checked") === "true"`)
	now, err := os.ReadFile(build)
	if err != nil || len(now) != len(old) {
		t.Fatalf("build.md has %d bytes, before %d, %v", len(now), len(old), err)
	}
	n := 0
	for i := range now {
		if now[i] != old[i] {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d bytes of build.md changed", n)
	}
	p.quiet()
	q.quiet()
}

// A file changed by hand shows in an open page by itself, without a touch. The
// time the maker has is kept on the way to a step and back.
func TestHandEditShowsInTheOpenPage(t *testing.T) {
	b := bench(t, nil)
	go func() { _ = b.s.Load().Run(t.Context()) }()
	p := b.phone(360, 740)
	p.open("/?for=50")
	p.shows("Mill the lipping")
	p.eval(`Array.from(document.querySelectorAll(".name a")).find(a => a.textContent === "Mill the lipping").click()`)
	p.until(`location.pathname === "/step/torsion-table/mill-lips" && document.querySelector("a.back")`)
	p.eval(`document.querySelector("a.back").click()`)
	p.until(`location.search === "?for=50" && document.querySelector(".for [aria-current]").textContent === "50 min"`)
	time.Sleep(100 * time.Millisecond) // until the watch stands
	file := filepath.Join(b.dir, "jobs/torsion-table/job.yaml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	changed := replaceOnce(t, string(text), "name: Mill the lipping", "name: Written by hand")
	if err := os.WriteFile(file, []byte(changed), 0o644); err != nil {
		t.Fatal(err)
	}
	p.shows("Written by hand")
	p.tap("mill-lips", "began")
	b.waitLog("torsion-table", len(b.log("torsion-table"))-1, 1)
	if now, err := os.ReadFile(file); err != nil || string(now) != changed {
		t.Errorf("the file was written over: %v", err)
	}
	p.quiet()
}

// Script in the names of a shop, a job, a step, a task and in a note stays
// words in a real browser: nothing of it runs, and the page's policy had
// nothing to stop.
func TestScriptInNamesDoesNotRun(t *testing.T) {
	b := bench(t, nil)
	const bad = `<script>window.hit=1</script><img src=x onerror=window.hit=1>"'</textarea>`
	for file, name := range map[string]string{
		"shop.yaml":                   "name: The back-yard shop",
		"jobs/torsion-table/job.yaml": "name: Mill the lipping",
		"jobs/torsion-table/build.md": "clamps off",
	} {
		path := filepath.Join(b.dir, filepath.FromSlash(file))
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		with := bad
		if filepath.Ext(file) == ".yaml" {
			with = `name: '<script>window.hit=1</script><img src=x onerror=window.hit=1>"</textarea>'`
		}
		if err := os.WriteFile(path, []byte(replaceOnce(t, string(text), name, with)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	s := b.s.Load()
	if err := s.reload(); err != nil || s.trouble != "" {
		t.Fatal(err, s.trouble)
	}
	p := b.phone(360, 740)
	before := len(b.log("torsion-table"))
	p.open("/step/torsion-table/mill-lips")
	p.note(bad + ` [x](javascript:window.hit=1) <svg onload=window.hit=1>`)
	es := b.waitLog("torsion-table", before, 1)
	if es[0].Did != job.DidNote {
		t.Fatal(es)
	}
	for _, path := range []string{"/", "/step/torsion-table/mill-lips", "/step/torsion-table/core", "/job/torsion-table"} {
		p.open(path)
		p.shows("window.hit=1")
		p.eval(`document.querySelectorAll("main a[href^='javascript']").forEach(a => a.click())`)
		if evalAs[bool](p, `"hit" in window || document.querySelector("main script, main img[src='x'], main svg[onload]") !== null`) {
			t.Errorf("%s runs what was written", path)
		}
	}
	p.quiet()
}
