package bench

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// page gives a page as a browser asks for it.
func page(t *testing.T, s *Server, path string) string {
	t.Helper()
	w := do(s, "GET", path, "", map[string]string{"Accept": "text/html"})
	return w.Body.String()
}

// A shop without a job, a job without steps and one whose steps are done each
// say so on the first screen and on their own page.
func TestNothingToDo(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) {
		t.Helper()
		f := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(f), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(f, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("shop.yaml", "name: Test shop\nunits: {length: mm, temperature: C}\nhours: {mon-sun: \"08:00-21:00\"}\n")
	s, _ := demoServer(t, func(c *Config) { c.Dir = dir })
	sees := func(path, want string) {
		t.Helper()
		if got := page(t, s, path); !strings.Contains(got, want) {
			t.Errorf("%s does not say %q:\n%s", path, want, got)
		}
	}
	again := func() {
		t.Helper()
		if err := s.reload(); err != nil {
			t.Fatal(err)
		}
	}
	sees("/", "No job yet; make one with `caul new job ID`.")
	put("jobs/one/job.yaml", "name: One\n")
	again()
	sees("/", "No steps yet; write them in jobs/one/job.yaml.")
	sees("/job/one", "This job has no steps yet")
	sees("/job/one", "Nothing in its log yet.")
	put("jobs/one/job.yaml", "name: One\nsteps: [{id: cut, takes: 10 min}]\n")
	again()
	sees("/", "no limit")
	if w := do(s, "POST", "/tap", `{"id":"0123456789ab-01","job":"one","step":"cut","did":"finished"}`, nil); w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	sees("/", "Everything is done.")
	sees("/step/one/nothing", "There is no such page")
	if w := do(s, "GET", "/job/nothing", "", map[string]string{"Accept": "text/html"}); w.Code != 404 || !strings.Contains(w.Body.String(), `href="/"`) {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

// A reading is answered with its verdict beside the check and in the log, in
// decimals as the gauge shows them.
func TestReadingVerdict(t *testing.T) {
	s, _ := demoServer(t, nil)
	if w := do(s, "POST", "/tap", `{"id":"0123456789ab-01","job":"torsion-table","did":"read","check":"flat","value":"0.0105"}`, nil); w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	const want = "0.0105 in, out: wants at most 0.004 in"
	for _, path := range []string{"/job/torsion-table", "/step/torsion-table/mill-lips"} {
		if got := page(t, s, path); !strings.Contains(got, want) {
			t.Errorf("%s does not say %q", path, want)
		}
	}
}
