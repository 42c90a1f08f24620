package plan

import (
	"context"
	"errors"
	"strings"
	"testing"
)

// Warm enough to spread for twenty-five minutes a day, and too cold to set for
// the rest: the glue is followed for 90 days, 90 × 25 min at 20 °C are 2250 min
// = 37 h 30 min, so one that wants 48 h never sets and one of the handbook's
// 24 h does. The change names such a one, and with it there is a plan; so there
// is where the shop is kept as warm as it says.
func TestNeverSetsThoughItCanBeSpread(t *testing.T) {
	fs := handFiles("20 C", handJob)
	fs["glues.yaml"] = "glues: [{id: test, type: pva-yellow, clamp: {20 C: 60 min, 10 C: 120 min}, cure: {20 C: 48 h, 10 C: 96 h}, lowest: 5 C}]\n"
	fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], `{"8:00": 20 C, "22:00": 20 C}`, `{"19:00": 20 C, "19:25": 3 C}`, 1)
	fs["jobs/plate/job.yaml"] = strings.Replace(strings.Replace(handJob, "takes: 30 min", "takes: 20 min", 1), "takes: 40 min", "takes: 2 h", 1)
	now := instant(t, "2026-03-06T18:00:00+01:00")
	try := func(fs files) *Infeasible {
		p, err := Make(context.Background(), shopOf(t, fs), now, Options{})
		var inf *Infeasible
		if err != nil && !errors.As(err, &inf) {
			t.Fatal(err)
		}
		if err == nil && (len(p.Never) > 0 || p.Jobs[0].Finish.IsZero()) {
			t.Errorf("the change leaves %+v, finish %s", p.Never, p.Jobs[0].Finish)
		}
		return inf
	}
	inf := try(fs)
	if inf == nil {
		t.Fatal("planned, with a glue that does not set")
	}
	if inf.Step != "core" || !strings.Contains(inf.What, "does not set in the shop's air, not in 90 days: it wants 5 °C or above") {
		t.Errorf("%s: %s", inf.Step, inf.What)
	}
	if inf.Change != "keep the shop at 5 °C or above, or take PVA, interior, white (12.8 °C or above)" {
		t.Error(inf.Change)
	}
	with := func(file, old, by string) files {
		out := files{}
		for k, v := range fs {
			out[k] = v
		}
		out[file] = strings.Replace(fs[file], old, by, 1)
		return out
	}
	if inf := try(with("jobs/plate/job.yaml", "glue: test", "glue: pva")); inf != nil {
		t.Errorf("with the glue that the change names: %s", inf.What)
	}
	if inf := try(with("shop.yaml", "3 C", "5 C")); inf != nil {
		t.Errorf("at 5 °C: %s", inf.What)
	}
}

// In a shop at 9 °C day and night a glue that sets from 10 °C cannot be spread:
// of the handbook's the one from 8 °C can, at least as water-resistant. At 3 °C
// none can, and that is said.
func TestColderGlueIsNamed(t *testing.T) {
	for _, c := range []struct{ night, change, glue string }{
		{"9 C", "or take PVA, exterior, long open time (D4) (8 °C or above)", "pva-d4"},
		{"3 C", "no other glue of its class or above sets in this air", ""},
	} {
		fs := handFiles("20 C", handJob)
		fs["glues.yaml"] = strings.Replace(handGlues, "lowest: 5 C", "lowest: 10 C", 1)
		fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], `{"8:00": 20 C, "22:00": 20 C}`, `{"8:00": `+c.night+`}`, 1)
		now := instant(t, "2026-03-06T18:00:00+01:00")
		_, err := Make(context.Background(), shopOf(t, fs), now, Options{})
		var inf *Infeasible
		if !errors.As(err, &inf) || !strings.Contains(inf.Change, c.change) {
			t.Errorf("at %s: %v", c.night, err)
			continue
		}
		if c.glue == "" {
			continue
		}
		fs["jobs/plate/job.yaml"] = strings.Replace(handJob, "glue: test", "glue: "+c.glue, 1)
		if p := planOf(t, shopOf(t, fs), now, Options{}); len(p.Never) > 0 {
			t.Errorf("with the glue that the change names: %+v", p.Never)
		}
	}
}
