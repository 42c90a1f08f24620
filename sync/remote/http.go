package remote

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"caul/sync/store"
)

// quietMax is how long a remote may stay silent before it counts as gone.
var quietMax = 30 * time.Second

// auth signs requests and learns from refusals.
type auth interface {
	// sign prepares a request; body is what it will carry.
	sign(req *http.Request, body []byte) error
	// refused is told of a 401 and says whether to try once more.
	refused(ctx context.Context, res *http.Response) (bool, error)
	// accepted is told that the remote let us in.
	accepted(ctx context.Context)
	// verify checks an answer; it returns the reader to take the answer from.
	verify(res *http.Response) io.ReadCloser
}

// web is a git server behind https, or another bench on the LAN.
type web struct {
	spec Spec
	base string
	cl   *http.Client
	auth auth
	look bool                       // asks a bench to change nothing of its own
	caps map[string]map[string]bool // by service
}

const (
	upload  = "git-upload-pack"
	receive = "git-receive-pack"
)

func dialWeb(s Spec, e *Env) (Conn, error) {
	u, err := url.Parse(s.URL)
	if err != nil {
		return nil, &store.Error{Kind: ErrBadRemote, Path: s.URL, Hint: "give https://host/path"}
	}
	w := &web{spec: s, caps: map[string]map[string]bool{}}
	w.auth = newCredentials(s, u, e)
	u.User = nil
	w.base = strings.TrimSuffix(u.String(), "/")
	w.cl = newClient()
	return w, nil
}

func newClient() *http.Client {
	t := &http.Transport{
		Proxy:                 http.ProxyFromEnvironment,
		DialContext:           (&net.Dialer{Timeout: 10 * time.Second}).DialContext,
		TLSHandshakeTimeout:   10 * time.Second,
		ResponseHeaderTimeout: 2 * quietMax, // a server may count for a while before it speaks
		MaxIdleConnsPerHost:   2,
	}
	return &http.Client{
		Transport: t,
		CheckRedirect: func(req *http.Request, via []*http.Request) error {
			// Only the first question may be sent elsewhere, and never with the secret to another host or in the clear.
			if len(via) > 5 || req.Method != http.MethodGet {
				return http.ErrUseLastResponse
			}
			if first := via[0]; req.URL.Host != first.URL.Host || first.URL.Scheme == "https" && req.URL.Scheme != "https" {
				req.Header.Del("Authorization")
			}
			return nil
		},
	}
}

func (w *web) Close() error {
	w.cl.CloseIdleConnections()
	return nil
}

// do sends a request, twice where the remote asks who we are.
func (w *web) do(ctx context.Context, method, path, ctype string, body []byte) (*http.Response, error) {
	for try := 0; ; try++ {
		req, err := http.NewRequestWithContext(ctx, method, w.base+path, bytes.NewReader(body))
		if err != nil {
			return nil, err
		}
		req.Header.Set("User-Agent", "git/caul") // some hosts choose the smart protocol by this word
		if ctype != "" {
			req.Header.Set("Content-Type", "application/x-"+ctype+"-request")
			req.Header.Set("Accept", "application/x-"+ctype+"-result")
		}
		if err := w.auth.sign(req, body); err != nil {
			return nil, err
		}
		res, err := w.cl.Do(req)
		if err != nil {
			return nil, w.named(err)
		}
		if res.StatusCode == http.StatusUnauthorized || res.StatusCode == http.StatusForbidden {
			again, err := w.auth.refused(ctx, res)
			res.Body.Close()
			if err != nil {
				return nil, err
			}
			if again && try < 3 {
				continue
			}
			return nil, &store.Error{Kind: ErrAuth, Path: w.spec.URL, Hint: "set CAUL_TOKEN to a token of that server, or store one with git credential approve", Err: errors.New(res.Status)}
		}
		w.auth.accepted(ctx)
		return res, nil
	}
}

// named turns what the network says into one of the named troubles.
func (w *web) named(err error) error {
	var dns *net.DNSError
	var op *net.OpError
	var unknown x509.UnknownAuthorityError
	var host x509.HostnameError
	var invalid x509.CertificateInvalidError
	var rec tls.RecordHeaderError
	var ne net.Error
	var se *store.Error
	switch {
	case errors.As(err, &se), errors.Is(err, context.Canceled):
		return err
	case errors.As(err, &unknown), errors.As(err, &host), errors.As(err, &invalid):
		return &store.Error{Kind: ErrAuth, Path: w.spec.URL, Hint: "the server's certificate is not one this computer trusts: have its authority added to the system, or check that no portal page is in between", Err: err}
	case errors.As(err, &rec):
		return &store.Error{Kind: ErrPortal, Path: w.spec.URL, Hint: "check the address: the port does not speak https", Err: err}
	case errors.Is(err, errQuiet):
		return &store.Error{Kind: ErrSlow, Path: w.spec.URL, Hint: "sync again when the connection is better; nothing was lost", Err: err}
	case errors.As(err, &dns), errors.As(err, &op) && op.Op == "dial":
		return &store.Error{Kind: ErrAbsent, Path: w.spec.URL, Hint: "connect to the network or switch the other machine on, then sync again", Err: err}
	case errors.As(err, &ne) && ne.Timeout(), errors.Is(err, context.DeadlineExceeded):
		return &store.Error{Kind: ErrSlow, Path: w.spec.URL, Hint: "sync again when the connection is better; nothing was lost", Err: err}
	case errors.Is(err, errForged):
		return &store.Error{Kind: ErrAuth, Path: w.spec.URL, Hint: "pair the two benches again; if it happens again, somebody on the Wi-Fi may be in between", Err: err}
	case errors.Is(err, errNotGit):
		return &store.Error{Kind: ErrPortal, Path: w.spec.URL, Hint: "open a browser: the network may want you to log in first; then check the address", Err: err}
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF), errors.As(err, &op):
		return &store.Error{Kind: ErrProtocol, Path: w.spec.URL, Hint: "sync again; nothing was lost", Err: err}
	}
	return err
}

// info asks a service what the remote has.
func (w *web) info(ctx context.Context, service string) (*Advert, error) {
	path := "/info/refs?service=" + service
	if w.look {
		path += "&" + lookOnly
	}
	res, err := w.do(ctx, http.MethodGet, path, "", nil)
	if err != nil {
		return nil, err
	}
	body := alive(w.auth.verify(res))
	defer body.Close()
	switch {
	case res.StatusCode == http.StatusNotFound || res.StatusCode == http.StatusGone:
		return nil, &store.Error{Kind: ErrNoRepo, Path: w.spec.URL, Hint: "check the address; some servers also say this when a token is missing: set CAUL_TOKEN", Err: errors.New(res.Status)}
	case res.StatusCode != http.StatusOK:
		return nil, &store.Error{Kind: ErrProtocol, Path: w.spec.URL, Hint: "sync again later", Err: errors.New(res.Status)}
	}
	if ct := res.Header.Get("Content-Type"); ct != "application/x-"+service+"-advertisement" {
		return nil, &store.Error{Kind: ErrPortal, Path: w.spec.URL, Hint: "open a browser: the network may want you to log in first; then check the address", Err: fmt.Errorf("content type %q", clip(ct))}
	}
	// A server may have sent us on to another address: the rest of the talk goes there.
	if u := res.Request.URL; strings.HasSuffix(u.Path, "/info/refs") {
		v := *u
		v.Path, v.RawQuery = strings.TrimSuffix(u.Path, "/info/refs"), ""
		if old, err := url.Parse(w.base); err == nil && old.Host == v.Host {
			w.base = v.String()
		}
	}
	// The whole answer first: its end is where a peer's sign is checked.
	all, err := readAll(body)
	if err != nil {
		return nil, w.named(err)
	}
	p := pkts{bufio.NewReader(bytes.NewReader(all))}
	if b, err := p.next(); err != nil || !strings.HasPrefix(string(b), "# service="+service) {
		if err == nil {
			err = fmt.Errorf("%w: %q", errNotGit, clip(string(b)))
		}
		return nil, w.named(err)
	}
	if _, err := p.next(); !errors.Is(err, errFlush) {
		return nil, w.named(errNotGit)
	}
	ad, caps, err := readAdvert(p)
	if err != nil {
		return nil, w.named(err)
	}
	w.caps[service] = caps
	return ad, nil
}

// Refs lists what the remote has.
func (w *web) Refs(ctx context.Context) (*Advert, error) { return w.info(ctx, upload) }

// Fetch asks for what is missing.
func (w *web) Fetch(ctx context.Context, tip store.Hash, known []store.Hash, into *store.Objects) error {
	hs, err := haves(into, known)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := writeWants(&b, w.caps[upload], tip, hs); err != nil {
		return err
	}
	path := "/" + upload
	if w.look {
		path += "?" + lookOnly
	}
	res, err := w.do(ctx, http.MethodPost, path, upload, b.Bytes())
	if err != nil {
		return err
	}
	body := alive(w.auth.verify(res))
	defer body.Close()
	if res.StatusCode != http.StatusOK {
		return &store.Error{Kind: ErrProtocol, Path: w.spec.URL, Hint: "sync again later", Err: errors.New(res.Status)}
	}
	return w.named(readPack(pkts{bufio.NewReaderSize(body, 1<<16)}, w.caps[upload], into))
}

// packFor makes the pack for a push: all that new reaches and known does not.
func packFor(from *store.Objects, new store.Hash, known []store.Hash) ([]store.Hash, error) {
	cs, err := store.Since(from.GetCommit, []store.Hash{new}, known)
	if err != nil {
		return nil, err
	}
	return from.ObjectsOf(cs)
}

// Push sends what is missing and moves the ref.
func (w *web) Push(ctx context.Context, ref string, old, new store.Hash, known []store.Hash, from *store.Objects) error {
	ad, err := w.info(ctx, receive)
	if err != nil {
		return err
	}
	if ad.Refs[ref] != old {
		return &store.Error{Kind: store.ErrMoved, Path: w.spec.URL, Hint: "sync again"}
	}
	list, err := packFor(from, new, known)
	if err != nil {
		return err
	}
	// The whole request first: its length goes ahead of it, because not every server takes one of unknown length, and it may
	// have to be sent twice. Photos make it tens of megabytes at most between two syncs.
	var b bytes.Buffer
	if err := writeUpdate(&b, w.caps[receive], ref, old, new); err != nil {
		return err
	}
	if err := from.StreamPack(&b, list); err != nil {
		return err
	}
	res, err := w.do(ctx, http.MethodPost, "/"+receive, receive, b.Bytes())
	if err != nil {
		return err
	}
	body := alive(w.auth.verify(res))
	defer body.Close()
	if res.StatusCode != http.StatusOK {
		return &store.Error{Kind: ErrRefused, Path: w.spec.URL, Hint: "check that this server may be pushed to", Err: errors.New(res.Status)}
	}
	all, err := readAll(body)
	if err != nil {
		return w.named(err)
	}
	return w.named(readStatus(pkts{bufio.NewReader(bytes.NewReader(all))}, w.caps[receive], ref, w.spec.URL))
}

// answerMax bounds an answer that is not a pack.
const answerMax = 32 << 20

func readAll(r io.Reader) ([]byte, error) {
	all, err := io.ReadAll(io.LimitReader(r, answerMax))
	if err == nil && len(all) == answerMax {
		err = errors.New("the answer has no end")
	}
	return all, err
}

var errQuiet = errors.New("no answer for too long")

// lively gives up on a reader that stays silent.
type lively struct {
	r    io.ReadCloser
	t    *time.Timer
	dead chan struct{}
}

func alive(r io.ReadCloser) io.ReadCloser {
	l := &lively{r: r, dead: make(chan struct{})}
	l.t = time.AfterFunc(quietMax, func() {
		close(l.dead)
		r.Close()
	})
	return l
}

func (l *lively) Read(b []byte) (int, error) {
	n, err := l.r.Read(b)
	select {
	case <-l.dead:
		return n, errQuiet
	default:
	}
	l.t.Reset(quietMax)
	return n, err
}

func (l *lively) Close() error {
	l.t.Stop()
	return l.r.Close()
}

// loopback tells an address on this very computer.
func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// SetQuiet changes how long a remote may stay silent, for tests, and returns a function that changes it back.
func SetQuiet(d time.Duration) func() {
	old := quietMax
	quietMax = d
	return func() { quietMax = old }
}
