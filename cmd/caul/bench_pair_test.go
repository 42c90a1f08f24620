package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"caul/job"
	"caul/job/demo"
	"caul/sync"
)

// ownSettings keeps a test away from the settings of whoever runs it.
func ownSettings(t *testing.T) {
	t.Helper()
	dir := t.TempDir()
	for _, v := range []string{"HOME", "XDG_CONFIG_HOME", "AppData"} {
		t.Setenv(v, dir)
	}
}

// says runs a command line and gives its exit code and all it said.
func says(t *testing.T, cwd, in string, args ...string) (int, string, string) {
	t.Helper()
	var out, err bytes.Buffer
	e := &env{in: strings.NewReader(in), out: &out, err: &err, now: time.Now, getenv: func(string) string { return "" }, cwd: cwd}
	code := run(t.Context(), e, args)
	return code, out.String(), err.String()
}

// openBench runs `caul bench` on a shop and gives what it says of itself.
func openBench(t *testing.T, dir string) (benchAnswer, func()) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	r, w := io.Pipe()
	e := &env{in: strings.NewReader(""), out: w, err: io.Discard, now: time.Now, getenv: func(string) string { return "" }, cwd: dir}
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, e, []string{"bench", "--lan", "--on", "127.0.0.1", "--port", "0", "--json"})
		w.Close()
	}()
	var a struct {
		Kind   string
		Answer benchAnswer
	}
	in := bufio.NewReader(r)
	if err := json.NewDecoder(in).Decode(&a); err != nil || a.Kind != "bench" {
		stop()
		t.Fatalf("%v %+v", err, a)
	}
	go func() { _, _ = io.Copy(io.Discard, in) }()
	return a.Answer, func() {
		stop()
		if code := <-ended; code != exitOK {
			t.Errorf("the bench ended with %d", code)
		}
	}
}

// A laptop is paired with one command and the token that the bench shows: a
// wrong token lets it in nowhere and is not kept; after the right one `caul
// sync` needs nothing more, on this machine and from both sides; a bench at a
// new address is paired again; the token is in no file of the shop.
func TestPairLaptop(t *testing.T) {
	ownSettings(t)
	shop := filepath.Join(t.TempDir(), "shop")
	if err := demo.Write(shop, time.Now(), time.UTC); err != nil {
		t.Fatal(err)
	}
	s, err := sync.Init(shop, "shop")
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	at, end := openBench(t, shop)
	away := t.TempDir()
	laptop := filepath.Join(away, "laptop")

	if code, _, said := says(t, away, "aaaaa-bbbbb-ccccc-ddddd\n", "pair", at.Pair, "laptop"); code == exitOK || !strings.Contains(said, "hint: ") {
		t.Errorf("a wrong token: %d %s", code, said)
	}
	if code, _, said := says(t, away, "", "pair", at.Pair, "laptop"); code != exitUsage || !strings.Contains(said, "no token was given") {
		t.Errorf("no token: %d %s", code, said)
	}
	if code, _, said := says(t, away, at.Token+"\n", "pair", "ftp://x", "laptop"); code != exitUsage || !strings.Contains(said, "not a bench's address") {
		t.Errorf("no address: %d %s", code, said)
	}
	if _, err := os.Lstat(laptop); err == nil {
		t.Fatal("a refused pairing left a folder")
	}
	code, out, said := says(t, away, strings.ToUpper(at.Token)+"\n", "pair", "http://"+at.Pair+"/", "laptop")
	if code != exitOK || !strings.Contains(out, "paired; from now on: caul sync bench") {
		t.Fatalf("%d %s %s", code, out, said)
	}

	if code, out, said := says(t, laptop, "", "note", "from the laptop", "--job", "torsion-table"); code != exitOK {
		t.Fatal(out, said)
	}
	if code, out, said := says(t, laptop, "", "sync", "bench"); code != exitOK {
		t.Fatal(out, said)
	}
	hasNote(t, shop, "from the laptop")
	if code, out, said := says(t, shop, "", "note", "from the shop", "--job", "torsion-table"); code != exitOK {
		t.Fatal(out, said)
	}
	if code, out, said := says(t, laptop, "", "sync"); code != exitOK {
		t.Fatal(out, said)
	}
	hasNote(t, laptop, "from the shop")
	end()

	// The next evening the bench is at another port.
	at2, end2 := openBench(t, shop)
	defer end2()
	if at2.Token != at.Token {
		t.Error("the token changed by itself")
	}
	if code, _, _ := says(t, laptop, "wrong-wrong-wrong-wrong\n", "pair", at2.Pair); code == exitOK {
		t.Error("a wrong token was taken")
	}
	code, out, said = says(t, laptop, at.Token+"\n", "pair", at2.Pair, "--json")
	var a struct {
		Kind   string
		Answer pairAnswer
	}
	if err := json.Unmarshal([]byte(out), &a); err != nil || code != exitOK || a.Kind != "pair" || a.Answer.URL != "caul://"+at2.Pair {
		t.Fatalf("%d %v %s %s", code, err, out, said)
	}
	if code, out, said := says(t, laptop, "", "sync"); code != exitOK {
		t.Fatal(out, said)
	}

	file, err := pairedFile()
	if err != nil {
		t.Fatal(err)
	}
	if fi, err := os.Stat(file); err != nil || runtime.GOOS != "windows" && fi.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", fi, err)
	}
	for _, dir := range []string{shop, laptop} {
		err := filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
			if err != nil || !d.Type().IsRegular() {
				return err
			}
			b, err := os.ReadFile(p)
			if strings.Contains(strings.ToLower(string(b)), at.Token) {
				t.Errorf("the token is in %s", p)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

func hasNote(t *testing.T, dir, text string) {
	t.Helper()
	s, err := job.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range s.Job("torsion-table").Log {
		if x.Text == text {
			return
		}
	}
	t.Errorf("%s does not have the note %q", dir, text)
}
