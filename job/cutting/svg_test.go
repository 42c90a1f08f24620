package cutting

import (
	"context"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var drawings = flag.String("drawings", "", "folder to write the drawings of the sample shops to")

// wellFormed reads the drawing with the standard library's XML reader and
// looks for what a screen reader needs.
func wellFormed(t *testing.T, svg []byte) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(string(svg)))
	dec.Strict = true
	ids := map[string]int{}
	var title, desc, role bool
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		el, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		title = title || el.Name.Local == "title"
		desc = desc || el.Name.Local == "desc"
		for _, a := range el.Attr {
			if a.Name.Local == "id" {
				ids[a.Value]++
			}
			role = role || a.Name.Local == "role" && a.Value == "img"
			require.NotContains(t, a.Value, "NaN")
		}
	}
	require.True(t, title && desc && role)
	for id, n := range ids {
		require.Equal(t, 1, n, id)
	}
}

func TestSVG(t *testing.T) {
	require.Nil(t, SVG(&Cut{}, 0, SVGOptions{}))
	shop := tableShop()
	shop.Stock[0].ID = `ply <&">`
	for i := range shop.Jobs[0].Parts {
		if shop.Jobs[0].Parts[i].From == "birch-ply-1/2" {
			shop.Jobs[0].Parts[i].From = shop.Stock[0].ID
		}
	}
	c, err := Make(context.Background(), shop, Options{Budget: 100_000})
	require.NoError(t, err)
	rect := regexp.MustCompile(`<rect class="part" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"`)
	for i := range c.Sheets {
		for _, lying := range []bool{false, true} {
			svg := SVG(c, i, SVGOptions{Units: shop.Units.Length, Lying: lying})
			wellFormed(t, svg)
			require.Equal(t, len(c.Sheets[i].Placed), len(rect.FindAll(svg, -1)))
			for _, l := range c.Sheets[i].Cuts {
				require.Contains(t, string(svg), fmt.Sprintf(">%d</text>", l.N))
			}
			// to scale: every part's drawn sides stand to each other as its true ones
			for k, m := range rect.FindAllStringSubmatch(string(svg), -1) {
				var w, h float64
				fmt.Sscan(m[3], &w)
				fmt.Sscan(m[4], &h)
				p := c.Sheets[i].Placed[k]
				if c.Sheets[i].Form == "rod" {
					continue
				}
				if !lying {
					w, h = h, w
				}
				require.InDelta(t, float64(p.L)/float64(p.W), w/h, 0.15*w/h)
			}
			require.Equal(t, string(svg), string(SVG(c, i, SVGOptions{Units: shop.Units.Length, Lying: lying})))
		}
	}
}

func TestDrawings(t *testing.T) {
	if *drawings == "" {
		t.Skip("give -drawings a folder to look at them")
	}
	write := func(name string, c *Cut, o SVGOptions) {
		for i := range c.Sheets {
			require.NoError(t, os.WriteFile(filepath.Join(*drawings, fmt.Sprintf("%s-%d.svg", name, i)), SVG(c, i, o), 0o644))
		}
	}
	shop := tableShop()
	c, err := Make(context.Background(), shop, Options{Budget: 300_000})
	require.NoError(t, err)
	write("table", c, SVGOptions{})
	write("table-lying", c, SVGOptions{Lying: true, Width: 720})
	for seed := range 3 {
		shop := randomShop(rand.New(rand.NewPCG(uint64(seed), 7)))
		c, err := Make(context.Background(), shop, Options{Budget: 30_000})
		require.NoError(t, err)
		write(fmt.Sprint("random", seed), c, SVGOptions{Units: shop.Units.Length})
	}
}

// TestContrast holds the drawing's inks against WCAG 2.2, 1.4.3 (text 4.5:1)
// and 1.4.11 (lines 3:1), on paper and on parts, light and dark.
func TestContrast(t *testing.T) {
	light := func(hex string) float64 {
		var v [3]float64
		for i := range v {
			var n int
			fmt.Sscanf(hex[1+2*i:3+2*i], "%x", &n)
			c := float64(n) / 255
			if c <= 0.04045 {
				v[i] = c / 12.92
			} else {
				v[i] = math.Pow((c+0.055)/1.055, 2.4)
			}
		}
		return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
	}
	ratio := func(a, b string) float64 {
		x, y := light(a), light(b)
		return (max(x, y) + 0.05) / (min(x, y) + 0.05)
	}
	require.InDelta(t, 4.542, ratio("#767676", "#ffffff"), 0.001) // a known pair
	themes := 0
	for _, block := range strings.Split(SVGStyle, ".cut-sheet{")[1:] {
		col := map[string]string{}
		for _, m := range regexp.MustCompile(`--(\w):(?:var\(--cut-\w+,)?(#[0-9a-f]{6})`).FindAllStringSubmatch(strings.SplitN(block, "}", 2)[0], -1) {
			col[m[1]] = m[2]
		}
		themes++
		for _, ground := range []string{"p", "q"} {
			for _, ink := range []string{"i", "s", "a"} {
				require.GreaterOrEqual(t, ratio(col[ink], col[ground]), 4.5, "theme %d: %s on %s", themes, ink, ground)
			}
		}
	}
	require.Equal(t, 3, themes)
}
