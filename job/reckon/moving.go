package reckon

import (
	"fmt"
	"strings"

	"caul/job/measure"
	"caul/job/wood"
)

func woodInput(required bool) Input {
	return Input{Name: "wood", Kind: KindText, Required: required, Help: "species, such as hard-maple, cherry, white-pine", Example: "hard-maple"}
}

var grainInput = Input{Name: "grain", Kind: KindChoice, Choices: []string{"flat", "quarter"}, Default: "flat", Help: "how the board was sawn"}

func (a *args) species() (*wood.Species, error) {
	s, ok := wood.Find(a.word("wood"))
	if ok {
		return s, nil
	}
	hint := suggest(strings.ReplaceAll(a.word("wood"), " ", "-"), wood.Names())
	if strings.HasPrefix(hint, "there are") {
		hint = "write a species such as hard-maple, red-oak, cherry, walnut, birch, white-pine"
	}
	return nil, a.bad("wood", "unknown wood", hint)
}

func moving() []Sum {
	return []Sum{
		{Name: "movement", Title: "Wood movement across the grain", Help: "how far a board swells or shrinks between two moisture contents, or between two seasons' air",
			Inputs: []Input{woodInput(true), {Name: "width", Kind: KindLength, Required: true, Help: "of the board, across the grain"}, grainInput,
				{Name: "from", Kind: KindPercent, Help: "moisture content now, percent", Example: "8"}, {Name: "to", Kind: KindPercent, Help: "moisture content later, percent", Example: "11"},
				{Name: "dry", Kind: KindPercent, Default: "35", Help: "relative humidity of the driest season, percent, where no moisture contents are given"},
				{Name: "damp", Kind: KindPercent, Default: "65", Help: "relative humidity of the dampest season, percent"},
				{Name: "dry-air", Kind: KindTemperature, Default: "68 F", Metric: "20 C", Help: "air of the driest season"},
				{Name: "damp-air", Kind: KindTemperature, Default: "68 F", Metric: "20 C", Help: "air of the dampest season"},
			}, work: movement},
		{Name: "emc", Title: "Moisture of wood in air", Help: "the moisture content that wood settles to in air of a temperature and humidity",
			Inputs: []Input{{Name: "air", Kind: KindTemperature, Required: true, Help: "temperature of the air", Example: "20 C"},
				{Name: "humidity", Kind: KindPercent, Required: true, Help: "relative humidity, percent", Example: "50"}}, work: emc},
		{Name: "weight", Title: "Weight of a part or a sheet", Help: "from its size and its wood or kind of sheet",
			Inputs: []Input{{Name: "of", Kind: KindText, Required: true, Help: "species or sheet: hard-maple, birch-ply, mdf", Example: "birch-ply"},
				{Name: "length", Kind: KindLength, Required: true, Help: "length"}, {Name: "width", Kind: KindLength, Required: true, Help: "width"},
				{Name: "thick", Kind: KindLength, Required: true, Help: "thickness"}, {Name: "count", Kind: KindCount, Default: "1", Help: "how many"}}, work: weight},
	}
}

func (a *args) scale() measure.Scale {
	if a.u.System == measure.Metric {
		return measure.Celsius
	}
	return measure.Fahrenheit
}

func movement(a *args) (*Result, error) {
	s, err := a.species()
	if err != nil {
		return nil, err
	}
	if err := a.positive("width"); err != nil {
		return nil, err
	}
	g, err := wood.ParseGrain(a.word("grain"))
	if err != nil {
		return nil, err
	}
	from, to := a.number("from"), a.number("to")
	r := &Result{}
	src := []measure.Source{wood.MovementSource}
	if a.has("from") != a.has("to") {
		return nil, a.bad("to", "both moisture contents are wanted, or neither", "")
	}
	if !a.has("from") {
		sw, err := s.Seasons(a.length("width"), g, wood.Season{Temp: a.temp("dry-air"), Humidity: a.number("dry")}, wood.Season{Temp: a.temp("damp-air"), Humidity: a.number("damp")})
		if err != nil {
			return nil, err
		}
		from, to = sw.Dry, sw.Damp
		src = append(src, wood.EMCSource)
		r.Working = append(r.Working, fmt.Sprintf("air at %s and %g %% brings wood to %.1f %% moisture, at %s and %g %% to %.1f %% (driest first)",
			a.temp("dry-air").FormatIn(a.scale()), a.number("dry"), sw.Dry, a.temp("damp-air").FormatIn(a.scale()), a.number("damp"), sw.Damp))
	}
	m, err := s.Move(a.length("width"), g, from, to)
	if err != nil {
		return nil, err
	}
	verb := "swells"
	if m.Change < 0 {
		verb = "shrinks"
	}
	c := m.Change.Abs()
	r.Answer = []string{fmt.Sprintf("%s of %s-sawn %s %s by %s", a.show(a.length("width")), g, s.CommonName(), verb, a.fine(c)),
		"leave that much play where it is fixed across the grain, and more for a damp shop"}
	r.Working = append(r.Working, fmt.Sprintf("%s x %.5f per %% x (%.2f - %.2f) = %s", a.show(a.length("width")), m.Coefficient, to, from, a.fine(m.Change)))
	if m.OutOfRange {
		r.Caution = append(r.Caution, "the coefficient holds from 6 to 14 % moisture; outside that the answer is rough")
	}
	r.Source = sources(append(src, m.Source)...)
	r.Values = []Value{lengthValue("change", m.Change, a.fine(m.Change)), {Name: "from", Text: fmt.Sprintf("%.2f %%", from), Number: from, Unit: "%"}, {Name: "to", Text: fmt.Sprintf("%.2f %%", to), Number: to, Unit: "%"}}
	return r, nil
}

func emc(a *args) (*Result, error) {
	m, err := wood.EMC(a.temp("air"), a.number("humidity"))
	if err != nil {
		return nil, err
	}
	return &Result{
		Answer:  []string{fmt.Sprintf("%.1f %% moisture", m)},
		Working: []string{fmt.Sprintf("air at %s and %g %% relative humidity, by the equation that the handbook's table was built with; any species", a.temp("air").FormatIn(a.scale()), a.number("humidity"))},
		Source:  sources(wood.EMCSource),
		Values:  []Value{{Name: "moisture", Text: fmt.Sprintf("%.3f %%", m), Number: m, Unit: "%"}},
		Caution: []string{"a board takes days to weeks to settle; only a meter tells what it is now"},
	}, nil
}

func weight(a *args) (*Result, error) {
	if err := a.positive("length", "width", "thick"); err != nil {
		return nil, err
	}
	var density float64
	var name string
	var src measure.Source
	if p, ok := wood.FindPanel(strings.ToLower(a.word("of"))); ok {
		density, name, src = p.Use, p.Name, p.Source
	} else if s, ok := wood.Find(a.word("of")); ok {
		if s.Gravity == 0 {
			return nil, a.bad("of", "no specific gravity at 12 % is known for this wood", "")
		}
		density, name, src = s.Density(), s.CommonName()+" at 12 % moisture", s.StrengthSource
	} else {
		var ids []string
		for _, p := range wood.Panels() {
			ids = append(ids, p.ID)
		}
		h := suggest(a.word("of"), append(ids, wood.Names()...))
		if strings.HasPrefix(h, "there are") {
			h = "write a species or one of birch-ply, poplar-ply, hardwood-ply, pine-ply, mdf, particleboard"
		}
		return nil, a.bad("of", "unknown wood or sheet", h)
	}
	n := a.count("count")
	m := wood.Mass(density, a.length("length"), a.length("width"), a.length("thick")) * measure.Mass(n)
	r := &Result{Answer: []string{measure.FormatMass(m, a.u)},
		Working: []string{fmt.Sprintf("%d x %s x %s x %s of %s at %.0f kg/m³", n, a.show(a.length("length")), a.show(a.length("width")), a.show(a.length("thick")), name, density)},
		Source:  sources(src), Values: []Value{{Name: "mass", Text: measure.FormatMass(m, a.u), Number: float64(m), Unit: "g"}}}
	if m > 25_000 {
		r.Caution = []string{"more than one person should lift: get help or a cart"}
	}
	return r, nil
}
