package reckon

import (
	"fmt"
	"math/big"
	"strings"

	"caul/job/machine"
	"caul/job/measure"
)

func drilling() []Sum {
	return []Sum{
		{Name: "pilot", Title: "Pilot and clearance holes", Help: "what to drill for a wood screw in a wood",
			Inputs: []Input{{Name: "screw", Kind: KindText, Required: true, Help: "number, or number x length", Example: "8"}, woodInput(true),
				{Name: "fixed", Kind: KindLength, Help: "thickness of the part that is fixed, to know how deep the thread goes"}}, work: pilot},
		{Name: "thread", Title: "Machine screw: tap, clearance, travel", Help: "what to drill, and how far it moves in a turn",
			Inputs: []Input{{Name: "thread", Kind: KindText, Required: true, Help: "6-32, 8-32, 10-24, 10-32, 1/4-20, 5/16-18, 3/8-16, M3, M4, M5, M6, M8", Example: "1/4-20"},
				{Name: "turns", Kind: KindText, Default: "1", Help: "turns, such as 1/4 or 2 1/2"}}, work: thread},
		{Name: "dovetail", Title: "Dovetail groove", Help: "width of a dovetail groove at its top, and the straight cutter that may clear it first",
			Inputs: []Input{{Name: "cutter", Kind: KindLength, Default: "1/2", Metric: "12.7", Help: "cutter's width at the bottom"}, {Name: "angle", Kind: KindNumber, Default: "14", Help: "degrees of its sides from upright"},
				{Name: "depth", Kind: KindLength, Required: true, Help: "depth of the groove", Example: "3/8"}, {Name: "leave", Kind: KindLength, Default: "1/32", Metric: "0.8", Help: "wood left on each side by the clearing cut"},
				{Name: "thick", Kind: KindLength, Help: "thickness of the board, to know what is left under the groove"}}, work: dovetail},
		{Name: "passes", Title: "Router passes", Help: "depth settings for a groove, none deeper than half the cutter",
			Inputs: []Input{{Name: "depth", Kind: KindLength, Required: true, Help: "depth of the groove", Example: "3/8"}, {Name: "cutter", Kind: KindLength, Required: true, Help: "diameter", Example: "1/2"},
				{Name: "most", Kind: KindLength, Default: "1/4", Metric: "6", Help: "deepest pass"}}, work: passes},
		{Name: "rim-speed", Title: "Rim speed", Help: "how fast a blade's or cutter's edge runs",
			Inputs: []Input{{Name: "diameter", Kind: KindLength, Required: true, Help: "of blade or cutter", Example: "10 in"}, {Name: "turns", Kind: KindNumber, Required: true, Help: "turns a minute", Example: "3450"},
				{Name: "feed", Kind: KindNumber, Help: "m/min, to know the chip", Example: "3"}, {Name: "edges", Kind: KindCount, Default: "2", Help: "cutting edges"}}, work: rimSpeed},
	}
}

func pilot(a *args) (*Result, error) {
	s, err := a.species()
	if err != nil {
		return nil, err
	}
	text := a.word("screw")
	var length measure.Length
	if strings.ContainsAny(text, "x×X") {
		l, err := machine.ParseScrewLabel(text)
		if err != nil {
			return nil, a.bad("screw", err.Error(), "")
		}
		text, length = fmt.Sprint(l.Number), l.Length
	}
	n := 0
	if _, err := fmt.Sscanf(strings.TrimPrefix(strings.ToLower(strings.TrimSpace(text)), "#"), "%d", &n); err != nil {
		return nil, a.bad("screw", "cannot read this as a screw", "write its number, such as 8")
	}
	sc, ok := machine.Screw(n)
	if !ok {
		return nil, a.bad("screw", "no wood screw has this number", "")
	}
	g := s.Gravity
	if g == 0 {
		g = s.GreenGravity
	}
	h, err := sc.Holes(g)
	if err != nil {
		return nil, err
	}
	clear := machine.NearestClearance(h.Clearance, a.u)
	r := &Result{Source: sources(h.Source, h.FirmSource, sc.ShankSource)}
	r.Answer = []string{fmt.Sprintf("clearance hole %s through the fixed part (shank %s)", clear.Name, a.fine(sc.Shank))}
	if h.Pilot > 0 {
		d := machine.NearestDrill(h.Pilot, a.u)
		r.Answer = append(r.Answer, fmt.Sprintf("pilot hole %s (%s) for the thread", d.Name, a.fine(h.Pilot)))
		r.Values = append(r.Values, lengthValue("pilot", h.Pilot, a.fine(h.Pilot)), lengthValue("pilot-drill", d.Size, d.Name))
	} else {
		d := machine.NearestDrill(sc.Root*7/10, a.u)
		r.Answer = append(r.Answer, fmt.Sprintf("no pilot hole needed; %s near an end or an edge", d.Name))
		r.Values = append(r.Values, lengthValue("pilot", 0, "none"))
	}
	r.Working = []string{fmt.Sprintf("%s, specific gravity %.2f: %s", s.CommonName(), g, h.PilotWhy),
		fmt.Sprintf("root of a number %d screw %s; flat head about %s across", n, a.fine(sc.Root), a.show(sc.HeadDiameter()))}
	r.Values = append(r.Values, lengthValue("clearance", h.Clearance, a.fine(h.Clearance)), lengthValue("clearance-drill", clear.Size, clear.Name), lengthValue("head", sc.HeadDiameter(), a.fine(sc.HeadDiameter())))
	if length > 0 && a.has("fixed") {
		in := length - a.length("fixed")
		if in <= 0 {
			return nil, a.bad("fixed", "the screw does not reach through the fixed part", "")
		}
		f, src := sc.Withdrawal(g, in)
		r.Working = append(r.Working, fmt.Sprintf("%s in the second part; in side grain it pulls out at about %s, which is what breaks it and not what it may carry", a.show(in), measure.FormatForce(f, a.u)))
		r.Source = append(r.Source, src.String())
		r.Values = append(r.Values, lengthValue("thread", in, a.show(in)))
	}
	r.Caution = []string{"clamp the parts while drilling; try the hole in a scrap of the same wood; wax the screw in hard wood", "published root diameters differ: where the screw in hand measures otherwise, drill by the screw"}
	return r, nil
}

func thread(a *args) (*Result, error) {
	t, ok := machine.FindThread(a.word("thread"))
	if !ok {
		t, ok = machine.FindThread(strings.ToUpper(a.word("thread")))
	}
	if !ok {
		var names []string
		for _, t := range machine.Threads() {
			names = append(names, t.Name)
		}
		return nil, a.bad("thread", "unknown thread", suggest(a.word("thread"), names))
	}
	turns, ok := parseTurns(a.word("turns"))
	if !ok {
		return nil, a.bad("turns", "cannot read this as turns", "write 1/4, 2 1/2 or 0.5")
	}
	travel, err := t.Travel(turns.Num().Int64(), turns.Denom().Int64())
	if err != nil {
		return nil, err
	}
	r := &Result{Title: "Thread " + t.Name, Source: sources(t.TapSource, t.ClearSource)}
	r.Answer = []string{fmt.Sprintf("tap drill %s (%s)", t.TapDrill, a.fine(t.Tap))}
	if t.Normal > 0 {
		r.Answer = append(r.Answer, fmt.Sprintf("clearance: close %s, normal %s, loose %s", a.fine(t.Close), a.fine(t.Normal), a.fine(t.Loose)))
	}
	if t.ChartClose > 0 {
		r.Working = append(r.Working, fmt.Sprintf("shop charts say %s close and %s free: another system, kept apart", a.fine(t.ChartClose), a.fine(t.ChartFree)))
	}
	r.Answer = append(r.Answer, fmt.Sprintf("%s of a turn moves it %s", turns.RatString(), a.fine(travel)))
	r.Working = append(r.Working, fmt.Sprintf("the tap drill leaves %.0f %% of full thread", t.Percent()))
	r.Values = []Value{lengthValue("tap", t.Tap, t.TapDrill), lengthValue("travel", travel, a.fine(travel)), lengthValue("normal", t.Normal, a.fine(t.Normal)),
		{Name: "percent", Text: fmt.Sprintf("%.1f %%", t.Percent()), Number: t.Percent(), Unit: "%"}}
	return r, nil
}

// parseTurns reads a whole number, a fraction, a mixed number or a decimal.
func parseTurns(s string) (*big.Rat, bool) {
	if len(s) > 20 || strings.Trim(s, "0123456789./ ") != "" {
		return nil, false
	}
	sum := new(big.Rat)
	fields := strings.Fields(s)
	for _, f := range fields {
		r, ok := new(big.Rat).SetString(f)
		if !ok {
			return nil, false
		}
		sum.Add(sum, r)
	}
	return sum, len(fields) > 0 && len(fields) <= 2 && sum.Num().IsInt64() && sum.Denom().IsInt64()
}

func dovetail(a *args) (*Result, error) {
	if err := a.positive("cutter", "depth", "thick"); err != nil {
		return nil, err
	}
	d := machine.Dovetail{Diameter: a.length("cutter"), Angle: a.number("angle")}
	top, err := d.WidthAt(a.length("depth"))
	if err != nil {
		return nil, err
	}
	leave := a.length("leave")
	if leave < 0 {
		return nil, a.bad("leave", "must not be negative", "")
	}
	relief := top - 2*leave
	r := &Result{Source: sources(machine.DovetailSource)}
	r.Answer = []string{fmt.Sprintf("%s wide at the bottom and %s at the top", a.show(d.Diameter), a.show(top))}
	if relief > 0 {
		bit := machine.NearestDrill(relief, a.u)
		if bit.Size <= relief {
			r.Answer = append(r.Answer, fmt.Sprintf("clear it first with a straight cutter of at most %s, such as %s", a.show(relief), bit.Name))
		} else {
			r.Answer = append(r.Answer, fmt.Sprintf("clear it first with a straight cutter of at most %s", a.show(relief)))
		}
	} else {
		r.Answer = append(r.Answer, "the waist is too narrow for a clearing cut")
	}
	r.Working = []string{fmt.Sprintf("%s - 2 x %s x tan %g = %s", a.show(d.Diameter), a.show(a.length("depth")), d.Angle, a.fine(top)),
		fmt.Sprintf("waist %s less %s on each side = %s", a.fine(top), a.show(leave), a.fine(relief))}
	r.Values = []Value{lengthValue("bottom", d.Diameter, a.fine(d.Diameter)), lengthValue("top", top, a.fine(top)), lengthValue("relief", relief, a.fine(relief))}
	r.Caution = []string{"a dovetail cutter takes the full depth in one pass and cannot be lifted out: clear most of the groove first, feed steadily, and stop the machine before taking the work off"}
	if a.has("thick") {
		left := machine.LeftUnder(a.length("thick"), a.length("depth"), 0)
		keep, src := machine.KeepUnder(a.length("thick"), false)
		r.Answer = append(r.Answer, fmt.Sprintf("%s is left under it", a.show(left)))
		r.Values = append(r.Values, lengthValue("under", left, a.show(left)))
		switch {
		case left <= 0:
			r.Caution = append(r.Caution, "the groove breaks through the board")
		case left < keep:
			r.Caution = append(r.Caution, fmt.Sprintf("less than a third (%s) is left under the groove", a.show(keep)))
		}
		r.Source = append(r.Source, src.String())
	}
	return r, nil
}

func passes(a *args) (*Result, error) {
	if err := a.positive("depth", "cutter", "most"); err != nil {
		return nil, err
	}
	p, err := machine.Passes(a.length("depth"), a.length("cutter"), a.length("most"))
	if err != nil {
		return nil, err
	}
	var marks []string
	r := &Result{Source: sources(machine.PassRule)}
	for i, d := range p {
		marks = append(marks, a.show(d))
		r.Values = append(r.Values, lengthValue(fmt.Sprintf("pass-%d", i+1), d, a.show(d)))
	}
	r.Answer = []string{fmt.Sprintf("%d passes, set to %s", len(p), strings.Join(marks, ", "))}
	r.Working = []string{fmt.Sprintf("each at most the lesser of %s / 2 and %s", a.show(a.length("cutter")), a.show(a.length("most")))}
	r.Caution = []string{"feed against the turn of the cutter; a lighter pass in hard or end grain"}
	return r, nil
}

func rimSpeed(a *args) (*Result, error) {
	if err := a.positive("diameter"); err != nil {
		return nil, err
	}
	rpm := a.number("turns")
	if rpm <= 0 {
		return nil, a.bad("turns", "must be more than nothing", "")
	}
	v := machine.RimSpeed(a.length("diameter"), rpm)
	text := fmt.Sprintf("%.1f m/s", v)
	if a.u.System == measure.Inches {
		text = fmt.Sprintf("%.0f ft/min (%.1f m/s)", v*60/0.3048, v)
	}
	r := &Result{Answer: []string{text}, Working: []string{fmt.Sprintf("pi x %s x %g turns a minute", a.show(a.length("diameter")), rpm)}, Source: sources(geometry),
		Values:  []Value{{Name: "speed", Text: text, Number: v, Unit: "m/s"}},
		Caution: []string{"never run a cutter faster than the turns printed on it"}}
	if a.has("feed") {
		c, err := machine.ChipLoad(a.number("feed"), rpm, a.count("edges"))
		if err != nil {
			return nil, err
		}
		r.Answer = append(r.Answer, "each edge takes "+a.fine(c))
		r.Values = append(r.Values, lengthValue("chip", c, a.fine(c)))
	}
	return r, nil
}
