package reckon

import (
	"fmt"
	"math"
	"strings"

	"caul/job/glue"
	"caul/job/measure"
)

var glueInput = Input{Name: "glue", Kind: KindText, Default: "pva", Help: "generic type: pva, pva-yellow, pva-d3, pva-d4, polyurethane, epoxy-5, epoxy-30, epoxy-slow, hide-liquid, urea, resorcinol, cyanoacrylate, contact"}

var airInput = Input{Name: "air", Kind: KindTemperature, Default: "68 F", Metric: "20 C", Help: "air, wood and glue"}

func (a *args) glue() (*glue.Kind, error) {
	id := strings.ToLower(a.word("glue"))
	if k, ok := glue.Find(id); ok {
		return k, nil
	}
	var ids []string
	for _, k := range glue.Kinds() {
		ids = append(ids, k.ID)
	}
	return nil, a.bad("glue", "unknown glue", suggest(id, ids))
}

// gravity of the wood named, or the usual one when none is.
func (a *args) gravity() (float64, string, error) {
	if !a.has("wood") {
		return 0.55, "specific gravity 0.55 taken, as no wood is given", nil
	}
	s, err := a.species()
	if err != nil {
		return 0, "", err
	}
	g := s.Gravity
	if g == 0 {
		g = s.GreenGravity
	}
	if g == 0 {
		return 0, "", a.bad("wood", "no specific gravity is known for this wood", "")
	}
	return g, fmt.Sprintf("specific gravity %.2f of %s", g, s.CommonName()), nil
}

func gluing() []Sum {
	joint := []Input{
		{Name: "length", Kind: KindLength, Required: true, Help: "of the glue line"}, {Name: "width", Kind: KindLength, Required: true, Help: "of the glue line"},
		{Name: "lines", Kind: KindCount, Default: "1", Help: "glue lines like it in one glue-up"},
		{Name: "to-line", Kind: KindLength, Default: "1/2", Metric: "12", Help: "from the clamp's pad through the wood to the glue line"},
		{Name: "caul", Kind: KindLength, Default: "0", Help: "thickness of the caul under the pads"},
		{Name: "pad", Kind: KindLength, Default: "1-1/4", Metric: "32", Help: "length of a clamp's pad"},
		woodInput(false),
		{Name: "clamp", Kind: KindText, Default: "bar", Help: "kind of clamp: parallel-jaw, trigger, bar, pipe, i-beam, f-style, f-heavy, c-clamp, spring, cam, band"},
		{Name: "have", Kind: KindCount, Help: "clamps in the shop", Example: "8"},
	}
	return []Sum{
		{Name: "glue", Title: "Glue-up sheet", Help: "glue to pour, time to spread and close, clamps, when they come off and when it may be machined",
			Inputs: append([]Input{glueInput, airInput,
				{Name: "spread", Kind: KindSpan, Default: "3 min", Help: "hands: to spread the glue"}, {Name: "close", Kind: KindSpan, Default: "5 min", Help: "hands: to bring together and tighten"},
				{Name: "faces", Kind: KindChoice, Choices: []string{"one", "both"}, Default: "one", Help: "faces spread"},
				{Name: "waste", Kind: KindPercent, Default: "15", Help: "glue for roller, bottle and squeeze-out, percent"}}, joint...), work: glueUp},
		{Name: "clamps", Title: "How many clamps", Help: "by pressure on the bond and by the 45-degree spread through wood and caul",
			Inputs: append([]Input{glueInput}, joint...), work: clampCount},
		{Name: "cure", Title: "Waits of a glue at a temperature", Help: "open time, clamp time, machining and full strength in steady air",
			Inputs: []Input{glueInput, airInput}, work: cure},
	}
}

func (a *args) ask() (glue.Ask, string, error) {
	k, err := a.glue()
	if err != nil {
		return glue.Ask{}, "", err
	}
	if err := a.positive("length", "width", "pad"); err != nil {
		return glue.Ask{}, "", err
	}
	g, why, err := a.gravity()
	if err != nil {
		return glue.Ask{}, "", err
	}
	c, ok := glue.FindClamp(strings.ToLower(a.word("clamp")))
	if !ok {
		var ids []string
		for _, k := range glue.ClampKinds() {
			ids = append(ids, k.ID)
		}
		return glue.Ask{}, "", a.bad("clamp", "unknown clamp", suggest(a.word("clamp"), ids))
	}
	ask := glue.Ask{Glue: k, Length: a.length("length"), Width: a.length("width"), Lines: a.count("lines"), ToLine: a.length("to-line"), Caul: a.length("caul"), Pad: a.length("pad"),
		Gravity: g, Bond: measure.Rect(a.length("length"), a.length("width")).Times(int64(a.count("lines"))),
		Spread: a.span("spread"), Close: a.span("close"), Both: a.word("faces") == "both", Waste: a.number("waste") / 100}
	if a.has("waste") && ask.Waste == 0 {
		ask.Waste = -1
	}
	if a.has("air") {
		ask.Air = glue.Steady(a.temp("air"))
	}
	n := a.count("have")
	if !a.has("have") {
		n = 0
	}
	ask.Owned = []glue.Owned{{Kind: c.ID, Count: n}}
	if n == 0 {
		ask.Owned = []glue.Owned{{Kind: c.ID, Count: 10_000}} // as many as it takes
	}
	return ask, why, nil
}

func (a *args) clampLines(s *glue.Sheet, ask glue.Ask, why string, r *Result) {
	if ask.Glue.Clamp.None() {
		r.Answer = append(r.Answer, "no clamps: press or roll it hard all over")
		return
	}
	c, _ := glue.FindClamp(strings.ToLower(a.word("clamp")))
	n := max(s.BySpacing, 1)
	if s.HandsCan {
		n = max(n, s.ByForce)
	}
	r.Answer = append(r.Answer, fmt.Sprintf("%d clamps (%s)", n, c.Name))
	r.Working = append(r.Working,
		fmt.Sprintf("by spread at 45 degrees: %s pad + 2 x (%s wood + %s caul), at most 15 in (381 mm): each presses %s, so %d",
			a.show(ask.Pad), a.show(ask.ToLine), a.show(ask.Caul), a.show(s.Coverage), s.BySpacing),
		fmt.Sprintf("by pressure: %s on %s a line = %s; %s; at %s a clamp %d (strong hands %d, weak hands %d)",
			measure.FormatPressure(s.Pressure, a.u), measure.FormatArea(measure.Rect(ask.Length, ask.Width), a.u), measure.FormatForce(s.Force, a.u), why,
			measure.FormatForce(c.Force, a.u), s.ByForce, s.FewForce, s.ManyForce))
	if a.has("have") && s.Have < n {
		r.Answer = append(r.Answer, fmt.Sprintf("the shop has %d: %d short of that", s.Have, n-s.Have))
	}
	if ask.Caul == 0 && s.BySpacing > s.ByForce && s.Coverage < glue.MaxSpacing {
		caul := measure.Inch * 3 / 2
		if a.u.System == measure.Metric {
			caul = 40 * measure.MM
		}
		c := glue.Coverage(ask.Pad, ask.ToLine, caul)
		r.Answer = append(r.Answer, fmt.Sprintf("under a caul %s thick, %d would reach everywhere", a.show(caul), max(glue.BySpacing(ask.Length, c), 1)*max(glue.BySpacing(ask.Width, c), 1)))
	}
	per := max(n/max(s.Rows, 1), 1)
	if s.Rows > 1 {
		r.Working = append(r.Working, fmt.Sprintf("in %d rows across the width, %d to a row", s.Rows, per))
	}
	r.Working = append(r.Working, fmt.Sprintf("each clamp in the middle of its own %s of the joint", a.show(ask.Length/measure.Length(per))))
	r.Values = append(r.Values, Value{Name: "clamps", Text: fmt.Sprint(n), Number: float64(n)}, Value{Name: "clamps-by-spacing", Text: fmt.Sprint(s.BySpacing), Number: float64(s.BySpacing)},
		Value{Name: "clamps-by-force", Text: fmt.Sprint(s.ByForce), Number: float64(s.ByForce)},
		Value{Name: "force", Text: measure.FormatForce(s.Force, a.u), Number: math.Round(float64(s.Force)*10) / 10, Unit: "N"})
	r.Source = append(r.Source, sources(ask.Glue.Pressure.Source, c.Source, glue.RuleSpread)...)
	if ask.Gravity > 0 && a.has("wood") {
		if sp, err := a.species(); err == nil && sp.Crush > 0 && s.Pressure > sp.CrushLimit() {
			r.Caution = append(r.Caution, "that pressure under a bare pad dents this wood: use cauls")
		}
	}
}

func glueUp(a *args) (*Result, error) {
	ask, why, err := a.ask()
	if err != nil {
		return nil, err
	}
	s, err := glue.Work(ask)
	if err != nil {
		return nil, err
	}
	k := ask.Glue
	r := &Result{Title: "Glue-up sheet: " + k.Name}
	r.Answer = []string{fmt.Sprintf("pour %s of glue (%.0f mL)", measure.FormatMass(measure.Mass(s.Grams), a.u), s.Millilitres)}
	switch {
	case s.TooCold:
		r.Answer = append(r.Answer, fmt.Sprintf("too cold: the air is %s and this glue's lowest is %s", s.At.FormatIn(a.scale()), k.Lowest.FormatIn(a.scale())))
	case s.Fits:
		r.Answer = append(r.Answer, fmt.Sprintf("spreading and closing fit: %s and %s, with %s open and %s in all at %s", s.Spread, s.Close, limitSpan(s.Open), limitSpan(s.Total), s.At.FormatIn(a.scale())))
	case s.Split > 0:
		r.Answer = append(r.Answer, fmt.Sprintf("too slow for this glue: split it into %d sub-assemblies", s.Split))
	default:
		r.Answer = append(r.Answer, "too slow for this glue, however it is split")
	}
	if !s.Fits {
		var names []string
		for _, alt := range s.Slower {
			names = append(names, alt.ID)
		}
		if len(names) > 0 {
			r.Answer = append(r.Answer, "it would fit with "+strings.Join(names, ", "))
		}
		r.Working = append(r.Working, fmt.Sprintf("hands need %s to spread and %s to close; the glue gives %s open and %s in all at %s", s.Spread, s.Close, s.Open, s.Total, s.At.FormatIn(a.scale())))
	}
	rate := k.Spread.OneFace
	if ask.Both {
		rate = k.Spread.TwoFaces
	}
	r.Working = append(r.Working, fmt.Sprintf("%s x %.0f g/m² x %.2f for waste", measure.FormatArea(ask.Bond, a.u), rate, 1+max(ask.Waste, 0)))
	r.Values = []Value{{Name: "glue", Text: fmt.Sprintf("%.0f g", s.Grams), Number: math.Round(s.Grams*10) / 10, Unit: "g"}, {Name: "split", Text: fmt.Sprint(s.Split), Number: float64(s.Split)}}
	r.Source = sources(k.Open.Source, k.Total.Source, k.Spread.Source)
	a.clampLines(s, ask, why, r)
	if !s.TooCold {
		for _, w := range []struct {
			name, what string
			rate       glue.Rate
		}{{"clamp-time", "clamps off after", k.Clamp}, {"machining", "machine it after", k.Machine}, {"full", "full strength after", k.Full}} {
			if w.rate.None() {
				continue
			}
			t := w.rate.At(s.At)
			r.Answer = append(r.Answer, fmt.Sprintf("%s %s at a steady %s", w.what, waitSpan(t), s.At.FormatIn(a.scale())))
			r.Values = append(r.Values, Value{Name: w.name, Text: t.String(), Number: float64(t), Unit: "s"})
			r.Source = append(r.Source, sources(w.rate.Source)...)
		}
	}
	r.Working = append(r.Working, s.Order...)
	r.Caution = append(r.Caution, cautionText(k.Cautions)...)
	r.Source = dedupe(r.Source)
	return r, nil
}

// waitSpan drops what nobody waits for, seconds over ten minutes, and never makes a wait shorter.
func waitSpan(s measure.Span) measure.Span {
	if s >= 10*measure.Minute {
		return measure.Span(s.Minutes()) * measure.Minute
	}
	return s
}

// limitSpan does the same for a time that must not be overrun: it is never made longer.
func limitSpan(s measure.Span) measure.Span {
	if s >= 10*measure.Minute {
		return s / measure.Minute * measure.Minute
	}
	return s
}

func dedupe(ss []string) []string {
	seen := map[string]bool{}
	var out []string
	for _, s := range ss {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}

func clampCount(a *args) (*Result, error) {
	ask, why, err := a.ask()
	if err != nil {
		return nil, err
	}
	s, err := glue.Work(ask)
	if err != nil {
		return nil, err
	}
	r := &Result{}
	a.clampLines(s, ask, why, r)
	if !s.HandsCan {
		r.Caution = append(r.Caution, "full pressure is out of reach of hands here: stiff cauls, weights or a vacuum bag, and go by an even bead of squeeze-out")
	}
	r.Source = dedupe(r.Source)
	return r, nil
}

func cure(a *args) (*Result, error) {
	k, err := a.glue()
	if err != nil {
		return nil, err
	}
	t := a.temp("air")
	r := &Result{Title: "Waits: " + k.Name}
	if t < k.Lowest {
		r.Answer = []string{fmt.Sprintf("too cold: %s, and this glue's lowest is %s", t.FormatIn(a.scale()), k.Lowest.FormatIn(a.scale()))}
		r.Source = sources(k.LowestSource)
		r.Caution = cautionText(k.Cautions)
		return r, nil
	}
	for _, w := range []struct {
		name, what string
		rate       glue.Rate
	}{{"open", "stays open", k.Open}, {"total", "under pressure within", k.Total}, {"clamp-time", "clamps off after", k.Clamp}, {"machining", "machine it after", k.Machine}, {"full", "full strength after", k.Full}} {
		if w.rate.None() {
			continue
		}
		s := w.rate.At(t)
		shown := waitSpan(s)
		if w.name == "open" || w.name == "total" {
			shown = limitSpan(s)
		}
		r.Answer = append(r.Answer, fmt.Sprintf("%s %s", w.what, shown))
		p := w.rate.Points[0]
		r.Working = append(r.Working, fmt.Sprintf("%s: %s at %s on the label", w.what, p.Takes, p.At.FormatIn(a.scale())))
		r.Values = append(r.Values, Value{Name: w.name, Text: s.String(), Number: float64(s), Unit: "s"})
		r.Source = append(r.Source, sources(w.rate.Source)...)
	}
	r.Working = append(r.Working, "from one temperature the time doubles for each 18 °F (10 °C) colder; between two it is straight in logarithm against 1/T")
	r.Source = dedupe(r.Source)
	r.Caution = cautionText(k.Cautions)
	return r, nil
}
