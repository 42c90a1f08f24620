package remote

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/url"
	"os/exec"
	"regexp"
	"strings"
	"time"

	"caul/sync/store"
)

// credentials finds the token for a server: from the environment, else from git's credential helper. It is kept in memory
// only.
type credentials struct {
	spec       Spec
	u          *url.URL
	e          *Env
	user, pass string
	from       string // "env", "helper" or nothing yet
	tried      map[string]bool
	told       bool
}

func newCredentials(s Spec, u *url.URL, e *Env) *credentials {
	c := &credentials{spec: s, u: u, e: e, tried: map[string]bool{}}
	if u.User != nil {
		c.user = u.User.Username()
	}
	return c
}

var notVar = regexp.MustCompile(`[^A-Z0-9]+`)

// TokenVar is the environment variable for one remote's token; CAUL_TOKEN is for all.
func TokenVar(name string) string {
	return "CAUL_TOKEN_" + strings.Trim(notVar.ReplaceAllString(strings.ToUpper(name), "_"), "_")
}

// safe tells whether a secret may be sent: never in the clear over a network.
func (c *credentials) safe() bool { return c.u.Scheme == "https" || loopback(c.u.Hostname()) }

func (c *credentials) sign(req *http.Request, _ []byte) error {
	if c.pass == "" || req.URL.Host != c.u.Host {
		return nil
	}
	user := c.user
	if user == "" {
		user = "git"
	}
	req.SetBasicAuth(user, c.pass)
	return nil
}

func (c *credentials) refused(ctx context.Context, _ *http.Response) (bool, error) {
	if !c.safe() {
		return false, &store.Error{Kind: ErrAuth, Path: c.spec.URL, Hint: "use https: a token is never sent in the clear"}
	}
	if c.from == "helper" && !c.e.Look {
		c.helper(ctx, "reject")
	}
	c.pass = ""
	if !c.tried["env"] {
		c.tried["env"] = true
		for _, v := range []string{TokenVar(c.spec.Name), "CAUL_TOKEN"} {
			if t := c.e.env(v); t != "" {
				c.pass, c.from = t, "env"
				return true, nil
			}
		}
	}
	if !c.tried["helper"] {
		c.tried["helper"] = true
		if c.helper(ctx, "fill") {
			c.from = "helper"
			return true, nil
		}
	}
	return false, nil
}

func (c *credentials) accepted(ctx context.Context) {
	if c.from == "helper" && !c.told && !c.e.Look {
		c.told = true
		c.helper(ctx, "approve")
	}
}

func (c *credentials) verify(res *http.Response) io.ReadCloser { return res.Body }

// helper speaks git's credential protocol (gitcredentials(7), git-credential(1)) with the git program, which asks the
// helpers that are set up. Without a git program there is no helper to ask.
func (c *credentials) helper(ctx context.Context, verb string) bool {
	prog, err := exec.LookPath("git")
	if err != nil {
		return false
	}
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	var in bytes.Buffer
	put := func(k, v string) {
		if v != "" && !strings.ContainsAny(v, "\n\x00") {
			in.WriteString(k + "=" + v + "\n")
		}
	}
	put("protocol", c.u.Scheme)
	put("host", c.u.Host)
	put("path", strings.TrimPrefix(c.u.Path, "/"))
	put("username", c.user)
	if verb != "fill" {
		put("password", c.pass)
	}
	in.WriteString("\n")
	cmd := exec.CommandContext(ctx, prog, "-c", "credential.interactive=never", "credential", verb)
	cmd.Env = append(cmd.Environ(), "GIT_TERMINAL_PROMPT=0", "GIT_ASKPASS=", "SSH_ASKPASS=")
	cmd.Stdin = &in
	out, err := cmd.Output()
	if err != nil || verb != "fill" {
		return err == nil
	}
	var pass string
	for _, l := range strings.Split(string(out), "\n") {
		k, v, _ := strings.Cut(strings.TrimSuffix(l, "\r"), "=")
		switch k {
		case "username":
			c.user = v
		case "password":
			pass = v
		}
	}
	c.pass = pass
	return pass != ""
}
