package main

import (
	"fmt"
	"slices"
	"time"

	"caul/job"
	"caul/job/plan"
)

// oddities are what looks odd about an entry before it is written. The maker
// stood at the bench and is right: the entry is written all the same, and this
// is only said. What the log says against itself afterwards is told by the fold
// of the log.
func oddities(s *job.Shop, j *job.Job, en job.Entry) []string {
	switch en.Did {
	case job.DidBuy:
		return oddBought(s, en)
	case job.DidSpoil:
		if p := j.Part(en.Item); p != nil && en.Qty > p.Qty*max(1, j.Copies) {
			return []string{fmt.Sprintf("the job has only %d of %s", p.Qty*max(1, j.Copies), en.Item)}
		}
		return nil
	}
	st := j.Step(en.Step)
	if st == nil || en.Did == job.DidUndo || en.Did == job.DidNote {
		return nil
	}
	states, _ := j.States()
	then := states[st.ID]
	name := stepName(st)
	since := func(t time.Time) string { return t.In(zoneOf(s)).Format("Mon 2 Jan 15:04") }
	n, err := plan.At(s, en.Time, 0, nil)
	if err != nil {
		n = &plan.Now{}
	}
	blocked := func() []string {
		for _, b := range n.Blocked {
			if b.Job == j.ID && b.Step == st.ID && then.State == job.Waiting {
				return []string{fmt.Sprintf("%s, by the plan, %s", name, wordsOf(b))}
			}
		}
		return nil
	}
	switch en.Did {
	case job.DidBegin:
		if then.State == job.OnBench {
			return []string{fmt.Sprintf("%s is on the bench already, since %s; the first time stands", name, since(then.Begun))}
		}
		return blocked()
	case job.DidClamp:
		out := blocked()
		if st.GlueUp == nil {
			out = append(out, fmt.Sprintf("%s is no glue-up in job.yaml, so nothing says when its clamps may come off", name))
		}
		return out
	case job.DidUnclamp:
		if then.State == job.Curing || then.State == job.Done && !then.Unclamped.IsZero() {
			return []string{fmt.Sprintf("the clamps of %s are off already, since %s", name, since(then.Unclamped))}
		}
		return early(n, j, st, plan.Clamped, "the glue wants the clamps on "+name+" until %s; leave it in peace, and see that it holds")
	case job.DidFinish:
		if then.State == job.Done {
			return []string{fmt.Sprintf("%s is done already, since %s; the first time stands", name, since(then.Finished))}
		}
		return append(blocked(), early(n, j, st, plan.Cure, name+" cures until %s; it is not to be machined before")...)
	case job.DidAside:
		if then.State == job.Aside {
			return []string{name + " is set aside already"}
		}
	case job.DidResume:
		if then.State != job.Aside {
			return []string{fmt.Sprintf("%s was not set aside; it is %s", name, stateNow(n, j, st, then.State))}
		}
	}
	return nil
}

// early says that something about a step runs for a while yet.
func early(n *plan.Now, j *job.Job, st *job.Step, k plan.Kind, format string) []string {
	for _, t := range n.Timers {
		if t.Job == j.ID && t.Step == st.ID && t.Kind == k && t.Ready.After(n.At) {
			return []string{fmt.Sprintf(format, t.Ready.Format("Mon 2 Jan 15:04"))}
		}
	}
	return nil
}

// wordsOf says what a blocked step waits for.
func wordsOf(b plan.Blocked) string {
	if b.Until.IsZero() {
		return b.By
	}
	return fmt.Sprintf("waits until %s: %s", b.Until.Format("Mon 2 Jan 15:04"), b.By)
}

// stateNow is a step's state with its waits worked out.
func stateNow(n *plan.Now, j *job.Job, st *job.Step, s job.State) job.State {
	if s != job.Waiting {
		return s
	}
	for _, b := range n.Blocked {
		if b.Job == j.ID && b.Step == st.ID {
			return job.Waiting
		}
	}
	return job.Ready
}

// oddBought says that nothing names what was bought, so that only its money
// counts.
func oddBought(s *job.Shop, en job.Entry) []string {
	items := shopItems(s)
	if slices.Contains(items, en.Item) {
		return nil
	}
	text := fmt.Sprintf("nothing else names %q; it counts as money spent only", en.Item)
	if n := job.Nearest(en.Item, items); n != "" {
		text += fmt.Sprintf("; did you mean %q? `caul undo` takes it back", n)
	}
	return []string{text}
}
