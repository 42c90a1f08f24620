package layout

import (
	"context"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	sat "github.com/crillab/gophersat/solver"
)

// A second opinion: small cut lists are solved again by a general-purpose
// pseudo-boolean solver, from a model that shares nothing with the search.
//
// The model is the one that counts cuts: for every size of piece that can come
// about, how often it is cut at each place, and how often it is used as a part;
// no more pieces of a size are used than there are (E. Silva, F. Alvelos, J. M.
// Valerio de Carvalho, "An integer programming model for two- and three-stage
// two-dimensional cutting stock problems", European Journal of Operational
// Research 205 (2010); F. Furini, E. Malaguti, D. Thomopulos, "Modeling
// two-dimensional guillotine cutting problems via integer programming",
// INFORMS Journal on Computing 28 (2016)).

// program is a pseudo-boolean program over small whole numbers.
type program struct {
	vars  int
	rows  []sat.PBConstr
	costL []sat.Lit
	costW []int
}

// number is a whole number in binary.
type number []int

func (g *program) number(most int) number {
	var n number
	for range bits.Len(uint(most)) {
		g.vars++
		n = append(n, g.vars)
	}
	return n
}

// sum is a weighted sum of numbers.
type sum struct{ lits, weights []int }

func (s *sum) add(n number, factor int) {
	for i, l := range n {
		s.lits, s.weights = append(s.lits, l), append(s.weights, factor<<i)
	}
}

// atLeast demands that a sum reach a value.
func (g *program) atLeast(s sum, value int) {
	var lits, weights []int
	total := 0
	// A literal twice in a row is one with the sum of the weights.
	var once sum
	for i, l := range s.lits {
		if k := slices.Index(once.lits, l); k >= 0 {
			once.weights[k] += s.weights[i]
		} else {
			once.lits, once.weights = append(once.lits, l), append(once.weights, s.weights[i])
		}
	}
	for i, w := range once.weights {
		l := once.lits[i]
		if w == 0 {
			continue
		}
		if w < 0 {
			l, w, value = -l, -w, value-w
		}
		lits, weights = append(lits, l), append(weights, w)
		total += w
	}
	if value <= 0 {
		return
	}
	if total < value { // cannot be
		g.rows = append(g.rows, sat.PropClause(1), sat.PropClause(-1))
		return
	}
	g.rows = append(g.rows, sat.GtEq(lits, weights, value))
}

func (g *program) cost(n number, factor int) {
	for i, l := range n {
		g.costL, g.costW = append(g.costL, sat.IntToLit(int32(l))), append(g.costW, factor<<i)
	}
}

// least gives the least cost, or -1 where there is no answer.
func (g *program) least() int {
	pb := sat.ParsePBConstrs(g.rows)
	if pb.Status == sat.Unsat {
		return -1
	}
	pb.SetCostFunc(g.costL, g.costW)
	return sat.New(pb).Minimize()
}

// cutsModel is the model that counts cuts.
func cutsModel(p *Problem) *program {
	g := &program{}
	total := 0
	for _, q := range p.Parts {
		total += q.Qty
	}
	type size struct{ w, h int64 }
	balance := map[size]*sum{}
	var order []size
	var visit func(s size) *sum
	parts := make([]sum, len(p.Parts))
	visit = func(s size) *sum {
		if b := balance[s]; b != nil {
			return b
		}
		b := &sum{}
		balance[s] = b
		order = append(order, s)
		for i, q := range p.Parts {
			if s == (size{q.X, q.Y}) || q.Turn && s == (size{q.Y, q.X}) {
				n := g.number(q.Qty)
				b.add(n, -1)
				parts[i].add(n, 1)
			}
		}
		cut := func(near, far size) {
			n := g.number(total)
			b.add(n, -1)
			visit(near).add(n, 1)
			if far.w > 0 && far.h > 0 {
				visit(far).add(n, 1)
			}
		}
		for at := int64(1); at < s.w; at++ {
			cut(size{at, s.h}, size{s.w - at - p.Kerf, s.h})
		}
		for at := int64(1); at < s.h; at++ {
			cut(size{s.w, at}, size{s.w, s.h - at - p.Kerf})
		}
		return b
	}
	for _, s := range p.Stocks {
		u := s.usable()
		most := total
		if s.Qty >= 0 {
			most = min(most, s.Qty)
		}
		n := g.number(most)
		if most > 0 && most&(most+1) != 0 { // binary digits could say more
			var lim sum
			lim.add(n, -1)
			g.atLeast(lim, -most)
		}
		visit(size{u.W, u.H}).add(n, 1)
		g.cost(n, int(s.Price))
	}
	for _, s := range order {
		g.atLeast(*balance[s], 0)
	}
	for i, q := range p.Parts {
		g.atLeast(parts[i], q.Qty)
	}
	return g
}

func TestSecondOpinionOnSheets(t *testing.T) {
	agreed := 0
	for seed := range uint64(140) {
		r := rand.New(rand.NewPCG(seed, 5))
		p := &Problem{Kerf: int64(r.IntN(2))}
		for range 1 + r.IntN(2) {
			p.Stocks = append(p.Stocks, Stock{X: int64(3 + r.IntN(4)), Y: int64(3 + r.IntN(3)), Price: int64(2 + r.IntN(6)), Qty: r.IntN(5) - 1})
		}
		p.Stocks[0].Qty = -1
		for n := 2 + r.IntN(4); n > 0; {
			k := min(n, 1+r.IntN(2))
			n -= k
			p.Parts = append(p.Parts, Part{X: int64(1 + r.IntN(5)), Y: int64(1 + r.IntN(4)), Qty: k, Turn: r.IntN(2) == 0})
		}
		res, err := Solve(context.Background(), p, Options{Work: 40_000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, res); err != nil {
			t.Fatalf("list %d: %v", seed, err)
		}
		want := cutsModel(p).least()
		if want < 0 {
			if len(res.Unplaced) == 0 {
				t.Errorf("list %d: all parts placed, the model finds that they cannot be: %+v", seed, p)
			}
			continue
		}
		if len(res.Unplaced) > 0 {
			t.Errorf("list %d: parts left out, the model places all for %d: %+v", seed, want, p)
			continue
		}
		if res.Cost.Value != int64(want) || !res.Cost.Proved {
			t.Errorf("list %d: cost %d, bound %d, by the model %d: %+v", seed, res.Cost.Value, res.Cost.Bound, want, p)
		}
		agreed++
	}
	if agreed < 100 {
		t.Errorf("only %d lists could be compared", agreed)
	}
}

// barsModel says for each part which bar it comes from.
func barsModel(p *Problem) *program {
	g := &program{}
	total := 0
	for _, q := range p.Parts {
		total += q.Qty
	}
	var opens []number
	var rooms []int
	for _, s := range p.Stocks {
		most := total
		if s.Qty >= 0 {
			most = min(most, s.Qty)
		}
		for range most {
			n := g.number(1)
			opens, rooms = append(opens, n), append(rooms, int(s.usable().W+p.Kerf))
			g.cost(n, int(s.Price))
		}
	}
	loads := make([]sum, len(opens))
	group := map[string][]number{}
	for _, q := range p.Parts {
		for range q.Qty {
			var once sum
			var mine []number
			for b := range opens {
				n := g.number(1)
				once.add(n, 1)
				loads[b].add(n, -int(q.X+p.Kerf))
				mine = append(mine, n)
			}
			g.atLeast(once, 1)
			if q.Group == "" {
				continue
			}
			if first, ok := group[q.Group]; ok {
				for b := range opens { // in the same bar as the first
					var s sum
					s.add(mine[b], 1)
					s.add(first[b], -1)
					g.atLeast(s, 0)
				}
			} else {
				group[q.Group] = mine
				var s sum
				for b := range opens {
					s.add(mine[b], -1)
				}
				g.atLeast(s, -1)
			}
		}
	}
	for b := range opens {
		loads[b].add(opens[b], rooms[b])
		g.atLeast(loads[b], 0)
	}
	return g
}

func TestSecondOpinionOnBars(t *testing.T) {
	agreed := 0
	for seed := range uint64(140) {
		r := rand.New(rand.NewPCG(seed, 6))
		p := &Problem{Kerf: int64(r.IntN(4))}
		for range 1 + r.IntN(2) {
			s := Stock{X: int64(30 + r.IntN(40)), Price: int64(3 + r.IntN(6)), Qty: r.IntN(4) - 1}
			s.Trim.Left = int64(r.IntN(3))
			p.Stocks = append(p.Stocks, s)
		}
		p.Stocks[0].Qty = -1
		for n := 2 + r.IntN(5); n > 0; {
			k := min(n, 1+r.IntN(2))
			n -= k
			q := Part{X: int64(5 + r.IntN(25)), Qty: k}
			if r.IntN(4) == 0 {
				q.Group = "a"
			}
			p.Parts = append(p.Parts, q)
		}
		res, err := Solve(context.Background(), p, Options{Work: 40_000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, res); err != nil {
			t.Fatalf("list %d: %v", seed, err)
		}
		want := barsModel(p).least()
		if want < 0 {
			if len(res.Unplaced) == 0 {
				t.Errorf("list %d: all parts placed, the model finds that they cannot be: %+v", seed, p)
			}
			continue
		}
		if len(res.Unplaced) > 0 {
			t.Errorf("list %d: %v left out, the model places all for %d: %+v", seed, res.Unplaced, want, p)
			continue
		}
		if res.Cost.Value != int64(want) || !res.Cost.Proved {
			t.Errorf("list %d: cost %d, bound %d, by the model %d: %+v", seed, res.Cost.Value, res.Cost.Bound, want, p)
		}
		agreed++
	}
	if agreed < 100 {
		t.Errorf("only %d lists could be compared", agreed)
	}
}
