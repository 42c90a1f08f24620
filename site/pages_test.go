package site

import (
	"cmp"
	"encoding/json"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
	"caul/job/proof"
	"caul/job/wood"
)

// The build as data says what the page says, by the names schema.org has for
// it: HowTo, step (HowToStep: position, name, text, url), supply (HowToSupply),
// tool (HowToTool), performTime (a duration of ISO 8601). Names from memory of
// schema.org/HowTo.
func TestHowToData(t *testing.T) {
	in := demoInput(t)
	s := render(t, in)
	for _, j := range in.Shop.Jobs {
		page := string(s.Pages["jobs/"+j.ID+"/index.html"])
		_, data, ok := strings.Cut(page, `<script type="application/ld+json">`)
		require.True(t, ok)
		data, _, _ = strings.Cut(data, "</script>")
		type named struct {
			Type string `json:"@type"`
			Name string `json:"name"`
		}
		var h struct {
			Context     string  `json:"@context"`
			Type        string  `json:"@type"`
			Name        string  `json:"name"`
			Description string  `json:"description"`
			PerformTime string  `json:"performTime"`
			Supply      []named `json:"supply"`
			Tool        []named `json:"tool"`
			Step        []struct {
				named
				Position int    `json:"position"`
				URL      string `json:"url"`
				Text     string `json:"text"`
			} `json:"step"`
		}
		require.NoError(t, json.Unmarshal([]byte(data), &h))
		require.Equal(t, []string{"https://schema.org", "HowTo", j.Name, j.For}, []string{h.Context, h.Type, h.Name, h.Description})
		minutes := measure.Span(0)
		require.Len(t, h.Step, len(j.Steps))
		for i, st := range j.Steps {
			minutes += st.Takes
			x := h.Step[i]
			require.Equal(t, []any{"HowToStep", i + 1, cmp.Or(st.Name, st.ID)}, []any{x.Type, x.Position, x.Name})
			_, id, _ := strings.Cut(x.URL, "#")
			require.Contains(t, page, ` id="`+id+`"`)
			require.NotContains(t, x.Text, "<")
			if st.SetUp != "" {
				require.Contains(t, x.Text, "Set-up: "+st.SetUp)
			}
		}
		require.Equal(t, fmt.Sprintf("PT%dM", minutes/measure.Minute), h.PerformTime)
		supplies := ""
		for _, x := range h.Supply {
			require.Equal(t, "HowToSupply", x.Type)
			supplies += x.Name + "\n"
		}
		for _, x := range j.Hardware {
			require.Contains(t, supplies, fmt.Sprintf("%d %s\n", x.Qty*max(1, j.Copies), x.Item))
		}
		require.NotEmpty(t, h.Tool)
	}
	// What build.md has for a step is its text.
	require.Contains(t, string(s.Pages["jobs/torsion-table/index.html"]), `trim the factory edges`)
	_, data, _ := strings.Cut(string(s.Pages["jobs/torsion-table/index.html"]), `ld+json">`)
	require.Contains(t, data, "Cut skins and ribs. The skins come from one sheet, the grain the same way, so that both move alike. trim the factory edges")
}

// A chart shows every reading at its height: between the marks of its limits
// heights and values are in proportion. What is true is a dot within the band,
// what is not a cross outside.
func TestChartIsInProportion(t *testing.T) {
	in := demoInput(t)
	j := in.Shop.Job("shooting-board")
	c := j.Check("edge")
	require.NotNil(t, c)
	// one that is out, so that there is a cross
	bad := c.AtMost.Length * 2
	for i := range j.Log {
		if e := &j.Log[i]; e.Check == "edge" && e.Did == job.DidRead {
			e.Value.Length = bad
			break
		}
	}
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	for _, s := range proof.Readings(in.Shop, j, noon) {
		if s.Check != "edge" {
			continue
		}
		svg := string((&renderer{in: in}).chart(j, c, s))
		limit := regexp.MustCompile(`class="limit" d="M[0-9.]+ ([0-9.]+)H`).FindStringSubmatch(svg)
		zero := regexp.MustCompile(`class="rule" d="M[0-9.]+ ([0-9.]+)H`).FindStringSubmatch(svg)
		require.Len(t, limit, 2)
		require.Len(t, zero, 2)
		y0, y1 := num(zero[1]), num(limit[1])
		require.Less(t, y1, y0, "more is higher")
		dots := regexp.MustCompile(`class="true" cx="([0-9.]+)" cy="([0-9.]+)"`).FindAllStringSubmatch(svg, -1)
		crosses := regexp.MustCompile(`class="out" d="M([0-9.]+) ([0-9.]+)l9 9m0 -9l-9 9"`).FindAllStringSubmatch(svg, -1)
		require.Len(t, crosses, 1)
		require.Len(t, dots, len(s.Readings)-1)
		var got, want []float64
		for _, d := range dots {
			got = append(got, num(d[2]))
			require.GreaterOrEqual(t, num(d[2]), y1)
		}
		got = append(got, num(crosses[0][2])+4.5)
		require.Less(t, got[len(got)-1], y1)
		for _, r := range s.Readings {
			want = append(want, y0-(y0-y1)*float64(r.Value)/float64(c.AtMost.Length))
		}
		slices.Sort(got)
		slices.Sort(want)
		for i := range want {
			require.InDelta(t, want[i], got[i], 0.2, "coordinates are to a tenth")
		}
		require.Contains(t, svg, "<title id=")
		require.Contains(t, svg, fmt.Sprintf("%d readings", len(s.Readings)))
		return
	}
	t.Fatal("no series")
}

// Every glue, wood, clamp force and kerf the program knows stands on the page
// of figures, every number of the table of woods has its source, and each source
// is written out.
func TestEveryFigureHasItsSource(t *testing.T) {
	page := html.UnescapeString(string(render(t, demoInput(t)).Pages["figures.html"]))
	for _, k := range glue.Kinds() {
		require.Contains(t, page, "<h3>"+k.Name+"</h3>")
		for _, src := range []measure.Source{k.Open.Source, k.Clamp.Source, k.Machine.Source} {
			require.Contains(t, page, src.String())
		}
	}
	for _, w := range wood.All() {
		require.Contains(t, page, `<th scope="row">`+w.CommonName()+`</th>`)
	}
	_, table, _ := strings.Cut(page, `aria-label="wood"`)
	table, _, _ = strings.Cut(table, "</table>")
	numbers := 0
	for _, m := range regexp.MustCompile(`<td class="n">(.*?)</td>`).FindAllStringSubmatch(table, -1) {
		if strings.ContainsAny(strings.Split(m[1], "<sup>")[0], "0123456789") {
			numbers++
			require.Regexp(t, `^[0-9./ –]+<sup><a href="#s[0-9]+" aria-label="source [0-9]+">[0-9]+</a></sup>$`, m[1])
		}
	}
	require.Greater(t, numbers, 200)
	for _, m := range regexp.MustCompile(`(?s)<li id="s[0-9]+">(.*?)</li>`).FindAllStringSubmatch(page, -1) {
		require.NotEmpty(t, strings.TrimSpace(m[1]))
	}
}

// The sheet for the wall names by number the cautions of each step, no more
// and no fewer, and writes each out once.
func TestWallSheetCautions(t *testing.T) {
	in := demoInput(t)
	s := render(t, in)
	for _, j := range in.Shop.Jobs {
		page := html.UnescapeString(string(s.Pages["jobs/"+j.ID+"/sheet.html"]))
		_, list, _ := strings.Cut(page, `id="beware"`)
		var all []string
		for _, m := range regexp.MustCompile(`<li>(.*?)</li>`).FindAllStringSubmatch(list, -1) {
			require.NotContains(t, all, m[1])
			all = append(all, m[1])
		}
		_, steps, _ := strings.Cut(page, `<ol class="wallsteps">`)
		items := strings.Split(steps, "<li><p><span class=\"sq\"")[1:]
		require.Len(t, items, len(j.Steps))
		for i, st := range j.Steps {
			require.Contains(t, items[i], cmp.Or(st.Name, st.ID))
			var named []string
			if m := regexp.MustCompile(`>beware ([0-9, ]+)<`).FindStringSubmatch(items[i]); m != nil {
				for _, n := range strings.Split(m[1], ", ") {
					k, err := strconv.Atoi(n)
					require.NoError(t, err)
					named = append(named, all[k-1])
				}
			}
			require.ElementsMatch(t, proof.StepCautions(in.Shop, j, st.ID), named, st.ID)
		}
		for _, p := range j.Parts {
			require.Contains(t, page, fmt.Sprintf("%d × %s</strong>", p.Qty*max(1, j.Copies), cmp.Or(p.Name, p.ID)))
		}
	}
}

// A value changed on two machines stands on its page with what was before, who
// wrote which and when, and the commands that settle it.
func TestBothWaysPage(t *testing.T) {
	page := html.UnescapeString(string(render(t, demoInput(t)).Pages["both-ways.html"]))
	for _, want := range []string{"takes of <cut>", "35 min", "40 min", "before: 30 min", "by home, Sat 14 Mar, 09:00", "by shop", "caul both-ways keep 1", "caul both-ways take 1"} {
		require.Contains(t, page, want)
	}
}
