package cutting

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/measure"
)

func dim(l measure.Length) job.Dim { return job.Dim{Length: l, Set: true, Exact: true} }

func size(l, w, t measure.Length) [3]job.Dim { return [3]job.Dim{dim(l), dim(w), dim(t)} }

func in(whole, num, den int64) measure.Length { return measure.Frac(whole, num, den) }

const inch = measure.Inch

func day(n int) time.Time { return time.Date(2026, 3, 1+n, 19, 0, 0, 0, time.UTC) }

func usd(minor int64) measure.Money { return measure.Money{Minor: minor, Code: "USD"} }

// tableShop is a torsion-box table and the stock for it.
func tableShop() *job.Shop {
	return &job.Shop{
		Units:    job.Units{Money: "USD"},
		Machines: []job.Machine{{ID: "saw", Kind: "table-saw"}},
		Blades:   []job.Blade{{ID: "combination", Machine: "saw", Kerf: dim(inch / 8)}},
		Stock: []job.Stock{
			{ID: "birch-ply-1/2", Form: "sheet", Size: size(96*inch, 48*inch, inch/2), Grain: true, Trim: dim(inch / 4), Price: "birch-ply-1/2",
				OnHand: []job.Piece{{ID: "off-1", Size: size(30*inch, 20*inch, inch/2), Qty: 1, Offcut: true, Where: "rack"}}},
			{ID: "maple-4/4", Form: "board", Species: "maple", Size: size(96*inch, 6*inch, inch), Price: "maple-4/4",
				OnHand: []job.Piece{{ID: "b1", Size: size(70*inch, in(7, 1, 4), inch), Qty: 1,
					Defects: [][4]job.Dim{{dim(30 * inch), dim(2 * inch), dim(3 * inch), dim(inch)}}}}},
			{ID: "dowel-3/8", Form: "rod", Size: size(36*inch, in(0, 3, 8), in(0, 3, 8)), Price: "dowel-3/8"},
		},
		Prices: job.Prices{Items: []job.Price{
			{Item: "birch-ply-1/2", Pack: 1, Price: usd(6450)},
			{Item: "maple-4/4", Pack: 1, Price: usd(3100)},
			{Item: "dowel-3/8", Pack: 4, Price: usd(601)},
		}},
		Jobs: []*job.Job{{ID: "table", Copies: 1, Parts: []job.Part{
			{ID: "skin", Qty: 2, Size: size(46*inch, 23*inch, inch/2), From: "birch-ply-1/2", SameSheet: "skins", Oversize: dim(inch / 8)},
			{ID: "rib", Qty: 5, Size: size(46*inch, in(3, 1, 2), inch/2), From: "birch-ply-1/2"},
			{ID: "cross", Qty: 6, Size: size(in(7, 1, 2), in(3, 1, 2), inch/2), From: "birch-ply-1/2", Turn: true},
			{ID: "edge", Qty: 4, Size: size(24*inch, in(2, 1, 2), in(0, 3, 4)), From: "maple-4/4", FitToMeasure: true},
			{ID: "peg", Qty: 9, Size: size(5*inch, in(0, 3, 8), in(0, 3, 8)), From: "dowel-3/8"},
		}}},
	}
}

func TestTable(t *testing.T) {
	shop := tableShop()
	c, err := Make(context.Background(), shop, Options{Budget: 200_000})
	require.NoError(t, err)
	require.NoError(t, checkCut(shop, c, Options{}))
	require.Empty(t, c.Unfit)
	t.Log("\n" + Text(c, 80, shop.Units.Length))
	// 9 pegs of 5 in with 1/8 in kerfs: seven from 36 in (7*5 + 6/8 = 35-3/4), so two lengths, one pack of 4 at 6.01, a piece 1.51
	rods := 0
	for _, s := range c.Sheets {
		if s.Stock == "dowel-3/8" {
			rods++
		}
	}
	require.Equal(t, 2, rods)
	for _, b := range c.Buy {
		if b.Stock == "dowel-3/8" {
			require.Equal(t, usd(151), b.Each)
		}
	}
	again, err := Make(context.Background(), shop, Options{Budget: 200_000})
	require.NoError(t, err)
	require.Equal(t, Text(c, 60, shop.Units.Length), Text(again, 60, shop.Units.Length))
}

func TestLog(t *testing.T) {
	shop := tableShop()
	j := shop.Jobs[0]
	j.Steps = []job.Step{{ID: "core", GlueUp: &job.GlueUp{ID: "core", Joins: []string{"skin", "rib"}}}, {ID: "trim"}}
	j.Log = []job.Entry{
		{ID: "1", Did: job.DidCut, Item: "cross", Qty: 4},
		{ID: "2", Did: job.DidCut, Item: "cross", Qty: 2},
		{ID: "3", Did: job.DidUndo, Entry: "2"},
		{ID: "4", Did: job.DidSpoil, Item: "cross", Qty: 1},
		{ID: "5", Did: job.DidClamp, Step: "core"},
	}
	c, err := Make(context.Background(), shop, Options{Budget: 50_000})
	require.NoError(t, err)
	require.NoError(t, checkCut(shop, c, Options{}))
	require.Equal(t, []Already{{"table", "skin", 2, "core has been clamped"}, {"table", "rib", 5, "core has been clamped"}, {"table", "cross", 3, "logged as cut"}}, c.Already)
	// a finished job has nothing to cut
	j.Log = append(j.Log, job.Entry{ID: "6", Did: job.DidFinish, Step: "core"}, job.Entry{ID: "7", Did: job.DidFinish, Step: "trim"})
	c, err = Make(context.Background(), shop, Options{})
	require.NoError(t, err)
	require.Equal(t, "nothing left to cut", c.Answer)
}

func TestPanel(t *testing.T) {
	shop := tableShop()
	shop.Jobs[0].Parts = []job.Part{{ID: "top", Qty: 1, Size: size(30*inch, 14*inch, in(0, 3, 4)), From: "maple-4/4"}}
	c, err := Make(context.Background(), shop, Options{Budget: 50_000})
	require.NoError(t, err)
	require.NoError(t, checkCut(shop, c, Options{}))
	require.Len(t, c.Panels, 1)
	// widest board 7-1/4, 1/4 for milling: 7 in; 14 + 1/4 to trim needs 3 strips of 4-3/4
	require.Equal(t, 3, c.Panels[0].Strips)
	require.Equal(t, in(4, 3, 4), c.Panels[0].Strip)
	t.Log("\n" + Text(c, 72, shop.Units.Length))
}

func TestUnfit(t *testing.T) {
	shop := tableShop()
	shop.Jobs[0].Parts = []job.Part{
		{ID: "long", Qty: 1, Size: size(100*inch, 4*inch, inch/2), From: "birch-ply-1/2"},
		{ID: "thick", Qty: 1, Size: size(10*inch, 4*inch, 2*inch), From: "maple-4/4"},
		{ID: "odd", Qty: 1, Size: size(10*inch, 4*inch, inch), From: "oak"},
		{ID: "big-a", Qty: 5, Size: size(48*inch, 30*inch, inch/2), From: "birch-ply-1/2", SameSheet: "g"},
	}
	c, err := Make(context.Background(), shop, Options{Budget: 50_000})
	require.NoError(t, err)
	var why []string
	for _, u := range c.Unfit {
		why = append(why, u.Part+": "+u.Why)
		require.NotEmpty(t, u.Hint)
	}
	require.Len(t, c.Unfit, 4, why)
	_, err = Make(context.Background(), shop, Options{Jobs: []string{"chair"}})
	require.ErrorContains(t, err, "chair")
	_, err = Make(context.Background(), shop, Options{Blade: "none"})
	require.ErrorContains(t, err, "none")
}

// randomShop makes a shop and a cut list from a seed.
func randomShop(r *rand.Rand) *job.Shop {
	u := inch / 16
	if r.IntN(3) == 0 {
		u = measure.MM
	}
	sys := measure.Inches
	if u == measure.MM {
		sys = measure.Metric
	}
	pick := func(lo, hi int) measure.Length {
		return measure.Length(lo+r.IntN(hi-lo+1)) * u
	}
	s := &job.Shop{Units: job.Units{Money: "USD", Length: measure.Units{System: sys}}}
	for i, f := range []string{"sheet", "sheet", "board", "rod"} {
		st := job.Stock{ID: fmt.Sprint(f, i), Form: f, Grain: f == "board" || r.IntN(2) == 0, Surfaced: r.IntN(2) == 0}
		if r.IntN(2) == 0 {
			st.Trim = dim(pick(2, 8))
		}
		switch f {
		case "sheet":
			st.Size = size(pick(700, 1536), pick(500, 768), 8*u)
		case "board":
			st.Size = size(pick(700, 1536), pick(70, 160), 16*u)
		case "rod":
			st.Size = size(pick(500, 1000), 8*u, 8*u)
		}
		for k := range r.IntN(4) {
			p := job.Piece{ID: fmt.Sprint("p", k), Qty: 1 + r.IntN(2), Offcut: r.IntN(2) == 0, Size: size(pick(200, 700), pick(60, 300), st.Size[2].Length)}
			if f == "rod" {
				p.Size[1] = st.Size[1]
			}
			if r.IntN(3) == 0 && f != "rod" {
				p.Defects = append(p.Defects, [4]job.Dim{dim(pick(20, 150)), dim(pick(0, 50)), dim(pick(1, 40)), dim(pick(1, 30))})
			}
			st.OnHand = append(st.OnHand, p)
		}
		s.Stock = append(s.Stock, st)
		s.Prices.Items = append(s.Prices.Items, job.Price{Item: st.ID, Pack: 1, Price: usd(int64(500 + r.IntN(9000)))})
	}
	if r.IntN(2) == 0 { // the two sheets are one thing in two sizes
		s.Stock[0].Also, s.Stock[1].Grain, s.Stock[1].Trim = []string{"sheet1"}, s.Stock[0].Grain, s.Stock[0].Trim
	}
	for jn := range 1 + r.IntN(2) {
		j := &job.Job{ID: fmt.Sprint("job", jn), Copies: 1 + r.IntN(2)}
		for k := range 1 + r.IntN(8) {
			st := &s.Stock[r.IntN(len(s.Stock))]
			p := job.Part{ID: fmt.Sprint("part", k), Qty: 1 + r.IntN(6), From: st.ID, Turn: r.IntN(3) == 0}
			switch st.Form {
			case "sheet":
				p.Size = size(pick(40, 500), pick(30, 400), st.Size[2].Length)
			case "board":
				p.Size = size(pick(100, 500), pick(20, 200), 12*u)
			case "rod":
				p.Size = size(pick(40, 400), st.Size[1].Length, st.Size[1].Length)
			}
			if r.IntN(4) == 0 {
				p.SameSheet = fmt.Sprint("g", r.IntN(2), st.ID)
			}
			if r.IntN(4) == 0 {
				p.Oversize = dim(pick(1, 4))
			}
			j.Parts = append(j.Parts, p)
		}
		s.Jobs = append(s.Jobs, j)
	}
	return s
}

var shops = flag.Int("shops", 80, "random shops to lay out and check")

func TestRandom(t *testing.T) {
	n := *shops
	if testing.Short() {
		n = 30
	}
	for seed := range n {
		shop := randomShop(rand.New(rand.NewPCG(uint64(seed), 7)))
		c, err := Make(context.Background(), shop, Options{Budget: 3_000})
		require.NoError(t, err, seed)
		for i := range c.Unfit { // whole panels are counted as strips there
			for _, p := range c.Panels {
				if p.Part == c.Unfit[i].Part && p.Job == c.Unfit[i].Job {
					t.Logf("seed %d: %+v unfit, panels %+v", seed, c.Unfit[i], c.Panels)
				}
			}
		}
		require.NoError(t, checkCut(shop, c, Options{}), "seed %d", seed)
		for _, w := range []int{40, 80} {
			for _, line := range strings.Split(Text(c, w, shop.Units.Length), "\n") {
				require.LessOrEqual(t, len([]rune(line)), w, "seed %d: %q", seed, line)
			}
		}
	}
}

// TestSettings says how well the order keeps to one setting a size: over the
// random shops, settings against the number of different ones.
func TestSettings(t *testing.T) {
	made, different, cuts := 0, 0, 0
	for seed := range 60 {
		shop := randomShop(rand.New(rand.NewPCG(uint64(seed), 7)))
		c, err := Make(context.Background(), shop, Options{Budget: 3_000})
		require.NoError(t, err)
		kinds := map[string]bool{}
		for _, s := range c.Order {
			kinds[fmt.Sprint(s.Kind, s.Fence, c.Sheets[s.Sheet].Form)] = true
		}
		made, different, cuts = made+c.Settings, different+len(kinds), cuts+len(c.Order)
	}
	t.Logf("%d cuts, %d settings, %d different ones", cuts, made, different)
	require.LessOrEqual(t, made, different*11/10)
}

// TestOddLengths takes sizes that no common unit makes small: a part a third
// of an inch, on stock of eight metres.
func TestOddLengths(t *testing.T) {
	third := 20*inch + inch/3 // 10,160,000 does not divide by 3: a length rounded to 1/400000 mm
	require.NotZero(t, inch%3)
	shop := tableShop()
	shop.Stock = []job.Stock{{ID: "long", Form: "sheet", Grain: true, Size: size(8000*measure.MM, 1250*measure.MM, 12*measure.MM)}}
	shop.Jobs[0].Parts = []job.Part{
		{ID: "a", Qty: 7, Size: size(third, third-1, inch/2), From: "long"},
		{ID: "b", Qty: 3, Size: size(third+1, 7*inch+1, inch/2), From: "long", Turn: true},
	}
	c, err := Make(context.Background(), shop, Options{Budget: 20_000})
	require.NoError(t, err)
	require.Empty(t, c.Unfit)
	require.Greater(t, c.Results[0].Unit, measure.Length(1))
	require.Contains(t, strings.Join(c.Warn, "\n"), "no mark of any rule")
	// the parts are never smaller, and larger by less than 0.0001 mm
	for i := range shop.Jobs[0].Parts {
		for k := range 2 {
			d := &shop.Jobs[0].Parts[i].Size[k]
			u := c.Results[0].Unit
			require.Less(t, u, measure.MM/10000)
			d.Length = (d.Length + u - 1) / u * u
		}
	}
	require.NoError(t, checkCut(shop, c, Options{}))
}

// TestSizes: the same thing in two sizes; the cheaper that suffices is taken.
func TestSizes(t *testing.T) {
	shop := tableShop()
	shop.Stock = []job.Stock{
		{ID: "ply", Form: "sheet", Grain: true, Size: size(96*inch, 48*inch, inch/2), Also: []string{"ply-half", "ply-thick"}},
		{ID: "ply-half", Form: "sheet", Grain: true, Size: size(48*inch, 48*inch, inch/2)},
		{ID: "ply-thick", Form: "sheet", Grain: true, Size: size(48*inch, 48*inch, inch)},
	}
	shop.Prices.Items = []job.Price{{Item: "ply", Pack: 1, Price: usd(6000)}, {Item: "ply-half", Pack: 1, Price: usd(3500)}, {Item: "ply-thick", Pack: 1, Price: usd(1)}}
	shop.Jobs[0].Parts = []job.Part{{ID: "a", Qty: 1, Size: size(40*inch, 20*inch, inch/2), From: "ply"}}
	c, err := Make(context.Background(), shop, Options{Budget: 20_000})
	require.NoError(t, err)
	require.NoError(t, checkCut(shop, c, Options{}))
	require.Equal(t, []Buy{{Stock: "ply-half", Item: "ply-half", Qty: 1, Each: usd(3500), Cost: usd(3500), Price: true}}, c.Buy)
	require.Contains(t, strings.Join(c.Warn, "\n"), "ply-thick cannot stand in for ply")
	// three of 40 x 20 need more than one half sheet: one whole sheet is cheaper than two halves
	shop.Jobs[0].Parts[0].Qty = 3
	c, err = Make(context.Background(), shop, Options{Budget: 20_000})
	require.NoError(t, err)
	require.Equal(t, "ply", c.Buy[0].Stock)
	require.Equal(t, usd(6000), c.Cost)
}

// TestKerf: n parts along a length need n - 1 kerfs where the last cut leaves
// a part (counted by hand: 4 x 9 + 3 x 1/8 = 36-3/8).
func TestKerf(t *testing.T) {
	for _, c := range []struct {
		length measure.Length
		rods   int
	}{{in(36, 3, 8), 1}, {in(36, 3, 8) - 1, 2}} {
		shop := tableShop()
		shop.Stock = []job.Stock{{ID: "rod", Form: "rod", Size: size(c.length, inch/4, inch/4)}}
		shop.Jobs[0].Parts = []job.Part{{ID: "p", Qty: 4, Size: size(9*inch, inch/4, inch/4), From: "rod"}}
		got, err := Make(context.Background(), shop, Options{Budget: 5_000})
		require.NoError(t, err)
		require.NoError(t, checkCut(shop, got, Options{}))
		require.Len(t, got.Sheets, c.rods)
	}
}

// BenchmarkMake is the translation, the order of cuts and a short search.
func BenchmarkMake(b *testing.B) {
	for _, n := range []int{5, 40, 160, 640} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			r := rand.New(rand.NewPCG(uint64(n), 5))
			shop := tableShop()
			shop.Jobs[0].Parts = nil
			for i := 0; i < n; {
				q := min(1+r.IntN(6), n-i)
				i += q
				shop.Jobs[0].Parts = append(shop.Jobs[0].Parts, job.Part{ID: fmt.Sprint("p", i), Qty: q, Turn: r.IntN(2) == 0, From: "birch-ply-1/2",
					Size: size(measure.Length(2+r.IntN(40))*inch, measure.Length(2+r.IntN(20))*inch, inch/2)})
			}
			for b.Loop() {
				if _, err := Make(context.Background(), shop, Options{Budget: 1000}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// No line ends between a number and its unit, however narrow the page.
func TestNumberStaysWithUnit(t *testing.T) {
	for width := 30; width <= 90; width++ {
		w := &writer{width: width}
		w.line(0, "sheet 2: birch-ply-1/4 offcut, 22 in x 16 in (on hand, left rack), 9 % used, at 52.00 USD, 18 mm thick")
		for _, l := range strings.Split(w.b.String(), "\n") {
			require.False(t, strings.HasPrefix(strings.TrimSpace(l), "% "), "%d: %q", width, l)
			for _, end := range []string{" 9", " 9 %", "52.00", "22", "16", "18"} {
				require.False(t, strings.HasSuffix(l, end), "%d: %q", width, l)
			}
		}
		require.NotContains(t, w.b.String(), tie)
	}
}
