package plan

import (
	"context"
	"math/rand"
	"sort"

	"caul/job/schedule"
)

// A shop with much to do loses hours to set-ups that a maker would save by
// cutting everything at one fence before the fence is moved, whichever job it
// belongs to. The scheduler's own first plans look at one step at a time; this
// one works through the hours as a maker would, and gives the scheduler the
// best of many such days as a plan to begin from. Nothing is proved here.

// batchRuns is how many plans are drawn, for so many activities: each costs
// their square.
func batchRuns(n int) int { return min(300, max(10, 22_000_000/max(n*n, 1))) }

// batcher walks through the hours once: whenever the maker is free it takes up
// the step that costs the least set-up and idle time for the most that waits
// behind it.
type batcher struct {
	p    *schedule.Problem
	into [][]int // lags to each activity
	tail []float64

	start, end []int64
	placed     []bool
	use        []int   // of each resource at present
	until      [][]int // holds that end with each activity, as index into holds
	holds      []schedule.Hold
	state      []int
	weigh      weights
	noise      []float64
}

// weights are what counts for how much when the next step is chosen, in
// minutes.
type weights struct{ change, idle, tail, glue, rest float64 }

// batch is the best of many plans drawn for the problem, or nil. The same
// problem gives the same plan.
func (t *task) batch(ctx context.Context, tell func(finish int64)) []int64 {
	b := newBatcher(&t.prob)
	r := rand.New(rand.NewSource(1))
	n := len(t.prob.Activities)
	var best []int64
	var value [schedule.NumLevels]int64
	weigh, noise := weights{change: 3, idle: 3, tail: 1, glue: 60, rest: 1}, make([]float64, n)
	for k := range batchRuns(n) {
		if ctx.Err() != nil {
			break
		}
		b.weigh, b.noise = weigh, noise
		if k > 0 {
			f := func(x float64) float64 { return x * (0.6 + 0.9*r.Float64()) }
			b.weigh = weights{f(weigh.change), f(weigh.idle), f(weigh.tail), f(weigh.glue), f(weigh.rest)}
			b.noise = append([]float64(nil), noise...)
			for range 1 + n/20 {
				b.noise[r.Intn(n)] = 120 * r.NormFloat64()
			}
		}
		if !b.run() {
			continue
		}
		out, err := schedule.Evaluate(&t.prob, b.start)
		if err != nil || best != nil && !noWorse(out.Values, value) {
			continue
		}
		if best == nil || out.Values[schedule.Finish] < value[schedule.Finish] {
			tell(out.Values[schedule.Finish])
		}
		best, value = append([]int64(nil), b.start...), out.Values
		weigh, noise = b.weigh, b.noise
	}
	return best
}

func newBatcher(p *schedule.Problem) *batcher {
	n := len(p.Activities)
	b := &batcher{p: p, into: make([][]int, n), tail: make([]float64, n), start: make([]int64, n), end: make([]int64, n),
		placed: make([]bool, n), use: make([]int, len(p.Resources)), until: make([][]int, n), state: make([]int, len(p.Setups))}
	next := make([][]int, n)
	for k, l := range p.Lags {
		b.into[l.To] = append(b.into[l.To], k)
		next[l.From] = append(next[l.From], k)
	}
	for i := range p.Activities {
		for _, h := range p.Activities[i].Holds {
			b.until[h.Until] = append(b.until[h.Until], len(b.holds))
			b.holds = append(b.holds, h)
		}
	}
	// What waits behind each activity: the longest chain of work and waits.
	var walk func(i, depth int) float64
	walk = func(i, depth int) float64 {
		if b.tail[i] > 0 || depth > n {
			return b.tail[i]
		}
		far := 0.0
		for _, k := range next[i] {
			l := &p.Lags[k]
			wait := float64(max(l.Min, 0))
			if l.Curve != nil {
				wait = float64(l.Curve.At(0))
			}
			far = max(far, wait/10+walk(l.To, depth+1)) // waits run through the night
		}
		b.tail[i] = 1 + float64(p.Activities[i].Work) + far
		return b.tail[i]
	}
	for i := range p.Activities {
		walk(i, 0)
	}
	return b
}

func (b *batcher) run() bool {
	p := b.p
	for i := range b.placed {
		b.placed[i] = false
	}
	for r := range b.use {
		b.use[r] = 0
	}
	for k, s := range p.Setups {
		b.state[k] = s.Initial
	}
	left, free := len(p.Activities), int64(0)
	for i := range p.Activities {
		a := &p.Activities[i]
		if a.Fixed == nil {
			continue
		}
		b.put(i, *a.Fixed)
		if a.FixedEnd != nil {
			b.end[i] = *a.FixedEnd
		}
		if b.hands(i) {
			free = max(free, b.end[i])
		}
		left--
	}
	for left > 0 {
		best, bestAt, bestScore := -1, int64(0), 0.0
		for i := range p.Activities {
			if b.placed[i] {
				continue
			}
			ready, latest, ok := b.ready(i)
			if !ok {
				continue
			}
			if !b.hands(i) {
				// what only takes time is where it is as soon as it may be
				b.put(i, ready)
				left--
				best = -2
				break
			}
			at, change, ok := b.at(i, free, ready)
			if !ok || latest > 0 && at > latest {
				if ok {
					return false
				}
				continue
			}
			idle := b.between(p.Activities[i].Calendar, free, at) - change
			s := b.weigh.change*float64(change) + b.weigh.idle*float64(idle) - b.weigh.tail*b.tail[i]/10 + b.noise[i] + float64(at-free)/100
			if len(p.Activities[i].Holds) > 0 || len(b.until[i]) > 0 {
				s -= b.weigh.glue
			}
			if rest := b.rest(p.Activities[i].Calendar, at); rest < 60 && !p.Activities[i].Split {
				s += b.weigh.rest * float64(rest-p.Activities[i].Work) // fill the session
			}
			if latest > 0 && latest-at < 120 {
				s -= 1e6
			}
			if best < 0 || s < bestScore {
				best, bestAt, bestScore = i, at, s
			}
		}
		switch {
		case best == -2:
			continue
		case best < 0:
			return false
		}
		b.put(best, bestAt)
		free = b.end[best]
		left--
	}
	return true
}

// hands tells whether an activity takes the maker.
func (b *batcher) hands(i int) bool {
	for _, q := range b.p.Activities[i].Needs {
		if q.Resource == maker && q.Qty > 0 {
			return true
		}
	}
	return false
}

// ready gives the earliest start that the lags allow, and the latest where
// there is one; false while something that has to come before is not placed, or
// clamps and places are wanting.
func (b *batcher) ready(i int) (from, latest int64, ok bool) {
	a := &b.p.Activities[i]
	from = max(a.Release, 0)
	if a.Latest > 0 {
		latest = a.Latest - a.Work
	}
	for _, k := range b.into[i] {
		l := &b.p.Lags[k]
		if !b.placed[l.From] {
			return 0, 0, false
		}
		at := b.start[l.From]
		if l.FromEnd {
			at = b.end[l.From]
		}
		least := at + l.Min
		if l.Curve != nil {
			least = l.Curve.At(at)
		}
		if l.ToEnd {
			least -= a.Work
		}
		from = max(from, least)
		if most := at + l.Max; l.HasMax && (latest == 0 || most < latest) {
			latest = most
		}
	}
	for _, q := range a.Needs {
		if q.Resource != maker && b.use[q.Resource]+q.Qty > b.p.Resources[q.Resource].Capacity {
			return 0, 0, false
		}
	}
	for _, h := range a.Holds {
		if b.use[h.Resource]+h.Qty > b.p.Resources[h.Resource].Capacity {
			return 0, 0, false
		}
	}
	return from, latest, true
}

// at gives the earliest start once the maker is free, and the minutes of
// set-up before it.
func (b *batcher) at(i int, free, ready int64) (at, change int64, ok bool) {
	a := &b.p.Activities[i]
	for _, s := range a.States {
		change += b.p.Setups[s.Setup].Change[b.state[s.Setup]][s.State]
	}
	if a.Calendar == schedule.Always {
		return max(free, ready) + change, change, true
	}
	ws := b.p.Calendars[a.Calendar].Windows
	from, todo := free, change
	for k := b.window(a.Calendar, free); k < len(ws); k++ {
		w := ws[k]
		from = max(from, w.Open)
		if todo > w.Close-from {
			todo -= max(w.Close-from, 0)
			continue
		}
		s := max(from+todo, ready, w.Open)
		if a.Split && s < w.Close || s+a.Work <= w.Close {
			return s, change, true
		}
		// The rest of the window stays empty, or takes the change of set-up alone.
		from, todo = w.Close, 0
	}
	return 0, 0, false
}

// window is the first window of a calendar that is not over at a time.
func (b *batcher) window(cal int, t int64) int {
	ws := b.p.Calendars[cal].Windows
	return sort.Search(len(ws), func(k int) bool { return ws[k].Close > t })
}

// between are the open minutes from one time to another.
func (b *batcher) between(cal int, from, to int64) int64 {
	if cal == schedule.Always {
		return max(to-from, 0)
	}
	n := int64(0)
	ws := b.p.Calendars[cal].Windows
	for k := b.window(cal, from); k < len(ws) && ws[k].Open < to; k++ {
		n += min(ws[k].Close, to) - max(ws[k].Open, from)
	}
	return n
}

// rest are the minutes left of the window that a time lies in.
func (b *batcher) rest(cal int, at int64) int64 {
	if cal == schedule.Always {
		return 1 << 30
	}
	ws := b.p.Calendars[cal].Windows
	if k := b.window(cal, at); k < len(ws) {
		return ws[k].Close - at
	}
	return 1 << 30
}

// put places an activity and takes what it holds.
func (b *batcher) put(i int, at int64) {
	a := &b.p.Activities[i]
	b.start[i], b.placed[i] = at, true
	b.end[i] = at + a.Work
	if a.Stretch != nil {
		b.end[i] = a.Stretch.At(at)
	}
	if a.Split && a.Calendar != schedule.Always {
		ws, work, from := b.p.Calendars[a.Calendar].Windows, a.Work, at
		for k := b.window(a.Calendar, at); k < len(ws) && work > 0; k++ {
			from = max(from, ws[k].Open)
			d := min(work, ws[k].Close-from)
			work -= d
			b.end[i] = from + d
		}
	}
	for _, s := range a.States {
		b.state[s.Setup] = s.State
	}
	for _, h := range a.Holds {
		b.use[h.Resource] += h.Qty
	}
	for _, k := range b.until[i] {
		b.use[b.holds[k].Resource] -= b.holds[k].Qty
	}
}
