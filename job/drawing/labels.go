package drawing

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"time"

	"github.com/go-pdf/fpdf"

	"caul/job/measure"
	"caul/job/proof"
)

// Labels writes a sheet of labels as PDF, one for each fitting: its name, the
// blade or cutter and the angle it belongs to, the kerf that cut it and where
// it hangs. Two columns, cut apart along the lines.
func Labels(w io.Writer, fs []proof.Found, u measure.Units, paper Paper) error {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.W, Ht: paper.H}})
	pdf.SetCreationDate(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
	pdf.SetModificationDate(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
	pdf.SetCatalogSort(true)
	pdf.SetAutoPageBreak(false, 0)
	tr := pdf.UnicodeTranslatorFromDescriptor("")
	const cols, high = 2, 34.0
	wide := (paper.W - 2*rim) / cols
	rows := int((paper.H - 2*rim) / high)
	if len(fs) == 0 {
		pdf.AddPage()
	}
	for i, f := range fs {
		if i%(cols*rows) == 0 {
			pdf.AddPage()
		}
		n := i % (cols * rows)
		x, y := rim+float64(n%cols)*wide, rim+float64(n/cols)*high
		pdf.SetLineWidth(0.2)
		pdf.Rect(x, y, wide, high, "D")
		pdf.SetFont("Helvetica", "B", 12)
		pdf.Text(x+4, y+8, tr(cmp.Or(f.Fitting.Name, f.Fitting.ID)))
		pdf.SetFont("Helvetica", "", 10)
		line := y + 14
		put := func(s string) {
			if s != "" {
				pdf.Text(x+4, line, tr(s))
				line += 5
			}
		}
		put(fmt.Sprintf("%s%s, %g°", f.Fitting.Blade, f.Fitting.Cutter, f.Fitting.Angle))
		if f.Fitting.Kerf.Set {
			put("cut by a kerf of " + measure.FormatUnit(f.Fitting.Kerf.Length, u))
		}
		if !f.Fitting.Cut.IsZero() {
			put("cut on " + f.Fitting.Cut.Format("2 January 2006"))
		}
		if f.Fitting.Hangs != "" {
			put("hangs on " + f.Fitting.Hangs)
		}
	}
	var b bytes.Buffer
	if err := pdf.Output(&b); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
