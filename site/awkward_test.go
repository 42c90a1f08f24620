package site

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/proof"
)

// oddInput is a shop that is hard to draw: metric, long names, a long job with
// much to look at and no price, one with nothing in it.
func oddInput(t testing.TB) Input {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "odd")
	require.NoError(t, job.NewShop(dir, "Werkstatt im Hinterhof der alten Schraubenfabrik Nummer siebenundzwanzig", job.NewShopOptions{Units: "mm", Money: "EUR"}))
	require.NoError(t, job.NewJob(dir, "bare", "Bare"))
	require.NoError(t, job.NewJob(dir, "big", "Big"))
	var b strings.Builder
	b.WriteString("name: Frässchablonenaufbewahrungsundeinstellvorrichtung mit verschiebbarem Anschlag\ncopies: 3\nparts:\n")
	for i := range 60 {
		name := []string{"Seitenwand links unten mit Griffmulde und Nut für die Rückwandführung", "rail", "Donaudampfschifffahrtsgesellschaftskapitänsmützenhalter"}[i%3]
		fmt.Fprintf(&b, "  - {id: p%d, name: '%s %d', qty: %d, size: %d x %d x 12, from: birch-ply-12", i, name, i, 1+i%4, 100+4*i, 60+11*(i%7))
		if i%4 == 0 {
			fmt.Fprintf(&b, ", machining: [{groove: {cutter: straight-6, depth: 4, along: length, at: 15 from near-edge}}, {holes: {id: h, through: 5, at: [[20, 20]]}}]")
		}
		b.WriteString("}\n")
	}
	b.WriteString("hardware: [{item: Schlüsselschraube-mit-Sechskantkopf-DIN-571-verzinkt-8x80, qty: 400}]\nsteps:\n")
	for i := range 40 {
		fmt.Fprintf(&b, "  - {id: s%d, name: '%s %d', takes: 10 min, setup: 'table saw, fence %d'}\n", i, []string{"Alle Seitenwände auf Länge bringen, dann die Kanten der Griffmulden brechen", "rip"}[i%2], i, 50+i)
	}
	b.WriteString("checks: [{id: flat, measure: 'Spalt unter dem Haarlineal an allen vier Ecken und in der Mitte', at-most: 0.05}]\n")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "jobs", "big", "job.yaml"), []byte(b.String()), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "jobs", "big", "build.md"), []byte("# Big\n\n## s1\n\n`"+strings.Repeat("long_code_without_a_break_", 8)+"`\n\n| a | b | c | d |\n|---|---|---|---|\n| Donaudampfschifffahrtsgesellschaft | 2 | 3 | 4 |\n"), 0o644))
	return input(t, dir)
}

// A long job shows what stops it before everything else and open; every
// caution of a step stands with the step; what has no price is not free.
func TestLongJob(t *testing.T) {
	in := oddInput(t)
	s := render(t, in)
	j := in.Shop.Job("big")
	page := html.UnescapeString(string(s.Pages["jobs/big/index.html"]))
	open, more, ok := strings.Cut(page, `<details class="more">`)
	require.True(t, ok)
	more, _, _ = strings.Cut(more, "</details>")
	stops, looks := 0, 0
	for _, f := range in.Proof.Findings {
		if f.Job != "big" {
			continue
		}
		if f.Severity == proof.Stop {
			stops++
			require.Contains(t, open, f.Text)
			require.NotContains(t, more, "Stop.")
		} else {
			looks++
			require.Contains(t, open+more, f.Text)
		}
	}
	require.Positive(t, stops)
	require.Greater(t, looks, 10)
	require.Less(t, strings.LastIndex(open, "Stop."), strings.Index(open+"Look.", "Look."))
	require.Contains(t, more, fmt.Sprintf("<summary>%d more to look at</summary>", stops+looks-max(findingsMost, stops)))

	for i, st := range j.Steps {
		_, at, ok := strings.Cut(page, `id="step-`+st.ID+`"`)
		require.True(t, ok)
		at, _, _ = strings.Cut(at, `id="step-`)
		for _, c := range proof.StepCautions(in.Shop, j, st.ID) {
			require.Contains(t, at, c)
		}
		if i > 0 {
			require.Contains(t, at, "<summary>Cautions as at step 1</summary>")
		}
	}
	cost := string(s.Pages["jobs/big/cost.html"])
	require.Contains(t, cost, "to pay, without 2 with no price")
	require.NotContains(t, cost, `data-h="buy">0<`)
	require.NotContains(t, cost, "Where it goes")
	require.Contains(t, string(s.Pages["jobs/bare/index.html"]), "No parts and no steps yet")
	require.Contains(t, string(s.Pages["index.html"]), "no steps yet")
}

func TestEmptyShop(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "empty")
	require.NoError(t, job.NewShop(dir, "Empty", job.NewShopOptions{}))
	s := render(t, input(t, dir))
	require.Contains(t, string(s.Pages["index.html"]), "None yet")
	require.Contains(t, string(s.Pages["fittings.html"]), "No job of this shop has fittings")
}
