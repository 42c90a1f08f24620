package schedule

import (
	"fmt"
	"strconv"
)

// This file checks single lemmas of a proof log against the problem, by plain
// evaluation of what the problem says.

func newReplay(p *Problem) *replay {
	n := len(p.Activities)
	c := &replay{p: p, n: n, what: map[int]string{}, arg: map[int]int{}, timeOf: map[int]int{}, pairs: map[int][2]occupation{},
		val: map[int]int8{0: 1}, rules: map[int]ruling{}, bound: map[int]int64{}, held: map[int]int64{}, paths: map[int][]int64{},
		weights: map[int][]int64{}, holding: map[int]int64{}}
	for i := 0; i < n; i++ {
		c.allowed = append(c.allowed, c.starts(i))
		if s := c.allowed[i]; len(s) > 0 {
			c.lb = append(c.lb, s[0].lo, -s[len(s)-1].hi)
		} else {
			c.lb = append(c.lb, 1, 0)
			c.dead = true
		}
	}
	if !c.dead {
		c.settle()
	}
	return c
}

// starts lists the allowed starts of an activity.
func (c *replay) starts(i int) []span {
	a := &c.p.Activities[i]
	try := func(s int64) (int64, bool) {
		k := checker{p: c.p, start: make([]int64, c.n), end: make([]int64, c.n)}
		k.start[i] = s
		return k.end[i], k.activity(i) == nil
	}
	if a.Fixed != nil {
		if _, ok := try(*a.Fixed); ok {
			return []span{{*a.Fixed, *a.Fixed}}
		}
		return nil
	}
	var raw []span
	switch {
	case a.Stretch != nil || a.Calendar == Always:
		raw = []span{{a.Release, c.p.Horizon}}
	default:
		for _, w := range c.p.Calendars[a.Calendar].Windows {
			if a.Split && a.Work > 0 {
				raw = append(raw, span{w.Open, w.Close - 1})
			} else {
				raw = append(raw, span{w.Open, w.Close - a.Work})
			}
		}
	}
	var out []span
	for _, s := range raw {
		s.lo = max(s.lo, a.Release)
		if s.lo > s.hi {
			continue
		}
		if _, ok := try(s.lo); !ok { // later starts end later
			continue
		}
		lo, hi := s.lo, s.hi
		for lo < hi {
			mid := lo + (hi-lo+1)/2
			if _, ok := try(mid); ok {
				lo = mid
			} else {
				hi = mid - 1
			}
		}
		out = append(out, span{s.lo, lo})
	}
	return out
}

func (c *replay) endAt(i int, s int64) int64 {
	a := &c.p.Activities[i]
	switch {
	case a.FixedEnd != nil:
		return *a.FixedEnd
	case a.Stretch != nil:
		return a.Stretch.At(s)
	case a.Split && a.Calendar != Always && a.Work > 0:
		e, _ := workFrom(c.p.Calendars[a.Calendar].Windows, s, a.Work)
		return e
	}
	return s + a.Work
}

// round raises v to what direction b can have; far beyond when there is none.
func (c *replay) round(b int, v int64) int64 {
	if b/2 >= c.n {
		return v
	}
	if b%2 == 0 {
		return c.nextStart(b/2, v)
	}
	return -c.prevStart(b/2, -v)
}

func (c *replay) nextStart(i int, t int64) int64 {
	for _, s := range c.allowed[i] {
		if t <= s.hi {
			return max(t, s.lo)
		}
	}
	return inf
}

func (c *replay) prevStart(i int, t int64) int64 {
	for k := len(c.allowed[i]) - 1; k >= 0; k-- {
		if s := c.allowed[i][k]; t >= s.lo {
			return min(t, s.hi)
		}
	}
	return -inf
}

// settle passes the lags on between the first bounds until nothing changes.
func (c *replay) settle() {
	for again := true; again && !c.dead; {
		again = false
		for k := range c.p.Lags {
			l := &c.p.Lags[k]
			again = c.narrow(l.From, l.To) || again
			if l.HasMax {
				again = c.narrow(l.To, l.From) || again
			}
		}
		for i, a := range c.p.Activities {
			for _, h := range a.Holds {
				again = c.narrow(i, h.Until) || again
			}
		}
	}
}

// narrow raises the first start of to and lowers the last of from as far as
// they break a lag between them, by halving.
func (c *replay) narrow(from, to int) bool {
	changed := false
	if c.dead || c.broken(from, to, c.lb[2*from], -c.lb[2*to+1]) {
		c.dead = true
		return false
	}
	lo, hi := c.lb[2*to], -c.lb[2*to+1]
	if c.broken(from, to, c.lb[2*from], lo) {
		for lo < hi { // the first start that does not break it
			mid := lo + (hi-lo)/2
			if t := c.prevStart(to, mid); t < lo || c.broken(from, to, c.lb[2*from], t) {
				lo = mid + 1
			} else {
				hi = t
			}
		}
		c.lb[2*to], changed = c.nextStart(to, lo), true
	}
	lo, hi = c.lb[2*from], -c.lb[2*from+1]
	if c.broken(from, to, hi, -c.lb[2*to+1]) {
		for lo < hi {
			mid := lo + (hi-lo+1)/2
			if t := c.nextStart(from, mid); t > hi || c.broken(from, to, t, -c.lb[2*to+1]) {
				hi = mid - 1
			} else {
				lo = t
			}
		}
		c.lb[2*from+1], changed = -c.prevStart(from, lo), true
	}
	return changed
}

// broken reports whether some lag forbids that from starts at fs or later while
// to starts at ts or earlier.
func (c *replay) broken(from, to int, fs, ts int64) bool {
	if from < c.n && to < c.n && (fs >= inf || ts <= -inf) {
		return true
	}
	switch {
	case from < c.n && to >= c.n && c.what[to] == "finish":
		return ts < c.endAt(from, fs)
	case to >= c.n && c.what[to] == "late":
		pr := &c.p.Projects[c.arg[to]]
		for _, m := range pr.Members {
			if m == from && ts < c.endAt(from, fs)-pr.Due {
				return true
			}
		}
		return false
	case from >= c.n && to >= c.n && c.what[from] == "total" && c.what[to] == "finish":
		return c.tooMuch(c.arg[from], fs, ts)
	case from >= c.n || to >= c.n:
		return false
	}
	both := c.p.Activities[from].Fixed != nil && c.p.Activities[to].Fixed != nil
	if both {
		return false
	}
	at := func(i int, end bool, s int64) int64 {
		if end {
			return c.endAt(i, s)
		}
		return s
	}
	for k := range c.p.Lags {
		l := &c.p.Lags[k]
		if l.From == from && l.To == to {
			least := at(from, l.FromEnd, fs) + l.Min
			if l.Curve != nil {
				least = l.Curve.At(at(from, l.FromEnd, fs))
			}
			if at(to, l.ToEnd, ts) < least {
				return true
			}
		}
		if l.HasMax && l.From == to && l.To == from && at(from, l.ToEnd, fs) > at(to, l.FromEnd, ts)+l.Max {
			return true
		}
	}
	for _, h := range c.p.Activities[from].Holds {
		if h.Until == to && c.endAt(to, ts) < c.endAt(from, fs) {
			return true
		}
	}
	return false
}

func (c *replay) variable(fs []string) error {
	if len(fs) < 2 {
		return fmt.Errorf("bad variable")
	}
	x, err := strconv.Atoi(fs[0])
	if err != nil || x < c.n || x > c.n+4*(c.n+len(c.p.Projects)+4) || c.what[x] != "" {
		return fmt.Errorf("bad variable %q", fs[0])
	}
	args, err := parseInts(fs[2:])
	if err != nil || len(args) > 1 {
		return fmt.Errorf("bad variable")
	}
	for len(c.lb) <= 2*x+1 {
		c.lb = append(c.lb, 0, -inf)
	}
	c.what[x] = fs[1]
	if len(args) > 0 {
		c.arg[x] = args[0]
	}
	lo, hi := int64(0), inf
	switch fs[1] {
	case "finish":
		hi = c.p.Horizon
	case "late":
		if len(args) != 1 || args[0] < 0 || args[0] >= len(c.p.Projects) || c.p.Projects[args[0]].Due == 0 {
			return fmt.Errorf("bad lateness variable")
		}
		hi = max(0, c.p.Horizon-c.p.Projects[args[0]].Due)
	case "startsum":
		lo, hi = 0, 0
		for i := 0; i < c.n; i++ {
			lo += c.lb[2*i]
			hi -= c.lb[2*i+1]
		}
		hi = max(lo, hi)
	case "origin":
		hi = 0
	case "time", "count":
		if len(args) != 1 || args[0] < 0 || args[0] >= c.n {
			return fmt.Errorf("bad set-up variable")
		}
		if fs[1] == "time" {
			c.timeOf[args[0]] = x
		}
	case "total":
		if len(args) != 1 || args[0] < 0 || args[0] >= len(c.p.Resources) {
			return fmt.Errorf("bad set-up variable")
		}
		lo, _ = c.entries(args[0])
	case "changes":
		for r := range c.p.Resources {
			_, count := c.entries(r)
			lo += count
		}
	case "lateness":
	default:
		return fmt.Errorf("unknown variable %q", fs[1])
	}
	c.lb[2*x], c.lb[2*x+1] = lo, -hi
	return nil
}

// qty is how much of a resource an occupation takes: from the start of a to the
// end of u.
func (c *replay) qty(r, a, u int) int {
	q := 0
	if a == u {
		for _, nd := range c.p.Activities[a].Needs {
			if nd.Resource == r {
				q += nd.Qty
			}
		}
	}
	for _, h := range c.p.Activities[a].Holds {
		if h.Resource == r && h.Until == u {
			q += h.Qty
		}
	}
	return q
}

func (c *replay) solid(a int) bool {
	act := &c.p.Activities[a]
	if act.Fixed != nil {
		return c.endAt(a, *act.Fixed) > *act.Fixed
	}
	return act.Work > 0 && act.Stretch == nil
}

func (c *replay) literal(fs []string) error {
	v, err := parseInts(fs)
	if err != nil || len(v) != 6 || v[0] < 1 || c.pairs[v[0]] != [2]occupation{} {
		return fmt.Errorf("bad order literal")
	}
	for _, i := range v[1:5] {
		if i < 0 || i >= c.n {
			return fmt.Errorf("bad order literal")
		}
	}
	u1, a2, u2, a1, r := v[1], v[2], v[3], v[4], v[5]
	if r < 0 || r >= len(c.p.Resources) || c.qty(r, a1, u1) == 0 || c.qty(r, a2, u2) == 0 ||
		c.qty(r, a1, u1)+c.qty(r, a2, u2) <= c.p.Resources[r].Capacity || !c.solid(a1) || !c.solid(a2) {
		return fmt.Errorf("these occupations can overlap")
	}
	// below tick 0 capacities do not count
	if -c.lb[2*u1+1] < 0 || -c.lb[2*u2+1] < 0 {
		if c.p.Activities[u1].Fixed != nil && c.endAt(u1, *c.p.Activities[u1].Fixed) <= 0 || c.p.Activities[u2].Fixed != nil && c.endAt(u2, *c.p.Activities[u2].Fixed) <= 0 {
			return fmt.Errorf("an occupation before tick 0 can overlap")
		}
	}
	c.pairs[v[0]] = [2]occupation{{a1, u1}, {a2, u2}}
	return nil
}

// says reports whether a literal means that u ends before a starts.
func (c *replay) says(l lit, u, a int) bool {
	if l == trueLit {
		return c.surely(u, a)
	}
	pr, ok := c.pairs[int(l.v())]
	if !ok {
		return false
	}
	if l.neg() {
		return pr[1].u == u && pr[0].a == a
	}
	return pr[0].u == u && pr[1].a == a
}

// surely reports whether u ends before a starts in every schedule.
func (c *replay) surely(u, a int) bool {
	if c.what[u] == "origin" {
		return true
	}
	if u >= c.n || a >= c.n {
		return false
	}
	if c.endAt(u, -c.lb[2*u+1]) <= c.lb[2*a] {
		return true
	}
	fu, fa := c.p.Activities[u].Fixed, c.p.Activities[a].Fixed
	if fu != nil && fa != nil {
		return *fu < *fa || *fu == *fa && u < a
	}
	return c.path(u)[2*a] >= 0
}

// path gives the least time from the end of u to every moment (2i: the start of
// i, 2i+1: its end) that the lags force whatever the hours.
func (c *replay) path(u int) []int64 {
	if d, ok := c.paths[u]; ok {
		return d
	}
	d := make([]int64, 2*c.n)
	for i := range d {
		d[i] = -inf
	}
	d[2*u+1] = 0
	relax := func(from, to int, w int64) bool {
		if d[from] > -inf && d[from]+w > d[to] {
			d[to] = d[from] + w
			return true
		}
		return false
	}
	for round, again := 0, true; again && round <= 2*c.n; round++ {
		again = false
		for i := range c.p.Activities {
			a := &c.p.Activities[i]
			switch {
			case a.Fixed != nil:
				w := c.endAt(i, *a.Fixed) - *a.Fixed
				again = relax(2*i, 2*i+1, w) || again
				again = relax(2*i+1, 2*i, -w) || again
			case a.Stretch != nil:
				again = relax(2*i, 2*i+1, 0) || again
			default:
				again = relax(2*i, 2*i+1, a.Work) || again
				if !a.Split || a.Calendar == Always || a.Work == 0 {
					again = relax(2*i+1, 2*i, -a.Work) || again
				}
			}
			for _, h := range a.Holds {
				if a.Fixed == nil || c.p.Activities[h.Until].Fixed == nil {
					again = relax(2*i+1, 2*h.Until+1, 0) || again
				}
			}
		}
		for k := range c.p.Lags {
			l := &c.p.Lags[k]
			if c.p.Activities[l.From].Fixed != nil && c.p.Activities[l.To].Fixed != nil {
				continue
			}
			f, t, w := 2*l.From, 2*l.To, l.Min
			if l.FromEnd {
				f++
			}
			if l.ToEnd {
				t++
			}
			if l.Curve == nil {
				again = relax(f, t, w) || again
			} else if _, ok := l.Curve.early(); ok {
				again = relax(f, t, 0) || again
			}
			if l.HasMax {
				again = relax(t, f, -l.Max) || again
			}
		}
	}
	c.paths[u] = d
	return d
}
