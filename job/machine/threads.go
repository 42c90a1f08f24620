package machine

import (
	"fmt"
	"math/big"

	"caul/job/measure"
)

// Thread is a machine screw thread and the holes for it.
type Thread struct {
	Name     string
	Major    measure.Length
	PerInch  int            // threads an inch; 0 for metric
	Pitch    measure.Length // of a metric thread; 0 for inch
	TapDrill string
	Tap      measure.Length

	// Clearance holes. Inch: ASME B18.2.8 close and normal drills and the loose minimum, and a
	// shop chart's close and free. Metric: ISO 273 fine, medium, coarse in the first three.
	Close, Normal, Loose  measure.Length
	ChartClose, ChartFree measure.Length

	TapSource, ClearSource measure.Source
}

const (
	refTap   = "tap and clearance drill charts (four, same values)"
	refHoles = "ASME B18.2.8-1999 (R2017), as reprinted in Machinery's Handbook, 31st ed."
	refISO   = "ISO 262 and ISO 273, as reprinted"
)

// Threads lists the threads, inch first.
func Threads() []Thread {
	t := func(ten int64) measure.Length { return measure.Inch / 10000 * measure.Length(ten) }
	m := func(hundredths int64) measure.Length { return measure.MM / 100 * measure.Length(hundredths) }
	f := func(n, d int64) measure.Length { return measure.Frac(0, n, d) }
	tap, holes, iso := read(refTap), read(refHoles), read(refISO)
	none := measure.Source{}
	return []Thread{
		{"6-32", t(1380), 32, 0, "No. 36", t(1065), 0, 0, 0, 0, 0, tap, none},
		{"8-32", t(1640), 32, 0, "No. 29", t(1360), t(1800), t(1960), t(2130), t(1695), t(1770), tap, holes},
		{"10-24", t(1900), 24, 0, "No. 25", t(1495), t(2055), t(2210), t(2380), t(1960), t(2010), tap, holes},
		{"10-32", t(1900), 32, 0, "No. 21", t(1590), t(2055), t(2210), t(2380), t(1960), t(2010), tap, holes},
		{"1/4-20", t(2500), 20, 0, "No. 7", t(2010), f(17, 64), f(9, 32), t(2970), t(2570), t(2660), tap, holes},
		{"5/16-18", t(3125), 18, 0, "F", t(2570), f(21, 64), f(11, 32), t(3590), t(3230), t(3320), tap, holes},
		{"3/8-16", t(3750), 16, 0, "5/16", f(5, 16), f(25, 64), f(13, 32), t(4220), t(3860), t(3970), tap, holes},
		{"M3", m(300), 0, m(50), "2.5 mm", m(250), m(320), m(340), m(360), 0, 0, iso, iso},
		{"M4", m(400), 0, m(70), "3.3 mm", m(330), m(430), m(450), m(480), 0, 0, iso, iso},
		{"M5", m(500), 0, m(80), "4.2 mm", m(420), m(530), m(550), m(580), 0, 0, iso, iso},
		{"M6", m(600), 0, m(100), "5 mm", m(500), m(640), m(660), m(700), 0, 0, iso, iso},
		{"M8", m(800), 0, m(125), "6.8 mm", m(680), m(840), m(900), m(1000), 0, 0, iso, iso},
	}
}

// FindThread gives the thread of this name.
func FindThread(name string) (Thread, bool) {
	for _, t := range Threads() {
		if t.Name == name {
			return t, true
		}
	}
	return Thread{}, false
}

// pitch is the exact pitch in units of length.
func (t Thread) pitch() *big.Rat {
	if t.PerInch > 0 {
		return big.NewRat(int64(measure.Inch), int64(t.PerInch))
	}
	return t.Pitch.Rat()
}

// Travel is how far a screw moves for turns of num/den, exactly rounded: 1/4 of a turn is 1, 4.
func (t Thread) Travel(num, den int64) (measure.Length, error) {
	if den == 0 {
		return 0, fmt.Errorf("a turn divided by zero")
	}
	p := t.pitch()
	l, _, err := measure.FromRat(p.Mul(p, big.NewRat(num, den)))
	return l, err
}

// below is the major diameter less a multiple of the pitch given in millionths.
func (t Thread) below(millionths int64) measure.Length {
	p := t.pitch()
	p.Mul(p, big.NewRat(millionths, 1_000_000))
	l, _, _ := measure.FromRat(p.Sub(t.Major.Rat(), p))
	return l
}

// InternalMinor is the inner diameter of the nut's thread: D - 1.082532 P.
func (t Thread) InternalMinor() measure.Length { return t.below(1_082_532) }

// PitchDiameter is D - 0.649519 P.
func (t Thread) PitchDiameter() measure.Length { return t.below(649_519) }

// ExternalMinor is the inner diameter of the screw's thread with a rounded root: D - 1.226869 P.
func (t Thread) ExternalMinor() measure.Length { return t.below(1_226_869) }

// Percent of full thread that the tap drill leaves: (D - drill) n / 0.01299, or 76.98/P in mm.
func (t Thread) Percent() float64 {
	d := t.Major - t.Tap
	if t.PerInch > 0 {
		return d.Inches() * float64(t.PerInch) / 0.01299
	}
	return d.Millimetres() * 76.98 / t.Pitch.Millimetres()
}
