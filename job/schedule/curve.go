package schedule

import (
	"math/bits"
	"sort"
)

// Point is one breakpoint of a Curve.
type Point struct {
	At, Ready int64
}

// Curve maps a trigger tick to the earliest tick at which something that runs
// at its own, changing speed is ready: a cure that is slow in the cold night.
// It never falls. Before its first point it stays at the first value; after
// its last it keeps the last difference (slope one).
type Curve struct {
	points []Point // used when table is nil
	first  int64
	table  []int64
	bad    int64 // a trigger with a value before it, if isBad
	isBad  bool
}

// NewCurve makes a curve through breakpoints with rising At and never falling
// Ready. Between them it runs straight, rounded down to a whole tick.
func NewCurve(points []Point) (*Curve, error) {
	if len(points) == 0 {
		return nil, badf("a curve needs at least one point")
	}
	for i, p := range points {
		if badTick(p.At) || badTick(p.Ready) {
			return nil, badf("curve point %d is out of range", i)
		}
		if i > 0 && (points[i-1].At >= p.At || points[i-1].Ready > p.Ready) {
			return nil, badf("curve point %d (%d, %d) does not rise from the one before it", i, p.At, p.Ready)
		}
	}
	return (&Curve{points: append([]Point(nil), points...)}).look(), nil
}

// NewTableCurve makes a curve with one value a tick: ready[k] belongs to
// trigger first+k. The slice is kept, not copied.
func NewTableCurve(first int64, ready []int64) (*Curve, error) {
	if len(ready) == 0 || badTick(first) {
		return nil, badf("a curve needs at least one value, at a tick in range")
	}
	for i, v := range ready {
		if badTick(v) || (i > 0 && v < ready[i-1]) {
			return nil, badf("curve value %d at tick %d falls or is out of range", v, first+int64(i))
		}
	}
	return (&Curve{first: first, table: ready}).look(), nil
}

// At gives the earliest ready tick for a trigger at tick t.
func (c *Curve) At(t int64) int64 {
	if c.table != nil {
		last := c.first + int64(len(c.table)) - 1
		switch {
		case t <= c.first:
			return c.table[0]
		case t >= last:
			return c.table[len(c.table)-1] + (t - last)
		}
		return c.table[t-c.first]
	}
	ps := c.points
	if t <= ps[0].At {
		return ps[0].Ready
	}
	last := ps[len(ps)-1]
	if t >= last.At {
		return last.Ready + (t - last.At)
	}
	k := sort.Search(len(ps), func(i int) bool { return ps[i].At > t }) - 1
	a, b := ps[k], ps[k+1]
	return a.Ready + mulDiv(t-a.At, b.Ready-a.Ready, b.At-a.At)
}

// Inverse gives the latest trigger tick whose value is at most ready, and
// false when there is none (ready lies below every value).
func (c *Curve) Inverse(ready int64) (int64, bool) {
	lo := -2 * maxTick
	if c.At(lo) > ready {
		return 0, false
	}
	hi := 4 * maxTick
	if c.At(hi) <= ready {
		return hi, true
	}
	for hi-lo > 1 { // At(lo) <= ready < At(hi)
		mid := lo + (hi-lo)/2
		if c.At(mid) <= ready {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, true
}

// First gives the earliest trigger tick whose value is at least ready. It is
// the lowest tick of the range when every value is.
func (c *Curve) First(ready int64) int64 {
	t, ok := c.Inverse(ready - 1)
	if !ok {
		return -2 * maxTick
	}
	return t + 1
}

// early reports whether every value is at or after its trigger, else where not.
func (c *Curve) early() (int64, bool) {
	return c.bad, !c.isBad
}

// look finds the first trigger whose value lies before it.
func (c *Curve) look() *Curve {
	for k, v := range c.table {
		if t := c.first + int64(k); v < t {
			c.bad, c.isBad = t, true
			return c
		}
	}
	for _, p := range c.points {
		if p.Ready < p.At {
			c.bad, c.isBad = p.At, true
			return c
		}
	}
	return c
}

// mulDiv is a*b/c rounded down for 0 <= a <= c, 0 <= b, without overflow.
func mulDiv(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	q, _ := bits.Div64(hi, lo, uint64(c))
	return int64(q)
}
