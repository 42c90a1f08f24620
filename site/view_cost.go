package site

import (
	"fmt"
	"strings"

	"caul/job"
)

// billView is the cost of a job: what is still to be bought, or of a finished
// one what it has cost.
type billView struct {
	Lines   []billLine
	OnHand  []billLine // nothing to buy of these
	Cost    string
	Tax     string
	ToPay   string // empty when there is nothing to buy
	Short   string // how much of it has no price
	Used    string
	Left    string
	Spent   string // empty when nothing is logged
	Planned string // spent and still to be paid
	Spends  []spendView
	PerCopy string
	Missing []string
	Warn    []string
	Stops   []string
}

type billLine struct{ Item, Need, Buy, From, Cost, Left string }

type spendView struct{ Item, Paid, Book string }

func (r *renderer) bill(j *job.Job, v *jobView) {
	b := r.in.Bills[j.ID]
	if b == nil {
		return
	}
	bv := &billView{Missing: b.Missing, Warn: b.Warn}
	if b.Spent.Minor > 0 {
		bv.Spent = b.Spent.String()
	}
	for _, s := range b.Spends {
		sv := spendView{Item: s.Item, Paid: s.Paid.String()}
		if s.Packs > 0 {
			sv.Item = fmt.Sprintf("%d × %s", s.Packs, s.Item)
		}
		if s.Book.Minor > 0 {
			sv.Book = s.Book.String()
		}
		bv.Spends = append(bv.Spends, sv)
	}
	if v.Done {
		bv.Missing, bv.Warn = nil, nil
		if len(bv.Spends) > 0 {
			v.Bill = bv
		}
		return
	}
	for _, l := range b.Buy {
		bl := billLine{Item: l.Item, Need: l.Need, Left: by(l.Left)}
		if l.Packs == 0 && l.OnHand == "" && l.Need == "0" {
			continue // all of it is in the jig
		}
		if l.Packs == 0 && l.Priced || l.Packs == 0 && l.OnHand != "" {
			bl.Buy = l.OnHand
			bv.OnHand = append(bv.OnHand, bl)
			continue
		}
		if bl.Buy = fmt.Sprint(l.Packs); !l.Priced {
			bl.Buy = ""
		}
		if l.Priced && l.Pack != "" && l.Pack != "1 piece" {
			bl.Buy = fmt.Sprintf("%d × %s", l.Packs, l.Pack)
		}
		bl.From = l.Supplier
		if bl.Cost = l.Cost.String(); !l.Priced {
			bl.Cost = "no price"
		}
		bv.Lines = append(bv.Lines, bl)
	}
	bv.Cost = b.Cost.String()
	if b.Tax.Minor > 0 {
		bv.Tax = b.Tax.String()
	}
	if len(bv.Lines) > 0 {
		bv.ToPay = b.Total.String()
		if n := len(b.Missing); n > 0 {
			bv.Short = fmt.Sprintf("without %d with no price", n)
		}
	}
	if b.Used.Minor+b.Left.Minor+b.Planned.Minor > 0 {
		bv.Used, bv.Left, bv.Planned = b.Used.String(), b.Left.String(), b.Planned.String()
	}
	if b.Copies > 1 && b.PerCopy.Minor > 0 {
		bv.PerCopy = b.PerCopy.String()
	}
	whole := 0
	for _, k := range b.Baskets {
		if len(k.Missing) == 0 {
			whole++
		}
	}
	for _, k := range b.Baskets {
		if whole > 1 && len(k.Missing) == 0 {
			bv.Stops = append(bv.Stops, fmt.Sprintf("%d %s (%s): %s before tax", len(k.Suppliers), word(len(k.Suppliers), "stop", "stops"), strings.Join(k.Suppliers, ", "), k.Total))
		}
	}
	v.Bill = bv
}

func word(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}
