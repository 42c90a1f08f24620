package plan

import (
	"strings"
	"testing"

	"caul/job"
	"caul/job/measure"
)

// A shop with a drill press whose figures are its own (6 min for another bit,
// 2 min to move the fence) and a router table with the usual ones.
const settingsShop = `
name: Settings shop
units: {length: in, finest: 1/64, temperature: C, money: USD}
zone: UTC
hours: {sat: 9:00-17:00}
air: {day: {0:00: 20 C}}
machines:
  - {id: press, name: drill press, kind: drill-press, set-up: 6 min, same-cutter: 2 min}
  - {id: table, name: router table, kind: router-table}
cutters:
  - {id: brad-1/4, kind: brad, diameter: 1/4, length: 3}
  - {id: forstner-1/2, kind: forstner, diameter: 1/2}
  - {id: straight-1/4, kind: straight, diameter: 1/4, length: 1}
`

const settingsStock = `
stock: [{id: ply, form: sheet, species: birch-plywood, size: 48 x 24 x 3/4}]
`

// TestSettingsFromTheSheet is worked by hand. Part a wants, on the press: a
// 1/2 in counterbore at fence 2, a 1/4 in hole at fence 2, a 1/4 in hole at
// fence 4. Part b wants the 1/4 in hole at fence 4 alone.
//
//	step bore-a (30 min): forstner fence 2 (6: another bit), brad fence 2 (6),
//	                      brad fence 4 (2: the bit stays) = 14 min
//	step bore-b (20 min): brad fence 4: as it stands = 0
//
// Back to back from 9:00: bore-a 9:00-9:44, bore-b 9:44-10:04. The other way
// round bore-b pays 6 and bore-a 14. Then the groove on the router table, whose
// usual figure is 10 min (common practice, no source): 10:04-10:29.
func TestSettingsFromTheSheet(t *testing.T) {
	sh := shopOf(t, files{"shop.yaml": settingsShop, "stock.yaml": settingsStock, "jobs/x/job.yaml": `
name: x
parts:
  - id: a
    qty: 1
    size: 12 x 8 x 3/4
    from: ply
    machining:
      - holes: {id: far, cutter: brad-1/4, through: 1/4, at: [[6, 4]], machine: press}
      - holes: {id: deep, cutter: brad-1/4, through: 1/4, counterbore: {cutter: forstner-1/2, depth: 1/4}, at: [[6, 2]], machine: press}
      - groove: {cutter: straight-1/4, depth: 1/8, at: 1 from near-edge, machine: table}
  - id: b
    qty: 1
    size: 12 x 8 x 3/4
    from: ply
    machining:
      - holes: {id: far, cutter: brad-1/4, through: 1/4, at: [[6, 4]], machine: press}
steps:
  - {id: groove, takes: 15 min, setup: table, uses: [a], after: [bore-b]}
  - {id: bore-a, takes: 30 min, uses: [a]}
  - {id: bore-b, takes: 20 min, setup: drill press, uses: [b]}
`})
	p := planOf(t, sh, instant(t, "2026-03-14T09:00:00Z"), Options{})
	if !p.Proved || p.SetUps != 4 {
		t.Errorf("proved %v, %d set-ups, want 4", p.Proved, p.SetUps)
	}
	a, b, g := item(t, p, "bore-a", Bench), item(t, p, "bore-b", Bench), item(t, p, "groove", Bench)
	at(t, "bore-a from", a.From, "2026-03-14T09:00:00Z")
	at(t, "bore-b from", b.From, "2026-03-14T09:44:00Z")
	at(t, "groove from", g.From, "2026-03-14T10:04:00Z")
	at(t, "finish", p.Jobs[0].Finish, "2026-03-14T10:29:00Z")
	if p.Jobs[0].HandsOn != 65*measure.Minute || p.Jobs[0].SettingUp != 24*measure.Minute {
		t.Errorf("%s of handwork and %s of setting up, want 1 h 5 min and 24 min", p.Jobs[0].HandsOn, p.Jobs[0].SettingUp)
	}
	for i, want := range []measure.Span{6, 6, 2} {
		if got := a.Settings[i]; got.Takes != want*measure.Minute || got.Kept || !got.Sheet {
			t.Errorf("setting %d of bore-a: %+v, want %d min", i, got, want)
		}
	}
	if len(b.Settings) != 1 || !b.Settings[0].Kept || b.Settings[0].Takes != 0 || b.Change != 0 {
		t.Errorf("bore-b pays for what is set: %+v", b)
	}
	text := Text(p, 80, job.Units{})
	for _, want := range []string{
		"1 h 5 min of handwork left and 24 min of setting up", "drill press, 3 settings (14 min of setting up in all)",
		"forstner-1/2: fence 2 in to the middle, 1/4 in deep (6 min)", "brad-1/4: fence 4 in to the middle, right through (2 min)",
		"set-up: drill press, brad-1/4: fence 4 in to the middle, right through (as it stands)", "4 changes of set-up",
	} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("the text does not say %q:\n%s", want, text)
		}
	}
	n, err := At(sh, instant(t, "2026-03-14T09:00:00Z"), 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range n.CanDo {
		if want := map[string]measure.Span{"bore-a": 44, "bore-b": 26}[c.Step]; c.Takes != want*measure.Minute {
			t.Errorf("now: %s takes %s, want %d min", c.Step, c.Takes, want)
		}
	}
}

// A step's own `setup:` is what counts: one set-up, whatever the sheet says.
func TestOwnSetUpWins(t *testing.T) {
	sh := shopOf(t, files{"shop.yaml": settingsShop, "stock.yaml": settingsStock, "jobs/x/job.yaml": `
name: x
parts:
  - id: a
    qty: 1
    size: 12 x 8 x 3/4
    from: ply
    machining:
      - holes: {cutter: brad-1/4, through: 1/4, counterbore: {cutter: forstner-1/2, depth: 1/4}, at: [[6, 2]], machine: press}
steps:
  - {id: bore, takes: 30 min, setup: "drill press, all in one jig", uses: [a]}
`})
	p := planOf(t, sh, instant(t, "2026-03-14T09:00:00Z"), Options{})
	it := item(t, p, "bore", Bench)
	if p.SetUps != 1 || it.Change != 6*measure.Minute || len(it.Settings) != 1 || it.Settings[0].Sheet {
		t.Errorf("%d set-ups, %+v", p.SetUps, it)
	}
	at(t, "finish", p.Jobs[0].Finish, "2026-03-14T09:36:00Z")
}
