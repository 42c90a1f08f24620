package remote

import (
	"bufio"
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"sort"
	"strings"
	"sync"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/format/pktline"

	"caul/sync/store"
)

// Two benches on the shop's LAN speak git's smart protocol over plain http: there is no authority that could vouch for a
// laptop in a shop. Instead both know the pairing token that one showed and the other was told. The token itself never goes
// over the air: each request carries a keyed sum (HMAC-SHA-256, RFC 2104) of itself and of a number that the other side
// chose and takes only once, and each answer carries a sum of itself. So nobody else on the Wi-Fi can ask, answer, change or
// replay; what they could do is read along.

// PeerPath is where a bench serves the sync.
const PeerPath = "/caul/sync"

// lookOnly, as the query of a request, asks a bench to offer what it has committed and to change nothing.
const lookOnly = "look=1"

func looks(r *http.Request) bool { return r.URL.Query().Get("look") == "1" }

// MacHeader carries the sum of an answer, as a trailer.
const macHeader = "Caul-Mac"

// NewToken makes a pairing token of 100 random bits, in groups that can be read out.
func NewToken() string {
	var b [13]byte
	_, _ = rand.Read(b[:]) // never fails on the systems Go supports
	s := strings.ToLower(base32.StdEncoding.EncodeToString(b[:]))[:20]
	return s[:5] + "-" + s[5:10] + "-" + s[10:15] + "-" + s[15:]
}

func keyOf(token string) []byte {
	t := strings.ToLower(strings.NewReplacer("-", "", " ", "").Replace(strings.TrimSpace(token)))
	k := sha256.Sum256([]byte("caul pairing\n" + t))
	return k[:]
}

func mac(key []byte, parts ...string) string {
	h := hmac.New(sha256.New, key)
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s\n", len(p), p)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func sumOf(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}

// pairing signs requests to a peer.
type pairing struct {
	spec  Spec
	key   []byte
	nonce string // to be used by the next request
	used  string
	fails int
}

func dialPeer(s Spec, e *Env) (Conn, error) {
	u, err := url.Parse(s.URL)
	if err != nil || u.Host == "" {
		return nil, &store.Error{Kind: ErrBadRemote, Path: s.URL, Hint: "give caul://host:port as the other bench shows it"}
	}
	token := e.env(TokenVar(s.Name))
	if token == "" && e.Secret != nil {
		token = e.Secret(s.Name)
	}
	if token == "" {
		return nil, &store.Error{Kind: ErrAuth, Path: s.URL, Hint: "pair first, with the token that the other bench shows: caul pair " + u.Host}
	}
	w := &web{spec: s, caps: map[string]map[string]bool{}, cl: newClient()}
	w.base = "http://" + u.Host + PeerPath
	w.auth = &pairing{spec: s, key: keyOf(token)}
	w.look = e.Look
	return w, nil
}

func (p *pairing) sign(req *http.Request, body []byte) error {
	p.used = p.nonce
	if p.nonce == "" {
		return nil
	}
	sum := sumOf(body)
	m := mac(p.key, "request", req.Method, req.URL.RequestURI(), p.nonce, sum)
	req.Header.Set("Authorization", fmt.Sprintf(`Caul nonce="%s", sum="%s", mac="%s"`, p.nonce, sum, m))
	p.nonce = ""
	return nil
}

var nonceField = regexp.MustCompile(`nonce="([0-9a-f]{32})"`)
var sumField = regexp.MustCompile(`sum="([0-9a-f]{64})"`)
var macField = regexp.MustCompile(`mac="([0-9a-f]{64})"`)

func (p *pairing) refused(_ context.Context, res *http.Response) (bool, error) {
	m := nonceField.FindStringSubmatch(res.Header.Get("WWW-Authenticate"))
	if m == nil {
		return false, &store.Error{Kind: ErrPortal, Path: p.spec.URL, Hint: "check that the other machine runs caul bench --lan at this address"}
	}
	p.nonce = m[1]
	if p.used != "" {
		p.fails++
	}
	if p.fails > 1 {
		return false, &store.Error{Kind: ErrAuth, Path: p.spec.URL, Hint: "the pairing token is not the one the other bench has; pair again: caul pair " + strings.TrimPrefix(p.spec.URL, "caul://")}
	}
	return true, nil
}

func (p *pairing) accepted(context.Context) { p.fails = 0 }

// verify lets an answer end only when its sum is right.
func (p *pairing) verify(res *http.Response) io.ReadCloser {
	if n := res.Header.Get("Caul-Nonce"); len(n) == 32 {
		p.nonce = n
	}
	return &checked{res: res, sum: sha256.New(), key: p.key, nonce: p.used}
}

type checked struct {
	res   *http.Response
	sum   hash.Hash
	key   []byte
	nonce string
}

var errForged = errors.New("the answer does not carry the other bench's sign")

func (c *checked) Read(b []byte) (int, error) {
	n, err := c.res.Body.Read(b)
	c.sum.Write(b[:n])
	if err == io.EOF {
		want := mac(c.key, "answer", c.nonce, hex.EncodeToString(c.sum.Sum(nil)))
		if c.nonce == "" || !hmac.Equal([]byte(want), []byte(c.res.Trailer.Get(macHeader))) {
			return n, errForged
		}
	}
	return n, err
}

func (c *checked) Close() error { return c.res.Body.Close() }

// Served is what a bench gives and takes.
type Served interface {
	// Offer gives what there is to fetch; done is called when the answer is out. With look, nothing may be changed for it.
	Offer(ctx context.Context, look bool) (ad *Advert, objs *store.Objects, done func(), err error)
	// Receive takes a push; store.ErrMoved when the ref is not at old any more.
	Receive(ctx context.Context, ref string, old, new store.Hash, pack io.Reader) error
}

// Serve makes the handler that a paired machine syncs with, to be mounted at PeerPath. token is asked at every request, so
// that a pairing can be ended while the bench runs; empty means nobody is let in.
func Serve(s Served, token func() string) http.Handler {
	return &server{s: s, token: token, nonces: map[string]time.Time{}}
}

type server struct {
	s     Served
	token func() string

	mu     sync.Mutex
	nonces map[string]time.Time
}

// nonceLife is how long a number may wait for its one use; noncesMax how many may wait.
const (
	nonceLife = 10 * time.Minute
	noncesMax = 1000
	bodyMax   = 4 << 30
)

func (v *server) newNonce() string {
	var b [16]byte
	_, _ = rand.Read(b[:])
	n := hex.EncodeToString(b[:])
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.nonces) >= noncesMax {
		for k, t := range v.nonces {
			if time.Since(t) > nonceLife {
				delete(v.nonces, k)
			}
		}
		for k := range v.nonces { // still full: somebody is asking without end
			if len(v.nonces) < noncesMax {
				break
			}
			delete(v.nonces, k)
		}
	}
	v.nonces[n] = time.Now()
	return n
}

func (v *server) takeNonce(n string) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	t, ok := v.nonces[n]
	delete(v.nonces, n)
	return ok && time.Since(t) <= nonceLife
}

func (v *server) refuse(w http.ResponseWriter) {
	w.Header().Set("WWW-Authenticate", `Caul nonce="`+v.newNonce()+`"`)
	http.Error(w, "pair this machine first", http.StatusUnauthorized)
}

// ServeHTTP answers one request of a paired machine.
func (v *server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	token := v.token()
	a := r.Header.Get("Authorization")
	nm, sm, mm := nonceField.FindStringSubmatch(a), sumField.FindStringSubmatch(a), macField.FindStringSubmatch(a)
	if token == "" || !strings.HasPrefix(a, "Caul ") || nm == nil || sm == nil || mm == nil || !v.takeNonce(nm[1]) {
		v.refuse(w)
		return
	}
	// The sign covers the body's own sum, so that it is checked before a byte of the body is read: who is not paired cannot
	// fill the disk.
	key, nonce := keyOf(token), nm[1]
	want := mac(key, "request", r.Method, r.RequestURI, nonce, sm[1])
	if !hmac.Equal([]byte(want), []byte(mm[1])) {
		v.refuse(w)
		return
	}
	body, err := os.CreateTemp("", "caul-in-")
	if err != nil {
		http.Error(w, "no room", http.StatusInsufficientStorage)
		return
	}
	defer os.Remove(body.Name())
	defer body.Close()
	sum := sha256.New()
	if _, err := io.Copy(io.MultiWriter(body, sum), http.MaxBytesReader(w, r.Body, bodyMax)); err != nil {
		http.Error(w, "the request broke off", http.StatusBadRequest)
		return
	}
	if hex.EncodeToString(sum.Sum(nil)) != sm[1] { // changed on its way
		v.refuse(w)
		return
	}
	if _, err := body.Seek(0, io.SeekStart); err != nil {
		http.Error(w, "the request broke off", http.StatusBadRequest)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Trailer", macHeader)
	w.Header().Set("Caul-Nonce", v.newNonce())
	out := &summed{w: w, sum: sha256.New()}
	switch {
	case r.Method == http.MethodGet && strings.HasSuffix(r.URL.Path, "/info/refs"):
		v.info(out, r)
	case r.Method == http.MethodPost && strings.HasSuffix(r.URL.Path, "/"+upload):
		v.upload(out, r, body)
	case r.Method == http.MethodPost && strings.HasSuffix(r.URL.Path, "/"+receive):
		v.receive(out, r, body)
	default:
		out.fail(http.StatusNotFound, "nothing here")
	}
	if !out.broken {
		w.Header().Set(macHeader, mac(key, "answer", nonce, hex.EncodeToString(out.sum.Sum(nil))))
	}
}

// summed writes an answer and sums it. An answer that breaks off half-way is left without a sum, so that it is not believed.
type summed struct {
	w      http.ResponseWriter
	sum    hash.Hash
	broken bool
}

func (s *summed) Write(b []byte) (int, error) {
	s.sum.Write(b)
	return s.w.Write(b)
}

func (s *summed) fail(code int, why string) {
	s.w.WriteHeader(code)
	_, _ = s.Write([]byte(why + "\n"))
}

func (v *server) info(w *summed, r *http.Request) {
	service := r.URL.Query().Get("service")
	if service != upload && service != receive {
		w.fail(http.StatusForbidden, "only the smart protocol is spoken here")
		return
	}
	ad, _, done, err := v.s.Offer(r.Context(), looks(r))
	if err != nil {
		w.fail(http.StatusServiceUnavailable, err.Error())
		return
	}
	defer done()
	w.w.Header().Set("Content-Type", "application/x-"+service+"-advertisement")
	e := pktline.NewEncoder(w)
	_ = e.Encodef("# service=%s\n", service)
	_ = e.Flush()
	caps := "ofs-delta report-status " + agent
	if ad.Head != "" {
		caps += " symref=HEAD:" + ad.Head
	}
	names := make([]string, 0, len(ad.Refs))
	for n := range ad.Refs {
		names = append(names, n)
	}
	sort.Strings(names)
	if len(names) == 0 {
		_ = e.Encodef("%s capabilities^{}\x00%s\n", plumbing.ZeroHash, caps)
	}
	for i, n := range names {
		if i == 0 {
			_ = e.Encodef("%s %s\x00%s\n", ad.Refs[n], n, caps)
		} else {
			_ = e.Encodef("%s %s\n", ad.Refs[n], n)
		}
	}
	_ = e.Flush()
}

func (v *server) upload(w *summed, r *http.Request, body io.Reader) {
	p := pkts{bufio.NewReader(body)}
	var wants, haves []store.Hash
	for {
		b, err := p.next()
		if errors.Is(err, errFlush) {
			continue
		}
		if err != nil {
			w.fail(http.StatusBadRequest, "the request broke off")
			return
		}
		f := strings.Fields(string(b))
		if len(f) == 1 && f[0] == "done" {
			break
		}
		if len(f) < 2 || len(f[1]) != 40 || len(haves) > 10_000 {
			w.fail(http.StatusBadRequest, "not a request for a pack")
			return
		}
		switch f[0] {
		case "want":
			wants = append(wants, plumbing.NewHash(f[1]))
		case "have":
			haves = append(haves, plumbing.NewHash(f[1]))
		}
	}
	ad, objs, done, err := v.s.Offer(r.Context(), looks(r))
	if err != nil {
		w.fail(http.StatusServiceUnavailable, err.Error())
		return
	}
	defer done()
	offered := map[store.Hash]bool{}
	for _, h := range ad.Refs {
		offered[h] = true
	}
	var known []store.Hash
	for _, h := range haves {
		if ok, _ := objs.Has(h); ok { // what we do not have ourselves says nothing
			known = append(known, h)
		}
	}
	var list []store.Hash
	for _, h := range wants {
		// The branch may have moved on since it was offered: an ancestor of what is offered now is as good.
		ok := offered[h]
		for t := range offered {
			if !ok {
				ok, err = store.IsAncestor(objs.GetCommit, h, t)
				if err != nil {
					break
				}
			}
		}
		if !ok {
			w.fail(http.StatusBadRequest, "asked for what is not offered")
			return
		}
	}
	if len(wants) > 0 {
		cs, err := store.Since(objs.GetCommit, wants, known)
		if err == nil {
			list, err = objs.ObjectsOf(cs)
		}
		if err != nil {
			w.fail(http.StatusInternalServerError, err.Error())
			return
		}
	}
	w.w.Header().Set("Content-Type", "application/x-"+upload+"-result")
	e := pktline.NewEncoder(w)
	if len(known) > 0 {
		_ = e.Encodef("ACK %s\n", known[0])
	} else {
		_ = e.EncodeString("NAK\n")
	}
	if err := objs.StreamPack(w, list); err != nil {
		w.broken = true
	}
}

func (v *server) receive(w *summed, r *http.Request, body io.Reader) {
	br := bufio.NewReaderSize(body, 1<<16)
	p := pkts{br}
	b, err := p.next()
	if err != nil {
		w.fail(http.StatusBadRequest, "the request broke off")
		return
	}
	line, _, _ := strings.Cut(string(b), "\x00")
	f := strings.Fields(line)
	if _, err := p.next(); !errors.Is(err, errFlush) || len(f) != 3 || len(f[0]) != 40 || len(f[1]) != 40 || !strings.HasPrefix(f[2], "refs/heads/") {
		w.fail(http.StatusBadRequest, "one branch at a time")
		return
	}
	err = v.s.Receive(r.Context(), f[2], plumbing.NewHash(f[0]), plumbing.NewHash(f[1]), br)
	w.w.Header().Set("Content-Type", "application/x-"+receive+"-result")
	var out bytes.Buffer
	e := pktline.NewEncoder(&out)
	_ = e.EncodeString("unpack ok\n")
	switch {
	case err == nil:
		_ = e.Encodef("ok %s\n", f[2])
	case errors.Is(err, store.ErrMoved):
		_ = e.Encodef("ng %s fetch first\n", f[2])
	default:
		_ = e.Encodef("ng %s %s\n", f[2], clip(err.Error()))
	}
	_ = e.Flush()
	_, _ = w.Write(out.Bytes())
}
