package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"caul/job"
)

// A tick is applied once: sent again because its answer was lost, it does not
// undo what somebody else did meanwhile. It changes one byte of build.md, also
// where the file was changed by hand since the page was drawn.
func TestTickOnce(t *testing.T) {
	s, dir := demoServer(t, nil)
	file := filepath.Join(dir, "jobs/torsion-table/build.md")
	was, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	tick := func(id string, done bool) {
		t.Helper()
		body := fmt.Sprintf(`{"id":"0123456789ab-%s","job":"torsion-table","step":"core","text":"clamps off","done":%v}`, id, done)
		if w := do(s, "POST", "/tick", body, nil); w.Code != 200 {
			t.Fatal(w.Code, w.Body)
		}
	}
	holds := func(want string) {
		t.Helper()
		if b, err := os.ReadFile(file); err != nil || string(b) != want {
			t.Errorf("build.md is not as it should be, %v:\n%s", err, b)
		}
	}
	ticked := strings.Replace(string(was), "- [ ] clamps off\n", "- [x] clamps off\n", 1)
	if ticked == string(was) {
		t.Fatal("the demo has another task now")
	}
	tick("01", true)
	holds(ticked)
	tick("02", false)
	holds(string(was))
	tick("01", true) // sent again
	holds(string(was))
	byHand := "<!-- by hand -->\n" + string(was)
	if err := os.WriteFile(file, []byte(byHand), 0o644); err != nil {
		t.Fatal(err)
	}
	tick("03", true) // the page was drawn before
	holds(strings.Replace(byHand, "- [ ] clamps off\n", "- [x] clamps off\n", 1))
}

// A file changed by hand while the page is open shows at once, and one that
// does not read is told, while taps are still kept.
func TestFilesByHand(t *testing.T) {
	s, dir := demoServer(t, nil)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- s.Run(ctx) }()
	defer func() { cancel(); <-done }()
	file := filepath.Join(dir, "jobs/torsion-table/job.yaml")
	was, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	shows := func(what string) {
		t.Helper()
		for range 200 {
			if strings.Contains(do(s, "GET", "/", "", nil).Body.String(), what) {
				return
			}
			time.Sleep(20 * time.Millisecond)
		}
		t.Fatalf("the page does not show %q", what)
	}
	time.Sleep(100 * time.Millisecond) // until the watch stands
	put := func(s string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(s), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put(strings.Replace(string(was), "name: Glue the grid to the lower skin", "name: By hand", 1))
	shows("By hand")
	put("name: [half")
	shows("do not read just now")
	shows("By hand")
	if w := do(s, "POST", "/tap", goodTap, nil); w.Code != 200 {
		t.Errorf("a tap meanwhile: %d %s", w.Code, w.Body)
	}
	if b, _ := os.ReadFile(file); string(b) != "name: [half" {
		t.Errorf("the file was written over: %q", b)
	}
	put(string(was))
	shows("Glue the grid")
	sh, err := job.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	if e := s.lastEntry(sh.Job("torsion-table")); e == nil || e.Text != "hello" {
		t.Errorf("the last entry is %+v", e)
	}
}

// replaceOnce changes a text of the demo's files, which must hold it.
func replaceOnce(t *testing.T, text, old, with string) string {
	t.Helper()
	out := strings.Replace(text, old, with, 1)
	if out == text {
		t.Fatalf("the demo no longer holds %q", old)
	}
	return out
}
