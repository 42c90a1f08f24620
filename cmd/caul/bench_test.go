package main

import (
	"bytes"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"rsc.io/qr"

	"caul/job"
	"caul/job/demo"
	"caul/job/plan"
	"caul/site/bench"
	"caul/sync"
)

// What is drawn in the terminal is the code, square for square, with the
// margin a reader needs.
func TestQRText(t *testing.T) {
	c, err := qr.Encode("http://192.168.1.20:7246/pair?code=ABCD-2345", qr.L)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(qrText(c), "\n"), "\n")
	const margin = 4
	for i, l := range lines {
		l = strings.TrimSuffix(strings.TrimPrefix(l, "\x1b[30;47m"), "\x1b[0m")
		if len([]rune(l)) != c.Size+2*margin || len([]rune(l)) > 80 {
			t.Fatalf("line %d is %d wide", i, len([]rune(l)))
		}
		for k, r := range []rune(l) {
			x, y := k-margin, 2*i-margin
			if up := r == '█' || r == '▀'; up != c.Black(x, y) {
				t.Fatalf("square %d,%d", x, y)
			}
			if down := r == '█' || r == '▄'; down != c.Black(x, y+1) {
				t.Fatalf("square %d,%d", x, y+1)
			}
		}
	}
	if 2*len(lines) < c.Size+2*margin {
		t.Errorf("%d lines for %d squares", len(lines), c.Size)
	}
}

// Alone, the bench can be reached from this machine only; with an address
// named, from that one and no other.
func TestBenchBindsOnlyWhatIsNeeded(t *testing.T) {
	lns, _, err := benchListen(benchOptions{port: "0"})
	if err != nil {
		t.Fatal(err)
	}
	if len(lns) != 1 || !lns[0].Addr().(*net.TCPAddr).IP.IsLoopback() {
		t.Errorf("listens on %v", lns[0].Addr())
	}
	lns[0].Close()
	if _, _, err := benchListen(benchOptions{port: "0", lan: true, on: []string{"0.0.0.0.1"}}); err == nil {
		t.Error("takes what is no address")
	}
	for _, ip := range lanAddresses() {
		if !ip.IsPrivate() && !ip.IsLinkLocalUnicast() {
			t.Errorf("%s is not private", ip)
		}
	}
}

// A laptop copies the shop over the bench's own network, writes, and syncs
// back, with the token; without it, and with the page's code, it is refused.
func TestLaptopSyncsOverTheBench(t *testing.T) {
	now := time.Date(2026, 3, 14, 19, 0, 0, 0, time.UTC)
	dir := filepath.Join(t.TempDir(), "shop")
	if err := demo.Write(dir, now, time.UTC); err != nil {
		t.Fatal(err)
	}
	s, err := sync.Init(dir, "shop")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	clock := func() time.Time { return now }
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	token := peerToken(bytes.Repeat([]byte{1}, 32))
	srv, err := bench.New(bench.Config{Dir: dir, Machine: "shop", Now: clock, Hosts: []string{ln.Addr().String()}, Code: "ABCD-2345",
		PeerPath: sync.PeerPath, Peer: s.PeerHandler(func() string { return token }, sync.Options{Now: clock, Reread: reread, RereadShop: rereadShop})})
	if err != nil {
		t.Fatal(err)
	}
	hs := srv.HTTP(t.Context())
	go func() { _ = hs.Serve(ln) }()
	defer hs.Close()

	addr, laptop := "caul://"+ln.Addr().String(), filepath.Join(t.TempDir(), "laptop")
	o := func(secret string) sync.Options {
		return sync.Options{Now: clock, Reread: reread, RereadShop: rereadShop, Getenv: func(string) string { return "" }, Secret: func(string) string { return secret }}
	}
	for _, wrong := range []string{"", "ABCD-2345", "aaaaa-bbbbb-ccccc-ddddd"} {
		if _, rep, err := sync.Clone(t.Context(), addr, filepath.Join(t.TempDir(), "x"), "desk", "bench", sync.RemoteOptions{}, o(wrong)); err == nil && !rep.Partial() {
			t.Errorf("token %q let a machine in", wrong)
		}
	}
	l, _, err := sync.Clone(t.Context(), addr, laptop, "desk", "bench", sync.RemoteOptions{}, o(token))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	file, err := job.AddEntry(laptop, "torsion-table", job.Entry{Time: now, Did: job.DidNote, Text: "from the desk"}, "desk")
	if err != nil {
		t.Fatal(err)
	}
	rep, err := l.Sync(t.Context(), o(token))
	if err != nil || rep.Partial() {
		t.Fatalf("%v %+v", err, rep)
	}
	if b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(file))); err != nil || !strings.Contains(string(b), "from the desk") {
		t.Errorf("the entry did not arrive: %v %q", err, b)
	}
}

// After an entry, a stick that is marked for it and plugged in is in step; one
// that is not there is left in peace.
func TestAutoSync(t *testing.T) {
	now := time.Date(2026, 3, 14, 19, 0, 0, 0, time.UTC)
	dir, stick := filepath.Join(t.TempDir(), "shop"), t.TempDir()
	if err := demo.Write(dir, now, time.UTC); err != nil {
		t.Fatal(err)
	}
	s, err := sync.Init(dir, "shop")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for name, r := range map[string]struct {
		at   string
		auto bool
	}{"stick": {stick, true}, "gone": {filepath.Join(stick, "gone"), true}} {
		if err := s.AddRemote(name, r.at, sync.RemoteOptions{Auto: r.auto}); err != nil {
			t.Fatal(err)
		}
	}
	var said bytes.Buffer
	e := &env{out: io.Discard, err: &said, now: func() time.Time { return now }}
	if _, err := job.AddEntry(dir, "torsion-table", job.Entry{Time: now, Did: job.DidNote, Text: "carried"}, "shop"); err != nil {
		t.Fatal(err)
	}
	a := &afterEntry{e: e, dir: dir}
	a.soon(t.Context())
	a.soon(t.Context())
	a.wait()
	if said.Len() > 0 {
		t.Errorf("it said: %s", said.String())
	}
	c, _, err := sync.Clone(t.Context(), stick, filepath.Join(t.TempDir(), "copy"), "desk", "stick", sync.RemoteOptions{}, sync.Options{Now: e.now})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	sh, err := job.Load(c.Dir())
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, x := range sh.Job("torsion-table").Log {
		found = found || x.Text == "carried"
	}
	if !found {
		t.Error("the stick does not have the entry")
	}
}

// The bench rings as watch does: the terminal's bell where there is one, a line
// of words or JSON, and the maker's command with what it is about.
func TestBenchRings(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the command of this test is a shell script")
	}
	told := filepath.Join(t.TempDir(), "told")
	script := filepath.Join(t.TempDir(), "ring.sh")
	if err := os.WriteFile(script, []byte("#!/bin/sh\nprintf '%s|' \"$@\" >>'"+told+"'\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	x := plan.Timer{Job: "sled", Step: "glue", Name: "Glue; rm -rf $HOME", Kind: plan.Clamped}
	for _, c := range []struct {
		terminal, json bool
		want           string
	}{{true, false, "\aGlue; rm -rf $HOME: in clamps, ready\n"}, {false, false, "Glue; rm -rf $HOME: in clamps, ready\n"}, {false, true, `"kind": "ring"`}} {
		var out, said bytes.Buffer
		ring(t.Context(), &env{out: &out, err: &said, terminal: c.terminal, json: c.json}, script, x)
		if !strings.Contains(out.String(), c.want) || strings.Contains(out.String(), "\a") != c.terminal || said.Len() > 0 {
			t.Errorf("%+v: %q %q", c, out.String(), said.String())
		}
	}
	if b, err := os.ReadFile(told); err != nil || string(b) != strings.Repeat("Glue; rm -rf $HOME|in clamps|sled|glue|", 3) {
		t.Errorf("the command heard %q, %v", b, err)
	}
}
