package site

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"caul/job"
	"caul/job/proof"
)

// Save remembers a site that was drawn and written, for the next Recall. That
// it could not be is no fault of the site: the next drawing takes longer.
func (m *Memory) Save(in Input, s *Site) error {
	if m == nil {
		return nil
	}
	busy := map[string]bool{}
	if in.Plan != nil {
		for _, it := range in.Plan.Items {
			busy[it.Job] = true
		}
	}
	if in.Live != nil {
		for _, t := range in.Live.Timers {
			busy[t.Job] = true
		}
		for _, c := range in.Live.OnBench {
			busy[c.Job] = true
		}
		for _, c := range in.Live.CanDo {
			busy[c.Job] = true
		}
	}
	r := remembered{Key: m.key}
	fresh := false
	var st stamper
	for _, j := range in.Shop.Jobs {
		if h := m.held[j.ID]; h != nil {
			r.Jobs = append(r.Jobs, h)
			continue
		}
		in0, known := m.seen[j.ID]
		d := s.jobs[j.ID]
		if !known || busy[j.ID] || d == nil || !atRest(j, in.Now) {
			continue
		}
		out, ok := st.tree(filepath.Join(m.o.Out, "jobs", j.ID), time.Time{})
		if !ok {
			continue
		}
		h := hold(in, j, d)
		h.In, h.Out = in0, out
		h.Lines = s.lines["jobs/"+j.ID+"/"]
		if err := m.putFeed(j.ID, d.feed); err != nil {
			return err
		}
		r.Jobs = append(r.Jobs, h)
		fresh = true
	}
	if !fresh && len(r.Jobs) == m.had {
		return nil
	}
	var b bytes.Buffer
	b.Write(make([]byte, sha256.Size))
	if err := gob.NewEncoder(&b).Encode(r); err != nil {
		return err
	}
	sum := sha256.Sum256(b.Bytes()[sha256.Size:])
	copy(b.Bytes(), sum[:])
	if err := os.MkdirAll(m.o.Dir, 0o700); err != nil {
		return err
	}
	return replaceAs(filepath.Join(m.o.Dir, "jobs"), b.Bytes(), 0o600)
}

// quiet is how long ago the last step of a finished job must be: then its
// readings of the air no longer count for the shop, and whatever was glued has
// cured.
const quiet = 21 * 24 * time.Hour

// atRest tells whether a job's pages change with nothing but its own files and
// the shop's: every step is done, for a while.
func atRest(j *job.Job, now time.Time) bool {
	states, _ := j.States()
	for _, s := range j.Steps {
		if states[s.ID].State != job.Done {
			return false
		}
	}
	for _, e := range j.Log {
		if (e.Did != job.DidNote && e.Did != job.DidRead || e.Air != nil) && now.Sub(e.Time) < quiet {
			return false
		}
	}
	return len(j.Steps) > 0
}

// hold is what is remembered of a job that was drawn.
func hold(in Input, j *job.Job, d *drawn) *held {
	zone := in.Shop.Zone
	if zone == nil {
		zone = time.UTC
	}
	// Dates are written without the year that is this year, and a reading is due
	// from its day on.
	until := time.Date(in.Now.In(zone).Year()+1, 1, 1, 0, 0, 0, 0, zone)
	for _, s := range proof.Readings(in.Shop, j, in.Now) {
		if s.Due.After(in.Now) && s.Due.Before(until) {
			until = s.Due
		}
	}
	h := &held{ID: j.ID, From: in.Now.Unix(), Until: until.Unix(), Name: j.Name, For: j.For, State: d.state, Steps: d.steps, StepsDone: d.stepsDone,
		Bare: d.bare, Card: d.card, Checks: j.Checks, Fittings: j.Fittings}
	for _, f := range d.feed {
		h.Feed = append(h.Feed, feedHead{f.id, f.at.UnixNano()})
	}
	if len(j.Checks) > 0 {
		for _, s := range j.Steps {
			h.StepIDs = append(h.StepIDs, s.ID)
		}
		for _, e := range j.Log {
			if e.Did != job.DidNote {
				h.Log = append(h.Log, heldEntry{e.ID, e.File, e.Machine, e.Did, e.Step, e.Entry, e.Check, e.Tap, e.Time})
			}
		}
	}
	return h
}

// feedText is what an entry says in the feed.
type feedText struct{ ID, Title, Facts, Body string }

func (m *Memory) feedFile(id string) string { return filepath.Join(m.o.Dir, "feed", id) }

func (m *Memory) putFeed(id string, es []feedEntry) error {
	if len(es) == 0 {
		return nil
	}
	var out []feedText
	for _, e := range es {
		out = append(out, feedText{e.id, e.title, e.facts, e.body})
	}
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(out); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(m.feedFile(id)), 0o700); err != nil {
		return err
	}
	return replaceAs(m.feedFile(id), b.Bytes(), 0o600)
}

// fillFeed puts the texts to the entries of held jobs.
func (m *Memory) fillFeed(es []feedEntry) error {
	read := map[string]map[string]feedText{}
	for i := range es {
		e := &es[i]
		if !m.Holds(e.job) {
			continue
		}
		if read[e.job] == nil {
			b, err := os.ReadFile(m.feedFile(e.job))
			if err != nil {
				return err
			}
			var ts []feedText
			if err := gob.NewDecoder(bytes.NewReader(b)).Decode(&ts); err != nil {
				return err
			}
			of := map[string]feedText{}
			for _, t := range ts {
				of[t.ID] = t
			}
			read[e.job] = of
		}
		t, ok := read[e.job][e.id]
		if !ok {
			return fmt.Errorf("the memory lacks the entry %s", e.id)
		}
		e.title, e.facts, e.body = t.Title, t.Facts, t.Body
	}
	return nil
}
