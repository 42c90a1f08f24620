package bench

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"caul/job"
)

// one browser serves all tests; every device has a profile of its own in it.
var one struct {
	sync.Once
	ctx  context.Context
	stop func()
	err  error
}

func TestMain(m *testing.M) {
	child()
	code := m.Run()
	if one.stop != nil {
		one.stop()
	}
	os.Exit(code)
}

func browser(t *testing.T) context.Context {
	t.Helper()
	one.Do(func() {
		path := ""
		for _, n := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
			if p, err := exec.LookPath(n); err == nil && path == "" {
				path = p
			}
		}
		if path == "" {
			one.err = exec.ErrNotFound
			return
		}
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.WSURLReadTimeout(time.Minute))
		alloc, stop1 := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, stop2 := chromedp.NewContext(alloc)
		one.stop = func() { stop2(); stop1() }
		one.ctx, one.err = ctx, chromedp.Do(ctx)
	})
	if one.err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("no browser: ", one.err)
		}
		t.Skip("no chromium here to try the page in: ", one.err)
	}
	return one.ctx
}

// shopAt is a bench on a real connection whose clock can be set forward and
// whose program can be changed for another.
type shopAt struct {
	t     *testing.T
	dir   string
	url   string
	now   atomic.Int64
	s     atomic.Pointer[Server]
	front atomic.Pointer[http.Handler] // stands before the server, if any
	cfg   Config
}

func bench(t *testing.T, change func(*Config)) *shopAt {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := &shopAt{t: t, url: "http://" + ln.Addr().String()}
	b.now.Store(benchNow.Unix())
	s, dir := demoServer(t, func(c *Config) {
		c.Hosts = []string{ln.Addr().String()}
		c.Now = func() time.Time { return time.Unix(b.now.Load(), 0).In(benchNow.Location()) }
		if change != nil {
			change(c)
		}
		b.cfg = *c
	})
	b.dir, b.cfg.Dir = dir, dir
	b.s.Store(s)
	hs := s.HTTP(t.Context())
	hs.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if f := b.front.Load(); f != nil {
			(*f).ServeHTTP(w, r)
			return
		}
		b.s.Load().ServeHTTP(w, r)
	})
	go func() { _ = hs.Serve(ln) }()
	t.Cleanup(func() { hs.Close() })
	return b
}

// later sets the shop's clock forward, and lets the pages know as their next
// beat would.
func (b *shopAt) later(d time.Duration) {
	b.now.Add(int64(d.Seconds()))
	s := b.s.Load()
	s.mu.Lock()
	s.tell()
	s.mu.Unlock()
}

// log is a job's log by the files as they lie there.
func (b *shopAt) log(id string) []job.Entry {
	b.t.Helper()
	s, err := job.Load(b.dir)
	if err != nil {
		b.t.Fatal(err)
	}
	return s.Job(id).Log
}

// waitLog waits until a job's log has n more entries than before, and gives
// these in their order.
func (b *shopAt) waitLog(id string, before, n int) []job.Entry {
	b.t.Helper()
	for range 300 {
		if l := b.log(id); len(l) >= before+n {
			return l[before:]
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatalf("%d entries came, and %d were tapped", len(b.log(id))-before, n)
	return nil
}

// phone is a device with its browser.

type phone struct {
	t    *testing.T
	ctx  context.Context
	url  string
	mu   sync.Mutex
	said []string // errors in the console
	away []string // requests to elsewhere
}

func (b *shopAt) phone(w, h int64) *phone {
	b.t.Helper()
	ctx, stop := chromedp.NewContext(browser(b.t), chromedp.WithNewBrowserContext())
	b.t.Cleanup(stop)
	p := &phone{t: b.t, url: b.url}
	if err := chromedp.Do(ctx); err != nil { // the page must be there before there can be a limit on it
		b.t.Fatal(err)
	}
	ctx, stop2 := context.WithTimeout(ctx, 5*time.Minute)
	b.t.Cleanup(stop2)
	p.ctx = ctx
	err := chromedp.Listen(ctx, func(ev any) {
		p.mu.Lock()
		defer p.mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			p.said = append(p.said, fmt.Sprint(e.ExceptionDetails.Text, " ", e.ExceptionDetails.URL, " ", e.ExceptionDetails.LineNumber))
		case *runtime.EventConsoleAPICalled:
			if string(e.Type) == "error" {
				p.said = append(p.said, fmt.Sprint(e.Args))
			}
		case *log.EventEntryAdded:
			if string(e.Entry.Level) == "error" {
				p.said = append(p.said, e.Entry.Text+" "+e.Entry.URL)
			}
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; !strings.HasPrefix(u, b.url+"/") && !strings.HasPrefix(u, "data:") && u != "about:blank" {
				p.away = append(p.away, u)
			}
		}
	})
	if err != nil {
		b.t.Fatal(err)
	}
	for _, d := range []string{"Network.enable", "Log.enable", "Runtime.enable"} {
		p.call(d, map[string]any{})
	}
	p.call("Network.setBypassServiceWorker", map[string]any{"bypass": true}) // as over plain Wi-Fi
	p.call("Emulation.setDeviceMetricsOverride", map[string]any{"width": w, "height": h, "deviceScaleFactor": 1, "mobile": w < 600})
	return p
}

func (p *phone) run(a ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, a...); err != nil {
		p.t.Fatal(err)
	}
}

// pick chooses a file. A new look of the page may replace the field between
// finding it and filling it; then no file was chosen, and the new field is
// filled instead.
func (p *phone) pick(file string) {
	p.t.Helper()
	for try := 0; ; try++ {
		err := chromedp.Do(p.ctx, chromedp.SetUploadFiles(chromedp.CSS("input[type=file]"), []string{file}))
		if err == nil {
			return
		}
		if try == 20 || !strings.Contains(err.Error(), "Could not find node") {
			p.t.Fatal(err)
		}
	}
}

// call gives a command of the DevTools protocol.
func (p *phone) call(method string, params any) {
	p.t.Helper()
	p.run(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		var none any
		return t.Call(ctx, method, params, &none)
	}))
}

func (p *phone) open(path string) {
	p.t.Helper()
	p.run(chromedp.Navigate(p.url + path))
}

func (p *phone) eval(js string) { evalAs[any](p, js+"; null") }

func evalAs[T any](p *phone, js string, o ...chromedp.EvaluateOption) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](js, o...))
	if err != nil {
		p.t.Fatal(err)
	}
	return v
}

// until waits for something to be true in the page.
func (p *phone) until(js string) {
	p.t.Helper()
	for range 200 {
		if ok, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("!!("+js+")")); err == nil && ok {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	text, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	p.t.Fatalf("never: %s; the page says:\n%s", js, text)
}

func (p *phone) shows(text string) {
	p.t.Helper()
	p.until(fmt.Sprintf("document.body.innerText.includes(%q)", text))
}

// tap taps the visible button of a kind that belongs to a step.
func (p *phone) tap(step, did string) {
	p.t.Helper()
	sel := fmt.Sprintf(`form.tap:not([hidden]) > button.%s`, did)
	find := fmt.Sprintf(`Array.from(document.querySelectorAll(%q)).find(b => (!b.form.elements.step || b.form.elements.step.value === %q) && b.offsetParent)`, sel, step)
	p.until(find)
	p.eval(find + ".click()")
}

func (p *phone) note(text string) {
	p.t.Helper()
	p.until(`document.querySelector("textarea[name=note]")`)
	p.eval(fmt.Sprintf(`{const t = document.querySelector("textarea[name=note]"); t.value = %q; t.form.querySelector("button").click()}`, text))
}

func (p *phone) offline(off bool) {
	p.t.Helper()
	p.call("Network.emulateNetworkConditions", map[string]any{"offline": off, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1})
}

// quiet checks that nothing was said in the console and nothing was asked of
// anybody else.
func (p *phone) quiet() {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range p.said {
		p.t.Errorf("in the console: %s", s)
	}
	for _, s := range p.away {
		p.t.Errorf("asked elsewhere: %s", s)
	}
}

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
	cleanPicture(t, filepath.Join(b.dir, filepath.FromSlash(pic.Pictures[0].File)))
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

// Both sizes, light and dark: no fault that axe-core finds, nothing too small
// for a glove, nothing wider than the screen, nothing in the console, nothing
// from elsewhere.
func TestPagesForEverybody(t *testing.T) {
	browser(t)
	axe, err := os.ReadFile("../../testdata/node/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("axe-core is not installed: npm ci in testdata/node")
	}
	b := bench(t, nil)
	lan := bench(t, func(c *Config) { c.Code = "ABCD-2345" })
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p, q := b.phone(size[0], size[1]), lan.phone(size[0], size[1])
		for _, page := range []struct {
			p    *phone
			path string
		}{{p, "/"}, {p, "/?for=50"}, {p, "/step/torsion-table/core"}, {p, "/step/torsion-table/close"}, {p, "/step/frame-spline/sheet"}, {p, "/job/torsion-table"}, {p, "/job/shooting-board"}, {q, "/pair"}} {
			p := page.p
			p.open(page.path)
			p.eval(`document.querySelectorAll("details").forEach(d => d.open = true)`)
			p.eval(string(axe))
			// Only colours differ in the dark.
			for _, x := range [][2]string{{"light", ""}, {"dark", `{runOnly: ["cat.color"]}`}} {
				look, rules := x[0], x[1]
				what := fmt.Sprintf("%s at %d, %s", page.path, size[0], look)
				p.call("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": look}}})
				found := evalAs[string](p, `axe.run(`+rules+`).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.nodes.map(n => n.target.join(" ") + " " + n.failureSummary).join("; "))))`, chromedp.EvalAwaitPromise)
				var faults []string
				if err := json.Unmarshal([]byte(found), &faults); err != nil {
					t.Fatal(err)
				}
				for _, f := range faults {
					t.Errorf("%s: %s", what, f)
				}
				small := evalAs[[]string](p, `Array.from(document.querySelectorAll("button, summary, textarea, input:not([type=hidden]):not([type=checkbox]), .for a, .back, .name a, .rows > li > a, .jobs a, .dry label")).filter(e => e.offsetParent).map(e => [e.getBoundingClientRect(), e]).filter(x => x[0].height < 44 || x[0].width < 44).map(x => x[1].outerHTML.slice(0, 80) + " " + x[0].width + "x" + x[0].height)`)
				for _, f := range small {
					t.Errorf("%s: too small: %s", what, f)
				}
				wide := evalAs[float64](p, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
				if wide > 0 {
					t.Errorf("%s: %g pixels wider than the screen", what, wide)
				}
			}
		}
		p.quiet()
		q.quiet()
	}
}
