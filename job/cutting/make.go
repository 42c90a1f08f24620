package cutting

import (
	"context"
	"fmt"
	"slices"

	"caul/job"
	"caul/job/layout"
	"caul/job/measure"
)

// Make lays out every part that is still to be cut and gives the order of
// cuts. It returns an error for a job or a blade that does not exist; a part
// that no stock can give is listed in Unfit. When the context ends early the
// best layouts so far are given, with the bounds that hold for them.
func Make(ctx context.Context, shop *job.Shop, o Options) (*Cut, error) {
	jobs, err := jobsOf(shop, &o)
	if err != nil {
		return nil, err
	}
	m := &maker{shop: shop, opt: o, units: shop.Units.Length, mill: DefaultAllowance(shop.Units.Length.System),
		limit: DefaultLimits(shop.Units.Length.System), keep: o.keep(shop.Units.Length.System), cut: &Cut{Jobs: []string{}, Sheets: []Sheet{}, Buy: []Buy{}, Order: []Step{}}}
	if o.Mill != nil {
		m.mill = *o.Mill
	}
	if o.Limits != nil {
		m.limit = *o.Limits
	}
	var ok bool
	if m.kerf, m.cut.KerfFrom, ok = kerf(shop, o.Blade); !ok {
		return nil, fmt.Errorf("no blade %q with a kerf in shop.yaml", o.Blade)
	}
	m.cut.Kerf = m.kerf
	var list []need
	for _, j := range jobs {
		m.cut.Jobs = append(m.cut.Jobs, j.ID)
		copies := max(1, j.Copies)
		if o.Copies > 0 {
			copies = o.Copies
		}
		list = append(list, needs(j, copies, o.Everything, o.Entries)...)
	}
	for _, n := range list {
		if n.cut > 0 {
			m.cut.Already = append(m.cut.Already, Already{n.job.ID, n.part.ID, n.cut, n.why})
		}
	}
	var trees []*sheetTree
	var best []*attempt
	for _, k := range m.kinds(list) {
		a, err := m.solve(ctx, k)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", k.stock.ID, err)
		}
		best = append(best, a)
		for i := range a.result.Sheets {
			trees = append(trees, a.kind.tree(&a.result.Sheets[i], len(trees), m.kerf, m.keep))
		}
	}
	strokes := inTurn(trees, m.kerf)
	settle(trees, strokes, m.kerf)
	m.read(best, trees, strokes)
	m.answer(best)
	return m.cut, nil
}

// attempt is one kind of stock with the engine's answer.
type attempt struct {
	kind   *kind
	result *layout.Result
}

// solve lays one kind out. Where panels are glued up and the shelf holds
// boards that narrower strips would suit, one and two strips more a panel are
// tried as well.
func (m *maker) solve(ctx context.Context, k *kind) (*attempt, error) {
	var best *attempt
	for extra := 0; extra <= 2; extra++ {
		try := *k
		try.units = slices.Clone(k.units)
		try.panels = nil
		split := m.glueUps(&try, extra)
		m.problem(&try)
		opt := layout.Options{Work: m.opt.Budget, Workers: m.opt.Workers}
		if split {
			opt.Work = max(1, cmpBudget(m.opt.Budget)/3)
		}
		if m.opt.Progress != nil {
			opt.Progress = func(p layout.Progress) {
				n := Progress{Stock: k.stock.ID, Work: p.Work, Budget: p.Budget}
				if p.Best != nil {
					n.Used = len(p.Best.Sheets)
				}
				m.opt.Progress(n)
			}
		}
		r, err := layout.Solve(ctx, try.prob, opt)
		if err != nil {
			return nil, err
		}
		a := &attempt{&try, r}
		if best == nil || better(a, best) {
			best = a
		}
		if !split || len(k.sources) < 2 {
			break
		}
	}
	return best, nil
}

func cmpBudget(b int64) int64 {
	if b > 0 {
		return b
	}
	return layout.DefaultWork
}

// better compares two ways to glue panels up: parts left over, then cost, then
// pieces bought, then pieces used; at a tie the fewer strips stay.
func better(a, b *attempt) bool {
	left := func(r *layout.Result) (n int) {
		for _, u := range r.Unplaced {
			n += u.Qty
		}
		return
	}
	for _, d := range []int64{int64(left(a.result) - left(b.result)), a.result.Cost.Value - b.result.Cost.Value,
		a.result.Bought.Value - b.result.Bought.Value, a.result.Used.Value - b.result.Used.Value} {
		if d != 0 {
			return d < 0
		}
	}
	return false
}

// answer sums the kinds up.
func (m *maker) answer(all []*attempt) {
	c := m.cut
	for _, a := range all {
		c.Results = append(c.Results, Solved{a.kind.stock.ID, a.kind.scale.unit, a.kind.prob, a.result})
		c.Fewest += int(a.result.Used.Bound)
		c.Panels = append(c.Panels, a.kind.panels...)
		m.unplaced(a)
		m.buy(a)
		if a.result.Ended {
			m.warn("%s: the search was stopped early", a.kind.stock.ID)
		}
	}
	if len(c.Results) > 0 {
		c.Result = c.Results[0].Result
	}
	c.Answer, c.Proved = verdict(all, m.shop.Units.Money)
	switch n := len(c.Unfit); {
	case len(c.Sheets) == 0 && n > 0:
		c.Answer, c.Proved = "nothing could be laid out", false
	case n == 1:
		c.Answer += "; 1 kind of part is not laid out"
	case n > 1:
		c.Answer += fmt.Sprintf("; %d kinds of part are not laid out", n)
	}
}

// verdict says how good the layouts are. "No layout uses fewer" is said
// without a condition only where nothing cheaper was preferred to fewer
// pieces: the engine puts cost first, and offcuts cost nothing.
func verdict(all []*attempt, code string) (text string, proved bool) {
	var dearer, bought, over, used int64
	proved, plain, split, sure := true, true, false, true
	for _, a := range all {
		r := a.result
		dearer += r.Cost.Value - r.Cost.Bound
		bought += r.Bought.Value - r.Bought.Bound
		over += r.Used.Value - r.Used.Bound
		used += r.Used.Value
		proved = proved && r.Cost.Proved && r.Bought.Proved
		sure = sure && r.Used.Proved
		plain = plain && (len(a.kind.sources) == 1 || r.Used.Value <= 1)
		split = split || len(a.kind.panels) > 0
	}
	if used == 0 {
		return "nothing left to cut", true
	}
	at := ""
	if !plain {
		at = " at that cost"
	}
	switch {
	case proved && sure && plain:
		text = "proved: no layout uses fewer"
	case proved && sure:
		text = "proved: none costs less, and at that cost none uses fewer"
	case over > 0:
		text = fmt.Sprintf("at most %d more than the fewest possible%s", over, at)
	default:
		text = "no layout uses fewer" + at
	}
	if dearer > 0 {
		text += fmt.Sprintf("; at most %s dearer than the cheapest possible", measure.Money{Minor: dearer, Code: code})
	} else if bought > 0 {
		text += fmt.Sprintf("; at most %d more to buy than the fewest possible", bought)
	}
	if split {
		text += ", with panels glued up from strips as listed"
	}
	return text, proved
}

// unplaced turns what the engine could not place into words.
func (m *maker) unplaced(a *attempt) {
	for _, u := range a.result.Unplaced {
		q := &a.kind.units[u.Part]
		s := m.shop.StockByID(q.need.part.From)
		var big *source
		bought := false
		for i := range a.kind.sources {
			c := &a.kind.sources[i]
			if q.from != nil && !has(q.from, i) {
				continue
			}
			bought = bought || c.piece == nil
			if big == nil || float64(c.l)*float64(max(1, c.w)) > float64(big.l)*float64(max(1, big.w)) {
				big = c
			}
		}
		bl, bw := big.usable()
		size, room := m.f(q.l)+" x "+m.f(q.w), m.f(bl)+" x "+m.f(bw)
		if form(s) == formRod {
			size, room = m.f(q.l), m.f(bl)
		}
		switch u.Reason {
		case layout.TooLarge:
			m.unfit(q.need, u.Qty, "give a larger size in stock.yaml, or make the part from two", "sawn %s with the grain along the first; the largest %s gives %s", size, s.ID, room)
		case layout.GroupTooLarge:
			m.unfit(q.need, u.Qty, "split the group, or take larger sheets", "group %s does not fit on one piece of %s (%s)", q.need.part.SameSheet, s.ID, room)
		default:
			hint := "give " + s.ID + " a size that can be bought"
			if bought {
				hint = "make the part from two, or take a larger size"
			}
			m.unfit(q.need, u.Qty, hint, "what there is of %s is used up", s.ID)
		}
	}
}

// buy lists what has to be bought for one kind.
func (m *maker) buy(a *attempt) {
	count := make([]int, len(a.kind.sources))
	for i := range a.result.Sheets {
		count[a.result.Sheets[i].Stock]++
	}
	for i, n := range count {
		s := &a.kind.sources[i]
		if n == 0 || s.piece != nil {
			continue
		}
		b := Buy{Stock: s.stock.ID, Item: s.item, Qty: n, Each: s.price, Price: s.priced}
		if s.priced {
			cost, err := s.price.Times(int64(n), 1, measure.Up)
			if err == nil {
				b.Cost = cost
				cost, err = m.cut.Cost.Plus(cost)
			}
			if err != nil {
				m.warn("%s: %v", s.item, err)
			} else {
				m.cut.Cost = cost
			}
		} else {
			m.warn("%s has no price; add it to prices.yaml", s.item)
		}
		m.cut.Buy = append(m.cut.Buy, b)
	}
}
