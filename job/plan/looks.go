package plan

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"caul/job"
)

// Looks are what looks odd about an entry, by how things stood before it. The
// maker stood at the bench and is right: the entry is written all the same, and
// this is only said. What the log says against itself afterwards are NewDoubts.
func Looks(s *job.Shop, j *job.Job, en job.Entry) []string {
	switch en.Did {
	case job.DidBuy:
		return oddBought(s, en)
	case job.DidSpoil:
		if p := j.Part(en.Item); p != nil && en.Qty > p.Qty*max(1, j.Copies) {
			return []string{fmt.Sprintf("the job has only %d of %s", p.Qty*max(1, j.Copies), en.Item)}
		}
		return nil
	case job.DidUse:
		if j.CountsUses() {
			return nil
		}
		return []string{fmt.Sprintf("no check of %s is due by uses, so nothing counts them; write `every: 20 uses` beside a check in job.yaml", j.ID)}
	}
	st := j.Step(en.Step)
	if st == nil || en.Did == job.DidUndo || en.Did == job.DidNote {
		return nil
	}
	states, _ := j.States()
	then := states[st.ID]
	name := cmp.Or(st.Name, st.ID)
	zone := cmp.Or(s.Zone, time.Local)
	since := func(t time.Time) string { return t.In(zone).Format("Mon 2 Jan 15:04") }
	n, err := At(s, en.Time, 0, nil)
	if err != nil {
		n = &Now{}
	}
	blocked := func() []string {
		for _, b := range n.Blocked {
			if b.Job == j.ID && b.Step == st.ID && then.State == job.Waiting && (b.Until.IsZero() || b.Until.Sub(en.Time) > time.Minute) {
				return []string{fmt.Sprintf("%s, by the plan, %s", name, wordsOf(b))}
			}
		}
		return nil
	}
	switch en.Did {
	case job.DidBegin:
		if then.State == job.OnBench {
			if en.Time.Before(then.Begun) {
				return []string{fmt.Sprintf("%s was begun already, %s; the earlier time counts", name, since(then.Begun))}
			}
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
		return early(n, j, st, Clamped, "the glue wants the clamps on "+name+" until %s; leave it in peace, and see that it holds")
	case job.DidFinish:
		if then.State == job.Done {
			return []string{fmt.Sprintf("%s is done already, since %s; the first time stands", name, since(then.Finished))}
		}
		return append(blocked(), early(n, j, st, Cure, name+" cures until %s; it is not to be machined before")...)
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
func early(n *Now, j *job.Job, st *job.Step, k Kind, format string) []string {
	for _, t := range n.Timers {
		if t.Job == j.ID && t.Step == st.ID && t.Kind == k && t.Ready.After(n.At) {
			until := t.Ready.Format("Mon 2 Jan 15:04")
			if t.Never {
				until = "it is warmer"
			}
			return []string{fmt.Sprintf(format, until)}
		}
	}
	return nil
}

// wordsOf says what a blocked step waits for.
func wordsOf(b Blocked) string {
	if b.Until.IsZero() {
		return b.By
	}
	return fmt.Sprintf("waits until %s: %s", b.Until.Format("Mon 2 Jan 15:04"), b.By)
}

// stateNow is a step's state with its waits worked out.
func stateNow(n *Now, j *job.Job, st *job.Step, s job.State) job.State {
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
	items := s.ItemNames()
	if slices.Contains(items, en.Item) {
		return nil
	}
	if job.Nearest(en.Item, items) != "" {
		return nil // a slip of the pen is told by the log itself: Shop.Strangers
	}
	return []string{fmt.Sprintf("nothing else names %q; it counts as money spent only", en.Item)}
}

// NewDoubts are what the log says against itself since an entry, and did not
// before.
func NewDoubts(before, after *Now) []string {
	var out []string
	for _, d := range after.Doubts {
		if !slices.Contains(before.Doubts, d) {
			out = append(out, d)
		}
	}
	return out
}
