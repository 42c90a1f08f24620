package cutting

import (
	"fmt"
	"regexp"
	"strings"

	"caul/job/lines"
	"caul/job/measure"
)

// Text writes the layout and the order of cuts for a terminal width columns
// wide (at least 30), lengths in the given units. Cuts at one setting of the
// fence stand under one heading.
func Text(c *Cut, width int, u measure.Units) string {
	w := &writer{width: max(30, width)}
	f := func(l measure.Length) string { return measure.Format(l, u) }
	w.line(0, answerLine(c))
	if len(c.Sheets) > 0 {
		w.line(0, fmt.Sprintf("kerf %s (%s); %s of the stock used ends in parts", f(c.Kerf), c.KerfFrom, percent(c.Yield)))
	}
	for _, b := range c.Buy {
		if b.Price {
			w.line(0, fmt.Sprintf("buy %d x %s at %s, %s", b.Qty, b.Stock, b.Each, b.Cost))
		} else {
			w.line(0, fmt.Sprintf("buy %d x %s, no price", b.Qty, b.Stock))
		}
	}
	for _, a := range c.Already {
		w.line(0, fmt.Sprintf("left out: %d x %s (%s), %s", a.Qty, a.Part, a.Job, a.Why))
	}
	for i := range c.Sheets {
		s := &c.Sheets[i]
		w.blank()
		size := f(s.Length) + " x " + f(s.Width)
		if s.Form == formRod {
			size = f(s.Length)
		}
		from := "to buy"
		if s.Piece != "" {
			from = "on hand"
			if s.Where != "" {
				from += ", " + s.Where
			}
		}
		head := fmt.Sprintf("%s %s: %s, %s (%s), %s used", sheetWord(s), s.Label, s.Name, size, from, percent(s.Yield))
		w.line(0, head)
		for _, p := range group(s.Placed) {
			text := p.name + ", " + f(p.l) + " x " + f(p.w)
			if s.Form == formRod {
				text = p.name + ", " + f(p.l)
			}
			if p.turned && s.Grain {
				text += ", turned"
			}
			if p.note != "" {
				text += ", " + p.note
			}
			w.line(2, text)
		}
		for _, o := range s.Offcuts {
			if o.Keep {
				size := f(o.L)
				if s.Form != formRod {
					size += " x " + f(o.W)
				}
				w.line(2, fmt.Sprintf("%s, %s, keep", o.Name, size))
			}
		}
	}
	for _, p := range c.Panels {
		w.blank()
		w.line(0, p.Text)
	}
	w.order(c, u)
	if len(c.Sheets) > 0 {
		w.blank()
		w.line(0, fmt.Sprintf("layout %s: when it is cut, `caul cut %s --made %s` takes what was used out of stock.yaml and puts the offcuts in",
			c.Mark, strings.Join(c.Jobs, " "), c.Mark))
	}
	for _, x := range c.Unfit {
		w.blank()
		w.line(0, fmt.Sprintf("not laid out: %d x %s (%s): %s", x.Qty, x.Part, x.Job, x.Why))
		if x.Hint != "" {
			w.line(2, "hint: "+x.Hint)
		}
	}
	if len(c.Warn) > 0 {
		w.blank()
	}
	for _, x := range c.Warn {
		w.line(0, "note: "+x)
	}
	return w.b.String()
}

// Summary is the answer in a few lines: what is used, what is bought, how good
// the layout is, and what could not be laid out.
func Summary(c *Cut, width int, u measure.Units) string {
	w := &writer{width: max(30, width)}
	w.line(0, answerLine(c))
	for i := range c.Sheets {
		s := &c.Sheets[i]
		size := measure.Format(s.Length, u)
		if s.Form != formRod {
			size += " x " + measure.Format(s.Width, u)
		}
		w.line(2, fmt.Sprintf("%s %s: %s, %s, %s, %s used", sheetWord(s), s.Label, s.Name, size, plural(len(s.Placed), "part"), percent(s.Yield)))
	}
	for _, x := range c.Unfit {
		w.line(2, fmt.Sprintf("not laid out: %d x %s (%s): %s", x.Qty, x.Part, x.Job, x.Why))
	}
	return w.b.String()
}

func answerLine(c *Cut) string {
	n := len(c.Sheets)
	if n == 0 {
		return c.Answer
	}
	buy := 0
	for _, b := range c.Buy {
		buy += b.Qty
	}
	return fmt.Sprintf("%s of stock, %d to buy; %s", plural(n, "piece"), buy, c.Answer)
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func percent(f float64) string { return fmt.Sprintf("%.0f %%", f*100) }

func sheetWord(s *Sheet) string {
	if s.Form == formRod {
		return "length"
	}
	return s.Form
}

// order writes the cuts, settings as headings.
func (w *writer) order(c *Cut, u measure.Units) {
	if len(c.Order) == 0 {
		return
	}
	w.blank()
	w.line(0, fmt.Sprintf("order of cuts: %s, %s of fence and stop", plural(len(c.Order), "cut"), plural(c.Settings, "setting")))
	for _, s := range c.Cautions {
		w.line(2, "! "+s)
	}
	for i := 0; i < len(c.Order); {
		st := &c.Order[i]
		if !st.SameAs {
			w.blank()
			word := "rip, fence"
			if st.Kind == Crosscut {
				word = "crosscut, stop"
			}
			w.line(0, word+" "+measure.FormatUnit(st.Fence, u))
			if n := commonNote(c.Order[i:]); n != "" {
				w.line(2, n)
			}
			for _, s := range shared(c.Order[i:]) {
				w.line(2, "! "+s)
			}
		}
		var gives []string
		for k := range st.Out {
			gives = append(gives, st.Out[k].words(u))
		}
		w.hang(fmt.Sprintf("%4d  ", st.N), st.Piece+": "+strings.Join(gives, "; "))
		head := head(c.Order, i)
		if st.Note != "" && st.Note != commonNote(c.Order[head:]) {
			w.hang("      ", st.Note)
		}
		for _, s := range split(st.Caution) {
			if !contains(shared(c.Order[head:]), s) {
				w.hang("      ! ", s)
			}
		}
		i++
	}
}

// head is where the setting of cut i begins.
func head(order []Step, i int) int {
	for i > 0 && order[i].SameAs {
		i--
	}
	return i
}

// run is the cuts at the setting that begins the list.
func run(order []Step) []Step {
	n := 1
	for n < len(order) && order[n].SameAs {
		n++
	}
	return order[:n]
}

func split(s string) []string {
	if s == "" {
		return nil
	}
	return strings.Split(s, "; ")
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// shared is the cautions that all cuts at one setting carry.
func shared(order []Step) []string {
	r := run(order)
	var out []string
	for _, s := range split(r[0].Caution) {
		all := true
		for _, o := range r {
			all = all && contains(split(o.Caution), s)
		}
		if all {
			out = append(out, s)
		}
	}
	return out
}

func commonNote(order []Step) string {
	r := run(order)
	for _, o := range r {
		if o.Note != r[0].Note {
			return ""
		}
	}
	return r[0].Note
}

// batch is parts of one kind on a sheet.
type batch struct {
	name   string
	l, w   measure.Length
	turned bool
	note   string
}

// group puts the copies of a part on one line.
func group(placed []Placed) []batch {
	var out []batch
	count := map[string]int{}
	key := func(p *Placed) string { return fmt.Sprint(p.Job, "/", p.Part, p.L, p.W, p.Turned) }
	for i := range placed {
		count[key(&placed[i])]++
	}
	seen := map[string]bool{}
	for i := range placed {
		p := &placed[i]
		k := key(p)
		if seen[k] {
			continue
		}
		seen[k] = true
		name := p.Name
		if n := count[k]; n > 1 {
			name = fmt.Sprintf("%d x %s", n, p.Part)
			if p.Strips > 0 {
				name += " strip"
			}
		}
		out = append(out, batch{name, p.L, p.W, p.Turned, p.Note})
	}
	return out
}

// writer breaks lines between words.
type writer struct {
	b     strings.Builder
	width int
}

func (w *writer) blank() { w.b.WriteByte('\n') }

func (w *writer) line(indent int, s string) { w.hang(strings.Repeat(" ", indent), s) }

// hang writes s behind prefix, later lines indented as far. A number stays on
// the line of its unit.
func (w *writer) hang(prefix, s string) {
	var b strings.Builder
	lines.Hang(&b, prefix, numberUnit.ReplaceAllStringFunc(s, func(m string) string {
		return strings.ReplaceAll(m, " ", tie)
	}), w.width)
	w.b.WriteString(strings.ReplaceAll(b.String(), tie, " "))
}

// tie stands for a blank that no line may end at: a character for private use,
// which no name or note in a shop's files needs.
const tie = "\uE000"

// numberUnit is a number with its unit, or a share with the word it belongs to.
var numberUnit = regexp.MustCompile(`\d (% used|%|(mm|cm|m|in|ft|[A-Z]{3})\b)`)
