package drawing

import (
	"bytes"
	"encoding/xml"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// Whatever is written of a part, inside it or not, is drawn as well-formed XML
// without a number that is none, and its template and its set-up sheet come
// out too.
func TestAnyPartIsDrawn(t *testing.T) {
	s := demoShop(t)
	rapid.Check(t, func(r *rapid.T) {
		dim := func(name string, low, high int) job.Dim {
			return job.Dim{Length: measure.Length(rapid.IntRange(low, high).Draw(r, name)) * measure.Inch / 16, Set: true}
		}
		p := &job.Part{ID: "a", Qty: 1, Size: [3]job.Dim{dim("long", 4, 400), dim("wide", 4, 200), dim("thick", 1, 40)}}
		faces := []job.Face{job.FaceTop, job.FaceBack, job.EdgeNear, job.EdgeFar, job.EndLeft, job.EndRight}
		face := rapid.SampledFrom(faces)
		for range rapid.IntRange(0, 6).Draw(r, "features") {
			f := job.Feature{
				Kind: rapid.SampledFrom([]string{"groove", "dado", "rabbet", "dovetail", "hole", "slot", "chamfer", "round-over", "taper", "angle-cut"}).Draw(r, "kind"),
				On:   face.Draw(r, "on"), Cutter: rapid.SampledFrom([]string{"", "straight-1/2", "dovetail-1/2"}).Draw(r, "cutter"),
				Depth: dim("depth", 0, 60), Through: rapid.Bool().Draw(r, "through"), Width: dim("width", 0, 80),
				Along: rapid.SampledFrom([]string{"length", "width"}).Draw(r, "along"), From: face.Draw(r, "from"), Offset: dim("at", -20, 420),
				Edges: []job.Face{face.Draw(r, "edge"), face.Draw(r, "other edge")}, Radius: dim("radius", 0, 20),
				Angle: float64(rapid.IntRange(-89, 89).Draw(r, "angle")), Tilt: float64(rapid.IntRange(-89, 89).Draw(r, "tilt")),
				To: [2]job.Dim{dim("left", 0, 220), dim("right", 0, 220)}, Diameter: dim("diameter", 0, 40),
			}
			for range rapid.IntRange(0, 4).Draw(r, "points") {
				f.Points = append(f.Points, job.Point{X: dim("x", -10, 410), Y: dim("y", -10, 210)})
			}
			if rapid.Bool().Draw(r, "counterbore") {
				f.Counterbore = &job.Bore{Diameter: dim("mouth", 0, 60), Depth: dim("deep", 0, 60), On: face.Draw(r, "mouth on")}
			}
			p.Machining = append(p.Machining, f)
		}
		svg := Part(s, s.Jobs[0], p, Options{Units: s.Units.Length, Both: rapid.Bool().Draw(r, "both")})
		d := xml.NewDecoder(bytes.NewReader(svg))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else {
				require.NoError(r, err)
			}
		}
		require.NotContains(r, string(svg), "NaN")
		require.NotContains(r, string(svg), "Inf")
		var b bytes.Buffer
		require.NoError(r, Template(&b, s, s.Jobs[0], p, face.Draw(r, "template"), Letter))
		j := &job.Job{ID: "j", Parts: []job.Part{*p}}
		require.NotEmpty(r, proof.SetUpText(proof.SetUps(s, j), s.Units.Length, 80))
		require.NotNil(r, proof.Check(&job.Shop{Units: s.Units, Cutters: s.Cutters, Jobs: []*job.Job{j}}, proof.Options{}))
	})
}
