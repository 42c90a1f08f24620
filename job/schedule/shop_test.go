package schedule

import (
	"fmt"
	"math/rand/v2"
)

// shopShape steers the invented shop jobs that the tests generate.
type shopShape struct {
	steps      int
	tick       int64 // minutes a tick
	days       int
	jobs       int
	due        bool
	most       bool // with most lags
	setups     bool
	coldNights bool
}

// genShop invents a shop: one maker with evening and Saturday hours, clamps and
// a flat place; jobs of milling (may pause), glue-ups that keep clamps and a
// place until the maker takes them off, cures that are slow in the cold night,
// set-ups of a saw and a router, coats with a most lag.
func genShop(rng *rand.Rand, sh shopShape) *Problem {
	p := &Problem{Horizon: int64(sh.days) * 1440 / sh.tick}
	clamps := 4 + rng.IntN(5)
	p.Resources = []Resource{{"maker", 1}, {"clamps", clamps}, {"flat place", 1 + rng.IntN(2)}}
	tk := func(min int64) int64 { return (min + sh.tick - 1) / sh.tick }
	cal := Calendar{Name: "hours"}
	for d := 0; d < sh.days; d++ {
		base := int64(d) * 1440
		switch {
		case d%7 == 5:
			cal.Windows = append(cal.Windows, Window{tk(base + 540), tk(base + 540 + 180 + 60*rng.Int64N(2))})
		case rng.IntN(3) > 0:
			cal.Windows = append(cal.Windows, Window{tk(base + 1140), tk(base + 1140 + 90 + 30*rng.Int64N(2))})
		}
	}
	if len(cal.Windows) == 0 {
		cal.Windows = append(cal.Windows, Window{tk(540), tk(720)})
	}
	p.Calendars = []Calendar{cal}
	if sh.setups {
		t := func() int64 { return tk(sh.tick * rng.Int64N(1+20/sh.tick)) }
		for k, name := range []string{"saw", "router"} {
			n := 2 + rng.IntN(2)
			s := Setup{Name: name, Initial: rng.IntN(n)}
			for a := 0; a < n; a++ {
				row := make([]int64, n)
				for b := range row {
					if a != b {
						row[b] = t()
					}
				}
				s.Change = append(s.Change, row)
			}
			p.Setups = append(p.Setups, s)
			_ = k
		}
	}
	curves := map[int64]*Curve{}
	cure := func(dose int64) *Curve { // dose in warm minutes
		if c := curves[dose]; c != nil {
			return c
		}
		// air: full speed by day, slow in the evening, next to nothing at night
		rate := func(t int64) int64 {
			if !sh.coldNights {
				return 10
			}
			switch h := t * sh.tick % 1440 / 60; {
			case h < 7 || h >= 23:
				return 2
			case h < 10 || h >= 20:
				return 6
			}
			return 10
		}
		ready := make([]int64, p.Horizon)
		sum, end := int64(0), int64(0)
		for t := range ready {
			for ; sum < dose*10 && end < 4*p.Horizon; end++ {
				sum += rate(end) * sh.tick
			}
			ready[t] = max(end, int64(t))
			sum -= rate(int64(t)) * sh.tick
		}
		c, err := NewTableCurve(0, ready)
		if err != nil {
			panic(err)
		}
		curves[dose] = c
		return c
	}
	hands := []Need{{0, 1}}
	step := func(name string, min int64) int {
		p.Activities = append(p.Activities, Activity{Name: fmt.Sprintf("%s %d", name, len(p.Activities)), Work: tk(min), Needs: hands})
		return len(p.Activities) - 1
	}
	after := func(i, j int) { p.Lags = append(p.Lags, Lag{From: i, FromEnd: true, To: j}) }
	jobs := max(sh.jobs, 1)
	for j := 0; j < jobs; j++ {
		first := len(p.Activities)
		want := sh.steps * (j + 1) / jobs
		var loose []int // steps nothing waits for yet
		take := func() int {
			k := rng.IntN(len(loose))
			i := loose[k]
			loose = append(loose[:k], loose[k+1:]...)
			return i
		}
		for len(p.Activities) < want {
			switch kind := rng.IntN(10); {
			case kind < 5 || len(loose) == 0: // mill
				i := step("mill", 15+15*rng.Int64N(5))
				p.Activities[i].Split = rng.IntN(2) == 0
				if sh.setups && rng.IntN(3) > 0 {
					k := rng.IntN(2)
					p.Activities[i].States = []State{{k, rng.IntN(len(p.Setups[k].Change))}}
					if rng.IntN(6) == 0 {
						p.Activities[i].States = append(p.Activities[i].States, State{1 - k, rng.IntN(len(p.Setups[1-k].Change))})
					}
				}
				if len(loose) > 0 && rng.IntN(2) == 0 {
					after(take(), i)
				}
				loose = append(loose, i)
			case kind < 8 && len(p.Activities)+2 <= want: // glue-up
				g := step("glue", 15+15*rng.Int64N(3))
				for n := 1 + rng.IntN(2); n > 0 && len(loose) > 0; n-- {
					after(take(), g)
				}
				off := step("clamps off", 15)
				h := []Hold{{1, 1 + rng.IntN(clamps), off}}
				if rng.IntN(2) == 0 {
					h = append(h, Hold{2, 1, off})
				}
				p.Activities[g].Holds = h
				p.Lags = append(p.Lags, Lag{From: g, FromEnd: true, To: off, Curve: cure(30 + 30*rng.Int64N(4))})
				if len(p.Activities) < want {
					m := step("trim", 15+15*rng.Int64N(3))
					after(off, m)
					p.Lags = append(p.Lags, Lag{From: g, FromEnd: true, To: m, Curve: cure(240 * (1 + rng.Int64N(4)))})
					loose = append(loose, m)
				} else {
					loose = append(loose, off)
				}
			default: // two coats
				a := step("coat", 15)
				after(take(), a)
				b := a
				if len(p.Activities) < want {
					b = step("second coat", 15)
					l := Lag{From: a, FromEnd: true, To: b, Min: tk(120)}
					if sh.most {
						l.HasMax, l.Max = true, tk(1440*(2+rng.Int64N(3)))
					}
					p.Lags = append(p.Lags, l)
				}
				loose = append(loose, b)
			}
		}
		pr := Project{Name: fmt.Sprintf("job %d", j)}
		for i := first; i < len(p.Activities); i++ {
			pr.Members = append(pr.Members, i)
		}
		if sh.due && rng.IntN(3) > 0 {
			pr.Due, pr.Weight = 1+rng.Int64N(p.Horizon/2), 1+rng.Int64N(3)
		}
		p.Projects = append(p.Projects, pr)
	}
	return p
}

// genOdd invents a tiny problem that uses every part of the model at random:
// several calendars, work under way, start-dependent durations, lags of all
// kinds, holds of anything, set-ups.
func genOdd(rng *rand.Rand) *Problem {
	p := &Problem{Horizon: 30 + rng.Int64N(30)}
	p.Resources = []Resource{{"maker", 1}, {"clamps", 2 + rng.IntN(3)}, {"place", 1}}
	for c := 0; c < 2; c++ {
		cal := Calendar{Name: fmt.Sprint("hours ", c)}
		for t := rng.Int64N(6); t < p.Horizon; {
			w := 3 + rng.Int64N(8)
			cal.Windows = append(cal.Windows, Window{t, t + w})
			t += w + rng.Int64N(8)
		}
		p.Calendars = append(p.Calendars, cal)
	}
	curve := func() *Curve {
		v := make([]int64, 10+rng.IntN(50))
		ready := rng.Int64N(6)
		for t := range v {
			ready = max(ready, int64(t))
			v[t] = ready
			ready += rng.Int64N(3)
		}
		c, err := NewTableCurve(0, v)
		if err != nil {
			panic(err)
		}
		return c
	}
	if rng.IntN(2) == 0 {
		for k := 0; k < 1+rng.IntN(2); k++ {
			n := 2 + rng.IntN(2)
			s := Setup{Name: fmt.Sprint("setup ", k), Initial: rng.IntN(n)}
			for a := 0; a < n; a++ {
				row := make([]int64, n)
				for b := range row {
					if a != b {
						row[b] = rng.Int64N(4)
					}
				}
				s.Change = append(s.Change, row)
			}
			p.Setups = append(p.Setups, s)
		}
	}
	n := 2 + rng.IntN(5)
	under := int64(-12)
	for i := 0; i < n; i++ {
		a := Activity{Name: fmt.Sprint("step ", i), Work: rng.Int64N(7), Calendar: rng.IntN(3) - 1, Split: rng.IntN(2) == 0}
		if rng.IntN(3) > 0 {
			a.Needs = append(a.Needs, Need{0, 1})
		}
		if rng.IntN(3) == 0 {
			a.Needs = append(a.Needs, Need{1, 1 + rng.IntN(2)})
		}
		if rng.IntN(5) == 0 {
			a.Release = rng.Int64N(10)
		}
		if rng.IntN(6) == 0 {
			a.Latest = 15 + rng.Int64N(p.Horizon)
		}
		if i > 0 && rng.IntN(4) == 0 {
			a.Holds = append(a.Holds, Hold{1 + rng.IntN(2), 1, rng.IntN(i)})
		}
		if len(a.Needs) > 0 && a.Needs[0].Resource == 0 && a.Work > 0 && len(p.Setups) > 0 && rng.IntN(3) > 0 {
			for k := range p.Setups {
				if rng.IntN(2) == 0 {
					a.States = append(a.States, State{k, rng.IntN(len(p.Setups[k].Change))})
				}
			}
		}
		if len(a.States) == 0 && rng.IntN(6) == 0 {
			a.Stretch, a.Calendar = curve(), Always
			a.Needs = nil
			if rng.IntN(2) == 0 {
				a.Needs = append(a.Needs, Need{1, 1})
			}
		}
		if i < 2 && rng.IntN(4) == 0 {
			s := under
			e := s + 3 + rng.Int64N(12)
			under = e
			a.Fixed, a.FixedEnd = &s, &e
			a.Stretch = nil
		}
		p.Activities = append(p.Activities, a)
	}
	for k := rng.IntN(n + 2); k > 0; k-- {
		l := Lag{From: rng.IntN(n), To: rng.IntN(n), FromEnd: rng.IntN(2) == 0, ToEnd: rng.IntN(3) == 0, Min: rng.Int64N(8) - 2}
		switch rng.IntN(4) {
		case 0:
			l.HasMax, l.Max = true, l.Min+rng.Int64N(12)
		case 1:
			l.Curve = curve()
		}
		if l.From > l.To && rng.IntN(4) > 0 {
			l.From, l.To = l.To, l.From
		}
		if l.From != l.To {
			p.Lags = append(p.Lags, l)
		}
	}
	for k := 0; k < 1+rng.IntN(2); k++ {
		pr := Project{Name: fmt.Sprint("job ", k), Weight: rng.Int64N(3)}
		if rng.IntN(2) == 0 {
			pr.Due = 5 + rng.Int64N(30)
		}
		for i := 0; i < n; i++ {
			if rng.IntN(2) == 0 {
				pr.Members = append(pr.Members, i)
			}
		}
		p.Projects = append(p.Projects, pr)
	}
	return p
}
