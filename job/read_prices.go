package job

import (
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

func (r *reader) readPrices(s *source) bool {
	o := s.yamlRoot("prices.yaml")
	if o == nil {
		return false
	}
	p := &r.shop.Prices
	p.At = o.at1()
	if n := o.get("tax"); n != nil {
		if v, ok := s.scalar(n, "tax"); ok {
			v = strings.TrimSpace(strings.TrimSuffix(v, "%"))
			if f, err := strconv.ParseFloat(v, 64); err != nil || f < 0 || f > 100 || strings.ContainsAny(v, "eExXpP_") || len(v) > 10 {
				s.add(s.at(n), n.Value, "write percent, such as 8.25", "%q is not a tax: %s", "tax", n.Value)
			} else {
				p.Tax = v
			}
		}
	}
	if m := o.money("rate", r.sc); m != nil {
		p.Rate = *m
	}
	for _, n := range o.list("items") {
		c := s.mapping(n, "a price")
		if c == nil {
			continue
		}
		pr := Price{At: c.pos(), Item: c.id("item", true), Supplier: c.str("supplier"), Pack: c.integer("pack", 0, 1, 1_000_000),
			Amount: c.amount("amount"), Date: c.date("date", r.sc)}
		if c.keys["pack"] != nil && c.keys["amount"] != nil {
			s.add(s.at(c.knode["amount"]), "amount", "keep `pack` for things that are counted, `amount` for things that are measured", "a price has both %q and %q", "pack", "amount")
		}
		if pr.Pack == 0 && pr.Amount == "" {
			pr.Pack = 1
		}
		if m := c.money("price", r.sc); m != nil {
			pr.Price = *m
		} else {
			c.need("price", "write the price of one pack, such as `price: 6.40`")
		}
		for _, b := range c.list("breaks") {
			if bo := s.mapping(b, "a price break"); bo != nil {
				br := Break{From: bo.integer("from", 0, 2, 1_000_000)}
				bo.need("from", "write from how many packs on")
				if m := bo.money("price", r.sc); m != nil {
					br.Price = *m
				} else {
					bo.need("price", "write the price of one pack at that number")
				}
				bo.done()
				pr.Breaks = append(pr.Breaks, br)
			}
		}
		c.done()
		p.Items = append(p.Items, pr)
	}
	o.done()
	return true
}

func (r *reader) readGlues(s *source) bool {
	o := s.yamlRoot("glues.yaml")
	if o == nil {
		return false
	}
	for _, n := range o.list("glues") {
		c := s.mapping(n, "a glue")
		if c == nil {
			continue
		}
		g := GlueLabel{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Type: c.str("type"), Open: c.span("open"), Closed: c.span("closed"),
			Clamp: r.labelPoints(c, "clamp"), Cure: r.labelPoints(c, "cure"), Lowest: c.temp("lowest", r.sc),
			Spread: c.integer("spread", 0, 10, 2000), Item: c.str("item")}
		if c.need("type", "name the generic type it starts from, such as `type: "+genericGlues()[0]+"`") && g.Type != "" && !isGeneric(g.Type) {
			s.add(s.at(c.keys["type"]), g.Type, suggest(g.Type, genericGlues(), "types"), "no generic type of glue: %s", g.Type)
		}
		c.done()
		r.shop.Glues = append(r.shop.Glues, g)
	}
	o.done()
	return true
}

// labelPoints reads `{10 C: 60 min, 20 C: 30 min}`.
func (r *reader) labelPoints(c *obj, key string) []LabelPoint {
	m := c.s.mapping(c.get(key), "`"+key+"`")
	if m == nil {
		return nil
	}
	var out []LabelPoint
	for _, k := range m.order {
		v := m.get(k)
		kn := m.knode[k]
		t := c.s.temp(&yaml.Node{Kind: yaml.ScalarNode, Value: k, Line: kn.Line, Column: kn.Column, Style: kn.Style}, key, r.sc)
		if v == nil {
			c.s.add(c.s.at(kn), k, "write the time behind it, such as `"+k+": 30 min`", "%q has no time at %s", key, k)
			continue
		}
		text, ok := c.s.scalar(v, key)
		if t == nil || !ok {
			continue
		}
		sp := c.s.spanText(v, text, 1, key)
		if sp == 0 {
			if text != "" {
				c.s.add(c.s.at(v), text, "write the time the label gives", "%q is no time at %s", key, k)
			}
			continue
		}
		out = append(out, LabelPoint{Temp: *t, Time: sp, At: c.s.at(kn)})
	}
	m.done()
	return out
}
