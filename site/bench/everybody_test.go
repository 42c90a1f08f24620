package bench

import (
	"encoding/json"
	"fmt"
	"os"
	"testing"

	"github.com/chromedp/chromedp"
)

// Both sizes, light and dark: no fault that axe-core finds; contrast enough for
// a dark shop and bright sun (WCAG 2.2, 1.4.6, level AAA); nothing too small for
// a glove, no small text; nothing wider than the screen, nothing in the console,
// nothing from elsewhere.
func TestPagesForEverybody(t *testing.T) {
	browser(t)
	axe, err := os.ReadFile("../../testdata/node/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("axe-core is not installed: npm ci in testdata/node")
	}
	const sun = `rules: {"color-contrast-enhanced": {enabled: true}}`
	b := bench(t, nil)
	lan := bench(t, func(c *Config) { c.Code = "ABCD-2345" })
	guests := bench(t, func(c *Config) { c.Code, c.Visitors = "ABCD-2345", true })
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p, q, v := b.phone(size[0], size[1]), lan.phone(size[0], size[1]), guests.phone(size[0], size[1])
		// What is told above the page: something refused, something odd, taps that wait.
		p.open("/")
		p.eval(`localStorage.setItem("caul-refused", JSON.stringify([{ why: "no such step", text: "a note" }]));
			localStorage.setItem("caul-odd", JSON.stringify([{ id: "0123456789ab-01", job: "torsion-table", why: ["it looks odd"] }]))`)
		for i, page := range []struct {
			p    *phone
			path string
		}{{p, "/"}, {p, "/?for=50"}, {p, "/step/torsion-table/core"}, {p, "/step/torsion-table/close"}, {p, "/step/frame-spline/sheet"}, {p, "/job/torsion-table"}, {p, "/job/shooting-board"}, {q, "/pair"}, {v, "/"}, {v, "/step/torsion-table/core"}} {
			p := page.p
			p.open(page.path)
			if i == 0 {
				p.until(`document.querySelectorAll("#line p").length === 2`)
			}
			if i == 1 {
				p.eval(`localStorage.removeItem("caul-refused"); localStorage.removeItem("caul-odd"); dispatchEvent(new Event("storage"))`)
				p.until(`!document.getElementById("line").textContent`)
			}
			p.eval(`document.querySelectorAll("details").forEach(d => d.open = true)`)
			p.eval(string(axe))
			// Only colours differ in the dark.
			for _, x := range [][2]string{{"light", "{" + sun + "}"}, {"dark", `{runOnly: ["cat.color"], ` + sun + "}"}} {
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
			}
			what := fmt.Sprintf("%s at %d", page.path, size[0])
			for _, f := range evalAs[[]string](p, `Array.from(document.querySelectorAll("button, summary, textarea, input:not([type=hidden]):not([type=checkbox]), .for a, .back, .name a, .rows > li > a, .jobs a, footer a, .dry label")).filter(e => e.offsetParent).map(e => [e.getBoundingClientRect(), e]).filter(x => x[0].height < 44 || x[0].width < 44).map(x => x[1].outerHTML.slice(0, 80) + " " + x[0].width + "x" + x[0].height)`) {
				t.Errorf("%s: too small: %s", what, f)
			}
			for _, f := range evalAs[[]string](p, `Array.from(document.querySelectorAll("body *")).filter(e => e.offsetParent && Array.from(e.childNodes).some(c => c.nodeType === 3 && c.data.trim()) && parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.outerHTML.slice(0, 80))`) {
				t.Errorf("%s: small text: %s", what, f)
			}
			if wide := evalAs[float64](p, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); wide > 0 {
				t.Errorf("%s: %g pixels wider than the screen", what, wide)
			}
		}
		p.quiet()
		q.quiet()
		v.quiet()
	}
}
