package share

import (
	"strings"
	"testing"
)

// Everything personal that is planted in prose is found, the worst first, with
// the line it stands in; plain shop talk is not.
func TestLikelyFindsWhatIsPersonal(t *testing.T) {
	src := `# Shooting board

Planed on Saturday with Harriet while the glue set at 12 °C.
The planks came from 14 Mill Lane, next to the chapel.
Ring 0161 496 0123 before you come.
I paid about 45 for the pair, and ten quid for the screws.
Plans lie at www.example.org/board.
Write to maker (at) example.
Doctor Whitlock lent a plane.
The Forstner bit took 40 min. Rip at 12-1/2 x 3-1/4 x 0.472, on 2026-03-14.
`
	m := &maker{in: Input{Open: func(string) ([]byte, error) { return []byte(src), nil }}, scrub: &scrubber{}}
	m.prose = []Prose{{File: "build.md", Text: src, own: "build.md"}}
	got := m.likely()
	want := []struct {
		line int
		text string
	}{{5, "0161 496 0123"}, {4, "14 Mill Lane"}, {8, "maker (at) example"}, {3, "Harriet"}, {6, "paid about 45"}, {6, "ten quid"}, {7, "www.example.org/board"}, {9, "Whitlock"}}
	for i, w := range want {
		if i >= len(got) || got[i].Line != w.line || got[i].Text != w.text {
			t.Fatalf("%d: want %q in line %d\n%+v", i, w.text, w.line, got)
		}
	}
	for _, l := range got[len(want):] {
		t.Errorf("found too much: %+v", l)
	}
	for _, l := range got {
		if !strings.Contains(src, l.Says) || !strings.Contains(l.Says, l.Text) {
			t.Errorf("%+v", l)
		}
	}
}
