package reckon

import (
	"fmt"
	"math"
	"math/big"
	"strings"

	"caul/job/measure"
)

func layingOut() []Sum {
	return []Sum{
		{Name: "spacing", Title: "Equal spacing with margins", Help: "where to put slats, holes or pins so that the gaps are equal",
			Inputs: []Input{{Name: "length", Kind: KindLength, Required: true, Help: "of the whole"}, {Name: "count", Kind: KindCount, Required: true, Help: "how many", Example: "5"},
				{Name: "width", Kind: KindLength, Default: "0", Help: "of each; 0 for holes, whose middles are spaced"},
				{Name: "margin", Kind: KindLength, Help: "from each end to the first; left out, the margins equal the gaps"}}, work: spacing},
		{Name: "slots", Title: "Slot transfer", Help: "where the runners go on a sled's base, from the saw's own slots",
			Inputs: []Input{{Name: "left", Kind: KindLength, Required: true, Help: "from the blade's left side to the near edge of the left slot"},
				{Name: "right", Kind: KindLength, Required: true, Help: "from the blade's right side to the near edge of the right slot"},
				{Name: "slot", Kind: KindLength, Default: "3/4", Metric: "19", Help: "width of a slot, measured"}, {Name: "depth", Kind: KindLength, Default: "3/8", Metric: "9.5", Help: "depth of a slot, measured"},
				{Name: "kerf", Kind: KindLength, Default: "1/8", Metric: "3.2", Help: "width of the cut"},
				{Name: "base", Kind: KindLength, Required: true, Help: "from the base's left edge to the left side of the cut"}}, work: slots},
		{Name: "arc", Title: "Arc from chord and rise", Help: "the radius, from any two of chord, rise and radius the third",
			Inputs: []Input{{Name: "chord", Kind: KindLength, Help: "straight across the ends"}, {Name: "rise", Kind: KindLength, Help: "from the middle of the chord to the arc"}, {Name: "radius", Kind: KindLength, Help: "of the arc"}}, work: arc},
		{Name: "segments", Title: "Segments of a ring", Help: "length and mitre of each segment",
			Inputs: []Input{{Name: "count", Kind: KindCount, Required: true, Help: "segments", Example: "12"}, {Name: "diameter", Kind: KindLength, Required: true, Help: "outside, over the finished round"},
				{Name: "inside", Kind: KindLength, Help: "diameter inside, to know the width of the stock"}}, work: segments},
	}
}

// Spacing places count items of a width in a length with a margin at each end, or with margins
// equal to the gaps where margin is negative. It gives the exact starts, measured from one end,
// rounded once each so that no error piles up, and the gap.
func Spacing(length, width, margin measure.Length, count int) (starts []measure.Length, gap measure.Length, err error) {
	if count < 1 || count > 10_000 || length <= 0 || width < 0 {
		return nil, 0, fmt.Errorf("nothing can be spaced like that")
	}
	n := int64(count)
	g := new(big.Rat)
	first := new(big.Rat)
	if margin < 0 {
		g.SetFrac64(int64(length)-n*int64(width), n+1)
		first.Set(g)
	} else {
		first = margin.Rat()
		if n > 1 {
			g.SetFrac64(int64(length)-2*int64(margin)-n*int64(width), n-1)
		} else {
			first.SetFrac64(int64(length)-int64(width), 2)
		}
	}
	if g.Sign() < 0 || (n == 1 && first.Sign() < 0) {
		return nil, 0, fmt.Errorf("they do not fit: %d of %v and the margins are longer than %v", count, width, length)
	}
	step := new(big.Rat).Add(g, width.Rat())
	for i := range n {
		at := new(big.Rat).Add(first, new(big.Rat).Mul(step, big.NewRat(i, 1)))
		l, _, err := measure.FromRat(at)
		if err != nil {
			return nil, 0, err
		}
		starts = append(starts, l)
	}
	gap, _, err = measure.FromRat(g)
	return starts, gap, err
}

func spacing(a *args) (*Result, error) {
	if err := a.positive("length"); err != nil {
		return nil, err
	}
	margin := measure.Length(-1)
	if a.has("margin") {
		if margin = a.length("margin"); margin < 0 {
			return nil, a.bad("margin", "must not be negative", "")
		}
	}
	n, w := a.count("count"), a.length("width")
	starts, gap, err := Spacing(a.length("length"), w, margin, n)
	if err != nil {
		return nil, err
	}
	r := &Result{Source: sources(measure.Source{Ref: "arithmetic; each mark measured from the same end, so that no error piles up"})}
	what := "gaps"
	if w == 0 {
		what = "middles apart"
	}
	if n > 1 || margin < 0 {
		r.Answer = append(r.Answer, fmt.Sprintf("%s: %s", what, a.show(gap)))
	}
	var marks []string
	for i, s := range starts {
		marks = append(marks, a.mark(s))
		r.Values = append(r.Values, lengthValue(fmt.Sprintf("mark-%d", i+1), s, a.show(s)))
	}
	if len(marks) > 60 {
		marks = append(marks[:60], "...")
	}
	r.Answer = append(r.Answer, "marks from one end: "+strings.Join(marks, ", "))
	if margin < 0 {
		r.Working = []string{fmt.Sprintf("(%s - %d x %s) / %d", a.show(a.length("length")), n, a.show(w), n+1)}
	} else {
		r.Working = []string{fmt.Sprintf("(%s - 2 x %s - %d x %s) / %d", a.show(a.length("length")), a.show(margin), n, a.show(w), max(n-1, 1))}
	}
	r.Values = append(r.Values, lengthValue("gap", gap, a.show(gap)))
	return r, nil
}

func slots(a *args) (*Result, error) {
	if err := a.positive("left", "right", "slot", "depth", "kerf", "base"); err != nil {
		return nil, err
	}
	l, rr, slot, k, base := a.length("left"), a.length("right"), a.length("slot"), a.length("kerf"), a.length("base")
	// from the base's left edge: the left slot ends where it comes nearest the blade
	leftNear := base - l
	leftFar := leftNear - slot
	rightNear := base + k + rr
	rightFar := rightNear + slot
	if leftFar < 0 {
		return nil, a.bad("base", "the left runner would lie beyond the base's edge", "make it at least "+measure.FormatUnit(l+slot, a.u))
	}
	apart := rightNear - leftNear
	r := &Result{
		Answer: []string{
			fmt.Sprintf("left runner from %s to %s, right runner from %s to %s, from the base's left edge", a.show(leftFar), a.show(leftNear), a.show(rightNear), a.show(rightFar)),
			fmt.Sprintf("the slots' inner edges are %s apart, their middles %s", a.show(apart), a.show(apart+slot)),
			fmt.Sprintf("runners %s to %s wide and %s to %s high", a.fine(slot-measure.Inch*5/1000), a.fine(slot-measure.Inch*2/1000), a.show(a.length("depth")-measure.Inch/16), a.show(a.length("depth")-measure.Inch/32)),
		},
		Working: []string{
			fmt.Sprintf("left: %s - %s = %s, less the slot's %s", a.show(base), a.show(l), a.show(leftNear), a.show(slot)),
			fmt.Sprintf("right: %s + %s kerf + %s = %s, and the slot's %s more", a.show(base), a.show(k), a.show(rr), a.show(rightNear), a.show(slot)),
		},
		Source:  sources(geometry, measure.Source{Ref: "runner play 0.002 to 0.005 in in all, and 1/32 to 1/16 in short of the slot's depth", Standing: measure.Practice}),
		Caution: []string{"measure the slots of the saw in hand, blade up and saw unplugged; the first cut through the base sets the line, so glue the runners before it", "never let a hand pass over the place where the blade leaves the fence: put a block there"},
		Values: []Value{lengthValue("left-far", leftFar, a.show(leftFar)), lengthValue("left-near", leftNear, a.show(leftNear)), lengthValue("right-near", rightNear, a.show(rightNear)),
			lengthValue("right-far", rightFar, a.show(rightFar)), lengthValue("apart", apart, a.show(apart)), lengthValue("middles", apart+slot, a.show(apart+slot))},
	}
	return r, nil
}

func arc(a *args) (*Result, error) {
	if err := a.positive("chord", "rise", "radius"); err != nil {
		return nil, err
	}
	n := 0
	for _, k := range []string{"chord", "rise", "radius"} {
		if a.has(k) {
			n++
		}
	}
	if n != 2 {
		return nil, &InputError{Msg: "two of chord, rise and radius are wanted", Hint: "leave out the one to be found"}
	}
	c, h, rad := a.length("chord").Millimetres(), a.length("rise").Millimetres(), a.length("radius").Millimetres()
	r := &Result{Source: sources(geometry)}
	switch {
	case !a.has("radius"):
		rad = c*c/(8*h) + h/2
		r.Answer = []string{"radius " + a.show(measure.FromMillimetres(rad))}
		r.Working = []string{fmt.Sprintf("(%s)² / (8 x %s) + %s / 2", a.show(a.length("chord")), a.show(a.length("rise")), a.show(a.length("rise")))}
	case !a.has("rise"):
		if c > 2*rad {
			return nil, a.bad("chord", "longer than the circle is wide", "")
		}
		h = rad - math.Sqrt(rad*rad-c*c/4)
		r.Answer = []string{"rise " + a.show(measure.FromMillimetres(h))}
		r.Working = []string{fmt.Sprintf("R - square root of (R² - (C/2)²), with R %s and C %s", a.show(a.length("radius")), a.show(a.length("chord")))}
	default:
		if h > 2*rad {
			return nil, a.bad("rise", "higher than the circle", "")
		}
		c = 2 * math.Sqrt(2*rad*h-h*h)
		r.Answer = []string{"chord " + a.show(measure.FromMillimetres(c))}
		r.Working = []string{fmt.Sprintf("2 x square root of (2 R h - h²), with R %s and h %s", a.show(a.length("radius")), a.show(a.length("rise")))}
	}
	half := math.Atan2(c/2, rad-h)
	along := 2 * rad * half
	r.Answer = append(r.Answer, fmt.Sprintf("the arc is %s long and spans %.2f degrees", a.show(measure.FromMillimetres(along)), 2*half*180/math.Pi))
	for _, v := range []struct {
		name string
		mm   float64
	}{{"chord", c}, {"rise", h}, {"radius", rad}, {"along", along}} {
		l := measure.FromMillimetres(v.mm)
		r.Values = append(r.Values, lengthValue(v.name, l, a.fine(l)))
	}
	return r, nil
}

func segments(a *args) (*Result, error) {
	if err := a.positive("diameter", "inside"); err != nil {
		return nil, err
	}
	n := a.count("count")
	if n < 3 {
		return nil, a.bad("count", "a ring has at least three segments", "")
	}
	half := math.Pi / float64(n)
	d := a.length("diameter").Millimetres()
	// the outside of the ring touches the middle of each segment's long edge, so that it can be turned round
	long := measure.FromMillimetres(d * math.Tan(half))
	mitre := 180 / float64(n)
	r := &Result{
		Answer:  []string{fmt.Sprintf("%d segments, long edge %s, mitre %.3f degrees at each end", n, a.show(long), mitre)},
		Working: []string{fmt.Sprintf("long edge = %s x tan(180/%d); mitre = 180/%d", a.show(a.length("diameter")), n, n)},
		Source:  sources(geometry), Caution: []string{"small segments are cut in a jig or with a long stick between hand and blade, never held by hand"},
		Values: []Value{lengthValue("long", long, a.fine(long)), {Name: "mitre", Text: fmt.Sprintf("%.4f degrees", mitre), Number: mitre, Unit: "degrees"}},
	}
	if a.has("inside") {
		in := a.length("inside").Millimetres()
		if in >= d {
			return nil, a.bad("inside", "not smaller than the outside", "")
		}
		// the inner corner of a segment must reach the inside round
		w := measure.FromMillimetres(d/2 - in/2*math.Cos(half))
		r.Answer = append(r.Answer, "stock at least "+a.show(w)+" wide")
		r.Working = append(r.Working, "width = outside radius - inside radius x cos(180/n), so that the corners reach the inside round")
		r.Values = append(r.Values, lengthValue("width", w, a.fine(w)))
	}
	return r, nil
}
