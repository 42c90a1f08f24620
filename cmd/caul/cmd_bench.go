package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os/exec"
	"time"

	"github.com/spf13/cobra"
	"rsc.io/qr"

	"caul/job/plan"
	"caul/site/bench"
)

type benchOptions struct {
	addr     string
	lan      bool
	visitors bool
	readOnly bool
	ring     string
}

func newBench(e *env) *cobra.Command {
	var o benchOptions
	c := &cobra.Command{
		Use: "bench", Short: "the live page for the phone or old laptop on the bench",
		Long: `bench serves a live page: what is in the clamps, what can be done now, and one
tap to write down what happened. It listens on this machine alone; with --lan
also on the shop's own network, for devices that give the code shown here.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runBench(cmd.Context(), e, o) },
	}
	c.Flags().StringVar(&o.addr, "port", "7246", "the port to listen on, 0 for any that is free")
	c.Flags().BoolVar(&o.lan, "lan", false, "let devices on the shop's network in, with a code")
	c.Flags().BoolVar(&o.visitors, "visitors", false, "with --lan: let devices without the code read, and not write")
	c.Flags().BoolVar(&o.readOnly, "read-only", false, "nobody writes")
	c.Flags().StringVar(&o.ring, "ring", "", "a `command` to run when a wait is over; its name and step are given as arguments")
	return c
}

func runBench(ctx context.Context, e *env, o benchOptions) error {
	dir, err := e.shopDir()
	if err != nil {
		return err
	}
	host := "127.0.0.1"
	if o.lan {
		host = ""
	}
	ln, err := net.Listen("tcp", net.JoinHostPort(host, o.addr))
	if err != nil {
		return &fault{code: exitFailed, msg: err.Error(), hint: "another program has the port; try --port 0"}
	}
	defer ln.Close()
	_, port, _ := net.SplitHostPort(ln.Addr().String())
	cfg := bench.Config{
		Dir: dir, Machine: machineName(dir), Now: e.now, Visitors: o.visitors, ReadOnly: o.readOnly,
		Hosts: []string{"127.0.0.1:" + port, "localhost:" + port, "[::1]:" + port},
		Log:   slog.New(slog.NewTextHandler(e.err, nil)),
		Ring:  func(t plan.Timer) { ring(ctx, e, o.ring, t) },
	}
	url := "http://127.0.0.1:" + port + "/"
	if o.lan {
		cfg.Code = bench.NewCode()
		for _, ip := range lanAddresses() {
			h := net.JoinHostPort(ip.String(), port)
			if len(cfg.Hosts) == 3 {
				url = "http://" + h + "/"
			}
			cfg.Hosts = append(cfg.Hosts, h)
		}
	}
	srv, err := bench.New(cfg)
	if err != nil {
		return err
	}
	e.printf("the bench is at %s\n", url)
	if o.lan {
		e.printf("code: %s\n", cfg.Code)
		if c, err := qr.Encode(url+"pair?code="+cfg.Code, qr.L); err == nil && !e.plain() {
			e.printf("%s", qrText(c))
		}
	}
	e.printf("stop with ctrl-c\n")
	hs := &http.Server{Handler: srv, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 60 * time.Second, WriteTimeout: 60 * time.Second,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10, BaseContext: func(net.Listener) context.Context { return ctx }}
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
	if err := hs.Serve(ln); err != nil && !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// ring tells the terminal, and whatever the maker has named, that a wait is
// over. The command is run directly, never through a shell.
func ring(ctx context.Context, e *env, command string, t plan.Timer) {
	e.printf("\a%s: %s, ready\n", t.Name, t.Kind)
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
	const quiet = 2
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
