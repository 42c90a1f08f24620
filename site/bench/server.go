package bench

import (
	"context"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"caul/job"
	"caul/job/plan"
)

//go:embed static/* templates/*.html
var assets embed.FS

// Config says what to serve and to whom.
type Config struct {
	Dir     string // the shop
	Machine string // name written into entries
	Now     func() time.Time

	// Hosts are the host:port names a request may be for, as a browser writes
	// them; a request for any other is refused.
	Hosts []string
	// Code must be given once by every device before it may do anything; empty
	// when only this machine can reach the server.
	Code string
	// Visitors lets devices without a code read and not write.
	Visitors bool
	// ReadOnly refuses every write.
	ReadOnly bool
	// Ring is called once for every clamp, cure or wait that is over.
	Ring func(plan.Timer)
	Log  *slog.Logger
	// Rand gives session keys; nil for the system's source.
	Rand func([]byte)
	// Changed is called after an entry was written; nil when nobody wants to know.
	Changed func()
}

// Server is the live page of one shop.
type Server struct {
	cfg  Config
	t    *template.Template
	mux  *http.ServeMux
	door *door

	mu      sync.Mutex
	shop    *job.Shop // last good reading
	trouble string    // why the files do not read just now
	version int
	taps    map[string]tapped // applied, by id
	plan    *plan.Plan
	rung    map[string]bool
	waiters map[chan int]bool

	writing sync.Mutex // one write at a time, so that a tap is applied once
	replan  chan struct{}
}

// New reads the shop and prepares the page. The shop must read clean once;
// later mistakes in its files are shown on the page and mended there by hand.
func New(cfg Config) (*Server, error) {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	s := &Server{cfg: cfg, rung: map[string]bool{}, waiters: map[chan int]bool{}, taps: map[string]tapped{}, replan: make(chan struct{}, 1)}
	s.door = newDoor(cfg)
	t, err := template.New("").Funcs(s.funcs()).ParseFS(assets, "templates/*.html")
	if err != nil {
		return nil, err
	}
	s.t = t
	if err := s.reload(); err != nil {
		return nil, err
	}
	s.routes()
	return s, nil
}

func (s *Server) routes() {
	static, _ := fs.Sub(assets, "static")
	m := http.NewServeMux()
	m.Handle("GET /static/", http.StripPrefix("/static/", http.FileServerFS(static)))
	m.HandleFunc("GET /pair", s.pairPage)
	m.HandleFunc("POST /pair", s.pair)
	m.HandleFunc("GET /{$}", s.read(s.first))
	m.HandleFunc("GET /step/{job}/{step}", s.read(s.step))
	m.HandleFunc("GET /job/{job}", s.read(s.jobPage))
	m.HandleFunc("GET /photos/{job}/{file}", s.read(s.photo))
	m.HandleFunc("GET /events", s.read(s.events))
	m.HandleFunc("GET /now.json", s.read(s.nowJSON))
	m.HandleFunc("GET /calendar.ics", s.read(s.calendar))
	m.HandleFunc("POST /tap", s.write(s.tap))
	m.HandleFunc("POST /tick", s.write(s.tick))
	m.HandleFunc("POST /picture", s.write(s.picture))
	s.mux = m
}

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	defer func() {
		if p := recover(); p != nil {
			if p == http.ErrAbortHandler {
				panic(p)
			}
			s.cfg.Log.Error("page failed", "path", r.URL.Path, "why", fmt.Sprint(p))
			http.Error(w, "the page failed; nothing was written half-way", http.StatusInternalServerError)
		}
	}()
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "geolocation=(), microphone=(), payment=()")
	h.Set("Cache-Control", "no-store")
	if !s.door.known(r.Host) {
		http.Error(w, "this is not the page you asked for", http.StatusMisdirectedRequest)
		return
	}
	s.mux.ServeHTTP(w, r)
}

// read guards what may be seen: by a paired device, by anybody on this machine
// alone, or by visitors where they are welcome.
func (s *Server) read(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if s.door.open(r, s.cfg.Now()) || s.cfg.Visitors {
			h(w, r)
			return
		}
		if r.Header.Get("Accept") == "text/event-stream" || r.URL.Path == "/now.json" {
			http.Error(w, "give the code first, at /pair", http.StatusUnauthorized)
			return
		}
		http.Redirect(w, r, "/pair", http.StatusSeeOther)
	}
}

// write guards what changes a file: paired, from a page of our own, small.
func (s *Server) write(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		switch {
		case s.cfg.ReadOnly:
			http.Error(w, "this page is for reading only", http.StatusForbidden)
		case !s.door.ours(r):
			http.Error(w, "not from a page of this shop", http.StatusForbidden)
		case !s.door.open(r, s.cfg.Now()):
			http.Error(w, "give the code first, at /pair", http.StatusUnauthorized)
		case !s.door.allow(r, s.cfg.Now()):
			w.Header().Set("Retry-After", "5")
			http.Error(w, "too many taps at once; they are sent again by themselves", http.StatusTooManyRequests)
		default:
			h(w, r)
		}
	}
}

// Run keeps the page alive until ctx ends: it watches the files, plans anew
// after a change and rings when a wait is over.
func (s *Server) Run(ctx context.Context) error {
	changed, stop, err := watch(s.cfg.Dir)
	if err != nil {
		return err
	}
	defer stop()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	go s.planner(ctx)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-changed:
			if err := s.reload(); err != nil {
				s.cfg.Log.Warn("the shop's files do not read", "why", err)
			}
		case <-tick.C:
			s.ring()
		}
	}
}

// reload reads the shop again. Files that do not read leave the last good
// reading in place and are told on the page.
func (s *Server) reload() error {
	shop, err := job.Load(s.cfg.Dir)
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.trouble = err.Error()
	} else {
		s.shop, s.trouble = shop, ""
		for _, j := range shop.Jobs {
			for _, e := range j.Log {
				if e.Tap != "" {
					s.taps[e.Tap] = tapped{File: e.File}
				}
			}
		}
	}
	s.version++
	for c := range s.waiters {
		select {
		case c <- s.version:
		default: // it has a newer look to take already
		}
	}
	select {
	case s.replan <- struct{}{}:
	default:
	}
	if s.shop == nil {
		return err
	}
	return nil
}

// planner works out the whole plan beside the page, so that a tap never waits
// for it.
func (s *Server) planner(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.replan:
		}
		shop, _, _ := s.look()
		p, err := plan.Make(ctx, shop, s.cfg.Now(), plan.Options{})
		s.mu.Lock()
		if err == nil {
			s.plan = p
		} else {
			s.plan = nil
		}
		s.mu.Unlock()
	}
}

// look gives the last good reading of the shop, what is wrong with its files
// now, and the count of changes.
func (s *Server) look() (*job.Shop, string, int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.shop, s.trouble, s.version
}

func (s *Server) ring() {
	if s.cfg.Ring == nil {
		return
	}
	shop, _, _ := s.look()
	now := s.cfg.Now()
	n, err := plan.At(shop, now, 0, nil)
	if err != nil {
		return
	}
	for _, t := range n.Timers {
		key := t.Job + "/" + t.Step + "/" + string(t.Kind) + t.Since.String()
		s.mu.Lock()
		over := !t.Ready.After(now)
		due := over && !s.rung[key]
		first := s.version <= 1 && over && now.Sub(t.Ready) > time.Minute
		s.rung[key] = over
		s.mu.Unlock()
		if due && !first {
			s.cfg.Ring(t)
		}
	}
}
