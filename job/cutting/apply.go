package cutting

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"caul/job"
	"caul/job/measure"
)

// Applied is what the shop's files become once cuts are made.
type Applied struct {
	Stock []byte   // stock.yaml with used pieces taken out and offcuts put in
	Log   []Logged // the parts that are cut now, for the jobs' logs; without time
	Took  []string // pieces that left the shelf, for a message
	Kept  []string // offcuts that came onto it
}

// Logged is one entry for one job's log.
type Logged struct {
	Job   string
	Entry job.Entry
}

// Apply says what changes when the cuts of some sheets (by index into
// c.Sheets; none: all) have been made: the bytes of stock.yaml, edited in place
// so that comments and order stay, and a log entry for every kind of part cut.
// where is written to the offcuts; it may be empty. stock must be the file the
// shop was read from; a piece that is not in it is an error and nothing is
// changed.
//
// A part spoiled at the saw needs no more than this and a log entry that says
// so: Make then lays it out again, from the offcuts first.
func Apply(stock []byte, shop *job.Shop, c *Cut, where string, sheets ...int) (*Applied, error) {
	if len(sheets) == 0 {
		for i := range c.Sheets {
			sheets = append(sheets, i)
		}
	}
	made := map[int]bool{}
	for _, i := range sheets {
		if i < 0 || i >= len(c.Sheets) {
			return nil, fmt.Errorf("there is no sheet %d in this layout", i+1)
		}
		if made[i] {
			return nil, fmt.Errorf("sheet %d is named twice", i+1)
		}
		made[i] = true
	}
	a := &Applied{Stock: slices.Clone(stock)}
	// offcuts go to the end of a list first, so that the list is not left empty
	kept, err := a.keep(shop, c, made, where)
	if err != nil {
		return nil, err
	}
	if err := a.take(shop, c, made, kept); err != nil {
		return nil, err
	}
	a.log(shop, c, made)
	return a, nil
}

// take removes the pieces that were cut up.
func (a *Applied) take(shop *job.Shop, c *Cut, made map[int]bool, kept map[string]int) error {
	type gone struct {
		stock *job.Stock
		at, n int
	}
	var list []*gone
	for i := range c.Sheets {
		s := &c.Sheets[i]
		if !made[i] || s.Piece == "" {
			continue
		}
		st := shop.StockByID(s.Stock)
		if st == nil {
			return fmt.Errorf("there is no stock %q", s.Stock)
		}
		at := slices.IndexFunc(st.OnHand, func(p job.Piece) bool { return p.ID == s.Piece })
		if at < 0 {
			return fmt.Errorf("%s: there is no piece %q on hand", s.Stock, s.Piece)
		}
		k := slices.IndexFunc(list, func(g *gone) bool { return g.stock == st && g.at == at })
		if k < 0 {
			list = append(list, &gone{stock: st, at: at})
			k = len(list) - 1
		}
		list[k].n++
		a.Took = append(a.Took, s.Name)
	}
	// from the end of each list, so that the numbers of what stays hold
	slices.SortStableFunc(list, func(x, y *gone) int {
		return cmp.Or(strings.Compare(x.stock.ID, y.stock.ID), -cmp.Compare(x.at, y.at))
	})
	left := map[string]int{}
	for i := range shop.Stock {
		left[shop.Stock[i].ID] = len(shop.Stock[i].OnHand) + kept[shop.Stock[i].ID]
	}
	for _, g := range list {
		p := &g.stock.OnHand[g.at]
		path := job.Path{"stock", g.stock.ID, "on-hand", fmt.Sprintf("#%d", g.at)}
		var err error
		switch {
		case g.n > p.Qty:
			return fmt.Errorf("%s: %d of %s are cut and %d are on hand", g.stock.ID, g.n, p.ID, p.Qty)
		case g.n == p.Qty && left[g.stock.ID] == 1: // the last of the list
			a.Stock, err = job.Remove(a.Stock, path[:3])
		case g.n == p.Qty:
			left[g.stock.ID]--
			a.Stock, err = job.Remove(a.Stock, path)
		default:
			a.Stock, err = job.SetValue(a.Stock, append(path, "qty"), fmt.Sprint(p.Qty-g.n))
		}
		if err != nil {
			return fmt.Errorf("stock.yaml: %w", err)
		}
	}
	return nil
}

// keep adds the offcuts that are worth keeping, and counts them by stock.
func (a *Applied) keep(shop *job.Shop, c *Cut, made map[int]bool, where string) (map[string]int, error) {
	kept := map[string]int{}
	used := map[string]bool{}
	for i := range shop.Stock {
		for _, p := range shop.Stock[i].OnHand {
			used[p.ID] = true
		}
	}
	next := 1
	for i := range c.Sheets {
		s := &c.Sheets[i]
		if !made[i] {
			continue
		}
		for _, o := range s.Offcuts {
			if !o.Keep {
				continue
			}
			id := ""
			for ; id == "" || used[id]; next++ {
				id = fmt.Sprintf("off-%d", next)
			}
			used[id] = true
			st := shop.StockByID(s.Stock)
			if st == nil {
				return nil, fmt.Errorf("there is no stock %q", s.Stock)
			}
			text := plainLength(o.L, shop.Units.Length) + " x " + plainLength(o.W, shop.Units.Length)
			if t := thickness(st); s.Thick != t && s.Thick > 0 || form(st) == formRod {
				text += " x " + plainLength(s.Thick, shop.Units.Length)
			}
			item := fmt.Sprintf("{id: %s, size: %s, offcut: true", id, text)
			if where != "" {
				item += ", where: " + quote(where)
			}
			var err error
			if a.Stock, err = job.AppendItem(a.Stock, job.Path{"stock", s.Stock, "on-hand"}, item+"}"); err != nil {
				return nil, fmt.Errorf("stock.yaml: %w", err)
			}
			kept[s.Stock]++
			a.Kept = append(a.Kept, fmt.Sprintf("%s: %s, %s", s.Stock, id, text))
		}
	}
	return kept, nil
}

// log counts the parts that are whole: of a panel, those with every strip cut.
func (a *Applied) log(shop *job.Shop, c *Cut, made map[int]bool) {
	type key struct{ job, part string }
	count := map[key]int{}
	strips := map[string]int{}
	var order []key
	for i := range c.Sheets {
		if !made[i] {
			continue
		}
		for _, p := range c.Sheets[i].Placed {
			k := key{p.Job, p.Part}
			if _, ok := count[k]; !ok {
				count[k] = 0
				order = append(order, k)
			}
			if p.Strips > 0 {
				id := fmt.Sprint(p.Job, "/", p.Part, "/", p.N)
				if strips[id]++; strips[id] < p.Strips {
					continue
				}
			}
			count[k]++
		}
	}
	for _, k := range order {
		if count[k] > 0 {
			a.Log = append(a.Log, Logged{k.job, job.Entry{Did: job.DidCut, Item: k.part, Qty: count[k]}})
		}
	}
}

// plainLength writes a length so that it is read back the same, without the
// unit where it is the shop's own.
func plainLength(l measure.Length, u measure.Units) string {
	s := measure.Exact(l, u)
	if v, ok := strings.CutSuffix(s, " "+u.System.Name()); ok {
		return v
	}
	return s
}

// plainText is what YAML reads back as the same text without quotes.
var plainText = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9./-]*( [A-Za-z0-9./-]+)+$`)

// quote writes a text as YAML, in single quotes where it needs them.
func quote(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if plainText.MatchString(s) {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", "''") + "'"
}
