package plan

import (
	"fmt"
	"testing"
	"time"
)

// Worked by hand. The shop is open 19:00-20:00. A takes 57 min in one go on
// Monday; B (55 min) may be stopped, and begun at once it would get 3 min at
// 19:57 and the rest on Tuesday. C begins 40 h after A, on Wednesday, so that B
// loses nothing by waiting for Tuesday whole.
func TestNoSessionOfThreeMinutes(t *testing.T) {
	shop := func(least string) files {
		return files{"shop.yaml": `
name: x
units: {length: in, finest: 1/64, temperature: C, money: USD}
zone: UTC
hours: {mon-fri: 19:00-20:00` + least + `}
air: {day: {0:00: 20 C}}
`, "jobs/x/job.yaml": `
name: x
steps:
  - {id: a, takes: 57 min}
  - {id: b, takes: 55 min, split: true}
  - {id: c, takes: 20 min, after: [a + 40 h]}
`}
	}
	now := instant(t, "2026-03-09T18:00:00Z") // a Monday
	for _, c := range []struct{ least, want string }{
		{"", "2026-03-10T19:00:00Z"},               // 15 min: common practice, no source
		{", least: 3 min", "2026-03-09T19:57:00Z"}, // the shop's own figure wins
	} {
		p := planOf(t, shopOf(t, shop(c.least)), now, Options{})
		at(t, fmt.Sprintf("b with %q", c.least), item(t, p, "b", Bench).From, c.want)
		at(t, "finish", p.Jobs[0].Finish, "2026-03-11T19:20:00Z")
		if !p.Proved {
			t.Error("not proved")
		}
	}
}

// Where the short session is what brings the finish forward, it stays.
func TestShortSessionForTheFinish(t *testing.T) {
	sh := shopOf(t, files{"shop.yaml": `
name: x
units: {length: in, finest: 1/64, temperature: C, money: USD}
zone: UTC
hours: {mon-fri: 19:00-20:00}
air: {day: {0:00: 20 C}}
`, "jobs/x/job.yaml": `
name: x
steps:
  - {id: a, takes: 57 min}
  - {id: b, takes: 1 h 3 min, split: true, after: [a]}
`})
	p := planOf(t, sh, instant(t, "2026-03-09T18:00:00Z"), Options{})
	at(t, "finish", p.Jobs[0].Finish, "2026-03-10T20:00:00Z")
	if s := item(t, p, "b", Bench).Sessions; len(s) != 2 || s[0].To.Sub(s[0].From) != 3*time.Minute {
		t.Errorf("sessions %v", s)
	}
}
