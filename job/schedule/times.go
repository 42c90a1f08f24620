package schedule

import "sort"

// inf stands for "never"; far beyond any horizon and safe to add to.
const inf = int64(1) << 50

// span is a closed interval of allowed starts.
type span struct{ lo, hi int64 }

// openTime counts open ticks of a calendar.
type openTime struct {
	ws   []Window
	pref []int64 // open ticks before window k
}

func newOpenTime(c Calendar) *openTime {
	o := &openTime{ws: c.Windows, pref: make([]int64, len(c.Windows)+1)}
	for k, w := range c.Windows {
		o.pref[k+1] = o.pref[k] + w.Close - w.Open
	}
	return o
}

// count is the number of open ticks before t. A nil calendar is always open.
func (o *openTime) count(t int64) int64 {
	if o == nil {
		return t
	}
	k := sort.Search(len(o.ws), func(i int) bool { return o.ws[i].Open >= t }) - 1
	if k < 0 {
		return 0
	}
	return o.pref[k] + min(t, o.ws[k].Close) - o.ws[k].Open
}

// first is the earliest tick t with count(t) >= y (inf if there is none).
func (o *openTime) first(y int64) int64 {
	if o == nil {
		return y
	}
	if y <= 0 {
		return -inf
	}
	k := sort.Search(len(o.ws), func(i int) bool { return o.pref[i+1] >= y })
	if k == len(o.ws) {
		return inf
	}
	return o.ws[k].Open + y - o.pref[k]
}

// last is the latest tick t with count(t) <= y.
func (o *openTime) last(y int64) int64 {
	if o == nil {
		return y
	}
	if y < 0 {
		return -inf
	}
	k := sort.Search(len(o.ws), func(i int) bool { return o.pref[i+1] > y })
	if k == len(o.ws) {
		return inf
	}
	return o.ws[k].Open + y - o.pref[k]
}

// timing knows the allowed starts of one activity and its end for each. The
// end never falls as the start rises.
type timing struct {
	spans  []span
	work   int64
	open   *openTime // split work
	curve  *Curve
	pinned bool
	end0   int64 // end of a pinned activity
}

// next is the earliest allowed start at or after t, or inf.
func (tm *timing) next(t int64) int64 {
	sp := tm.spans
	k := 0
	if len(sp) > 1 {
		k = sort.Search(len(sp), func(i int) bool { return sp[i].hi >= t })
	} else if len(sp) == 1 && sp[0].hi < t {
		return inf
	}
	if k == len(sp) {
		return inf
	}
	return max(t, sp[k].lo)
}

// prev is the latest allowed start at or before t, or -inf.
func (tm *timing) prev(t int64) int64 {
	sp := tm.spans
	k := 0
	if len(sp) > 1 {
		k = sort.Search(len(sp), func(i int) bool { return sp[i].lo > t }) - 1
	} else if len(sp) == 0 || sp[0].lo > t {
		return -inf
	}
	if k < 0 {
		return -inf
	}
	return min(t, sp[k].hi)
}

// end is the end for an allowed start.
func (tm *timing) end(s int64) int64 {
	switch {
	case tm.pinned:
		return tm.end0
	case tm.open != nil:
		return tm.open.first(tm.open.count(s) + tm.work)
	case tm.curve != nil:
		return tm.curve.At(s)
	}
	return s + tm.work
}

// endFrom is the earliest allowed start whose end is at or after t, or inf.
func (tm *timing) endFrom(t int64) int64 {
	switch {
	case tm.pinned:
		if tm.end0 >= t {
			return tm.spans[0].lo
		}
		return inf
	case tm.open != nil:
		y := tm.open.count(t-1) - tm.work + 1
		if y < 0 {
			y = 0
		}
		return tm.next(tm.open.last(y)) // the open tick with y open ticks before it
	case tm.curve != nil:
		return tm.next(tm.curve.First(t))
	}
	return tm.next(t - tm.work)
}

// endBy is the latest allowed start whose end is at or before t, or -inf.
func (tm *timing) endBy(t int64) int64 {
	switch {
	case tm.pinned:
		if tm.end0 <= t {
			return tm.spans[0].lo
		}
		return -inf
	case tm.open != nil:
		return tm.prev(tm.open.last(tm.open.count(t) - tm.work))
	case tm.curve != nil:
		s, ok := tm.curve.Inverse(t)
		if !ok {
			return -inf
		}
		return tm.prev(s)
	}
	return tm.prev(t - tm.work)
}

func (p *Problem) timing(i int, open []*openTime) timing {
	a := &p.Activities[i]
	tm := timing{work: a.Work}
	last := p.Horizon
	if a.Fixed != nil {
		tm.pinned = true
		tm.spans = []span{{*a.Fixed, *a.Fixed}}
		switch {
		case a.FixedEnd != nil:
			tm.end0 = *a.FixedEnd
		case a.Stretch != nil:
			tm.end0 = a.Stretch.At(*a.Fixed)
		case a.Split && a.Calendar != Always && a.Work > 0:
			o := open[a.Calendar]
			tm.end0 = o.first(o.count(*a.Fixed) + a.Work)
		default:
			tm.end0 = *a.Fixed + a.Work
		}
		if tm.end0 > last {
			tm.spans = nil
		}
		return tm
	}
	if a.Latest != 0 {
		last = min(last, a.Latest)
	}
	add := func(lo, hi int64) {
		lo = max(lo, a.Release)
		if lo > hi {
			return
		}
		if k := len(tm.spans) - 1; k >= 0 && tm.spans[k].hi+1 >= lo {
			tm.spans[k].hi = max(tm.spans[k].hi, hi)
			return
		}
		tm.spans = append(tm.spans, span{lo, hi})
	}
	switch {
	case a.Stretch != nil:
		tm.curve = a.Stretch
		if hi, ok := a.Stretch.Inverse(last); ok {
			add(-inf, hi)
		}
	case a.Calendar == Always:
		add(-inf, last-a.Work)
	case a.Split && a.Work > 0:
		tm.open = open[a.Calendar]
		// the latest start that still ends in time
		y := tm.open.count(last) - a.Work
		for k, w := range tm.open.ws {
			add(w.Open, min(w.Close-1, w.Open+y-tm.open.pref[k]))
		}
	default:
		for _, w := range open[a.Calendar].ws {
			add(w.Open, min(w.Close, last)-a.Work)
		}
	}
	return tm
}
