package bench

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/binary"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
)

const (
	cookieName  = "caul-bench"
	sessionLife = 12 * time.Hour
	codeLife    = 15 * time.Minute
	pairTries   = 5   // wrong codes a minute from one address,
	pairTriesBy = 30  // and from everybody together: of 40 bits, while a code is good
	tapBurst    = 60  // writes a device may send at once
	tapRate     = 10  // and a second after that
	lookBurst   = 150 // looks of a visitor's address: a page and all it fetches beforehand
	lookRate    = 5
	devicesKept = 500
)

// door decides who may come in. A session is a sealed note in a cookie: when
// it ends, and a number of its own. So it outlives the program, as long as the
// key does.
type door struct {
	hosts   map[string]bool
	key     []byte
	asks    bool // a code is asked for
	newCode func() string
	show    func(string)

	mu      sync.Mutex
	code    string
	until   time.Time // the code is good until then
	wrong   []wrongTry
	devices map[string]*device // by session, for the rate
}

type wrongTry struct {
	at  time.Time
	who string // address
}

type device struct {
	tokens float64
	last   time.Time
}

func newDoor(cfg Config) *door {
	d := &door{hosts: map[string]bool{}, key: cfg.Key, newCode: cfg.NewCode, show: cfg.ShowCode, code: cfg.Code, asks: cfg.Code != "", until: cfg.Now().Add(codeLife), devices: map[string]*device{}}
	for _, h := range cfg.Hosts {
		d.hosts[strings.ToLower(h)] = true
	}
	if len(d.key) == 0 {
		d.key = make([]byte, 32)
		_, _ = rand.Read(d.key) // never fails, by its documentation
	}
	if d.newCode == nil {
		d.newCode = NewCode
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
	u, err := url.Parse(r.Header.Get("Origin"))
	return err == nil && u.Host != "" && strings.EqualFold(u.Host, r.Host) && d.known(u.Host)
}

// open tells a device that may come in.
func (d *door) open(r *http.Request, now time.Time) bool {
	return !d.asks || d.session(r, now) != ""
}

// session is the sealed note of a request that has a good one.
func (d *door) session(r *http.Request, now time.Time) string {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return ""
	}
	note, seal, ok := strings.Cut(c.Value, ".")
	if !ok || !hmac.Equal([]byte(seal), []byte(d.seal("session", note))) {
		return ""
	}
	b, err := base64.RawURLEncoding.DecodeString(note)
	if err != nil || len(b) != 24 {
		return ""
	}
	if ends := time.Unix(int64(binary.BigEndian.Uint64(b)), 0); !now.Before(ends) || ends.After(now.Add(sessionLife+time.Minute)) {
		return "" // over, or sealed by a clock that was far ahead
	}
	return note
}

func (d *door) seal(what, note string) string {
	h := hmac.New(sha256.New, d.key)
	h.Write([]byte("caul bench " + what + "\n" + note))
	return base64.RawURLEncoding.EncodeToString(h.Sum(nil))
}

// feed is the key by which a calendar program, which cannot give a code, reads
// the calendar and nothing else.
func (d *door) feed() string { return d.seal("calendar", "")[:32] }

func (d *door) feedKey(r *http.Request) bool {
	return hmac.Equal([]byte(r.URL.Query().Get("key")), []byte(d.feed()))
}

// allow keeps a device, or on this machine alone everybody, to a rate of writes
// no person reaches.
func (d *door) allow(r *http.Request, now time.Time) bool {
	id := ""
	if d.asks {
		id = d.session(r, now)
	}
	return d.spend(id, tapBurst, tapRate, now)
}

// allowLook keeps a visitor to a rate of looks: each takes work.
func (d *door) allowLook(r *http.Request, now time.Time) bool {
	return d.spend("look "+from(r), lookBurst, lookRate, now)
}

func (d *door) spend(id string, burst, rate float64, now time.Time) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.devices[id]
	if s == nil {
		if len(d.devices) >= devicesKept {
			clear(d.devices)
		}
		s = &device{tokens: burst, last: now}
		d.devices[id] = s
	}
	if dt := now.Sub(s.last).Seconds(); dt > 0 {
		s.tokens = min(burst, s.tokens+dt*rate)
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

// pair tries a code and gives the cookie of a new session. A code that is too
// old is replaced by a new one, shown where the first was. Somebody who guesses
// keeps himself out, and not the maker's own phone.
func (d *door) pair(code, who string, now time.Time) (*http.Cookie, pairing) {
	d.mu.Lock()
	defer d.mu.Unlock()
	fresh, his := d.wrong[:0], 0
	for _, t := range d.wrong {
		if now.Sub(t.at) < time.Minute {
			fresh = append(fresh, t)
			if t.who == who {
				his++
			}
		}
	}
	d.wrong = fresh
	if his >= pairTries || len(d.wrong) >= pairTriesBy {
		return nil, tooMany
	}
	good := d.asks && subtle.ConstantTimeCompare([]byte(tidyCode(code)), []byte(tidyCode(d.code))) == 1
	if old := now.After(d.until); !good || old {
		d.wrong = append(d.wrong, wrongTry{now, who})
		if old && d.asks {
			d.code, d.until = d.newCode(), now.Add(codeLife)
			if d.show != nil {
				d.show(d.code)
			}
		}
		if good {
			return nil, oldCode
		}
		return nil, wrongCode
	}
	var b [24]byte
	binary.BigEndian.PutUint64(b[:8], uint64(now.Add(sessionLife).Unix()))
	_, _ = rand.Read(b[8:]) // never fails, by its documentation
	note := base64.RawURLEncoding.EncodeToString(b[:])
	return &http.Cookie{Name: cookieName, Value: note + "." + d.seal("session", note), Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: int(sessionLife.Seconds())}, paired
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

// from is the address a request comes from, without its port.
func from(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}
