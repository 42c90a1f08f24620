package plan

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

func splitLines(s string) []string { return strings.Split(strings.TrimSuffix(s, "\n"), "\n") }

// wellFormed reads a drawing as XML and looks for references that lead nowhere
// and for anything loaded from elsewhere.
func wellFormed(svg []byte) error {
	d := xml.NewDecoder(bytes.NewReader(svg))
	ids := map[string]bool{}
	var refs []string
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		el, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		for _, a := range el.Attr {
			switch a.Name.Local {
			case "id":
				if ids[a.Value] {
					return fmt.Errorf("the id %s comes twice", a.Value)
				}
				ids[a.Value] = true
			case "fill":
				if r, ok := strings.CutPrefix(a.Value, "url(#"); ok {
					refs = append(refs, strings.TrimSuffix(r, ")"))
				}
			case "aria-labelledby":
				refs = append(refs, strings.Fields(a.Value)...)
			case "href":
				r, ok := strings.CutPrefix(a.Value, "#")
				if !ok || el.Name.Local != "use" {
					return fmt.Errorf("%s has %s", el.Name.Local, a.Name.Local)
				}
				refs = append(refs, r)
			case "src", "style":
				return fmt.Errorf("%s has %s", el.Name.Local, a.Name.Local)
			case "height", "width":
				if v, err := strconv.ParseFloat(a.Value, 64); err != nil || v < 0 || math.IsNaN(v) {
					return fmt.Errorf("%s has %s %q", el.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	}
	for _, r := range refs {
		if !ids[r] {
			return fmt.Errorf("nothing is called %s", r)
		}
	}
	return nil
}

// The day sheet of the hand-worked shop: time runs down the page in the order
// of the clock, waits run on through the night, and a screen reader gets a
// name, a description and the title of everything drawn.
func TestDaySheet(t *testing.T) {
	fs := handFiles("4 C", strings.Replace(handJob, "Press plate", `Press "plate" <b>&amp; co</b>`, 1))
	fs["jobs/plate/job.yaml"] = strings.Replace(handJob, "name: Press plate", `name: 'Press "plate" <b>& co</b>'`, 1)
	sh := shopOf(t, fs)
	p := planOf(t, sh, instant(t, "2026-03-06T18:00:00+01:00"), Options{Explain: true})
	for _, w := range []int{0, 360, 1100} {
		svg := DaySheet(p, SheetOptions{Width: w})
		if err := wellFormed(svg); err != nil {
			t.Fatalf("width %d: %v", w, err)
		}
		s := string(svg)
		for _, want := range []string{"<title id=", "<desc id=", "Press &quot;plate&quot; &lt;b&gt;&amp; co&lt;/b&gt;", "Trim them flush", `fill="url(#ds-cure)"`, "may be machined Sat 7 Mar 18:20"} {
			if !strings.Contains(s, want) {
				t.Errorf("width %d: no %q", w, want)
			}
		}
	}
	if s := string(DaySheet(p, SheetOptions{Bare: true, ID: "x"})); strings.Contains(s, "<style") || !strings.Contains(s, "url(#x-cure)") {
		t.Error("a bare sheet brings no style and its own ids")
	}
	golden(t, "daysheet.svg", string(DaySheet(p, SheetOptions{Width: 360})))
}

// Drawn by days, the pieces lie one under the other without a gap, show the
// whole sheet and no more, and none ends within a job at the bench.
func TestDaySheetByDays(t *testing.T) {
	sh := shopOf(t, handFiles("4 C", handJob))
	p := planOf(t, sh, instant(t, "2026-03-06T18:00:00+01:00"), Options{})
	box := regexp.MustCompile(`viewBox="0 (\S+) (\S+) (\S+)"`)
	whole := box.FindStringSubmatch(string(DaySheet(p, SheetOptions{})))
	svg := DaySheet(p, SheetOptions{Days: true})
	if err := wellFormed([]byte("<div>" + string(svg) + "</div>")); err != nil {
		t.Fatal(err)
	}
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var ends []float64
	at := 0.0
	for _, m := range box.FindAllStringSubmatch(string(svg), -1) {
		if y := num(m[1]); math.Abs(y-at) > 0.11 || m[2] != whole[2] {
			t.Errorf("a piece begins at %v, the one before ends at %v", y, at)
		}
		at = num(m[1]) + num(m[3])
		ends = append(ends, at)
	}
	days := map[string]bool{}
	for _, it := range p.Items {
		for _, st := range stretches(it) {
			if it.Kind == Bench || it.Kind == ClampsOff {
				days[st.From.Format("2006-01-02")] = true
			}
		}
	}
	if len(ends) < 2 || len(ends) < len(days) || math.Abs(at-num(whole[3])) > 0.2 {
		t.Fatalf("pieces end at %v, %d days, the sheet at %s", ends, len(days), whole[3])
	}
	for _, m := range regexp.MustCompile(`<rect class="job" x="\S+" y="(\S+)" width="\S+" height="(\S+)"`).FindAllStringSubmatch(string(svg), -1) {
		from, to := num(m[1]), num(m[1])+num(m[2])
		for _, e := range ends {
			if e > from+0.1 && e < to-0.1 {
				t.Errorf("a job drawn from %v to %v is parted at %v", from, to, e)
			}
		}
	}
}

func TestDaySheetOfNothing(t *testing.T) {
	p := &Plan{Now: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)}
	if err := wellFormed(DaySheet(p, SheetOptions{})); err != nil {
		t.Fatal(err)
	}
}

// Heights never fall with time, and what begins after another ends lies below
// it.
func TestSheetScaleRises(t *testing.T) {
	sh := shopOf(t, handFiles("4 C", handJob))
	p := planOf(t, sh, instant(t, "2026-03-06T18:00:00+01:00"), Options{})
	s := &sheet{p: p, w: 360, id: "ds", names: jobNames(p)}
	s.pick()
	s.columns()
	s.scale()
	last := 0.0
	for x := s.from; !x.After(s.to); x = x.Add(time.Minute) {
		e, b := s.sc.end(x), s.sc.begin(x)
		if e < last || b < e {
			t.Fatalf("at %s the sheet runs up: %f, then %f, %f", x, last, e, b)
		}
		last = b
	}
	for _, b := range s.boxes() {
		if h := s.sc.end(b.s.To) - s.sc.begin(b.s.From); h < float64(len(b.lines))*sheetLine {
			t.Errorf("%v does not hold its %d lines: %f", b.lines, len(b.lines), h)
		}
	}
}

// Contrast by WCAG 2.2, 1.4.3 (text, 4.5 to 1) and 1.4.11 (marks, 3 to 1), by
// its formula of relative luminance.
func TestSheetContrast(t *testing.T) {
	colour := map[string][3]float64{}
	for _, m := range regexp.MustCompile(`--ds-([a-z]+):#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})`).FindAllStringSubmatch(SheetCSS, -1) {
		if _, ok := colour[m[1]]; ok {
			continue // the print colours come later
		}
		var c [3]float64
		for i := range c {
			v, _ := strconv.ParseUint(m[i+2], 16, 8)
			c[i] = float64(v) / 255
		}
		colour[m[1]] = c
	}
	lum := func(name string) float64 {
		l := 0.0
		for i, k := range []float64{0.2126, 0.7152, 0.0722} {
			v := colour[name][i]
			if v <= 0.04045 {
				v /= 12.92
			} else {
				v = math.Pow((v+0.055)/1.055, 2.4)
			}
			l += k * v
		}
		return l
	}
	for _, c := range []struct {
		a, b string
		want float64
	}{
		{"pencil", "kraft", 4.5}, {"pencil", "paper", 4.5}, {"pencil", "wait", 4.5}, {"moon", "night", 4.5},
		{"accent", "kraft", 4.5}, {"accent", "paper", 3}, {"wait", "night", 3},
	} {
		x, y := lum(c.a), lum(c.b)
		if r := (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05); r < c.want {
			t.Errorf("%s on %s: %.2f to 1, want %.1f", c.a, c.b, r, c.want)
		}
	}
}

// `clamps: auto`: the plan holds as many clamps as the glue-up sheet lays out,
// of the same kinds, whatever their pads, lengths and number.
func TestAutoClampsAreOneAnswer(t *testing.T) {
	for _, clamps := range []string{
		"[{id: bar, kind: bar, qty: 10, opening: 36, pad: 1-1/4}]",
		"[{id: short, kind: f-style, qty: 12, opening: 1, pad: 1}, {id: bar, kind: bar, qty: 20, opening: 36, pad: 3/4}]",
		"[{id: a, kind: bar, qty: 3, pad: 1}, {id: s, kind: spring, qty: 30}, {id: b, kind: f-style, qty: 4, pad: 2}]",
	} {
		for _, bond := range []string{"14 x 2-1/4", "2 x 48 x 3/4", "60 x 6"} {
			sh := shopOf(t, files{
				"shop.yaml": "name: x\nunits: {length: in, finest: 1/64, temperature: C, money: USD}\nzone: UTC\nhours: {sat: 9:00-17:00}\nair: {day: {0:00: 20 C}}\nclamps: " + clamps + "\n",
				"jobs/x/job.yaml": "name: x\nglue-ups: [{id: g, joins: [a], glue: pva, bond: " + bond + ", clamps: auto, spread: 4 min}]\n" +
					"parts: [{id: a, qty: 2, size: 60 x 6 x 3/4, from: ply}]\nsteps: [{id: g, takes: 20 min}]\n",
				"stock.yaml": "stock: [{id: ply, form: sheet, species: birch-plywood, size: 96 x 48 x 3/4}]\n",
			})
			now := instant(t, "2026-03-14T09:00:00Z")
			gs, err := GlueSheet(sh, sh.Jobs[0], &sh.Jobs[0].Steps[0], now)
			if err != nil {
				t.Fatal(err)
			}
			held := 0
			for _, n := range item(t, planOf(t, sh, now, Options{}), "g", Clamped).Clamps {
				held += n
			}
			if held != gs.Sheet.Take || held == 0 {
				t.Errorf("%s, bond %s: the plan holds %d clamps and the sheet says %d (%v)", clamps, bond, held, gs.Sheet.Take, gs.Take)
			}
		}
	}
}
