package cutting

import (
	"fmt"
	"slices"
	"time"

	"caul/job"
	"caul/job/layout"
	"caul/job/measure"
)

// The forms of stock.
const (
	formSheet = "sheet"
	formBoard = "board"
	formRod   = "rod"
)

// source is one size of stock that parts may come from: what is bought, or a
// piece on the shelf.
type source struct {
	stock  *job.Stock
	piece  *job.Piece // nil: bought
	l, w   measure.Length
	thick  measure.Length
	trim   measure.Length
	qty    int // -1: as many as wanted
	price  measure.Money
	priced bool
	item   string
}

// usable is the size inside the trim.
func (s *source) usable() (l, w measure.Length) { return s.l - 2*s.trim, s.w - 2*s.trim }

// unit is one kind of rectangle to lay out: a part, or the strips of a panel.
type unit struct {
	need   *need
	first  int // number of its first copy, from 1
	qty    int
	l, w   measure.Length // as sawn
	group  string
	turn   bool
	fit    bool // measured before the cut that makes it
	note   string
	strips int // more than 0: strips of a panel
	from   []int
}

// kind is the layout problem of one kind of stock.
type kind struct {
	shop    *job.Shop
	stock   *job.Stock
	sources []source
	units   []unit
	panels  []Panel
	prob    *layout.Problem
	scale   *scale
}

// maker collects the answer.
type maker struct {
	shop  *job.Shop
	opt   Options
	mill  Allowance
	limit Limits
	kerf  measure.Length
	keep  [2]measure.Length
	units measure.Units
	cut   *Cut
}

func (m *maker) warn(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	if !slices.Contains(m.cut.Warn, s) {
		m.cut.Warn = append(m.cut.Warn, s)
	}
}

func (m *maker) f(l measure.Length) string { return measure.Format(l, m.units) }

func (m *maker) unfit(n *need, qty int, hint, format string, args ...any) {
	m.cut.Unfit = append(m.cut.Unfit, Unfit{Job: n.job.ID, Part: n.part.ID, Qty: qty,
		Why: fmt.Sprintf(format, args...), At: n.part.At, Hint: hint})
}

// thickness is the true thickness of a kind of stock.
func thickness(s *job.Stock) measure.Length {
	if s.Thick.Set {
		return s.Thick.Length
	}
	return s.Size[2].Length
}

func form(s *job.Stock) string {
	switch s.Form {
	case formBoard, formRod:
		return s.Form
	}
	return formSheet
}

// grained says whether the wood of a kind has a direction that parts follow.
func grained(s *job.Stock) bool { return s.Grain || form(s) == formBoard }

// sourcesOf lists what parts of a kind of stock can be cut from: the shelf
// first, then what is bought.
func (m *maker) sourcesOf(s *job.Stock) []source {
	var out []source
	thick := thickness(s)
	for i := range s.OnHand {
		p := &s.OnHand[i]
		if p.Qty <= 0 || p.Size[0].Length <= 0 || form(s) != formRod && p.Size[1].Length <= 0 {
			continue
		}
		src := source{stock: s, piece: p, l: p.Size[0].Length, w: p.Size[1].Length, thick: thick, qty: p.Qty}
		if p.Size[2].Set {
			src.thick = p.Size[2].Length
		}
		if form(s) == formRod {
			src.w = s.Size[1].Length
		}
		if form(s) == formSheet && src.thick != thick && thick > 0 {
			m.warn("%s: %s on hand is %s thick, not %s, and is left out", s.ID, p.ID, m.f(src.thick), m.f(thick))
			continue
		}
		if !p.Offcut {
			src.trim = s.Trim.Length
		}
		out = append(out, src)
	}
	if s.Size[0].Length > 0 && (form(s) == formRod || s.Size[1].Length > 0) {
		src := source{stock: s, l: s.Size[0].Length, w: s.Size[1].Length, thick: thick, trim: s.Trim.Length, qty: -1, item: s.Price}
		if src.item == "" {
			src.item = s.ID
		}
		var other string
		src.price, other, src.priced = unitPrice(m.shop, src.item)
		if other != "" {
			m.warn("%s: a price in %s is left out; the shop reckons in %s", src.item, other, m.shop.Units.Money)
		}
		out = append(out, src)
	}
	return out
}

// unitPrice is what one piece costs at the supplier that is cheapest today,
// rounded up to a whole minor unit; other names a currency that was left out.
func unitPrice(shop *job.Shop, item string) (best measure.Money, other string, ok bool) {
	latest := map[string]time.Time{}
	for _, p := range shop.Prices.Items {
		if p.Item == item && !p.Date.Before(latest[p.Supplier]) {
			latest[p.Supplier] = p.Date
		}
	}
	for _, p := range shop.Prices.Items {
		if p.Item != item || !p.Date.Equal(latest[p.Supplier]) {
			continue
		}
		if shop.Units.Money != "" && p.Price.Code != "" && p.Price.Code != shop.Units.Money {
			other = p.Price.Code
			continue
		}
		each, err := p.Price.Times(1, int64(max(1, p.Pack)), measure.Up)
		if err == nil && (!ok || each.Minor < best.Minor) {
			best, ok = each, true
		}
	}
	return best, other, ok
}

// kinds sorts the parts still to cut by the stock they come from, in the order
// of stock.yaml. Kinds that stand in for one another are laid out together.
func (m *maker) kinds(list []need) []*kind {
	stock := m.shop.Stock
	root := make([]int, len(stock))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	for i := range stock {
		for _, j := range m.also(i) {
			a, b := find(i), find(j)
			root[max(a, b)] = min(a, b)
		}
	}
	byID := map[string]*kind{}
	at := map[int]*kind{}
	var out []*kind
	for i := range stock {
		k := at[find(i)]
		if k == nil {
			k = &kind{shop: m.shop, stock: &stock[find(i)]}
			at[find(i)] = k
			out = append(out, k)
		}
		k.sources = append(k.sources, m.sourcesOf(&stock[i])...)
		byID[stock[i].ID] = k
	}
	for i := range list {
		n := &list[i]
		if n.total == n.cut {
			continue
		}
		k, s := byID[n.part.From], m.shop.StockByID(n.part.From)
		switch {
		case k == nil && n.part.From == "":
			m.unfit(n, n.total-n.cut, "add `from:` with a kind of stock", "the part names no stock")
		case k == nil:
			m.unfit(n, n.total-n.cut, "add it to stock.yaml", "no stock %q", n.part.From)
		case n.part.Size[0].Length <= 0 || n.part.Size[1].Length <= 0 && form(k.stock) != formRod:
			m.unfit(n, n.total-n.cut, "give the part a size", "the part has no size")
		case len(m.allowed(k, s)) == 0:
			m.unfit(n, n.total-n.cut, "give "+s.ID+" a size that can be bought, or pieces on hand", "there is none of %s, and no size to buy", s.ID)
		default:
			m.add(k, s, n)
		}
	}
	m.groups(list)
	return slices.DeleteFunc(out, func(k *kind) bool { return len(k.units) == 0 })
}

// also lists the kinds that a kind says do as well, as far as they are the
// same thing in another size.
func (m *maker) also(i int) []int {
	s := &m.shop.Stock[i]
	var out []int
	for _, id := range s.Also {
		j := slices.IndexFunc(m.shop.Stock, func(o job.Stock) bool { return o.ID == id })
		if j < 0 || j == i {
			continue
		}
		o := &m.shop.Stock[j]
		if form(o) != form(s) || o.Surfaced != s.Surfaced || thickness(o) != thickness(s) && form(s) == formSheet ||
			form(s) == formRod && o.Size[1].Length != s.Size[1].Length {
			m.warn("%s cannot stand in for %s: it differs in more than length and width", o.ID, s.ID)
			continue
		}
		out = append(out, j)
	}
	return out
}

// allowed lists the sources a part may come from: those of its stock, and of
// what does as well.
func (m *maker) allowed(k *kind, s *job.Stock) []int {
	ok := map[string]bool{s.ID: true}
	for _, j := range m.also(slices.IndexFunc(m.shop.Stock, func(o job.Stock) bool { return o.ID == s.ID })) {
		ok[m.shop.Stock[j].ID] = true
	}
	var out []int
	for i := range k.sources {
		if ok[k.sources[i].stock.ID] {
			out = append(out, i)
		}
	}
	return out
}

// groups says where a group cannot be kept together.
func (m *maker) groups(list []need) {
	from, cut := map[string]string{}, map[string]bool{}
	for i := range list {
		n := &list[i]
		g := n.part.SameSheet
		if g == "" {
			continue
		}
		key := n.job.ID + "/" + g
		if f, ok := from[key]; ok && f != n.part.From {
			m.warn("%s: group %s has parts from %s and from %s, which cannot come from one sheet", n.job.ID, g, f, n.part.From)
		}
		from[key] = n.part.From
		if n.cut > 0 && n.cut < n.total {
			cut[key] = true
		}
		if cut[key] && n.cut < n.total {
			m.warn("%s: part of group %s is cut; the rest comes from another sheet unless the offcut of the first is large enough", n.job.ID, g)
		}
	}
}

// add turns a part into what is sawn for it.
func (m *maker) add(k *kind, s *job.Stock, n *need) {
	p := n.part
	from := m.allowed(k, s)
	u := unit{need: n, first: n.cut + 1, qty: n.total - n.cut, l: p.Size[0].Length + p.Oversize.Length,
		w: p.Size[1].Length + p.Oversize.Length, turn: p.Turn || !slices.ContainsFunc(from, func(i int) bool { return grained(k.sources[i].stock) })}
	if len(from) < len(k.sources) {
		u.from = from
	}
	var notes []string
	u.fit = p.FitToMeasure && (form(s) != formBoard || s.Surfaced)
	if p.FitToMeasure {
		notes = append(notes, "measure, then cut")
	}
	if p.Oversize.Length > 0 {
		notes = append(notes, m.f(p.Oversize.Length)+" left on length and width")
	}
	switch form(s) {
	case formRod:
		u.w, u.turn = 0, false
		if p.Oversize.Length > 0 {
			notes[len(notes)-1] = m.f(p.Oversize.Length) + " left on the length"
		}
	case formSheet:
		if t := thickness(s); p.Size[2].Set && t > 0 && far(p.Size[2].Length, t) && far(p.Size[2].Length, s.Size[2].Length) {
			m.warn("%s/%s is %s thick and %s is %s: mill it, or name another stock", n.job.ID, p.ID, m.f(p.Size[2].Length), s.ID, m.f(t))
		}
	case formBoard:
		if !m.thickEnough(k, s, n, &u, from) {
			return
		}
		if !s.Surfaced {
			// sawn to a mark of the rule: the last size comes after milling
			u.l = ceilTo(u.l+m.mill.Length, m.mark())
			u.w = ceilTo(u.w+m.mill.Width, m.mark())
			notes = append(notes, fmt.Sprintf("%s on the length and %s on the width left for milling", m.f(m.mill.Length), m.f(m.mill.Width)))
		}
	}
	u.note = join(notes)
	if p.SameSheet == "" {
		k.units = append(k.units, u)
		return
	}
	// a group holds within one copy of the jig
	left := u.qty
	for c := n.copies; c >= 1 && left > 0; c-- {
		v := u
		v.qty = min(left, p.Qty)
		v.group = fmt.Sprintf("%s/%s/%d", n.job.ID, p.SameSheet, c)
		left -= v.qty
		v.first = n.cut + 1 + left
		k.units = append(k.units, v)
	}
}

// far says that two thicknesses differ by more than a sheet's own tolerance;
// 1 mm covers the EN 315 sanded limits up to 21 mm.
func far(a, b measure.Length) bool { return (a - b).Abs() > measure.MM }

// thickEnough keeps to the boards a part can be dressed from.
func (m *maker) thickEnough(k *kind, st *job.Stock, n *need, u *unit, from []int) bool {
	t := n.part.Size[2].Length
	if t <= 0 {
		return true
	}
	var most measure.Length
	tight := false
	var thick []int
	for _, i := range from {
		s := &k.sources[i]
		most = max(most, s.thick)
		loss := measure.Length(0)
		if !st.Surfaced {
			loss = m.mill.Thick
			if s.thick >= 7*measure.Inch/4 {
				loss = m.mill.Heavy
			}
		}
		switch {
		case s.thick > 0 && t > s.thick:
			continue
		case s.thick > 0 && t+loss > s.thick:
			tight = true
		}
		thick = append(thick, i)
	}
	if len(thick) == 0 {
		m.unfit(n, u.qty, "take thicker boards, or glue up the thickness", "%s thick, and the thickest %s is %s", m.f(t), st.ID, m.f(most))
		return false
	}
	if len(thick) < len(k.sources) {
		u.from = thick
	}
	if tight {
		m.warn("%s/%s: %s thick from %s rough leaves little to dress; it may not clean up", n.job.ID, n.part.ID, m.f(t), m.f(most))
	}
	return true
}

func join(s []string) string {
	out := ""
	for i, x := range s {
		if i > 0 {
			out += "; "
		}
		out += x
	}
	return out
}

// problem states the layout problem of a kind for the engine. sizes that do
// not fit the boards are split into strips before.
func (m *maker) problem(k *kind) {
	ls := []measure.Length{m.kerf}
	for _, s := range k.sources {
		ls = append(ls, s.l, s.w, s.trim)
		if s.piece != nil {
			for _, d := range s.piece.Defects {
				ls = append(ls, d[0].Length, d[1].Length, d[2].Length, d[3].Length)
			}
		}
	}
	for _, u := range k.units {
		ls = append(ls, u.l, u.w)
	}
	k.scale = newScale(ls...)
	sc := k.scale
	if sc.rounded {
		m.warn("%s: some sizes fall on no mark of any rule and are laid out up to %v larger", k.stock.ID, sc.unit)
	}
	rod := form(k.stock) == formRod
	p := &layout.Problem{Kerf: sc.up(m.kerf), MaxStages: m.opt.MaxStages,
		KeepX: max(1, sc.up(m.keep[0])), KeepY: max(1, sc.up(m.keep[1]))}
	if rod {
		p.KeepX, p.KeepY = max(1, sc.up(m.keep[0]/2)), 0
	}
	for _, s := range k.sources {
		st := layout.Stock{Name: s.stock.ID, X: sc.down(s.l), Y: sc.down(s.w), Price: s.price.Minor, Qty: s.qty, OnHand: s.piece != nil}
		t := sc.up(s.trim)
		st.Trim = layout.Trim{Left: t, Right: t, Near: t, Far: t}
		if rod {
			st.Y, st.Trim.Near, st.Trim.Far = 0, 0, 0
		}
		if s.piece != nil {
			st.Name += " " + s.piece.ID
			for _, d := range s.piece.Defects {
				r := layout.Rect{X: sc.down(d[0].Length), Y: sc.down(d[1].Length)}
				r.W = sc.up(d[0].Length+d[2].Length) - r.X
				r.H = sc.up(d[1].Length+d[3].Length) - r.Y
				if r.W <= 0 || r.H <= 0 {
					continue
				}
				if rod {
					r.Y, r.H = 0, 0
				}
				st.Defects = append(st.Defects, r)
			}
		}
		p.Stocks = append(p.Stocks, st)
	}
	for _, u := range k.units {
		q := layout.Part{Name: u.need.part.ID, X: sc.up(u.l), Y: sc.up(u.w), Qty: u.qty, Turn: u.turn, Group: u.group, Stocks: u.from}
		p.Parts = append(p.Parts, q)
	}
	k.prob = p
}
