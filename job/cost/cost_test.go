package cost

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/cutting"
	"caul/job/measure"
)

const inch = measure.Inch

func usd(minor int64) measure.Money { return measure.Money{Minor: minor, Code: "USD"} }

func dim(l measure.Length) job.Dim { return job.Dim{Length: l, Set: true, Exact: true} }

func dims(l, w, t measure.Length) [3]job.Dim { return [3]job.Dim{dim(l), dim(w), dim(t)} }

func day(s string) time.Time {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		panic(err)
	}
	return t
}

// bench is a job whose bill is worked out by hand below.
func bench() *job.Shop {
	return &job.Shop{
		Units: job.Units{Money: "USD"},
		Stock: []job.Stock{{ID: "ply", Form: "sheet", Size: dims(48*inch, 24*inch, inch/2), Price: "ply-half"}},
		Shelf: []job.Shelf{{Item: "screw", Qty: 6}},
		Prices: job.Prices{Tax: "8.25", Rate: usd(2000), Items: []job.Price{
			{Item: "ply-half", Supplier: "yard", Pack: 1, Price: usd(2999), Date: day("2026-01-10")},
			{Item: "ply-half", Supplier: "yard", Pack: 1, Price: usd(3200), Date: day("2026-03-01")}, // the latest counts, though it is dearer
			{Item: "screw", Supplier: "yard", Pack: 25, Price: usd(310)},
			{Item: "screw", Supplier: "yard", Pack: 100, Price: usd(900)},
			{Item: "screw", Supplier: "corner", Pack: 50, Price: usd(599)},
			{Item: "white-glue", Supplier: "corner", Amount: "250 ml", Price: usd(550)},
			{Item: "oil", Supplier: "yard", Amount: "500 ml", Price: usd(1425)},
		}},
		Glues: []job.GlueLabel{{ID: "white-glue", Type: "pva", Spread: 200}},
		Jobs: []*job.Job{{ID: "bench", Copies: 1,
			Parts:    []job.Part{{ID: "top", Qty: 1, Size: dims(48*inch, 24*inch, inch/2), From: "ply"}},
			Hardware: []job.Hardware{{Item: "screw", Qty: 40}, {Item: "knob", Qty: 2}},
			GlueUps:  []job.GlueUp{{ID: "lam", Glue: "white-glue", Area: measure.Rect(measure.Metre, measure.Metre/2)}},
			Consumes: []job.Consumable{{Item: "oil", Amount: "120 ml", Step: "coat"}},
			Steps:    []job.Step{{ID: "lam", Takes: 30 * measure.Minute}, {ID: "coat", Takes: 45 * measure.Minute, Finish: true}},
		}},
	}
}

func makeBill(t *testing.T, shop *job.Shop, o Options) *Bill {
	t.Helper()
	cut, err := cutting.Make(context.Background(), shop, cutting.Options{Jobs: o.Jobs, Copies: o.Copies, Budget: 3000})
	require.NoError(t, err)
	b, err := Make(shop, cut, o)
	require.NoError(t, err)
	return b
}

func line(b *Bill, item string) Line {
	for _, l := range b.Buy {
		if l.Item == item {
			return l
		}
	}
	return Line{}
}

// The sums, by hand: one sheet 32.00. Screws: 40 less 6 on the shelf leaves
// 34; 25 + 25 at the yard 6.20, 50 at the corner 5.99, so 5.99. Oil 14.25. Glue:
// 0.5 m2 x 200 g/m2 x 1.15 = 115 g; at 1.1 g/ml 104.5, so 105 ml: one bottle
// 5.50. Together 57.74; tax 8.25 %, at the yard of 46.25 3.815625, so 3.82, at
// the corner of 11.49 0.947925, so 0.95: 4.77; to pay 62.51.
func TestByHand(t *testing.T) {
	b := makeBill(t, bench(), Options{WithHours: true})
	require.Equal(t, usd(3200), line(b, "ply-half").Cost)
	s := line(b, "screw")
	require.Equal(t, []any{"40", "6", 1, "50 pieces", "corner", usd(599), "16 pieces"}, []any{s.Need, s.OnHand, s.Packs, s.Pack, s.Supplier, s.Cost, s.Left})
	// 16 of 50 left: 599 * 16/50 = 191.68, rounded down
	require.Equal(t, usd(191), s.Worth)
	// into the jig: what of the pack is not left (408), and 6 off the shelf at 599/50 each (71.88)
	require.Equal(t, usd(408+72), s.Used)
	require.Equal(t, usd(72), b.Had)
	require.Contains(t, Text(b, 60), "  of that, from the shelf or there already          0.72 USD\n")
	g := line(b, "white-glue")
	require.Equal(t, []any{"105 ml", 1, usd(550), "145 ml"}, []any{g.Need, g.Packs, g.Cost, g.Left})
	o := line(b, "oil")
	require.Equal(t, []any{"finish", "120 ml", usd(1425), "380 ml"}, []any{o.Kind, o.Need, o.Cost, o.Left})
	require.Equal(t, []string{"knob"}, b.Missing)
	require.Equal(t, usd(5774), b.Cost)
	require.Equal(t, usd(477), b.Tax)
	require.Equal(t, usd(6251), b.Total)
	// 75 minutes at 20.00
	require.Equal(t, 75*measure.Minute, b.Hours)
	require.Equal(t, usd(2500), b.Labour)
	require.Equal(t, usd(8751), b.PerCopy)
	// baskets: the yard alone has all but the glue: 32 + 6.20 + 14.25; with the corner 57.74, and the knob nowhere
	require.Equal(t, []Basket{
		{[]string{"yard"}, usd(5245), []string{"knob", "white-glue"}},
		{[]string{"corner", "yard"}, usd(5774), []string{"knob"}},
	}, b.Baskets)
	one := makeBill(t, bench(), Options{OneStop: true})
	require.Equal(t, "yard", one.OneStop)
	require.Equal(t, usd(620), line(one, "screw").Cost)
	require.Equal(t, usd(550), line(one, "white-glue").Cost)
	require.Contains(t, strings.Join(one.Warn, "\n"), "white-glue is not to be had at yard")
	t.Log("\n" + Text(b, 80) + "\n" + BuyText(b, 40))
}

// What comes off the shelf and has no price cannot be counted into the jig: it
// is told, not left out in silence.
func TestOnTheShelfWithoutAPrice(t *testing.T) {
	shop := bench()
	shop.Shelf = append(shop.Shelf, job.Shelf{Item: "knob", Qty: 5})
	b := makeBill(t, shop, Options{})
	require.Empty(t, b.Missing)
	require.Equal(t, usd(72), b.Had)
	require.Contains(t, strings.Join(b.Warn, "\n"), "counts as nothing: knob; write what it costs today in prices.yaml")
	// at 1.50 each two of the five are 3.00
	shop.Prices.Items = append(shop.Prices.Items, job.Price{Item: "knob", Supplier: "yard", Pack: 1, Price: usd(150)})
	b = makeBill(t, shop, Options{})
	require.Equal(t, usd(72+300), b.Had)
	require.NotContains(t, strings.Join(b.Warn, "\n"), "counts as nothing")
}

func TestLogged(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	paid, other := usd(1000), measure.Money{Minor: 700, Code: "EUR"}
	j.Log = []job.Entry{
		{ID: "1", Did: job.DidBuy, Item: "screw", Qty: 1, Paid: &paid},
		{ID: "2", Did: job.DidBuy, Item: "screw", Qty: 1, Paid: &other},
		{ID: "3", Did: job.DidBuy, Item: "oil", Qty: 1, Paid: &paid},
		{ID: "4", Did: job.DidUndo, Entry: "3"},
		{ID: "5", Did: job.DidFinish, Step: "lam"},
		{ID: "6", Did: job.DidUse, Item: "screw", Qty: 10},
		{ID: "7", Did: job.DidCut, Item: "top", Qty: 1},
	}
	b := makeBill(t, shop, Options{})
	require.Equal(t, usd(1000), b.Spent)
	require.Contains(t, strings.Join(b.Warn, "\n"), "7.00 EUR paid is not added")
	require.Equal(t, []Spend{{"screw", 2, usd(1000), usd(620), "bench"}}, b.Spends)
	// 30 screws still to drive; 6 on the shelf and 2 packs of at least 25, of which 10 are used
	s := line(b, "screw")
	require.Equal(t, []any{"30", "46", 0}, []any{s.Need, s.OnHand, s.Packs})
	// the glue is in the joint: none to buy, and worth 105 ml of a 250 ml bottle at 5.50
	g := line(b, "white-glue")
	require.Equal(t, []any{"0 ml", 0, usd(231)}, []any{g.Need, g.Packs, g.Used})
	// the top is cut: a whole sheet went into it
	require.Equal(t, []any{0, usd(3200)}, []any{line(b, "ply-half").Packs, line(b, "ply-half").Used})
}

// TestFaces: the bond worked out from the parts that meet. Five ribs 46 x 1/2
// in on one skin: 115 sq in = 0.0741934 m2; at 200 g/m2 and 15 % more 17.06 g,
// at 1.1 g/ml 15.5, so 16 ml.
func TestFaces(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	j.Parts = append(j.Parts, job.Part{ID: "rib", Qty: 5, Size: dims(46*inch, 3*inch, inch/2), From: "ply"})
	j.GlueUps[0].Area, j.GlueUps[0].Faces, j.GlueUps[0].Joins = measure.Area{}, []string{"top back", "rib near-edge"}, []string{"top", "rib"}
	require.Equal(t, "16 ml", line(makeBill(t, shop, Options{}), "white-glue").Need)
	j.GlueUps[0].Faces = nil
	b := makeBill(t, shop, Options{})
	require.Zero(t, line(b, "white-glue"))
	require.Contains(t, strings.Join(b.Warn, " "), "no bond area")
}

func TestCurrency(t *testing.T) {
	shop := bench()
	shop.Prices.Items = append(shop.Prices.Items, job.Price{Item: "knob", Pack: 1, Price: measure.Money{Minor: 1, Code: "EUR"}})
	shop.Prices.Rate = measure.Money{Minor: 1, Code: "EUR"}
	b := makeBill(t, shop, Options{WithHours: true})
	require.Equal(t, []string{"knob"}, b.Missing)
	require.Zero(t, b.Labour)
	all := strings.Join(b.Warn, "\n")
	require.Contains(t, all, "knob: a price in EUR is left out")
	require.Contains(t, all, "the rate is in EUR")
}

func TestBreaks(t *testing.T) {
	// 9 packs at 5.00 are 45.00, 10 at 4.00 are 40.00: more is cheaper
	o := offer{size: count(1), price: 500, breaks: []job.Break{{From: 10, Price: usd(400)}}}
	p, total, ok, sure := cheapest(count(9), []offer{o})
	require.True(t, ok && sure)
	require.Equal(t, int64(4000), total)
	require.Equal(t, int64(10), p[0].n)
}

// brute tries every number of packs of every offer.
func brute(need int64, offers []offer) int64 {
	best := int64(-1)
	var rec func(i int, have, cost int64)
	rec = func(i int, have, cost int64) {
		if have >= need && (best < 0 || cost < best) {
			best = cost
		}
		if i == len(offers) {
			return
		}
		for n := int64(0); n <= need+12; n++ {
			rec(i+1, have+n*offers[i].size.v.Num().Int64(), cost+offers[i].cost(n))
		}
	}
	rec(0, 0, 0)
	return best
}

func randomOffers(r *rand.Rand, n int, suppliers int) []offer {
	var out []offer
	for i := range n {
		o := offer{supplier: fmt.Sprint("s", r.IntN(suppliers)), size: count(1 + r.IntN(6)), price: int64(1 + r.IntN(40)), text: fmt.Sprint(i)}
		if r.IntN(3) == 0 {
			o.breaks = append(o.breaks, job.Break{From: 2 + r.IntN(9), Price: usd(max(1, o.price-int64(r.IntN(10))))})
		}
		out = append(out, o)
	}
	return out
}

// TestCheapest holds the search against trying everything.
func TestCheapest(t *testing.T) {
	for seed := range 400 {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		offers := randomOffers(r, 1+r.IntN(3), 3)
		last := int64(0)
		for need := range 13 {
			picks, total, ok, sure := cheapest(count(need), offers)
			require.True(t, ok && sure)
			require.Equal(t, brute(int64(need), offers), total, "seed %d need %d", seed, need)
			got, cost := new(big.Rat), int64(0)
			for _, p := range picks {
				got.Add(got, p.offer.size.times(p.n).v)
				cost += p.offer.cost(p.n)
			}
			require.GreaterOrEqual(t, got.Cmp(count(need).v), 0)
			require.Equal(t, total, cost)
			require.GreaterOrEqual(t, total, last, "more never costs less")
			last = total
		}
	}
}

// TestBaskets holds the sets of suppliers against trying every set, every mix.
func TestBaskets(t *testing.T) {
	for seed := range 150 {
		r := rand.New(rand.NewPCG(uint64(seed), 2))
		m := &maker{bill: &Bill{Currency: "USD"}}
		var ws []*want
		for i := range 1 + r.IntN(4) {
			ws = append(ws, &want{item: fmt.Sprint("i", i), buy: count(1 + r.IntN(5)), offers: randomOffers(r, r.IntN(3), 3)})
		}
		bs := m.baskets(ws)
		for k := 1; k <= 3; k++ {
			bestMissing, bestTotal := -1, int64(0)
			subsets([]string{"s0", "s1", "s2"}, k, func(set []string) {
				missing, total := 0, int64(0)
				for _, w := range ws {
					var some []offer
					for _, o := range w.offers {
						if strings.Contains(strings.Join(set, " "), o.supplier) {
							some = append(some, o)
						}
					}
					if len(some) == 0 {
						missing++
						continue
					}
					total += brute(w.buy.v.Num().Int64(), some)
				}
				if bestMissing < 0 || missing < bestMissing || missing == bestMissing && total < bestTotal {
					bestMissing, bestTotal = missing, total
				}
			})
			// the best stated for k suppliers or fewer
			var got *Basket
			for i := range bs {
				if len(bs[i].Suppliers) <= k {
					got = &bs[i]
				}
			}
			if got == nil {
				require.Equal(t, len(ws), bestMissing)
				continue
			}
			require.Equal(t, bestMissing, len(got.Missing), "seed %d, %d suppliers", seed, k)
			require.Equal(t, bestTotal, got.Total.Minor, "seed %d, %d suppliers", seed, k)
		}
	}
}

// TestProperties: packs cover the need, the total is the sum, what is used and
// left is what was paid (and what came off the shelf), more copies never cost less.
func TestProperties(t *testing.T) {
	for seed := range 60 {
		r := rand.New(rand.NewPCG(uint64(seed), 3))
		shop := bench()
		shop.Jobs[0].Hardware = nil
		for i := range 1 + r.IntN(5) {
			item := fmt.Sprint("item", i)
			shop.Jobs[0].Hardware = append(shop.Jobs[0].Hardware, job.Hardware{Item: item, Qty: 1 + r.IntN(30)})
			for range 1 + r.IntN(3) {
				shop.Prices.Items = append(shop.Prices.Items, job.Price{Item: item, Supplier: fmt.Sprint("s", r.IntN(3)), Pack: 1 + r.IntN(20), Price: usd(int64(1 + r.IntN(900)))})
			}
		}
		last := int64(-1)
		for copies := 1; copies <= 4; copies++ {
			b := makeBill(t, shop, Options{Copies: copies})
			sum := int64(0)
			packs := map[string]int64{}
			for _, l := range b.Buy {
				require.Equal(t, l.Each.Minor*int64(l.Packs), l.Cost.Minor)
				sum += l.Cost.Minor
				var n int64
				fmt.Sscan(l.Pack, &n)
				packs[l.Item] += n * int64(l.Packs)
			}
			for _, h := range shop.Jobs[0].Hardware {
				require.GreaterOrEqual(t, packs[h.Item], int64(h.Qty*copies))
			}
			require.Equal(t, sum, b.Cost.Minor)
			require.Equal(t, b.Cost.Minor+b.Tax.Minor, b.Total.Minor)
			require.Equal(t, b.Cost.Minor, b.Used.Minor+b.Left.Minor)
			require.GreaterOrEqual(t, b.Total.Minor, last)
			last = b.Total.Minor
		}
	}
}

// The bench shop's copies, by hand. Two: sheets 64.00; screws 74, 100 at the
// yard 9.00; oil 240 ml 14.25; glue 230 g, 210 ml 5.50. Yard 87.25, tax 7.198,
// so 7.20; corner 5.50, tax 0.45375, so 0.45; 100.40 in all. Three: sheets
// 96.00; screws 114, 100 and 25 at the yard 12.10; oil 14.25; glue 345 g, 314
// ml, two bottles 11.00. Yard 122.35, tax 10.093875, so 10.09; corner 11.00,
// tax 0.9075, so 0.91; 144.35 in all, 48.1167 each, rounded up.
func TestCopiesByHand(t *testing.T) {
	got, err := Series(context.Background(), bench(), 3, Options{Jobs: []string{"bench"}}, cutting.Options{Budget: 2000})
	require.NoError(t, err)
	for i, want := range []struct{ total, each int64 }{{6251, 6251}, {10040, 5020}, {14435, 4812}} {
		require.Equal(t, []any{i + 1, usd(want.total), usd(want.each), []string{"knob"}}, []any{got[i].Copies, got[i].Total, got[i].PerCopy, got[i].Missing})
	}
	b := makeBill(t, bench(), Options{Copies: 3})
	require.Equal(t, []measure.Money{usd(13335), usd(1100), usd(14435), usd(4812)}, []measure.Money{b.Cost, b.Tax, b.Total, b.PerCopy})
	// with an hour at 20.00: 75 minutes a copy
	got, err = Series(context.Background(), bench(), 2, Options{Jobs: []string{"bench"}, WithHours: true}, cutting.Options{Budget: 2000})
	require.NoError(t, err)
	require.Equal(t, usd(10040+5000), got[1].Total)
}

// Tax is rounded half up, at each till: 8.25 % of 2.00 is 0.165, so 0.17 (to
// the even cent it would be 0.16); of twice 1.00 at two tills 0.0825 each, so
// 0.08 and 0.08.
func TestTaxAtTheTill(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	j.Parts, j.GlueUps, j.Consumes = nil, nil, nil
	j.Hardware = []job.Hardware{{Item: "a", Qty: 1}, {Item: "b", Qty: 1}}
	price := func(item, supplier string, minor int64) job.Price {
		return job.Price{Item: item, Supplier: supplier, Pack: 1, Price: usd(minor)}
	}
	shop.Prices.Items = []job.Price{price("a", "yard", 100), price("b", "yard", 100)}
	require.Equal(t, usd(17), makeBill(t, shop, Options{}).Tax)
	shop.Prices.Items[1].Supplier = "corner"
	require.Equal(t, usd(16), makeBill(t, shop, Options{}).Tax)
	shop.Prices.Tax = ""
	require.Equal(t, usd(0), makeBill(t, shop, Options{}).Tax)
}

// A quarter of a 32.00 sheet is used; what is kept of it is worth three
// quarters, less the kerf: 48 x 17-7/8 of 48 x 24 in is 143/192, of 32.00
// 23.8333, rounded down 23.83. Tax of 32.00 is 2.64; a copy is 34.64 less 23.83.
func TestOffcutCredit(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	j.Hardware, j.GlueUps, j.Consumes = nil, nil, nil
	j.Parts[0].Size = dims(48*inch, 6*inch, inch/2)
	shop.Blades = []job.Blade{{ID: "rip", Kerf: dim(inch / 8)}}
	b := makeBill(t, shop, Options{Offcuts: true})
	require.Equal(t, []measure.Money{usd(3200), usd(264), usd(3464)}, []measure.Money{b.Cost, b.Tax, b.Total})
	require.Equal(t, []measure.Money{usd(2383), usd(2383), usd(3200 - 2383)}, []measure.Money{b.Left, b.Offcuts, b.Used})
	require.Equal(t, usd(3464-2383), b.PerCopy)
	require.Equal(t, usd(3464), makeBill(t, shop, Options{}).PerCopy, "only where it is asked for")
	require.Contains(t, line(b, "ply-half").Left, "offcut 48 x 17-7/8")
	require.Contains(t, Text(b, 80), "less offcuts to keep")
	got, err := Series(context.Background(), shop, 1, Options{Jobs: []string{"bench"}, Offcuts: true}, cutting.Options{Budget: 2000})
	require.NoError(t, err)
	require.Equal(t, b.PerCopy, got[0].PerCopy)
}

// What is used up by measure, by hand. Abrasive over 2 x 48 x 24 in,
// 1.486449 m2, at two sheets a square metre 2.97, so 3 sheets of a pack of 5 at
// 4.50: 2 left, worth 1.80. A bit that cuts 12 m of the 200 m it stays sharp
// for, at 18.00: 188 m left, worth 16.92, so 1.08 into the jig.
func TestConsumedByHand(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	j.Parts, j.Hardware, j.GlueUps = nil, nil, nil
	j.Consumes = []job.Consumable{{Item: "abrasive-120", Area: "2 x 48 x 24", Step: "coat"}, {Item: "spiral-bit", Amount: "12 m"}}
	shop.Prices.Items = []job.Price{{Item: "abrasive-120", Amount: "5 sheets", Price: usd(450)}, {Item: "spiral-bit", Amount: "200 m", Price: usd(1800)}}
	b := makeBill(t, shop, Options{})
	a, c := line(b, "abrasive-120"), line(b, "spiral-bit")
	require.Equal(t, []any{"abrasive", "3 sheets", 1, "2 sheets", usd(270)}, []any{a.Kind, a.Need, a.Packs, a.Left, a.Used})
	require.Equal(t, []any{"cutter", "12 m", 1, "188 m", usd(108)}, []any{c.Kind, c.Need, c.Packs, c.Left, c.Used})
}

// Hours: every sitting of a step that is done counts, and the job's figure
// stands for what is not done. 40 min, set aside, then 33 min is 73; the 45 of
// the other step are to come. Without a rate they are told and in no sum.
func TestHoursLogged(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	at := day("2026-03-01")
	j.Log = []job.Entry{
		{ID: "1", Time: at, Did: job.DidBegin, Step: "lam"},
		{ID: "2", Time: at.Add(time.Hour), Did: job.DidAside, Step: "lam", Minutes: 40 * measure.Minute},
		{ID: "3", Time: at.Add(2 * time.Hour), Did: job.DidResume, Step: "lam"},
		{ID: "4", Time: at.Add(3 * time.Hour), Did: job.DidFinish, Step: "lam", Minutes: 33 * measure.Minute},
		{ID: "5", Time: at.Add(4 * time.Hour), Did: job.DidBegin, Step: "coat", Minutes: 10 * measure.Minute},
	}
	b := makeBill(t, shop, Options{WithHours: true})
	require.Equal(t, (73+45)*measure.Minute, b.Hours)
	require.Equal(t, usd(3933), b.Labour) // 118/60 of 20.00 is 39.3333
	shop.Prices.Rate = measure.Money{}
	b = makeBill(t, shop, Options{WithHours: true})
	require.Equal(t, (73+45)*measure.Minute, b.Hours)
	require.Zero(t, b.Labour.Minor)
	require.Equal(t, b.Total, b.PerCopy)
	require.Contains(t, Text(b, 80), "no hourly rate set")
	require.Contains(t, strings.Join(b.Warn, "\n"), "not in any sum")
}

// A glue-up's handwork is the plan's: 30 min to glue up, 10 to scrape, and for
// 14 clamps, half a minute each, 7 to take them off; up to 10 clamps take 5.
// Once the log tells how long they took, that counts.
func TestHoursOfAGlueUp(t *testing.T) {
	shop := bench()
	shop.Clamps = []job.Clamp{{ID: "bar", Kind: "bar", Qty: 20}}
	j := shop.Jobs[0]
	j.GlueUps[0].Clamps = map[string]int{"bar": 14}
	j.GlueUps[0].Scrape = &job.Lag{Least: 30 * measure.Minute}
	j.Steps[0].GlueUp = &j.GlueUps[0]
	hours := func() measure.Span { return makeBill(t, shop, Options{WithHours: true}).Hours }
	require.Equal(t, (30+10+7+45)*measure.Minute, hours())
	require.Equal(t, 2*(30+10+7+45)*measure.Minute, makeBill(t, shop, Options{WithHours: true, Copies: 2}).Hours)
	j.GlueUps[0].Clamps["bar"] = 4
	require.Equal(t, (30+10+5+45)*measure.Minute, hours())
	at := day("2026-03-01")
	j.Log = []job.Entry{{ID: "1", Time: at, Did: job.DidClamp, Step: "lam", Minutes: 38 * measure.Minute}}
	require.Equal(t, (38+10+5+45)*measure.Minute, hours())
	j.Log = append(j.Log, job.Entry{ID: "2", Time: at.Add(time.Hour), Did: job.DidUnclamp, Step: "lam", Minutes: 9 * measure.Minute})
	require.Equal(t, (38+10+9+45)*measure.Minute, hours())
}

func TestSeries(t *testing.T) {
	shop := bench()
	got, err := Series(context.Background(), shop, 3, Options{Jobs: []string{"bench"}}, cutting.Options{Budget: 2000})
	require.NoError(t, err)
	require.Len(t, got, 3)
	for i := 1; i < 3; i++ {
		require.GreaterOrEqual(t, got[i].Total.Minor, got[i-1].Total.Minor)
	}
	// one bottle of oil and of glue serve all: the second copy is cheaper than the first
	require.Less(t, got[1].PerCopy.Minor, got[0].PerCopy.Minor)
}

func TestCSV(t *testing.T) {
	shop := bench()
	shop.Prices.Items[6].Supplier = "=cmd|' /C calc'!A0, \"yard\"\r\n"
	b := makeBill(t, shop, Options{})
	out := CSV(b)
	require.Equal(t, bytes.Count(out, []byte("\n")), bytes.Count(out, []byte("\r\n")), "every line ends CR LF (RFC 4180, section 2)")
	rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, "kind", rows[0][0])
	for _, r := range rows {
		require.Len(t, r, len(rows[0]))
		for _, c := range r {
			if c != "" {
				require.NotContains(t, "=+-@\t\r", c[:1])
			}
		}
	}
	require.Equal(t, b.Total.Amount(), rows[len(rows)-1][8])
	_, err = json.Marshal(b)
	require.NoError(t, err)
}

func TestText(t *testing.T) {
	b := makeBill(t, bench(), Options{WithHours: true})
	for _, w := range []int{30, 40, 80} {
		for _, s := range []string{Text(b, w), BuyText(b, w)} {
			for _, l := range strings.Split(s, "\n") {
				require.LessOrEqual(t, len([]rune(l)), w, l)
			}
		}
	}
}

func TestAmounts(t *testing.T) {
	// NIST Handbook 44, appendix C: 1 gallon = 231 cubic inches = 3.785 411 784 L, 1 lb = 453.592 37 g
	for s, want := range map[string]string{"1 l": "1 l", "0.5 gal": "1.89 l", "1 lb": "454 g", "12 fl oz": "355 ml", "10 ft": "3.05 m", "3 sheets": "3 sheets", "250 ml": "250 ml"} {
		a, err := parseAmount(s)
		require.NoError(t, err)
		require.Equal(t, want, a.String())
	}
	for _, s := range []string{"", "ml", "1", "1e9 ml", "1/2 l", "x ml", "1 furlong"} {
		_, err := parseAmount(s)
		require.Error(t, err, s)
	}
}

func FuzzAmount(f *testing.F) {
	for _, s := range []string{"1 l", "0.5 gal", "1e9 ml", "", "-3 g", "12 fl oz"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if a, err := parseAmount(s); err == nil {
			_ = a.String()
		}
	})
}

// Two copies want two knobs at 10.00; one is bought and paid: 10.00 is still to
// pay, 20.00 is planned in all, and a copy costs 10.00, not 5.00.
func TestWhatWasPaidIsInACopy(t *testing.T) {
	shop := bench()
	j := shop.Jobs[0]
	j.Parts, j.GlueUps, j.Consumes, j.Copies = nil, nil, nil, 2
	j.Hardware = []job.Hardware{{Item: "knob", Qty: 1}}
	shop.Prices.Items = []job.Price{{Item: "knob", Pack: 1, Price: usd(1000)}}
	shop.Prices.Tax = ""
	paid := usd(1000)
	j.Log = []job.Entry{{ID: "1", Time: day("2026-03-01"), Did: job.DidBuy, Item: "knob", Qty: 1, Paid: &paid}}
	b := makeBill(t, shop, Options{})
	require.Equal(t, []measure.Money{usd(1000), usd(1000), usd(2000), usd(1000)}, []measure.Money{b.Total, b.Spent, b.Planned, b.PerCopy})
	got, err := Series(context.Background(), shop, 2, Options{Jobs: []string{"bench"}}, cutting.Options{Budget: 2000})
	require.NoError(t, err)
	require.Equal(t, usd(1000), got[1].PerCopy)
}
