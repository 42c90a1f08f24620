package cost

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"github.com/mattn/go-runewidth"

	"caul/job/lines"
	"caul/job/measure"
)

// BuyText is the list to take along: what to buy, by supplier, for a terminal
// width columns wide.
func BuyText(b *Bill, width int) string {
	w := &writer{width: max(30, width)}
	var suppliers []string
	for _, l := range b.Buy {
		if l.Packs > 0 && !slices.Contains(suppliers, l.Supplier) {
			suppliers = append(suppliers, l.Supplier)
		}
	}
	slices.Sort(suppliers)
	if len(suppliers) == 0 && len(b.Missing) == 0 {
		w.line(0, "nothing to buy")
	}
	for i, s := range suppliers {
		if i > 0 {
			w.b.WriteByte('\n')
		}
		sum := measure.Money{Code: b.Currency}
		for _, l := range b.Buy {
			if l.Packs > 0 && l.Supplier == s {
				sum.Minor += l.Cost.Minor
			}
		}
		w.row(0, supplierText(s), sum.String())
		for _, l := range b.Buy {
			if l.Packs == 0 || l.Supplier != s {
				continue
			}
			text := fmt.Sprintf("%d x %s, %s", l.Packs, l.Item, l.Pack)
			if l.Pack == "1 piece" {
				text = fmt.Sprintf("%d x %s", l.Packs, l.Item)
			}
			if l.Packs > 1 {
				text += " at " + l.Each.Amount()
			}
			w.row(2, text, l.Cost.Amount())
		}
	}
	if len(b.Missing) > 0 {
		if len(suppliers) > 0 {
			w.line(0, "")
		}
		for _, l := range b.Buy {
			if !l.Priced {
				w.line(0, fmt.Sprintf("no price: %s %s", l.Need, l.Item))
			}
		}
		w.prices(b)
	}
	if len(suppliers) > 0 {
		w.b.WriteByte('\n')
		w.totals(b)
	}
	return w.b.String()
}

func (w *writer) totals(b *Bill) {
	if b.Tax.Minor != 0 {
		w.row(0, "before tax", b.Cost.String())
		w.row(0, "tax "+b.TaxRate+" %", b.Tax.String())
	}
	w.row(0, "to pay", b.Total.String())
	if len(b.Missing) > 0 {
		w.line(0, fmt.Sprintf("without %d with no price", len(b.Missing)))
	}
}

// prices says where a price is written, for what has none.
func (w *writer) prices(b *Bill) {
	w.line(0, fmt.Sprintf("write each price into prices.yaml, as {item: %s, price: 12.50, date: 2026-03-14}", b.Missing[0]))
}

// Text is the whole bill for a terminal width columns wide.
func Text(b *Bill, width int) string {
	w := &writer{width: max(30, width)}
	kind := ""
	for _, l := range b.Buy {
		if l.Kind != kind {
			if kind != "" {
				w.b.WriteByte('\n')
			}
			kind = l.Kind
			w.line(0, kind)
		}
		cost := "-"
		if l.Packs > 0 {
			cost = l.Cost.Amount()
		} else if !l.Priced {
			cost = "no price"
		}
		w.row(2, l.Item, cost)
		var say []string
		if l.Need != "" && !strings.HasPrefix(l.Need+" ", "0 ") {
			say = append(say, "need "+l.Need)
		}
		if l.OnHand != "" {
			say = append(say, "on hand "+l.OnHand)
		}
		if l.Packs > 0 {
			buy := fmt.Sprintf("buy %d x %s at %s", l.Packs, l.Pack, l.Each.Amount())
			if l.Supplier != "" {
				buy += ", " + l.Supplier
			}
			if !l.Dated.IsZero() {
				buy += l.Dated.Format(" (2006-01-02)")
			}
			say = append(say, buy)
		}
		if l.Left != "" {
			say = append(say, "left "+l.Left)
		}
		if l.Packs == 0 && l.Priced && l.OnHand == "" && l.Used.Minor != 0 {
			say = append(say, "nothing to buy")
		}
		if l.Used.Minor != 0 {
			say = append(say, "in the jig "+l.Used.Amount())
		}
		if len(say) > 0 {
			w.line(4, strings.Join(say, "; "))
		}
	}
	if len(b.Buy) > 0 {
		w.b.WriteByte('\n')
	}
	w.totals(b)
	if len(b.Missing) > 0 {
		w.prices(b)
	}
	w.row(0, "goes into the jig, before tax", b.Used.String())
	if b.Had.Minor != 0 {
		w.row(2, "of that, from the shelf or there already", b.Had.String())
	}
	w.row(0, "left over, before tax", b.Left.String())
	if b.Offcuts.Minor != 0 {
		w.row(2, "of that, offcuts to keep", b.Offcuts.String())
	}
	w.row(0, "spent so far", b.Spent.String())
	w.row(0, "planned in all", b.Planned.String())
	if b.Hours > 0 {
		labour := b.Labour.String()
		if b.Labour.Minor == 0 {
			labour = "no hourly rate set"
		}
		w.row(0, "hands-on "+b.Hours.String(), labour)
	}
	if b.Copies > 1 || b.Copies == 1 && b.Credit {
		each := fmt.Sprintf("a copy, of %d", b.Copies)
		if b.Labour.Minor > 0 {
			each += ", hours in"
		}
		if b.Credit {
			each += ", less offcuts to keep"
		}
		w.row(0, each, b.PerCopy.String())
	}
	if len(b.Spends) > 0 {
		w.b.WriteByte('\n')
		w.line(0, "paid, and what the price book asks today")
		for _, s := range b.Spends {
			book := "-"
			if s.Book.Minor != 0 {
				book = s.Book.Amount()
			}
			w.row(2, fmt.Sprintf("%d x %s", s.Packs, s.Item), s.Paid.Amount()+" / "+book)
		}
	}
	if len(b.Baskets) > 1 {
		w.b.WriteByte('\n')
		w.line(0, "ways to shop, before tax")
		for _, k := range b.Baskets {
			var names []string
			for _, s := range k.Suppliers {
				names = append(names, supplierText(s))
			}
			w.row(2, strings.Join(names, " + "), k.Total.String())
			if len(k.Missing) > 0 {
				w.line(4, "without "+strings.Join(k.Missing, ", "))
			}
		}
	}
	if len(b.Warn) > 0 {
		w.b.WriteByte('\n')
	}
	for _, s := range b.Warn {
		w.line(0, "note: "+s)
	}
	return w.b.String()
}

// CSV is the buy list as RFC 4180 has it: a header, lines ended by CR LF. A cell that a
// spreadsheet would take for a formula begins with an apostrophe.
func CSV(b *Bill) []byte {
	var buf bytes.Buffer
	c := csv.NewWriter(&buf)
	c.UseCRLF = true
	put := func(cells ...string) {
		for i, s := range cells {
			cells[i] = plain(s)
		}
		_ = c.Write(cells) // a buffer takes everything
	}
	put("kind", "item", "need", "on hand", "packs", "pack", "supplier", "each", "cost", "currency", "dated", "left", "job")
	for _, l := range b.Buy {
		each, cost, dated := "", "", ""
		if l.Packs > 0 {
			each, cost = l.Each.Amount(), l.Cost.Amount()
		}
		if !l.Dated.IsZero() {
			dated = l.Dated.Format("2006-01-02")
		}
		put(l.Kind, l.Item, l.Need, l.OnHand, fmt.Sprint(l.Packs), l.Pack, l.Supplier, each, cost, b.Currency, dated, l.Left, l.Job)
	}
	put("tax", "", "", "", "", "", "", "", b.Tax.Amount(), b.Currency, "", "", "")
	put("total", "", "", "", "", "", "", "", b.Total.Amount(), b.Currency, "", "", "")
	c.Flush()
	return buf.Bytes()
}

// plain keeps a cell from being run as a formula, and line ends inside a cell
// to one kind. (OWASP, CSV injection: cells that begin with = + - @, a tab or a
// carriage return.)
func plain(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	if s != "" && strings.ContainsRune("=+-@\t\n", rune(s[0])) || strings.HasPrefix(s, "＝") || strings.HasPrefix(s, "＋") || strings.HasPrefix(s, "－") || strings.HasPrefix(s, "＠") {
		return "'" + s
	}
	return s
}

// writer breaks lines between words and sets amounts to the right.
type writer struct {
	b     strings.Builder
	width int
}

// row writes text on the left and an amount on the right; where both do not
// fit, the amount goes on a line of its own.
func (w *writer) row(indent int, text, amount string) {
	room := w.width - indent - runewidth.StringWidth(amount)
	if n := runewidth.StringWidth(text); n+2 <= room {
		fmt.Fprintf(&w.b, "%s%s%s%s\n", strings.Repeat(" ", indent), text, strings.Repeat(" ", room-n), amount)
		return
	}
	w.line(indent, text)
	fmt.Fprintf(&w.b, "%s%s\n", strings.Repeat(" ", max(0, w.width-runewidth.StringWidth(amount))), amount)
}

func (w *writer) line(indent int, s string) {
	lines.Hang(&w.b, strings.Repeat(" ", indent), s, w.width)
}
