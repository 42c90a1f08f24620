package plan

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"
)

// SheetOptions steer DaySheet.
type SheetOptions struct {
	Width int    // in px, 0 is 720; under 480 it is drawn for a phone
	Title string // heads the sheet and names it for screen readers
	ID    string // prefix of the ids inside, "ds" unless given: one per drawing on a page
	Bare  bool   // leave the style element out: the page brings SheetCSS itself
	Days  bool   // a drawing for each day, to stand one under the other, for a page that is printed
	Jobs  []string
}

const (
	sheetLine = 16.0 // height of a line of text
	sheetHead = 30.0 // height of a day's heading
	bold      = 1.13 // how much wider bold type is
)

// sheet is one drawing being made.
type sheet struct {
	svgPen
	p       *Plan
	opts    SheetOptions
	id      string
	w       float64
	gut     float64 // left edge of the bench column
	benchTo float64 // its right edge
	laneW   float64
	items   []Item
	onChain map[int]bool // by index into items
	lanes   []int        // of each item, -1 for bench items
	from    time.Time
	to      time.Time
	open    []Stretch
	shut    []Day
	sc      *sheetScale
	names   map[string]string
}

// DaySheet draws the plan as SVG: time runs down the page, night is a dark
// band, shop hours are paper, and what runs by itself is a hatched column that
// goes on through the night. It is not to scale, and says so. The same plan
// gives the same bytes.
func DaySheet(p *Plan, opts SheetOptions) []byte {
	s := &sheet{p: p, opts: opts, id: opts.ID, w: float64(opts.Width), names: jobNames(p)}
	if s.id == "" {
		s.id = "ds"
	}
	if s.w <= 0 {
		s.w = 720
	}
	s.w = math.Max(s.w, 280)
	s.pick()
	if len(s.items) == 0 {
		return s.empty()
	}
	s.columns()
	s.scale()
	height := s.sc.pre[len(s.sc.pre)-1] + 96
	days := s.days(height)
	s.open0(height, days[0])
	s.bands()
	s.waits()
	s.bench()
	s.marks()
	s.legend(height - 62)
	s.pieces(days)
	return s.b.Bytes()
}

// pick chooses the items to draw and the time they span.
func (s *sheet) pick() {
	want := map[string]bool{}
	for _, j := range s.opts.Jobs {
		want[j] = true
	}
	chain := map[int]bool{}
	for _, l := range s.p.Chain {
		chain[l.Item] = true
	}
	s.onChain = map[int]bool{}
	for i, it := range s.p.Items {
		if len(want) > 0 && !want[it.Job] {
			continue
		}
		if it.To.Before(it.From) || (it.To.Equal(it.From) && it.Kind != Bench && it.Kind != ClampsOff) {
			continue
		}
		if chain[i] {
			s.onChain[len(s.items)] = true
		}
		s.items = append(s.items, it)
	}
	s.from, s.to = s.p.Now, s.p.Now
	for _, it := range s.items {
		s.to = later(s.to, it.To)
		if it.Started && s.p.Now.Sub(it.From) < 36*time.Hour {
			s.from = earlier(s.from, it.From)
		}
	}
	for i := range s.items {
		s.items[i].From = later(s.items[i].From, s.from)
	}
	for _, d := range s.p.Days {
		if len(d.Windows) == 0 {
			s.shut = append(s.shut, d)
		}
		for _, w := range d.Windows {
			w.From, w.To = later(w.From, s.from), earlier(w.To, s.to)
			if w.From.Before(w.To) {
				s.open = append(s.open, w)
			}
		}
	}
}

// columns gives every wait a lane of its own while it runs, and shares the
// width out.
func (s *sheet) columns() {
	s.gut = 52
	s.laneW = 27
	if s.w < 480 {
		s.gut, s.laneW = 46, 23
	}
	var free []time.Time // end of the last wait in each lane
	s.lanes = make([]int, len(s.items))
	for i, it := range s.items {
		s.lanes[i] = -1
		if it.Kind == Bench || it.Kind == ClampsOff {
			continue
		}
		lane := -1
		for k := range free {
			if !free[k].After(it.From) {
				lane = k
				break
			}
		}
		if lane < 0 {
			lane = len(free)
			free = append(free, time.Time{})
		}
		free[lane] = it.To
		s.lanes[i] = lane
	}
	if n := float64(len(free)); n > 0 {
		s.laneW = math.Min(s.laneW, (s.w-s.gut)*0.45/n)
		s.benchTo = s.w - 8 - n*s.laneW - 6
	} else {
		s.benchTo = s.w - 12
	}
}

// benchBox is one hands-on stretch with its lines of text.
type benchBox struct {
	item  int
	s     Stretch
	lines []string
	small int // lines from here on are in small type
}

func (s *sheet) boxes() []benchBox {
	var out []benchBox
	room := s.benchTo - s.gut - 18
	for i, it := range s.items {
		if s.lanes[i] >= 0 {
			continue
		}
		ss := stretches(it)
		prep := 0 // sessions that are set-up only
		for left := it.Change.Duration(); prep < len(ss)-1 && ss[prep].To.Sub(ss[prep].From) <= left; prep++ {
			left -= ss[prep].To.Sub(ss[prep].From)
		}
		for k, st := range ss {
			if st.To.Before(s.from) {
				continue
			}
			st.From = later(st.From, s.from)
			name := benchName(it)
			if k < prep {
				name = "Set up for: " + name
			} else if k > prep {
				name += " (taken up again)"
			} else if it.Started {
				name += " (under way)"
			}
			b := benchBox{item: i, s: st, lines: wrap(name, 13*bold, room, 2)}
			b.small = len(b.lines)
			sub := st.From.Format("15:04") + "–" + st.To.Format("15:04") + ", " + spanWords(st.To.Sub(st.From))
			if len(s.p.Jobs) > 1 && len(s.opts.Jobs) != 1 {
				sub += " · " + s.names[it.Job]
			}
			b.lines = append(b.lines, fit(sub, 12, room))
			if k == 0 && it.SetUp != "" {
				set := "set-up: " + it.SetUp
				if it.Change > 0 {
					set = fmt.Sprintf("set up %s (%s)", it.SetUp, it.Change)
				}
				b.lines = append(b.lines, wrap(set, 12, room, 2)...)
			}
			if k == 0 && !it.Latest.IsZero() {
				b.lines = append(b.lines, fit("begin by "+whenNear(it.Latest, it.From), 12, room))
			}
			out = append(out, b)
		}
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].s.From.Before(out[k].s.From) })
	return out
}

func (s *sheet) scale() {
	in := scaleInput{from: s.from, to: s.to, open: s.open, heads: map[time.Time]float64{}, top: s.top()}
	seen := map[date]bool{}
	for _, w := range s.open {
		if d := dateOf(w.From); !seen[d] {
			seen[d] = true
			in.heads[w.From.UTC()] = sheetHead
		}
	}
	in.marks = append(in.marks, s.p.Now)
	for _, it := range s.items {
		in.marks = append(in.marks, it.From, it.To)
		if !it.Earliest.IsZero() {
			in.marks = append(in.marks, it.Earliest)
		}
	}
	last := s.from
	for _, b := range s.boxes() {
		if b.s.From.Before(last) { // what is under way may overlap on paper
			continue
		}
		last = b.s.To
		in.needs = append(in.needs, need{b.s.From, b.s.To, float64(len(b.lines))*sheetLine + 10})
	}
	s.sc = newSheetScale(in)
}

// open0 writes the head of the drawing: names for screen readers, style,
// hatchings. Of its height shown is seen.
func (s *sheet) open0(height, shown float64) {
	title, desc := s.titles()
	place := ""
	if s.opts.Days {
		place = ` preserveAspectRatio="xMinYMin"` // a long day is drawn smaller, at the margin
	}
	s.f(`<svg xmlns="http://www.w3.org/2000/svg" class="ds" viewBox="0 0 %s %s" width="%s" height="%s"%s role="img" aria-labelledby="%s-t %s-d">`+"\n",
		px(s.w), px(shown), px(s.w), px(shown), place, xmlText(s.id), xmlText(s.id))
	s.f(`<title id="%s-t">%s</title>`+"\n", xmlText(s.id), xmlText(title))
	s.f(`<desc id="%s-d">%s</desc>`+"\n", xmlText(s.id), xmlText(desc))
	if !s.opts.Bare {
		s.f("<style>%s</style>\n", strings.ReplaceAll(strings.ReplaceAll(SheetCSS, "&", "&amp;"), "<", "&lt;"))
	}
	id := xmlText(s.id)
	s.f(`<defs>
<pattern id="%s-clamped" width="7" height="7" patternUnits="userSpaceOnUse"><path class="h-clamped" d="M-1 8L8 -1M-1 1L1 -1M6 8L8 6M-1 -1L8 8"/></pattern>
<pattern id="%s-cure" width="8" height="8" patternUnits="userSpaceOnUse"><path class="h-cure" d="M-1 9L9 -1M-1 1L1 -1M7 9L9 7"/></pattern>
<pattern id="%s-lag" width="8" height="8" patternUnits="userSpaceOnUse"><path class="h-lag" d="M2 2h0.1M6 6h0.1"/></pattern>
</defs>
`, id, id, id)
	if s.opts.Days {
		s.f(`<g id="%s-all" class="ds">`+"\n", id) // the class: a copy is styled by itself
	}
	s.rect("kraft", 0, 0, s.w, height)
	y := 30.0
	for _, l := range s.heading(title) {
		s.text("title", 12, y, l)
		y += 24
	}
	y -= 4
	for _, l := range s.under() {
		s.text("small", 12, y, l)
		y += sheetLine
	}
}

// heading and under are the lines above the drawing.
func (s *sheet) heading(title string) []string { return wrap(title, 19*bold, s.w-24, 3) }

func (s *sheet) under() []string {
	return append(wrap(provedWords(s.p), 12, s.w-24, 3), wrap("Not to scale: nights are drawn short and short jobs tall.", 12, s.w-24, 2)...)
}

// top is where time begins.
func (s *sheet) top() float64 {
	title, _ := s.titles()
	return 10 + 24*float64(len(s.heading(title))) + sheetLine*float64(len(s.under())) + 8
}

func (s *sheet) titles() (title, desc string) {
	title = s.opts.Title
	var fins []string
	for _, j := range s.p.Jobs {
		if j.Done || (len(s.opts.Jobs) > 0 && !contains(s.opts.Jobs, j.Job)) {
			continue
		}
		if j.Never {
			fins = append(fins, s.names[j.Job]+" has no finish yet")
			continue
		}
		fins = append(fins, s.names[j.Job]+" finishes "+when(j.Finish, s.p.Now))
	}
	if title == "" {
		title = "Day sheet from " + when(s.p.Now, s.p.Now)
		if len(fins) == 1 {
			title = fins[0]
		}
	}
	n, waits := 0, 0
	for i := range s.items {
		if s.lanes != nil && s.lanes[i] >= 0 {
			waits++
		} else {
			n++
		}
	}
	desc = fmt.Sprintf("Time runs down the page from %s to %s. %s at the bench, %s that run by themselves. %s.",
		when(s.from, s.p.Now), when(s.to, s.p.Now), count(n, "job"), count(waits, "wait"), strings.Join(fins, "; "))
	return title, desc
}

func contains(ss []string, s string) bool {
	for _, x := range ss {
		if x == s {
			return true
		}
	}
	return false
}

// bands draws night and shop hours with their headings.
func (s *sheet) bands() {
	left := s.gut
	y0, y1 := s.sc.begin(s.from), s.sc.end(s.to)
	s.rect("night", left, math.Min(y0, s.sc.end(s.from)), s.w-left-8, y1-math.Min(y0, s.sc.end(s.from)))
	seen := map[date]bool{}
	for _, w := range s.open {
		a, b := s.sc.begin(w.From), s.sc.end(w.To)
		s.rect("paper", left, a, s.w-left-8, b-a)
		d := dateOf(w.From)
		if !seen[d] {
			seen[d] = true
			top := s.sc.end(w.From)
			s.rect("head", left-1, top, s.w-left-6, a-top)
			s.dayHeading(d, w.From, top)
		}
		s.line("rule", left-4, a, s.w-6, a)
		s.line("rule", left-4, b, s.w-6, b)
		s.text("small", 4, b+4, clockTo(w.To, d))
	}
	for _, d := range s.shut {
		y := s.sc.begin(d.Date)
		if d.Date.Before(s.from) || d.Date.After(s.to) || y+14 > y1 {
			continue
		}
		t := dayWords(d.Date, s.p.Now) + ", shut"
		if d.Why != "" {
			t += ": " + d.Why
		}
		s.text("small dark", left+8, y+14, fit(t, 12, s.benchTo-left-12))
	}
}

func (s *sheet) dayHeading(d date, t time.Time, top float64) {
	head, short := dayWords(t, s.p.Now), dayWords(t, s.p.Now)
	for _, day := range s.p.Days {
		if dateOf(day.Date) != d {
			continue
		}
		var ws []string
		for _, w := range day.Windows {
			ws = append(ws, w.From.Format("15:04")+"–"+clockTo(w.To, d))
		}
		head += "   shop " + list(ws)
		short += "   " + strings.Join(ws, ", ")
		if day.Why != "" {
			head += ", " + day.Why
		}
	}
	if textWide(head, 14*bold) > s.w-16 {
		head = short
	}
	s.text("day", 8, top+21, fit(head, 14*bold, s.w-16))
}

// waits draws what runs by itself.
func (s *sheet) waits() {
	for i, it := range s.items {
		if s.lanes[i] < 0 {
			continue
		}
		x := s.benchTo + 6 + float64(s.lanes[i])*s.laneW + 2
		w := s.laneW - 4
		a, b := s.sc.begin(it.From), s.sc.end(it.To)
		pat, label := "clamped", it.Name+" in clamps"
		switch it.Kind {
		case Cure:
			pat, label = "cure", it.Name+" curing"
		case Wait:
			pat, label = "lag", it.Name
		}
		s.f("<g><title>%s</title>\n", xmlText(s.waitTitle(it)))
		s.rect("wait", x, a, w, b-a)
		s.f(`<rect x="%s" y="%s" width="%s" height="%s" fill="url(#%s-%s)"/>`+"\n", px(x), px(a), px(w), px(math.Max(b-a, 0)), xmlText(s.id), pat)
		s.ruled("edge", x, a, w, b-a)
		if it.Never {
			label += ", too cold to set"
		}
		if it.Kind == Clamped && !it.Earliest.IsZero() && it.Earliest.After(it.From) && !it.Earliest.After(it.To) {
			y := s.sc.end(it.Earliest)
			s.line("ready", x-3, y, x+w+3, y)
			label += ", off from " + whenNear(it.Earliest, it.From)
		}
		if w >= 13 {
			s.upright("up", x+w/2-4, a+6, fit(label, 12, b-a-10))
		}
		s.f("</g>\n")
	}
}

func (s *sheet) waitTitle(it Item) string {
	t := fmt.Sprintf("%s, %s from %s", it.Name, it.Kind, when(it.From, s.p.Now))
	if it.Never {
		t += "; too cold to set"
		if c := heldWords(s.p.shop, it.Clamps, it.Place); c != "" {
			t += "; " + c
		}
		return t
	}
	switch it.Kind {
	case Clamped:
		t += "; may come off " + when(it.Earliest, s.p.Now)
		if c := heldWords(s.p.shop, it.Clamps, it.Place); c != "" {
			t += "; " + c
		}
	case Cure:
		t += "; may be machined " + when(it.Earliest, s.p.Now)
	default:
		t = fmt.Sprintf("%s, from %s", it.Name, when(it.From, s.p.Now))
	}
	return t + "; ends " + when(it.To, s.p.Now)
}

// bench draws the hands-on stretches.
func (s *sheet) bench() {
	for _, b := range s.boxes() {
		it := s.items[b.item]
		a, e := s.sc.begin(b.s.From), s.sc.end(b.s.To)
		x, w := s.gut+4, s.benchTo-s.gut-8
		full := fmt.Sprintf("%s, %s to %s", benchName(it), when(b.s.From, s.p.Now), whenNear(b.s.To, b.s.From))
		if it.Because != "" {
			full += "; " + it.Because
		}
		s.f("<g><title>%s</title>\n", xmlText(full))
		s.rect("job", x, a+1, w, e-a-2)
		s.ruled("edge", x, a+1, w, e-a-2)
		if s.onChain[b.item] {
			s.rect("chain", x+1, a+2, 4, e-a-4)
		}
		y := a + 15
		for k, l := range b.lines {
			if y > e-1 {
				break
			}
			class := "name"
			if k >= b.small {
				class = "small"
			}
			s.text(class, x+11, y, l)
			y += sheetLine
		}
		s.f("</g>\n")
		s.text("small", 4, a+13, b.s.From.Format("15:04"))
	}
}
