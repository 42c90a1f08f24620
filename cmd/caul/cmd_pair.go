package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"caul/sync"
	"caul/sync/remote"
)

type pairOptions struct {
	name, machine string
}

// benchPort is the port a bench listens on where none is named.
const benchPort = "7246"

func newPair(e *env) *cobra.Command {
	var o pairOptions
	c := &cobra.Command{
		Use: "pair ADDRESS [DIR]", Short: "pair this machine with a bench on the network, once, for sync",
		Long: `pair makes the bench at ADDRESS, as "caul bench --lan" shows it there, a place
this shop syncs with. It asks for the token that stands in the same terminal,
tries it with a first sync, and keeps it with this user's settings, so that
"caul sync" needs no more. With DIR this machine has no copy of the shop yet,
and gets one there. Where the bench's address has changed, pair again.

The token is asked for at the terminal, or read from standard input.`,
		Args: cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, a []string) error { return runPair(cmd.Context(), e, a, o) },
	}
	c.Flags().StringVar(&o.name, "name", "bench", "what the bench is called from now on")
	c.Flags().StringVar(&o.machine, "machine", "laptop", "with DIR: name of this machine in the log")
	return c
}

type pairAnswer struct {
	Name   string       `json:"name"`
	URL    string       `json:"url"`
	Dir    string       `json:"dir"`
	Report *sync.Report `json:"report"`
}

func runPair(ctx context.Context, e *env, args []string, o pairOptions) error {
	host, err := benchHost(args[0])
	if err != nil {
		return err
	}
	addr := "caul://" + host
	var s *sync.Shop
	if len(args) == 1 {
		if s, err = openSync(e); err != nil {
			return err
		}
		defer s.Close()
	}
	token := e.getenv(remote.TokenVar(o.name))
	if token == "" {
		if token, err = e.askToken(host); err != nil {
			return err
		}
	}
	so := sync.Options{Now: e.now, Reread: reread, RereadShop: rereadShop, Secret: func(string) string { return token }}
	var rep *sync.Report
	if s != nil {
		rep, err = pairHere(ctx, e, s, addr, o, so)
	} else {
		s, rep, err = pairCopy(ctx, e, addr, e.path(args[1]), o, so)
		if s != nil {
			defer s.Close()
		}
	}
	if err != nil {
		return err
	}
	if err := keepToken(s.Dir(), o.name, token); err != nil {
		return err
	}
	if err := e.print("pair", pairAnswer{o.name, addr, s.Dir(), rep}, func() error {
		if len(args) == 2 {
			e.printf("the shop is in %s\n", s.Dir())
		} else {
			printSync(e, rep)
		}
		e.printf("paired; from now on: caul sync %s\n", o.name)
		return nil
	}); err != nil {
		return err
	}
	if rep.Partial() {
		return &fault{code: exitPartial}
	}
	return nil
}

// pairHere makes the bench a remote of the shop that is here, or gives the
// remote its new address, and syncs. What did not work leaves the remotes as
// they were.
func pairHere(ctx context.Context, e *env, s *sync.Shop, addr string, o pairOptions, so sync.Options) (*sync.Report, error) {
	var before *sync.Remote
	for _, r := range s.Remotes() {
		if r.Name == o.name {
			before = &r
		}
	}
	if before != nil && !strings.HasPrefix(before.URL, "caul://") {
		return nil, &fault{code: exitUsage, msg: fmt.Sprintf("%s is %s already", o.name, before.URL), hint: "call the bench something else: --name NAME"}
	}
	to := sync.RemoteOptions{}
	if before != nil {
		to.Auto = before.Auto
		if err := s.RemoveRemote(o.name); err != nil {
			return nil, &fault{code: exitFailed, err: err, hint: sync.NextStep(err)}
		}
	}
	err := s.AddRemote(o.name, addr, to)
	var rep *sync.Report
	if err == nil {
		so.Only = []string{o.name}
		done := e.progress("syncing")
		rep, err = s.Sync(ctx, so)
		done()
	}
	back := func() {
		_ = s.RemoveRemote(o.name)
		if before != nil {
			_ = s.AddRemote(before.Name, before.URL, to)
		}
	}
	if err != nil {
		back()
		return nil, &fault{code: exitFailed, err: err, hint: sync.NextStep(err)}
	}
	for _, m := range rep.Remotes {
		if m.Error != "" {
			back()
			return nil, &fault{code: exitFailed, msg: m.Error, hint: m.Hint}
		}
	}
	return rep, nil
}

// pairCopy makes this machine's copy of the bench's shop.
func pairCopy(ctx context.Context, e *env, addr, dir string, o pairOptions, so sync.Options) (*sync.Shop, *sync.Report, error) {
	_, before := os.Lstat(dir)
	done := e.progress("copying")
	s, rep, err := sync.Clone(ctx, addr, dir, o.machine, o.name, sync.RemoteOptions{}, so)
	done()
	if err != nil {
		return nil, nil, &fault{code: exitFailed, err: err, hint: sync.NextStep(err)}
	}
	if _, err := os.Lstat(filepath.Join(dir, "shop.yaml")); err != nil {
		s.Close()
		f := &fault{code: exitFailed, msg: "there is no shop at " + addr, hint: "check the address; it stands in the terminal of `caul bench --lan`"}
		if len(rep.Remotes) > 0 && rep.Remotes[0].Error != "" {
			f.msg, f.hint = rep.Remotes[0].Error, rep.Remotes[0].Hint
		}
		if errors.Is(before, fs.ErrNotExist) {
			_ = os.RemoveAll(dir) // made just now, and nothing came
		}
		return nil, nil, f
	}
	return s, rep, nil
}

// benchHost reads a bench's address as a person copies it: a host and a port,
// with or without the beginning of a page's or a remote's address.
func benchHost(arg string) (string, error) {
	bad := &fault{code: exitUsage, msg: fmt.Sprintf("%q is not a bench's address", arg), hint: "it stands in the terminal of `caul bench --lan`, such as 192.168.1.20:7246"}
	h := strings.TrimPrefix(strings.TrimPrefix(arg, "caul://"), "http://")
	h, _, _ = strings.Cut(h, "/")
	if h == "" || strings.Contains(h, "://") || strings.ContainsAny(h, " ?#@") {
		return "", bad
	}
	if _, port, err := net.SplitHostPort(h); err == nil {
		if port == "" {
			return "", bad
		}
		return h, nil
	}
	return net.JoinHostPort(strings.Trim(h, "[]"), benchPort), nil
}

// askToken reads the token: from whoever sits at the terminal, else from
// standard input.
func (e *env) askToken(host string) (string, error) {
	var token string
	if e.asks && !e.json {
		token = e.line("the token that the bench at " + host + " shows: ")
	} else {
		l, err := bufio.NewReader(io.LimitReader(e.in, 1<<10)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		token = strings.TrimSpace(l)
	}
	if token == "" {
		return "", &fault{code: exitUsage, msg: "no token was given", hint: "it stands in the terminal of `caul bench --lan` on the other machine; type it when asked, or give it on standard input"}
	}
	return token, nil
}
