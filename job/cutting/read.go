package cutting

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"

	"caul/job"
	"caul/job/layout"
	"caul/job/measure"
)

// read turns the ordered cuts into sheets and steps.
func (m *maker) read(all []*attempt, trees []*sheetTree, strokes []stroke) {
	m.label(all, trees, strokes)
	var used, got float64
	bought := map[string]int{}
	for _, t := range trees {
		s := m.sheet(t, bought)
		used += float64(s.Length) * float64(max(1, s.Width))
		for _, p := range s.Placed {
			got += float64(p.L) * float64(max(1, p.W))
		}
		m.cut.Sheets = append(m.cut.Sheets, s)
	}
	if used > 0 {
		m.cut.Yield = got / used
	}
	for i := range strokes {
		m.step(strokes, i)
	}
	m.cut.Mark = mark(m.cut.Sheets)
	if len(strokes) > 0 {
		m.cut.Cautions = cautions
	}
}

// mark is six hex digits of the layout, by which a printed order of cuts is
// told from one that was worked out later.
func mark(sheets []Sheet) string {
	h := sha256.New()
	for i := range sheets {
		s := &sheets[i]
		fmt.Fprintln(h, s.Stock, s.Piece, s.Length, s.Width)
		for _, p := range s.Placed {
			fmt.Fprintln(h, p.Job, p.Part, p.N, p.Strip, p.X, p.Y, p.L, p.W)
		}
		for _, l := range s.Cuts {
			fmt.Fprintln(h, l)
		}
	}
	return hex.EncodeToString(h.Sum(nil))[:6]
}

// label names pieces in the order they come off, and counts the copies of a
// part.
func (m *maker) label(all []*attempt, trees []*sheetTree, strokes []stroke) {
	ids := map[string]string{}
	twice := map[string]bool{}
	for _, a := range all {
		for _, u := range a.kind.units {
			id, j := u.need.part.ID, u.need.job.ID
			if o, ok := ids[id]; ok && o != j {
				twice[id] = true
			}
			ids[id] = j
		}
	}
	count := map[*unit]int{}
	offcuts := 0
	name := func(p *piece) {
		k := p.sheet.kind
		switch {
		case p.unit >= 0:
			u := &k.units[p.unit]
			p.copy = count[u]
			count[u]++
			p.name = u.name(p.copy, twice[u.need.part.ID])
		case p.offcut():
			if m.keeps(k, p) {
				offcuts++
				p.name = fmt.Sprintf("offcut %d", offcuts)
			} else {
				p.name = "waste"
			}
		}
	}
	for _, t := range trees {
		t.name = formWord(t.kind.stock) + " " + strconv.Itoa(t.index+1)
		t.root.name = t.name
		if t.root.axis == layout.None {
			name(t.root)
		}
	}
	done := map[*piece]int{}
	for _, s := range strokes {
		p := s.from
		if p == nil {
			continue
		}
		letter := func(c *piece) {
			if c.axis == layout.None {
				name(c)
				return
			}
			n := 0
			for _, o := range p.segs {
				if o == c {
					break
				}
				if o.axis != layout.None {
					n++
				}
			}
			if p.depth == 0 {
				c.name = strconv.Itoa(p.sheet.index+1) + letters(n, 'A')
			} else if p.depth%2 == 1 {
				c.name = p.name + strconv.Itoa(n+1)
			} else {
				c.name = p.name + letters(n, 'a')
			}
		}
		letter(s.seg)
		done[p]++
		if done[p] == len(p.cuts) {
			for _, c := range p.segs[slices.Index(p.segs, s.seg)+1:] {
				letter(c)
			}
		}
	}
}

// letters counts A, B, ... Z, AA, AB.
func letters(n int, from byte) string {
	s := string(rune(int(from) + n%26))
	if n >= 26 {
		return letters(n/26-1, from) + s
	}
	return s
}

func (u *unit) name(copy int, withJob bool) string {
	s := u.need.part.ID
	n, of := u.first+copy, u.need.total
	if u.strips > 0 {
		n = u.first + copy/u.strips
	}
	if of > 1 {
		s += " " + strconv.Itoa(n)
	}
	if u.strips > 0 {
		s += fmt.Sprintf(" strip %d of %d", copy%u.strips+1, u.strips)
	}
	if withJob {
		s += " (" + u.need.job.ID + ")"
	}
	return s
}

// keeps says whether an offcut is worth keeping.
func (m *maker) keeps(k *kind, p *piece) bool {
	if form(k.stock) == formRod {
		return p.l >= m.keep[0]/2
	}
	if p.l < m.keep[0] || p.w < m.keep[1] {
		return false
	}
	return !p.spoiled()
}

// spoiled says that an offcut has a defect in it.
func (p *piece) spoiled() bool {
	if !p.fixed {
		return false
	}
	for _, d := range p.sheet.source.piece.Defects {
		if p.x < d[0].Length+d[2].Length && d[0].Length < p.x+p.l && p.y < d[1].Length+d[3].Length && d[1].Length < p.y+p.w {
			return true
		}
	}
	return false
}

func formWord(s *job.Stock) string {
	if form(s) == formRod {
		return "length"
	}
	return form(s)
}

// sheet reads one piece of stock back.
func (m *maker) sheet(t *sheetTree, bought map[string]int) Sheet {
	src, k := t.source, t.kind
	s := Sheet{Placed: []Placed{}, Offcuts: []Rect{}, Cuts: []Line{}, Label: strconv.Itoa(t.index + 1), Stock: src.stock.ID, Form: form(k.stock), Length: src.l, Width: src.w, Thick: src.thick,
		Trim: src.trim, Grain: grained(src.stock) && form(k.stock) != formRod}
	if src.piece == nil {
		bought[src.stock.ID]++
		s.Name = fmt.Sprintf("%s %s %d", src.stock.ID, formWord(k.stock), bought[src.stock.ID])
	} else {
		word := formWord(k.stock)
		if src.piece.Offcut {
			word = "offcut"
		}
		s.Name = fmt.Sprintf("%s %s %s", src.stock.ID, word, src.piece.ID)
		s.Piece, s.Where = src.piece.ID, src.piece.Where
		for _, d := range src.piece.Defects {
			s.Defects = append(s.Defects, Rect{X: d[0].Length, Y: d[1].Length, L: d[2].Length, W: d[3].Length})
		}
	}
	var got float64
	var walk func(p *piece)
	walk = func(p *piece) {
		r := Rect{X: p.x, Y: p.y, L: p.l, W: p.w, Name: p.name}
		switch {
		case p.unit >= 0:
			u := &k.units[p.unit]
			q := Placed{Job: u.need.job.ID, Part: u.need.part.ID, N: u.first + p.copy, Rect: r, Turned: p.turn, Note: u.note}
			if u.strips > 0 {
				q.N = u.first + p.copy/u.strips
				q.Strip, q.Strips = p.copy%u.strips+1, u.strips
			}
			s.Placed = append(s.Placed, q)
			got += float64(p.l) * float64(max(1, p.w))
		case p.axis == layout.None:
			r.Keep = p.name != "waste"
			s.Offcuts = append(s.Offcuts, r)
		}
		for i, c := range p.segs {
			if i < len(p.cuts) {
				s.Cuts = append(s.Cuts, m.line(p, c, p.cuts[i]))
			}
			walk(c)
		}
	}
	walk(t.root)
	m.trimLines(t, &s)
	slices.SortFunc(s.Cuts, func(a, b Line) int { return a.N - b.N })
	if a := float64(src.l) * float64(max(1, src.w)); a > 0 {
		s.Yield = got / a
	}
	return s
}

// line is the cut on the far side of a segment, along the middle of the kerf.
func (m *maker) line(p, c *piece, n int) Line {
	if p.axis == layout.AlongX {
		x := min(c.x+c.l+m.kerf/2, p.x+p.l)
		return Line{N: n, X1: x, X2: x, Y1: p.y, Y2: p.y + p.w}
	}
	y := min(c.y+c.w+m.kerf/2, p.y+p.w)
	return Line{N: n, X1: p.x, X2: p.x + p.l, Y1: y, Y2: y}
}

func (m *maker) trimLines(t *sheetTree, s *Sheet) {
	tr := t.source.trim
	if tr <= 0 {
		return
	}
	half := min(m.kerf/2, tr)
	x1, x2, y1, y2 := tr-half, s.Length-tr+half, tr-half, s.Width-tr+half
	for i, n := range t.trims {
		if n == 0 {
			continue
		}
		switch i {
		case 0:
			s.Cuts = append(s.Cuts, Line{N: n, X1: 0, X2: s.Length, Y1: y1, Y2: y1})
		case 1:
			s.Cuts = append(s.Cuts, Line{N: n, X1: 0, X2: s.Length, Y1: y2, Y2: y2})
		case 2:
			s.Cuts = append(s.Cuts, Line{N: n, X1: x1, X2: x1, Y1: 0, Y2: s.Width})
		case 3:
			s.Cuts = append(s.Cuts, Line{N: n, X1: x2, X2: x2, Y1: 0, Y2: s.Width})
		}
	}
}

// step reads one cut back.
func (m *maker) step(strokes []stroke, i int) {
	c := strokes[i]
	st := Step{N: i + 1, Sheet: c.sheet.index, Kind: Rip, Fence: c.size}
	if c.axis == layout.AlongX {
		st.Kind = Crosscut
	}
	st.SameAs = i > 0 && strokes[i-1].setting == c.setting
	if !st.SameAs {
		m.cut.Settings++
	}
	if c.from == nil {
		m.trimStep(&st, c)
	} else {
		m.cutStep(&st, c)
	}
	for _, o := range st.Out {
		st.Gives = append(st.Gives, o.words(m.units))
	}
	m.cut.Order = append(m.cut.Order, st)
}

func (m *maker) trimStep(st *Step, c stroke) {
	s := c.sheet
	st.Trim = true
	st.Piece = s.name
	side := [4]string{"near edge", "far edge", "left end", "right end"}[c.trim]
	o := Out{What: "waste", Name: "trim off the " + side, L: s.source.l, W: s.source.trim}
	if c.axis == layout.AlongX {
		o.L, o.W = s.source.trim, s.source.w
	}
	o.Rod = form(s.kind.stock) == formRod
	if c.trim == 3 && s.root.axis == layout.None {
		st.Out = append(st.Out, m.out(s.root)) // trimmed, it is the part
	}
	st.Out = append(st.Out, o)
	st.Note = m.reach(st, s.source.w)
	if s.source.trim < m.limit.Narrow && c.axis == layout.AlongY {
		st.Caution = narrowOff
	}
}

func (m *maker) cutStep(st *Step, c stroke) {
	p := c.from
	at := slices.Index(p.segs, c.seg)
	st.Piece = p.name
	if at > 0 {
		st.Piece = "rest of " + p.name
	}
	st.Out = append(st.Out, m.out(c.seg))
	rest := p.segs[at+1:]
	switch {
	case at+1 < len(p.cuts):
		o := Out{What: "rest", Name: "rest of " + p.name, L: p.l, W: p.w, Next: p.cuts[at+1], Rod: st.Out[0].Rod}
		if p.axis == layout.AlongX {
			o.L = p.x + p.l - rest[0].x
		} else {
			o.W = p.y + p.w - rest[0].y
		}
		st.Out = append(st.Out, o)
	case len(rest) > 0:
		st.Out = append(st.Out, m.out(rest[0]))
	}
	if c.seg.unit >= 0 && c.sheet.kind.units[c.seg.unit].fit {
		st.Note = "measure the place first, then cut"
	}
	if n := m.reach(st, p.w); n != "" {
		st.Note = join(append(nonEmpty(st.Note), n))
	}
	st.Caution = m.caution(st, c)
}

func nonEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

// out says what one piece that comes off is and where it goes.
func (m *maker) out(p *piece) Out {
	o := Out{Name: p.name, L: p.l, W: p.w, Next: p.first, Rod: form(p.sheet.kind.stock) == formRod}
	switch {
	case p.unit >= 0:
		o.What = "part"
	case p.axis != layout.None:
		o.What = "strip"
	case p.name == "waste":
		o.What = "waste"
	default:
		o.What = "offcut"
	}
	return o
}

// words says it in a line.
func (o *Out) words(u measure.Units) string {
	size := measure.Format(o.L, u)
	if !o.Rod {
		size += " x " + measure.Format(o.W, u)
	}
	switch o.What {
	case "part":
		return fmt.Sprintf("%s, %s", o.Name, size)
	case "strip":
		return fmt.Sprintf("%s, %s, to cut %d", o.Name, size, o.Next)
	case "rest":
		return fmt.Sprintf("%s, to cut %d", o.Name, o.Next)
	case "offcut":
		return fmt.Sprintf("%s, %s, keep", o.Name, size)
	}
	return fmt.Sprintf("%s, %s", o.Name, size)
}
