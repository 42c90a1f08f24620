package cutting

import (
	"context"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"caul/job"
)

const shopYAML = `name: Test shop
units: {length: in, money: USD}
machines:
  - {id: saw, name: table saw, kind: table-saw}
hours: {sat: "9:00-12:00"}
blades:
  - {id: flat, machine: saw, kerf: 1/8}
`

const stockYAML = `# the rack by the door
stock:
  - id: ply
    form: sheet
    size: 48 x 24 x 1/2
    grain: true   # face veneer
    on-hand:
      - {size: 20 x 10, offcut: true}          # from the cart
      - {id: whole, size: 48 x 24, qty: 2}     # bought in spring
  - id: maple
    form: board
    size: 96 x 6 x 1
`

const jobYAML = `name: Box
parts:
  - {id: side, qty: 2, size: 18 x 8 x 1/2, from: ply}
  - {id: lid, size: 30 x 20 x 1/2, from: ply}
  - {id: panel, size: 20 x 9 x 3/4, from: maple}
`

func load(t *testing.T, files map[string]string) *job.Shop {
	t.Helper()
	fs := fstest.MapFS{}
	for name, text := range files {
		fs[name] = &fstest.MapFile{Data: []byte(text)}
	}
	shop, err := job.LoadFS(fs, "/shop")
	require.NoError(t, err)
	return shop
}

// TestApply walks a layout through the shop's files: cut, written down, and
// nothing is left; a part spoiled, and it is laid out again from what is left.
func TestApply(t *testing.T) {
	files := map[string]string{"shop.yaml": shopYAML, "stock.yaml": stockYAML, "jobs/box/job.yaml": jobYAML}
	shop := load(t, files)
	c, err := Make(context.Background(), shop, Options{Budget: 20_000})
	require.NoError(t, err)
	require.NoError(t, checkCut(shop, c, Options{}))
	a, err := Apply([]byte(stockYAML), shop, c, "rack, it's new")
	require.NoError(t, err)
	require.Contains(t, string(a.Stock), "# the rack by the door")
	require.Contains(t, string(a.Stock), "# face veneer")
	require.Contains(t, string(a.Stock), "where: 'rack, it''s new'")
	require.NotEmpty(t, a.Kept)
	files["stock.yaml"] = string(a.Stock)
	for i, l := range a.Log {
		l.Entry.Time = day(i)
		files["jobs/"+l.Job+"/log/"+job.EntryName(l.Entry, "bench")+".md"] = string(job.FormatEntry(l.Entry))
	}
	shop2 := load(t, files)
	// what was on the shelf and what is there now add up: every kept offcut, nothing cut up
	left := map[string]int{}
	for _, p := range shop2.StockByID("ply").OnHand {
		left[p.ID] += p.Qty
	}
	for _, p := range shop.StockByID("ply").OnHand {
		used := 0
		for _, s := range c.Sheets {
			if s.Piece == p.ID {
				used++
			}
		}
		if p.ID == "whole" {
			require.Equal(t, p.Qty-used, left[p.ID])
		}
	}
	for _, s := range c.Sheets {
		for _, o := range s.Offcuts {
			if !o.Keep {
				continue
			}
			found := false
			for _, p := range shop2.StockByID(s.Stock).OnHand {
				found = found || p.Offcut && p.Size[0].Length == o.L && p.Size[1].Length == o.W
			}
			require.True(t, found, "%s %v x %v", s.Name, o.L, o.W)
		}
	}
	c2, err := Make(context.Background(), shop2, Options{Budget: 20_000})
	require.NoError(t, err)
	require.Equal(t, "nothing left to cut", c2.Answer, "%+v", c2.Sheets)

	spoil := job.Entry{Did: job.DidSpoil, Item: "side", Qty: 1, Time: day(9)}
	files["jobs/box/log/"+job.EntryName(spoil, "bench")+".md"] = string(job.FormatEntry(spoil))
	shop3 := load(t, files)
	c3, err := Make(context.Background(), shop3, Options{Budget: 20_000})
	require.NoError(t, err)
	require.NoError(t, checkCut(shop3, c3, Options{}))
	require.Len(t, c3.Sheets, 1)
	require.Empty(t, c3.Buy)
	require.Len(t, c3.Sheets[0].Placed, 1)

	_, err = Apply([]byte(stockYAML), shop, c, "", 99)
	require.ErrorContains(t, err, "no sheet 100")
	_, err = Apply([]byte(strings.ReplaceAll(stockYAML, "id: ply", "id: plywood")), shop, c, "")
	require.Error(t, err)
}
