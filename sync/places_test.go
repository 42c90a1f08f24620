package sync

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/pem"
	"fmt"
	"net"
	"net/http"
	"net/http/cgi"
	"net/http/httptest"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strings"
	gosync "sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/ssh"

	"caul/sync/internal/faulty"
	"caul/sync/remote"
)

// place is a kind of remote set up for a test.
type place struct {
	addr string
	home string            // what ~ is for ssh
	env  map[string]string // what the environment says
	repo string            // the repository on this disk, when there is one
	stop func()            // takes it out of reach
	fat  string            // the folder that keeps to vfat's rules
}

func (p *place) options() Options {
	return Options{Home: p.home, Getenv: func(k string) string { return p.env[k] }, Ask: func(string) bool { return true }}
}

// needs finds a program, and skips the test where it is not installed; on the project's own checks that is a failure.
func needs(t *testing.T, name string, dirs ...string) string {
	t.Helper()
	if p, err := exec.LookPath(name); err == nil {
		return p
	}
	for _, d := range append(dirs, "/usr/sbin", "/usr/lib/git-core", "/usr/libexec/git-core") {
		p := filepath.Join(d, name)
		if _, err := os.Stat(p); err == nil {
			return p
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed", name)
	}
	t.Skipf("%s is not installed", name)
	return ""
}

func keyPair(t *testing.T, file string) ssh.PublicKey {
	t.Helper()
	pub, priv, err := ed25519.GenerateKey(rand.Reader)
	require.NoError(t, err)
	b, err := ssh.MarshalPrivateKey(priv, "test")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(b), 0o600))
	p, err := ssh.NewPublicKey(pub)
	require.NoError(t, err)
	return p
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	_, p, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return p
}

// sshPlace runs OpenSSH's own server on the loopback.
func sshPlace(t *testing.T) *place {
	sshd := needs(t, "sshd")
	needs(t, "git")
	root := t.TempDir()
	home := filepath.Join(root, "home")
	require.NoError(t, os.MkdirAll(filepath.Join(home, ".ssh"), 0o700))
	_ = os.MkdirAll("/run/sshd", 0o755) // sshd asks for it when run by root
	keyPair(t, filepath.Join(root, "hostkey"))
	pub := keyPair(t, filepath.Join(home, ".ssh", "id_ed25519"))
	require.NoError(t, os.WriteFile(filepath.Join(root, "authorized"), ssh.MarshalAuthorizedKey(pub), 0o600))
	port := freePort(t)
	conf := fmt.Sprintf("Port %s\nListenAddress 127.0.0.1\nHostKey %s/hostkey\nAuthorizedKeysFile %s/authorized\nPidFile none\nStrictModes no\nUsePAM no\nPermitRootLogin yes\nPasswordAuthentication no\nLogLevel ERROR\nSetEnv HOME=%s\n", port, root, root, home) // a home of its own: the real one may run anything at log-in
	require.NoError(t, os.WriteFile(filepath.Join(root, "conf"), []byte(conf), 0o600))
	cmd := exec.Command(sshd, "-D", "-e", "-f", filepath.Join(root, "conf"))
	require.NoError(t, cmd.Start())
	var once gosync.Once
	stop := func() { once.Do(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }) }
	t.Cleanup(stop)
	for range 100 {
		if c, err := net.Dial("tcp", "127.0.0.1:"+port); err == nil {
			c.Close()
			break
		}
		time.Sleep(30 * time.Millisecond)
	}
	repo := filepath.Join(root, "shop.git")
	git(t, root, "init", "-q", "--bare", "-b", "main", repo)
	u, err := user.Current()
	require.NoError(t, err)
	return &place{addr: "ssh://" + u.Username + "@127.0.0.1:" + port + repo, home: home, repo: repo, stop: stop}
}

// httpPlace runs git's own server program behind a web server that asks for a token.
func httpPlace(t *testing.T) *place {
	backend := needs(t, "git-http-backend")
	root := t.TempDir()
	repo := filepath.Join(root, "shop.git")
	git(t, root, "init", "-q", "--bare", "-b", "main", repo)
	git(t, repo, "config", "http.receivepack", "true")
	h := &cgi.Handler{Path: backend, Env: []string{"GIT_PROJECT_ROOT=" + root, "GIT_HTTP_EXPORT_ALL=1"}}
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, p, ok := r.BasicAuth(); !ok || p != "sesame" {
			w.Header().Set("WWW-Authenticate", `Basic realm="git"`)
			http.Error(w, "who are you", http.StatusUnauthorized)
			return
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	return &place{addr: srv.URL + "/shop.git", env: map[string]string{"CAUL_TOKEN": "sesame"}, repo: repo, stop: srv.Close}
}

// peerPlace is a third machine's bench.
func peerPlace(t *testing.T) *place {
	dir := filepath.Join(t.TempDir(), "bench")
	s, err := initOn(dir, "bench", &faulty.Disk{})
	require.NoError(t, err)
	token := NewToken()
	mux := http.NewServeMux()
	mux.Handle(PeerPath+"/", s.PeerHandler(func() string { return token }, Options{}))
	srv := httptest.NewServer(mux)
	t.Cleanup(srv.Close)
	return &place{addr: "caul://" + strings.TrimPrefix(srv.URL, "http://"), env: map[string]string{"CAUL_TOKEN_MEET": token}, repo: dir, stop: srv.Close}
}

func folderPlace(t *testing.T) *place {
	dir := filepath.Join(t.TempDir(), "stick")
	require.NoError(t, os.Mkdir(dir, 0o777))
	return &place{addr: dir, repo: filepath.Join(dir, remoteRepo), stop: func() { _ = os.Rename(dir, dir+".away") }}
}

// fatPlace is a folder on a vfat stick by rule. The rules are simulated, and the shops lie on the stick too; vfatPlace is the real
// thing where it can be had.
func fatPlace(t *testing.T) *place {
	p := folderPlace(t)
	p.fat = filepath.Dir(p.addr)
	return p
}

// vfatPlace is a folder on a real vfat image. It takes a kernel with vfat and the right to mount, which few machines that run
// tests give: a kernel in a container, also on the project's own checks, has neither. There the simulated rules of fatPlace
// count, which the same suite runs on everywhere.
func vfatPlace(t *testing.T) *place {
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("mounting an image takes root on Linux; the suite runs on simulated vfat rules instead")
	}
	mkfs, err := exec.LookPath("mkfs.vfat")
	if err != nil {
		if mkfs = "/usr/sbin/mkfs.vfat"; !exists(mkfs) {
			t.Skip("mkfs.vfat is not installed; the suite runs on simulated vfat rules instead")
		}
	}
	img, dir := filepath.Join(t.TempDir(), "stick.img"), t.TempDir()
	require.NoError(t, os.WriteFile(img, nil, 0o666))
	require.NoError(t, os.Truncate(img, 64<<20))
	out, err := exec.Command(mkfs, img).CombinedOutput()
	require.NoError(t, err, "%s", out)
	if out, err := exec.Command("mount", "-t", "vfat", "-o", "loop", img, dir).CombinedOutput(); err != nil {
		t.Skipf("no vfat can be mounted here, the suite runs on simulated vfat rules instead: %s", out)
	}
	var once gosync.Once
	stop := func() { once.Do(func() { _ = exec.Command("umount", "-l", dir).Run(); _ = os.Remove(dir) }) }
	t.Cleanup(stop)
	return &place{addr: dir, repo: filepath.Join(dir, remoteRepo), stop: stop}
}

func exists(p string) bool { _, err := os.Stat(p); return err == nil }

const remoteRepo = remote.FolderRepo
