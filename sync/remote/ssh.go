package remote

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"os/user"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"time"

	"github.com/kevinburke/ssh_config"
	"github.com/skeema/knownhosts"
	sshagent "github.com/xanzy/ssh-agent"
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

// splitSSH takes an address apart: ssh://user@host:port/path or user@host:path.
func splitSSH(addr string) (usr, hst, port, path string, err error) {
	bad := &store.Error{Kind: ErrBadRemote, Path: addr, Hint: "give ssh://user@host/path or user@host:path"}
	if strings.Contains(addr, "://") {
		u, perr := url.Parse(addr)
		if perr != nil || u.Hostname() == "" || u.Path == "" || u.Path == "/" {
			return "", "", "", "", bad
		}
		if _, has := u.User.Password(); has {
			return "", "", "", "", &store.Error{Kind: ErrBadRemote, Path: u.Redacted(), Hint: "leave the password out; ssh uses keys"}
		}
		path = u.Path
		if strings.HasPrefix(path, "/~") {
			path = path[1:]
		}
		return u.User.Username(), u.Hostname(), u.Port(), path, nil
	}
	h, p, ok := strings.Cut(addr, ":")
	if !ok || p == "" {
		return "", "", "", "", bad
	}
	if i := strings.LastIndexByte(h, '@'); i >= 0 {
		usr, h = h[:i], h[i+1:]
	}
	if h == "" || h[0] == '-' {
		return "", "", "", "", bad
	}
	return usr, h, "", p, nil
}

// sshConfig reads one setting for a host from ~/.ssh/config.
func sshConfig(home, alias, key string) []string {
	f, err := os.Open(filepath.Join(home, ".ssh", "config"))
	if err != nil {
		return nil
	}
	defer f.Close()
	c, err := ssh_config.Decode(f)
	if err != nil {
		return nil // ssh itself will say what is wrong with it
	}
	vs, err := c.GetAll(alias, key)
	if err != nil {
		return nil
	}
	return vs
}

func first(vs ...string) string {
	for _, v := range vs {
		if v != "" {
			return v
		}
	}
	return ""
}

func one(vs []string) string {
	if len(vs) == 0 {
		return ""
	}
	return vs[0]
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

// signers gathers keys: those of the agent first, then the files. why tells what could not be used.
func signers(e *Env, alias string) (out []ssh.Signer, agent io.Closer, why []string) {
	if sshagent.Available() && (runtime.GOOS == "windows" || e.env("SSH_AUTH_SOCK") != "") {
		if a, conn, err := sshagent.New(); err == nil {
			if conn != nil {
				agent = conn
			}
			if s, err := a.Signers(); err == nil {
				out = append(out, s...)
			}
		}
	}
	if len(out) == 0 {
		why = append(why, "no key in an ssh agent")
	}
	files := sshConfig(e.Home, alias, "IdentityFile")
	for _, n := range []string{"id_ed25519", "id_ecdsa", "id_rsa"} {
		files = append(files, filepath.Join(e.Home, ".ssh", n))
	}
	seen := map[string]bool{}
	for _, f := range files {
		f = strings.Trim(f, `"`)
		if rest, ok := strings.CutPrefix(f, "~/"); ok {
			f = filepath.Join(e.Home, rest)
		}
		if seen[f] {
			continue
		}
		seen[f] = true
		data, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		s, err := ssh.ParsePrivateKey(data)
		var locked *ssh.PassphraseMissingError
		if errors.As(err, &locked) {
			p := e.env("CAUL_SSH_PASSPHRASE")
			if p == "" {
				why = append(why, f+" is locked with a passphrase: unlock it in the agent with ssh-add")
				continue
			}
			if s, err = ssh.ParsePrivateKeyWithPassphrase(data, []byte(p)); err != nil {
				why = append(why, f+": the passphrase is wrong")
				continue
			}
		}
		if err != nil {
			why = append(why, f+" cannot be read as a key")
			continue
		}
		out = append(out, s)
	}
	return out, agent, why
}

// hostKeys checks a host against known_hosts.
type hostKeys struct {
	addr   string
	file   string
	e      *Env
	disk   store.Disk
	db     *knownhosts.HostKeyDB
	failed error
	extend func()
}

func (k *hostKeys) load() error {
	files := []string{}
	for _, f := range []string{k.file, "/etc/ssh/ssh_known_hosts"} {
		if _, err := os.Stat(f); err == nil {
			files = append(files, f)
		}
	}
	if len(files) == 0 {
		return nil
	}
	db, err := knownhosts.NewDB(files...)
	if err != nil {
		return &store.Error{Kind: ErrHostKey, Path: k.file, Hint: "correct the line that is named", Err: err}
	}
	k.db = db
	return nil
}

// algorithms asks the host for a key of a kind that is on file: it would else show another one, which looks like a change.
func (k *hostKeys) algorithms() []string {
	if k.db != nil {
		if a := k.db.HostKeyAlgorithms(k.addr); len(a) > 0 {
			return a
		}
	}
	return []string{ssh.KeyAlgoED25519, ssh.KeyAlgoECDSA256, ssh.KeyAlgoECDSA384, ssh.KeyAlgoECDSA521, ssh.KeyAlgoRSASHA512, ssh.KeyAlgoRSASHA256}
}

func (k *hostKeys) check(name string, addr net.Addr, key ssh.PublicKey) error {
	print := ssh.FingerprintSHA256(key)
	err := error(nil)
	if k.db != nil {
		err = k.db.HostKeyCallback()(name, addr, key)
		if err == nil {
			return nil
		}
		if knownhosts.IsHostKeyChanged(err) {
			k.failed = &store.Error{Kind: ErrHostKey, Path: k.addr, Hint: "do not sync until you know why: the host was set up anew, or somebody is in between. If it was set up anew and its keeper confirms " + print + ", remove its line from " + k.file, Err: fmt.Errorf("it shows the %s key %s", key.Type(), print)}
			return k.failed
		}
		if !knownhosts.IsHostUnknown(err) {
			k.failed = &store.Error{Kind: ErrHostKey, Path: k.addr, Hint: "look at " + k.file, Err: err}
			return k.failed
		}
	}
	if k.extend != nil {
		k.extend()
	}
	q := fmt.Sprintf("first contact with %s. It shows the %s key\n  %s\nDoes its keeper confirm this key?", k.addr, key.Type(), print)
	if k.e.Ask == nil || !k.e.Ask(q) {
		k.failed = &store.Error{Kind: ErrUnknown, Path: k.addr, Hint: "compare the key with what its keeper tells you and answer yes, or connect once with ssh; it shows " + print}
		return k.failed
	}
	if err := k.add(name, key); err != nil {
		k.failed = err
		return err
	}
	return nil
}

func (k *hostKeys) add(name string, key ssh.PublicKey) error {
	if err := store.MkdirAll(k.disk, filepath.Dir(k.file), 0o700); err != nil {
		return store.Name(err, k.file)
	}
	line := knownhosts.Line([]string{name}, key) + "\n"
	if old, err := os.ReadFile(k.file); err == nil && len(old) > 0 && old[len(old)-1] != '\n' {
		line = "\n" + line
	}
	f, err := k.disk.Append(k.file, 0o600)
	if err != nil {
		return store.Name(err, k.file)
	}
	_, err = f.Write([]byte(line))
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return store.Name(err, k.file)
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
