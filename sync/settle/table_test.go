package settle

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The table of two-sided changes: base, the older side (home), the newer side
// (shop), and the bytes expected. records are written as
// `kind what: stands | other`, with what is gone as <gone>.
type twoSided struct {
	name               string
	path               string
	base, home, shop   string
	want               string
	records            []string
	second             string // bytes of a second file
	addedBoth, deleted bool   // no base; home deleted the file
}

var (
	homeTime = time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	shopTime = time.Date(2026, 3, 14, 19, 5, 0, 0, time.UTC)
	atHome   = Side{Machine: "home", When: homeTime}
	atShop   = Side{Machine: "shop", When: shopTime}
)

func some(s string) File { return File{true, []byte(s)} }

func show(v Value) string {
	if !v.Exists {
		return "<gone>"
	}
	return string(v.Data)
}

func runTable(t *testing.T, table []twoSided) {
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			base, home, shop := some(c.base), some(c.home), some(c.shop)
			if c.addedBoth {
				base = File{}
			}
			if c.deleted {
				home = File{}
			}
			out := Settle(c.path, base, home, shop, atHome, atShop, Options{})
			back := Settle(c.path, base, shop, home, atShop, atHome, Options{})
			require.Equal(t, out, back, "the two machines get different results")
			require.Equal(t, c.path, out.Files[0].Path)
			require.Equal(t, c.want, string(out.Files[0].Data))
			var got []string
			for _, r := range out.BothWays {
				got = append(got, fmt.Sprintf("%s %s: %s | %s", r.Kind, r.What, show(r.Stands), show(r.Other)))
				again, err := ParseRecord(r.Name(), r.Marshal())
				require.NoError(t, err)
				require.Equal(t, r, again)
			}
			require.Equal(t, c.records, got)
			if c.second != "" {
				require.Len(t, out.Files, 2)
				require.Equal(t, SecondName(c.path, []byte(c.second)), out.Files[1].Path)
				require.Equal(t, c.second, string(out.Files[1].Data))
			} else {
				require.Len(t, out.Files, 1)
			}
			require.Equal(t, len(out.BothWays) > 0 || c.second != "", len(out.Notes) > 0, "notes: %v", out.Notes)
			for _, mark := range []string{"<<<<<<<", ">>>>>>>", "======="} {
				require.NotContains(t, string(out.Files[0].Data), mark)
			}
			// settled once more, with either side, nothing moves
			res := some(string(out.Files[0].Data))
			later := Side{Machine: "shop", When: shopTime.Add(time.Hour)}
			require.Equal(t, res.Data, Settle(c.path, home, home, res, atHome, later, Options{}).Files[0].Data)
			require.Equal(t, res.Data, Settle(c.path, res, res, res, later, later, Options{}).Files[0].Data)
			// every record can be taken: the other in, and the first back
			for _, r := range out.BothWays {
				if strings.HasPrefix(r.What, "comment in") || r.What == "whole file" && !r.Other.Exists {
					continue
				}
				took, err := Take(r, TakeOther, res)
				require.NoError(t, err, "take the other of %s", r.What)
				require.NotEqual(t, string(res.Data), string(took.Data))
				backed, err := Take(r, TakeStands, took)
				require.NoError(t, err, "take back %s in\n%s", r.What, took.Data)
				if r.Other.Exists {
					require.Equal(t, string(res.Data), string(backed.Data))
				}
			}
		})
	}
}
