package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"caul/job"
)

// findJob is the named job, or the only one there is.
func findJob(s *job.Shop, id string) (*job.Job, error) {
	if id == "" && len(s.Jobs) == 1 {
		return s.Jobs[0], nil
	}
	if len(s.Jobs) == 0 {
		return nil, &fault{code: exitUsage, msg: "there is no job yet whose log could keep it", hint: "make one with `caul new job ID`"}
	}
	names, _ := pickJobs(s, nil)
	if id == "" {
		return nil, &fault{code: exitUsage, msg: "which job is it for?", hint: "name it with --job: " + strings.Join(names, ", ")}
	}
	if j := s.Job(id); j != nil {
		return j, nil
	}
	return nil, &fault{code: exitUsage, msg: fmt.Sprintf("no job %q in this shop", id), hint: meant(id, names, "the jobs are")}
}

// meant is a hint that names what a mistyped word was to be, or lists what
// there is.
func meant(word string, known []string, list string) string {
	if n := job.Nearest(word, known); n != "" {
		return "did you mean " + n + "?"
	}
	const most = 30
	switch {
	case len(known) == 0:
		return ""
	case len(known) > most:
		return fmt.Sprintf("%s: %s and %d more", list, strings.Join(known[:most], ", "), len(known)-most)
	}
	return list + ": " + strings.Join(known, ", ")
}

// findStep is the step an argument names: STEP where only one job has it, or
// JOB/STEP.
func findStep(s *job.Shop, arg, jobID string) (*job.Step, *job.Job, error) {
	j, id, err := findOwn(s, arg, jobID, "step", (*job.Job).StepIDs)
	if err != nil {
		return nil, nil, err
	}
	return j.Step(id), j, nil
}

// findOwn finds the one job that has something of its own by a name that may
// stand as NAME or JOB/NAME.
func findOwn(s *job.Shop, arg, jobID, what string, ids func(*job.Job) []string) (*job.Job, string, error) {
	name := arg
	if jb, own, ok := strings.Cut(arg, "/"); ok && s.Job(jb) != nil {
		jobID, name = jb, own
	}
	if jobID != "" {
		if _, err := findJob(s, jobID); err != nil {
			return nil, "", err
		}
	}
	var hits []*job.Job
	var in, full, plain []string
	for _, j := range s.Jobs {
		if jobID != "" && j.ID != jobID {
			continue
		}
		for _, id := range ids(j) {
			full, plain = append(full, j.ID+"/"+id), append(plain, id)
			if id == name {
				hits, in = append(hits, j), append(in, j.ID+"/"+id)
			}
		}
	}
	switch len(hits) {
	case 1:
		return hits[0], name, nil
	case 0:
		hint := meant("", full, "the "+what+"s are")
		if len(full) == 0 {
			hint = fmt.Sprintf("no %ss are written yet; they belong in the job's job.yaml", what)
		}
		if i := slices.Index(plain, job.Nearest(name, plain)); i >= 0 {
			hint = fmt.Sprintf("did you mean %s?", full[i])
		}
		return nil, "", &fault{code: exitUsage, msg: fmt.Sprintf("no %s %q", what, arg), hint: hint}
	}
	return nil, "", &fault{code: exitUsage, msg: fmt.Sprintf("more than one job has a %s %q", what, name), hint: "say which: " + strings.Join(in, ", ")}
}

func checkJob(s *job.Shop, args []string, o logOptions) (*job.Job, error) {
	j, _, err := findOwn(s, args[0], o.jobID, "check", checkIDs)
	return j, err
}

func checkIDs(j *job.Job) []string {
	var out []string
	for i := range j.Checks {
		out = append(out, j.Checks[i].ID)
	}
	return out
}

func partJob(s *job.Shop, args []string, o logOptions) (*job.Job, error) {
	j, _, err := findOwn(s, args[0], o.jobID, "part", partIDs)
	return j, err
}

// usedJob is the job that is named, the only one there is, or the only one with
// a check that is due by uses.
func usedJob(s *job.Shop, args []string, o logOptions) (*job.Job, error) {
	switch {
	case len(args) > 0 && o.jobID != "" && o.jobID != args[0]:
		return nil, usage("two jobs are named: %s, and --job %s", args[0], o.jobID)
	case len(args) > 0:
		return findJob(s, args[0])
	case o.jobID == "":
		var by []*job.Job
		for _, j := range s.Jobs {
			if j.CountsUses() {
				by = append(by, j)
			}
		}
		if len(by) == 1 {
			return by[0], nil
		}
	}
	return findJob(s, o.jobID)
}

// itemJob is the only job that needs an item, else the one that is named.
func itemJob(s *job.Shop, args []string, o logOptions) (*job.Job, error) {
	if o.jobID == "" {
		var need []*job.Job
		for _, j := range s.Jobs {
			if slices.Contains(j.ItemNames(s), args[0]) {
				need = append(need, j)
			}
		}
		if len(need) == 1 {
			return need[0], nil
		}
	}
	return findJob(s, o.jobID)
}

// airJob is the job whose log keeps the shop's air: the air is the shop's and
// any log would do, so it goes where somebody will look for it, to the job that
// something is glued or open in, else to the one last written to.
func airJob(s *job.Shop, _ []string, o logOptions) (*job.Job, error) {
	if o.jobID == "" && len(s.Jobs) > 1 {
		for _, want := range []job.State{job.InClamps, job.Curing, job.OnBench} {
			for _, j := range s.Jobs {
				if hasState(j, want) {
					return j, nil
				}
			}
		}
		if j := newest(s); j != nil {
			return j, nil
		}
		return s.Jobs[0], nil
	}
	return findJob(s, o.jobID)
}

// benchJob is the only job with a step on the bench, where none is named.
func benchJob(s *job.Shop, _ []string, o logOptions) (*job.Job, error) {
	if o.jobID == "" && len(s.Jobs) > 1 {
		var on []*job.Job
		for _, j := range s.Jobs {
			if hasState(j, job.OnBench) {
				on = append(on, j)
			}
		}
		if len(on) == 1 {
			return on[0], nil
		}
	}
	return findJob(s, o.jobID)
}

func hasState(j *job.Job, want job.State) bool {
	states, _ := j.States()
	for _, st := range states {
		if st.State == want {
			return true
		}
	}
	return false
}

// undoJob is the job of the entry that is named, else the one that this machine
// wrote to last.
func undoJob(s *job.Shop, args []string, o logOptions) (*job.Job, error) {
	if len(args) > 0 {
		return namedEntryJob(s, args[0], o)
	}
	if o.jobID == "" {
		if j, _ := job.LastWritten(s.Jobs, machineName(s.Dir)); j != nil {
			return j, nil
		}
		if j, _ := job.LastWritten(s.Jobs, ""); j != nil {
			return j, nil
		}
	}
	return findJob(s, o.jobID)
}

// namedEntryJob is the job whose log has an entry, given as ENTRY, JOB/ENTRY or
// the path of its file.
func namedEntryJob(s *job.Shop, arg string, o logOptions) (*job.Job, error) {
	id, of := entryID(arg), o.jobID
	parts := strings.Split(strings.ReplaceAll(arg, "\\", "/"), "/")
	for _, p := range parts[:len(parts)-1] {
		if of == "" && s.Job(p) != nil {
			of = p
		}
	}
	var hits []*job.Job
	var full, plain []string
	for _, j := range s.Jobs {
		if of != "" && j.ID != of {
			continue
		}
		for i := range j.Log {
			full, plain = append(full, j.ID+"/"+j.Log[i].ID), append(plain, j.Log[i].ID)
		}
		if entryOf(j, id) != nil {
			hits = append(hits, j)
		}
	}
	switch {
	case len(hits) == 1:
		return hits[0], nil
	case len(hits) > 1:
		return nil, &fault{code: exitUsage, msg: fmt.Sprintf("more than one job has an entry %q", id), hint: fmt.Sprintf("say which, as %s/%s", hits[0].ID, id)}
	}
	hint := "an entry is named as its file under the job's log/ is"
	if i := slices.Index(plain, job.Nearest(id, plain)); i >= 0 {
		hint = fmt.Sprintf("did you mean %s?", full[i])
	} else if j, last := job.LastWritten(s.Jobs, ""); last != nil {
		hint += fmt.Sprintf("; the last is %s/%s", j.ID, last.ID)
	}
	return nil, &fault{code: exitUsage, msg: fmt.Sprintf("no entry %q in the log", id), hint: hint}
}

// newest is the job whose log has the newest entry that counts, or nil.
func newest(s *job.Shop) *job.Job {
	var best *job.Job
	var at time.Time
	for _, j := range s.Jobs {
		if es := j.Counting(); len(es) > 0 && es[len(es)-1].Time.After(at) {
			best, at = j, es[len(es)-1].Time
		}
	}
	return best
}
