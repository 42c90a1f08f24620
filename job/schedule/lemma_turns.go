package schedule

import "slices"

// turns: the activities that take a capacity-one resource in the same hours
// start one after the other, and the k-th of them once k-1 are done. Working
// always on the ready one with the least work left has the most of them done
// at any time; even so the starts, with those of all other activities, add up
// to more than allowed.
func (g *given) turns(r, cal int) bool {
	c := g.c
	total := -1
	for x, w := range c.what {
		if w == "startsum" {
			total = x
		}
	}
	if total < 0 || c.p.Resources[r].Capacity != 1 {
		return false
	}
	type step struct{ ready, left int64 }
	var steps []step
	var firsts []int64
	sum := int64(0)
	for i := range c.p.Activities {
		a := &c.p.Activities[i]
		first := g.first(i)
		if a.Calendar != cal || c.qty(r, i, i) == 0 || a.Fixed != nil || a.Stretch != nil || a.Work == 0 || first < 0 {
			sum += first
			continue
		}
		firsts = append(firsts, first)
		steps = append(steps, step{c.openTicks(cal, 0, first), a.Work})
	}
	slices.Sort(firsts)
	var done []int64 // in open ticks
	for now := int64(0); len(steps) > 0; {
		pick, next := -1, inf
		for k, s := range steps {
			switch {
			case s.ready > now:
				next = min(next, s.ready)
			case pick < 0 || s.left < steps[pick].left:
				pick = k
			}
		}
		if pick < 0 {
			now = next
			continue
		}
		d := min(steps[pick].left, next-now)
		now += d
		if steps[pick].left -= d; steps[pick].left == 0 {
			done = append(done, now)
			steps = slices.Delete(steps, pick, pick+1)
		}
	}
	for k, f := range firsts {
		if k > 0 {
			f = max(f, c.openAfter(cal, done[k-1]))
		}
		sum += f
	}
	return sum > g.last(total)
}

// openAfter is the first open tick that has so many open ticks before it, from
// tick 0 on.
func (c *replay) openAfter(cal int, ticks int64) int64 {
	if cal == Always {
		return ticks
	}
	for _, w := range c.p.Calendars[cal].Windows {
		open := w.Close - max(w.Open, 0)
		if open <= 0 {
			continue
		}
		if ticks < open {
			return max(w.Open, 0) + ticks
		}
		ticks -= open
	}
	return inf
}
