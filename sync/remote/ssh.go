package remote

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os/user"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/crypto/ssh"

	"caul/sync/store"
)

// host is a git repository behind ssh. The keys, the agent, ~/.ssh/config (HostName, Port, User, IdentityFile) and
// ~/.ssh/known_hosts are those that the ssh program uses; the program itself is not needed.
type host struct {
	spec   Spec
	path   string
	addr   string
	client *ssh.Client
	conn   *counting
	stop   func() bool
	up     *talk // the upload-pack session that Refs opened
}

// talk is one service under way.
type talk struct {
	s    *ssh.Session
	in   io.WriteCloser
	out  pkts
	caps map[string]bool
	errs *bytes.Buffer
}

// counting counts the bytes of a connection, so that a silent one can be told from a busy one.
type counting struct {
	net.Conn
	n atomic.Int64
}

func (c *counting) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	c.n.Add(int64(n))
	return n, err
}

func (c *counting) Write(b []byte) (int, error) {
	n, err := c.Conn.Write(b)
	c.n.Add(int64(n))
	return n, err
}

func dialSSH(ctx context.Context, s Spec, e *Env) (Conn, error) {
	usr, alias, port, path, err := splitSSH(s.URL)
	if err != nil {
		return nil, err
	}
	name := first(one(sshConfig(e.Home, alias, "HostName")), alias)
	port = first(port, one(sshConfig(e.Home, alias, "Port")), "22")
	usr = first(usr, one(sshConfig(e.Home, alias, "User")))
	if usr == "" {
		if u, err := user.Current(); err == nil {
			usr = u.Username
			if i := strings.LastIndexByte(usr, '\\'); i >= 0 {
				usr = usr[i+1:]
			}
		}
	}
	h := &host{spec: s, path: path, addr: net.JoinHostPort(name, port)}
	keys := &hostKeys{addr: h.addr, file: filepath.Join(e.Home, ".ssh", "known_hosts"), e: e, disk: e.Disk}
	if err := keys.load(); err != nil {
		return nil, err
	}
	signers, agentConn, why := signers(e, alias)
	if agentConn != nil {
		defer agentConn.Close()
	}
	conf := &ssh.ClientConfig{
		User:              usr,
		Auth:              []ssh.AuthMethod{ssh.PublicKeys(signers...)},
		HostKeyCallback:   keys.check,
		HostKeyAlgorithms: keys.algorithms(),
	}
	d := net.Dialer{Timeout: 10 * time.Second}
	raw, err := d.DialContext(ctx, "tcp", h.addr)
	if err != nil {
		if errors.Is(err, context.Canceled) {
			return nil, err
		}
		return nil, &store.Error{Kind: ErrAbsent, Path: s.URL, Hint: "connect to the network or switch the host on, then sync again", Err: err}
	}
	conn := &counting{Conn: raw}
	h.conn = conn
	h.stop = context.AfterFunc(ctx, func() { conn.Close() })
	_ = conn.SetDeadline(time.Now().Add(quietMax))
	keys.extend = func() { _ = conn.SetDeadline(time.Time{}) } // a person is being asked
	c, chans, reqs, err := ssh.NewClientConn(conn, h.addr, conf)
	if err != nil {
		h.stop()
		conn.Close()
		return nil, h.handshake(ctx, err, keys, why)
	}
	_ = conn.SetDeadline(time.Time{})
	h.client = ssh.NewClient(c, chans, reqs)
	return h, nil
}

// handshake names what went wrong before anything was said.
func (h *host) handshake(ctx context.Context, err error, k *hostKeys, why []string) error {
	var ne net.Error
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case k.failed != nil:
		return k.failed
	case strings.Contains(err.Error(), "unable to authenticate"):
		hint := "add your key to the agent (ssh-add), or put the public key on the server"
		if len(why) > 0 {
			err = errors.New(strings.Join(why, "; "))
		}
		return &store.Error{Kind: ErrAuth, Path: h.spec.URL, Hint: hint, Err: err}
	case errors.As(err, &ne) && ne.Timeout():
		return &store.Error{Kind: ErrSlow, Path: h.spec.URL, Hint: "the host took the call and said nothing; sync again later", Err: err}
	case errors.Is(err, io.EOF), strings.Contains(err.Error(), "connection reset"):
		return &store.Error{Kind: ErrProtocol, Path: h.spec.URL, Hint: "the host broke off the call; check that ssh runs there", Err: err}
	}
	return &store.Error{Kind: ErrProtocol, Path: h.spec.URL, Hint: "check that ssh runs at this address", Err: err}
}

// Close ends the connection.
func (h *host) Close() error {
	h.hangUp()
	h.stop()
	err := h.client.Close()
	h.conn.Close()
	return err
}

func (h *host) hangUp() {
	if h.up != nil {
		_, _ = h.up.in.Write([]byte("0000")) // nothing wanted
		h.up.s.Close()
		h.up = nil
	}
}

// start begins a service.
func (h *host) start(service string) (*talk, *Advert, error) {
	s, err := h.client.NewSession()
	if err != nil {
		return nil, nil, h.named(err, nil)
	}
	t := &talk{s: s, errs: &bytes.Buffer{}}
	s.Stderr = &capped{b: t.errs}
	if t.in, err = s.StdinPipe(); err != nil {
		return nil, nil, err
	}
	out, err := s.StdoutPipe()
	if err != nil {
		return nil, nil, err
	}
	t.out = pkts{bufio.NewReaderSize(out, 1<<16)}
	if err := s.Start(service + " '" + strings.ReplaceAll(h.path, "'", `'\''`) + "'"); err != nil {
		return nil, nil, h.named(err, t)
	}
	var ad *Advert
	err = h.exchange(t, func() error {
		ad, t.caps, err = readAdvert(t.out)
		return err
	})
	if err != nil {
		s.Close()
		return nil, nil, err
	}
	return t, ad, nil
}

// capped keeps the first part of what a server prints.
type capped struct{ b *bytes.Buffer }

func (c *capped) Write(b []byte) (int, error) {
	if c.b.Len() < 1<<14 {
		c.b.Write(b)
	}
	return len(b), nil
}

func (h *host) named(err error, t *talk) error {
	if err == nil {
		return nil
	}
	var se *store.Error
	if errors.As(err, &se) || errors.Is(err, context.Canceled) {
		return err
	}
	said := ""
	if t != nil {
		t.s.Close()
		said = clip(t.errs.String())
	}
	low := strings.ToLower(said)
	switch {
	case strings.Contains(low, "not appear to be a git repository"), strings.Contains(low, "no such file"), strings.Contains(low, "not found") && strings.Contains(low, "repos"), strings.Contains(low, "does not exist"):
		return &store.Error{Kind: ErrNoRepo, Path: h.spec.URL, Hint: "check the path; make it there with: git init --bare", Err: errors.New(said)}
	case strings.Contains(low, "command not found"):
		return &store.Error{Kind: ErrNoRepo, Path: h.spec.URL, Hint: "the host needs the git program to serve a repository", Err: errors.New(said)}
	case strings.Contains(low, "denied"), strings.Contains(low, "permission"):
		return &store.Error{Kind: ErrAuth, Path: h.spec.URL, Hint: "ask its keeper to let this key in", Err: errors.New(said)}
	}
	var ne net.Error
	if errors.As(err, &ne) && ne.Timeout() {
		return &store.Error{Kind: ErrSlow, Path: h.spec.URL, Hint: "sync again when the connection is better; nothing was lost", Err: err}
	}
	if said != "" {
		err = fmt.Errorf("%w: %s", err, said)
	}
	return &store.Error{Kind: ErrProtocol, Path: h.spec.URL, Hint: "sync again; nothing was lost", Err: err}
}

// Refs lists what the remote has.
func (h *host) Refs(context.Context) (*Advert, error) {
	h.hangUp()
	t, ad, err := h.start(upload)
	if err != nil {
		return nil, err
	}
	h.up = t
	return ad, nil
}

// Fetch asks for what is missing.
func (h *host) Fetch(ctx context.Context, tip store.Hash, known []store.Hash, into *store.Objects) error {
	if h.up == nil {
		if _, err := h.Refs(ctx); err != nil {
			return err
		}
	}
	t := h.up
	h.up = nil
	defer t.s.Close()
	hs, err := haves(into, known)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := writeWants(&b, t.caps, tip, hs); err != nil {
		return err
	}
	return h.exchange(t, func() error {
		if _, err := t.in.Write(b.Bytes()); err != nil {
			return err
		}
		return readPack(t.out, t.caps, into)
	})
}

// exchange runs a part of the talk and hangs up when no byte moves for a while.
func (h *host) exchange(t *talk, f func() error) error {
	done := make(chan struct{})
	var silent atomic.Bool
	go func() {
		tick := time.NewTicker(quietMax / 8)
		defer tick.Stop()
		last, since := h.conn.n.Load(), time.Now()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
				if m := h.conn.n.Load(); m != last {
					last, since = m, time.Now()
				} else if time.Since(since) > quietMax {
					silent.Store(true)
					h.conn.Close()
					return
				}
			}
		}
	}()
	err := f()
	close(done)
	if err != nil && silent.Load() {
		return &store.Error{Kind: ErrSlow, Path: h.spec.URL, Hint: "sync again when the connection is better; nothing was lost", Err: errQuiet}
	}
	return h.named(err, t)
}

// Push sends what is missing and moves the ref.
func (h *host) Push(_ context.Context, ref string, old, new store.Hash, known []store.Hash, from *store.Objects) error {
	t, ad, err := h.start(receive)
	if err != nil {
		return err
	}
	defer t.s.Close()
	if ad.Refs[ref] != old {
		return &store.Error{Kind: store.ErrMoved, Path: h.spec.URL, Hint: "sync again"}
	}
	list, err := packFor(from, new, known)
	if err != nil {
		return err
	}
	return h.exchange(t, func() error {
		w := bufio.NewWriterSize(t.in, 1<<16)
		if err := writeUpdate(w, t.caps, ref, old, new); err != nil {
			return err
		}
		if err := from.StreamPack(w, list); err != nil {
			return err
		}
		if err := w.Flush(); err != nil {
			return err
		}
		return readStatus(t.out, t.caps, ref, h.spec.URL)
	})
}
