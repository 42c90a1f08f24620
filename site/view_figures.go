package site

import (
	"cmp"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"caul/job/glue"
	"caul/job/machine"
	"caul/job/measure"
	"caul/job/wood"
)

// figuresView is every glue, wood and machine figure with where it comes from.
// Sources are numbered and listed once.
type figuresView struct {
	Glues    []glueRow
	Labels   []labelRow
	Woods    []woodRow
	Clamps   []clampRow
	Machines []machineRow
	Sources  []string
	number   map[string]int
}

// cited is a figure with the number of its source.
type cited struct {
	Text string
	Src  int
}

type glueRow struct {
	Name, Class string
	Figures     []citedFigure
}

type citedFigure struct {
	What string
	cited
}

type labelRow struct{ Name, Type, Says string }

type woodRow struct {
	Name                                       string
	Radial, Tangential, Shrinks, Gravity, Hard cited
}

type clampRow struct {
	Name  string
	Force cited
}

type machineRow struct {
	Name string
	Kerf cited
}

func (v *figuresView) cite(text string, s measure.Source) cited {
	if text == "" {
		return cited{}
	}
	key := s.String()
	n, ok := v.number[key]
	if !ok {
		v.Sources = append(v.Sources, key)
		n = len(v.Sources)
		v.number[key] = n
	}
	return cited{text, n}
}

func (r *renderer) figuresView() *figuresView {
	v := &figuresView{number: map[string]int{}}
	u := r.in.Shop.Units
	for _, k := range glue.Kinds() {
		row := glueRow{Name: k.Name, Class: k.Class}
		add := func(what, text string, s measure.Source) {
			if text != "" {
				row.Figures = append(row.Figures, citedFigure{what, v.cite(text, s)})
			}
		}
		rate := func(what string, x glue.Rate) {
			var ps []string
			for _, p := range x.Points {
				ps = append(ps, fmt.Sprintf("%s at %s", p.Takes, r.temp(p.At)))
			}
			add(what, strings.Join(ps, "; "), x.Source)
		}
		rate("stays open", k.Open)
		rate("under pressure within", k.Total)
		rate("in clamps", k.Clamp)
		rate("machining after", k.Machine)
		rate("full strength after", k.Full)
		add("no colder than", r.temp(k.Lowest), k.LowestSource)
		if k.Spread.OneFace > 0 {
			add("spread on one face", fmt.Sprintf("%.0f g/m²", k.Spread.OneFace), k.Spread.Source)
		}
		if k.Pressure.High > 0 {
			add("pressure", measure.FormatPressure(k.Pressure.Low, u.Length)+" to "+measure.FormatPressure(k.Pressure.High, u.Length), k.Pressure.Source)
		}
		if k.Class != "" {
			add("water", k.Class+": "+cmp.Or(glue.ClassUse(k.Class), "see its source"), k.ClassSource)
		}
		v.Glues = append(v.Glues, row)
	}
	for _, l := range r.in.Shop.Glues {
		var says []string
		if l.Open > 0 {
			says = append(says, "open "+l.Open.String())
		}
		if l.Closed > 0 {
			says = append(says, "closed "+l.Closed.String())
		}
		for _, p := range l.Clamp {
			says = append(says, fmt.Sprintf("clamps %s at %s", p.Time, r.temp(p.Temp)))
		}
		for _, p := range l.Cure {
			says = append(says, fmt.Sprintf("cure %s at %s", p.Time, r.temp(p.Temp)))
		}
		if l.Lowest != nil {
			says = append(says, "no colder than "+r.temp(*l.Lowest))
		}
		v.Labels = append(v.Labels, labelRow{cmp.Or(l.Name, l.ID), l.Type, strings.Join(says, "; ")})
	}
	f := func(x float64, places int) string {
		if x == 0 {
			return ""
		}
		return strconv.FormatFloat(x, 'f', places, 64)
	}
	for _, w := range wood.All() {
		row := woodRow{Name: w.CommonName()}
		row.Radial = v.cite(f(w.Radial, 5), w.RadialSource)
		row.Tangential = v.cite(f(w.Tangential, 5), w.TangentialSource)
		if w.ShrinkRadial > 0 {
			row.Shrinks = v.cite(f(w.ShrinkRadial, 1)+" / "+cmp.Or(f(w.ShrinkTangential, 1), "–"), w.ShrinkSource)
		}
		row.Gravity = v.cite(f(w.Gravity, 2), w.StrengthSource)
		row.Hard = v.cite(f(w.Hardness, 0), w.StrengthSource)
		v.Woods = append(v.Woods, row)
	}
	sort.SliceStable(v.Woods, func(a, b int) bool { return strings.ToLower(v.Woods[a].Name) < strings.ToLower(v.Woods[b].Name) })
	for _, c := range glue.ClampKinds() {
		v.Clamps = append(v.Clamps, clampRow{c.Name, v.cite(measure.FormatForce(c.Force, u.Length), c.Source)})
	}
	for _, m := range machine.Kinds() {
		if m.Kerf > 0 {
			v.Machines = append(v.Machines, machineRow{m.Name, v.cite(measure.FormatUnit(m.Kerf, u.Length), m.KerfFrom)})
		}
	}
	return v
}
