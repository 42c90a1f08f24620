package wood

import (
	"slices"
	"strings"

	"caul/job/measure"
)

// Species is one wood or commercial group of woods. Zero figures are not known here.
type Species struct {
	ID       string
	Name     string
	Softwood bool

	Radial, Tangential             float64 // movement per 1 % of moisture, 6 to 14 %
	RadialSource, TangentialSource measure.Source

	ShrinkRadial, ShrinkTangential, ShrinkVolume float64 // percent, green to ovendry
	ShrinkSource                                 measure.Source

	Gravity        float64 // specific gravity: ovendry mass over volume at 12 %
	GreenGravity   float64 // over green volume, for imported woods; not for weights at 12 %
	Hardness       float64 // side hardness, lbf
	MOE            float64 // million psi, beam loaded in the middle
	Crush          float64 // psi across the grain at the proportional limit: what a clamp pad may press
	StrengthSource measure.Source
}

const (
	ref135 = "Wood Handbook, FPL-GTR-190, Table 13-5"
	ref43  = "Wood Handbook, FPL-GTR-190, Table 4-3"
	ref44  = "Wood Handbook, FPL-GTR-190, Table 4-4"
	ref53  = "Wood Handbook, FPL-GTR-282, Table 5-3b"
	ref55  = "Wood Handbook, FPL-GTR-190, Table 5-5b"
)

// The sources of the table: read in a copy, named but not checked there, read in a page that
// cites it, or only usual.
var (
	mr = measure.Source{Ref: ref135}
	mc = measure.Source{Ref: ref135, Standing: measure.Cited}
	ms = measure.Source{Ref: ref135 + ", as cited by flooring guides"}
	mu = measure.Source{Ref: ref135, Standing: measure.Usual}
	xr = measure.Source{Ref: ref43}
	xc = measure.Source{Ref: ref43, Standing: measure.Cited}
	xi = measure.Source{Ref: ref44 + "; Chudnoff, Tropical Timbers of the World"}
	xu = measure.Source{Ref: ref44, Standing: measure.Usual}
	sr = measure.Source{Ref: ref53}
	sc = measure.Source{Ref: ref53, Standing: measure.Cited}
	si = measure.Source{Ref: ref55 + "; specific gravity is over green volume"}
)

// groups lends a commercial group the strength of the named member, and says so.
var groups = map[string]string{"red-oak": "northern-red-oak", "white-oak": "white-oak-alba", "hickory": "shagbark-hickory", "loblolly-pine": "shortleaf-pine"}

// other names a maker may write.
var otherNames = map[string]string{
	"maple": "hard-maple", "sugar-maple": "hard-maple", "rock-maple": "hard-maple", "soft-maple": "red-maple", "black-cherry": "cherry", "black-walnut": "walnut",
	"american-beech": "beech", "poplar": "yellow-poplar", "tulipwood": "yellow-poplar", "ash": "white-ash", "birch": "yellow-birch", "oak": "red-oak", "alder": "red-alder",
	"pine": "white-pine", "eastern-white-pine": "white-pine", "southern-pine": "loblolly-pine", "southern-yellow-pine": "loblolly-pine", "cedar": "western-redcedar",
	"spruce": "sitka-spruce", "fir": "douglas-fir", "lime": "basswood", "linden": "basswood", "cypress": "baldcypress", "aspen": "quaking-aspen",
}

// All lists the species by ID, in order of name.
func All() []*Species {
	list := table()
	byID := map[string]*Species{}
	for _, s := range list {
		byID[s.ID] = s
	}
	for _, s := range list {
		if m := byID[groups[s.ID]]; m != nil && s.Gravity == 0 {
			s.Gravity, s.Hardness, s.MOE, s.Crush, s.StrengthSource = m.Gravity, m.Hardness, m.MOE, m.Crush, m.StrengthSource
			s.StrengthSource.Ref += ", row of " + m.Name
		}
	}
	return list
}

// Names lists what Find knows a species by, in order: for a suggestion when it knows nothing.
func Names() []string {
	var out []string
	for _, s := range table() {
		out = append(out, s.ID)
	}
	for o := range otherNames {
		out = append(out, o)
	}
	slices.Sort(out)
	return out
}

// Find gives the species by ID, or by a usual other name, without regard to case or spaces.
func Find(name string) (*Species, bool) {
	id := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(name)), " ", "-")
	if o, ok := otherNames[id]; ok {
		id = o
	}
	for _, s := range All() {
		if s.ID == id || strings.EqualFold(s.Name, name) {
			return s, true
		}
	}
	return nil, false
}

// Density at 12 % moisture in kg/m³; 0 when the specific gravity is not known.
func (s *Species) Density() float64 { return Density(s.Gravity, 12) }

// PoundsPerBoardFoot at 12 % moisture: a board foot is 1/12 of a cubic foot of water's 62.43 lb.
func (s *Species) PoundsPerBoardFoot() float64 { return 62.43 * s.Gravity * 1.12 / 12 }

// CrushLimit is the pressure under a clamp pad beyond which the wood is dented; 0 when unknown.
func (s *Species) CrushLimit() measure.Pressure { return measure.PSI(s.Crush) }

// CommonName is the name as a maker says it: black cherry, not cherry, black.
func (s *Species) CommonName() string {
	name, group, _ := strings.Cut(s.Name, " (")
	if group != "" {
		group = " (" + group
	}
	if a, b, ok := strings.Cut(name, ", "); ok {
		name = b + " " + a
	}
	r, g := strings.ToLower(name), group
	for _, proper := range []string{"American", "Oregon", "Pacific", "California", "Sitka", "Port-Orford", "Douglas"} {
		r = strings.ReplaceAll(r, strings.ToLower(proper), proper)
	}
	return r + g
}
