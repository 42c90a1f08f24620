package remote

import (
	"fmt"
	"net"
	"os"
	"path/filepath"

	"github.com/skeema/knownhosts"
	"golang.org/x/crypto/ssh"

	"caul/sync/store"
)

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
	if k.e.Look {
		return nil
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
