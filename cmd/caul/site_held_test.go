package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"caul/site"
)

var siteRounds = flag.Int("site-rounds", 1, "how often to go through the edits of a shop whose pages are held; the first round in order")

// A site drawn with what is held from the time before is, after any edit, the
// same byte for byte as one drawn whole into an empty folder.
func TestHeldPagesAreThoseOfAWholeDrawing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	largeShop(t, dir, 4, 1, 64)
	for _, open := range []string{"frame-spline", "torsion-table"} {
		if err := os.RemoveAll(filepath.Join(dir, "jobs", open)); err != nil {
			t.Fatal(err)
		}
	}
	now, out, memory := largeNow, filepath.Join(dir, "site"), filepath.Join(t.TempDir(), "memory")
	e := &env{out: io.Discard, err: io.Discard, now: func() time.Time { return now }, getenv: func(string) string { return "" }}
	// The disk's clock is an hour ahead: every file is old enough to be trusted.
	ahead := func() time.Time { return time.Now().Add(time.Hour) }
	draw := func(out, memory string) int {
		t.Helper()
		o := site.MemoryOptions{Dir: memory, Shop: dir, Out: out, Program: "p", Now: now, Clock: ahead}
		_, _, held, err := drawAs(context.Background(), e, o)
		if err != nil {
			t.Fatal(err)
		}
		return held
	}
	in := func(p string) string { return filepath.Join(dir, filepath.FromSlash(p)) }
	edit := func(p string, change func(string) string) {
		t.Helper()
		b, err := os.ReadFile(in(p))
		if err != nil {
			t.Fatal(err)
		}
		fi, err := os.Stat(in(p))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(in(p), []byte(change(string(b))), 0o644); err != nil {
			t.Fatal(err)
		}
		// as by a program that keeps a file's time
		if err := os.Chtimes(in(p), fi.ModTime(), fi.ModTime()); err != nil {
			t.Fatal(err)
		}
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	job := "jobs/stop-0002"
	entry := func() string {
		all, err := filepath.Glob(in(job + "/log/*-7.md"))
		if err != nil || len(all) != 1 {
			t.Fatal(all, err)
		}
		rel, _ := filepath.Rel(dir, all[0])
		return filepath.ToSlash(rel)
	}
	n := 0
	add := func(id, front, text string) {
		n++
		must(os.WriteFile(in(fmt.Sprintf("jobs/%s/log/2026-03-14T09%02d-shop-noted-%d.md", id, n%60, n)), fmt.Appendf(nil, "---\nat: 2026-03-14T09:%02d:00Z\n%s---\n%s\n", n%60, front, text), 0o644))
	}
	edits := []struct {
		what string
		do   func()
		held bool // some pages are held through it
	}{
		{"nothing", func() {}, true},
		{"a word more", func() { edit(entry(), func(s string) string { return s + "More.\n" }) }, true},
		{"another word of the same length", func() { edit(entry(), func(s string) string { return strings.Replace(s, "square", "proper", 1) }) }, true},
		{"a new note", func() { add("stop-0003", "did: noted\n", "Found it again.") }, true},
		{"a private note", func() { add("stop-0003", "did: noted\nprivate: true\n", "Found it again.") }, true},
		{"the air of a finished job's entry", func() { add("stop-0003", "did: noted\nair: 4 C\n", "Cold.") }, true},
		{"a reading", func() { add("shooting-board", "did: read\ncheck: edge\nvalue: 0.002\n", "") }, true},
		{"a new name", func() {
			edit(job+"/job.yaml", func(s string) string { return strings.Replace(s, "Stop block", "Long stop", 1) })
		}, true},
		{"a price", func() { edit("prices.yaml", func(s string) string { return s + "# looked at\n" }) }, false},
		{"the shop's name", func() {
			edit("shop.yaml", func(s string) string { return strings.Replace(s, "back-yard", "side-yard", 1) })
		}, false},
		{"a page gone", func() { must(os.Remove(filepath.Join(out, filepath.FromSlash(job), "log.html"))) }, true},
		{"a page spoiled", func() { must(os.WriteFile(filepath.Join(out, filepath.FromSlash(job), "index.html"), nil, 0o644)) }, true},
		{"a page edited in place, its time and size kept", func() {
			p := filepath.Join(out, filepath.FromSlash(job), "index.html")
			b, err := os.ReadFile(p)
			must(err)
			fi, err := os.Stat(p)
			must(err)
			must(os.WriteFile(p, bytes.Replace(b, []byte("<h1"), []byte("<h2"), 1), 0o644))
			must(os.Chtimes(p, fi.ModTime(), fi.ModTime()))
		}, true},
		{"a page put in place of another", func() {
			p := filepath.Join(out, filepath.FromSlash(job))
			b, err := os.ReadFile(filepath.Join(p, "log.html"))
			must(err)
			must(os.WriteFile(filepath.Join(p, "new"), b, 0o644))
			must(os.Rename(filepath.Join(p, "new"), filepath.Join(p, "index.html")))
		}, true},
		{"a job's entry gone", func() {
			all, err := filepath.Glob(in("jobs/stop-0003/log/*-6.md"))
			if err != nil || len(all) != 1 {
				t.Fatal(all, err)
			}
			must(os.Remove(all[0]))
		}, true},
		{"another picture", func() {
			a, err := os.ReadFile(in(job + "/photos/p1.jpg"))
			must(err)
			must(os.WriteFile(in(job+"/photos/p0.jpg"), a, 0o644))
		}, true},
		{"a picture gone", func() { must(os.Remove(in(job + "/photos/p2.jpg"))) }, true},
		{"a job renamed", func() {
			must(os.Rename(in(job), in("jobs/stop-9999")))
			job = "jobs/stop-9999"
		}, true},
		{"a job copied", func() { must(os.CopyFS(in(fmt.Sprintf("jobs/copy-%d", n)), os.DirFS(in(job)))); n++ }, true},
		{"a step not done after all", func() {
			id := strings.TrimSuffix(filepath.Base(entry()), ".md")
			add(filepath.Base(job), "did: undid\nentry: "+id+"\n", "")
		}, true},
		{"a job gone", func() { must(os.RemoveAll(in("jobs/stop-0001"))) }, true},
		{"the memory spoiled", func() {
			must(os.WriteFile(filepath.Join(memory, "jobs"), []byte("0123456789012345678901234567890123456789"), 0o600))
		}, false},
		{"the feed's texts gone", func() { must(os.RemoveAll(filepath.Join(memory, "feed"))) }, false},
		{"the list of pages gone", func() { must(os.Remove(filepath.Join(out, ".caul-pages"))) }, true},
		{"the list of pages spoiled", func() {
			p := filepath.Join(out, ".caul-pages")
			b, err := os.ReadFile(p)
			must(err)
			lines := strings.Split(strings.TrimSpace(string(b)), "\n")
			slices.Reverse(lines)
			must(os.WriteFile(p, []byte("jobs/nothing\njobs/\n\n"+strings.Join(lines[len(lines)/3:], "\n")+"\njobs"), 0o644))
		}, true},
		{"a minute later", func() { now = now.Add(time.Minute) }, true},
		{"a day later", func() { now = now.AddDate(0, 0, 1) }, true},
		{"three months later", func() { now = now.AddDate(0, 3, 0) }, true},
		{"another year", func() { now = now.AddDate(1, 0, 0) }, false},
		{"an earlier day", func() { now = now.AddDate(0, -2, 0) }, false},
	}
	rng := rand.New(rand.NewPCG(9, 9))
	for round := range *siteRounds {
		order := rng.Perm(len(edits))
		if round == 0 {
			for i := range order {
				order[i] = i
			}
		}
		for _, i := range order {
			x := edits[i]
			if round > 0 && (strings.HasPrefix(x.what, "a picture gone") || strings.HasPrefix(x.what, "a job") || x.what == "a page gone" && job != "") {
				continue // once is enough: what it takes away is gone
			}
			draw(out, memory)
			x.do()
			held := draw(out, memory)
			if round == 0 && x.held != (held > 0) {
				t.Errorf("%s: %d jobs held", x.what, held)
			}
			whole := filepath.Join(t.TempDir(), "whole")
			draw(whole, "")
			sameFolders(t, x.what, whole, out)
			if t.Failed() {
				return
			}
		}
	}
}

// sameFolders holds two folders against each other, file by file.
func sameFolders(t *testing.T, what, want, got string) {
	t.Helper()
	seen := map[string]bool{}
	err := filepath.WalkDir(want, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(want, p)
		if err != nil {
			return err
		}
		seen[rel] = true
		a, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		b, err := os.ReadFile(filepath.Join(got, rel))
		if err != nil {
			t.Errorf("%s: %v", what, err)
		} else if !bytes.Equal(a, b) {
			t.Errorf("%s: %s differs", what, rel)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	err = filepath.WalkDir(got, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		if rel, _ := filepath.Rel(got, p); !seen[rel] {
			t.Errorf("%s: %s stands still", what, rel)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
