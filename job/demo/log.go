package demo

import (
	"path"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
)

// event is one log entry of the demo: who, when, what.
type event struct {
	at      time.Time
	machine string
	e       job.Entry
	undo    bool // taken back in the same minute, the mistake of a wrong tap
}

func air(c float64) *measure.Temperature {
	t := measure.InCelsius(c)
	return &t
}

func inches(text string) job.Dim {
	l, err := measure.ParseLength(text+" in", measure.Inches)
	if err != nil {
		return job.Dim{}
	}
	return job.Dim{Length: l, Set: true, Exact: true, Src: text + " in"}
}

func usd(text string) *measure.Money {
	m, err := measure.ParseMoney(text, "USD")
	if err != nil {
		return nil
	}
	return &m
}

func minutes(n int) measure.Span { return measure.Span(n) * measure.Minute }

func writeLogs(dir string, ss []session, now time.Time) error {
	logs := []struct {
		job    string
		events []event
	}{
		{"shooting-board", shootingBoard(before(ss, now, 100), before(ss, now, 20))},
		{"torsion-table", torsionTable(ss, now)},
		{"frame-spline", frameSpline(before(ss, now, 3))},
	}
	for _, l := range logs {
		for _, ev := range l.events {
			ev.e.Time = ev.at
			file, err := job.AddEntry(dir, l.job, ev.e, ev.machine)
			if err != nil {
				return err
			}
			if !ev.undo {
				continue
			}
			back := job.Entry{Time: ev.at, Did: job.DidUndo, Step: ev.e.Step, Entry: strings.TrimSuffix(path.Base(file), ".md"), Text: "Wrong button."}
			if _, err := job.AddEntry(dir, l.job, back, ev.machine); err != nil {
				return err
			}
		}
	}
	return nil
}

func shootingBoard(t, later []session) []event {
	return []event{
		{at: t[8].at(20), machine: "home", e: job.Entry{Did: job.DidNote, Text: "The saw leaves ends a hair out. A plane and a square fence take that off, and nothing has to be wide."}},
		{at: t[7].at(10), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "cut"}},
		{at: t[7].at(50), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "cut", Minutes: minutes(40), Text: "Base and deck from the big offcut, so nothing was bought for them."}},
		{at: t[7].at(52), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "base", Qty: 1}},
		{at: t[7].at(53), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "deck", Qty: 1}},
		{at: t[7].at(54), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "runway", Qty: 1}},
		{at: t[7].at(75), machine: "shop", e: job.Entry{Did: job.DidClamp, Step: "stack", Air: air(19), Clamps: map[string]int{"f-style": 8}, Minutes: minutes(20), Text: "Two brads, cut off short, kept it from sliding."}},
		{at: t[7].at(130), machine: "shop", e: job.Entry{Did: job.DidUnclamp, Step: "stack"}},
		{at: t[6].at(15), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "mill"}},
		{at: t[6].at(65), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "mill", Minutes: minutes(50), Text: "A snipe at one end of the maple; cut it off."}},
		{at: t[6].at(66), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "fence", Qty: 1}},
		{at: t[6].at(67), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "hook", Qty: 1}},
		{at: t[4].at(5), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "stack", Text: "Glue line closed all round."}},
		{at: t[4].at(10), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "groove"}},
		{at: t[4].at(45), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "groove", Minutes: minutes(35), Text: "Two passes. The second only dusted it."}},
		{at: t[4].at(65), machine: "shop", e: job.Entry{Did: job.DidClamp, Step: "hook", Air: air(18.5), Clamps: map[string]int{"f-style": 3}, Minutes: minutes(15)}},
		{at: t[4].at(120), machine: "shop", e: job.Entry{Did: job.DidUnclamp, Step: "hook"}},
		{at: t[2].at(5), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "hook"}},
		{at: t[2].at(10), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "fence"}},
		{at: t[2].at(55), machine: "shop", e: job.Entry{Did: job.DidRead, Check: "square", Five: []job.Dim{inches("0.534"), inches("0.522"), inches("15")},
			Text: "First five cuts. Out by more than I hoped; the fence moves at its far end."}},
		{at: t[2].at(85), machine: "shop", e: job.Entry{Did: job.DidRead, Check: "square", Five: []job.Dim{inches("0.527"), inches("0.526"), inches("15")},
			Text: "After one strip of paper behind the far end.", Pictures: photo("fence-square.png", "The fence against a square, light behind it")}},
		{at: t[2].at(95), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "fence", Minutes: minutes(85)}},
		{at: t[1].at(10), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "wax"}},
		{at: t[1].at(25), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "wax", Minutes: minutes(15), Text: "Runs like a drawer.", Pictures: photo("board-in-use.jpg", "A plane on the runway, the work against the fence")}},
		{at: t[1].at(30), machine: "shop", e: job.Entry{Did: job.DidRead, Check: "edge", Value: inches("0.0015"), Text: "Square and feeler gauge, three places, the worst."}},
		{at: later[0].at(15), machine: "shop", e: job.Entry{Did: job.DidRead, Check: "edge", Value: inches("0.0025"), Text: "A dry month; still inside."}},
	}
}

// torsionTable is in the middle of its build. The glue-up in the clamps was
// made this session when there has been time for it, else at the end of the
// one before, to stay clamped until somebody is there.
func torsionTable(ss []session, now time.Time) []event {
	var c time.Time
	s := ss
	if now.Before(s[0].to) && now.Sub(s[0].from) >= 90*time.Minute {
		c = now.Add(-45 * time.Minute)
	} else {
		if now.Before(s[0].to) {
			s = s[1:]
		}
		c = s[0].to.Add(-50 * time.Minute)
	}
	p := func(k int) session { return s[k] }
	return []event{
		{at: p(8).at(12), machine: "home", e: job.Entry{Did: job.DidBuy, Item: "birch-ply-1/2", Qty: 1, Paid: usd("68.00"), Text: "One sheet does both skins and every rib, says the layout."}},
		{at: p(8).at(14), machine: "home", e: job.Entry{Did: job.DidBuy, Item: "pva-d4", Qty: 1, Paid: usd("14.60")}},
		{at: p(7).at(8), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "cut"}},
		{at: p(7).at(88), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "cut", Minutes: minutes(80), Text: "The sheet measured 0.472 everywhere I put the caliper."}},
		{at: p(7).at(89), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "skin", Qty: 2}},
		{at: p(7).at(90), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "rib-long", Qty: 5}},
		{at: p(7).at(91), machine: "shop", e: job.Entry{Did: job.DidCut, Item: "rib-cross", Qty: 4}},
		{at: p(6).at(10), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "mill"}},
		{at: p(6).at(50), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "mill", Minutes: minutes(40)}},
		{at: p(6).at(60), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "laps"}},
		{at: p(6).at(100), machine: "shop", e: job.Entry{Did: job.DidAside, Step: "laps", Minutes: minutes(40), Text: "Long ribs done. The cross ribs can wait for better light."}},
		{at: p(5).at(15), machine: "shop", e: job.Entry{Did: job.DidResume, Step: "laps"}},
		{at: p(5).at(20), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "laps"}, undo: true},
		{at: p(5).at(48), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "laps", Minutes: minutes(33), Text: "Dry fit goes together with the heel of the hand."}},
		{at: p(4).at(12), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "grid"}},
		{at: p(4).at(44), machine: "shop", e: job.Entry{Did: job.DidClamp, Step: "grid", Air: air(19), Clamps: map[string]int{"f-style": 8}, Minutes: minutes(32), Text: "Diagonals within a sixty-fourth."}},
		{at: p(4).at(125), machine: "shop", e: job.Entry{Did: job.DidUnclamp, Step: "grid"}},
		{at: p(2).at(90), machine: "home", e: job.Entry{Did: job.DidNote, Step: "close", Private: true, Text: "Ask for a pair of hands for the upper skin. It is a lot of glue for one."}},
		{at: c.Add(-40 * time.Minute), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "grid", Text: "Hard, and no rock on the flat table."}},
		{at: c.Add(-36 * time.Minute), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "core"}},
		{at: c, machine: "shop", e: job.Entry{Did: job.DidClamp, Step: "core", Air: air(18), Clamps: map[string]int{"bar": 8, "f-style": 4}, Minutes: minutes(36),
			Text: "Squeeze-out even on both long sides.", Pictures: photo("core-in-clamps.jpg", "The grid on the lower skin, eight clamps over four cauls")}},
		{at: c.Add(34 * time.Minute), machine: "shop", e: job.Entry{Did: job.DidBegin, Step: "scrape"}},
		{at: c.Add(44 * time.Minute), machine: "shop", e: job.Entry{Did: job.DidFinish, Step: "scrape", Minutes: minutes(10)}},
	}
}

func frameSpline(t []session) []event {
	return []event{
		{at: t[0].at(25), machine: "home", e: job.Entry{Did: job.DidNote, Text: "Four frames promised. The jig has to be ready and proved a week before."}},
	}
}
