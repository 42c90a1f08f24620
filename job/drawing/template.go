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
	square  = 50.0
	foot    = 16.0
)

// Template writes a face of a part at full size as PDF, for pricking through
// and drilling: its outline, every cut on that face, a cross on the middle of
// every bore. A part larger than the paper goes over several pages with marks
// to register them by; every page carries a square to check the printer's
// scale. The same part gives the same bytes.
func Template(w io.Writer, s *job.Shop, j *job.Job, p *job.Part, on job.Face, paper Paper) error {
	if on == "" {
		on = job.FaceTop
	}
	wide, high := faceSize(p, on)
	t := &template{paper: paper, u: s.Units.Length, w: wide.Millimetres(), h: high.Millimetres()}
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

type template struct {
	pdf   *fpdf.Fpdf
	tr    func(string) string
	paper Paper
	u     measure.Units
	name  string
	size  string
	w, h  float64
	cuts  []proof.Volume
	ox    float64 // part's x at the left of the printed field
	oy    float64 // part's y at its lower side
}

// px and py put a place of the part, in mm from its left and lower side, on
// the page.
func (t *template) px(x float64) float64 { return rim + x - t.ox }
func (t *template) py(y float64) float64 { return t.paper.H - rim - foot - (y - t.oy) }

func (t *template) page(ix, iy, nx, ny int, stepX, stepY float64) {
	pdf := t.pdf
	pdf.AddPage()
	t.ox, t.oy = float64(ix)*stepX, float64(iy)*stepY
	fw, fh := t.paper.W-2*rim, t.paper.H-2*rim-foot
	pdf.ClipRect(rim, rim, fw, fh, false)
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetLineWidth(0.35)
	pdf.Rect(t.px(0), t.py(t.h), t.w, t.h, "D")
	pdf.SetLineWidth(0.2)
	for i := range t.cuts {
		t.cut(&t.cuts[i])
	}
	pdf.ClipEnd()
	t.register(ix, iy, nx, ny)
	t.footer(ix, iy, nx, ny)
}

func (t *template) cut(v *proof.Volume) {
	u, w := v.Spans()
	x0, x1, y0, y1 := u[0].Millimetres(), u[1].Millimetres(), w[0].Millimetres(), w[1].Millimetres()
	if !v.Round {
		t.pdf.Rect(t.px(x0), t.py(y1), x1-x0, y1-y0, "D")
		return
	}
	cx, cy, r := (x0+x1)/2, (y0+y1)/2, (x1-x0)/2
	t.pdf.Circle(t.px(cx), t.py(cy), r, "D")
	k := r + 3
	t.pdf.Line(t.px(cx-k), t.py(cy), t.px(cx+k), t.py(cy))
	t.pdf.Line(t.px(cx), t.py(cy-k), t.px(cx), t.py(cy+k))
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

// footer has the scale check outside the drawing, and what to do with it.
func (t *template) footer(ix, iy, nx, ny int) {
	pdf := t.pdf
	y := t.paper.H - rim - foot + 3
	pdf.SetLineWidth(0.2)
	// The check square is as high as the foot allows: a bar 50 mm long with
	// ends, and 10 mm high for the other direction.
	pdf.Rect(rim, y, square, 10, "D")
	pdf.SetFont("Helvetica", "", 8)
	pdf.Text(rim+square+4, y+3, t.tr(t.name+", "+t.size))
	pdf.Text(rim+square+4, y+7, t.tr("print at 100 %. The box is 50 x 10 mm (1.969 x 0.394 in): measure it before you trust the rest."))
	pdf.Text(rim+square+4, y+11, t.tr(fmt.Sprintf("page %d of %d: column %d of %d, row %d of %d from the lower left", iy*nx+ix+1, nx*ny, ix+1, nx, iy+1, ny)))
}
