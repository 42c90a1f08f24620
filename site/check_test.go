package site

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// missing skips a check whose checker is not installed, and fails it where
// everything has to be.
func missing(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal(why)
	}
	t.Skip(why)
}

const modules = "../testdata/node/node_modules/"

// written draws the demo shop, a build of it to send, and a shop that is hard
// to draw into a folder.
func written(t *testing.T) (string, []string) {
	t.Helper()
	in := demoInput(t)
	dir := t.TempDir()
	all := render(t, in)
	_, err := Write(filepath.Join(dir, "shop"), all, in.Open)
	require.NoError(t, err)
	in.Shared, in.Plan, in.Live, in.Bills, in.Proof, in.BothWays = true, nil, nil, nil, nil, nil
	in.Build = SharedBuild{By: "a maker", Version: "0123456789abcdef", Changes: []string{"changed: build.md"}}
	one := *in.Shop
	one.Jobs = one.Jobs[1:2]
	in.Shop = &one
	sent := render(t, in)
	_, err = Write(filepath.Join(dir, "sent"), sent, in.Open)
	require.NoError(t, err)
	odd := oddInput(t)
	hard := render(t, odd)
	_, err = Write(filepath.Join(dir, "odd"), hard, odd.Open)
	require.NoError(t, err)
	var pages []string
	for _, s := range []struct {
		name string
		site *Site
	}{{"shop", all}, {"sent", sent}, {"odd", hard}} {
		for _, p := range s.site.Pages.Paths() {
			if path.Ext(p) == ".html" && (s.name != "odd" || p != "figures.html") {
				pages = append(pages, path.Join(s.name, p))
			}
		}
	}
	require.Greater(t, len(pages), 15)
	return dir, pages
}

// TestNuHTML: the Nu HTML checker finds no error on any page.
func TestNuHTML(t *testing.T) {
	jar, err := filepath.Abs(modules + "vnu-jar/build/dist/vnu.jar")
	require.NoError(t, err)
	if _, err := os.Stat(jar); err != nil {
		missing(t, "the Nu HTML checker is not installed: npm ci in testdata/node")
	}
	java, err := exec.LookPath("java")
	if err != nil {
		missing(t, "no java here to run the Nu HTML checker with")
	}
	dir, pages := written(t)
	args := []string{"-jar", jar, "--errors-only", "--format", "gnu"}
	for _, p := range pages {
		args = append(args, filepath.Join(dir, filepath.FromSlash(p)))
	}
	out, err := exec.Command(java, args...).CombinedOutput()
	require.NoError(t, err, strings.ReplaceAll(string(out), dir, ""))
}

// TestAxe: axe-core finds no violation on any page, light and dark, on a phone
// and on a desk, nothing has to be moved sideways to be read, and no page
// asks for anything that is not its own.
func TestAxe(t *testing.T) {
	axe, err := os.ReadFile(modules + "axe-core/axe.min.js")
	if err != nil {
		missing(t, "axe-core is not installed: npm ci in testdata/node")
	}
	var bin string
	for _, n := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if bin, err = exec.LookPath(n); err == nil {
			break
		}
	}
	if bin == "" {
		missing(t, "no chromium here to try the pages in")
	}
	dir, pages := written(t)
	// Under a path of its own, as a static host may have it.
	var lost []string
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		rest, ok := strings.CutPrefix(r.URL.Path, "/some/where/")
		if _, err := os.Stat(filepath.Join(dir, filepath.FromSlash(rest))); !ok || err != nil {
			if r.URL.Path != "/favicon.ico" {
				lost = append(lost, r.URL.Path)
			}
			http.NotFound(w, r)
			return
		}
		http.ServeFile(w, r, filepath.Join(dir, filepath.FromSlash(rest)))
	}))
	defer srv.Close()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(bin), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	defer stop()
	ctx, done := chromedp.NewContext(alloc)
	defer done()
	require.NoError(t, chromedp.Do(ctx))
	look := func(theme string, width int64) {
		require.NoError(t, chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			var none any
			if err := t.Call(ctx, "Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": theme}}}, &none); err != nil {
				return err
			}
			return t.Call(ctx, "Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 500}, &none)
		})))
	}
	num := func(js string) float64 {
		v, err := chromedp.Run(ctx, chromedp.Evaluate[float64](js))
		require.NoError(t, err)
		return v
	}
	// What a theme or a width can change is looked at in each; the rest once.
	looks := []struct {
		theme string
		width int64
		rules string
	}{{"light", 1280, `{resultTypes: ["violations"]}`}, {"dark", 360, `{resultTypes: ["violations"], runOnly: ["color-contrast", "link-in-text-block", "scrollable-region-focusable", "target-size"]}`}}
	for _, p := range pages {
		look(looks[0].theme, looks[0].width)
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL+"/some/where/"+p)), p)
		require.Zero(t, num(`(()=>{`+string(axe)+`; return 0})()`))
		for _, l := range looks {
			look(l.theme, l.width)
			found, err := chromedp.Run(ctx, chromedp.Evaluate[string](`axe.run(`+l.rules+`).then(r => r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.target.join(" ") + " " + n.failureSummary).join("; ")).join("\n"))`, chromedp.EvalAwaitPromise))
			require.NoError(t, err, p)
			if found != "" {
				t.Errorf("%s, %s: %s", p, l.theme, found)
			}
			if wide := num(`document.documentElement.scrollWidth - document.documentElement.clientWidth`); wide > 0 {
				t.Errorf("%s is %v px wider than a window of %d", p, wide, l.width)
			}
			if small := num(`[...document.querySelectorAll("nav a, .card .big a, button, input")].filter(e => e.getBoundingClientRect().height < 24).length`); small > 0 {
				t.Errorf("%s: %v things to press are lower than 24 px (WCAG 2.2, 2.5.8)", p, small)
			}
		}
	}
	require.Empty(t, lost, fmt.Sprint("asked for and not there: ", lost))
}
