package plan

import (
	"os"
	"testing"
)

func TestSmoke(t *testing.T) {
	sh := shopOf(t, files{
		"shop.yaml": `
name: Bench end
zone: Europe/Vienna
units: {length: mm, temperature: C}
hours:
  mon-fri: 19:00-21:30
  sat: 9:00-13:00
air:
  day: {"8:00": 18 C, "22:00": 8 C}
clamps:
  - {id: bar, kind: bar, qty: 8}
places:
  - {id: flat-table}
machines:
  - {id: table-saw, kind: table-saw, set-up: 10 min}
  - {id: router-table, kind: router-table, set-up: 15 min}
`,
		"stock.yaml": "stock:\n  - {id: ply, form: sheet, size: 2440 x 1220 x 12}\n",
		"jobs/table/job.yaml": `
name: Torsion-box table
parts:
  - {id: skin, qty: 2, size: 1200 x 600 x 12, from: ply}
  - {id: rib, qty: 8, size: 1150 x 60 x 12, from: ply}
glue-ups:
  - {id: core, joins: [skin, rib], glue: pva, bond: 2 x 1150 x 12, clamps: {bar: 8}, place: flat-table, scrape: 30 min to 60 min}
steps:
  - {id: mill, name: Mill the ribs, takes: 100 min, setup: "table saw, rip 60", split: true}
  - {id: core, name: Glue up the core, takes: 40 min, after: [mill]}
  - {id: trim, name: Trim flush, takes: 20 min, setup: "router table, flush-trim", after: [core cured]}
  - {id: coat, name: First coat, takes: 15 min, finish: true, after: [trim]}
  - {id: coat2, name: Second coat, takes: 15 min, finish: true, after: [coat + 2 h, within 24 h of coat]}
`,
	})
	p := planOf(t, sh, instant(t, "2026-03-02T18:00:00+01:00"), Options{Explain: true, Helps: true})
	t.Log("\n" + Text(p, 80, sh.Units))
	t.Log("\n" + Text(p, 40, sh.Units))
	os.WriteFile("/tmp/caul/plan.svg", DaySheet(p, SheetOptions{}), 0o644)
	os.WriteFile("/tmp/caul/plan-n.svg", DaySheet(p, SheetOptions{Width: 360}), 0o644)
	t.Log("\n" + string(Calendar(p, CalendarOptions{Shop: "Bench end"})))
}
