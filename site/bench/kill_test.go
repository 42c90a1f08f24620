package bench

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"caul/job/demo"
)

// child serves a shop in a process of its own, for a test that kills it. It
// returns when this is not such a process.
func child() {
	dir, host := os.Getenv("CAUL_TEST_BENCH"), os.Getenv("CAUL_TEST_HOST")
	if dir == "" {
		return
	}
	fail := func(err error) {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	s, err := New(Config{Dir: dir, Machine: "shop", Now: func() time.Time { return benchNow }, Hosts: []string{host}})
	if err != nil {
		fail(err)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		fail(err)
	}
	fmt.Println(ln.Addr())
	fail(http.Serve(ln, s))
}

// mortal is a bench in a process of its own behind a wire that the test holds.
type mortal struct {
	t    *testing.T
	dir  string
	host string
	mu   sync.Mutex
	cmd  *exec.Cmd
	to   *url.URL
}

func (m *mortal) start() {
	m.t.Helper()
	self, err := os.Executable()
	if err != nil {
		m.t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), "CAUL_TEST_BENCH="+m.dir, "CAUL_TEST_HOST="+m.host)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		m.t.Fatal(err)
	}
	at, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		m.t.Fatal("the bench did not start: ", err)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.cmd, m.to = c, &url.URL{Scheme: "http", Host: strings.TrimSpace(at)}
}

// kill ends the process as kill -9 or a pulled plug does: it is asked nothing.
func (m *mortal) kill() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.cmd != nil {
		_ = m.cmd.Process.Kill()
		_ = m.cmd.Wait()
		m.cmd = nil
	}
}

func (m *mortal) alive() *url.URL {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.cmd == nil {
		return nil
	}
	return m.to
}

// The program's own process is killed between the tap and its answer: before
// it heard of the tap, at any moment of its work on it, and when the entry was
// written and nobody had been told. It is started again, and each tap is in
// the log once.
func TestKilledProcess(t *testing.T) {
	browser(t)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	m := &mortal{t: t, dir: t.TempDir(), host: ln.Addr().String()}
	if err := demo.Write(m.dir, benchNow, benchNow.Location()); err != nil {
		t.Fatal(err)
	}
	m.start()
	t.Cleanup(m.kill)

	var mu sync.Mutex
	var strike func(r *http.Request) (after bool) // on the next tap, once
	next := func(f func(*http.Request) bool) { mu.Lock(); strike = f; mu.Unlock() }
	wire := &httputil.ReverseProxy{
		FlushInterval: -1,
		ErrorLog:      log.New(io.Discard, "", 0),
		Rewrite:       func(r *httputil.ProxyRequest) { r.SetURL(m.alive()); r.Out.Host = r.In.Host },
		ErrorHandler:  func(http.ResponseWriter, *http.Request, error) { panic(http.ErrAbortHandler) },
		ModifyResponse: func(r *http.Response) error {
			if r.Request.Header.Get("X-Test-Kill") != "" {
				m.kill()
				return errors.New("killed")
			}
			return nil
		},
	}
	hs := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/tap" {
			mu.Lock()
			f := strike
			strike = nil
			mu.Unlock()
			if f != nil && f(r) {
				r.Header.Set("X-Test-Kill", "1")
			}
		}
		if m.alive() == nil {
			panic(http.ErrAbortHandler)
		}
		wire.ServeHTTP(w, r)
	})}
	go func() { _ = hs.Serve(ln) }()
	t.Cleanup(func() { hs.Close() })

	b := &shopAt{t: t, dir: m.dir, url: "http://" + m.host}
	before := len(b.log("torsion-table"))
	p := b.phone(360, 740)
	p.open("/step/torsion-table/mill-lips")
	p.shows("Begin")
	strikes := []func(*http.Request) bool{
		func(*http.Request) bool { m.kill(); return false },
		func(*http.Request) bool { return true },
	}
	for _, d := range []time.Duration{300 * time.Microsecond, 1500 * time.Microsecond, 4 * time.Millisecond} {
		strikes = append(strikes, func(*http.Request) bool {
			time.AfterFunc(d, m.kill)
			return false
		})
	}
	for i, f := range strikes {
		next(f)
		p.note(fmt.Sprintf("note %d", i))
		for range 200 {
			if m.alive() == nil {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		if m.alive() != nil {
			t.Fatalf("strike %d did not hit", i)
		}
		time.Sleep(50 * time.Millisecond)
		m.start()
		b.waitLog("torsion-table", before+i, 1)
		p.until(`!document.getElementById("line").textContent`)
	}
	es := b.log("torsion-table")[before:]
	if len(es) != len(strikes) {
		t.Errorf("%d taps, %d entries: %s", len(strikes), len(es), dids(es))
	}
	for i, e := range es {
		if e.Text != fmt.Sprintf("note %d", i) {
			t.Errorf("entry %d says %q", i, e.Text)
		}
	}
}
