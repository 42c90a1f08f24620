package bench

import (
	"context"
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"log"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"caul/job"
	"caul/job/drawing"
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
	// NewCode makes the code that follows one that is too old, and ShowCode
	// shows it where the first was shown; nil for the usual one, shown nowhere.
	NewCode  func() string
	ShowCode func(string)
	// Key seals sessions and the calendar's address; nil for one that ends with
	// the program.
	Key []byte
	// Visitors lets devices without a code read and not write.
	Visitors bool
	// ReadOnly refuses every write.
	ReadOnly bool
	// Peer serves the sync of paired machines under PeerPath, which has
	// credentials of its own; nil for none.
	Peer     http.Handler
	PeerPath string

	// Ring is called once for every clamp, cure or wait that is over.
	Ring func(plan.Timer)
	Log  *slog.Logger
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
	shop    *job.Shop // last good reading, with the entries written since
	trouble string    // why the files do not read just now
	version int
	taps    map[string]string    // entry file of every tap that was applied, by id
	odd     map[string][]string  // what looked odd about a tap's entry, by the tap's id
	newest  map[string]time.Time // time of a device's newest tap
	plan    *plan.Plan
	rung    map[string]bool
	waiters map[chan int]string // open event streams, and where they come from

	reading sync.Mutex // one reading of the files at a time
	cache   job.Cache
	writing sync.Mutex    // one write at a time, so that a tap is applied once
	ticks   ids           // applied, under writing
	darkrm  chan struct{} // pictures being worked on: each may take much memory
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
	s := &Server{cfg: cfg, rung: map[string]bool{}, waiters: map[chan int]string{}, taps: map[string]string{}, odd: map[string][]string{}, newest: map[string]time.Time{},
		replan: make(chan struct{}, 1), darkrm: make(chan struct{}, 2)}
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

// HTTP is the server with the limits that keep a slow or greedy device from
// holding up the others. Pages that stay open and pictures on bad Wi-Fi set
// longer limits for themselves.
func (s *Server) HTTP(ctx context.Context) *http.Server {
	return &http.Server{Handler: s, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 20 * time.Second, WriteTimeout: 5 * time.Minute,
		IdleTimeout: time.Minute, MaxHeaderBytes: 32 << 10, BaseContext: func(net.Listener) context.Context { return ctx },
		ErrorLog: log.New(io.Discard, "", 0)}
}

func (s *Server) routes() {
	static, _ := fs.Sub(assets, "static")
	m := http.NewServeMux()
	m.Handle("GET /static/", http.StripPrefix("/static/", http.FileServerFS(static)))
	m.HandleFunc("GET /static/drawing.css", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		_, _ = w.Write([]byte(drawing.Style))
	})
	m.HandleFunc("GET /sw.js", func(w http.ResponseWriter, r *http.Request) { // at the root, or it may not serve the pages
		http.ServeFileFS(w, r, static, "sw.js")
	})
	m.HandleFunc("GET /pair", s.pairPage)
	m.HandleFunc("POST /pair", s.pair)
	m.HandleFunc("GET /{$}", s.read(s.first))
	m.HandleFunc("GET /step/{job}/{step}", s.read(s.step))
	m.HandleFunc("GET /job/{job}", s.read(s.jobPage))
	m.HandleFunc("GET /photos/{job}/{file}", s.read(s.photo))
	m.HandleFunc("GET /events", s.read(s.events))
	m.HandleFunc("GET /now.json", s.read(s.nowJSON))
	m.HandleFunc("GET /calendar.ics", s.feed(s.calendar))
	m.HandleFunc("POST /tap", s.write(s.tap))
	m.HandleFunc("POST /tick", s.write(s.tick))
	m.HandleFunc("POST /picture", s.write(s.picture))
	if s.cfg.Peer != nil {
		m.Handle(s.cfg.PeerPath+"/", s.cfg.Peer)
	}
	s.mux = m
}

// policy keeps a page to what this server gives it.
const policy = "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	defer func() {
		if p := recover(); p != nil {
			if p == http.ErrAbortHandler {
				panic(p)
			}
			s.cfg.Log.Error("page failed", "path", r.URL.Path, "why", fmt.Sprint(p))
			http.Error(w, words["failed"], http.StatusInternalServerError)
		}
	}()
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	// Not no-referrer: a browser then hides where even our own forms come from.
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "geolocation=(), microphone=(), payment=()")
	h.Set("Cache-Control", "no-store")
	if !s.door.known(r.Host) {
		http.Error(w, words["other-host"], http.StatusMisdirectedRequest)
		return
	}
	s.mux.ServeHTTP(w, r)
}

// read guards what may be seen: by a paired device, by anybody on this machine
// alone, or by visitors where they are welcome.
func (s *Server) read(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		switch now := s.cfg.Now(); {
		case s.door.open(r, now), s.cfg.Visitors && s.door.allowLook(r, now):
			h(w, r)
			return
		case s.cfg.Visitors:
			w.Header().Set("Retry-After", "5")
			http.Error(w, words["many-looks"], http.StatusTooManyRequests)
			return
		}
		if strings.Contains(r.Header.Get("Accept"), "text/html") && r.Header.Get("X-Caul-Part") == "" {
			http.Redirect(w, r, "/pair", http.StatusSeeOther)
			return
		}
		http.Error(w, words["code-first"], http.StatusUnauthorized)
	}
}

// feed guards the calendar, for programs that know its address.
func (s *Server) feed(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if s.door.feedKey(r) {
			h(w, r)
			return
		}
		s.read(h)(w, r)
	}
}

// write guards what changes a file: paired, from a page of our own, not more
// than hands can do.
func (s *Server) write(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		switch {
		case s.cfg.ReadOnly:
			http.Error(w, words["read-only"], http.StatusForbidden)
		case !s.door.ours(r):
			http.Error(w, words["not-ours"], http.StatusForbidden)
		case !s.door.open(r, s.cfg.Now()):
			http.Error(w, words["code-first"], http.StatusUnauthorized)
		case !s.door.allow(r, s.cfg.Now()):
			w.Header().Set("Retry-After", "5")
			http.Error(w, words["too-fast"], http.StatusTooManyRequests)
		default:
			h(w, r)
		}
	}
}
