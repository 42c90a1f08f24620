package reckon

import (
	"fmt"

	"caul/job/measure"
	"caul/job/wood"
)

func buying() []Sum {
	return []Sum{
		{Name: "board-feet", Title: "Board feet", Help: "what a board is sold as, by the hardwood or the softwood rule",
			Inputs: []Input{{Name: "thick", Kind: KindLength, Required: true, Help: "nominal thickness, such as 1 or 5/4 in", Example: "5/4 in"},
				{Name: "width", Kind: KindLength, Required: true, Help: "width: actual for hardwood, nominal for softwood", Example: "7-1/4 in"},
				{Name: "length", Kind: KindLength, Required: true, Help: "length of the board", Example: "10 ft"},
				{Name: "rule", Kind: KindChoice, Choices: []string{"hardwood", "softwood"}, Default: "hardwood", Help: "rule of the trade"},
				{Name: "count", Kind: KindCount, Default: "1", Help: "how many such boards"}}, work: boardFeet},
		{Name: "rough", Title: "Rough thickness for a finished one", Help: "the thinnest rough board from which a finished thickness is sure to come",
			Inputs: []Input{{Name: "thick", Kind: KindLength, Required: true, Help: "finished thickness", Example: "3/4 in"}}, work: rough},
		{Name: "nominal", Title: "What a nominal softwood board measures", Help: "the dressed size of a 1 x 4 and its like",
			Inputs: []Input{{Name: "thick", Kind: KindLength, Required: true, Help: "nominal thickness", Example: "1 in"}, {Name: "width", Kind: KindLength, Required: true, Help: "nominal width", Example: "4 in"}}, work: nominal},
		{Name: "sheet", Title: "What a sheet may really measure", Help: "the thicknesses sold under an inch name, against a measured one",
			Inputs: []Input{{Name: "sold-as", Kind: KindLength, Required: true, Help: "thickness on the label", Example: "3/4 in"}, {Name: "measured", Kind: KindLength, Help: "thickness by caliper"}}, work: sheet},
		{Name: "kerf", Title: "Parts from one length", Help: "how many parts a board or strip gives, and what the saw turns to dust",
			Inputs: []Input{{Name: "stock", Kind: KindLength, Required: true, Help: "length of the stock"}, {Name: "part", Kind: KindLength, Required: true, Help: "length of each part"},
				{Name: "kerf", Kind: KindLength, Default: "1/8", Metric: "3.2", Help: "width of the cut"},
				{Name: "trim", Kind: KindLength, Default: "0", Help: "taken off one end first, kerf not counted"},
				{Name: "last", Kind: KindChoice, Choices: []string{"keep", "trim"}, Default: "keep", Help: "whether the far end is sound as it is, or trimmed too"}}, work: kerf},
	}
}

func boardFeet(a *args) (*Result, error) {
	if err := a.positive("thick", "width", "length"); err != nil {
		return nil, err
	}
	t, w, l, n := a.length("thick"), a.length("width"), a.length("length"), a.count("count")
	r := &Result{}
	var each wood.BoardFeet
	if a.word("rule") == "hardwood" {
		sm, b, err := wood.Hardwood(w, l, t)
		if err != nil {
			return nil, err
		}
		each = b
		r.Working = []string{fmt.Sprintf("surface measure %s x %d ft / 12 = %.3f, counted as %d", measure.Format(w, inch64), l/measure.Foot, w.Inches()*float64(l/measure.Foot)/12, sm),
			fmt.Sprintf("%d x %s in nominal = %v", sm, measure.Format(max(t, measure.Inch), inch64), b)}
		r.Source = sources(wood.HardwoodRule)
	} else {
		b, err := wood.Softwood(t, w, l)
		if err != nil {
			return nil, err
		}
		each = b
		r.Working = []string{fmt.Sprintf("%s x %s in x %.2f ft / 12 = %v", measure.Format(max(t, measure.Inch), inch64), measure.Format(w, inch64), l.Inches()/12, b)}
		r.Source = sources(wood.SoftwoodRule)
	}
	total := each * wood.BoardFeet(n)
	if n > 1 {
		r.Working = append(r.Working, fmt.Sprintf("%d boards of %v", n, each))
	}
	if t < measure.Inch {
		r.Working = append(r.Working, "under one inch counts as one inch")
	}
	r.Working = append(r.Working, fmt.Sprintf("by volume alone it would be %.2f", wood.Volume(t, w, l)*float64(n)))
	r.Answer = []string{total.String()}
	r.Values = []Value{{Name: "board-feet", Text: total.String(), Number: total.Float(), Unit: "bd ft"}}
	return r, nil
}

var inch64 = measure.Units{System: measure.Inches, Mark: 64}

func rough(a *args) (*Result, error) {
	if err := a.positive("thick"); err != nil {
		return nil, err
	}
	t, spare, ok := wood.RoughFor(a.length("thick"))
	if !ok {
		return nil, a.bad("thick", "thicker than any listed rough board gives", "glue it up from thinner boards")
	}
	return &Result{
		Answer:  []string{t.Nominal + " rough"},
		Working: []string{fmt.Sprintf("%s is %s rough and %s surfaced on both sides: %s to spare", t.Nominal, a.show(t.Rough), a.show(t.Both), a.show(spare))},
		Source:  sources(wood.ThicknessSource),
		Caution: []string{"a board that is cupped, bowed or in wind gives less; a straight one may give more"},
		Values:  []Value{lengthValue("rough", t.Rough, t.Nominal), lengthValue("surfaced", t.Both, a.show(t.Both)), lengthValue("spare", spare, a.show(spare))},
	}, nil
}

func nominal(a *args) (*Result, error) {
	t, w, err := wood.DressedSize(a.length("thick"), a.length("width"))
	if err != nil {
		return nil, err
	}
	return &Result{
		Answer:  []string{a.show(t) + " x " + a.show(w)},
		Working: []string{"least dressed size at 19 % moisture or less"},
		Source:  sources(wood.DressedSource),
		Values:  []Value{lengthValue("thick", t, a.show(t)), lengthValue("width", w, a.show(w))},
	}, nil
}

func sheet(a *args) (*Result, error) {
	if err := a.positive("sold-as", "measured"); err != nil {
		return nil, err
	}
	sold := a.length("sold-as")
	labels, src := wood.Labels(sold)
	r := &Result{Source: sources(src)}
	for _, l := range labels {
		r.Working = append(r.Working, fmt.Sprintf("%s: %s", l.What, a.fine(l.Thickness)))
		r.Values = append(r.Values, lengthValue(l.What, l.Thickness, a.fine(l.Thickness)))
	}
	if tol, err := wood.ThicknessTolerance(wood.PS1Sanded, sold); err == nil && sold%(measure.Inch/32) == 0 {
		low, high := tol.Limits(sold)
		r.Working = append(r.Working, fmt.Sprintf("US sanded plywood stated %s may be %s to %s", a.show(sold), a.fine(low), a.fine(high)))
		r.Source = append(r.Source, tol.Source.String())
	}
	if tol, err := wood.ThicknessTolerance(wood.EN315Sanded, sold); err == nil && sold%(measure.MM/2) == 0 {
		low, high := tol.Limits(sold)
		r.Working = append(r.Working, fmt.Sprintf("European sanded plywood stated %s may be %s to %s", a.show(sold), a.fine(low), a.fine(high)))
		r.Source = append(r.Source, tol.Source.String())
	}
	if !a.has("measured") {
		r.Answer = []string{"measure the sheet in hand; cut grooves to that"}
		return r, nil
	}
	m := a.length("measured")
	r.Answer = []string{fmt.Sprintf("%s is %s off the label: cut grooves to %s", a.fine(m), a.fine((m - sold).Abs()), a.fine(m))}
	var near *wood.Label
	for i := range labels {
		if near == nil || (labels[i].Thickness-m).Abs() < (near.Thickness-m).Abs() {
			near = &labels[i]
		}
	}
	if near != nil && (near.Thickness-m).Abs() <= measure.MM/2 {
		r.Answer = append(r.Answer, fmt.Sprintf("nearest to %s, which is %s", near.What, a.fine(near.Thickness)))
	}
	r.Values = append(r.Values, lengthValue("off", m-sold, a.fine(m-sold)))
	return r, nil
}

// PartsFrom gives how many parts come from a stock length after a trim, the number of kerfs and
// the piece left over. With trimLast every part ends in a cut; otherwise the far end of the stock
// may be the end of the last part.
func PartsFrom(stock, part, kerf, trim measure.Length, trimLast bool) (n int64, kerfs int64, left measure.Length, err error) {
	if part <= 0 || kerf < 0 || trim < 0 || stock <= 0 {
		return 0, 0, 0, fmt.Errorf("stock and parts must be more than nothing, kerf and trim not less")
	}
	room := stock - trim
	if trim > 0 {
		room -= kerf // the trimming cut
	}
	if room < 0 {
		room = 0
	}
	if trimLast {
		n = int64(room / (part + kerf))
		kerfs = n
	} else {
		n = int64((room + kerf) / (part + kerf))
		kerfs = n
		if room == measure.Length(n)*part+measure.Length(max(n-1, 0))*kerf && n > 0 {
			kerfs = n - 1
		}
	}
	left = max(room-measure.Length(n)*part-measure.Length(kerfs)*kerf, 0)
	if trim > 0 {
		kerfs++
	}
	return n, kerfs, left, nil
}

func kerf(a *args) (*Result, error) {
	n, k, left, err := PartsFrom(a.length("stock"), a.length("part"), a.length("kerf"), a.length("trim"), a.word("last") == "trim")
	if err != nil {
		return nil, err
	}
	dust := a.length("stock") - a.length("trim") - measure.Length(n)*a.length("part") - left
	if n == 0 {
		dust = 0
	}
	r := &Result{
		Answer:  []string{fmt.Sprintf("%d parts of %s, and %s left", n, a.show(a.length("part")), a.show(left))},
		Working: []string{fmt.Sprintf("%s = %s of trim + %d x %s + %d cuts of %s + %s left", a.show(a.length("stock")), a.show(a.length("trim")), n, a.show(a.length("part")), k, a.show(a.length("kerf")), a.show(left)), "the saw takes " + a.show(dust)},
		Source:  []string{"arithmetic; the kerf is the blade's own: cut a scrap and measure it"},
		Values:  []Value{{Name: "parts", Text: fmt.Sprint(n), Number: float64(n)}, {Name: "cuts", Text: fmt.Sprint(k), Number: float64(k)}, lengthValue("left", left, a.show(left)), lengthValue("dust", dust, a.show(dust))},
	}
	if n == 0 {
		r.Answer = []string{"none: the stock is too short"}
	}
	return r, nil
}
