package bench

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// files lists what lies in a folder with its content, to show that nothing
// changed.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		out[p] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func unchanged(t *testing.T, dir string, before map[string]string) {
	t.Helper()
	after := files(t, dir)
	if len(after) != len(before) {
		t.Errorf("%d files, before %d", len(after), len(before))
	}
	for p, b := range before {
		if after[p] != b {
			t.Errorf("%s changed", p)
		}
	}
}

const goodTap = `{"id":"0123456789ab-01","job":"torsion-table","did":"noted","note":"hello"}`

func TestRefusesOthers(t *testing.T) {
	s, dir := demoServer(t, nil)
	before := files(t, dir)
	form := map[string]string{"Content-Type": "application/x-www-form-urlencoded"}
	with := func(a, b map[string]string) map[string]string {
		m := map[string]string{}
		for k, v := range a {
			m[k] = v
		}
		for k, v := range b {
			m[k] = v
		}
		return m
	}
	for _, c := range []struct {
		name, method, path, body string
		head                     map[string]string
		code                     int
	}{
		{"other origin", "POST", "/tap", goodTap, map[string]string{"Origin": "http://elsewhere.test"}, 403},
		{"origin with another port", "POST", "/tap", goodTap, map[string]string{"Origin": "http://bench.test:8080"}, 403},
		{"no origin", "POST", "/tap", goodTap, map[string]string{"Origin": ""}, 403},
		{"null origin", "POST", "/tap", goodTap, map[string]string{"Origin": "null"}, 403},
		{"cross-site by the browser's word", "POST", "/tap", goodTap, map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"same site, other origin", "POST", "/tap", goodTap, map[string]string{"Sec-Fetch-Site": "same-site"}, 403},
		{"form of another page", "POST", "/tap", "id=0123456789ab-01&job=torsion-table&did=noted&note=x", with(form, map[string]string{"Origin": "http://elsewhere.test"}), 403},
		{"plain text, as a form may send without a question", "POST", "/tap", goodTap, map[string]string{"Content-Type": "text/plain"}, 422},
		{"tick from elsewhere", "POST", "/tick", `{"id":"0123456789ab-01"}`, map[string]string{"Origin": "http://elsewhere.test"}, 403},
		{"picture from elsewhere", "POST", "/picture?id=0123456789ab-01&job=torsion-table", "x", map[string]string{"Origin": "http://elsewhere.test"}, 403},
		{"write by GET", "GET", "/tap", "", nil, 405},
		{"huge JSON", "POST", "/tap", `{"id":"0123456789ab-01","note":"` + strings.Repeat("x", 1<<20) + `"}`, nil, 413},
		{"deep JSON", "POST", "/tap", strings.Repeat(`{"a":`, 12000), nil, 422},
		{"deep lists", "POST", "/tap", strings.Repeat(`[`, 60000), nil, 422},
		{"unknown field", "POST", "/tap", `{"id":"0123456789ab-01","dir":"/etc"}`, nil, 422},
		{"no id", "POST", "/tap", `{"job":"torsion-table","did":"noted","note":"x"}`, nil, 422},
		{"an id that is a path", "POST", "/tap", `{"id":"../../../etc/passwd","job":"torsion-table","did":"noted","note":"x"}`, nil, 422},
		{"a job that is a path", "POST", "/tap", `{"id":"0123456789ab-01","job":"../torsion-table","did":"noted","note":"x"}`, nil, 422},
		{"a step that is not there", "POST", "/tap", `{"id":"0123456789ab-01","job":"torsion-table","step":"../x","did":"began"}`, nil, 422},
		{"a verb that is not there", "POST", "/tap", `{"id":"0123456789ab-01","job":"torsion-table","did":"removed"}`, nil, 422},
		{"buying is not done here", "POST", "/tap", `{"id":"0123456789ab-01","job":"torsion-table","did":"bought"}`, nil, 422},
		{"not a picture", "POST", "/picture?id=0123456789ab-01&job=torsion-table", "<svg onload=alert(1)>", nil, 422},
		{"path out of the photos", "GET", "/photos/torsion-table/..%2f..%2fjob.yaml", "", nil, 404},
		{"path with a backslash", "GET", "/photos/torsion-table/..%5cjob.yaml", "", nil, 404},
		{"absolute path", "GET", "/photos/torsion-table/%2fetc%2fpasswd", "", nil, 404},
		{"job out of the jobs", "GET", "/photos/..%2f../shop.yaml", "", nil, 404},
		{"not a picture's name", "GET", "/photos/torsion-table/job.yaml", "", nil, 404},
		{"static out of its folder", "GET", "/static/..%2fserver.go", "", nil, 404},
	} {
		w := do(s, c.method, c.path, c.body, c.head)
		if w.Code != c.code {
			t.Errorf("%s: %d, want %d: %.80s", c.name, w.Code, c.code, w.Body)
		}
	}
	for _, host := range []string{"elsewhere.test", "bench.test.elsewhere.test", "bench.test:81", "127.0.0.1", ""} {
		for _, m := range []string{"GET", "POST"} {
			r := newRequest(m, "/", "")
			r.Host = host
			r.Header.Set("Origin", "http://"+host)
			if w := serve(s, r); w.Code != http.StatusMisdirectedRequest {
				t.Errorf("host %q: %d", host, w.Code)
			}
		}
	}
	unchanged(t, dir, before)
}

// A picture's link leads to no file outside, even where somebody put one.
func TestPhotoLinkIsNotFollowed(t *testing.T) {
	s, dir := demoServer(t, nil)
	if err := os.Symlink("/etc/hostname", filepath.Join(dir, "jobs/torsion-table/photos/x.jpg")); err != nil {
		t.Skip("no symbolic links here")
	}
	if w := do(s, "GET", "/photos/torsion-table/x.jpg", "", nil); w.Code != 404 {
		t.Errorf("%d %q", w.Code, w.Body)
	}
}

func TestCode(t *testing.T) {
	now := benchNow
	shown := ""
	lan := func(c *Config) {
		c.Code, c.NewCode, c.ShowCode = "ABCD-2345", func() string { return "EFGH-6789" }, func(s string) { shown = s }
		c.Now = func() time.Time { return now }
		c.Key = bytes.Repeat([]byte{7}, 32)
	}
	s, dir := demoServer(t, lan)
	before := files(t, dir)
	form := map[string]string{"Content-Type": "application/x-www-form-urlencoded"}
	pair := func(code string) (int, string) {
		w := do(s, "POST", "/pair", "code="+code, form)
		c, _, _ := strings.Cut(w.Header().Get("Set-Cookie"), ";")
		return w.Code, c
	}
	html := map[string]string{"Accept": "text/html"}
	if w := do(s, "GET", "/", "", html); w.Code != 303 || w.Header().Get("Location") != "/pair" {
		t.Errorf("without a code: %d", w.Code)
	}
	for _, p := range []string{"/step/torsion-table/core", "/job/torsion-table", "/events", "/now.json", "/calendar.ics", "/calendar.ics?key=x", "/photos/torsion-table/core-in-clamps.jpg"} {
		if w := do(s, "GET", p, "", nil); w.Code != 401 {
			t.Errorf("%s without a code: %d", p, w.Code)
		}
	}
	for _, cookie := range []string{"", "caul-bench=", "caul-bench=x.y", "caul-bench=AAAAAGnl0AAAAAAAAAAAAAAAAAAAAAAA.AAAA"} {
		if w := do(s, "POST", "/tap", goodTap, map[string]string{"Cookie": cookie}); w.Code != 401 {
			t.Errorf("cookie %q: %d", cookie, w.Code)
		}
	}
	if c, _ := pair("WRONG"); c != 403 {
		t.Errorf("a wrong code: %d", c)
	}
	unchanged(t, dir, before)
	code, cookie := pair("abcd2345") // as a person types it
	if code != 303 || cookie == "" {
		t.Fatalf("the right code: %d", code)
	}
	paired := map[string]string{"Cookie": cookie, "Accept": "text/html"}
	w := do(s, "GET", "/", "", paired)
	if w.Code != 200 || !strings.Contains(w.Body.String(), "Glue the grid") {
		t.Fatalf("paired: %d", w.Code)
	}
	if w := do(s, "GET", "/calendar.ics?key="+s.door.feed(), "", nil); w.Code != 200 {
		t.Errorf("the calendar by its own address: %d", w.Code)
	}
	if w := do(s, "GET", "/now.json?key="+s.door.feed(), "", nil); w.Code != 401 {
		t.Errorf("the calendar's key opens more than the calendar: %d", w.Code)
	}
	if w := do(s, "POST", "/tap", goodTap, paired); w.Code != 200 {
		t.Errorf("paired tap: %d %s", w.Code, w.Body)
	}
	// The program is started again: the device need not pair anew, unless the key is new.
	again, _ := demoServer(t, lan)
	if w := do(again, "GET", "/", "", paired); w.Code != 200 {
		t.Errorf("after a restart: %d", w.Code)
	}
	other, _ := demoServer(t, func(c *Config) { lan(c); c.Key = bytes.Repeat([]byte{8}, 32) })
	if w := do(other, "GET", "/", "", paired); w.Code != 303 {
		t.Errorf("another key: %d", w.Code)
	}
	now = now.Add(codeLife + time.Second)
	if c, _ := pair("ABCD-2345"); c != 403 || shown != "EFGH-6789" {
		t.Errorf("an old code: %d, shown %q", c, shown)
	}
	if c, _ := pair("EFGH-6789"); c != 303 {
		t.Errorf("the new code: %d", c)
	}
	for range pairTries {
		pair("WRONG")
	}
	if c, _ := pair("EFGH-6789"); c != 429 {
		t.Errorf("after too many: %d", c)
	}
	// Who guesses keeps himself out, and not the maker's phone; many who guess
	// together are still too few for 40 bits.
	at := func(addr, code string) int {
		r := newRequest("POST", "/pair", "code="+code)
		r.Header.Set("Content-Type", form["Content-Type"])
		r.RemoteAddr = addr + ":4711"
		return serve(s, r).Code
	}
	if c := at("192.168.1.7", "EFGH-6789"); c != 303 {
		t.Errorf("another device after somebody's guesses: %d", c)
	}
	tried := 0
	for i := range 100 {
		if at(fmt.Sprintf("192.168.2.%d", i), "WRONG") == 403 {
			tried++
		}
	}
	if tried > pairTriesBy {
		t.Errorf("%d guesses from many addresses in a minute", tried)
	}
	now = benchNow.Add(sessionLife + time.Second)
	if w := do(s, "GET", "/", "", paired); w.Code != 303 {
		t.Errorf("an old session: %d", w.Code)
	}
}

// cookieOf is the cookie of a device that gives the code of these tests.
func cookieOf(t *testing.T, s *Server) string {
	t.Helper()
	w := do(s, "POST", "/pair", "code=ABCD-2345", map[string]string{"Content-Type": "application/x-www-form-urlencoded"})
	c, _, _ := strings.Cut(w.Header().Get("Set-Cookie"), ";")
	if w.Code != 303 || c == "" {
		t.Fatal(w.Code, w.Body)
	}
	return c
}

func TestVisitorsRead(t *testing.T) {
	s, dir := demoServer(t, func(c *Config) { c.Code, c.Visitors = "ABCD-2345", true })
	before := files(t, dir)
	w := do(s, "GET", "/", "", nil)
	if w.Code != 200 || strings.Contains(w.Body.String(), "<form") || !strings.Contains(w.Body.String(), words["read-only"]) {
		t.Errorf("a visitor's page: %d", w.Code)
	}
	if w := do(s, "GET", "/step/torsion-table/core", "", nil); w.Code != 200 || strings.Contains(w.Body.String(), `action="/tap"`) {
		t.Errorf("a visitor's step: %d", w.Code)
	}
	if w := do(s, "POST", "/tap", goodTap, nil); w.Code != 401 {
		t.Errorf("a visitor's tap: %d", w.Code)
	}
	unchanged(t, dir, before)
	// A visitor who asks without end is told to wait, and nobody else is.
	codes := map[int]int{}
	for range lookBurst + 20 {
		r := newRequest("GET", "/now.json", "")
		r.RemoteAddr = "192.168.1.9:4711"
		codes[serve(s, r).Code]++
	}
	if codes[200] != lookBurst || codes[429] != 20 {
		t.Errorf("a greedy visitor's answers: %v", codes)
	}
	if w := do(s, "GET", "/", "", nil); w.Code != 200 {
		t.Errorf("another visitor beside a greedy one: %d", w.Code)
	}
	// What a maker keeps private is no visitor's: neither its words nor its picture.
	entry := "---\nat: 2026-03-14T18:00:00-06:00\ndid: noted\nprivate: true\n---\nThe key hangs behind the door. ![](../photos/key.jpg)\n"
	if err := os.WriteFile(filepath.Join(dir, "jobs/torsion-table/log/2026-03-14T1800-shop-noted.md"), []byte(entry), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "jobs/torsion-table/photos/key.jpg"), gpsPicture(t), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.reload(); err != nil || s.trouble != "" {
		t.Fatal(err, s.trouble)
	}
	own := map[string]string{"Cookie": cookieOf(t, s)}
	for path, mark := range map[string]string{"/job/torsion-table": "behind the door", "/photos/torsion-table/key.jpg": "\xff\xd8"} {
		if w := do(s, "GET", path, "", nil); strings.Contains(w.Body.String(), mark) {
			t.Errorf("a visitor sees %s: %d", path, w.Code)
		}
		if w := do(s, "GET", path, "", own); w.Code != 200 || !strings.Contains(w.Body.String(), mark) {
			t.Errorf("the maker does not see %s: %d", path, w.Code)
		}
	}
	if w := do(s, "GET", "/photos/torsion-table/core-in-clamps.jpg", "", nil); w.Code != 200 {
		t.Errorf("a visitor does not see a picture of the shared log: %d", w.Code)
	}
	s, _ = demoServer(t, func(c *Config) { c.ReadOnly = true })
	if w := do(s, "POST", "/tap", goodTap, nil); w.Code != 403 {
		t.Errorf("read-only: %d", w.Code)
	}
}

func TestRate(t *testing.T) {
	now := benchNow
	s, _ := demoServer(t, func(c *Config) { c.Now = func() time.Time { return now } })
	codes := map[int]int{}
	for range tapBurst + 20 {
		codes[do(s, "POST", "/tap", "{}", nil).Code]++
	}
	if codes[429] != 20 {
		t.Errorf("answers: %v", codes)
	}
	now = now.Add(time.Second)
	if c := do(s, "POST", "/tap", goodTap, nil).Code; c != 200 {
		t.Errorf("a second later: %d", c)
	}
}

// liveServer serves over a real connection, with the limits of the command.
func liveServer(t *testing.T, change func(*Config)) (*Server, string, string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := ln.Addr().String()
	s, dir := demoServer(t, func(c *Config) {
		c.Hosts = []string{addr}
		if change != nil {
			change(c)
		}
	})
	ctx, cancel := context.WithCancel(t.Context())
	hs := s.HTTP(ctx)
	go func() { _ = hs.Serve(ln) }()
	t.Cleanup(func() { cancel(); hs.Close() })
	return s, addr, dir
}

// endless is an upload that never ends.
type endless struct{ n atomic.Int64 }

func (e *endless) Read(p []byte) (int, error) {
	e.n.Add(int64(len(p)))
	return len(p), nil
}

func TestHugeUploadIsRefusedEarly(t *testing.T) {
	_, addr, dir := liveServer(t, nil)
	before := files(t, dir)
	for _, c := range []struct {
		name   string
		length int64
		most   int64
	}{
		{"says so", 1 << 30, 16 << 20}, // what lies in the network's own buffers
		{"does not say", -1, 64 << 20},
	} {
		body := &endless{}
		r, err := http.NewRequest("POST", "http://"+addr+"/picture?id=0123456789ab-01&job=torsion-table", io.LimitReader(body, 1<<30))
		if err != nil {
			t.Fatal(err)
		}
		r.ContentLength = c.length
		r.Header.Set("Origin", "http://"+addr)
		res, err := http.DefaultClient.Do(r)
		if err == nil {
			res.Body.Close()
			if res.StatusCode != http.StatusRequestEntityTooLarge {
				t.Errorf("%s: %d", c.name, res.StatusCode)
			}
		} // else the server hung up while the rest was being sent
		if body.n.Load() > c.most {
			t.Errorf("%s: %d MB were taken", c.name, body.n.Load()>>20)
		}
	}
	unchanged(t, dir, before)
}

// A client that sends its header a byte a second holds up nobody else, and is
// let go. One that sends half a tap or half a picture holds up no other tap.
func TestSlowClient(t *testing.T) {
	_, addr, _ := liveServer(t, nil)
	for _, half := range []string{"POST /tap HTTP/1.1\r\nContent-Type: application/json\r\n", "POST /picture?id=0123456789ab-02&job=torsion-table HTTP/1.1\r\n"} {
		c, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		fmt.Fprintf(c, "%sHost: %s\r\nOrigin: http://%s\r\nContent-Length: 60000\r\n\r\n{\"id\":", half, addr, addr)
	}
	tap, err := http.NewRequest("POST", "http://"+addr+"/tap", strings.NewReader(goodTap))
	if err != nil {
		t.Fatal(err)
	}
	tap.Header.Set("Content-Type", "application/json")
	tap.Header.Set("Origin", "http://"+addr)
	if res, err := (&http.Client{Timeout: 10 * time.Second}).Do(tap); err != nil || res.StatusCode != 200 {
		t.Fatalf("another device's tap: %v", err)
	} else {
		res.Body.Close()
	}
	slow, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer slow.Close()
	fmt.Fprintf(slow, "POST /tap HTTP/1.1\r\nHost: %s\r\n", addr)
	res, err := http.Get("http://" + addr + "/static/bench.css")
	if err != nil || res.StatusCode != 200 {
		t.Fatalf("another client: %v", err)
	}
	res.Body.Close()
	_ = slow.SetReadDeadline(time.Now().Add(15 * time.Second))
	if b, err := io.ReadAll(slow); err != nil {
		t.Errorf("the slow one is still served: %v %q", err, b)
	}
}

func TestTooManyStreams(t *testing.T) {
	s, addr, _ := liveServer(t, nil)
	client := &http.Client{Transport: &http.Transport{}}
	var open []io.Closer
	codes := map[int]int{}
	for range streamsEach + 5 {
		res, err := client.Get("http://" + addr + "/events")
		if err != nil {
			t.Fatal(err)
		}
		codes[res.StatusCode]++
		if res.StatusCode == 200 {
			if l, _ := bufio.NewReader(res.Body).ReadString('\n'); !strings.HasPrefix(l, "retry:") {
				t.Errorf("the stream begins %q", l)
			}
		}
		open = append(open, res.Body)
	}
	if codes[200] != streamsEach || codes[503] != 5 {
		t.Errorf("answers: %v", codes)
	}
	for _, c := range open {
		c.Close()
	}
	for range 100 { // closed ones make room
		s.mu.Lock()
		n := len(s.waiters)
		s.mu.Unlock()
		if n == 0 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Error("closed streams are still counted")
}

// What a maker or a stranger writes never becomes a part of the page.
func TestScriptInWords(t *testing.T) {
	const bad = `<script>alert(1)</script><img src=x onerror=alert(2)>"'</textarea>`
	s, dir := demoServer(t, nil)
	file := filepath.Join(dir, "jobs/torsion-table/job.yaml")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	named := strings.Replace(string(b), "name: Glue the grid to the lower skin", "name: '"+strings.ReplaceAll(bad, "'", "''")+"'", 1)
	if named == string(b) {
		t.Fatal("the demo has another step now")
	}
	if err := os.WriteFile(file, []byte(named), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.reload(); err != nil {
		t.Fatal(err)
	}
	if s.trouble != "" {
		t.Fatal(s.trouble)
	}
	body := fmt.Sprintf(`{"id":"0123456789ab-01","job":"torsion-table","step":"core","did":"noted","note":%q}`, bad+` [x](javascript:alert(3)) ![y](data:text/html,x) ![z](http://elsewhere.test/z.png)`)
	if w := do(s, "POST", "/tap", body, nil); w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	for _, p := range []string{"/", "/step/torsion-table/core", "/job/torsion-table"} {
		w := do(s, "GET", p, "", nil)
		page := w.Body.String()
		for _, no := range []string{"<script>alert", "<img src=x", "onerror=alert(2)>\"", "javascript:alert", "http://elsewhere", "data:text/html"} {
			if strings.Contains(page, `src="`+no) || strings.Contains(page, `href="`+no) || strings.HasPrefix(no, "<") && strings.Contains(page, no) {
				t.Errorf("%s holds %q", p, no)
			}
		}
		if !strings.Contains(w.Header().Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s has no strict policy", p)
		}
	}
}
