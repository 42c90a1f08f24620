package cost

import (
	"math"
	"math/big"
	"strings"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
	"caul/job/plan"
)

type adder func(item, kind string, a amount, step string) *want

// glue adds what a glue-up takes: bond area times spread, the label's figure
// before the handbook's, and what stays on roller and bottle; rounded up to a
// whole millilitre.
func (m *maker) glue(j *job.Job, g *job.GlueUp, copies int, add adder) {
	kind, item, spread := g.Glue, g.Glue, 0.0
	if l := m.shop.GlueByID(g.Glue); l != nil {
		kind, spread = l.Type, float64(l.Spread)
		if l.Item != "" {
			item = l.Item
		}
	}
	k, ok := glue.Find(kind)
	if !ok {
		m.warn("%s/%s: no glue %q, its glue is not reckoned", j.ID, g.ID, g.Glue)
		return
	}
	if spread == 0 {
		spread = k.Spread.OneFace
	}
	b, err := plan.BondOf(j, g)
	a := b.Area.SquareMetres()
	if err != nil || a <= 0 {
		m.warn("%s/%s: no bond area, its glue is not reckoned; write `bond: length x width`, or `faces:`", j.ID, g.ID)
		return
	}
	if spread <= 0 || k.Spread.Density <= 0 {
		m.warn("%s/%s: no spread is known for %s, it is not reckoned", j.ID, g.ID, g.Glue)
		return
	}
	ml := math.Ceil(a*spread*(1+float64(m.opt.Waste)/100)/k.Spread.Density*float64(copies) - 1e-9)
	w := add(item, "glue", amount{volume, new(big.Rat).SetFloat64(ml)}, g.ID)
	w.density = k.Spread.Density
}

// What a square metre takes of things that are given by area and sold by
// volume or by the sheet; common practice, no source. A price given by the area
// it covers needs neither.
const (
	finishPerSquareMetre = 100 // ml a coat
	sheetsPerSquareMetre = 2   // of abrasive
)

// consume adds what a job consumes by measure.
func (m *maker) consume(j *job.Job, c *job.Consumable, copies int, add adder) {
	if c.Amount != "" {
		a, err := parseAmount(c.Amount)
		if err != nil {
			m.warn("%s/%s: %v", j.ID, c.Item, err)
			return
		}
		add(c.Item, m.consumed(j, c, a.dim), a.times(int64(copies)), c.Step)
		return
	}
	if c.Area == "" {
		m.warn("%s/%s: neither an amount nor an area, it is not reckoned", j.ID, c.Item)
		return
	}
	a, ok := m.areaOf(j, c.Area)
	if !ok {
		m.warn("%s/%s: the area %q cannot be worked out", j.ID, c.Item, c.Area)
		return
	}
	square := amount{area, new(big.Rat).SetInt64(int64(math.Ceil(a.SquareMetres()*1e6 - 1e-6)))}
	square.v.Mul(square.v, big.NewRat(1, 1_000_000))
	need := square.times(int64(copies))
	// in the dimension the price book sells it by
	for _, p := range m.shop.Prices.Items {
		if p.Item != c.Item {
			continue
		}
		sold, err := parseAmount(p.Amount)
		switch {
		case p.Amount == "":
			need = amount{pieces, new(big.Rat).SetInt64(ceil(new(big.Rat).Mul(need.v, big.NewRat(sheetsPerSquareMetre, 1))))}
			m.warn("%s: reckoned at %d sheets a square metre (common practice, no source)", c.Item, sheetsPerSquareMetre)
		case err != nil:
		case sold.dim == sheets:
			need = amount{sheets, new(big.Rat).SetInt64(ceil(new(big.Rat).Mul(need.v, big.NewRat(sheetsPerSquareMetre, 1))))}
			m.warn("%s: reckoned at %d sheets a square metre (common practice, no source)", c.Item, sheetsPerSquareMetre)
		case sold.dim == volume:
			need = amount{volume, new(big.Rat).SetInt64(ceil(new(big.Rat).Mul(need.v, big.NewRat(finishPerSquareMetre, 1))))}
			m.warn("%s: reckoned at %d ml a square metre and coat (common practice, no source); the label comes first", c.Item, finishPerSquareMetre)
		}
		break
	}
	add(c.Item, m.consumed(j, c, need.dim), need, c.Step)
}

// consumed says which part of the list a thing stands in.
func (m *maker) consumed(j *job.Job, c *job.Consumable, dim string) string {
	low := strings.ToLower(c.Item)
	s := j.Step(c.Step)
	switch {
	case dim == sheets || strings.Contains(low, "abrasive") || strings.Contains(low, "sandpaper") || strings.Contains(low, "grit"):
		return "abrasive"
	case dim == length:
		return "cutter"
	case s != nil && s.Finish:
		return "finish"
	case strings.Contains(low, "glue"):
		return "glue"
	}
	return "finish"
}

// areaOf works out "48 x 24" or "2 x 48 x 24", over the named measures of the
// job and the shop.
func (m *maker) areaOf(j *job.Job, s string) (measure.Area, bool) {
	sys := m.shop.Units.Length.System
	n := int64(1)
	es, err := measure.ParseDims(s, sys, 2)
	if err != nil {
		if es, err = measure.ParseDims(s, sys, 3); err != nil {
			return measure.Area{}, false
		}
		num, ok := es[0].Number()
		if !ok || !num.IsInt() || num.Sign() <= 0 || !num.Num().IsInt64() {
			return measure.Area{}, false
		}
		n, es = num.Num().Int64(), es[1:]
	}
	look := func(name string) (measure.Length, bool) {
		for _, list := range [][]job.Measure{j.Measures, m.shop.Measures} {
			for _, x := range list {
				if x.Name == name && x.Set {
					return x.Length, true
				}
			}
		}
		return 0, false
	}
	a, err1 := es[0].Eval(look)
	b, err2 := es[1].Eval(look)
	if err1 != nil || err2 != nil || a.Length <= 0 || b.Length <= 0 {
		return measure.Area{}, false
	}
	return measure.Rect(a.Length, b.Length).Times(n), true
}
