package bench

import (
	"fmt"
	"net/http"
	"time"
)

// Limits on pages that stay open.
const (
	streamsMost = 64
	streamsEach = 16 // from one address
	beatEvery   = 10 * time.Second
)

// events tells the page, by server-sent events, that there is something new,
// and what the time is here: the clock of a phone may be wrong.
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	c, version, ok := s.join(from(r))
	if !ok {
		w.Header().Set("Retry-After", "10")
		http.Error(w, words["many-pages"], http.StatusServiceUnavailable)
		return
	}
	defer s.leave(c)
	rc := http.NewResponseController(w)
	_ = rc.SetReadDeadline(time.Time{})
	w.Header().Set("Content-Type", "text/event-stream")
	send := func(format string, a ...any) bool {
		_ = rc.SetWriteDeadline(time.Now().Add(beatEvery)) // a page that takes nothing is let go
		fmt.Fprintf(w, format, a...)
		return rc.Flush() == nil
	}
	if !send("retry: 2000\nevent: look\ndata: %d %d\n\n", version, s.cfg.Now().UnixMilli()) {
		return
	}
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case v := <-c:
			if !send("event: look\ndata: %d %d\n\n", v, s.cfg.Now().UnixMilli()) {
				return
			}
		case <-beat.C:
			if !send("event: time\ndata: %d\n\n", s.cfg.Now().UnixMilli()) {
				return
			}
		}
	}
}

func (s *Server) join(who string) (chan int, int, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := 0
	for _, w := range s.waiters {
		if w == who {
			n++
		}
	}
	if n >= streamsEach || len(s.waiters) >= streamsMost {
		return nil, 0, false
	}
	c := make(chan int, 1)
	s.waiters[c] = who
	return c, s.version, true
}

func (s *Server) leave(c chan int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.waiters, c)
}
