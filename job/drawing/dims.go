package drawing

import (
	"fmt"
	"html"
	"math"

	"caul/job/lines"
	"caul/job/measure"
)

// textWidth is about how wide a label is drawn.
func textWidth(s string) float64 { return 6.1 * float64(len([]rune(s))) }

// chainX draws the chain of dimensions below a view, then the whole length
// below the chain. A label that does not fit between its ticks drops to a row
// of its own under a leader that goes round the labels above it, and stays
// between the lines that come down from the corners: nothing crosses a label.
func (d *drawer) chainX(v *view, xs []measure.Length) float64 {
	y := v.py(0) + dimStep
	if len(xs) > 0 {
		at := append(append([]measure.Length{0}, xs...), v.w)
		for _, x := range at {
			d.line("dim", v.px(x), v.py(0)+3, v.px(x), y+3)
		}
		d.line("dim", v.px(0), y, v.px(v.w), y)
		rows := []float64{math.Inf(-1), math.Inf(-1)} // right end of each row's last label
		deepest := 0
		for i := 0; i+1 < len(at); i++ {
			a, b := v.px(at[i]), v.px(at[i+1])
			d.tick(a, y)
			t := d.len(at[i+1] - at[i])
			w := textWidth(t)
			mid, row := (a+b)/2, 0
			x, lead := mid, mid // middle of the label, foot of the leader
			if w+4 > b-a {
				x = min(max(mid, v.px(0)+w/2+3), v.px(v.w)-w/2-3)
				if w+6 > v.px(v.w)-v.px(0) {
					x = v.px(v.w) + w/2 + 3 // a part shorter than its label: beside it
				}
				for row = 1; row < len(rows) && x-w/2 < rows[row]+5; row++ {
					lead = max(lead, rows[row]+2)
				}
				lead = max(lead, x-w/2+2)
			}
			if row == len(rows) {
				rows = append(rows, 0)
			}
			rows[row] = x + w/2
			for r := 1; r < row; r++ {
				rows[r] = lead // the leader comes down through it
			}
			ty := y - 3
			if row > 0 {
				ty = y + 12*float64(row)
				deepest = max(deepest, row)
				d.path(mid, y, lead, y+2.5, ty-8.5)
			}
			d.label(x, ty, t)
		}
		d.tick(v.px(v.w), y)
		y += dimStep + 12*float64(deepest)
	}
	d.line("dim", v.px(0), v.py(0)+3, v.px(0), y+3)
	d.line("dim", v.px(v.w), v.py(0)+3, v.px(v.w), y+3)
	d.line("dim", v.px(0), y, v.px(v.w), y)
	d.tick(v.px(0), y)
	d.tick(v.px(v.w), y)
	t := d.len(v.w)
	x := (v.px(0) + v.px(v.w)) / 2
	if w := textWidth(t); w+2 > v.px(v.w)-v.px(0) {
		x = v.px(v.w) + w/2 + 4 // narrower than its label: beside it
	}
	d.label(x, y-3, t)
	return y
}

// path is a leader: from a dimension to the side, and down to its label.
func (d *drawer) path(x, y, lead, turn, down float64) {
	if lead == x {
		d.line("dim", x, y, x, down)
		return
	}
	fmt.Fprintf(&d.b, `<path class="dim" d="M%s %sL%s %sV%s"/>`, num(x), num(y), num(lead), num(turn), num(down))
}

// label is a dimension's text.
func (d *drawer) label(x, y float64, t string) {
	w := textWidth(t)
	x = min(max(x, w/2+1), pageWidth-w/2-1)
	fmt.Fprintf(&d.b, `<text x="%s" y="%s" text-anchor="middle">%s</text>`, num(x), num(y), html.EscapeString(t))
}

func (d *drawer) tick(x, y float64) { d.line("dim", x-3, y+3, x+3, y-3) }

// chainY draws the chain of dimensions left of a view, turned to read from
// the right, and the whole height left of the chain.
func (d *drawer) chainY(v *view, ys []measure.Length) {
	x := v.x - 11
	if len(ys) > 0 {
		at := append(append([]measure.Length{0}, ys...), v.h)
		d.line("dim", x, v.py(0), x, v.py(v.h))
		for i, l := range at {
			d.line("dim", x-3, v.py(l), v.x-3, v.py(l))
			d.line("dim", x-3, v.py(l)+3, x+3, v.py(l)-3)
			if i+1 == len(at) {
				break
			}
			t := d.len(at[i+1] - l)
			if len(ys) > 0 && textWidth(t) <= float64(at[i+1]-l)*v.scale {
				d.turned(x-3, (v.py(l)+v.py(at[i+1]))/2, t)
			} else {
				if at[i+1] < v.h {
					d.small = append(d.small, fmt.Sprintf("%s: %s from the %s", v.name(), d.len(at[i+1]), v.low))
				}
			}
		}
		x -= 16
	}
	d.line("dim", x, v.py(0), x, v.py(v.h))
	for _, l := range []measure.Length{0, v.h} {
		d.line("dim", x-3, v.py(l), v.x-3, v.py(l))
		d.line("dim", x-3, v.py(l)+3, x+3, v.py(l)-3)
	}
	t := d.len(v.h)
	if textWidth(t) <= float64(v.h)*v.scale+10 {
		d.turned(x-3, (v.py(0)+v.py(v.h))/2, t)
	} else {
		d.small = append(d.small, fmt.Sprintf("%s: %s from the %s to the other side", v.name(), t, v.low))
	}
}

func (d *drawer) turned(x, y float64, t string) {
	fmt.Fprintf(&d.b, `<text transform="translate(%s %s) rotate(-90)" text-anchor="middle">%s</text>`, num(x), num(y), html.EscapeString(t))
}

// list writes the numbered lines below the views.
func (d *drawer) list(y float64) float64 {
	const width = 53 // characters of a line between the number and the right side
	for i, n := range d.notes {
		fmt.Fprintf(&d.b, `<circle class="badge" cx="10" cy="%s" r="7.5"/>`, num(y-3.8))
		d.text(10, y, "num", "middle", fmt.Sprint(i+1))
		for _, l := range lines.Wrap(n, width) {
			d.text(22, y, "", "", l)
			y += 14
		}
		y += 4
	}
	for _, n := range d.small {
		for _, l := range lines.Wrap(n, width) {
			d.text(22, y, "small", "", l)
			y += 13
		}
	}
	return y
}
