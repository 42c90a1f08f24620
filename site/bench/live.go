package bench

import (
	"context"
	"slices"
	"strings"
	"time"

	"caul/job"
	"caul/job/plan"
)

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
	s.reading.Lock()
	defer s.reading.Unlock()
	s.mu.Lock()
	before := s.version
	s.mu.Unlock()
	shop, err := s.cache.Load(s.cfg.Dir)
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.trouble = err.Error()
		s.tell()
		if s.shop == nil {
			return err
		}
		return nil
	}
	s.trouble = ""
	if s.shop != nil && s.version != before {
		// Entries were written while the files were read: keep those that the
		// reading missed. The next reading, which their writing starts, is whole.
		shop = s.withMissed(shop)
	}
	s.shop = shop
	for _, j := range shop.Jobs {
		for _, e := range j.Log {
			s.remember(e)
		}
	}
	s.tell()
	return nil
}

func (s *Server) withMissed(fresh *job.Shop) *job.Shop {
	for i, j := range fresh.Jobs {
		old := s.shop.Job(j.ID)
		if old == nil {
			continue
		}
		have := map[string]bool{}
		for _, e := range j.Log {
			have[e.ID] = true
		}
		for _, e := range old.Log {
			if !have[e.ID] && s.taps[e.Tap] == e.File {
				fresh.Jobs[i] = withEntry(fresh.Jobs[i], e)
			}
		}
	}
	return fresh
}

// withEntry is a job with one more entry; the job given is left as it is, for
// whoever is reading it.
func withEntry(j *job.Job, e job.Entry) *job.Job {
	c := *j
	c.Log = append(slices.Clip(j.Log), e)
	if n := len(c.Log); n > 1 && !c.Log[n-2].Time.Before(e.Time) {
		job.SortEntries(c.Log)
	}
	return &c
}

// remember keeps what a tap became, under s.mu.
func (s *Server) remember(e job.Entry) {
	if e.Tap == "" {
		return
	}
	s.taps[e.Tap] = e.File
	if d := deviceOf(e.Tap); d != "" && e.Time.After(s.newest[d]) {
		s.newest[d] = e.Time
	}
}

// tell counts a change up and wakes every open page, under s.mu.
func (s *Server) tell() {
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
}

// added takes a written entry into the shop that is shown, so that the answer
// to a tap need not wait for all files to be read.
func (s *Server) added(jobID string, e job.Entry) {
	s.mu.Lock()
	defer s.mu.Unlock()
	shop := *s.shop
	shop.Jobs = slices.Clone(shop.Jobs)
	for i, j := range shop.Jobs {
		if j.ID == jobID {
			shop.Jobs[i] = withEntry(j, e)
		}
	}
	s.shop = &shop
	s.remember(e)
	s.tell()
}

const planEvery = 10 * time.Minute

// planner works out the whole plan beside the page, so that a tap never waits
// for it.
func (s *Server) planner(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.replan:
		case <-time.After(planEvery): // time has passed, and so has what was planned
		}
		shop, _, _ := s.look()
		p, err := plan.Make(ctx, shop, s.cfg.Now(), plan.Options{})
		if err != nil {
			p = nil
		}
		s.mu.Lock()
		s.plan = p
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

// planned is the newest whole plan, nil while there is none.
func (s *Server) planned() *plan.Plan {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.plan
}

// late is how long ago a wait may have ended before the program was started
// and still ring.
const late = time.Minute

// ring rings for every wait that ended since the last call.
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
	s.mu.Lock()
	var due []plan.Timer
	for _, t := range n.Timers {
		key := strings.Join([]string{t.Job, t.Step, string(t.Kind), t.Name, t.Since.String()}, "/")
		before, known := s.rung[key]
		over := !t.Never && !t.Ready.After(now)
		s.rung[key] = over
		if over && (known && !before || !known && now.Sub(t.Ready) <= late) {
			due = append(due, t)
		}
	}
	s.mu.Unlock()
	for _, t := range due {
		s.cfg.Ring(t)
	}
}
