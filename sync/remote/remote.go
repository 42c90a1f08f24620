package remote

import (
	"context"
	"errors"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"caul/sync/store"
)

// Kind is a way to reach a remote.
type Kind string

// The kinds of remote.
const (
	Folder Kind = "folder" // a stick, a share, any folder
	SSH    Kind = "ssh"
	HTTPS  Kind = "https" // http as well, for a server on the own network
	Peer   Kind = "peer"  // another machine's `caul bench --lan`
	Group  Kind = "group" // a folder with other people's shared builds; never settled with
)

// Trouble with a remote. A *store.Error wraps one of these and carries the next step.
var (
	ErrAbsent    = errors.New("the remote is not there")
	ErrAuth      = errors.New("the remote does not let us in")
	ErrHostKey   = errors.New("the host is not the one it was")
	ErrUnknown   = errors.New("the host is not known yet")
	ErrPortal    = errors.New("something other than a git server answered")
	ErrNoRepo    = errors.New("there is no repository at this address")
	ErrSlow      = errors.New("the remote stopped answering")
	ErrRefused   = errors.New("the remote refused the push")
	ErrCheckout  = errors.New("the remote is a shop that is worked in")
	ErrProtocol  = errors.New("the remote broke off in the middle")
	ErrBadRemote = errors.New("not an address of a remote")
)

// Spec is what a machine knows of a remote.
type Spec struct {
	Name   string
	URL    string
	Kind   Kind
	Branch string // empty: found out at first contact
	Met    bool   // there was contact before
}

// Env is what a connection may use of the world around.
type Env struct {
	Disk store.Disk
	// Ask puts a yes-or-no question to the user; nil means no to everything.
	Ask func(question string) bool
	// Getenv reads the environment.
	Getenv func(string) string
	// Home is the user's folder, for .ssh.
	Home string
	// Secret gives the pairing token of a peer; nil or empty: none.
	Secret func(name string) string
	// Progress gets short notes; may be nil.
	Progress func(string)
	// Look says that nothing may be changed anywhere: no host key noted, no token approved, nothing committed at a bench.
	Look bool
	// Stale is how long a lock in a folder must stand unchanged before it counts as left behind by a pulled stick; zero means
	// ten seconds.
	Stale time.Duration
}

func (e *Env) stale() time.Duration {
	if e.Stale > 0 {
		return e.Stale
	}
	return 10 * time.Second
}

func (e *Env) env(k string) string {
	if e.Getenv == nil {
		return ""
	}
	return e.Getenv(k)
}

// Advert is what a remote has.
type Advert struct {
	Refs map[string]store.Hash
	Head string // where its HEAD points; may be empty
}

// Conn is a remote within reach.
type Conn interface {
	// Refs lists what the remote has.
	Refs(ctx context.Context) (*Advert, error)
	// Fetch brings everything reachable from tip into the store; known are commits the store has in full.
	Fetch(ctx context.Context, tip store.Hash, known []store.Hash, into *store.Objects) error
	// Push brings everything reachable from new to the remote and moves the ref from old to new. known are commits the remote has
	// in full. When the ref is no longer at old the error is store.ErrMoved.
	Push(ctx context.Context, ref string, old, new store.Hash, known []store.Hash, from *store.Objects) error
	Close() error
}

var scpLike = regexp.MustCompile(`^(?:[A-Za-z0-9._-]+@)?[A-Za-z0-9._-]+:[^\\]`)

// KindOf tells what kind of remote an address means.
func KindOf(addr string) (Kind, error) {
	switch {
	case addr == "":
		return "", &store.Error{Kind: ErrBadRemote, Path: `""`, Hint: "give a folder, ssh://host/path, https://host/path or caul://host:port"}
	case strings.HasPrefix(addr, "ssh://"), strings.HasPrefix(addr, "git+ssh://"):
		return SSH, nil
	case strings.HasPrefix(addr, "https://"), strings.HasPrefix(addr, "http://"):
		return HTTPS, nil
	case strings.HasPrefix(addr, "caul://"):
		return Peer, nil
	case strings.HasPrefix(addr, "file://"):
		return Folder, nil
	case strings.Contains(addr, "://"):
		return "", &store.Error{Kind: ErrBadRemote, Path: addr, Hint: "give a folder, ssh://host/path, https://host/path or caul://host:port"}
	case len(addr) > 1 && addr[1] == ':' && (len(addr) == 2 || addr[2] == '\\' || addr[2] == '/'): // a Windows drive
		return Folder, nil
	case scpLike.MatchString(addr):
		return SSH, nil
	}
	return Folder, nil
}

// Clean checks an address and takes out what must not be written down: a password in it is an error.
func Clean(addr string) (string, error) {
	k, err := KindOf(addr)
	if err != nil {
		return "", err
	}
	switch k {
	case Folder:
		if strings.HasPrefix(addr, "file://") {
			u, err := url.Parse(addr)
			if err != nil || u.Host != "" && u.Host != "localhost" {
				return "", &store.Error{Kind: ErrBadRemote, Path: addr, Hint: "give the folder itself"}
			}
			addr = u.Path
		}
		return filepath.Clean(addr), nil
	case HTTPS, Peer:
		u, err := url.Parse(addr)
		if err != nil || u.Host == "" {
			return "", &store.Error{Kind: ErrBadRemote, Path: addr, Hint: "give https://host/path or caul://host:port"}
		}
		_, has := u.User.Password()
		if name := u.User.Username(); has || u.RawQuery != "" || u.Fragment != "" || likeToken(name) {
			u.RawQuery, u.ForceQuery, u.Fragment = "", false, ""
			if u.User = url.User(name); name == "" || likeToken(name) {
				u.User = nil
			}
			return "", &store.Error{Kind: ErrBadRemote, Path: u.String(), Hint: "leave passwords and tokens out of the address: it is written to a file; use the credential helper or an environment variable"}
		}
	case SSH:
		if _, _, _, _, err := splitSSH(addr); err != nil {
			return "", err
		}
	}
	return addr, nil
}

// likeToken tells a user name that is more likely a token in the user's place: long, with digits in it, and no address of mail.
func likeToken(s string) bool {
	return len(s) >= 24 && strings.ContainsAny(s, "0123456789") && !strings.ContainsAny(s, "@.")
}

// Dial reaches a remote.
func Dial(ctx context.Context, s Spec, e *Env) (Conn, error) {
	switch s.Kind {
	case Folder:
		return dialFolder(s, e)
	case SSH:
		return dialSSH(ctx, s, e)
	case Peer:
		return dialPeer(s, e)
	case HTTPS:
		return dialWeb(s, e)
	}
	return nil, &store.Error{Kind: ErrBadRemote, Path: s.URL, Hint: "this kind of remote cannot be synced: " + string(s.Kind)}
}
