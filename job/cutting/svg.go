package cutting

import (
	"fmt"
	"html"
	"math"
	"strings"

	"github.com/mattn/go-runewidth"

	"caul/job/measure"
)

// SVGOptions say how a sheet is drawn.
type SVGOptions struct {
	Units measure.Units
	Lying bool   // length across the page instead of down it
	Width int    // of the drawing in user units; 0: 360, which is a phone's width at one unit a pixel
	ID    string // prefix of ids inside, so that several drawings can stand on one page; empty: "cut" and the sheet's label
	Bare  bool   // leave the style sheet out: the page that holds the drawing brings it (SVGStyle)
}

// SVGStyle is the drawing's style sheet: pencil on kraft paper, one accent.
// A page sets --cut-paper, --cut-part, --cut-ink, --cut-soft and --cut-accent on
// any element around it to have its own; without, the drawing follows the reader's light or dark setting, and prints black on
// white. Nothing is told by colour alone.
const SVGStyle = `.cut-sheet{--p:var(--cut-paper,#e3cfa8);--q:var(--cut-part,#f3e8d0);--i:var(--cut-ink,#2a2622);--s:var(--cut-soft,#574b3d);--a:var(--cut-accent,#9c2f16);font-family:ui-sans-serif,system-ui,"Helvetica Neue",Arial,sans-serif}
@media (prefers-color-scheme:dark){.cut-sheet{--p:var(--cut-paper,#2b2721);--q:var(--cut-part,#3b352c);--i:var(--cut-ink,#f0e6d2);--s:var(--cut-soft,#b5a88f);--a:var(--cut-accent,#ff9d7a)}}
@media print{.cut-sheet{--p:#ffffff;--q:#ffffff;--i:#000000;--s:#333333;--a:#000000}}
.cut-sheet .stock{fill:var(--p);stroke:none}
.cut-sheet .part{fill:var(--q);stroke:none}
.cut-sheet .pencil{fill:none;stroke:var(--i);stroke-width:1;stroke-linecap:round}
.cut-sheet .edge{fill:none;stroke:var(--i);stroke-width:1.6;stroke-linecap:round}
.cut-sheet .hatch{stroke:var(--s);stroke-width:.6}
.cut-sheet .saw{stroke:var(--a);stroke-width:1.1;stroke-dasharray:7 2 1.5 2}
.cut-sheet .grain{fill:none;stroke:var(--s);stroke-width:.9;stroke-linecap:round;stroke-linejoin:round}
.cut-sheet .dim{fill:none;stroke:var(--s);stroke-width:.7}
.cut-sheet text{fill:var(--i)}
.cut-sheet .size,.cut-sheet .note{fill:var(--s)}
.cut-sheet .badge{fill:var(--p);stroke:var(--a);stroke-width:1}
.cut-sheet .num{fill:var(--a);font-weight:600}
.cut-sheet .bad{fill:none;stroke:var(--i);stroke-width:1.2}
`

// SVG draws one piece of stock to scale: parts with their names and sizes,
// grain arrows, cuts with their numbers in the order, offcuts hatched, what is
// to be kept named. What does not fit into a part stands in a list below it,
// under a letter. A sheet that does not exist gives nil.
func SVG(c *Cut, sheet int, o SVGOptions) []byte {
	if sheet < 0 || sheet >= len(c.Sheets) {
		return nil
	}
	d := &drawing{c: c, s: &c.Sheets[sheet], o: o, total: 360}
	if o.Width > 0 {
		d.total = float64(o.Width)
	}
	if d.o.ID == "" {
		d.o.ID = "cut" + d.s.Label
	}
	d.draw()
	return []byte(d.b.String())
}

// drawing holds a sheet being drawn. Sheet coordinates (along, across) turn
// into the page's: lying, the length runs right and the near edge is at the
// bottom; else the same turned a quarter, the length running down and the near
// edge at the left.
type drawing struct {
	c       *Cut
	s       *Sheet
	o       SVGOptions
	b       strings.Builder
	total   float64
	scale   float64
	x0, y0  float64 // corner of the stock on the page
	w, h    float64 // size of the stock on the page
	wide    measure.Length
	taken   []box    // where text stands
	keys    []string // the list below the drawing
	letters int      // used as keys
	beside  bool
}

type box struct{ x, y, w, h float64 }

func (a box) hits(b box) bool {
	return a.x < b.x+b.w && b.x < a.x+a.w && a.y < b.y+b.h && b.y < a.y+a.h
}

func (d *drawing) f(l measure.Length) string { return measure.Format(l, d.o.Units) }

// rect gives a rectangle's place on the page.
func (d *drawing) rect(r Rect) box {
	x, y, l, w := float64(r.X)*d.scale, float64(r.Y)*d.scale, float64(r.L)*d.scale, float64(r.W)*d.scale
	if d.o.Lying {
		return box{d.x0 + x, d.y0 + d.h - y - w, l, w}
	}
	return box{d.x0 + y, d.y0 + x, w, l}
}

func (d *drawing) point(x, y measure.Length) (float64, float64) {
	b := d.rect(Rect{X: x, Y: y})
	return b.x, b.y
}

const (
	marginTop  = 44.0
	marginLeft = 30.0
	marginSide = 12.0
)

func (d *drawing) draw() {
	s := d.s
	d.wide = s.Width
	rod := s.Form == formRod
	room := d.total - marginLeft - marginSide
	long, wide := float64(s.Length), float64(max(1, s.Width))
	if d.o.Lying {
		d.scale = room / long
	} else {
		// upright: fill the width, but no taller than two and a half widths;
		// a narrow board stands beside its labels instead
		d.scale = min(room/wide, 2.2*d.total/long)
	}
	if rod { // drawn as a bar of a fixed thickness: only its length is to scale
		if !d.o.Lying {
			d.scale = 1.6 * d.total / long
		}
		d.wide = measure.Length(18 / d.scale)
		wide = float64(d.wide)
	}
	d.w, d.h = wide*d.scale, long*d.scale
	if d.o.Lying {
		d.w, d.h = d.h, d.w
	}
	d.x0, d.y0 = marginLeft, marginTop
	d.beside = !d.o.Lying && d.w < 0.42*room
	var body strings.Builder
	d.b, body = body, strings.Builder{}
	d.stock()
	for i := range s.Offcuts {
		d.offcut(d.thick(s.Offcuts[i]))
	}
	for i := range s.Placed {
		p := s.Placed[i]
		p.Rect = d.thick(p.Rect)
		d.part(&p)
	}
	for _, q := range s.Defects {
		d.defect(q)
	}
	for _, l := range s.Cuts {
		d.cut(l)
	}
	d.sizes()
	if s.Grain {
		d.grainNote()
	}
	foot := d.list()
	height := max(d.y0+d.h+14, foot)
	inner := d.b.String()
	d.b.Reset()
	d.head(height)
	d.b.WriteString(inner)
	d.b.WriteString("</svg>\n")
}

// thick gives a rod's parts the thickness it is drawn with.
func (d *drawing) thick(r Rect) Rect {
	if d.s.Form == formRod {
		r.Y, r.W = 0, d.wide
	}
	return r
}

func (d *drawing) head(height float64) {
	s := d.s
	title := fmt.Sprintf("Cutting %s: %s", sheetWord(s)+" "+s.Label, s.Name)
	var parts []string
	for _, p := range group(s.Placed) {
		size := d.f(p.l) + " by " + d.f(p.w)
		if s.Form == formRod {
			size = d.f(p.l)
		}
		parts = append(parts, p.name+", "+size)
	}
	desc := fmt.Sprintf("%s long with the grain and %s wide, %d cuts. Parts: %s.", measure.FormatUnit(s.Length, d.o.Units),
		measure.FormatUnit(s.Width, d.o.Units), len(s.Cuts), strings.Join(parts, "; "))
	for _, q := range s.Offcuts {
		if q.Keep {
			desc += fmt.Sprintf(" Keep %s, %s by %s.", q.Name, d.f(q.L), d.f(q.W))
		}
	}
	fmt.Fprintf(&d.b, `<svg xmlns="http://www.w3.org/2000/svg" class="cut-sheet" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-t %s-d">`,
		num(d.total), num(height), esc(d.o.ID), esc(d.o.ID))
	fmt.Fprintf(&d.b, `<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, esc(d.o.ID), esc(title), esc(d.o.ID), esc(desc))
	if !d.o.Bare {
		d.b.WriteString("<style>" + SVGStyle + "</style>")
	}
	fmt.Fprintf(&d.b, `<defs><pattern id="%s-h" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="7"/></pattern>`, esc(d.o.ID))
	fmt.Fprintf(&d.b, `<pattern id="%s-w" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="4"/><line class="hatch" x1="0" y1="0" x2="4" y2="0"/></pattern></defs>`, esc(d.o.ID))
	fmt.Fprintf(&d.b, `<text x="%s" y="15" font-size="13" font-weight="600">%s</text>`, num(2), esc(clip(sheetWord(s)+" "+s.Label+"  "+s.Name, d.total-6, 13)))
}

func (d *drawing) stock() {
	b := box{d.x0, d.y0, d.w, d.h}
	fmt.Fprintf(&d.b, `<rect class="stock" x="%s" y="%s" width="%s" height="%s"/>`, num(b.x), num(b.y), num(b.w), num(b.h))
	d.pencil(b, "edge", 3)
}

// pencil draws a rectangle as a drafter does, lines running past the corners.
func (d *drawing) pencil(b box, class string, past float64) {
	fmt.Fprintf(&d.b, `<path class="%s" d="M%s %sH%sM%s %sH%sM%s %sV%sM%s %sV%s"/>`, class,
		num(b.x-past), num(b.y), num(b.x+b.w+past), num(b.x-past), num(b.y+b.h), num(b.x+b.w+past),
		num(b.x), num(b.y-past), num(b.y+b.h+past), num(b.x+b.w), num(b.y-past), num(b.y+b.h+past))
}

func (d *drawing) offcut(r Rect) {
	b := d.rect(r)
	pattern := "w"
	if r.Keep {
		pattern = "h"
	}
	fmt.Fprintf(&d.b, `<rect x="%s" y="%s" width="%s" height="%s" fill="url(#%s-%s)"/>`, num(b.x), num(b.y), num(b.w), num(b.h), esc(d.o.ID), pattern)
	if r.Keep {
		d.label(b, r.Name+", keep", "", d.size(r.L, r.W), "note", true)
	}
}

func (d *drawing) size(l, w measure.Length) string {
	if d.s.Form == formRod {
		return d.f(l)
	}
	return d.f(l) + " × " + d.f(w)
}

func (d *drawing) part(p *Placed) {
	b := d.rect(p.Rect)
	fmt.Fprintf(&d.b, `<rect class="part" x="%s" y="%s" width="%s" height="%s"/>`, num(b.x), num(b.y), num(b.w), num(b.h))
	d.pencil(b, "pencil", 1.5)
	name := p.Name
	if p.Note == "measure, then cut" || strings.HasPrefix(p.Note, "measure, then cut;") {
		name += " (measure)"
	}
	kind := p.Part
	if p.Strips > 0 {
		kind += " strips"
	}
	d.label(b, name, kind, d.size(p.L, p.W), "size", false)
	if d.s.Grain {
		d.arrow(b)
	}
}

// label writes two lines into a box, or one, or up along it, or the name alone;
// what finds no room goes into the list below, a nameless box under a letter.
// kind is what the list calls parts of one size.
func (d *drawing) label(b box, name, kind, size, class string, backed bool) {
	for _, fs := range []float64{12, 10.5, 9} {
		nw, sw := textWidth(name, fs), textWidth(size, fs-1)
		switch {
		case max(nw, sw)+8 <= b.w && 2.3*fs+4 <= b.h:
			cx, cy := b.x+b.w/2, b.y+b.h/2
			d.back(backed, box{cx - max(nw, sw)/2 - 3, cy - 1.2*fs, max(nw, sw) + 6, 2.4 * fs})
			d.text(cx, cy-0.15*fs, fs, 0, "", name)
			d.text(cx, cy+0.95*fs, fs-1, 0, class, size)
			return
		case nw+sw+14 <= b.w && fs+4 <= b.h:
			cx, cy := b.x+b.w/2, b.y+b.h/2
			all := nw + 6 + sw
			d.back(backed, box{cx - all/2 - 3, cy - 0.65*fs, all + 6, 1.3 * fs})
			d.text(cx-all/2+nw/2, cy+0.35*fs, fs, 0, "", name)
			d.text(cx+all/2-sw/2, cy+0.35*fs, fs-1, 0, class, size)
			return
		case nw+sw+14 <= b.h && fs+4 <= b.w:
			cx, cy := b.x+b.w/2, b.y+b.h/2
			all := nw + 6 + sw
			d.back(backed, box{cx - 0.65*fs, cy - all/2 - 3, 1.3 * fs, all + 6})
			d.text(cx+0.35*fs, cy+all/2-nw/2, fs, -90, "", name)
			d.text(cx+0.35*fs, cy-all/2+sw/2, fs-1, -90, class, size)
			return
		}
	}
	if d.beside && b.h >= 9 {
		// the list beside the board, level with the part
		y := b.y + b.h/2 + 3.5
		x := d.x0 + d.w + 16
		text := name + "  " + size
		if !d.collides(box{x, y - 9, textWidth(text, 10.5), 12}) {
			fmt.Fprintf(&d.b, `<path class="dim" d="M%s %sH%s"/>`, num(b.x+b.w/2), num(y-3.5), num(x-3))
			d.textAt(x, y, 10.5, "start", "", text)
			d.taken = append(d.taken, box{x, y - 9, textWidth(text, 10.5), 12})
			return
		}
	}
	if nw := textWidth(name, 9); !backed && (nw+3 <= b.w && 11 <= b.h || nw+3 <= b.h && 11 <= b.w) {
		// the name alone, its size once in the list below
		turn, cx, cy := 0.0, b.x+b.w/2, b.y+b.h/2
		at := box{cx - nw/2, cy - 6, nw, 12}
		if nw+3 > b.w {
			turn, at = -90, box{cx - 6, cy - nw/2, 12, nw}
		}
		d.taken = append(d.taken, at)
		if turn == 0 {
			d.text(cx, cy+3.2, 9, 0, "", name)
		} else {
			d.text(cx+3.2, cy, 9, turn, "", name)
		}
		if text := kind + ", " + size; !contains(d.keys, text) {
			d.keys = append(d.keys, text)
		}
		return
	}
	key := strings.ToLower(letters(d.letters, 'A'))
	d.letters++
	d.keys = append(d.keys, key+": "+name+", "+size)
	fs := min(10, max(7.5, min(b.w, b.h)-1))
	cx, cy := b.x+b.w/2, b.y+b.h/2
	d.back(backed, box{cx - fs/2, cy - fs/2, fs, fs})
	d.text(cx, cy+0.35*fs, fs, 0, "", key)
}

func (d *drawing) collides(b box) bool {
	for _, t := range d.taken {
		if t.hits(b) {
			return true
		}
	}
	return false
}

func (d *drawing) back(on bool, b box) {
	d.taken = append(d.taken, b)
	if on {
		fmt.Fprintf(&d.b, `<rect class="stock" x="%s" y="%s" width="%s" height="%s"/>`, num(b.x), num(b.y), num(b.w), num(b.h))
	}
}

func (d *drawing) text(x, y, fs, turn float64, class, s string) {
	attr := ""
	if turn != 0 {
		attr = fmt.Sprintf(` transform="rotate(%s %s %s)"`, num(turn), num(x), num(y))
	}
	if class != "" {
		attr += ` class="` + class + `"`
	}
	fmt.Fprintf(&d.b, `<text x="%s" y="%s" font-size="%s" text-anchor="middle"%s>%s</text>`, num(x), num(y), num(fs), attr, esc(s))
}

func (d *drawing) textAt(x, y, fs float64, anchor, class, s string) {
	if class != "" {
		class = ` class="` + class + `"`
	}
	fmt.Fprintf(&d.b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s"%s>%s</text>`, num(x), num(y), num(fs), anchor, class, esc(s))
}

// arrow shows the grain in a part: a small double arrow along the sheet's
// length, where it does not cover the label.
func (d *drawing) arrow(b box) {
	const n = 18.0
	along, across := b.h, b.w
	if d.o.Lying {
		along, across = across, along
	}
	if along < n+8 || across < 12 {
		return
	}
	for _, at := range [][2]float64{{0.92, 0.9}, {0.08, 0.9}, {0.92, 0.1}, {0.08, 0.1}, {0.5, 0.88}, {0.5, 0.12}} {
		var x, y float64
		var a box
		if d.o.Lying {
			x, y = clamp(b.x+b.w*at[1], b.x+n/2+4, b.x+b.w-n/2-4), clamp(b.y+b.h*at[0], b.y+6, b.y+b.h-6)
			a = box{x - n/2 - 1, y - 4, n + 2, 8}
		} else {
			x, y = clamp(b.x+b.w*at[0], b.x+6, b.x+b.w-6), clamp(b.y+b.h*at[1], b.y+n/2+4, b.y+b.h-n/2-4)
			a = box{x - 4, y - n/2 - 1, 8, n + 2}
		}
		if d.collides(a) {
			continue
		}
		d.taken = append(d.taken, a)
		if d.o.Lying {
			fmt.Fprintf(&d.b, `<path class="grain" d="M%s %sh%sm-4 -2.5l4 2.5l-4 2.5m%s 0l-4 -2.5l4 -2.5"/>`, num(x-n/2), num(y), num(n), num(4-n+4))
		} else {
			fmt.Fprintf(&d.b, `<path class="grain" d="M%s %sv%sm-2.5 -4l2.5 4l2.5 -4m0 %sl-2.5 -4l-2.5 4"/>`, num(x), num(y-n/2), num(n), num(4-n+4))
		}
		return
	}
}

func clamp(v, lo, hi float64) float64 { return max(lo, min(v, hi)) }

func (d *drawing) defect(q Rect) {
	b := d.rect(q)
	fmt.Fprintf(&d.b, `<path class="bad" d="M%s %sL%s %sM%s %sL%s %s"/>`, num(b.x), num(b.y), num(b.x+b.w), num(b.y+b.h), num(b.x+b.w), num(b.y), num(b.x), num(b.y+b.h))
	fmt.Fprintf(&d.b, `<rect class="bad" x="%s" y="%s" width="%s" height="%s"/>`, num(b.x), num(b.y), num(b.w), num(b.h))
}

// cut draws a saw line and its number, at the end of the line that is free.
func (d *drawing) cut(l Line) {
	y1, y2 := l.Y1, l.Y2
	if d.s.Form == formRod {
		y1, y2 = 0, d.wide
	}
	ax, ay := d.point(l.X1, y1)
	bx, by := d.point(l.X2, y2)
	fmt.Fprintf(&d.b, `<line class="saw" x1="%s" y1="%s" x2="%s" y2="%s"/>`, num(ax), num(ay), num(bx), num(by))
	text := fmt.Sprint(l.N)
	fs := 9.0
	w := max(12, textWidth(text, fs)+5)
	var at box
	best := math.Inf(1)
	for _, t := range []float64{0.06, 0.94, 0.5, 0.25, 0.75, 0.12, 0.88, 0.36, 0.64, 0, 1} {
		x, y := ax+(bx-ax)*t, ay+(by-ay)*t
		b := box{x - w/2, y - 6, w, 12}
		hits := 0.0
		for _, o := range d.taken {
			if o.hits(b) {
				hits++
			}
		}
		if hits < best {
			best, at = hits, b
		}
		if hits == 0 {
			break
		}
	}
	if best > 0 { // no room along the line: smaller, and so less in the way
		fs, w = 7.5, max(9, textWidth(text, 7.5)+3)
		at = box{at.x + at.w/2 - w/2, at.y + 1.5, w, 9}
	}
	d.taken = append(d.taken, at)
	fmt.Fprintf(&d.b, `<rect class="badge" x="%s" y="%s" width="%s" height="%s" rx="%s"/>`, num(at.x), num(at.y), num(at.w), num(at.h), num(at.h/2))
	d.text(at.x+at.w/2, at.y+at.h/2+0.36*fs, fs, 0, "num", text)
}

// sizes writes the stock's own length and width along its edges.
func (d *drawing) sizes() {
	across, down := measure.FormatUnit(d.s.Width, d.o.Units), measure.FormatUnit(d.s.Length, d.o.Units)
	if d.o.Lying {
		across, down = down, across
	}
	y, x := d.y0-10, d.x0-10
	if !(d.s.Form == formRod && !d.o.Lying) {
		fmt.Fprintf(&d.b, `<path class="dim" d="M%s %sH%sM%s %sv6M%s %sv6"/>`, num(d.x0), num(y), num(d.x0+d.w), num(d.x0), num(y-3), num(d.x0+d.w), num(y-3))
		d.text(max(d.x0+d.w/2, textWidth(across, 10)/2+2), y-4, 10, 0, "size", across)
	}
	if !(d.s.Form == formRod && d.o.Lying) {
		fmt.Fprintf(&d.b, `<path class="dim" d="M%s %sV%sM%s %sh6M%s %sh6"/>`, num(x), num(d.y0), num(d.y0+d.h), num(x-3), num(d.y0), num(x-3), num(d.y0+d.h))
		d.text(x-4, d.y0+d.h/2, 10, -90, "size", down)
	}
}

// grainNote says once what the arrows mean.
func (d *drawing) grainNote() {
	x, y := d.total-56, 31.0
	if d.o.Lying {
		fmt.Fprintf(&d.b, `<path class="grain" d="M%s %sh18m-4 -2.5l4 2.5l-4 2.5m-10 0l-4 -2.5l4 -2.5"/>`, num(x), num(y-3.5))
	} else {
		fmt.Fprintf(&d.b, `<path class="grain" d="M%s %sv14m-2.5 -4l2.5 4l2.5 -4m0 -6l-2.5 -4l-2.5 4"/>`, num(x+14), num(y-13))
	}
	d.textAt(x+22, y, 10, "start", "size", "grain")
}

// list writes the parts that had no room, and gives where it ends.
func (d *drawing) list() float64 {
	y := d.y0 + d.h + 20
	if len(d.keys) == 0 {
		return y - 6
	}
	for _, k := range d.keys {
		d.textAt(marginLeft, y, 10.5, "start", "", clip(k, d.total-marginLeft-4, 10.5))
		y += 14
	}
	return y
}

// textWidth is a safe guess for the fonts a page may use.
func textWidth(s string, fs float64) float64 { return float64(runewidth.StringWidth(s)) * fs * 0.58 }

func clip(s string, w, fs float64) string {
	return runewidth.Truncate(s, max(4, int(w/(fs*0.58))), "…")
}

func esc(s string) string { return html.EscapeString(s) }

func num(f float64) string {
	s := fmt.Sprintf("%.1f", f)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}
