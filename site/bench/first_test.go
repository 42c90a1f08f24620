package bench

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"caul/job/plan"
)

// shopDir writes a shop of files.
func shopDir(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// sections are the texts of a page by the heading or summary they stand under,
// blanks run together.
func sections(t *testing.T, page string) map[string]string {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	out, at := map[string]string{}, ""
	var text func(n *html.Node) string
	text = func(n *html.Node) string {
		if n.Type == html.TextNode {
			return n.Data
		}
		s := ""
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			s += text(c) + " "
		}
		return s
	}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			out[at] = strings.Join(strings.Fields(out[at]+" "+n.Data), " ")
			return
		case n.Type == html.ElementNode && slices.Contains([]string{"h1", "h2", "summary"}, n.Data):
			at = strings.Join(strings.Fields(text(n)), " ")
			return
		case n.Type == html.ElementNode && (n.Data == "head" || n.Data == "script"),
			n.Type == html.ElementNode && slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == "hidden" }):
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	return out
}

// nowShop has something in the clamps, a short and a long step that are ready,
// and steps behind them.
func nowShop(t *testing.T) string {
	return shopDir(t, map[string]string{
		"shop.yaml":  "name: Bench\nzone: UTC\nunits: {length: mm, temperature: C}\nhours: {mon-sun: \"18:00-22:00\"}\nclamps: [{id: bar, kind: bar, qty: 8}]\n",
		"glues.yaml": "glues: [{id: test, type: pva-yellow, clamp: {20 C: 60 min}, cure: {20 C: 24 h}}]\n",
		"stock.yaml": "stock: [{id: ply, form: sheet, size: 2440 x 1220 x 12}]\n",
		"jobs/sled/job.yaml": `name: Sled
parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]
glue-ups: [{id: glue, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}}]
steps:
  - {id: glue, name: Glue the base, takes: 30 min}
  - {id: trim, name: Trim it flush, takes: 20 min, after: [glue cured]}
  - {id: short, name: File the stop, takes: 40 min}
  - {id: edge, name: Exactly as long as there is, takes: 50 min}
  - {id: long, name: Carve the handle, takes: 90 min}
  - {id: oil, name: Oil it, takes: 15 min, after: [short, long]}
`,
		"jobs/sled/log/2026-03-14T1830-shop-clamped-glue.md": "---\nat: 2026-03-14T18:30:00Z\ndid: clamped\nstep: glue\n---\n",
	})
}

// The first screen: what is in the clamps with the time left, what can be done
// and fits the time the maker says they have, what is next by the plan, what is
// blocked and by what. The glue's label gives 60 min at 20 C, so the clamps come
// off at 19:30; the trimming wants its 24 h.
func TestFirstScreen(t *testing.T) {
	now := time.Date(2026, 3, 14, 19, 0, 0, 0, time.UTC)
	s, err := New(Config{Dir: nowShop(t), Machine: "shop", Now: func() time.Time { return now }, Hosts: []string{"bench.test"}})
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(t.Context(), s.shop, now, plan.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s.plan = p // as the planner beside the page puts it there
	has := func(path, head string, want ...string) {
		t.Helper()
		got := sections(t, page(t, s, path))[head]
		at := 0
		for _, w := range want {
			i := strings.Index(got[at:], w)
			if i < 0 {
				t.Errorf("%s, under %q, lacks %q after %.30q: %q", path, head, w, got[:at], got)
				return
			}
			at += i
		}
	}
	lacks := func(path, head string, no ...string) {
		t.Helper()
		for _, w := range no {
			if got := sections(t, page(t, s, path))[head]; strings.Contains(got, w) {
				t.Errorf("%s, under %q, has %q: %q", path, head, w, got)
			}
		}
	}
	has("/", words["clamps"], "Glue the base", "30 min", "ready Sat 14 Mar 19:30 · 6 bar", "Clamps off")
	has("/?for=50", words["can-do"], "I have", "50 min")
	has("/?for=50", words["can-do"], "File the stop", "Begin")
	has("/?for=50", words["can-do"], "Exactly as long as there is")
	lacks("/?for=50", words["can-do"], "Carve", "Oil", "Trim")
	has("/?for=50", words["longer"]+" (1)", "Carve the handle", "Begin")
	has("/?for=30", words["can-do"], words["nothing"])
	has("/?for=30", words["longer"]+" (3)", "Carve")
	has("/?for=180", words["can-do"], "Carve")
	has("/", words["blocked"], "Trim it flush", "Glue the base may be machined from")
	has("/", words["blocked"], "Oil it", "waits for File the stop and Carve the handle")
	// What is ready fills the evening's three hours to the minute, so the clamps
	// stay on until Sunday, when the cure at 18:30 holds up the trimming and nothing else.
	const next = "Exactly as long as there is Sat 14 Mar 19:40 · Sled Carve the handle Sat 14 Mar 20:30 · Sled Clamps off: Glue the base Sun 15 Mar 18:00 · Sled Oil it Sun 15 Mar 18:05 · Sled"
	if got := sections(t, page(t, s, "/"))[words["next"]]; got != next {
		t.Errorf("next is %q, want %q", got, next)
	}
	if !strings.Contains(page(t, s, "/"), words["finishes"]) {
		t.Error("it does not say when the plan finishes")
	}
	if !strings.Contains(page(t, s, "/?for=50"), `<a href="/?for=50" aria-current="true">50 min</a>`) {
		t.Error("the button of the 50 min is not marked")
	}
	for _, q := range []string{"/?for=x", "/?for=-5", "/?for=99999", "/?for="} {
		if w := do(s, "GET", q, "", nil); w.Code != http.StatusOK {
			t.Errorf("%s: %d", q, w.Code)
		}
	}
	now = now.Add(31 * time.Minute)
	has("/", words["clamps"], "Glue the base", words["over"], "since Sat 14 Mar 19:30", "Clamps off")
}

// A step: its state, what it waits for, cautions, instructions and tasks from
// build.md, machine and parts to lay out, drawings, and the glue-up with a dry
// fit, the glue to pour, the open time and when the clamps come off. What is
// wanted is what stands in the demo's own files.
func TestStepPage(t *testing.T) {
	s, _ := demoServer(t, nil)
	has := func(path, head string, want ...string) {
		t.Helper()
		got, ok := sections(t, page(t, s, path))[head]
		if !ok {
			t.Errorf("%s has no %q", path, head)
		}
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("%s, under %q, lacks %q: %q", path, head, w, got)
			}
		}
	}
	mill, core, upper := "/step/torsion-table/mill-lips", "/step/torsion-table/core", "/step/torsion-table/close"
	has(mill, "Mill the lipping", "ready", "45 min", "Caution. nothing shorter than the gap between the feed rollers")
	has(mill, words["set-up-sheet"], "Machine thickness planer", "planer, 1/2", "2 long lipping")
	has(mill, words["note"], words["note-label"], words["picture-for"])
	has(mill, words["reading"], words["save"])
	has(core, words["tasks"], "clamps off", "note the temperature when the clamps go on")
	has(core, words["instructions"], "Gloves, and keep the glue off the floor")
	has(upper, "Glue on the upper skin", "waits for Glue the grid to the lower skin")
	has(upper, words["glue-up"], words["start-open"], words["open-time"], words["pour"], " g, ", words["clamps-needed"], words["unclamp"], words["machine-at"], words["dry-fit"], words["order"])
	has(upper, words["anyway"], words["begin"])
	// Once the clamps are on there is one time at which they come off: by the log, and the plan made from it.
	p, err := plan.Make(t.Context(), s.shop, benchNow, plan.Options{})
	if err != nil {
		t.Fatal(err)
	}
	has(core, words["glue-up"], words["open-time"])
	for _, s.plan = range []*plan.Plan{nil, p} {
		all := ""
		for _, text := range sections(t, page(t, s, core)) {
			all += text + "\n"
		}
		off := regexp.MustCompile(`(?:since|Clamps off) (Sat 14 Mar [0-9:]+)`).FindAllStringSubmatch(all, -1)
		if len(off) == 0 || s.plan == p && len(off) < 2 {
			t.Fatalf("it does not say when the clamps come off: %s", all)
		}
		for _, m := range off {
			if m[1] != "Sat 14 Mar 17:38" { // as on the first screen and in caul now
				t.Errorf("the clamps come off %s, and %s", off[0][1], m[1])
			}
		}
	}
	body := page(t, s, mill)
	if strings.Count(body, "<svg") != 2 {
		t.Errorf("%d drawings, and the step mills two kinds of lipping", strings.Count(body, "<svg"))
	}
	if b := page(t, s, upper); !strings.Contains(b, `data-seconds="`) || strings.Contains(b, `data-seconds="0"`) {
		t.Error("no open time to count down")
	}
}

// Where the air stays below what the glue needs (10 °C by its maker's range for
// this type, as the glue table has it) no time is told and nothing rings.
func TestTooColdToSet(t *testing.T) {
	dir := nowShop(t)
	for name, text := range map[string]string{
		"shop.yaml":  "name: Cold\nzone: UTC\nunits: {length: mm, temperature: C}\nhours: {mon-sun: \"18:00-22:00\"}\nair: {day: {0:00: 2 C}}\nclamps: [{id: bar, kind: bar, qty: 8}]\n",
		"glues.yaml": "glues: [{id: test, type: pva-yellow}]\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	now := time.Date(2026, 3, 14, 19, 0, 0, 0, time.UTC)
	rang := 0
	s, err := New(Config{Dir: dir, Machine: "shop", Now: func() time.Time { return now }, Hosts: []string{"bench.test"}, Ring: func(plan.Timer) { rang++ }})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/step/sled/glue"} {
		body := page(t, s, path)
		if !strings.Contains(body, words["too-cold"]) || !strings.Contains(body, "warm the joint to 10 °C or more") || strings.Contains(body, "data-ready") || strings.Contains(body, "30 Sep") {
			t.Errorf("%s: %v", path, sections(t, body))
		}
	}
	s.ring()
	now = now.AddDate(1, 0, 0)
	s.ring()
	if rang != 0 {
		t.Errorf("it rang %d times", rang)
	}
}
