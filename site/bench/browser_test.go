package bench

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
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

// pick chooses a file.
func (p *phone) pick(file string) {
	p.t.Helper()
	p.act(chromedp.SetUploadFiles(chromedp.CSS("input[type=file]"), []string{file}))
}

// act does one thing to one element. A new look of the page may replace the
// element between finding it and acting on it; then nothing was done, and the
// new one is acted on instead.
func (p *phone) act(a chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	for try := 0; ; try++ {
		err := chromedp.Do(p.ctx, a)
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
	find := fmt.Sprintf(`Array.from(document.querySelectorAll(%q)).find(b => (!b.form.elements.step || b.form.elements.step.value === %q) && b.offsetParent && !b.disabled)`, sel, step)
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
