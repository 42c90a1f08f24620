package bench

import (
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The Nu HTML checker finds no error on any page, with words in them that are
// not meant well, and none in the style sheet.
func TestNuHTML(t *testing.T) {
	jar, err := filepath.Abs("../../testdata/node/node_modules/vnu-jar/build/dist/vnu.jar")
	if err == nil {
		_, err = os.Stat(jar)
	}
	java, err2 := exec.LookPath("java")
	if err != nil || err2 != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("java or the Nu HTML checker is missing: ", err, err2)
		}
		t.Skip("java or the Nu HTML checker is not here: npm install in testdata/node")
	}
	s, _ := demoServer(t, nil)
	if w := do(s, "POST", "/tap", `{"id":"0123456789ab-01","job":"torsion-table","step":"core","did":"noted","note":"<b a='\"> & </textarea> ![](x.png) [a](b)"}`, nil); w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	lan, _ := demoServer(t, func(c *Config) { c.Code = "ABCD-2345" })
	guests, _ := demoServer(t, func(c *Config) { c.Code, c.Visitors = "ABCD-2345", true })
	dir := t.TempDir()
	var pages []string
	keep := func(w *httptest.ResponseRecorder) {
		t.Helper()
		p := filepath.Join(dir, fmt.Sprintf("%d.html", len(pages)))
		if err := os.WriteFile(p, w.Body.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		pages = append(pages, p)
	}
	html := map[string]string{"Accept": "text/html"}
	for _, path := range []string{"/", "/?for=50", "/step/torsion-table/core", "/step/torsion-table/close", "/step/frame-spline/sheet", "/step/shooting-board/fence", "/job/torsion-table", "/job/shooting-board", "/step/x/y"} {
		keep(do(s, "GET", path, "", html))
	}
	keep(do(lan, "GET", "/pair", "", html))
	keep(do(guests, "GET", "/", "", html))
	keep(do(guests, "GET", "/step/torsion-table/core", "", html))
	odd := url.Values{"id": {"form-0123456789"}, "job": {"frame-spline"}, "step": {"sheet"}, "did": {"took-up"}, "back": {"/step/frame-spline/sheet"}}
	keep(do(s, "POST", "/tap", odd.Encode(), map[string]string{"Content-Type": "application/x-www-form-urlencoded"}))
	css, err := assets.ReadFile("static/bench.css")
	if err != nil {
		t.Fatal(err)
	}
	sheet := filepath.Join(dir, "bench.css")
	if err := os.WriteFile(sheet, css, 0o644); err != nil {
		t.Fatal(err)
	}
	args := append([]string{"-jar", jar, "--errors-only", "--format", "gnu", "--also-check-css", sheet}, pages...)
	if out, err := exec.Command(java, args...).CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, strings.ReplaceAll(string(out), dir, ""))
	}
}
