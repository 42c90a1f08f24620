package drawing

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/require"

	"caul/job"
)

// dimText finds the dimensions of a drawing in the order they are drawn: the
// chain below a view, the whole length, the chain beside it, the whole height.
// Numbers in badges have a class of their own and are left out.
var dimText = regexp.MustCompile(`<text (?:x="[-\d.]+" y="[-\d.]+"|transform="[^"]*") text-anchor="middle">([^<]*)</text>`)

// noteText finds the lines of the list below the views.
var noteText = regexp.MustCompile(`<text x="22"[^>]*>([^<]*)</text>`)

// Every cut of the odd parts is located once, along and across, and the chain
// adds up to the part; all worked out by hand from the job's own words.
func TestEveryCutIsLocatedOnce(t *testing.T) {
	a, err := txtar.ParseFile(filepath.Join("..", "proof", "testdata", "odd", "inches.txtar"))
	require.NoError(t, err)
	m := fstest.MapFS{}
	for _, f := range a.Files {
		m[f.Name] = &fstest.MapFile{Data: f.Data}
	}
	s, err := job.LoadFS(m, "")
	require.NoError(t, err)
	for _, c := range []struct {
		job, part string
		dims      string // in the order they are drawn
		notes     []string
	}{
		// Face: the kerf's middle at 13-1/2, its ends' middles at 2 and 16 of 18. Back:
		// the dados' middles at 7-5/16 and 27 - 7-5/16 = 19-11/16: 12-3/8 between.
		{"inch", "base", "13-1/2 13-1/2 27 2 14 2 18 | 7-5/16 12-3/8 7-5/16 27 18", []string{"dado left, 3/4 wide, 3/8 deep, on the back,", "slot kerf, 1/8 wide, through"}},
		// Holes at [4, 4] and [20, 2].
		{"inch", "wedge", "4 16 4 24 2 2 2 6", []string{"taper, 6 wide at the left end and 2 at the right,", "2 holes knob, 5/16 wide, through"}},
		// A hole at [5, 1-1/4] between two mitres.
		{"inch", "brace", "5 5 10 1-1/4 1-1/4 2-1/2", []string{"angle-cut, 45° off square, long at the near edge, on", "angle-cut, 22.5° off square, long at the far edge, on"}},
		// The middles of a slot that runs askew from [3, 2] to [9, 6] of 12 x 8.
		{"mixed", "cap", "3 6 3 12 2 4 2 8", []string{"slot askew, 3/8 wide, through, straight-3/8"}},
		// Ends: holes 1 and 2 from the near edge of 3, 3/8 up of 1; 5/8 above them.
		{"inch", "lug", "8 3 | 1 1 1 3 5/8 1", []string{"left end: 3/8 from the back"}},
		// Notches at 5 from both ends of 20, each 2 of 4 long.
		{"mixed", "shelf", "5 10 5 20 2 2 4", nil},
	} {
		svg := string(Part(s, s.Job(c.job), s.Job(c.job).Part(c.part), Options{Units: s.Units.Length}))
		var got []string
		for _, d := range dimText.FindAllStringSubmatch(svg, -1) {
			got = append(got, d[1])
		}
		require.Equal(t, strings.Fields(strings.ReplaceAll(c.dims, "|", "")), got, c.part)
		var notes []string
		for _, n := range noteText.FindAllStringSubmatch(svg, -1) {
			notes = append(notes, n[1])
		}
		for _, n := range c.notes {
			require.Contains(t, notes, n, c.part)
		}
	}
	// A dovetail is 1/2 - 2 x 3/8 x tan 14 = 0.3130 at the face: 5/16 on the rule.
	svg := string(Part(s, s.Job("inch"), s.Job("inch").Part("fence"), Options{Units: s.Units.Length}))
	require.Contains(t, svg, "1/2 wide at the bottom and 5/16 at the")
	// Two units: 13-1/2 x 25.4 = 342.9, 12-3/8 x 25.4 = 314.325, written 314.33.
	svg = string(Part(s, s.Job("inch"), s.Job("inch").Part("base"), Options{Units: s.Units.Length, Both: true}))
	require.Contains(t, svg, "13-1/2 [342.9]")
	require.Contains(t, svg, "12-3/8 [314.33]")
	require.Contains(t, svg, "millimetres in")
}
