package job

import (
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// stockForms are the forms that stock is sold in.
var stockForms = []string{"sheet", "board", "rod"}

func (r *reader) readStock(s *source) bool {
	o := s.yamlRoot("stock.yaml")
	if o == nil {
		return false
	}
	for _, n := range o.list("stock") {
		if c := s.mapping(n, "a stock"); c != nil {
			r.shop.Stock = append(r.shop.Stock, r.oneStock(c))
		}
	}
	for _, w := range r.also {
		if r.shop.StockByID(w.text) == nil {
			ids := make([]string, 0, len(r.shop.Stock))
			for _, st := range r.shop.Stock {
				ids = append(ids, st.ID)
			}
			s.add(w.at, w.text, suggest(w.text, ids, "stock"), "no stock is called %q", w.text)
		}
	}
	for _, n := range o.list("hardware") {
		if c := s.mapping(n, "hardware on hand"); c != nil {
			sh := Shelf{At: c.pos(), Item: c.id("item", true), Qty: c.integer("qty", 0, 0, 1_000_000), Amount: c.amount("amount"), Where: c.str("where")}
			c.done()
			r.shop.Shelf = append(r.shop.Shelf, sh)
		}
	}
	o.done()
	return true
}

// word is something named before what it names has been read.
type word struct {
	text string
	at   Pos
}

func (r *reader) oneStock(c *obj) Stock {
	s, sc := c.s, r.sc
	st := Stock{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Form: c.oneOf("form", stockForms), Species: c.str("species"), Nominal: c.str("nominal"),
		Thick: c.dim("thick", sc, positive), Trim: c.dim("trim", sc, notNegative), Surfaced: c.boolean("surfaced"), Price: c.str("price")}
	if st.Form == "" && c.keys["form"] == nil {
		c.need("form", "write sheet, board or rod")
	}
	if n := c.get("size"); n != nil {
		st.Size = s.size3(n, "size", sc, true)
	}
	if g := c.boolPtr("grain"); g != nil {
		st.Grain = *g
	} else {
		st.Grain = st.Form == "board"
	}
	var also []*yaml.Node
	st.Also, also = c.words("also")
	for i, n := range also {
		r.also = append(r.also, word{st.Also[i], s.at(n)})
	}
	for i, n := range c.list("on-hand") {
		p := s.mapping(n, "a piece on hand")
		if p == nil {
			continue
		}
		pc := Piece{At: p.pos(), Qty: p.integer("qty", 1, 0, 100_000), Offcut: p.boolean("offcut"), Where: p.str("where")}
		if p.keys["id"] != nil {
			pc.ID = p.id("id", true)
		} else {
			p.get("id")
			pc.ID = st.ID + "." + strconv.Itoa(i+1)
		}
		if p.need("size", "write its size, such as `size: 30 x 14`") {
			pc.Size = s.size3(p.get("size"), "size", sc, false)
		} else {
			p.get("size")
		}
		for _, d := range p.list("defects") {
			if d.Kind != yaml.SequenceNode || len(d.Content) != 4 {
				s.add(s.at(d), "", "write [along, across, length, width] of the bad place, from the left end and the near edge", "a defect needs four lengths")
				continue
			}
			var q [4]Dim
			for k, x := range d.Content {
				sg := notNegative
				if k > 1 {
					sg = positive
				}
				q[k] = s.dim(x, "defects", sc, sg)
			}
			pc.Defects = append(pc.Defects, q)
		}
		p.done()
		st.OnHand = append(st.OnHand, pc)
	}
	c.done()
	return st
}

// oneOf reads a word out of a few.
func (o *obj) oneOf(key string, words []string) string {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return ""
	}
	for _, w := range words {
		if v == w {
			return v
		}
	}
	hint := suggest(v, words, "one of")
	o.s.add(o.s.at(n), v, hint, "%q cannot be %q", key, v)
	return ""
}

// amountUnits are the units things are bought by measure in.
var amountUnits = []string{"ml", "cl", "l", "g", "kg", "fl oz", "oz", "lb", "pt", "qt", "gal", "mm", "cm", "m", "in", "ft", "m2", "ft2", "sheets"}

// amount reads a number with a unit, such as `500 ml` or `500ml`, and gives it
// as the number, a blank and the unit.
func (o *obj) amount(key string) string {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return ""
	}
	i := strings.IndexFunc(v, func(r rune) bool { return (r < '0' || r > '9') && r != '.' })
	if i < 0 {
		i = len(v)
	}
	num, unit := v[:i], strings.ToLower(strings.TrimSpace(v[i:]))
	f, err := strconv.ParseFloat(num, 64)
	if err != nil || f <= 0 || f > 1e9 || len(num) > 16 || strings.ContainsAny(num, "eExXpP_") {
		o.s.add(o.s.at(n), v, "write a number with a point and a unit, such as 500 ml or 0.5 l", "%q is not an amount: %s", key, v)
		return ""
	}
	for _, u := range amountUnits {
		if unit == u {
			return num + " " + u
		}
	}
	o.s.add(o.s.at(n), v, "units: "+strings.Join(amountUnits, ", "), "%q has no unit that things are sold by: %s", key, v)
	return ""
}
