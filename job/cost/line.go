package cost

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"caul/job/measure"
)

// lines writes the buy list. What is left of an item is worth its share of what
// was paid for it, rounded down; the rest of the money goes into the jig. What
// comes off the shelf, or is in the jig already, is worth what it would cost
// today, by the unit.
func (m *maker) lines() {
	m.bill.Offcuts = measure.Money{Code: m.bill.Currency}
	m.bill.Had = measure.Money{Code: m.bill.Currency}
	var worthless []string
	for _, w := range m.wants {
		zero := measure.Money{Code: m.bill.Currency}
		l := Line{Item: w.item, Kind: w.kind, Need: w.need.String(), Each: zero, Cost: zero, Used: zero, Worth: zero,
			Job: strings.Join(w.jobs, ", "), Priced: len(w.offers) > 0 || w.buy.zero()}
		if !w.have.zero() {
			l.OnHand = w.have.String()
		}
		bought := amount{w.whole.dim, new(big.Rat)}
		for _, p := range w.picks {
			bought = bought.plus(p.offer.size.times(p.n))
		}
		left := bought.less(w.buy)
		keep := w.keepShare()
		if keep.Sign() > 0 {
			left = left.plus(amount{pieces, keep})
		}
		worth := zero
		if !left.zero() && !bought.zero() {
			var err error
			worth, err = measure.Money{Minor: w.total, Code: m.bill.Currency}.TimesRat(new(big.Rat).Quo(left.v, bought.v), measure.Down)
			m.note(err)
		}
		if keep.Sign() > 0 && !bought.zero() {
			off, err := measure.Money{Minor: w.total, Code: m.bill.Currency}.TimesRat(new(big.Rat).Quo(keep, bought.v), measure.Down)
			m.note(err)
			m.bill.Offcuts = m.plus(m.bill.Offcuts, off)
		}
		used := m.plus(measure.Money{Minor: w.total, Code: m.bill.Currency}, measure.Money{Minor: -worth.Minor, Code: worth.Code})
		had := m.notBought(w)
		if had.v.Sign() > 0 && len(w.offers) == 0 {
			worthless = append(worthless, w.item)
		}
		value := m.byUnit(w, had)
		m.bill.Had = m.plus(m.bill.Had, value)
		used = m.plus(used, value)
		l.Left = w.leftText(bought.less(w.buy))
		if len(w.picks) == 0 {
			l.Used, l.Worth = used, worth
			if len(w.offers) > 0 && w.buy.zero() {
				l.Pack = w.offers[0].text
			}
			m.bill.Buy = append(m.bill.Buy, l)
			continue
		}
		for i, p := range w.picks {
			k := l
			if i > 0 {
				k.Need, k.OnHand, k.Left = "", "", ""
			} else {
				k.Used, k.Worth = used, worth
			}
			k.Packs, k.Pack, k.Supplier, k.Dated = int(p.n), p.offer.text, p.offer.supplier, p.offer.date
			k.Each.Minor, k.Cost.Minor = p.offer.each(p.n), p.offer.cost(p.n)
			m.bill.Buy = append(m.bill.Buy, k)
		}
	}
	if len(worthless) > 0 {
		m.warn("what goes into the jig from the shelf, or is there already, has no price and counts as nothing: %s; write what it costs today in prices.yaml", strings.Join(worthless, ", "))
	}
}

// notBought is what goes into the jigs and is not on the buy list.
func (m *maker) notBought(w *want) amount {
	if w.kind != "stock" {
		return amount{w.whole.dim, new(big.Rat).Sub(w.whole.v, w.buy.v)}
	}
	v := new(big.Rat)
	for _, x := range []*big.Rat{w.done, w.shelf} {
		if x != nil {
			v.Add(v, x)
		}
	}
	// bought by the log, not yet cut, less the offcuts they leave
	v.Add(v, new(big.Rat).Sub(w.need.v, w.buy.v))
	if w.keep != nil {
		v.Sub(v, new(big.Rat).Sub(w.keep, w.keepShare()))
	}
	return amount{pieces, v}
}

// keepShare is what is kept as offcuts of the pieces that are still to be
// bought, counted in pieces.
func (w *want) keepShare() *big.Rat {
	if w.keep == nil || w.need.zero() {
		return new(big.Rat)
	}
	share := new(big.Rat).Quo(w.buy.v, w.need.v)
	return share.Mul(share, w.keep)
}

// byUnit is the price of an amount at the unit price of what is bought, or of
// the cheapest pack where nothing is.
func (m *maker) byUnit(w *want, a amount) measure.Money {
	zero := measure.Money{Code: m.bill.Currency}
	if a.zero() || a.v.Sign() < 0 {
		return zero
	}
	var unit *big.Rat
	if len(w.picks) > 0 && w.total > 0 {
		size := new(big.Rat)
		for _, p := range w.picks {
			size.Add(size, p.offer.size.times(p.n).v)
		}
		unit = size.Quo(new(big.Rat).SetInt64(w.total), size)
	}
	if unit == nil {
		for i := range w.offers {
			u := new(big.Rat).Quo(new(big.Rat).SetInt64(w.offers[i].price), w.offers[i].size.v)
			if unit == nil || u.Cmp(unit) < 0 {
				unit = u
			}
		}
	}
	if unit == nil {
		return zero
	}
	v, err := measure.Money{Minor: 1, Code: m.bill.Currency}.TimesRat(unit.Mul(unit, a.v), measure.HalfEven)
	m.note(err)
	return v
}

func (w *want) leftText(over amount) string {
	var out []string
	if !over.zero() {
		s := over.String()
		if over.dim == pieces {
			s += " pieces"
			if s == "1 pieces" {
				s = "1 piece"
			}
		}
		out = append(out, s)
	}
	return strings.Join(append(out, counted(w.kept)...), ", ")
}

// counted names what is there several times once, with how many: fifty equal
// offcuts are one line of a bill.
func counted(names []string) []string {
	var out []string
	for i, n := range names {
		if slices.Index(names, n) < i {
			continue
		}
		k := 0
		for _, m := range names {
			if m == n {
				k++
			}
		}
		if k > 1 {
			n = fmt.Sprintf("%d x %s", k, n)
		}
		out = append(out, n)
	}
	return out
}
