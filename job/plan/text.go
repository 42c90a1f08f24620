package plan

import (
	"fmt"
	"strings"
	"time"

	"github.com/mattn/go-runewidth"

	"caul/job"
	"caul/job/measure"
)

// page lays lines out for a terminal of a width in columns.
type page struct {
	b     strings.Builder
	width int
	said  map[string]bool // cautions that stand on the page already
}

// narrow terminals put the text below the time instead of beside it.
func (p *page) narrow() bool { return p.width < 60 }

// put writes text wrapped to the width, the first line after head, further
// lines indented by hang columns.
func (p *page) put(head string, hang int, text string) {
	col := runewidth.StringWidth(head)
	p.b.WriteString(head)
	empty := true // nothing of text is on this line yet
	for _, word := range strings.Fields(text) {
		w := runewidth.StringWidth(word)
		gap := 1
		if empty {
			gap = 0
		}
		if !empty && col+gap+w > p.width {
			p.b.WriteString("\n" + strings.Repeat(" ", hang))
			col, gap = hang, 0
		}
		if gap == 1 {
			p.b.WriteByte(' ')
		}
		p.b.WriteString(word)
		col += gap + w
		empty = false
	}
	p.b.WriteByte('\n')
}

func (p *page) blank() { p.b.WriteByte('\n') }

// pad fills text with spaces to a number of columns.
func pad(s string, n int) string {
	if w := runewidth.StringWidth(s); w < n {
		return s + strings.Repeat(" ", n-w)
	}
	return s
}

// Text lays the plan out for a terminal of a width in columns; 0 is 80. Under
// 60 columns the text stands below the times. Temperatures in it are already
// in the shop's scale, so the units change nothing yet.
func Text(p *Plan, width int, _ job.Units) string {
	if width <= 0 {
		width = 80
	}
	pg := &page{width: max(width, 24)}
	pg.put("", 0, "The plan from "+when(p.Now, p.Now))
	pg.blank()
	for _, j := range p.Jobs {
		pg.job(p, j)
	}
	pg.put("", 0, provedWords(p))
	for _, n := range p.Never {
		pg.put("! ", 2, n.What)
		pg.put("  ", 2, n.Change)
	}
	if p.SetUps > 0 {
		pg.put("", 0, count(p.SetUps, "change")+" of set-up")
	}
	pg.days(p)
	if len(p.Chain) > 0 {
		pg.blank()
		pg.put("", 0, "Why it finishes then and not earlier:")
		pg.chain(p)
	}
	if len(p.Helps) > 0 {
		pg.blank()
		pg.put("", 0, "What would help:")
		for _, h := range p.Helps {
			pg.put("  - ", 4, helpWords(p, h))
		}
	}
	if p.Helps != nil && len(p.Helps) == 0 && len(p.Items) > 0 {
		pg.blank()
		pg.put("", 0, "What would help: nothing that was tried. An hour more on any one day, more clamps or room, a faster glue, the heater on at night: with none of them alone does it finish earlier.")
	}
	if len(p.Warnings) > 0 {
		pg.blank()
		for _, w := range p.Warnings {
			pg.put("! ", 2, w)
		}
	}
	return pg.b.String()
}

// chain tells the chain, and what was done without a break in one line.
func (pg *page) chain(p *Plan) {
	n := 0
	for i := 0; i < len(p.Chain); i++ {
		k := i + 1
		for k < len(p.Chain) && p.Chain[k].Busy {
			k++
		}
		n++
		if k-i <= 3 {
			pg.put(fmt.Sprintf("%3d  ", n), 5, p.Chain[i].Text)
			continue
		}
		pg.put(fmt.Sprintf("%3d  ", n), 5, p.Chain[i].Text)
		var names []string
		for _, l := range p.Chain[i+1 : k] {
			names = append(names, benchName(p.Items[l.Item]))
		}
		n++
		last := p.Items[p.Chain[k-1].Item]
		pg.put(fmt.Sprintf("%3d  ", n), 5, fmt.Sprintf("until %s one thing after the other, without a break in the shop's hours: %s", when(last.To, p.Now), list(names)))
		i = k - 1
	}
}

func helpWords(p *Plan, h Help) string {
	s := fmt.Sprintf("%s: finishes %s", h.Change, when(h.Finish, p.Now))
	if h.Saves > 0 {
		s += fmt.Sprintf(", %s earlier", longWords(h.Saves))
	}
	if h.LessLate > 0 {
		s += fmt.Sprintf(", and the jobs are less late by %s together", longWords(h.LessLate))
	}
	if !h.Proved {
		s += " (or better)"
	}
	return s
}

func (pg *page) job(p *Plan, j JobPlan) {
	name := j.Name
	if name == "" {
		name = j.Job
	}
	switch {
	case j.Done:
		pg.put("", 2, name+": done")
		return
	case j.Never:
		text := name + ": no finish can be told"
		if j.HandsOn > 0 {
			text += fmt.Sprintf(", %s of handwork left", j.HandsOn)
		}
		pg.put("", 2, text)
		if !j.Due.IsZero() {
			pg.put("  ", 2, "due "+dayWords(j.Due, p.Now))
		}
		return
	case j.Finish.IsZero():
		pg.put("", 2, name+": no steps to plan yet")
		return
	case j.HandsOn == 0 && !j.Finish.After(p.Now):
		pg.put("", 2, name+": nothing in the plan")
		return
	default:
		text := fmt.Sprintf("%s: finishes %s", name, when(j.Finish, p.Now))
		if j.HandsOn > 0 {
			text += fmt.Sprintf(", %s of handwork left", j.HandsOn)
			if j.SettingUp > 0 {
				text += fmt.Sprintf(" and %s of setting up machines", j.SettingUp)
			}
		}
		pg.put("", 2, text)
	}
	if j.Late > 0 {
		pg.put("  ", 2, fmt.Sprintf("late by %s, due %s", longWords(j.Late), dayWords(j.Due, p.Now)))
	} else if !j.Due.IsZero() {
		pg.put("  ", 2, "in time, due "+dayWords(j.Due, p.Now))
	}
}

// provedWords says how good the finish is. Lateness comes before the finish, so
// with due dates the claim is about the plans that are no later.
func provedWords(p *Plan) string {
	if len(p.Items) == 0 {
		return "nothing left to plan"
	}
	if len(p.Never) > 0 {
		return "a glue does not set in this air; what does not wait for it is planned"
	}
	late, due := false, false
	for _, j := range p.Jobs {
		late = late || j.Late > 0
		due = due || !j.Due.IsZero() && !j.Done
	}
	switch {
	case p.Proved && late:
		return "proved: no plan is less late, and none of those finishes earlier"
	case p.Proved && due:
		return "proved: no plan that keeps the due dates finishes earlier"
	case p.Proved:
		return "proved: no plan finishes earlier"
	}
	of := "nothing can finish before "
	if late || due {
		of = "no plan that is as little late can finish before "
	}
	return fmt.Sprintf("at most %s from the earliest possible: %s%s", spanWords(p.Within), of, when(p.Earliest, p.Now))
}

// days writes the items by the date they begin on.
func (pg *page) days(p *Plan) {
	last := date{}
	for _, it := range p.Items {
		d := dateOf(it.From)
		if d != last {
			pg.blank()
			pg.dayHead(p, it.From, d)
			last = d
		}
		pg.item(p, it)
	}
}

func (pg *page) dayHead(p *Plan, t time.Time, d date) {
	head := dayWords(t, p.Now)
	for _, day := range p.Days {
		if dateOf(day.Date) != d {
			continue
		}
		if len(day.Windows) == 0 {
			head += ", shop shut"
		} else {
			var ws []string
			for _, w := range day.Windows {
				ws = append(ws, w.From.Format("15:04")+"-"+clockTo(w.To, d))
			}
			head += ", shop open " + list(ws)
		}
		if day.Why != "" {
			head += " (" + day.Why + ")"
		}
	}
	pg.put("", 2, head)
}

// clockTo writes a closing time; midnight at the end of the day is 24:00.
func clockTo(t time.Time, d date) string {
	if t.Hour() == 0 && t.Minute() == 0 && dateOf(t) == d.plus(1) {
		return "24:00"
	}
	return t.Format("15:04")
}

func (pg *page) item(p *Plan, it Item) {
	names := jobNames(p)
	title, notes := itemWords(p, it)
	if len(p.Jobs) > 1 {
		title += " [" + names[it.Job] + "]"
	}
	clock := it.From.Format("15:04") + "-" + whenNear(it.To, it.From)
	if it.Never {
		clock = it.From.Format("15:04") + "-" // it has no end
	}
	if pg.narrow() {
		mark := "  "
		if it.Kind != Bench && it.Kind != ClampsOff {
			mark = "~ "
		}
		pg.put(mark, 2, clock)
		pg.put("    ", 4, title)
		for _, n := range notes {
			pg.put("    ", 6, n)
		}
		return
	}
	mark := "  "
	if it.Kind != Bench && it.Kind != ClampsOff {
		mark = "~ " // runs by itself
	}
	if len(clock) > 12 { // ends on another day
		notes = append([]string{"until " + whenNear(it.To, it.From)}, notes...)
		clock = it.From.Format("15:04") + "-"
	}
	pg.put(mark+pad(clock, 12)+"  ", 16, title)
	for _, n := range notes {
		pg.put(strings.Repeat(" ", 16), 18, n)
	}
}

// setUpNotes say what is set for an item and how long that takes; what is on
// the machine already is told to be so, because it saves the time.
func setUpNotes(it Item) []string {
	if it.SetUp == "" {
		return nil
	}
	s := "set-up: " + it.SetUp
	if len(it.Settings) == 0 || !it.Settings[0].Sheet {
		switch {
		case it.Change > 0:
			s += fmt.Sprintf(" (change takes %s)", it.Change)
		case len(it.Settings) > 0 && it.Settings[0].Kept:
			s += " (as it stands)"
		}
		return []string{s}
	}
	var sum measure.Span
	for _, m := range it.Settings {
		sum += m.Takes
	}
	if len(it.Settings) == 1 {
		if it.Settings[0].Kept {
			return []string{s + " (as it stands)"}
		}
		return []string{s + fmt.Sprintf(" (%s)", sum)}
	}
	out := []string{s + fmt.Sprintf(" (%s of setting up in all)", sum)}
	for k, m := range it.Settings {
		what := settingWords(m.Tool, m.Set)
		if k > 0 && m.Machine != it.Settings[k-1].Machine || what == "" {
			what = strings.TrimSuffix(m.Machine+", "+what, ", ")
		}
		if m.Kept {
			out = append(out, what+": as it stands")
		} else {
			out = append(out, fmt.Sprintf("%s (%s)", what, m.Takes))
		}
	}
	return out
}

// setApart parts the sessions in which a machine is only set from those of the
// work, where the shop shuts between them.
func setApart(it Item) (set, work []Stretch) {
	left := it.Change.Duration()
	for k, s := range it.Sessions {
		if left <= 0 {
			return it.Sessions[:k], it.Sessions[k:]
		}
		left -= s.To.Sub(s.From)
		if left < 0 {
			return nil, it.Sessions
		}
	}
	return nil, it.Sessions
}

func stretchWords(p *Plan, ss []Stretch) string {
	out := make([]string, len(ss))
	for i, s := range ss {
		out[i] = when(s.From, p.Now) + "-" + s.To.Format("15:04")
	}
	return list(out)
}

// itemWords names an item and says what goes with it.
func itemWords(p *Plan, it Item) (title string, notes []string) {
	switch it.Kind {
	case ClampsOff:
		title = "Clamps off: " + it.Name
	case Clamped:
		title = it.Name + ": in clamps"
		if it.Never {
			notes = append(notes, "too cold to set; the clamps stay on")
		} else {
			notes = append(notes, "may come off "+whenNear(it.Earliest, it.From))
		}
		if c := heldWords(p.shop, it.Clamps, it.Place); c != "" {
			notes = append(notes, c)
		}
	case Cure:
		title = it.Name + ": curing"
		if it.Never {
			notes = append(notes, "too cold to set; not to be machined")
		} else {
			notes = append(notes, "may be machined "+whenNear(it.Earliest, it.From))
		}
	case Wait:
		title = it.Name
	default:
		title = it.Name
	}
	notes = append(notes, setUpNotes(it)...)
	if len(it.Sessions) > 1 {
		if set, work := setApart(it); len(set) > 0 {
			notes = append(notes, "the machine is set "+stretchWords(p, set)+", the work is done "+stretchWords(p, work))
		} else {
			notes = append(notes, "over "+count(len(it.Sessions), "session")+": "+stretchWords(p, it.Sessions))
		}
	}
	if it.Started {
		notes = append(notes, "under way")
	}
	if !it.Latest.IsZero() && it.Kind != Clamped && it.Kind != Cure {
		notes = append(notes, "begin by "+whenNear(it.Latest, it.From))
	}
	if it.Because != "" {
		notes = append(notes, it.Because)
	}
	return title, notes
}
