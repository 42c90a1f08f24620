package drawing

import (
	"bytes"
	"fmt"
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"caul/job"
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

// The check box of every page is 50 by 10 mm to a tenth, and the middles of
// the holes stand as far apart as the part says, measured in the picture that
// another program draws of the PDF.
func TestTemplateIsTrueToScale(t *testing.T) {
	s := demoShop(t)
	j := s.Job("torsion-table")
	foot := j.Part("foot") // 4 x 4 in, one hole 1/4 in in the middle
	for _, paper := range []Paper{A4, Letter} {
		var b, again bytes.Buffer
		require.NoError(t, Template(&b, s, j, foot, job.FaceTop, paper))
		require.NoError(t, Template(&again, s, j, foot, job.FaceTop, paper))
		require.Equal(t, b.Bytes(), again.Bytes())
		imgs := pages(t, b.Bytes())
		require.Len(t, imgs, 1)
		img := imgs[0]
		require.InDelta(t, paper.W*10, img.Bounds().Dx(), 1.5)
		// Half-way up the check box only its two upright lines are met.
		y := int((paper.H - rim - 16 + 3 + 5) * 10)
		x := darkRuns(img, y, true)
		require.GreaterOrEqual(t, len(x), 2)
		require.InDelta(t, 500, x[1]-x[0], 1, paper.Name)
		v := darkRuns(img, int((rim+2)*10), false)
		require.InDelta(t, 100, v[len(v)-1]-v[len(v)-2], 1, paper.Name)
		// The part's outline, along a row near its lower side: 4 in = 101.6 mm.
		row := darkRuns(img, int((paper.H-rim-16)*10)-30, true)
		require.InDelta(t, 1016, row[len(row)-1]-row[0], 1, paper.Name)
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

func TestLabels(t *testing.T) {
	s := demoShop(t)
	var b bytes.Buffer
	require.NoError(t, Labels(&b, proof.FindFittings(s, "", nil), s.Units.Length, A4))
	require.Len(t, pages(t, b.Bytes()), 1)
}
