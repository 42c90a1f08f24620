package remote

import (
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/kevinburke/ssh_config"

	"caul/sync/store"
)

// splitSSH takes an address apart: ssh://user@host:port/path or user@host:path.
func splitSSH(addr string) (usr, hst, port, path string, err error) {
	bad := &store.Error{Kind: ErrBadRemote, Path: addr, Hint: "give ssh://user@host/path or user@host:path"}
	if strings.Contains(addr, "://") {
		u, perr := url.Parse(addr)
		if perr != nil || u.Hostname() == "" || u.Path == "" || u.Path == "/" {
			return "", "", "", "", bad
		}
		if _, has := u.User.Password(); has {
			return "", "", "", "", &store.Error{Kind: ErrBadRemote, Path: strings.Replace(u.Redacted(), ":xxxxx@", "@", 1), Hint: "leave the password out; ssh uses keys"}
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
