package bench

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"caul/job/demo"
)

// benchNow is the evening the demo is looked at.
var benchNow = time.Date(2026, 3, 14, 19, 0, 0, 0, time.FixedZone("", -6*3600))

// demoServer serves a fresh demo shop, on this machine alone.
func demoServer(tb testing.TB, change func(*Config)) (*Server, string) {
	tb.Helper()
	dir := tb.TempDir()
	if err := demo.Write(dir, benchNow, benchNow.Location()); err != nil {
		tb.Fatal(err)
	}
	cfg := Config{Dir: dir, Machine: "shop", Now: func() time.Time { return benchNow }, Hosts: []string{"bench.test"}}
	if change != nil {
		change(&cfg)
	}
	s, err := New(cfg)
	if err != nil {
		tb.Fatal(err)
	}
	return s, dir
}

// longLog adds n notes to a job.
func longLog(tb testing.TB, dir, job string, n int) {
	tb.Helper()
	at := benchNow.Add(-time.Duration(n) * time.Hour)
	for i := range n {
		when := at.Add(time.Duration(i) * time.Hour)
		text := fmt.Sprintf("---\nat: %s\ndid: noted\n---\nNote %d.\n", when.Format(time.RFC3339), i)
		name := fmt.Sprintf("%s-shop-noted-%d.md", when.Format("2006-01-02T1504"), i)
		if err := os.WriteFile(filepath.Join(dir, "jobs", job, "log", name), []byte(text), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
}

func newRequest(method, path, body string) *http.Request {
	r := httptest.NewRequest(method, "http://bench.test"+path, strings.NewReader(body))
	if method == "POST" {
		r.Header.Set("Origin", "http://bench.test")
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

func serve(s http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func do(s http.Handler, method, path, body string, head map[string]string) *httptest.ResponseRecorder {
	r := newRequest(method, path, body)
	for k, v := range head {
		r.Header.Set(k, v)
	}
	return serve(s, r)
}

// From the tap to the file on the disk, synced, on the demo shop.
func BenchmarkTap(b *testing.B) {
	s, _ := demoServer(b, nil)
	s.door.unlimited()
	var all []time.Duration
	for i := 0; b.Loop(); i++ {
		at := time.Now()
		w := do(s, "POST", "/tap", fmt.Sprintf(`{"id":"%08da%08d","job":"torsion-table","did":"noted","note":"tap %d"}`, i, i, i), nil)
		if w.Code != http.StatusOK {
			b.Fatal(w.Code, w.Body)
		}
		all = append(all, time.Since(at))
	}
	b.ReportMetric(float64(median(all).Microseconds())/1000, "ms/median")
}

// The first screen after a change, in a job of 2,000 entries.
func BenchmarkFirstScreenLongLog(b *testing.B) {
	s, dir := demoServer(b, nil)
	longLog(b, dir, "torsion-table", 2000)
	if err := s.reload(); err != nil {
		b.Fatal(err)
	}
	time.Sleep(50 * time.Millisecond)
	b.Run("screen", func(b *testing.B) {
		for b.Loop() {
			if w := do(s, "GET", "/", "", nil); w.Code != http.StatusOK {
				b.Fatal(w.Code)
			}
		}
	})
	b.Run("reload", func(b *testing.B) {
		for b.Loop() {
			if err := s.reload(); err != nil {
				b.Fatal(err)
			}
		}
	})
}
