package plan

import (
	"strings"
	"testing"
	"time"

	"caul/job/measure"
)

// The handwork of a job is what its plan holds, however long the plan waits:
// of the hand shop's job without settings 40 min, 30 to glue up, 10 to scrape,
// 5 for the clamps and 20; 6 for the clamps where there are 11, or all 12 of the
// shop's, as a face of 600 x 400 wants more than there are.
func TestHandworkIsThePlans(t *testing.T) {
	for _, c := range []struct {
		clamps string
		want   measure.Span
	}{{"{bar: 6}, scrape: 30 min to 60 min", 105}, {"auto", 96}, {"{bar: 11}", 96}} {
		text := strings.NewReplacer(", setup: \"saw, rip 400\"", "", ", setup: \"router, flush-trim\"", "", "{bar: 6}", c.clamps).Replace(handJob)
		fs := handFiles("20 C", text)
		fs["shop.yaml"] = strings.Replace(fs["shop.yaml"], "qty: 8", "qty: 12", 1)
		sh := shopOf(t, fs)
		hands, err := Handwork(sh, sh.Jobs[0])
		if err != nil {
			t.Fatal(err)
		}
		var sum measure.Span
		for _, h := range hands {
			sum += h.Step + h.Scrape + h.Off
		}
		var planned time.Duration
		for _, it := range planOf(t, sh, instant(t, "2026-03-06T18:00:00+01:00"), Options{}).Items {
			if it.Kind == Bench || it.Kind == ClampsOff {
				planned += it.To.Sub(it.From)
			}
		}
		if sum != c.want*measure.Minute || planned != sum.Duration() {
			t.Errorf("clamps: %s: handwork %v, planned %v, by hand %d min", c.clamps, sum, planned, c.want)
		}
	}
}
