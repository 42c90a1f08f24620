package glue

import (
	"fmt"
	"math"
	"time"

	"caul/job/measure"
)

// Ask is one glue-up as it stands in a job: what is joined, how long the hands need, and what
// clamps there are.
type Ask struct {
	Glue  *Kind
	Start time.Time // when the first glue goes on; the zero time leaves the waits out
	Air   *Air      // nil is a steady 20 °C

	Bond  measure.Area // each glue line counted once
	Lines int          // glue lines, at least 1
	Both  bool         // both faces are spread

	Length  measure.Length // of the longest glue line
	Width   measure.Length // across it
	ToLine  measure.Length // from the clamp's pad to the glue line, through the wood
	Caul    measure.Length // thickness of the caul under the pads; 0 is none
	Pad     measure.Length // of a clamp; 0 means 32 mm
	Gravity float64        // specific gravity of the softest wood in the joint; 0 means 0.55

	Spread measure.Span // hands: to spread the glue
	Close  measure.Span // hands: to bring the parts together and tighten

	Owned []Owned       // clamps the shop has that reach
	Alts  []*Kind       // glues to look through for a slower one; nil means the handbook's
	Units measure.Units // how lengths are written in warnings
	Waste float64       // extra glue for roller, bottle and squeeze-out; 0 means 0.15, and less than 0 none
}

// Owned is some clamps of one kind.
type Owned struct {
	Kind  string
	Count int
	Force measure.Force // 0 takes the kind's own
}

// Sheet is the glue-up worked out.
type Sheet struct {
	At measure.Temperature `json:"air"` // the air when the glue goes on

	TooCold   bool         `json:"too_cold"`
	Open      measure.Span `json:"open"` // at that air
	Total     measure.Span `json:"total"`
	Spread    measure.Span `json:"spread"` // as asked
	Close     measure.Span `json:"close"`
	Fits      bool         `json:"fits"`
	Split     int          `json:"split"`      // sub-assemblies, each of which fits; 0 when no number does
	Slower    []*Kind      `json:"-"`          // glues in whose time it fits whole at this air, slowest last
	MarginMin int64        `json:"margin_min"` // minutes of total assembly time left over, negative when short

	Grams       float64 `json:"grams"`
	Millilitres float64 `json:"millilitres"`

	Pressure  measure.Pressure `json:"pressure_pa"`
	Force     measure.Force    `json:"force_n"`
	Coverage  measure.Length   `json:"coverage"`   // of one clamp along the joint
	Rows      int              `json:"rows"`       // rows of clamps across the width
	BySpacing int              `json:"by_spacing"` // clamps so that pressure reaches everywhere
	ByForce   int              `json:"by_force"`   // clamps for the full pressure, at the mean of measured hands
	FewForce  int              `json:"few_force"`  // with strong hands
	ManyForce int              `json:"many_force"` // with weak hands
	Have      int              `json:"have"`
	Take      int              `json:"take"`                // clamps to lay out
	Short     int              `json:"short"`               // clamps missing to reach everywhere
	HandsCan  bool             `json:"hands_can"`           // the full pressure is within the clamps' reach
	Positions []measure.Length `json:"positions,omitempty"` // of clamps along the joint, or of Cauls
	Cauls     int              `json:"cauls,omitempty"`     // stiff cauls right across, a clamp at each end, where there are too few clamps for rows
	CaulThick measure.Length   `json:"caul_thick,omitempty"`

	ClampsOff Wait `json:"clamps_off"`
	Machine   Wait `json:"machine"`
	Full      Wait `json:"full"`

	Order    []string          `json:"order,omitempty"`
	Warnings []string          `json:"warnings,omitempty"`
	Cautions []measure.Caution `json:"cautions,omitempty"`
	Sources  []measure.Source  `json:"sources,omitempty"`
}

// Work works out the sheet. It errs only on what cannot be a glue-up.
func Work(a Ask) (*Sheet, error) {
	if a.Glue == nil {
		return nil, fmt.Errorf("a glue-up without a glue")
	}
	if a.Air == nil {
		a.Air = Steady(measure.InCelsius(20))
	}
	if a.Bond.Sign() <= 0 {
		return nil, fmt.Errorf("a glue-up without bond area: give the faces that meet, or bond: length x width")
	}
	if a.Length < 0 || a.Width < 0 || a.ToLine < 0 || a.Caul < 0 || a.Pad < 0 || a.Spread < 0 || a.Close < 0 || a.Gravity < 0 {
		return nil, fmt.Errorf("a glue-up with a negative measure")
	}
	if a.Pad == 0 {
		a.Pad = 32 * measure.MM
	}
	if a.Gravity == 0 {
		a.Gravity = 0.55
	}
	switch {
	case a.Waste == 0:
		a.Waste = 0.15
	case a.Waste < 0:
		a.Waste = 0
	}
	k := a.Glue
	s := &Sheet{Spread: a.Spread, Close: a.Close, Cautions: k.Cautions,
		Sources: []measure.Source{k.Open.Source, k.Clamp.Source, k.LowestSource, k.Spread.Source, k.Pressure.Source, RuleSpread}}
	s.At = a.Air.At(a.Start)
	if a.Start.IsZero() && a.Air.Night != a.Air.Day {
		s.At = a.Air.Night // no hour is known: reckon with the slowest clamps and say so in the times
	}
	s.TooCold = s.At < k.Lowest
	s.times(a)
	s.pour(a)
	s.clamps(a)
	if !a.Start.IsZero() {
		on := a.Start.Add((a.Spread + a.Close).Duration())
		s.ClampsOff = a.Air.Wait(k.Clamp, k.Lowest, on)
		s.Machine = a.Air.Wait(k.Machine, k.Lowest, on)
		s.Full = a.Air.Wait(k.Full, k.Lowest, on)
	}
	s.Order = s.order(a)
	return s, nil
}

func fits(k *Kind, t measure.Temperature, spread, closing measure.Span) bool {
	if t < k.Lowest {
		return false
	}
	return (k.Open.None() || spread <= k.Open.At(t)) && (k.Total.None() || spread+closing <= k.Total.At(t))
}

func (s *Sheet) times(a Ask) {
	k := a.Glue
	s.Open, s.Total = k.Open.At(s.At), k.Total.At(s.At)
	if s.TooCold {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the air is %v and the glue's lowest is %v: do not glue up now", s.At, k.Lowest))
	}
	s.Fits = fits(k, s.At, a.Spread, a.Close)
	s.MarginMin = int64((s.Total - a.Spread - a.Close) / measure.Minute)
	if s.Fits {
		s.Split = 1
		return
	}
	if !s.TooCold {
		for n := measure.Span(2); n <= 12; n++ {
			if fits(k, s.At, (a.Spread+n-1)/n, (a.Close+n-1)/n) {
				s.Split = int(n)
				break
			}
		}
	}
	alts := a.Alts
	if alts == nil {
		alts = Kinds()
	}
	for _, alt := range alts {
		// a wet joint needs a glue at least as water-resistant, and a joint in clamps one that is clamped
		if alt.ID != k.ID && ClassRank(alt.Class) >= ClassRank(k.Class) && alt.Clamp.None() == k.Clamp.None() &&
			fits(alt, s.At, a.Spread, a.Close) {
			s.Slower = append(s.Slower, alt)
		}
	}
	if s.TooCold {
		return
	}
	w := fmt.Sprintf("spreading takes %v and closing %v; the glue stays open %v and must be under pressure %v after the first of it went on",
		a.Spread, a.Close, s.Open, s.Total)
	if s.Split > 0 {
		w += fmt.Sprintf(": split it into %d sub-assemblies", s.Split)
	} else {
		w += ": no split into 12 or fewer will do"
	}
	s.Warnings = append(s.Warnings, w)
}

func (s *Sheet) pour(a Ask) {
	rate := a.Glue.Spread.OneFace
	if a.Both {
		rate = a.Glue.Spread.TwoFaces
	}
	s.Grams = a.Bond.SquareMetres() * rate * (1 + a.Waste)
	if a.Glue.Spread.Density > 0 {
		s.Millilitres = s.Grams / a.Glue.Spread.Density
	}
}

func (s *Sheet) clamps(a Ask) {
	s.Pressure = a.Glue.Pressure.For(a.Gravity)
	lines := max(a.Lines, 1)
	// one clamp's force goes through every glue line between its jaws, so the area to press is one line's
	one := a.Bond.SquareMetres() / float64(lines)
	s.Force = measure.Force(float64(s.Pressure) * one)
	if a.Glue.Clamp.None() {
		return
	}
	s.Coverage = min(Coverage(a.Pad, a.ToLine, a.Caul), MaxSpacing)
	s.Rows = max(BySpacing(a.Width, s.Coverage), 1)
	s.BySpacing = max(BySpacing(a.Length, s.Coverage), 1) * s.Rows
	var force measure.Force
	for _, o := range a.Owned {
		f := o.Force
		if f == 0 {
			k, ok := FindClamp(o.Kind)
			if !ok {
				k, _ = FindClamp("bar")
			}
			f = k.Force
		}
		if o.Count > 0 {
			s.Have += o.Count
			force += f * measure.Force(o.Count)
		}
	}
	each := measure.Lbf(680) // a light bar clamp, when the shop names none
	if s.Have > 0 {
		each = force / measure.Force(s.Have)
	}
	s.ByForce, s.FewForce, s.ManyForce = ByForce(s.Force, each), ByForce(s.Force, each*strongHands), ByForce(s.Force, each*weakHands)
	// more than three times the clamps the spacing asks for do not fit on the joint
	s.HandsCan = s.ByForce <= 3*s.BySpacing
	s.Take = s.BySpacing
	if s.HandsCan {
		s.Take = max(s.Take, s.ByForce)
	} else {
		s.Warnings = append(s.Warnings, fmt.Sprintf("full pressure would take %d clamps: use stiff cauls, weights or a vacuum bag, and go by close contact and an even bead of squeeze-out", s.ByForce))
	}
	if len(a.Owned) > 0 {
		s.Short = max(s.BySpacing-s.Have, 0)
		s.Take = min(s.Take, s.Have)
		if s.Short > 0 {
			s.few(a)
		}
	}
	if s.Cauls > 0 {
		s.Positions = Places(a.Length, s.Cauls)
		return
	}
	s.Positions = Places(a.Length, max(int(math.Ceil(float64(s.Take)/float64(s.Rows))), 1))
}

func (s *Sheet) order(a Ask) []string {
	if a.Glue.Clamp.None() {
		return []string{
			"dry fit: every part in its place, marked, and the way out of the shop for the vapour clear",
			"spread as the label says and wait until it says the faces may meet",
			"line up over slip-sheets, bring together from one end, press or roll hard all over",
		}
	}
	out := []string{
		"dry fit with every clamp and caul in place; check that it closes, and that it is square and flat",
		"open the clamps to size and lay them out in the order of use; tape on the cauls or wax them",
		"have rags, glue, spreader and a clock ready; check that air, wood and glue are warm enough",
	}
	if s.Split > 1 {
		out = append(out, fmt.Sprintf("glue up in %d sub-assemblies, each to its own clamp time", s.Split))
	}
	spread := "spread one face evenly, corner to corner"
	if a.Both {
		spread = "spread both faces evenly, corner to corner"
	}
	return append(out, spread,
		"bring the faces together and rub to seat them",
		"first clamp in the middle, snug only; then outwards to the ends, one above and one below by turns",
		"check flush, flat and square; then tighten in the same order until an even bead comes out all along",
		"write down the time and the air when the last clamp is tight")
}
