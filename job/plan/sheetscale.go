package plan

import (
	"math"
	"sort"
	"time"
)

// sheetScale maps instants to heights on the day sheet. It never falls, but it
// is not to scale: nights are drawn short and short jobs tall enough to read.
type sheetScale struct {
	at   []time.Time // rising
	pre  []float64   // y of what ends at that instant
	post []float64   // y of what begins there; a heading may stand between
}

// need is a stretch that wants a height, such as a job's lines of text.
type need struct {
	from, to time.Time
	height   float64
}

// scaleInput is what the scale is made from.
type scaleInput struct {
	from, to time.Time
	open     []Stretch             // shop hours, by time
	marks    []time.Time           // further instants that must be on the scale
	heads    map[time.Time]float64 // heading heights, by instant in UTC
	needs    []need                // disjoint, by time
	top      float64
}

const (
	openPerMinute = 0.55 // heights in px
	idleMost      = 46.0 // of a stretch of shop hours with nothing in it
	nightLeast    = 30.0
	nightPerDate  = 19.0
)

func newSheetScale(in scaleInput) *sheetScale {
	set := map[int64]bool{in.from.Unix(): true, in.to.Unix(): true}
	add := func(t time.Time) {
		if !t.Before(in.from) && !t.After(in.to) {
			set[t.Unix()] = true
		}
	}
	for _, w := range in.open {
		add(w.From)
		add(w.To)
	}
	for _, t := range in.marks {
		add(t)
	}
	for _, n := range in.needs {
		add(n.from)
		add(n.to)
	}
	keys := make([]int64, 0, len(set))
	for k := range set {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, k int) bool { return keys[i] < keys[k] })
	sc := &sheetScale{}
	for _, k := range keys {
		sc.at = append(sc.at, time.Unix(k, 0).In(in.from.Location()))
	}
	h := sc.heights(in)
	y := in.top
	for i, t := range sc.at {
		sc.pre = append(sc.pre, y)
		y += in.heads[t.UTC()]
		sc.post = append(sc.post, y)
		if i < len(h) {
			y += h[i]
		}
	}
	return sc
}

// heights gives each interval between neighbouring instants its height.
func (sc *sheetScale) heights(in scaleInput) []float64 {
	n := len(sc.at) - 1
	h := make([]float64, max(n, 0))
	isOpen := make([]bool, len(h))
	for i := range h {
		for _, w := range in.open {
			if !sc.at[i].Before(w.From) && !sc.at[i+1].After(w.To) {
				isOpen[i] = true
			}
		}
	}
	for i := 0; i < n; {
		k := i
		for k < n && isOpen[k] == isOpen[i] {
			k++
		}
		total := sc.at[k].Sub(sc.at[i]).Minutes()
		for e := i; e < k; e++ {
			m := sc.at[e+1].Sub(sc.at[e]).Minutes()
			if isOpen[i] {
				h[e] = math.Min(m*openPerMinute, idleMost)
				continue
			}
			dates := 0.0
			for d := dateOf(sc.at[i]).plus(1); d.before(dateOf(sc.at[k])) || d == dateOf(sc.at[k]); d = d.plus(1) {
				dates++
			}
			h[e] = (nightLeast + nightPerDate*dates) * m / total
		}
		i = k
	}
	for _, nd := range in.needs {
		a, b := sc.index(nd.from), sc.index(nd.to)
		sum := 0.0
		for e := a; e < b; e++ {
			sum += h[e]
		}
		if sum <= 0 || sum >= nd.height {
			continue
		}
		for e := a; e < b; e++ {
			h[e] *= nd.height / sum
		}
	}
	return h
}

// index is the last instant that is not after t.
func (sc *sheetScale) index(t time.Time) int {
	i := sort.Search(len(sc.at), func(i int) bool { return sc.at[i].After(t) })
	return max(i-1, 0)
}

// begin is the height at which what begins at t begins.
func (sc *sheetScale) begin(t time.Time) float64 { return sc.y(t, sc.post) }

// end is the height at which what ends at t ends.
func (sc *sheetScale) end(t time.Time) float64 { return sc.y(t, sc.pre) }

func (sc *sheetScale) y(t time.Time, exact []float64) float64 {
	i := sc.index(t)
	if !t.After(sc.at[i]) {
		return exact[i]
	}
	if i == len(sc.at)-1 {
		return sc.post[i]
	}
	f := t.Sub(sc.at[i]).Seconds() / sc.at[i+1].Sub(sc.at[i]).Seconds()
	return sc.post[i] + f*(sc.pre[i+1]-sc.post[i])
}
