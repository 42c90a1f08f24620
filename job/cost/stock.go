package cost

import (
	"math/big"
	"slices"

	"caul/job"
	"caul/job/measure"
)

// stock takes what the layout says: pieces to buy, the offcuts worth keeping
// that they leave, and the worth of what comes off the shelf or is cut already,
// counted as shares of a bought piece by area (of a rod, by length).
func (m *maker) stock() {
	item := map[string]string{}
	full := map[string]*big.Rat{}
	for i := range m.shop.Stock {
		s := &m.shop.Stock[i]
		item[s.ID] = s.Price
		if s.Price == "" {
			item[s.ID] = s.ID
		}
		full[s.ID] = size(s.Form, s.Size[0].Length, s.Size[1].Length)
	}
	wants := map[string]*want{}
	get := func(stock string) *want {
		w := wants[stock]
		if w == nil {
			w = m.want(item[stock], "stock", pieces)
			for _, r := range []**big.Rat{&w.keep, &w.done, &w.shelf} {
				if *r == nil {
					*r = new(big.Rat)
				}
			}
			wants[stock] = w
			for _, j := range m.jobs {
				if slices.ContainsFunc(j.Parts, func(p job.Part) bool { return p.From == stock }) {
					w.by(j)
				}
			}
		}
		return w
	}
	for _, b := range m.cut.Buy {
		w := get(b.Stock)
		w.whole, w.need = w.whole.plus(count(b.Qty)), w.need.plus(count(b.Qty))
	}
	for i := range m.cut.Sheets {
		s := &m.cut.Sheets[i]
		w := get(s.Stock)
		kept := new(big.Rat)
		for _, o := range s.Offcuts {
			if !o.Keep {
				continue
			}
			kept.Add(kept, size(s.Form, o.L, o.W))
			if s.Piece == "" {
				text := measure.Format(o.L, m.shop.Units.Length)
				if s.Form != "rod" {
					text += " x " + measure.Format(o.W, m.shop.Units.Length)
				}
				w.kept = append(w.kept, "offcut "+text)
			}
		}
		one := full[s.Stock]
		if one == nil || one.Sign() == 0 {
			continue
		}
		if s.Piece == "" {
			w.keep.Add(w.keep, kept.Quo(kept, one))
		} else {
			took := size(s.Form, s.Length, s.Width)
			w.shelf.Add(w.shelf, took.Quo(took.Sub(took, kept), one))
		}
	}
	m.alreadyCut(get, full)
}

// alreadyCut reckons parts that are cut by their area, and takes what the log
// says was bought off the list, as far as those parts have not used it up.
func (m *maker) alreadyCut(get func(string) *want, full map[string]*big.Rat) {
	form := map[string]string{}
	for _, s := range m.shop.Stock {
		form[s.ID] = s.Form
	}
	cut := map[string]*big.Rat{}
	for _, a := range m.cut.Already {
		j := m.shop.Job(a.Job)
		if j == nil || !slices.Contains(m.jobs, j) {
			continue
		}
		p := j.Part(a.Part)
		if p == nil || full[p.From] == nil || full[p.From].Sign() == 0 {
			continue
		}
		one := size(form[p.From], p.Size[0].Length+p.Oversize.Length, p.Size[1].Length+p.Oversize.Length)
		one.Mul(one, new(big.Rat).SetInt64(int64(a.Qty)))
		one.Quo(one, full[p.From])
		if cut[p.From] == nil {
			cut[p.From] = new(big.Rat)
		}
		cut[p.From].Add(cut[p.From], one)
		w := get(p.From)
		w.done.Add(w.done, one)
	}
	for i := range m.shop.Stock {
		s := &m.shop.Stock[i]
		packs := 0
		it := s.Price
		if it == "" {
			it = s.ID
		}
		for _, j := range m.jobs {
			packs += read(j).packs[it]
		}
		if packs == 0 {
			continue
		}
		w := get(s.ID)
		per, ok := m.packSize(w)
		if !ok {
			per = count(1)
		}
		have := per.times(int64(packs))
		if c := cut[s.ID]; c != nil {
			have = have.less(amount{pieces, new(big.Rat).SetInt64(ceil(c))})
		}
		w.have = w.have.plus(have)
	}
}

// size is an area, or of a rod a length, as an exact number.
func size(form string, l, w measure.Length) *big.Rat {
	if form == "rod" {
		return l.Rat()
	}
	return new(big.Rat).Mul(l.Rat(), w.Rat())
}
