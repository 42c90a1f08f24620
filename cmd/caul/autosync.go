package main

import (
	"context"
	"fmt"
	gosync "sync"
	"time"

	"caul/sync"
)

// autoTime is how long a sync after an entry may take before it is left for
// the next one.
const autoTime = 20 * time.Second

// autoSync brings the remotes that are marked for it, and are within reach
// without a network, in step. The entry is safe on this machine already: what
// goes wrong here is told and is no error of the command.
func autoSync(ctx context.Context, e *env, dir string) {
	s, err := sync.Open(dir)
	if err != nil {
		return // a shop without a history has nothing to sync with
	}
	defer s.Close()
	var only []string
	for _, r := range s.Remotes() {
		if r.Auto && s.Within(r) {
			only = append(only, r.Name)
		}
	}
	if len(only) == 0 {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, autoTime)
	defer cancel()
	rep, err := s.Sync(ctx, sync.Options{Only: only, Now: e.now, Reread: reread, RereadShop: rereadShop, Secret: tokenOf(s.Dir())})
	if err != nil {
		fmt.Fprintf(e.err, "look: not synced yet: %v\n", err)
		return
	}
	for _, m := range rep.Remotes {
		if m.Error != "" && m.State != sync.Missing {
			fmt.Fprintf(e.err, "look: %s is not synced yet: %s\n", m.Name, m.Error)
		}
	}
}

// afterEntry syncs beside the page, a moment after the last of several taps.
type afterEntry struct {
	e   *env
	dir string

	mu    gosync.Mutex
	timer *time.Timer
	busy  gosync.WaitGroup
	one   gosync.Mutex
}

// quiet is how long no tap must come before a sync.
const quiet = 2 * time.Second

func (a *afterEntry) soon(ctx context.Context) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.timer != nil && a.timer.Stop() {
		a.busy.Done()
	}
	a.busy.Add(1)
	a.timer = time.AfterFunc(quiet, func() {
		defer a.busy.Done()
		a.one.Lock()
		defer a.one.Unlock()
		autoSync(context.WithoutCancel(ctx), a.e, a.dir)
	})
}

// wait lets a sync that is due or under way come to its end.
func (a *afterEntry) wait() { a.busy.Wait() }
