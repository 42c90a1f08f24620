package drawing

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// Paper is a size a template is printed on.
type Paper struct {
	Name string
	W, H float64 // mm
}

// The papers of the trade's printers.
var (
	A4     = Paper{"A4", 210, 297}         // ISO 216
	Letter = Paper{"Letter", 215.9, 279.4} // ANSI/ASME Y14.1, 8-1/2 by 11 in
)

// FindPaper gives the paper of a name.
func FindPaper(name string) (Paper, bool) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(p.Name, name) {
			return p, true
		}
	}
	return Paper{}, false
}

// On the page, in mm: a rim that no printer prints on, what neighbouring pages
// share, and the square by which the scale is checked.
const (
	rim     = 12.0
	overlap = 12.0
	foot    = 32.0
)

// Template writes a face of a part at full size as PDF, for pricking through
// and drilling: its outline, every cut on that face, a cross on the middle of
// every bore. The face is seen from outside, as the paper is laid on it, with
// its sides named. A part larger than the paper goes over several pages with
// marks to register them by; every page carries a square and a bar to check the
// printer's scale. The same part gives the same bytes.
func Template(w io.Writer, s *job.Shop, j *job.Job, p *job.Part, on job.Face, paper Paper) error {
	if on == "" {
		on = job.FaceTop
	}
	wide, high := faceSize(p, on)
	t := &template{paper: paper, u: s.Units.Length, w: wide.Millimetres(), h: high.Millimetres()}
	t.sides, t.on = sidesOf(on), string(on)
	t.mirror = on == job.FaceBack || on == job.EdgeFar || on == job.EndLeft
	if on == job.FaceTop || on == job.FaceBack {
		t.offs = proof.Offcuts(p)
	}
	t.square, t.bar, t.check = 25, 100, "The square is 25 mm and the bar 100 mm"
	if t.u.System == measure.Inches {
		t.square, t.bar, t.check = 25.4, 101.6, "The square is 1 in and the bar 4 in"
	}
	for _, v := range proof.Volumes(s, p) {
		if v.On == on || v.Through && opposite(v.On, on) {
			t.cuts = append(t.cuts, v)
		}
	}
	t.name = fmt.Sprintf("%s, %s: %s", j.Name, cmp.Or(p.Name, p.ID), on)
	t.size = fmt.Sprintf("%s x %s", measure.FormatUnit(wide, t.u), measure.FormatUnit(high, t.u))
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.W, Ht: paper.H}})
	// A fixed date and no producer's clock: the same part, the same bytes.
	pdf.SetCreationDate(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
	pdf.SetModificationDate(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
	pdf.SetCatalogSort(true)
	pdf.SetCompression(false)
	pdf.SetTitle(t.name, true)
	pdf.SetAutoPageBreak(false, 0)
	t.pdf, t.tr = pdf, pdf.UnicodeTranslatorFromDescriptor("")
	stepX, stepY := paper.W-2*rim-overlap, paper.H-2*rim-foot-overlap
	nx := max(1, int(math.Ceil((t.w-overlap)/stepX)))
	ny := max(1, int(math.Ceil((t.h-overlap)/stepY)))
	if nx*ny > 400 {
		return fmt.Errorf("%s would take %d pages", p.ID, nx*ny)
	}
	for iy := range ny {
		for ix := range nx {
			t.page(ix, iy, nx, ny, stepX, stepY)
		}
	}
	var b bytes.Buffer
	if err := pdf.Output(&b); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

func faceSize(p *job.Part, on job.Face) (w, h measure.Length) {
	x, y, z := p.Size[0].Length, p.Size[1].Length, p.Size[2].Length
	switch on {
	case job.EdgeNear, job.EdgeFar:
		return x, z
	case job.EndLeft, job.EndRight:
		return y, z
	}
	return x, y
}

func opposite(a, b job.Face) bool {
	pair := map[job.Face]job.Face{job.FaceTop: job.FaceBack, job.EdgeNear: job.EdgeFar, job.EndLeft: job.EndRight}
	return pair[a] == b || pair[b] == a
}

// sidesOf names the left, right, lower and upper side of a face seen from
// outside.
func sidesOf(on job.Face) [4]string {
	switch on {
	case job.FaceBack:
		return [4]string{"right end", "left end", "near edge", "far edge"}
	case job.EdgeNear:
		return [4]string{"left end", "right end", "back", "face"}
	case job.EdgeFar:
		return [4]string{"right end", "left end", "back", "face"}
	case job.EndLeft:
		return [4]string{"far edge", "near edge", "back", "face"}
	case job.EndRight:
		return [4]string{"near edge", "far edge", "back", "face"}
	}
	return [4]string{"left end", "right end", "near edge", "far edge"}
}

type template struct {
	pdf   *fpdf.Fpdf
	tr    func(string) string
	paper Paper
	u     measure.Units
	name  string
	on    string
	size  string
	w, h  float64
	cuts  []proof.Volume
	offs  []proof.Offcut

	sides       [4]string // left, right, lower, upper
	mirror      bool      // the face is seen from outside with its length running the other way
	square, bar float64   // the scale check, in mm
	check       string    // what they are
	ox          float64   // part's x at the left of the printed field
	oy          float64   // part's y at its lower side
}

// px and py put a place of the part, in mm along and across the face, on the
// page.
func (t *template) px(x float64) float64 {
	if t.mirror {
		x = t.w - x
	}
	return rim + x - t.ox
}
func (t *template) py(y float64) float64 { return t.paper.H - rim - foot - (y - t.oy) }

func (t *template) page(ix, iy, nx, ny int, stepX, stepY float64) {
	pdf := t.pdf
	pdf.AddPage()
	t.ox, t.oy = float64(ix)*stepX, float64(iy)*stepY
	fw, fh := t.paper.W-2*rim, t.paper.H-2*rim-foot
	pdf.ClipRect(rim, rim, fw, fh, false)
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetLineWidth(0.35)
	pdf.Rect(min(t.px(0), t.px(t.w)), t.py(t.h), t.w, t.h, "D")
	for _, o := range t.offs {
		pdf.Line(t.px(o.A[0].Millimetres()), t.py(o.A[1].Millimetres()), t.px(o.B[0].Millimetres()), t.py(o.B[1].Millimetres()))
	}
	t.name4(fw, fh)
	pdf.SetLineWidth(0.2)
	for i := range t.cuts {
		t.cut(&t.cuts[i])
	}
	pdf.ClipEnd()
	t.register(ix, iy, nx, ny)
	t.footer(ix, iy, nx, ny)
}

// name4 writes the names of the four sides just inside them, in the middle of
// what the page shows of each.
func (t *template) name4(fw, fh float64) {
	pdf := t.pdf
	pdf.SetFont("Helvetica", "", 7)
	l, r := max(0, t.ox), min(t.w, t.ox+fw)
	low, high := max(0, t.oy), min(t.h, t.oy+fh)
	if r-l < 16 || high-low < 6 {
		return
	}
	x := rim + (l+r)/2 - t.ox
	center := func(y float64, s string) { pdf.Text(x-pdf.GetStringWidth(s)/2, y, s) }
	if low == 0 {
		center(t.py(0)-1.2, t.sides[2])
	}
	if high == t.h {
		center(t.py(t.h)+3, t.sides[3])
	}
	y := t.py((low + high) / 2)
	turned := func(x, angle float64, s string) {
		if pdf.GetStringWidth(s) > high-low-8 {
			return
		}
		pdf.TransformBegin()
		pdf.TransformRotate(angle, x, y)
		pdf.Text(x-pdf.GetStringWidth(s)/2, y, s)
		pdf.TransformEnd()
	}
	if l == 0 {
		turned(rim-t.ox+3, 90, t.sides[0])
	}
	if r == t.w {
		turned(rim+t.w-t.ox-1.2, 90, t.sides[1])
	}
}

func (t *template) cut(v *proof.Volume) {
	u, w := v.Spans()
	x0, x1, y0, y1 := u[0].Millimetres(), u[1].Millimetres(), w[0].Millimetres(), w[1].Millimetres()
	if v.Ends != [2][2]measure.Length{} {
		t.slot(v)
		return
	}
	if !v.Round {
		t.pdf.Rect(min(t.px(x0), t.px(x1)), t.py(y1), x1-x0, y1-y0, "D")
		return
	}
	cx, cy, r := (x0+x1)/2, (y0+y1)/2, (x1-x0)/2
	t.pdf.Circle(t.px(cx), t.py(cy), r, "D")
	t.cross(cx, cy, r+3)
}

func (t *template) cross(x, y, k float64) {
	t.pdf.Line(t.px(x)-k, t.py(y), t.px(x)+k, t.py(y))
	t.pdf.Line(t.px(x), t.py(y)-k, t.px(x), t.py(y)+k)
}

// slot draws the sides and the round ends of a slot, and a cross on the middle
// of each end.
func (t *template) slot(v *proof.Volume) {
	a := [2]float64{v.Ends[0][0].Millimetres(), v.Ends[0][1].Millimetres()}
	b := [2]float64{v.Ends[1][0].Millimetres(), v.Ends[1][1].Millimetres()}
	r := v.Width().Millimetres() / 2
	for _, e := range [][2]float64{a, b} {
		t.pdf.Circle(t.px(e[0]), t.py(e[1]), r, "D")
		t.cross(e[0], e[1], r+3)
	}
	long := math.Hypot(b[0]-a[0], b[1]-a[1])
	if long == 0 {
		return
	}
	nx, ny := -(b[1]-a[1])/long*r, (b[0]-a[0])/long*r
	for _, k := range []float64{1, -1} {
		t.pdf.Line(t.px(a[0]+k*nx), t.py(a[1]+k*ny), t.px(b[0]+k*nx), t.py(b[1]+k*ny))
	}
}

// register draws crosses in the strip that neighbouring pages share: laid over
// one another, the crosses meet.
func (t *template) register(ix, iy, nx, ny int) {
	fw, fh := t.paper.W-2*rim, t.paper.H-2*rim-foot
	cross := func(x, y float64) {
		t.pdf.SetLineWidth(0.15)
		t.pdf.Line(x-4, y, x+4, y)
		t.pdf.Line(x, y-4, x, y+4)
		t.pdf.Circle(x, y, 2, "D")
	}
	left, rightX := rim+overlap/2, rim+fw-overlap/2
	low, high := t.paper.H-rim-foot-overlap/2, rim+overlap/2
	for _, y := range []float64{low - fh/4, high + fh/4} {
		if ix > 0 {
			cross(left, y)
		}
		if ix+1 < nx {
			cross(rightX, y)
		}
	}
	for _, x := range []float64{left + fw/4, rightX - fw/4} {
		if iy > 0 {
			cross(x, low)
		}
		if iy+1 < ny {
			cross(x, high)
		}
	}

}

// footer has the scale check outside the drawing, and what to do with it: a
// square, and a bar whose length is easier to read.
func (t *template) footer(ix, iy, nx, ny int) {
	pdf := t.pdf
	y := t.paper.H - rim - foot + 4
	pdf.SetLineWidth(0.2)
	pdf.Rect(rim, y, t.square, t.square, "D")
	x := rim + t.square + 4
	end := y + t.square
	pdf.Line(x, end-1, x+t.bar, end-1)
	pdf.Line(x, end-4, x, end)
	pdf.Line(x+t.bar, end-4, x+t.bar, end)
	pdf.SetFont("Helvetica", "", 8)
	pdf.Text(x, y+3, t.tr(t.name+", "+t.size))
	pdf.Text(x, y+7, t.tr("Print at 100 %. "+t.check+": measure both before you trust the rest."))
	pdf.Text(x, y+11, t.tr(fmt.Sprintf("Lay it on the %s: %s at the left, %s below.", strings.ReplaceAll(t.on, "-", " "), t.sides[0], t.sides[2])))
	pdf.Text(x, y+15, t.tr(fmt.Sprintf("page %d of %d: column %d of %d, row %d of %d from the lower left", iy*nx+ix+1, nx*ny, ix+1, nx, iy+1, ny)))
}
