package job

import (
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"unicode/utf8"
)

// fuzzShop is testdata/shop in memory, with one file replaced.
func fuzzShop(file string, data []byte) fs.FS {
	m := fstest.MapFS{}
	_ = fs.WalkDir(os.DirFS("testdata/shop"), ".", func(p string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			b, _ := os.ReadFile("testdata/shop/" + p)
			m[p] = &fstest.MapFile{Data: b}
		}
		return err
	})
	m[file] = &fstest.MapFile{Data: data}
	return m
}

// sane checks what holds for any input: an answer or problems, and every
// problem at a place that the file has.
func sane(t *testing.T, err error, file string, data []byte) {
	if err == nil {
		return
	}
	var ps Problems
	if !errors.As(err, &ps) || len(ps) == 0 {
		t.Fatalf("%T: %v", err, err)
	}
	lines := strings.Split(string(data), "\n")
	for _, p := range ps {
		if p.Msg == "" || !utf8.ValidString(p.Msg) && utf8.Valid(data) {
			t.Fatalf("a problem without a message: %+v", p)
		}
		if p.File != file || p.Pos.Line == 0 {
			continue
		}
		if p.Pos.Line > len(lines) {
			t.Fatalf("line %d of %d: %s", p.Pos.Line, len(lines), p.Msg)
		}
		if n := utf8.RuneCountInString(lines[p.Pos.Line-1]); p.Col > n+2 {
			t.Fatalf("column %d of %d: %s", p.Col, n, p.Msg)
		}
		_ = p.String()
	}
}

func seedFiles(f *testing.F, name string) {
	if b, err := os.ReadFile("testdata/shop/" + name); err == nil {
		f.Add(b)
	}
	demo := map[string]string{jobFile: "jobs/frame-spline/job.yaml", logFile: "", "shop.yaml": "shop.yaml", "stock.yaml": "stock.yaml", "prices.yaml": "prices.yaml", "glues.yaml": "glues.yaml"}[name]
	if b, err := os.ReadFile("demo/files/" + demo); demo != "" && err == nil {
		f.Add(b)
	}
}

func fuzzFile(f *testing.F, name string, seeds ...string) {
	seedFiles(f, name)
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		_, err := LoadFS(fuzzShop(name, data), "")
		sane(t, err, name, data)
	})
}

func FuzzJob(f *testing.F) {
	fuzzFile(f, jobFile, "parts: [{id: a, size: 1 x 2 x 3, from: b, machining: [{holes: {through: 1, row: {count: 3, from: [1, 2], to: 9 from right-end}}}]}]\n",
		"steps: [{id: a, takes: 1 h, after: [b]}, {id: b, takes: 1 h, after: [a cured, 1 h to 2 h after a clamps-on]}]\n",
		"measures: {a: b + 1, b: {is: a, ask: how wide}}\n", "\t", "a: b: c", "'", "- [", "? x\n: y", "a: !!binary x\n", "due: 2026-13-01\ncopies: 0\nassembly: [{id: x, fills: a}]\n")
}

func FuzzShop(f *testing.F) {
	fuzzFile(f, "shop.yaml", "hours: {mon-sun: [0:00-24:00]}\nair: {day: {0:00: 60 F}, seasons: [{name: w, temp: 1 C, humidity: 3}]}\n", "hours: {except: [{date: 2026-01-01, open: 9:00-8:00}]}\n",
		"clamps: [{id: a, force: 900 lbf, opening: x}]\nunits: {length: mm, finest: 0.01}\n")
}

func FuzzStock(f *testing.F) {
	fuzzFile(f, "stock.yaml", "stock: [{id: a, form: board, on-hand: [{size: 1 x 2, defects: [[0, 0, 1, 1]]}]}]\n")
}
func FuzzPrices(f *testing.F) {
	fuzzFile(f, "prices.yaml", "tax: 8%\nitems: [{item: a, amount: 1 l, price: 3 USD, breaks: [{from: 2, price: 2}]}]\n")
}
func FuzzGlues(f *testing.F) {
	fuzzFile(f, "glues.yaml", "glues: [{id: a, type: pva, clamp: {10 C: 1 h, 20 C: 30 min}, lowest: 8 C}]\n")
}

func FuzzEntry(f *testing.F) {
	fuzzFile(f, logFile, "---\nat: 2026-03-14 19:05\ndid: read\ncheck: flat\nvalue: -0.003\nfive: [1, 2, 3]\n---\nText\n", "---\nat: 2026-03-14 19:05\ndid: noted\nminutes: 3 min\n  16 C\n---\n", "---\n---\n", "---\nat: x", "\ufeff---\r\nat: 2026-03-14T19:05:00Z\r\ndid: undid\r\nentry: x\r\n---\r\n")
}

func FuzzBuild(f *testing.F) {
	f.Add("# A\n\n## mill\n\n- [ ] one\n- [x] two\n\n```\n- [ ] no\n```\nUnder\n-----\n1. [X] three\n<!--\n- [ ] no\n-->\n")
	f.Add("\ufeff# A {#mill}\r\n- [ ] one\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		b := ReadBuild("build.md", []byte(text), []Step{{ID: "mill", Name: "Mill the ribs"}})
		last := -1
		for _, k := range b.Tasks() {
			if k.Byte <= last || k.Byte < 1 || k.Byte+1 >= len(text) || text[k.Byte-1] != '[' || text[k.Byte+1] != ']' {
				t.Fatalf("task %+v", k)
			}
			if (text[k.Byte] != ' ') != k.Done {
				t.Fatalf("task %+v", k)
			}
			last = k.Byte
		}
	})
}

func FuzzLag(f *testing.F) {
	for _, s := range []string{"mill", "core cured", "mill + 2 h", "within 24 h of first-coat", "30 min to 60 min after core clamps-on", "x +", "within of", " after "} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ParseLag(s)
		if err != nil {
			return
		}
		if l.Step == "" || l.Least < 0 || l.HasMost && (l.Most < l.Least || l.Most == 0) || l.From == "" {
			t.Fatalf("%q gives %+v", s, l)
		}
	})
}

// FuzzEdit makes an edit of any file: it is refused, or the file reads, holds
// the value, and another edit to the same value changes nothing.
func FuzzEdit(f *testing.F) {
	f.Add([]byte("a: {b: [1, x]}\nl:\n  - id: q\n    k: v # n\n"), "l/q/k", "w: z")
	f.Add([]byte("a: |\n  x\n y"), "a", "")
	f.Add([]byte("? a\n: b\n"), "a", "c")
	f.Add([]byte("a: 'x'\r\n"), "b", "'")
	f.Add([]byte("- a\n- b"), "#1", "c")
	f.Fuzz(func(t *testing.T, data []byte, path, v string) {
		p := Path(strings.Split(path, "/"))
		out, err := SetValue(data, p, v)
		if err != nil {
			return
		}
		again, err := SetValue(out, p, v)
		if err != nil || string(again) != string(out) {
			t.Fatalf("%q then %q: %v", out, again, err)
		}
		if more, err := AppendItem(data, p, v); err == nil && len(more) < len(data) {
			t.Fatalf("an item added took bytes away: %q", more)
		}
		if less, err := Remove(out, p); err == nil && len(less) >= len(out) {
			t.Fatalf("removing added bytes: %q", less)
		}
	})
}

// FuzzWriteEntry writes an entry of any words and reads it back.
func FuzzWriteEntry(f *testing.F) {
	f.Add("core", "Squeeze-out even.", int64(1773536700), 23)
	f.Add("a: b", "---\nat: x\n---\n", int64(0), -1)
	f.Add("x", "<<<<<<< ours\n\x00\xff", int64(1), 0)
	f.Fuzz(func(t *testing.T, step, text string, at int64, qty int) {
		if at < 0 || at > 4_000_000_000 {
			return
		}
		e := Entry{Time: time.Unix(at, 0).UTC(), Did: DidNote, Step: step, Text: text, Qty: qty}
		data := FormatEntry(e)
		back, err := ReadEntry("jobs/x/log/n.md", data, Units{Temp: "C"}, time.UTC)
		if err != nil {
			if entryStands("jobs/x", e, data) == nil {
				t.Fatalf("%q stands and does not read: %v", data, err)
			}
			return
		}
		if !back.Time.Equal(e.Time) {
			t.Fatalf("%v became %v", e.Time, back.Time)
		}
		if entryStands("jobs/x", e, data) == nil && (back.Step != step || back.Text != cleanProse(text)) {
			t.Fatalf("%q became %q, %q became %q", step, back.Step, cleanProse(text), back.Text)
		}
	})
}
