package cost

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
)

// offer is what one supplier asks for one size of pack.
type offer struct {
	supplier string
	size     amount
	text     string // "50 pieces", "1 l"
	price    int64  // minor units, of one pack
	breaks   []job.Break
	date     time.Time
}

// cost is the price of n packs, with the break that n reaches.
func (o *offer) cost(n int64) int64 { return n * o.each(n) }

func (o *offer) each(n int64) int64 {
	p, from := o.price, 0
	for _, b := range o.breaks {
		if int64(b.From) <= n && b.From >= from {
			p, from = b.Price.Minor, b.From
		}
	}
	return p
}

// least is the lowest price of one pack at any number.
func (o *offer) least() int64 {
	p := o.price
	for _, b := range o.breaks {
		p = min(p, b.Price.Minor)
	}
	return p
}

// offers lists what the price book asks for an item today: of each supplier
// and size of pack only the latest price counts. Prices in another currency
// and packs of another dimension are left out and said. density, in g/ml, lets
// glue bought by weight be counted by volume; 0 where it is not known.
func (m *maker) offers(item, dim string, density float64) []offer {
	type key struct{ supplier, size string }
	latest := map[key]int{}
	var keys []key
	for i, p := range m.shop.Prices.Items {
		if p.Item != item {
			continue
		}
		k := key{p.Supplier, packText(&p)}
		j, ok := latest[k]
		if !ok {
			keys = append(keys, k)
		}
		if !ok || !p.Date.Before(m.shop.Prices.Items[j].Date) {
			latest[k] = i
		}
	}
	var out []offer
	for _, k := range keys {
		p := &m.shop.Prices.Items[latest[k]]
		if p.Price.Code != m.bill.Currency {
			m.warn("%s: a price in %s is left out, the shop reckons in %s", item, p.Price.Code, m.bill.Currency)
			continue
		}
		o := offer{supplier: p.Supplier, text: packText(p), price: p.Price.Minor, date: p.Date}
		mixed := false
		for _, b := range p.Breaks {
			mixed = mixed || b.Price.Code != p.Price.Code
			o.breaks = append(o.breaks, b)
		}
		if mixed {
			m.warn("%s: a price break in another currency is left out", item)
			o.breaks = nil
		}
		o.size = count(max(1, p.Pack))
		if p.Amount != "" {
			a, err := parseAmount(p.Amount)
			if err != nil {
				m.warn("%s: %v", item, err)
				continue
			}
			o.size = a
		}
		var ok bool
		if o.size, ok = convert(o.size, dim, density); !ok {
			m.warn("%s: sold by %s, needed in %s: no way to reckon one from the other", item, o.text, dim)
			continue
		}
		if o.size.v.Sign() > 0 && o.price >= 0 {
			out = append(out, o)
		}
	}
	return out
}

func convert(a amount, dim string, density float64) (amount, bool) {
	if a.dim == dim {
		return a, true
	}
	if density > 0 {
		d := new(big.Rat).SetFloat64(density)
		switch {
		case a.dim == mass && dim == volume:
			return amount{dim, d.Quo(a.v, d)}, true
		case a.dim == volume && dim == mass:
			return amount{dim, d.Mul(a.v, d)}, true
		}
	}
	return a, false
}

func packText(p *job.Price) string {
	if p.Amount != "" {
		return p.Amount
	}
	if p.Pack <= 1 {
		return "1 piece"
	}
	return trimZeros(new(big.Rat).SetInt64(int64(p.Pack)).FloatString(0)) + " pieces"
}

// pick is how many packs of an offer to take.
type pick struct {
	offer *offer
	n     int64
}

// budget of the search for one item; a shop's lists never come near it.
const pickNodes = 200_000

// cheapest finds the packs that cover an amount for the least money, exactly:
// with price breaks more packs can cost less, so every count up to the need
// and up to each break is looked at, the best offer by the unit first, and a
// branch is left when even the lowest unit price of what remains cannot better
// the best found. At a tie fewer packs win, then the order of the price book. ok
// is false where there is no offer; sure is false where the search was cut
// short, which only a need of very many packs of many sizes can do.
func cheapest(need amount, offers []offer) (best []pick, total int64, ok, sure bool) {
	if need.zero() {
		return nil, 0, true, true
	}
	if len(offers) == 0 {
		return nil, 0, false, true
	}
	order := make([]*offer, len(offers))
	for i := range offers {
		order[i] = &offers[i]
	}
	unit := func(o *offer) *big.Rat {
		return new(big.Rat).Quo(new(big.Rat).SetInt64(o.least()), o.size.v)
	}
	slices.SortStableFunc(order, func(a, b *offer) int { return unit(a).Cmp(unit(b)) })
	s := picker{order: order, left: pickNodes, total: -1, chosen: make([]int64, len(order))}
	s.low = make([]*big.Rat, len(order)+1)
	for i := len(order) - 1; i >= 0; i-- {
		if s.low[i] = unit(order[i]); s.low[i+1] != nil && s.low[i+1].Cmp(s.low[i]) < 0 {
			s.low[i] = s.low[i+1]
		}
	}
	s.search(0, need.v, 0, 0)
	for i, o := range order {
		if s.best[i] > 0 {
			best = append(best, pick{o, s.best[i]})
		}
	}
	return best, s.total, true, s.left > 0
}

type picker struct {
	order  []*offer
	low    []*big.Rat // lowest unit price from this offer on
	left   int
	chosen []int64
	best   []int64
	total  int64
	packs  int64
}

func (s *picker) search(i int, need *big.Rat, cost, packs int64) {
	if need.Sign() <= 0 {
		if s.total < 0 || cost < s.total || cost == s.total && packs < s.packs {
			s.total, s.packs, s.best = cost, packs, slices.Clone(s.chosen)
		}
		return
	}
	if i == len(s.order) || s.left <= 0 && s.total >= 0 {
		return
	}
	s.left--
	if s.total >= 0 {
		bound := ceil(new(big.Rat).Mul(need, s.low[i]))
		if cost+bound > s.total {
			return
		}
	}
	o := s.order[i]
	full := ceil(new(big.Rat).Quo(need, o.size.v))
	// first what covers the need, and breaks beyond it, then fewer
	counts := []int64{full}
	for _, b := range o.breaks {
		if int64(b.From) > full {
			counts = append(counts, int64(b.From))
		}
	}
	try := func(n int64) {
		s.chosen[i] = n
		rest := new(big.Rat).Mul(o.size.v, new(big.Rat).SetInt64(n))
		s.search(i+1, rest.Sub(need, rest), cost+o.cost(n), packs+n)
		s.chosen[i] = 0
	}
	for _, n := range counts {
		try(n)
	}
	if i+1 == len(s.order) {
		return
	}
	for n := full - 1; n >= 0 && s.left > 0; n-- {
		try(n)
	}
}

func ceil(r *big.Rat) int64 {
	q, rem := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	if rem.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	if !q.IsInt64() {
		return 1 << 60
	}
	return q.Int64()
}

// baskets finds, for one supplier, for two, and so on, the set that has most
// of what is needed and sells it for least, exactly; a number of suppliers
// that is no better than fewer is left out. The last is the cheapest there is.
func (m *maker) baskets(needs []*want) []Basket {
	var names []string
	for _, w := range needs {
		for _, o := range w.offers {
			if !w.buy.zero() && !slices.Contains(names, o.supplier) {
				names = append(names, o.supplier)
			}
		}
	}
	slices.Sort(names)
	if len(names) == 0 {
		return nil
	}
	if len(names) > 12 {
		m.warn("more than 12 suppliers: only the cheapest basket and those of one supplier are compared")
	}
	memo := map[string]int64{}
	price := func(set []string) Basket {
		b := Basket{Suppliers: set, Total: measure.Money{Code: m.bill.Currency}}
		for _, w := range needs {
			if w.buy.zero() {
				continue
			}
			var some []offer
			key := w.item
			for i := range w.offers {
				if slices.Contains(set, w.offers[i].supplier) {
					some = append(some, w.offers[i])
					key += "\x00" + w.offers[i].supplier
				}
			}
			if len(some) == 0 {
				b.Missing = append(b.Missing, w.item)
				continue
			}
			t, ok := memo[key]
			if !ok {
				_, t, _, _ = cheapest(w.buy, some)
				memo[key] = t
			}
			b.Total.Minor += t
		}
		return b
	}
	better := func(a, b *Basket) bool {
		return cmp.Or(cmp.Compare(len(a.Missing), len(b.Missing)), cmp.Compare(a.Total.Minor, b.Total.Minor)) < 0
	}
	all := price(names)
	var out []Basket
	for size := 1; size <= len(names); size++ {
		if len(names) > 12 && size > 1 {
			size = len(names)
		}
		var best *Basket
		subsets(names, size, func(set []string) {
			if b := price(set); best == nil || better(&b, best) {
				best = &b
			}
		})
		if len(out) > 0 && !better(best, &out[len(out)-1]) {
			continue
		}
		out = append(out, *best)
		if len(best.Missing) == len(all.Missing) && best.Total.Minor == all.Total.Minor {
			break
		}
	}
	return out
}

// subsets calls f with every set of n names, in order.
func subsets(names []string, n int, f func([]string)) {
	var rec func(from int, set []string)
	rec = func(from int, set []string) {
		if len(set) == n {
			f(slices.Clone(set))
			return
		}
		for i := from; i < len(names); i++ {
			rec(i+1, append(set, names[i]))
		}
	}
	rec(0, nil)
}

func supplierText(s string) string {
	if strings.TrimSpace(s) == "" {
		return "no supplier named"
	}
	return s
}
