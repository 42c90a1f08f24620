package machine

import (
	"fmt"
	"sort"
	"strconv"
	"strings"

	"caul/job/measure"
)

const thousandth = measure.Inch / 1000

// WoodScrew is a wood screw by its number.
type WoodScrew struct {
	Number  int
	Shank   measure.Length // body, 0.060 + 0.013 in a number
	Threads int            // an inch; 0 is not known
	Root    measure.Length // of the thread, as the NDS has it; 0 is not known

	ShankSource, ThreadSource, RootSource measure.Source
}

const (
	refB1861 = "ASME B18.6.1"
	refNDS   = "NDS Appendix L, Table L3"
	refLead  = "NDS lead-hole rules for wood screws, and their commentary"
)

// screw threads an inch and NDS root diameter in thousandths, by number.
var screwRows = []struct{ n, threads, root int }{
	{0, 32, 0}, {2, 26, 0}, {3, 24, 0}, {4, 22, 0}, {5, 20, 0}, {6, 18, 113}, {7, 16, 122}, {8, 15, 131}, {9, 14, 142},
	{10, 13, 152}, {12, 11, 171}, {14, 10, 196}, {16, 9, 209}, {18, 8, 232}, {20, 8, 255}, {24, 7, 298},
}

// WoodScrews lists the wood screws by number.
func WoodScrews() []WoodScrew {
	var out []WoodScrew
	for _, r := range screwRows {
		s := WoodScrew{Number: r.n, Shank: thousandth * measure.Length(60+13*r.n), Threads: r.threads, Root: thousandth * measure.Length(r.root),
			ShankSource: read(refB1861 + ", nominal diameter 0.060 + 0.013 N inch"), ThreadSource: cited(refB1861), RootSource: cited(refNDS)}
		if r.n >= 2 && r.n <= 8 {
			s.ThreadSource = read(refB1861 + ", as quoted by a screw supplier")
		}
		out = append(out, s)
	}
	return out
}

// Screw gives the wood screw of a number.
func Screw(number int) (WoodScrew, bool) {
	for _, s := range WoodScrews() {
		if s.Number == number {
			return s, true
		}
	}
	return WoodScrew{}, false
}

// HeadDiameter is about twice the shank for a flat head.
func (s WoodScrew) HeadDiameter() measure.Length { return 2 * s.Shank }

// Holes is what to drill for a wood screw.
type Holes struct {
	Clearance  measure.Length // through the fixed part: the shank, so that the joint pulls up
	Pilot      measure.Length // for the thread in the other part; 0: none is needed
	PilotPart  float64        // of the root diameter
	PilotWhy   string
	Source     measure.Source
	FirmSource measure.Source // of the root diameter
}

// Holes gives the holes for the best grip (the NDS rule for withdrawal): a pilot of 90 % of the
// root in wood of specific gravity over 0.6, 70 % from over 0.5 to 0.6, none needed at or below
// 0.5. The clearance hole is the shank's diameter.
func (s WoodScrew) Holes(gravity float64) (Holes, error) {
	if s.Root == 0 {
		return Holes{}, fmt.Errorf("no root diameter is known for a number %d screw", s.Number)
	}
	if !(gravity > 0 && gravity < 1.5) {
		return Holes{}, fmt.Errorf("a specific gravity of %v is no wood", gravity)
	}
	h := Holes{Clearance: s.Shank, Source: read(refLead), FirmSource: s.RootSource}
	switch {
	case gravity > 0.6:
		h.PilotPart, h.PilotWhy = 0.9, "dense wood, specific gravity over 0.6: 90 % of the root"
	case gravity > 0.5:
		h.PilotPart, h.PilotWhy = 0.7, "specific gravity over 0.5 to 0.6: 70 % of the root"
	default:
		h.PilotWhy = "specific gravity 0.5 or less: none needed; near an end or edge drill 70 % of the root all the same"
	}
	h.Pilot = s.Root / 100 * measure.Length(h.PilotPart*100+0.5)
	return h, nil
}

// LateralHoles gives the holes where the load is across the screw: in wood of specific gravity
// over 0.6 the shank's and the root's diameter, else 7/8 of each.
func (s WoodScrew) LateralHoles(gravity float64) (shank, thread measure.Length, src measure.Source) {
	if gravity > 0.6 {
		return s.Shank, s.Root, read(refLead)
	}
	return s.Shank * 7 / 8, s.Root * 7 / 8, read(refLead)
}

// Withdrawal is the ultimate pull in lbf from side grain for an inch of thread: 15,700 G² D
// (Wood Handbook ch. 8 eq. (8-10b)), with G at 12 %. Design loads are a small part of it.
func (s WoodScrew) Withdrawal(gravity float64, thread measure.Length) (measure.Force, measure.Source) {
	return measure.Lbf(15_700 * gravity * gravity * s.Shank.Inches() * thread.Inches()), cited("Wood Handbook, FPL-GTR-190, ch. 8 eq. (8-10b)")
}

// ChartHoles is a row of a boat-plan supplier's pilot-hole plate: another rule, kept apart.
type ChartHoles struct {
	Number                    int
	Hardwood, Softwood, Shank string // drill names
}

// Chart lists that plate.
func Chart() ([]ChartHoles, measure.Source) {
	return []ChartHoles{
		{6, "No. 44", "1/16", "9/64"}, {7, "No. 39", "1/16", "5/32"}, {8, "7/64", "5/64", "11/64"}, {9, "7/64", "5/64", "3/16"}, {10, "1/8", "3/32", "3/16"}, {12, "No. 25", "7/64", "7/32"},
	}, read("wood-screw pilot-hole plate of a boat-plan supplier")
}

// ScrewLabel is a screw's number and length as it stands on the box, such as 8x1-1/4.
type ScrewLabel struct {
	Number int
	Length measure.Length
}

// ParseScrewLabel reads `8x1-1/4`, `#8 x 1-1/4`, `No. 8 x 32 mm`.
func ParseScrewLabel(s string) (ScrewLabel, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	t = strings.TrimSpace(strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(t, "screw-"), "#"), "no."))
	num, length, ok := strings.Cut(t, "x")
	if !ok {
		num, length, ok = strings.Cut(t, "×")
	}
	n, err := strconv.Atoi(strings.TrimSpace(num))
	if !ok || err != nil {
		return ScrewLabel{}, fmt.Errorf("cannot read %q as a wood screw: write its number and length, such as 8 x 1-1/4", s)
	}
	if _, known := Screw(n); !known {
		return ScrewLabel{}, fmt.Errorf("no wood screw has the number %d", n)
	}
	l, err := measure.ParseLength(length, measure.Inches)
	if err != nil {
		return ScrewLabel{}, fmt.Errorf("the screw's length: %w", err)
	}
	if l <= 0 || l > measure.Foot {
		return ScrewLabel{}, fmt.Errorf("a screw of %v is no wood screw", l)
	}
	return ScrewLabel{n, l}, nil
}

// Drill is a bit by name.
type Drill struct {
	Name string
	Size measure.Length
}

// NearestDrill gives the largest bit of a set of fractions of an inch by sixty-fourths, or of
// tenths of a millimetre, that is not larger than the size, never under the smallest of the set.
func NearestDrill(size measure.Length, u measure.Units) Drill {
	if u.System == measure.Metric {
		l := max(size/(measure.MM/10)*(measure.MM/10), measure.MM)
		return Drill{measure.FormatUnit(l, measure.Units{System: measure.Metric, Mark: 1}), l}
	}
	l := max(size/(measure.Inch/64)*(measure.Inch/64), measure.Inch/16)
	return Drill{measure.Format(l, measure.Units{System: measure.Inches, Mark: 64}), l}
}

// NearestClearance gives the smallest bit of the same sets that is not smaller than the size.
func NearestClearance(size measure.Length, u measure.Units) Drill {
	d := NearestDrill(size, u)
	if d.Size >= size {
		return d
	}
	step := measure.Inch / 64
	if u.System == measure.Metric {
		step = measure.MM / 10
	}
	return NearestDrill(d.Size+step, u)
}

// numberDrills holds the number and letter drills that the tables below name, in ten-thousandths.
var numberDrills = map[string]measure.Length{}

func init() {
	for name, t := range map[string]int{"No. 36": 1065, "No. 29": 1360, "No. 25": 1495, "No. 21": 1590, "No. 7": 2010, "F": 2570, "No. 15": 1800, "No. 9": 1960, "No. 18": 1695,
		"No. 16": 1770, "No. 5": 2055, "No. 2": 2210, "H": 2660, "P": 3230, "Q": 3320, "W": 3860, "X": 3970} {
		numberDrills[name] = measure.Inch / 10000 * measure.Length(t)
	}
}

// DrillSize gives the size of a drill by name: a fraction, a number or a letter of the tables.
func DrillSize(name string) (measure.Length, error) {
	if l, ok := numberDrills[name]; ok {
		return l, nil
	}
	l, err := measure.ParseLength(name, measure.Inches)
	if err != nil {
		names := make([]string, 0, len(numberDrills))
		for n := range numberDrills {
			names = append(names, n)
		}
		sort.Strings(names)
		return 0, fmt.Errorf("unknown drill %q: write a fraction, or one of %s", name, strings.Join(names, ", "))
	}
	return l, nil
}
