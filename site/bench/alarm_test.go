package bench

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"caul/job/plan"
)

// When a wait is over the page sounds, shakes, and says so in its title; it
// keeps the screen on when asked to, and asks again when it comes back to the
// front.
func TestAlarms(t *testing.T) {
	b := bench(t, nil)
	p := b.phone(360, 740)
	p.call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `
		window.did = { tones: 0, shaken: 0, awake: 0, slept: 0 };
		const start = OscillatorNode.prototype.start;
		OscillatorNode.prototype.start = function (...a) { did.tones++; return start.apply(this, a); };
		Object.defineProperty(navigator, "vibrate", { value: () => { did.shaken++; return true; } });
		Object.defineProperty(navigator, "wakeLock", { value: { request: k => { did.awake += k === "screen" ? 1 : 0; return Promise.resolve({ release: () => { did.slept++; } }); } } });`})
	before := len(b.log("torsion-table"))
	p.open("/")
	p.tap("core", "unclamped")
	b.waitLog("torsion-table", before, 1)
	b.later(time.Minute)
	p.tap("close", "began")
	p.tap("close", "clamped")
	b.waitLog("torsion-table", before, 3)
	b.later(time.Minute)
	p.until(`/\d min/.test((document.querySelector("[data-ready][data-name='Glue on the upper skin']") || {}).textContent)`)
	if evalAs[int](p, `did.tones`) != 0 {
		t.Error("it sounds before it was asked to")
	}
	button := func(word string) string {
		return `Array.from(document.querySelectorAll("#tools button")).find(b => b.textContent === "` + words[word] + `")`
	}
	p.act(chromedp.Click(chromedp.CSS("#tools button"))) // a true touch, without which no browser shakes

	p.until(button("alarm-on") + `.getAttribute("aria-pressed") === "true"`)
	p.eval(button("awake") + ".click()")
	p.until(`did.awake === 1`)
	p.until(button("awake") + `.getAttribute("aria-pressed") === "true"`)
	tones, shaken := evalAs[int](p, `did.tones`), evalAs[int](p, `did.shaken`)
	if tones != 3 {
		t.Errorf("switched on, the alarm sounds %d tones", tones)
	}
	if strings.HasPrefix(evalAs[string](p, `document.title`), "(!)") {
		t.Error("the title calls before the time")
	}
	b.later(3 * time.Hour)
	p.until(`did.tones === 6`)
	p.until(`document.title.startsWith("(!)")`)
	if n := evalAs[int](p, `did.shaken`); n != shaken+1 {
		t.Errorf("shaken %d times, before the alarm %d", n, shaken)
	}
	p.until(`!document.querySelector("button.unclamped.early")`) // the page looked again by itself
	p.eval(`document.dispatchEvent(new Event("visibilitychange"))`)
	p.until(`did.awake === 2`)
	p.eval(button("awake") + ".click()") // and lets it go dark again
	p.until(`did.slept === 1 && ` + button("awake") + `.getAttribute("aria-pressed") === "false"`)
	p.quiet()
}

// The program rings once for a wait that ends, and not for one that was over
// long before it was started.
func TestRingsOnce(t *testing.T) {
	now := benchNow
	var rang []string
	s, _ := demoServer(t, func(c *Config) {
		c.Now = func() time.Time { return now }
		c.Ring = func(x plan.Timer) { rang = append(rang, x.Step+" "+string(x.Kind)) }
	})
	s.ring() // the first glue-up may come off since hours
	tap := func(id, step, did string) {
		t.Helper()
		if w := do(s, "POST", "/tap", `{"id":"0123456789ab-`+id+`","job":"torsion-table","step":"`+step+`","did":"`+did+`"}`, nil); w.Code != 200 {
			t.Fatal(w.Code, w.Body)
		}
	}
	tap("01", "core", "unclamped")
	tap("02", "close", "clamped")
	s.ring()
	if len(rang) != 0 {
		t.Fatalf("rang at once: %v", rang)
	}
	now = now.Add(3 * time.Hour)
	s.ring()
	s.ring()
	if len(rang) != 1 || rang[0] != "close in clamps" {
		t.Errorf("rang: %v", rang)
	}
}
