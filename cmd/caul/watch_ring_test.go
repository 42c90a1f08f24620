package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"caul/job"
	"caul/job/demo"
)

// hurried is a clock that runs an hour at every look.
type hurried struct {
	mu sync.Mutex
	t  time.Time
}

func (h *hurried) now() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.t = h.t.Add(20 * time.Minute)
	return h.t
}

type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}
func (s *safeBuffer) String() string { s.mu.Lock(); defer s.mu.Unlock(); return s.b.String() }

// When a wait is over, watch rings the terminal's bell and runs the maker's
// command with what it is about as arguments, never through a shell; into a
// pipe it writes plain lines, or JSON.
func TestWatchRings(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the command of this test is a shell script")
	}
	start := time.Date(2026, 3, 14, 19, 0, 0, 0, time.UTC)
	dir := filepath.Join(t.TempDir(), "shop")
	if err := demo.Write(dir, start, time.UTC); err != nil {
		t.Fatal(err)
	}
	for _, did := range []string{job.DidBegin, job.DidClamp} {
		if _, err := job.AddEntry(dir, "torsion-table", job.Entry{Time: start, Did: did, Step: "close"}, "shop"); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name           string
		terminal, json bool
	}{{"terminal", true, false}, {"pipe", false, false}, {"json", false, true}} {
		t.Run(c.name, func(t *testing.T) {
			told := filepath.Join(t.TempDir(), "told")
			script := filepath.Join(t.TempDir(), "ring.sh")
			if err := os.WriteFile(script, []byte("#!/bin/sh\nprintf '%s|' \"$@\" >>'"+told+"'\n"), 0o755); err != nil {
				t.Fatal(err)
			}
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			var out, said safeBuffer
			clock := &hurried{t: start}
			e := &env{in: strings.NewReader(""), out: &out, err: &said, now: clock.now, getenv: func(string) string { return "" }, cwd: dir, terminal: c.terminal}
			args := []string{"watch", "--ring", script}
			if c.json {
				args = append(args, "--json")
			}
			ended := make(chan int, 1)
			go func() { ended <- run(ctx, e, args) }()
			want := "Glue on the upper skin|in clamps|torsion-table|close|"
			for range 200 {
				if b, _ := os.ReadFile(told); strings.Contains(string(b), want) {
					break
				}
				time.Sleep(50 * time.Millisecond)
			}
			stop()
			if code := <-ended; code != exitOK {
				t.Errorf("ended with %d: %s", code, said.String())
			}
			b, err := os.ReadFile(told)
			if err != nil || strings.Count(string(b), want) != 1 {
				t.Fatalf("the command heard %q, %v", b, err)
			}
			text := out.String()
			if bell := strings.Contains(text, "\a"); bell != c.terminal {
				t.Errorf("bell: %v", bell)
			}
			switch {
			case c.terminal:
				if !strings.HasSuffix(text, "\x1b[?25h\x1b[?1049l") {
					t.Error("the terminal is not given back as it was")
				}
			case c.json:
				d := json.NewDecoder(strings.NewReader(text))
				for d.More() {
					var a answer
					if err := d.Decode(&a); err != nil || a.Kind != "timer" {
						t.Fatalf("%v %+v", err, a)
					}
				}
			default:
				if strings.ContainsAny(text, "\a\x1b") || !strings.Contains(text, "Glue on the upper skin, in clamps: ready now\n") {
					t.Errorf("the pipe got %q", text)
				}
			}
		})
	}
}
