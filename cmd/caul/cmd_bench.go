package main

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"rsc.io/qr"

	"caul/job/plan"
	"caul/site/bench"
	"caul/sync"
)

type benchOptions struct {
	port     string
	lan      bool
	on       []string
	visitors bool
	readOnly bool
	newKey   bool
	ring     string
}

func newBench(e *env) *cobra.Command {
	var o benchOptions
	c := &cobra.Command{
		Use: "bench", Short: "the live page for the phone or old laptop on the bench",
		Long: `bench serves a live page: what is in the clamps, what can be done now, and one
tap to write down what happened. It listens on this machine alone; with --lan
also on the shop's own network, for devices that give the code shown here, and
for other machines of the shop, which are paired by the token shown here.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runBench(cmd.Context(), e, o) },
	}
	c.Flags().StringVar(&o.port, "port", benchPort, "the port to listen on, 0 for any that is free")
	c.Flags().BoolVar(&o.lan, "lan", false, "let devices on the shop's network in, with a code")
	c.Flags().StringSliceVar(&o.on, "on", nil, "with --lan: only on these `addresses` of this machine (default: every private one)")
	c.Flags().BoolVar(&o.visitors, "visitors", false, "with --lan: let devices without the code read, and not write")
	c.Flags().BoolVar(&o.readOnly, "read-only", false, "nobody writes")
	c.Flags().BoolVar(&o.newKey, "new-key", false, "end every pairing: devices, calendars and machines pair anew")
	c.Flags().StringVar(&o.ring, "ring", "", "a `command` to run when a wait is over; its name and step are given as arguments")
	return c
}

func runBench(ctx context.Context, e *env, o benchOptions) error {
	dir, err := e.shopDir()
	if err != nil {
		return err
	}
	lns, addrs, err := benchListen(o)
	if err != nil {
		return err
	}
	defer func() {
		for _, l := range lns {
			l.Close()
		}
	}()
	_, port, _ := net.SplitHostPort(lns[0].Addr().String())
	after := &afterEntry{e: e, dir: dir}
	cfg := bench.Config{
		Dir: dir, Machine: machineName(dir), Now: e.now, Visitors: o.visitors && o.lan, ReadOnly: o.readOnly,
		Hosts:   []string{"127.0.0.1:" + port, "localhost:" + port},
		Log:     slog.New(slog.NewTextHandler(e.err, nil)),
		Ring:    func(t plan.Timer) { ring(ctx, e, o.ring, t) },
		Changed: func() { after.soon(ctx) },
	}
	url := "http://127.0.0.1:" + port + "/"
	token, unpaired := "", ""
	if o.lan {
		for i, a := range addrs {
			h := net.JoinHostPort(a, port)
			if i == 0 {
				url = "http://" + h + "/"
			}
			cfg.Hosts = append(cfg.Hosts, h)
		}
		key, err := benchKey(dir, o.newKey)
		if err != nil {
			return err
		}
		cfg.Key, token = key, peerToken(key)
		cfg.Code = bench.NewCode()
		cfg.ShowCode = func(code string) {
			_ = e.print("code", map[string]string{"code": code}, func() error {
				e.printf("the code was too old; the new one is %s\n", code)
				return nil
			})
		}
		if s, err := sync.Open(dir); err == nil {
			defer s.Close()
			cfg.PeerPath = sync.PeerPath
			cfg.Peer = s.PeerHandler(func() string { return token }, sync.Options{Now: e.now, Reread: reread, RereadShop: rereadShop})
			if o.readOnly {
				cfg.Peer = nil // what is pushed would be written
			}
		} else {
			unpaired = strings.TrimSpace(err.Error() + "; " + sync.NextStep(err))
		}
	}
	srv, err := bench.New(cfg)
	if err != nil {
		return err
	}
	at := benchAnswer{URL: url, Code: cfg.Code, Visitors: cfg.Visitors, ReadOnly: cfg.ReadOnly, Unpaired: unpaired}
	if cfg.Peer != nil && len(addrs) > 0 {
		at.Pair, at.Token = net.JoinHostPort(addrs[0], port), token
	}
	if err := e.print("bench", at, func() error { sayBench(e, at, o.lan, len(addrs)); return nil }); err != nil {
		return err
	}
	hs := srv.HTTP(ctx)
	go func() {
		if err := srv.Run(ctx); err != nil {
			fmt.Fprintf(e.err, "error: files cannot be watched: %v\n", err)
		}
	}()
	go func() {
		<-ctx.Done()
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
		defer cancel()
		if hs.Shutdown(stop) != nil {
			hs.Close()
		}
	}()
	failed := make(chan error, len(lns))
	for _, l := range lns {
		go func() { failed <- hs.Serve(l) }()
	}
	for range lns {
		if err := <-failed; err != nil && !errors.Is(err, http.ErrServerClosed) {
			hs.Close()
			return err
		}
	}
	after.wait()
	return nil
}

// benchAnswer is where the bench is and how one gets in.
type benchAnswer struct {
	URL      string `json:"url"`
	Code     string `json:"code,omitempty"`     // every device gives it once
	Pair     string `json:"pair,omitempty"`     // address for caul pair
	Token    string `json:"token,omitempty"`    // token for caul pair
	Unpaired string `json:"unpaired,omitempty"` // why no machine can be paired
	Visitors bool   `json:"visitors,omitempty"`
	ReadOnly bool   `json:"read_only,omitempty"`
}

func sayBench(e *env, at benchAnswer, lan bool, addrs int) {
	e.printf("the bench is at %s\n", at.URL)
	if lan {
		if addrs == 0 {
			e.printf("look: this machine has no address on a private network; only this machine can see the page\n")
		}
		e.printf("code: %s\n", at.Code)
		if c, err := qr.Encode(at.URL+"pair?code="+at.Code, qr.L); err == nil && !e.plain() {
			e.printf("%s", qrText(c))
		}
		if at.Pair != "" {
			e.printf("another machine of this shop pairs once: caul pair %s\n", at.Pair)
			e.printf("  with the token %s\n", at.Token)
		}
		if at.Unpaired != "" {
			e.printf("look: no other machine can be paired: %s\n", at.Unpaired)
		}
	}
	e.printf("stop with ctrl-c\n")
}

// benchListen opens the port on this machine alone, and with --lan on each of
// its private addresses: never on all there are.
func benchListen(o benchOptions) ([]net.Listener, []string, error) {
	var addrs []string
	if o.lan {
		addrs = o.on
		for _, a := range addrs {
			if net.ParseIP(a) == nil {
				return nil, nil, usage("--on %q is not an address, such as 192.168.1.20", a)
			}
		}
		if len(addrs) == 0 {
			for _, ip := range lanAddresses() {
				addrs = append(addrs, ip.String())
			}
		}
	}
	var lns []net.Listener
	port := o.port
	for i, a := range append([]string{"127.0.0.1"}, addrs...) {
		if i > 0 && a == "127.0.0.1" {
			continue
		}
		l, err := net.Listen("tcp", net.JoinHostPort(a, port))
		if err != nil {
			for _, l := range lns {
				l.Close()
			}
			return nil, nil, &fault{code: exitFailed, msg: err.Error(), hint: "another program has the port; try --port 0"}
		}
		_, port, _ = net.SplitHostPort(l.Addr().String())
		lns = append(lns, l)
	}
	return lns, addrs, nil
}

// benchKey is the secret from which sessions, the calendar's address and the
// sync token of a shop's bench come. It lies with the user's settings, never in
// the shop, so that it travels on no stick.
func benchKey(dir string, anew bool) ([]byte, error) {
	conf, err := os.UserConfigDir()
	if err != nil {
		return nil, err
	}
	file := filepath.Join(conf, "caul", "bench.key")
	key, err := os.ReadFile(file)
	if err != nil || len(key) != 32 || anew {
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		key = make([]byte, 32)
		_, _ = rand.Read(key) // never fails, by its documentation
		if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
			return nil, err
		}
		if err := os.WriteFile(file, key, 0o600); err != nil {
			return nil, err
		}
	}
	h := hmac.New(sha256.New, key)
	h.Write([]byte(dir))
	return h.Sum(nil), nil
}

// peerToken is a shop's token for the sync of paired machines, 100 bits in
// groups that can be read out.
func peerToken(key []byte) string {
	h := hmac.New(sha256.New, key)
	h.Write([]byte("caul sync token"))
	s := strings.ToLower(base32.StdEncoding.EncodeToString(h.Sum(nil)))[:20]
	return s[:5] + "-" + s[5:10] + "-" + s[10:15] + "-" + s[15:]
}

// ring tells the terminal, and whatever the maker has named, that a wait is
// over. The command is run directly, never through a shell.
func ring(ctx context.Context, e *env, command string, t plan.Timer) {
	_ = e.print("ring", t, func() error {
		e.printf("%s%s: %s, ready\n", e.bell(), t.Name, t.Kind)
		return nil
	})
	runRing(ctx, e, command, t)
}

// bell is the terminal's bell, nothing where there is no terminal.
func (e *env) bell() string {
	if !e.terminal {
		return ""
	}
	return "\a"
}

func runRing(ctx context.Context, e *env, command string, t plan.Timer) {
	if command == "" {
		return
	}
	c := exec.CommandContext(ctx, command, t.Name, string(t.Kind), t.Job, t.Step)
	if err := c.Run(); err != nil {
		fmt.Fprintf(e.err, "error: %s: %v\n", command, err)
	}
}

// lanAddresses are the private addresses of this machine.
func lanAddresses() []net.IP {
	var out []net.IP
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() && (n.IP.IsPrivate() || n.IP.IsLinkLocalUnicast()) {
			out = append(out, n.IP)
		}
	}
	return out
}

// qrText draws a code with half blocks, two rows of squares a line, dark on
// light whatever the terminal's colours are.
func qrText(c *qr.Code) string {
	dark := func(x, y int) bool { return c.Black(x, y) }
	s := ""
	const quiet = 4 // squares of margin a reader may ask for (ISO/IEC 18004)
	for y := -quiet; y < c.Size+quiet; y += 2 {
		s += "\x1b[30;47m"
		for x := -quiet; x < c.Size+quiet; x++ {
			switch a, b := dark(x, y), dark(x, y+1); {
			case a && b:
				s += "█"
			case a:
				s += "▀"
			case b:
				s += "▄"
			default:
				s += " "
			}
		}
		s += "\x1b[0m\n"
	}
	return s
}
