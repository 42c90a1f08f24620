package cost

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"caul/job"
	"caul/job/cutting"
	"caul/job/measure"
	"caul/job/plan"
)

// Options say what to reckon.
type Options struct {
	Jobs      []string // ids; empty: those of the layout
	Copies    int      // of each job, instead of what its file says; 0: as the file says
	OneStop   bool     // buy from one supplier, as far as it has things
	WithHours bool     // count hands-on time at the shop's rate
	Offcuts   bool     // take the worth of kept offcuts off the price of a copy
	Waste     int      // percent of glue that stays on roller and bottle; 0: 15, common practice, no source
}

// want is one item and how much of it is needed.
type want struct {
	item, kind string
	whole      amount // that the jobs take in all
	need       amount // of that, what is not yet used
	have       amount // on the shelf, or bought and not yet used
	buy        amount
	density    float64 // g/ml, of a glue
	jobs       []string
	offers     []offer
	picks      []pick
	total      int64
	keep       *big.Rat // stock: share of what is bought that is kept as offcuts
	kept       []string
	done       *big.Rat // stock: pieces' worth of what is cut already
	shelf      *big.Rat // stock: pieces' worth of what comes off the shelf, offcuts kept left out
}

type maker struct {
	shop  *job.Shop
	cut   *cutting.Cut
	opt   Options
	jobs  []*job.Job
	bill  *Bill
	wants []*want
	err   error
}

func (m *maker) warn(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	if !slices.Contains(m.bill.Warn, s) {
		m.bill.Warn = append(m.bill.Warn, s)
	}
}

// Make reckons what the jobs cost: what is still to be bought, in whole packs
// and at the cheapest suppliers, what it is worth in the jig and left over, and
// what was spent. The layout gives the stock. It returns an error for a job
// that does not exist, or when a sum passes what an int64 holds.
func Make(shop *job.Shop, cut *cutting.Cut, o Options) (*Bill, error) {
	m := &maker{shop: shop, cut: cut, opt: o, bill: &Bill{Jobs: []string{}, Buy: []Line{}, Currency: currency(shop), TaxRate: shop.Prices.Tax}}
	if cut == nil {
		m.cut = &cutting.Cut{}
	}
	if m.opt.Waste == 0 {
		m.opt.Waste = 15
	}
	ids := o.Jobs
	if len(ids) == 0 {
		ids = m.cut.Jobs
	}
	for _, id := range ids {
		j := shop.Job(id)
		if j == nil {
			return nil, fmt.Errorf("no job %q in this shop", id)
		}
		if !slices.Contains(m.jobs, j) {
			m.jobs = append(m.jobs, j)
			m.bill.Jobs = append(m.bill.Jobs, id)
		}
	}
	m.bill.Copies = m.copiesOf()
	m.stock()
	for _, j := range m.jobs {
		m.job(j)
	}
	m.choose()
	m.lines()
	m.spent()
	m.sums()
	if m.err != nil {
		return nil, m.err
	}
	return m.bill, nil
}

// currency is the shop's, or that of the first price where the shop names none.
func currency(shop *job.Shop) string {
	if shop.Units.Money != "" {
		return shop.Units.Money
	}
	for _, p := range shop.Prices.Items {
		if p.Price.Code != "" {
			return p.Price.Code
		}
	}
	return ""
}

func (m *maker) copies(j *job.Job) int {
	if m.opt.Copies > 0 {
		return m.opt.Copies
	}
	return max(1, j.Copies)
}

func (m *maker) copiesOf() int {
	n := 0
	for i, j := range m.jobs {
		if c := m.copies(j); i == 0 {
			n = c
		} else if c != n {
			return 0
		}
	}
	return n
}

// want gives the entry of an item, in a dimension.
func (m *maker) want(item, kind, dim string) *want {
	for _, w := range m.wants {
		if w.item == item && w.whole.dim == dim {
			return w
		}
	}
	zero := amount{dim, new(big.Rat)}
	w := &want{item: item, kind: kind, whole: zero, need: zero, have: zero, buy: zero}
	m.wants = append(m.wants, w)
	return w
}

func (w *want) by(j *job.Job) {
	if !slices.Contains(w.jobs, j.ID) {
		w.jobs = append(w.jobs, j.ID)
	}
}

// ledger is what a job's log says of its items.
type ledger struct {
	packs map[string]int // bought
	used  map[string]int // pieces
	done  map[string]bool
	spoil map[string]int
}

func read(j *job.Job) ledger {
	l := ledger{map[string]int{}, map[string]int{}, map[string]bool{}, map[string]int{}}
	for _, e := range j.Counting() {
		switch e.Did {
		case job.DidBuy:
			l.packs[e.Item] += max(1, e.Qty)
		case job.DidUse:
			l.used[e.Item] += max(1, e.Qty)
		}
	}
	states, _ := j.States()
	for id, s := range states {
		switch s.State {
		case job.Done, job.Curing, job.InClamps:
			l.done[id] = true
		}
	}
	return l
}

// job adds what one job takes besides stock. Hardware, glue and what is
// consumed count as used when the step that takes them is done or in clamps,
// or when the log says so. Packs the job's log says were bought count as on
// hand until they are used; what stock.yaml lists is on hand besides.
func (m *maker) job(j *job.Job) {
	n, log := m.copies(j), read(j)
	type tally struct {
		w           *want
		whole, gone amount
	}
	var items []*tally
	add := func(item, kind string, a amount, step string) *want {
		w := m.want(item, kind, a.dim)
		w.by(j)
		i := slices.IndexFunc(items, func(t *tally) bool { return t.w == w })
		if i < 0 {
			items = append(items, &tally{w: w, whole: amount{a.dim, new(big.Rat)}, gone: amount{a.dim, new(big.Rat)}})
			i = len(items) - 1
		}
		items[i].whole = items[i].whole.plus(a)
		if step != "" && log.done[step] {
			items[i].gone = items[i].gone.plus(a)
		}
		return w
	}
	for _, h := range j.Hardware {
		add(h.Item, "hardware", count(h.Qty*n), h.Step)
	}
	for i := range j.GlueUps {
		m.glue(j, &j.GlueUps[i], n, add)
	}
	for i := range j.Consumes {
		m.consume(j, &j.Consumes[i], n, add)
	}
	for _, t := range items {
		w := t.w
		if u := log.used[w.item]; u > 0 && w.whole.dim == pieces {
			if g := count(u); g.v.Cmp(t.gone.v) > 0 {
				t.gone = g
			}
		}
		w.whole = w.whole.plus(t.whole)
		w.need = w.need.plus(t.whole.less(t.gone))
		if p := log.packs[w.item]; p > 0 {
			if size, ok := m.packSize(w); ok {
				w.have = w.have.plus(size.times(int64(p)).less(t.gone))
			} else {
				m.warn("%s: %d packs are bought, but no price says what a pack holds; they are not counted as on hand", w.item, p)
			}
		}
	}
}

// packSize is what a pack of an item holds, where the price book has one size
// of it; of several the smallest, so that nothing is counted twice.
func (m *maker) packSize(w *want) (amount, bool) {
	var out amount
	for _, o := range m.offers(w.item, w.whole.dim, w.density) {
		if out.v == nil || o.size.v.Cmp(out.v) < 0 {
			out = o.size
		}
	}
	return out, out.v != nil
}

// choose finds what to buy of each item and where.
func (m *maker) choose() {
	for _, w := range m.wants {
		for _, s := range m.shop.Shelf {
			if s.Item != w.item {
				continue
			}
			if s.Amount == "" && w.whole.dim == pieces {
				w.have = w.have.plus(count(s.Qty))
				continue
			}
			if a, err := parseAmount(s.Amount); err == nil {
				if a, ok := convert(a, w.whole.dim, w.density); ok {
					w.have = w.have.plus(a.times(int64(max(1, s.Qty))))
					continue
				}
			}
			m.warn("%s: what is on the shelf (%s) cannot be set against a need in %s", w.item, strings.TrimSpace(fmt.Sprint(s.Qty, " ", s.Amount)), w.whole.dim)
		}
		w.buy = w.need.less(w.have)
		w.offers = m.offers(w.item, w.whole.dim, w.density)
	}
	slices.SortStableFunc(m.wants, func(a, b *want) int {
		return cmp.Or(cmp.Compare(rank[a.kind], rank[b.kind]), cmp.Compare(a.item, b.item), cmp.Compare(a.whole.dim, b.whole.dim))
	})
	m.bill.Baskets = m.baskets(m.wants)
	var only []string
	if len(m.bill.Baskets) > 0 {
		only = m.bill.Baskets[len(m.bill.Baskets)-1].Suppliers
		if m.opt.OneStop {
			only = m.bill.Baskets[0].Suppliers
			m.bill.OneStop = only[0]
			for _, item := range m.bill.Baskets[0].Missing {
				if slices.ContainsFunc(m.wants, func(w *want) bool { return w.item == item && len(w.offers) > 0 }) {
					m.warn("%s is not to be had at %s and is bought elsewhere", item, supplierText(only[0]))
				}
			}
		}
	}
	for _, w := range m.wants {
		some := slices.DeleteFunc(slices.Clone(w.offers), func(o offer) bool { return !slices.Contains(only, o.supplier) })
		if len(some) == 0 {
			some = w.offers
		}
		var ok, sure bool
		if w.picks, w.total, ok, sure = cheapest(w.buy, some); !ok {
			m.bill.Missing = append(m.bill.Missing, w.item)
		}
		if !sure {
			m.warn("%s: a cheaper mix of packs is not ruled out", w.item)
		}
	}
}

var rank = map[string]int{"stock": 0, "hardware": 1, "glue": 2, "finish": 3, "abrasive": 4, "cutter": 5}

// sums adds the bill up.
func (m *maker) sums() {
	b := m.bill
	zero := measure.Money{Code: b.Currency}
	b.Cost, b.Used, b.Left = zero, zero, zero
	for _, l := range b.Buy {
		b.Cost = m.plus(b.Cost, l.Cost)
		b.Used = m.plus(b.Used, l.Used)
		b.Left = m.plus(b.Left, l.Worth)
	}
	b.Tax = m.tax()
	b.Total = m.plus(b.Cost, b.Tax)
	b.Planned = m.plus(b.Total, b.Spent)
	b.Credit = m.opt.Offcuts
	m.hours()
	if b.Copies > 0 {
		sum := m.plus(b.Planned, b.Labour) // what was paid already is in a copy too
		if m.opt.Offcuts {
			sum = m.plus(sum, measure.Money{Minor: -b.Offcuts.Minor, Code: b.Offcuts.Code})
		}
		each, err := sum.Times(1, int64(b.Copies), measure.Up)
		m.note(err)
		b.PerCopy = each
	}
}

// tax is what the tills add. Each supplier rounds the tax of his own bill to
// the minor unit, halves up (Streamlined Sales and Use Tax Agreement, section
// 324: by the invoice, up from the third decimal place greater than four;
// elsewhere common practice, no source).
func (m *maker) tax() measure.Money {
	b := m.bill
	sum := measure.Money{Code: b.Currency}
	rate, ok := new(big.Rat).SetString(b.TaxRate)
	if !ok || b.TaxRate == "" {
		return sum
	}
	rate.Quo(rate, big.NewRat(100, 1))
	tills := map[string]measure.Money{}
	var names []string
	for _, l := range b.Buy {
		t, ok := tills[l.Supplier]
		if !ok {
			names, t.Code = append(names, l.Supplier), b.Currency
		}
		tills[l.Supplier] = m.plus(t, l.Cost)
	}
	for _, n := range names {
		t, err := tills[n].TimesRat(rate, measure.HalfUp)
		m.note(err)
		sum = m.plus(sum, t)
	}
	return sum
}

// hours counts hands-on time: what the log says a step took that is done or in
// the clamps, all its sittings together, the plan's figure for the rest. A
// glue-up's scraping and the taking off of its clamps count as the plan counts
// them, unless the log says how long the clamps took.
func (m *maker) hours() {
	b := m.bill
	if !m.opt.WithHours {
		return
	}
	for _, j := range m.jobs {
		hands, err := plan.Handwork(m.shop, j)
		if err != nil {
			m.note(err)
			return
		}
		took, log, off := map[string]measure.Span{}, read(j), map[string]bool{}
		for _, e := range j.Counting() {
			took[e.Step] += e.Minutes
			off[e.Step] = off[e.Step] || e.Did == job.DidUnclamp && e.Minutes > 0
		}
		for _, s := range j.Steps {
			h, n := hands[s.ID], measure.Span(m.copies(j))
			switch t := took[s.ID]; {
			case t > 0 && log.done[s.ID]:
				b.Hours += t
			case s.Optional:
				continue
			default:
				b.Hours += h.Step * n
			}
			b.Hours += h.Scrape * n
			if !off[s.ID] {
				b.Hours += h.Off * n
			}
		}
	}
	switch r := m.shop.Prices.Rate; {
	case r.Minor == 0:
		m.warn("hands-on time is counted and not in any sum: write `rate: 20.00 %s`, what an hour is worth to you, in prices.yaml", b.Currency)
	case r.Code != b.Currency:
		m.warn("the rate is in %s and is left out", r.Code)
	default:
		l, err := r.Times(int64(b.Hours), int64(measure.Hour), measure.HalfEven)
		m.note(err)
		b.Labour = l
	}
}

// spent reads what the log says was paid.
func (m *maker) spent() {
	b := m.bill
	b.Spent = measure.Money{Code: b.Currency}
	defer func() {
		for i := range b.Spends {
			b.Spends[i].Book = m.book(b.Spends[i].Item, b.Spends[i].Packs)
		}
	}()
	for _, j := range m.jobs {
		at := map[string]int{}
		for _, e := range j.Counting() {
			if e.Did != job.DidBuy {
				continue
			}
			i, ok := at[e.Item]
			if !ok {
				i = len(b.Spends)
				at[e.Item] = i
				b.Spends = append(b.Spends, Spend{Item: e.Item, Job: j.ID, Paid: measure.Money{Code: b.Currency}})
			}
			s := &b.Spends[i]
			s.Packs += max(1, e.Qty)
			switch {
			case e.Paid == nil:
				m.warn("%s/%s: bought without a price paid; write `paid:` into the entry", j.ID, e.Item)
			case e.Paid.Code != b.Currency && e.Paid.Minor != 0:
				m.warn("%s/%s: %s paid is not added, the shop reckons in %s", j.ID, e.Item, e.Paid, b.Currency)
			default:
				s.Paid = m.plus(s.Paid, *e.Paid)
				b.Spent = m.plus(b.Spent, *e.Paid)
			}
		}
	}
}

// book is what packs of an item cost at the cheapest supplier of today.
func (m *maker) book(item string, packs int) measure.Money {
	best := measure.Money{Code: m.bill.Currency}
	for _, p := range m.shop.Prices.Items {
		if p.Item != item {
			continue
		}
		dim := pieces
		if a, err := parseAmount(p.Amount); p.Amount != "" && err == nil {
			dim = a.dim
		}
		for _, o := range m.offers(item, dim, 0) {
			if c := o.cost(int64(packs)); best.Minor == 0 || c < best.Minor {
				best.Minor = c
			}
		}
	}
	return best
}

func (m *maker) plus(a, b measure.Money) measure.Money {
	s, err := a.Plus(b)
	m.note(err)
	return s
}

func (m *maker) note(err error) {
	if err != nil && m.err == nil {
		m.err = err
	}
}
