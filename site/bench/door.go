package bench

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
)

const (
	cookieName  = "caul-bench"
	sessionLife = 12 * time.Hour
	codeLife    = 15 * time.Minute // from the start of the server, or from its last use
	pairTries   = 5                // wrong codes a minute, from everybody together
	tapBurst    = 60               // writes a device may send at once
	tapRate     = 10               // and a second after that
)

// door decides who may come in.
type door struct {
	hosts map[string]bool
	code  string
	fill  func([]byte)

	mu       sync.Mutex
	sessions map[string]*session
	until    time.Time // the code is good until then
	wrong    []time.Time
}

type session struct {
	ends   time.Time
	tokens float64
	last   time.Time
}

func newDoor(cfg Config) *door {
	d := &door{hosts: map[string]bool{}, code: cfg.Code, fill: cfg.Rand, sessions: map[string]*session{}, until: cfg.Now().Add(codeLife)}
	for _, h := range cfg.Hosts {
		d.hosts[strings.ToLower(h)] = true
	}
	if d.fill == nil {
		d.fill = func(b []byte) { _, _ = rand.Read(b) } // never fails, by its documentation
	}
	return d
}

// known tells a request for this server from one that a foreign name was made
// to point here for.
func (d *door) known(host string) bool { return d.hosts[strings.ToLower(host)] }

// ours tells a write from our own page: a browser names where it comes from.
func (d *door) ours(r *http.Request) bool {
	if s := r.Header.Get("Sec-Fetch-Site"); s != "" && s != "same-origin" {
		return false
	}
	o := r.Header.Get("Origin")
	if o == "" {
		return false
	}
	u, err := url.Parse(o)
	return err == nil && u.Host != "" && strings.EqualFold(u.Host, r.Host) && d.known(u.Host)
}

// open tells a device that may come in.
func (d *door) open(r *http.Request, now time.Time) bool {
	if d.code == "" {
		return true
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.session(r)
	return s != nil && now.Before(s.ends)
}

func (d *door) session(r *http.Request) *session {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return nil
	}
	return d.sessions[c.Value]
}

// allow keeps a device, or on this machine alone everybody, to a rate no
// person reaches.
func (d *door) allow(r *http.Request, now time.Time) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.session(r)
	if s == nil {
		if d.sessions[""] == nil {
			d.sessions[""] = &session{}
		}
		s = d.sessions[""]
	}
	if s.last.IsZero() {
		s.tokens = tapBurst
	} else if dt := now.Sub(s.last).Seconds(); dt > 0 {
		s.tokens = min(tapBurst, s.tokens+dt*tapRate)
	}
	s.last = now
	if s.tokens < 1 {
		return false
	}
	s.tokens--
	return true
}

// Results of giving a code.
type pairing int

const (
	paired pairing = iota
	wrongCode
	oldCode
	tooMany
)

// pair tries a code and gives the cookie of a new session.
func (d *door) pair(code string, now time.Time) (*http.Cookie, pairing) {
	d.mu.Lock()
	defer d.mu.Unlock()
	fresh := d.wrong[:0]
	for _, t := range d.wrong {
		if now.Sub(t) < time.Minute {
			fresh = append(fresh, t)
		}
	}
	d.wrong = fresh
	if len(d.wrong) >= pairTries {
		return nil, tooMany
	}
	if subtle.ConstantTimeCompare([]byte(tidyCode(code)), []byte(tidyCode(d.code))) != 1 {
		d.wrong = append(d.wrong, now)
		return nil, wrongCode
	}
	if now.After(d.until) {
		return nil, oldCode
	}
	key := make([]byte, 32)
	d.fill(key)
	id := base64.RawURLEncoding.EncodeToString(key)
	for k, s := range d.sessions {
		if k != "" && !now.Before(s.ends) {
			delete(d.sessions, k)
		}
	}
	d.sessions[id] = &session{ends: now.Add(sessionLife)}
	return &http.Cookie{Name: cookieName, Value: id, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: int(sessionLife.Seconds())}, paired
}

// tidyCode reads a code as a person types it: no case, no blanks or dashes.
func tidyCode(s string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' {
			return -1
		}
		return r
	}, strings.ToUpper(s))
}

// NewCode makes a pairing code of eight letters and digits that cannot be
// taken for one another, in two groups: 40 bits.
func NewCode() string {
	const letters = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
	b := make([]byte, 8)
	_, _ = rand.Read(b) // never fails, by its documentation
	for i := range b {
		b[i] = letters[int(b[i])%len(letters)]
	}
	return string(b[:4]) + "-" + string(b[4:])
}
