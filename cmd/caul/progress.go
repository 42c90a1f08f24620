package main

import (
	"fmt"
	"path/filepath"
	"sync"
	"time"
)

// progress says on the error stream that work goes on, once it has lasted over
// a second, and wipes the line when it ends. Where errors do not go to a
// terminal it keeps silent, so that a log holds no half lines.
func (e *env) progress(what string) (done func()) {
	if !e.terminal || e.json {
		return func() {}
	}
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		began := time.Now()
		tick := time.NewTicker(time.Second)
		defer tick.Stop()
		shown := false
		for {
			select {
			case <-stop:
				if shown {
					fmt.Fprint(e.err, "\r\x1b[K")
				}
				return
			case <-tick.C:
				shown = true
				fmt.Fprintf(e.err, "\r%s, %d s ... ", what, int(time.Since(began).Seconds()))
			}
		}
	})
	var once sync.Once
	return func() { once.Do(func() { close(stop); wg.Wait() }) }
}

// path is a file named on the command line, from the folder it was given in.
func (e *env) path(p string) string {
	if filepath.IsAbs(p) {
		return p
	}
	return filepath.Join(e.cwd, p)
}
