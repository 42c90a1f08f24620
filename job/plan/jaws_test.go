package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"caul/job/measure"
)

// jawsJob is a shop with short and long clamps and one job with one glue-up.
func jawsJob(parts, up string) files {
	return files{
		"shop.yaml": "name: x\nunits: {length: in, finest: 1/64, temperature: C, money: USD}\nzone: UTC\nhours: {sat: 9:00-17:00}\nair: {day: {0:00: 20 C}}\nclamps:\n" +
			"  - {id: f-style, name: F-clamps, kind: f-style, qty: 40, opening: 12}\n  - {id: bar, name: bar clamps, kind: bar, qty: 40, opening: 36}\n",
		"stock.yaml":      "stock: [{id: ply, form: sheet, species: birch-plywood, size: 96 x 48 x 3/4}]\n",
		"jobs/x/job.yaml": "name: x\nparts:\n" + parts + "glue-ups:\n  - {id: g, glue: pva, " + up + "}\nsteps: [{id: g, takes: 25 min}]\n",
	}
}

// How far the jaws stand apart is plain geometry, summed by hand: what lies
// between them, one behind the other. Each glue-up is written in both ways.
func TestJawsApart(t *testing.T) {
	const (
		boards = "  - {id: board, qty: 5, size: 36 x 5 x 3/4, from: ply}\n"
		door   = "  - {id: stile, qty: 2, size: 30 x 2 x 3/4, from: ply}\n  - {id: rail, qty: 2, size: 20 x 2 x 3/4, from: ply}\n"
		box    = "  - {id: skin, qty: 2, size: 48 x 24 x 1/2, from: ply}\n  - {id: rib, qty: 8, size: 46 x 3-1/2 x 3/4, from: ply}\n"
		leg    = "  - {id: layer, qty: 3, size: 30 x 2-1/2 x 3/4, from: ply}\n"
		strips = "  - {id: maple, qty: 3, size: 18 x 2 x 1-1/2, from: ply}\n  - {id: walnut, qty: 3, size: 18 x 1-1/2 x 1-1/2, from: ply}\n"
	)
	for _, c := range []struct {
		name, parts, up string
		apart           string
		clamps          string // chosen by `clamps: auto`
	}{
		{"five boards of 5 in, edge to edge", boards, "joins: [board], faces: [board near-edge, board far-edge]", "25", "bar"},
		{"the same by its four lines", boards, "joins: [board], bond: 4 x 36 x 3/4", "25", "bar"},
		{"two of them, with a caul on each side", boards, "joins: [board], bond: 36 x 3/4, caul: 3/4", "11-1/2", "f-style"},
		{"a door: stile, rail, stile", door, "joins: [stile, rail], faces: [stile near-edge, rail left-end, rail right-end, stile near-edge]", "24", "bar"},
		{"by its four joints, where the rails might as well go right across", door, "joins: [stile, rail], bond: 4 x 2 x 3/4", "34", "bar"},
		{"a torsion box: skin, rib, skin, and cauls", box, "joins: [skin, rib], caul: 3/4, faces: [skin back, rib near-edge, rib far-edge, skin back]", "6", "f-style"},
		{"the same by its ribs", box, "joins: [skin, rib], caul: 3/4, bond: 16 x 46 x 3/4", "6", "f-style"},
		{"one skin on ribs", box, "joins: [skin, rib], faces: [skin back, rib near-edge]", "4", "f-style"},
		{"three layers, face to face", leg, "joins: [layer], faces: [layer face, layer back]", "2-1/4", "f-style"},
		{"the same by its two lines", leg, "joins: [layer], bond: 2 x 30 x 2-1/2", "2-1/4", "f-style"},
		{"strips by turns", strips, "joins: [maple, walnut], faces: [maple near-edge, walnut far-edge, walnut near-edge, maple far-edge]", "10-1/2", "f-style"},
	} {
		t.Run(c.name, func(t *testing.T) {
			sh := shopOf(t, jawsJob(c.parts, c.up+", clamps: auto"))
			j := sh.Job("x")
			want, err := measure.ParseLength(c.apart+" in", measure.Inches)
			if err != nil {
				t.Fatal(err)
			}
			if got, _ := jawsApart(j, j.Steps[0].GlueUp); got != want {
				t.Errorf("the jaws stand %s apart, by hand %s", measure.Format(got, sh.Units.Length), c.apart)
			}
			g, err := GlueSheet(sh, j, &j.Steps[0], time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC))
			if err != nil {
				t.Fatal(err)
			}
			called := map[string]string{"bar": "bar clamp", "f-style": "F-clamp"}[c.clamps]
			if len(g.Take) != 1 || !strings.Contains(g.Take[0], called) {
				t.Errorf("takes %q, only the %ss open far enough or come first", g.Take, called)
			}
			if g.Jaws != want && g.Jaws != 0 || g.Jaws == 0 && !strings.Contains(c.up, "bond") {
				t.Errorf("the sheet says %s", measure.Format(g.Jaws, sh.Units.Length))
			}
		})
	}
}

// Clamps that the job names and that open less than the joint is deep are
// counted, as its writer knows the joint, and told; so are the longest that
// there are where none reaches.
func TestJawsTooShort(t *testing.T) {
	at := time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)
	wide := "  - {id: board, qty: 5, size: 36 x 8 x 3/4, from: ply}\n" // 40 in, edge to edge
	for _, c := range []struct{ clamps, want string }{
		{"{f-style: 6}", "the jaws stand 40 in apart over this joint, and the F-clamps open to 12 in only: take longer ones"},
		{"auto", "the jaws stand 40 in apart over this joint, and the bar clamps open to 36 in only: take longer ones"},
	} {
		sh := shopOf(t, jawsJob(wide, "joins: [board], faces: [board near-edge, board far-edge], clamps: "+c.clamps))
		g, err := GlueSheet(sh, sh.Job("x"), &sh.Job("x").Steps[0], at)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(g.Sheet.Warnings, c.want) || g.Sheet.Have == 0 {
			t.Errorf("clamps: %s: %d to hand, %q", c.clamps, g.Sheet.Have, g.Sheet.Warnings)
		}
	}
}

// Many kinds of part that all meet each other end as one row, at once.
func TestJawsManyFaces(t *testing.T) {
	var parts, faces strings.Builder
	for i := range 7 {
		fmt.Fprintf(&parts, "  - {id: p%d, qty: 50, size: 9 x 3 x 1, from: ply}\n", i)
		for k := range 7 {
			fmt.Fprintf(&faces, "p%d face, p%d back, ", i, k)
		}
	}
	sh := shopOf(t, jawsJob(parts.String(), "joins: [p0], faces: ["+strings.TrimSuffix(faces.String(), ", ")+"], clamps: auto"))
	j := sh.Job("x")
	if got, _ := jawsApart(j, j.Steps[0].GlueUp); got != 7*50*measure.Inch {
		t.Errorf("350 parts of 1 in: %s", measure.Format(got, sh.Units.Length))
	}
}
