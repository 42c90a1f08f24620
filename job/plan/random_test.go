package plan

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"caul/job"
	"caul/job/measure"
)

// zones with and without clock changes, and with half an hour of them.
var zones = []string{"UTC", "America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu"}

// randomShop draws a small shop with its jobs: hours, holidays, cold nights,
// clamps, places, machines, glue-ups, waits least and most.
func randomShop(t *rapid.T) (*job.Shop, time.Time) {
	loc, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
	if err != nil {
		t.Fatal(err)
	}
	sh := &job.Shop{Name: "random", Zone: loc}
	sh.Units.Temp = "C"
	sh.Hours.Week = map[time.Weekday][]job.Window{}
	for d := time.Sunday; d <= time.Saturday; d++ {
		if rapid.IntRange(0, 2).Draw(t, "open") == 0 {
			continue
		}
		from := rapid.IntRange(0, 20).Draw(t, "from") * 60
		sh.Hours.Week[d] = []job.Window{{From: from, To: min(from+rapid.IntRange(2, 8).Draw(t, "long")*30, 1440)}}
	}
	sh.Hours.Week[time.Saturday] = []job.Window{{From: 9 * 60, To: 13 * 60}}
	year, month := 2026, time.Month(rapid.SampledFrom([]int{3, 6, 10}).Draw(t, "month"))
	now := time.Date(year, month, rapid.IntRange(1, 28).Draw(t, "day"), rapid.IntRange(0, 23).Draw(t, "hour"), rapid.IntRange(0, 59).Draw(t, "minute"), 0, 0, loc)
	if rapid.Bool().Draw(t, "holiday") {
		sh.Hours.Except = []job.DayHours{{Date: dateOf(now).plus(rapid.IntRange(0, 9).Draw(t, "off")).minute(loc, 0)}}
	}
	sh.Air.Steps = []job.AirStep{
		{From: 7 * 60, Temp: measure.InCelsius(float64(rapid.IntRange(16, 22).Draw(t, "warm")))},
		{From: 22 * 60, Temp: measure.InCelsius(float64(rapid.IntRange(3, 16).Draw(t, "cold")))},
	}
	sh.Clamps = []job.Clamp{{ID: "bar", Kind: "bar", Qty: rapid.IntRange(4, 8).Draw(t, "bars")}}
	sh.Places = []job.Place{{ID: "table", Qty: 1}}
	sh.Machines = []job.Machine{{ID: "saw", Kind: "table-saw"}, {ID: "router", Kind: "router-table", SetUp: 5 * measure.Minute}}
	for k := rapid.IntRange(1, 2).Draw(t, "jobs"); k > 0; k-- {
		sh.Jobs = append(sh.Jobs, randomJob(t, fmt.Sprintf("job-%d", k), now))
	}
	return sh, now
}

func randomJob(t *rapid.T, id string, now time.Time) *job.Job {
	j := &job.Job{ID: id, Name: id, Weight: 1}
	if rapid.IntRange(0, 3).Draw(t, "due") == 0 {
		j.Due = dateOf(now).plus(rapid.IntRange(0, 12).Draw(t, "days")).minute(now.Location(), 0)
	}
	n := rapid.IntRange(1, 6).Draw(t, "steps")
	ups := make([]job.GlueUp, n)
	for i := 0; i < n; i++ {
		st := job.Step{ID: fmt.Sprintf("s%d", i), Name: fmt.Sprintf("step %d", i), At: job.Pos{File: "job.yaml", Line: i + 1, Col: 1},
			Takes: measure.Span(rapid.IntRange(1, 6).Draw(t, "takes")*10) * measure.Minute}
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			ups[i] = job.GlueUp{ID: st.ID, Glue: rapid.SampledFrom([]string{"pva", "pva-yellow", "polyurethane"}).Draw(t, "glue"),
				Clamps: map[string]int{"bar": rapid.IntRange(1, 4).Draw(t, "clamps")}}
			if rapid.Bool().Draw(t, "place") {
				st.Place = "table"
			}
			st.GlueUp = &ups[i]
		case 1:
			st.Machine, st.State = "saw", rapid.SampledFrom([]string{"rip", "cross"}).Draw(t, "fence")
		case 2:
			st.Machine, st.State = "router", "flush"
			st.Split = true
		}
		for k := 0; k < i; k++ {
			if rapid.IntRange(0, 2).Draw(t, "after") > 0 {
				continue
			}
			l := job.Lag{Step: fmt.Sprintf("s%d", k), From: job.FromDone, Src: "a wait", At: st.At}
			if j.Steps[k].GlueUp != nil {
				l.From = rapid.SampledFrom([]job.LagFrom{job.FromCured, job.FromOff, job.FromClampsOn, job.FromBegun, job.FromDone}).Draw(t, "from")
			}
			l.Least = measure.Span(rapid.IntRange(0, 3).Draw(t, "least")) * measure.Hour
			if rapid.IntRange(0, 4).Draw(t, "has most") == 0 && !j.Steps[k].Split {
				l.HasMost, l.Most = true, l.Least+measure.Span(rapid.IntRange(12, 96).Draw(t, "most"))*measure.Hour
			}
			st.After = append(st.After, l)
		}
		j.Steps = append(j.Steps, st)
	}
	return j
}

// makeRandom plans a random shop; no plan is only well where it is explained.
func makeRandom(t *rapid.T, sh *job.Shop, now time.Time) *Plan {
	p, err := Make(context.Background(), sh, now, Options{Explain: true, Budget: 300_000})
	var inf *Infeasible
	switch {
	case errors.As(err, &inf):
		if inf.What == "" || inf.Change == "" {
			t.Fatalf("no plan, and not why: %+v", inf)
		}
		return nil
	case errors.Is(err, ErrNoTime):
		return nil
	case err != nil:
		t.Fatalf("%v", err)
	}
	return p
}

// Every plan of a random shop holds: Make has it checked twice, by the
// scheduler's checker and in the shop's terms. Beyond that: the items are in
// order, the finish is the last end and no earlier than is possible, the text
// and the drawing come out, and the calendar has no line too long.
func TestRandomShops(t *testing.T) {
	plans, proved := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		sh, now := randomShop(t)
		p := makeRandom(t, sh, now)
		if p == nil {
			return
		}
		plans++
		if p.Proved {
			proved++
		}
		var last time.Time
		for i, it := range p.Items {
			if i > 0 && it.From.Before(p.Items[i-1].From) {
				t.Fatalf("item %d is out of order", i)
			}
			if it.To.Before(it.From) {
				t.Fatalf("%s ends before it begins", it.Name)
			}
			if it.Kind != Wait {
				last = later(last, it.To)
			}
		}
		var finish time.Time
		for _, j := range p.Jobs {
			finish = later(finish, j.Finish)
		}
		if !finish.Equal(last) || finish.Before(p.Earliest) {
			t.Fatalf("finish %s, last end %s, earliest %s", finish, last, p.Earliest)
		}
		if p.Proved && p.Within != 0 {
			t.Fatalf("proved, and within %s", p.Within)
		}
		for _, width := range []int{40, 80} {
			for _, l := range splitLines(Text(p, width, sh.Units)) {
				if len([]rune(l)) > width {
					t.Fatalf("a line of %d columns in %d: %q", len([]rune(l)), width, l)
				}
			}
		}
		if err := wellFormed(DaySheet(p, SheetOptions{Width: 360})); err != nil {
			t.Fatal(err)
		}
		if _, err := At(sh, now, 50*measure.Minute, p); err != nil {
			t.Fatal(err)
		}
	})
	t.Logf("%d plans, %d proved", plans, proved)
	if plans == 0 || proved*10 < plans*8 {
		t.Errorf("%d plans, %d proved", plans, proved)
	}
}

// More hours never make a proved finish later.
func TestMoreHoursNeverFinishLater(t *testing.T) {
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		sh, now := randomShop(t)
		for _, j := range sh.Jobs {
			j.Due = time.Time{} // lateness would come before the finish
		}
		p := makeRandom(t, sh, now)
		more := *sh
		more.Hours.Week = map[time.Weekday][]job.Window{}
		for d, ws := range sh.Hours.Week {
			more.Hours.Week[d] = ws
		}
		d := time.Weekday(rapid.IntRange(0, 6).Draw(t, "longer day"))
		if ws := more.Hours.Week[d]; len(ws) > 0 {
			w := ws[0]
			w.From, w.To = max(w.From-rapid.IntRange(0, 3).Draw(t, "sooner")*20, 0), min(w.To+rapid.IntRange(0, 3).Draw(t, "later")*20, 1440)
			more.Hours.Week[d] = []job.Window{w}
		} else {
			more.Hours.Week[d] = []job.Window{{From: 10 * 60, To: 11 * 60}}
		}
		q := makeRandom(t, &more, now)
		if p == nil {
			return
		}
		if q == nil {
			t.Fatalf("a plan with fewer hours, none with more")
		}
		if p.Proved && q.Proved {
			compared++
			if finishOf(q).After(finishOf(p)) {
				t.Fatalf("with more hours it finishes %s, without %s", finishOf(q), finishOf(p))
			}
		}
	})
	if compared == 0 {
		t.Error("nothing was compared")
	}
}

func finishOf(p *Plan) time.Time {
	var f time.Time
	for _, j := range p.Jobs {
		f = later(f, j.Finish)
	}
	return f
}

// A plan followed to the letter stays a plan: what the plan says is done up to
// a moment is logged, and a new plan from there finishes no later, when both
// are proved.
func TestFollowedPlanStandsUp(t *testing.T) {
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		sh, now := randomShop(t)
		for _, j := range sh.Jobs {
			j.Due = time.Time{}
		}
		p := makeRandom(t, sh, now)
		if p == nil || len(p.Items) == 0 {
			return
		}
		cut := p.Items[rapid.IntRange(0, len(p.Items)-1).Draw(t, "until")].To
		logged := *sh
		logged.Jobs = nil
		for _, j := range sh.Jobs {
			c := *j
			add := func(did, step string, at time.Time) {
				if !at.After(cut) {
					id := fmt.Sprintf("%s-%s-%s", at.UTC().Format("20060102T150405"), did, step)
					c.Log = append(c.Log, job.Entry{ID: id, File: id + ".md", Time: at, Did: did, Step: step, Machine: "shop"})
				}
			}
			for _, it := range p.Items {
				if it.Job != j.ID {
					continue
				}
				glued := c.Step(it.Step).GlueUp != nil
				switch {
				case it.Kind == Bench && glued:
					add(job.DidBegin, it.Step, it.From)
					add(job.DidClamp, it.Step, it.To)
				case it.Kind == Bench:
					add(job.DidBegin, it.Step, it.From)
					if it.From.Before(cut) && it.To.After(cut) {
						return // half done: what is left is a guess
					}
					add(job.DidFinish, it.Step, it.To)
				case it.Kind == ClampsOff:
					if it.From.Before(cut) && it.To.After(cut) {
						return
					}
					add(job.DidUnclamp, it.Step, it.To)
				}
				if it.Kind == Bench && it.From.Before(cut) && it.To.After(cut) {
					return
				}
			}
			job.SortEntries(c.Log)
			logged.Jobs = append(logged.Jobs, &c)
		}
		q := makeRandom(t, &logged, cut)
		if q == nil {
			t.Fatalf("followed to the letter until %s, there is no plan any more", cut)
		}
		if len(q.Items) == 0 {
			return
		}
		if p.Proved && q.Proved {
			compared++
			if finishOf(q).After(finishOf(p)) {
				t.Fatalf("followed until %s it finishes %s, planned was %s\n%s\n%s", cut, finishOf(q), finishOf(p), Text(p, 90, sh.Units), Text(q, 90, sh.Units))
			}
		}
	})
	if compared == 0 {
		t.Error("nothing was compared")
	}
}

// Whatever the log says, in whatever order, there is an answer: a plan that
// holds, or why there is none.
func TestRandomLogs(t *testing.T) {
	dids := []string{job.DidBegin, job.DidClamp, job.DidUnclamp, job.DidFinish, job.DidAside, job.DidResume, job.DidUndo, job.DidAir, job.DidNote}
	rapid.Check(t, func(t *rapid.T) {
		sh, now := randomShop(t)
		for _, j := range sh.Jobs {
			for k := rapid.IntRange(0, 8).Draw(t, "entries"); k > 0; k-- {
				e := job.Entry{
					ID: fmt.Sprintf("e%d", k), File: fmt.Sprintf("e%d.md", k), Machine: rapid.SampledFrom([]string{"shop", "phone"}).Draw(t, "machine"),
					Time: now.Add(time.Duration(rapid.IntRange(-3000, 30).Draw(t, "ago")) * time.Minute),
					Did:  rapid.SampledFrom(dids).Draw(t, "did"),
				}
				switch e.Did {
				case job.DidUndo:
					e.Entry = fmt.Sprintf("e%d", rapid.IntRange(1, 8).Draw(t, "undone"))
				case job.DidAir:
				default:
					e.Step = j.Steps[rapid.IntRange(0, len(j.Steps)-1).Draw(t, "step")].ID
				}
				if e.Did == job.DidAir || e.Did == job.DidClamp {
					air := measure.InCelsius(float64(rapid.IntRange(5, 25).Draw(t, "air")))
					e.Air = &air
				}
				if e.Did == job.DidClamp && rapid.Bool().Draw(t, "told") {
					e.Clamps = map[string]int{"bar": rapid.IntRange(1, 12).Draw(t, "held")}
				}
				j.Log = append(j.Log, e)
			}
			job.SortEntries(j.Log)
		}
		if p := makeRandom(t, sh, now); p != nil {
			if err := wellFormed(DaySheet(p, SheetOptions{})); err != nil {
				t.Fatal(err)
			}
			Calendar(p, CalendarOptions{Shop: sh.Name})
		}
		n, err := At(sh, now, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range n.CanDo {
			for _, b := range n.Blocked {
				if c.Job == b.Job && c.Step == b.Step {
					t.Fatalf("%s can be done, and is blocked by %q", c.Step, b.By)
				}
			}
		}
	})
}
