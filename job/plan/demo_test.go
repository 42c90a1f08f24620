package plan

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"caul/job"
	"caul/job/demo"
	"caul/job/measure"
)

// demoShop is the demo shop at a moment, with the night at a temperature.
func demoShop(t testing.TB, now time.Time, night string) *job.Shop {
	t.Helper()
	dir := t.TempDir()
	if err := demo.Write(dir, now, now.Location()); err != nil {
		t.Fatal(err)
	}
	sh, err := job.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	temp, err := measure.ParseTemperature(night)
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range sh.Air.Steps {
		if s.Temp == measure.InCelsius(14) {
			sh.Air.Steps[i].Temp = temp
		}
	}
	return sh
}

// cureByHand adds up the cure of a joint minute by minute from a label with
// two points, straight on a log scale in 1/T between and beyond doubling per
// 10 C, nothing below the lowest: written here anew, apart from job/glue.
func cureByHand(sh *job.Shop, on time.Time, at10, at20, lowest float64) time.Time {
	temp := func(t time.Time) float64 {
		m := t.Hour()*60 + t.Minute()
		v := sh.Air.Steps[len(sh.Air.Steps)-1].Temp.C()
		for _, s := range sh.Air.Steps {
			if s.From <= m {
				v = s.Temp.C()
			}
		}
		return v
	}
	minutes := func(c float64) float64 {
		switch {
		case c < lowest:
			return math.Inf(1)
		case c <= 10:
			return at10 * math.Pow(2, (10-c)/10)
		case c >= 20:
			return at20 * math.Pow(2, (20-c)/10)
		}
		x := (1/(c+273.15) - 1/283.15) / (1/293.15 - 1/283.15)
		return math.Exp(math.Log(at10) + x*(math.Log(at20)-math.Log(at10)))
	}
	done := 0.0
	for t := on.In(sh.Zone); ; t = t.Add(time.Minute) {
		done += 1 / minutes(temp(t))
		if done >= 1-1e-9 {
			return t.Add(time.Minute)
		}
	}
}

// The demo's plan follows the night: with 7 C in place of 14 C every cure is
// over when a reckoning of its own says, the finish moves by as much as the
// shop's hours make of it, and the plan says why.
func TestDemoFollowsTheNight(t *testing.T) {
	now := time.Date(2026, 3, 14, 10, 5, 0, 0, zone(t, "America/Chicago"))
	labels := map[string][3]float64{"yellow": {30 * 60, 18 * 60, 8}, "slow": {36 * 60, 20 * 60, 10}} // the demo's glues.yaml
	var finish [2]time.Time
	for i, night := range []string{"14 C", "7 C"} {
		sh := demoShop(t, now, night)
		p := planOf(t, sh, now, Options{Explain: true, Jobs: []string{"torsion-table"}})
		cures := 0
		for _, it := range p.Items {
			if it.Kind != Cure {
				continue
			}
			cures++
			on := item(t, p, it.Step, Clamped).From
			g := sh.Job(it.Job).Step(it.Step).GlueUp
			l := labels[g.Glue]
			want := cureByHand(sh, on, l[0], l[1], l[2])
			if it.Started {
				continue // its logged readings differ from the profile
			}
			if d := it.Earliest.Sub(want); d < -time.Minute || d > time.Minute {
				t.Errorf("night %s, %s: cured %s, by hand %s", night, it.Step, it.Earliest, want)
			}
			cold := strings.Contains(it.Because, "stands still")
			if cold != (night == "7 C") {
				t.Errorf("night %s, %s: because %q", night, it.Step, it.Because)
			}
		}
		if cures == 0 {
			t.Fatal("nothing cures")
		}
		finish[i] = p.Jobs[0].Finish
		said := strings.Contains(strings.Join(p.Warnings, "\n"), "in the night of")
		if said != (night == "7 C") {
			t.Errorf("night %s: warnings %q", night, p.Warnings)
		}
		if night == "7 C" {
			chain := ""
			for _, l := range p.Chain {
				chain += l.Text + "\n"
			}
			if !strings.Contains(chain, "stands still") {
				t.Errorf("the chain does not name the cold:\n%s", chain)
			}
		}
		if !p.Proved {
			t.Errorf("night %s: not proved", night)
		}
	}
	moved := finish[1].Sub(finish[0])
	if moved <= 0 {
		t.Errorf("the finish moved by %s", moved)
	}
	t.Logf("finish with a night of 14 C: %s, of 7 C: %s, %s later", finish[0], finish[1], moved)
}

// What would help in the cold: the heater left on at night is tried, solved,
// and what it is said to save is what a shop that is warm all night saves.
func TestHeaterHelpsInTheCold(t *testing.T) {
	now := time.Date(2026, 3, 14, 10, 5, 0, 0, zone(t, "America/Chicago"))
	only := []string{"torsion-table"}
	sh := demoShop(t, now, "7 C")
	p := planOf(t, sh, now, Options{Jobs: only, Helps: true})
	warm := *sh
	warm.Air.Steps = []job.AirStep{{Temp: measure.InCelsius(19)}}
	q := planOf(t, &warm, now, Options{Jobs: only})
	for i, h := range p.Helps {
		if i > 0 && h.Finish.Before(p.Helps[i-1].Finish) {
			t.Errorf("the best does not come first: %+v", p.Helps)
		}
		if h.Saves <= 0 || p.Jobs[0].Finish.Sub(h.Finish) != h.Saves {
			t.Errorf("%s: finishes %s, saves %s of %s", h.Change, h.Finish, h.Saves, p.Jobs[0].Finish)
		}
	}
	for _, h := range p.Helps {
		if strings.HasPrefix(h.Change, "the heater on at night") {
			if !h.Finish.Equal(q.Jobs[0].Finish) {
				t.Errorf("the heater: finishes %s, and in a warm shop %s", h.Finish, q.Jobs[0].Finish)
			}
			return
		}
	}
	t.Errorf("the heater is not among %+v", p.Helps)
}

// The demo's own plan: proved, the same every time, and quick to answer.
func TestDemoPlan(t *testing.T) {
	now := time.Date(2026, 3, 14, 10, 5, 0, 0, zone(t, "America/Chicago"))
	sh := demoShop(t, now, "14 C")
	p := planOf(t, sh, now, Options{Explain: true})
	if !p.Proved || len(p.Chain) == 0 {
		t.Errorf("proved %v, chain %v", p.Proved, p.Chain)
	}
	again := planOf(t, sh, now, Options{Explain: true})
	if a, b := Text(p, 80, sh.Units), Text(again, 80, sh.Units); a != b {
		t.Errorf("two plans of one shop differ:\n%s\n%s", a, b)
	}
	if !bytes.Equal(DaySheet(p, SheetOptions{}), DaySheet(again, SheetOptions{})) {
		t.Error("two day sheets of one plan differ")
	}
	n, err := At(sh, now, 50*measure.Minute, p)
	if err != nil {
		t.Fatal(err)
	}
	if len(n.Timers) == 0 || len(n.CanDo) == 0 || !n.Finish.Equal(p.Jobs[0].Finish) && !n.Finish.Equal(p.Jobs[2].Finish) {
		t.Errorf("now: %+v", n)
	}
}

func BenchmarkDemoPlan(b *testing.B) {
	now := time.Date(2026, 3, 14, 10, 5, 0, 0, zone(b, "America/Chicago"))
	sh := demoShop(b, now, "14 C")
	for b.Loop() {
		if _, err := Make(context.Background(), sh, now, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDemoNow(b *testing.B) {
	now := time.Date(2026, 3, 14, 10, 5, 0, 0, zone(b, "America/Chicago"))
	sh := demoShop(b, now, "14 C")
	for b.Loop() {
		if _, err := At(sh, now, 50*measure.Minute, nil); err != nil {
			b.Fatal(err)
		}
	}
}
