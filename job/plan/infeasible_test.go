package plan

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares text with a file under testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := "testdata/" + name
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if w := strings.ReplaceAll(string(want), "\r\n", "\n"); w != got {
		t.Errorf("%s differs; got:\n%s\nwant:\n%s", name, got, w)
	}
}

// What cannot be planned, and what is said of it. The instants and the changes
// in the golden file follow from the hours (weekday evenings 19:00 to 21:30,
// Saturday 9:00 to 13:00), by hand beside each case.
func TestInfeasible(t *testing.T) {
	const glued = "parts: [{id: base, qty: 2, size: 600 x 400 x 12, from: ply}]\n"
	cases := []struct {
		name  string
		night string
		edit  func(files)
		job   string
	}{
		{ // longest session Sat 4 h; 5 h wanted: 1 h more
			name: "a glue-up longer than any session",
			job: glued + `
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}}]
steps: [{id: core, name: Glue the plates, takes: 5 h}]`,
		},
		{ // the same without glue may be split
			name: "a step in one go longer than any session",
			job:  `steps: [{id: carve, name: Carve, takes: 4 h 30 min}]`,
		},
		{ // varnish takes 30 min; must begin 3 h to 6 h after the first coat: the best is Sat: first
			// coat 9:00-9:30, 3 h later 12:30, 12:30-13:00 fits; so make it 4 h to 6 h: 13:30, shut
			name: "a last moment that closes overnight",
			job: `
steps:
  - {id: coat, name: First coat, takes: 30 min, finish: true}
  - {id: coat-2, name: Second coat, takes: 30 min, finish: true, after: [4 h to 6 h after coat]}`,
		},
		{ // on from 9:30 at the earliest on Saturday; 4 h after the clamps go on is 13:30
			name: "squeeze-out that would be scraped when the shop is shut",
			job: glued + `
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}, scrape: 4 h to 5 h}]
steps: [{id: core, name: Glue the plates, takes: 30 min}]`,
		},
		{
			name: "more clamps than there are",
			job: glued + `
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 11}}]
steps: [{id: core, name: Glue the plates, takes: 30 min}]`,
		},
		{ // the shop is at 3 C day and night
			name: "too cold to spread",
			edit: func(fs files) {
				fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], `{"8:00": 20 C, "22:00": 10 C}`, `{"0:00": 3 C}`, 1)
			},
			job: glued + `
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}}]
steps: [{id: core, name: Glue the plates, takes: 30 min}]`,
		},
		{ // yellow PVA: under pressure within 10 min at 20 C; 18 min of spreading: two parts of 9 min
			name: "spreading longer than the glue stays open",
			job: glued + `
glue-ups: [{id: core, joins: [base, base], glue: test, bond: 600 x 400, clamps: {bar: 6}, spread: 18 min}]
steps: [{id: core, name: Glue the plates, takes: 30 min}]`,
		},
		{
			name: "hours that are over",
			edit: func(fs files) {
				fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], "  mon-fri: 19:00-21:30\n  sat: 9:00-13:00\n", "  except: [{date: 2026-03-01, open: 9:00-12:00}]\n", 1)
			},
			job: `steps: [{id: carve, name: Carve, takes: 1 h}]`,
		},
		{ // b within 10 min and c within 10 min of a, each 20 min long: only one can follow at once;
			// the other begins 20 min after a at the earliest
			name: "two last moments that exclude each other",
			job: `
steps:
  - {id: a, name: Mix, takes: 10 min}
  - {id: b, name: Fill, takes: 20 min, after: [within 10 min of a]}
  - {id: c, name: Coat, takes: 20 min, after: [within 10 min of a]}`,
		},
	}
	var out strings.Builder
	for _, c := range cases {
		fs := handFiles("10 C", "name: Plate\n"+c.job+"\n")
		if c.edit != nil {
			c.edit(fs)
		}
		sh := shopOf(t, fs)
		p, err := Make(context.Background(), sh, instant(t, "2026-03-02T18:00:00+01:00"), Options{})
		var inf *Infeasible
		if !errors.As(err, &inf) {
			t.Errorf("%s: got a plan or another error: %v\n%v", c.name, err, p)
			continue
		}
		if inf.At.File == "" || inf.At.Line == 0 || inf.Change == "" {
			t.Errorf("%s: no place or no change: %+v", c.name, inf)
		}
		fmt.Fprintf(&out, "%s\n  %s\n  hint: %s\n\n", c.name, inf.Error(), inf.Hint())
	}
	golden(t, "infeasible.txt", out.String())
}

// The change that is said to be the smallest does: with it there is a plan,
// and with a minute less there is none.
func TestSmallestChangeDoes(t *testing.T) {
	plan := func(fs files) error {
		_, err := Make(context.Background(), shopOf(t, fs), instant(t, "2026-03-02T18:00:00+01:00"), Options{})
		return err
	}
	carve := `steps: [{id: carve, name: Carve, takes: 4 h 30 min}]` + "\n"
	coats := func(most string) string {
		return `
steps:
  - {id: coat, name: First coat, takes: 30 min, finish: true}
  - {id: coat-2, name: Second coat, takes: 30 min, finish: true, after: [4 h to ` + most + ` after coat]}
`
	}
	for _, c := range []struct {
		name, job, sat string
		ok             bool
	}{
		{"30 min longer on Saturday", carve, "9:00-13:30", true},
		{"29 min longer on Saturday", carve, "9:00-13:29", false},
		// first coat Mon-Fri 21:00-21:30 at the latest, the next session 21 h 30 min later
		{"coats 21 h 30 min apart", coats("21 h 30 min"), "9:00-13:00", true},
		{"coats 21 h 29 min apart: Fri 21:30 to Sat 9:00 is 11 h 30 min", coats("11 h 29 min"), "9:00-13:00", false},
		{"coats 11 h 30 min apart", coats("11 h 30 min"), "9:00-13:00", true},
	} {
		fs := handFiles("10 C", "name: Plate\n"+c.job)
		fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], "sat: 9:00-13:00", "sat: "+c.sat, 1)
		if err := plan(fs); (err == nil) != c.ok {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
