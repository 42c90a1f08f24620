package bench

import (
	"net/http"
	"testing"
	"time"

	"caul/job"
)

// Where the browser lets it, a page can be opened anew while the shop's machine
// does not answer: it is marked with the time it is from, its taps wait, and
// they are applied once when the machine is back.
func TestOpenedWithoutTheMachine(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	p.call("Network.setBypassServiceWorker", map[string]any{"bypass": false})
	before := len(b.log("torsion-table"))
	p.open("/")
	p.shows("Mill the lipping")
	p.until(`navigator.serviceWorker.controller`)
	has := func(key string) string {
		return `(window.keptNow = window.keptNow || {}, caches.match("` + key + `").then(r => { window.keptNow["` + key + `"] = !!r }), window.keptNow["` + key + `"])`
	}
	for _, k := range []string{"/shell", "/part/", "/part/step/torsion-table/mill-lips", "/static/bench.js", "/static/bench.css"} {
		p.until(has(k))
	}
	gone := http.Handler(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }))
	b.front.Store(&gone)
	b.now.Add(int64((20 * time.Minute).Seconds()))

	p.open("/step/torsion-table/mill-lips")
	p.until(`document.querySelector("h1") && document.querySelector("h1").textContent === "Mill the lipping"`)
	p.shows("What you see is from Sat 14 Mar 19:00")
	p.tap("mill-lips", "began")
	p.shows("1 waiting to be sent")
	p.open("/step/torsion-table/mill-lips") // closed and opened again
	p.shows("1 waiting to be sent")
	p.until(`!document.querySelector("form.tap:not([hidden]) > button.began")`) // shown as tapped
	p.open("/step/torsion-table/nothing-such")
	p.shows("This page is not on the device")
	if evalAs[bool](p, `document.getElementById("main").textContent.includes("Mill")`) {
		t.Error("a page that is not kept shows another one")
	}
	p.open("/")
	p.shows("Mill the lipping")
	if n := len(b.log("torsion-table")); n != before {
		t.Fatalf("%d entries without the machine", n-before)
	}

	b.front.Store(nil)
	b.waitLog("torsion-table", before, 1)
	p.until(`!document.getElementById("line").textContent`)
	time.Sleep(200 * time.Millisecond)
	if es := b.log("torsion-table")[before:]; len(es) != 1 || es[0].Did != job.DidBegin {
		t.Errorf("the log: %s", dids(es))
	}
	p.open("/")
	p.until(`Array.from(document.querySelectorAll("h2")).some(h => h.textContent === "On the bench")`)
	if evalAs[bool](p, `document.body.hasAttribute("data-kept")`) {
		t.Error("a fresh page is marked as kept")
	}
}

// What was kept goes when the session is over.
func TestKeptGoesWithTheSession(t *testing.T) {
	b := bench(t, func(c *Config) { c.Code = "ABCD-2345" })
	p := b.phone(360, 740)
	p.call("Network.setBypassServiceWorker", map[string]any{"bypass": false})
	p.open("/pair?code=ABCD-2345")
	p.eval(`document.querySelector("form button").click()`)
	p.shows("Mill the lipping")
	p.until(`navigator.serviceWorker.controller`)
	p.until(`(caches.match("/part/").then(r => { window.keptNow = !!r }), window.keptNow)`)
	b.now.Add(int64((sessionLife + time.Hour).Seconds()))
	p.open("/")
	p.until(`location.pathname === "/pair"`)
	p.until(`(Promise.all(["/shell", "/part/"].map(k => caches.match(k))).then(r => { window.goneNow = !r[0] && !r[1] }), window.goneNow)`)
}

// Over plain Wi-Fi there is no such keeping, and the page says that it must
// stay open.
func TestSaysThatItMustStayOpen(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	p.call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `Object.defineProperty(window, "isSecureContext", { value: false })`})
	p.open("/")
	p.shows("Keep this page open: over plain Wi-Fi")
	p.quiet()
}
