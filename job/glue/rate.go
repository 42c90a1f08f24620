package glue

import (
	"fmt"
	"math"
	"sort"

	"caul/job/measure"
)

// Point is one line of a label: at this temperature it takes so long.
type Point struct {
	At    measure.Temperature `json:"at"`
	Takes measure.Span        `json:"takes"`
}

// Rate is how long something takes at each temperature. No points means no wait at all.
type Rate struct {
	Points []Point        `json:"points,omitempty"`
	Source measure.Source `json:"source"`
}

// Check refuses points that no label has.
func (r Rate) Check() error {
	seen := map[measure.Temperature]bool{}
	for _, p := range r.Points {
		if p.Takes <= 0 {
			return fmt.Errorf("a time of %v at %v is not a wait", p.Takes, p.At)
		}
		if seen[p.At] {
			return fmt.Errorf("two times at %v", p.At)
		}
		seen[p.At] = true
	}
	pts := r.sorted()
	for i := 1; i < len(pts); i++ {
		if pts[i].Takes > pts[i-1].Takes {
			return fmt.Errorf("%v at %v is longer than %v at %v, and glue is not slower when it is warmer",
				pts[i].Takes, pts[i].At, pts[i-1].Takes, pts[i-1].At)
		}
	}
	return nil
}

func (r Rate) sorted() []Point {
	pts := append([]Point(nil), r.Points...)
	sort.SliceStable(pts, func(i, j int) bool { return pts[i].At < pts[j].At })
	return pts
}

// None says that there is no wait.
func (r Rate) None() bool { return len(r.Points) == 0 }

// seconds is the wait at a steady temperature.
func (r Rate) seconds(t measure.Temperature) float64 {
	pts := r.sorted()
	if len(pts) == 0 {
		return 0
	}
	i := sort.Search(len(pts), func(i int) bool { return pts[i].At >= t })
	switch {
	case i < len(pts) && pts[i].At == t:
		return float64(pts[i].Takes)
	case i == 0:
		return beyond(pts[0], t)
	case i == len(pts):
		return beyond(pts[i-1], t)
	}
	a, b := pts[i-1], pts[i]
	x := (1/t.Kelvin() - 1/a.At.Kelvin()) / (1/b.At.Kelvin() - 1/a.At.Kelvin())
	la, lb := math.Log(float64(a.Takes)), math.Log(float64(b.Takes))
	return math.Exp(la + x*(lb-la))
}

// beyond doubles the time for each 10 °C below the point, and halves it above.
func beyond(p Point, t measure.Temperature) float64 {
	return float64(p.Takes) * math.Exp2(float64(p.At-t)/float64(10*measure.InCelsius(1)))
}

// At is the wait at a steady temperature, to the second.
func (r Rate) At(t measure.Temperature) measure.Span {
	s := r.seconds(t)
	if s > float64(measure.MaxSpan) {
		return measure.MaxSpan
	}
	return measure.Span(math.Round(s))
}

// whole is the work of one wait. Each second at a temperature does a whole number of these
// parts, rounded up by less than one, so that the time on the label is met and never missed by
// the last second. Over a wait of a week that is less than one second.
const whole int64 = 1_000_000_000_000

// perSecond is the work done in a second at a temperature; none below lowest.
func (r Rate) perSecond(t, lowest measure.Temperature) int64 {
	if t < lowest {
		return 0
	}
	// to the millisecond, so that the last digit of a logarithm, which differs from one kind of
	// processor to another, does not matter
	s := math.Round(r.seconds(t)*1000) / 1000
	if s <= 1 {
		return whole
	}
	return int64(math.Ceil(float64(whole) / s))
}
