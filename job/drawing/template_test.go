package drawing

import (
	"bytes"
	"fmt"
	"image"
	_ "image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// pages draws a PDF at ten pixels a millimetre (254 dpi) with an outside
// program, so that a tenth of a millimetre is one pixel.
func pages(t *testing.T, pdf []byte) []image.Image {
	t.Helper()
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("pdftoppm is not installed")
		}
		t.Skip("pdftoppm is not installed")
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "t.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	out, err := exec.Command(tool, "-r", "254", "-gray", "-png", file, filepath.Join(dir, "p")).CombinedOutput()
	require.NoError(t, err, string(out))
	names, _ := filepath.Glob(filepath.Join(dir, "p*.png"))
	var imgs []image.Image
	for _, n := range names {
		f, err := os.Open(n)
		require.NoError(t, err)
		img, _, err := image.Decode(f)
		f.Close()
		require.NoError(t, err)
		imgs = append(imgs, img)
	}
	return imgs
}

func dark(img image.Image, x, y int) bool {
	r, _, _, _ := img.At(x, y).RGBA()
	return r < 0x9000
}

// darkRuns are the middles, in tenths of a millimetre, of the dark runs across
// one row or column of pixels.
func darkRuns(img image.Image, at int, across bool) []float64 {
	b := img.Bounds()
	n := b.Dx()
	if !across {
		n = b.Dy()
	}
	var out []float64
	start := -1
	for i := 0; i <= n; i++ {
		d := i < n && (across && dark(img, i, at) || !across && dark(img, at, i))
		if d && start < 0 {
			start = i
		}
		if !d && start >= 0 {
			out = append(out, float64(start+i-1)/2)
			start = -1
		}
	}
	return out
}

// The check square and the bar of every page are true to a tenth of a
// millimetre, and the part's outline and holes stand as far apart as the part
// says, measured in the picture that another program draws of the PDF.
func TestTemplateIsTrueToScale(t *testing.T) {
	s := demoShop(t)
	j := s.Job("torsion-table")
	foot := j.Part("foot") // 4 x 4 in, one hole 1/4 in in the middle
	for _, paper := range []Paper{A4, Letter} {
		for _, sys := range []measure.System{measure.Inches, measure.Metric} {
			s.Units.Length = measure.Units{System: sys}
			var b, again bytes.Buffer
			require.NoError(t, Template(&b, s, j, foot, job.FaceTop, paper))
			require.NoError(t, Template(&again, s, j, foot, job.FaceTop, paper))
			require.Equal(t, b.Bytes(), again.Bytes())
			imgs := pages(t, b.Bytes())
			require.Len(t, imgs, 1)
			img := imgs[0]
			require.InDelta(t, paper.W*10, img.Bounds().Dx(), 1.5)
			square, bar := 254.0, 1016.0 // tenths of a millimetre: 1 in and 4 in
			if sys == measure.Metric {
				square, bar = 250, 1000
			}
			// The square begins 12 mm from the left side and 4 mm below the field,
			// which ends 44 mm above the paper's lower side. Half-way up it only its
			// two upright lines are met first.
			top := int(paper.H*10) - 440 + 40
			x := darkRuns(img, top+125, true)
			require.GreaterOrEqual(t, len(x), 2)
			require.InDelta(t, square, x[1]-x[0], 1, paper.Name)
			v := darkRuns(img, 120+60, false)
			require.InDelta(t, square, v[len(v)-1]-v[len(v)-2], 1, paper.Name)
			// Just above the bar its two ends are met after the square's sides.
			x = darkRuns(img, top+int(square)-25, true)
			require.Len(t, x, 4)
			require.InDelta(t, bar, x[3]-x[2], 1, paper.Name)
			// The part's outline, along a row near its lower side: 4 in = 101.6 mm.
			row := darkRuns(img, int(paper.H*10)-440-60, true)
			require.InDelta(t, 1016, row[len(row)-1]-row[0], 1, paper.Name)
		}
	}
}

// A template is laid on its face, so it shows the face from outside: a hole 1
// in from the left end and 1-1/2 in from the near edge of a part of 6 x 4 in is
// 1 in from the left of the paper's outline for the face, and 6 - 1 = 5 in for
// the back, where the right end is at the left. Of a hole in the left end 1 in
// from the near edge it is 4 - 1 = 3 in, in the right end 1 in.
func TestTemplateIsSeenFromOutside(t *testing.T) {
	s := demoShop(t)
	in := func(n, d int64) job.Dim { return job.Dim{Length: measure.Frac(0, n, d), Set: true} }
	for _, c := range []struct {
		on          job.Face
		hole        job.Feature
		wide, high  float64 // of the face, in inches
		from, above float64 // where the hole is on the paper
	}{
		{job.FaceTop, job.Feature{Through: true}, 6, 4, 1, 1.5},
		{job.FaceBack, job.Feature{Through: true}, 6, 4, 5, 1.5},
		{job.FaceBack, job.Feature{On: job.FaceBack, Depth: in(1, 4)}, 6, 4, 5, 1.5},
		{job.EdgeNear, job.Feature{On: job.EdgeNear, Depth: in(1, 4)}, 6, 3, 1, 1.5},
		{job.EdgeFar, job.Feature{On: job.EdgeFar, Depth: in(1, 4)}, 6, 3, 5, 1.5},
		{job.EndLeft, job.Feature{On: job.EndLeft, Depth: in(1, 4)}, 4, 3, 3, 1.5},
		{job.EndRight, job.Feature{On: job.EndRight, Depth: in(1, 4)}, 4, 3, 1, 1.5},
	} {
		h := c.hole
		h.Kind, h.Diameter, h.Points = "hole", in(1, 4), []job.Point{{X: in(1, 1), Y: in(3, 2)}}
		p := &job.Part{ID: "a", Qty: 1, Size: [3]job.Dim{in(6, 1), in(4, 1), in(3, 1)}, Machining: []job.Feature{h}}
		var b bytes.Buffer
		require.NoError(t, Template(&b, s, s.Jobs[0], p, c.on, A4))
		img := pages(t, b.Bytes())[0]
		// Along a row 4.5 mm above the hole's middle, clear of its circle of 3.2 mm
		// and within the cross of 6.2 mm: left side, cross, right side.
		row := darkRuns(img, 2970-440-int(c.above*254)-45, true)
		require.GreaterOrEqual(t, len(row), 3, c.on)
		require.InDelta(t, c.wide*254, row[len(row)-1]-row[0], 1, c.on)
		near := 1e9
		for _, x := range row {
			near = min(near, math.Abs(x-row[0]-c.from*254))
		}
		require.LessOrEqual(t, near, 1.0, "%s: %v", c.on, row)
		require.Contains(t, b.String(), "Lay it on the "+strings.ReplaceAll(string(c.on), "-", " "))
	}
}

// A part larger than the paper goes over several pages, each with its mark of
// which it is; nothing of the part is lost between them.
func TestTemplatePages(t *testing.T) {
	s := demoShop(t)
	j := s.Job("shooting-board")
	deck := j.Part("deck") // 24 x 8-1/2 in
	var b bytes.Buffer
	require.NoError(t, Template(&b, s, j, deck, job.FaceTop, A4))
	text := b.String()
	n := strings.Count(text, "/Type /Page\n")
	require.Equal(t, 4, n, "609.6 mm in steps of 174 mm, with 12 mm shared, is four columns; 215.9 mm fits the height")
	for i := 1; i <= n; i++ {
		require.Contains(t, text, fmt.Sprintf("page %d of %d", i, n))
	}
}

// Two pages laid over one another by their registration crosses show the wood
// they share in one place: a hole in the strip that both print stands as far
// from the cross on the one as on the other. A part of 12 x 6 in on A4: the
// first page prints 186 mm, of which the second prints the last 12 again.
func TestRegistrationMarksMeet(t *testing.T) {
	s := demoShop(t)
	mm := func(f float64) job.Dim { return job.Dim{Length: measure.FromMillimetres(f), Set: true} }
	hole := job.Feature{Kind: "hole", Through: true, Diameter: mm(2), Points: []job.Point{{X: mm(178), Y: mm(100)}}}
	p := &job.Part{ID: "a", Qty: 1, Size: [3]job.Dim{mm(304.8), mm(152.4), mm(18)}, Machining: []job.Feature{hole}}
	var b bytes.Buffer
	require.NoError(t, Template(&b, s, s.Jobs[0], p, job.FaceTop, A4))
	imgs := pages(t, b.Bytes())
	require.Len(t, imgs, 2)
	var off [2]float64
	for i, img := range imgs {
		// The field ends 44 mm above the paper's lower side. A row 2.5 mm above the
		// hole's middle meets its cross, one 3 mm above the registration cross meets
		// that: the lower crosses stand a quarter of the field and half the overlap up.
		field := 2970.0 - 120 - 440
		at := func(y float64) []float64 { return darkRuns(img, int(2970-440-y), true) }
		arms, marks := at(1000+25), at(60+field/4+30)
		edge := []float64{120 + 1860 - 60, 120 + 60}[i] // middle of the strip that is shared
		near := func(xs []float64) float64 {
			best := 1e9
			for _, x := range xs {
				if math.Abs(x-edge) < math.Abs(best-edge) {
					best = x
				}
			}
			return best
		}
		require.InDelta(t, edge, near(marks), 1, "page %d: %v", i+1, marks)
		off[i] = near(arms) - near(marks)
	}
	require.InDelta(t, -20, off[0], 1, "the hole is 2 mm left of the cross")
	require.InDelta(t, off[0], off[1], 1)
}

// Every fitting of the shop has its label: name, blade or cutter and angle, the
// kerf that cut it and where it hangs, as another program reads them out of the
// PDF.
func TestLabels(t *testing.T) {
	s := demoShop(t)
	for _, paper := range []Paper{A4, Letter} {
		var b bytes.Buffer
		require.NoError(t, Labels(&b, proof.FindFittings(s, "", nil), s.Units.Length, paper))
		require.Len(t, pages(t, b.Bytes()), 1)
		tool, err := exec.LookPath("pdftotext")
		if err != nil {
			t.Skip("pdftotext is not installed")
		}
		file := filepath.Join(t.TempDir(), "l.pdf")
		require.NoError(t, os.WriteFile(file, b.Bytes(), 0o644))
		out, err := exec.Command(tool, "-layout", file, "-").Output()
		require.NoError(t, err)
		for _, want := range []string{
			"insert for flat splines", "flat-top, 0°", "cut by a kerf of 1/8 in", "hangs on peg 3",
			"insert for thin splines", "thin-rip, 0°", "cut by a kerf of 3/32 in",
			"insert for dovetail keys", "dovetail-1/2, 0°", "hangs on peg 4",
		} {
			require.Contains(t, string(out), want)
		}
	}
}
