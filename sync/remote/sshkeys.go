package remote

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	sshagent "github.com/xanzy/ssh-agent"
	"golang.org/x/crypto/ssh"
)

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
