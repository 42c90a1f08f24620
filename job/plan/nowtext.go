package plan

import (
	"fmt"
	"strings"
	"time"

	"caul/job"
)

// NowText lays the answer to "what can I do now" out for a terminal of a width
// in columns; 0 is 80.
func NowText(n *Now, width int, _ job.Units) string {
	if width <= 0 {
		width = 80
	}
	pg := &page{width: max(width, 24), said: map[string]bool{}}
	head := when(n.At, n.At)
	if n.Open {
		head += ", in shop hours"
	} else if !n.Next.IsZero() {
		head += ", the shop is shut until " + whenNear(n.Next, n.At)
	} else {
		head += ", the shop is shut"
	}
	pg.put("", 0, head)
	pg.timers(n)
	pg.choices("On the bench", n, n.OnBench)
	can := "Can be done now"
	if n.For > 0 {
		can = fmt.Sprintf("Can be done in %s", n.For)
	}
	var fits, longer []Choice
	for _, c := range n.CanDo {
		if c.Fits {
			fits = append(fits, c)
		} else {
			longer = append(longer, c)
		}
	}
	pg.choices(can, n, fits)
	if len(fits) == 0 && len(n.OnBench) == 0 {
		pg.blank()
		pg.put("", 0, can+": nothing")
	}
	pg.choices("Ready, but does not fit", n, longer)
	pg.blocked(n)
	if len(n.Checks) > 0 {
		pg.blank()
		pg.put("", 0, "Readings due:")
		for _, c := range n.Checks {
			pg.put("  - ", 4, c.Text)
		}
	}
	if len(n.Doubts) > 0 {
		pg.blank()
		for _, d := range n.Doubts {
			pg.put("! ", 2, d)
		}
	}
	if !n.Finish.IsZero() {
		pg.blank()
		pg.put("", 0, "The plan finishes "+when(n.Finish, n.At))
	}
	return pg.b.String()
}

// blockedShown is how many blocked steps are worth telling.
const blockedShown = 6

func (pg *page) timers(n *Now) {
	if len(n.Timers) == 0 {
		return
	}
	pg.blank()
	pg.put("", 0, "Running by itself:")
	for _, t := range n.Timers {
		pg.put("  ~ ", 4, timerWords(n.shop, t, n.At))
	}
}

func timerWords(shop *job.Shop, t Timer, now time.Time) string {
	s := t.Name + ", " + string(t.Kind)
	switch left := t.Ready.Sub(now); {
	case t.Never || t.Ready.IsZero():
	case t.Kind == Clamped && left <= 0:
		s += ": may come off since " + whenNear(t.Ready, now)
	case t.Kind == Clamped:
		s += fmt.Sprintf(": may come off %s, in %s", whenNear(t.Ready, now), spanWords(left))
	case t.Kind == Cure:
		s += fmt.Sprintf(": may be machined %s, in %s", whenNear(t.Ready, now), spanWords(left))
	default:
		s += fmt.Sprintf(": until %s, in %s", whenNear(t.Ready, now), spanWords(left))
	}
	if c := heldWords(shop, t.Clamps, t.Place); c != "" {
		s += "; " + c
	}
	if t.Note != "" {
		s += "; " + t.Note
	}
	return s
}

func (pg *page) choices(head string, n *Now, cs []Choice) {
	if len(cs) == 0 {
		return
	}
	pg.blank()
	pg.put("", 0, head+":")
	for _, c := range cs {
		mark := "  - "
		if c.Helps {
			mark = "  * " // the finish hangs on it
		}
		s := c.Name
		if c.Takes > 0 {
			s += ", " + c.Takes.String()
		}
		s += " [" + c.Job + "/" + c.Step + "]"
		pg.put(mark, 4, s)
		if c.SetUp != "" {
			pg.put("      ", 8, "set-up: "+c.SetUp)
		}
		if c.Why != "" {
			pg.put("      ", 8, c.Why)
		}
		if !c.Latest.IsZero() {
			pg.put("      ", 8, "begin by "+whenNear(c.Latest, n.At))
		}
		for _, w := range c.Cautions {
			if !pg.said[w] { // once on a page is enough to read it
				pg.said[w] = true
				pg.put("      ! ", 8, w)
			}
		}
	}
}

func (pg *page) blocked(n *Now) {
	if len(n.Blocked) == 0 {
		return
	}
	pg.blank()
	pg.put("", 0, "Not yet:")
	for i, b := range n.Blocked {
		if i == blockedShown {
			pg.put("  - ", 4, fmt.Sprintf("and %d more after these", len(n.Blocked)-i))
			break
		}
		s := b.Name + ": " + b.By
		if !b.Until.IsZero() && !strings.Contains(b.By, whenNear(b.Until, n.At)) {
			s += ", until " + whenNear(b.Until, n.At)
		}
		pg.put("  - ", 4, s)
	}
}
