package cutting

import (
	"fmt"

	"caul/job/measure"
)

// glueUps splits parts that are wider than any board into strips of one width:
// as few as the widest board allows, or extra more of them, which may suit
// narrower boards on the shelf. It says whether there was anything to split.
func (m *maker) glueUps(k *kind, extra int) bool {
	if form(k.stock) != formBoard {
		return false
	}
	any := false
	for i := range k.units {
		u := &k.units[i]
		if u.turn {
			continue
		}
		widest := m.widest(k, u, u.l)
		if widest <= 0 || u.w <= widest {
			continue
		}
		p := u.need.part
		// A strip is jointed on both edges; the panel is ripped and crosscut
		// to size after the glue-up, so its strips are longer and wider.
		length := ceilTo(p.Size[0].Length+p.Oversize.Length+m.mill.Length, m.mark())
		u.fit = false
		spare := m.mill.Joint
		if !k.stock.Surfaced {
			spare = m.mill.Width
		}
		widest = m.widest(k, u, length) - spare
		if widest <= 0 {
			continue
		}
		whole := p.Size[1].Length + p.Oversize.Length + m.mill.Panel
		n := int((whole+widest-1)/widest) + extra
		if n > 100 {
			continue
		}
		strip := ceilTo((whole+measure.Length(n)-1)/measure.Length(n), m.mark())
		if strip > widest {
			strip = (whole + measure.Length(n) - 1) / measure.Length(n)
		}
		panels := u.qty
		u.strips, u.qty = n, panels*n
		u.l, u.w = length, strip+spare
		text := fmt.Sprintf("%s is %s wide and the widest board gives %s: glue it up from %d strips sawn %s x %s and jointed to %s, then trim to %s x %s; which way each strip's grain lies is yours to choose",
			p.ID, m.f(p.Size[1].Length), m.f(widest), n, m.f(u.l), m.f(u.w), m.f(strip), m.f(p.Size[0].Length+p.Oversize.Length), m.f(p.Size[1].Length+p.Oversize.Length))
		if i := panelAt(k.panels, u.need.job.ID, p.ID); i >= 0 { // another copy of its group
			k.panels[i].Qty += panels
			any = true
			continue
		}
		k.panels = append(k.panels, Panel{Job: u.need.job.ID, Part: p.ID, Qty: panels, Strips: n, Strip: strip, Rough: u.w, Text: text})
		any = true
	}
	return any
}

func panelAt(list []Panel, job, part string) int {
	for i := range list {
		if list[i].Job == job && list[i].Part == part {
			return i
		}
	}
	return -1
}

// widest is the widest usable board at least as long as l.
func (m *maker) widest(k *kind, u *unit, l measure.Length) measure.Length {
	var w measure.Length
	for i := range k.sources {
		if u.from != nil && !has(u.from, i) {
			continue
		}
		if sl, sw := k.sources[i].usable(); sl >= l {
			w = max(w, sw)
		}
	}
	return w
}

func has(list []int, v int) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}

// mark is what strip widths are rounded up to: 1/16 in or 1 mm.
func (m *maker) mark() measure.Length {
	if m.units.System == measure.Metric {
		return measure.MM
	}
	return measure.Inch / 16
}

func ceilTo(l, step measure.Length) measure.Length { return (l + step - 1) / step * step }
