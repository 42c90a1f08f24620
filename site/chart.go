package site

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// The chart of a check's readings: wide enough for a phone.
const (
	chartWide, chartHigh       = 360.0, 190.0
	chartLeft, chartRight      = 62.0, 14.0
	chartTop, chartFoot        = 18.0, 34.0
	chartPlotW, chartPlotH     = chartWide - chartLeft - chartRight, chartHigh - chartTop - chartFoot
	chartTextSide, chartTickUp = 6.0, 4.0
)

// chart plots readings over time with the band that counts as true. A reading
// that is true is a dot, one that is not a cross, so that nothing is told by
// colour; the same figures stand in the table below.
func (r *renderer) chart(j *job.Job, c *job.Check, s proof.Series) template.HTML {
	u := r.in.Shop.Units.Length
	lo, hi, hasLo, hasHi := band(c, s)
	least, most := measure.Length(0), measure.Length(0)
	for i, x := range s.Readings {
		if i == 0 {
			least, most = x.Value, x.Value
		}
		least, most = min(least, x.Value), max(most, x.Value)
	}
	if hasLo {
		least, most = min(least, lo), max(most, lo)
	}
	if hasHi {
		least, most = min(least, hi), max(most, hi)
	}
	if !hasLo && hasHi && least >= 0 {
		least = 0 // a gap or an error cannot be less
	}
	if most == least {
		most = least + max(measure.MM/10, 1)
	}
	room := float64(most-least) * 0.12
	bottom := float64(least)
	if least != 0 || hasLo {
		bottom -= room
	}
	top := float64(most) + room
	y := func(l measure.Length) float64 {
		return chartTop + chartPlotH*(1-(float64(l)-bottom)/(top-bottom))
	}
	from, to := s.Readings[0].At, s.Readings[len(s.Readings)-1].At
	x := func(t time.Time) float64 {
		if !to.After(from) {
			return chartLeft + chartPlotW/2
		}
		return chartLeft + 8 + (chartPlotW-16)*float64(t.Sub(from))/float64(to.Sub(from))
	}
	id := "r-" + s.Check
	var b strings.Builder
	good := 0
	for _, v := range s.Readings {
		if v.True {
			good++
		}
	}
	last := s.Readings[len(s.Readings)-1]
	verdict := "not true"
	if last.True {
		verdict = "true"
	}
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 %.0f %.0f" role="img" aria-labelledby="%s-t %s-d">`, chartWide, chartHigh, e(id), e(id))
	fmt.Fprintf(&b, `<title id="%s-t">%s</title>`, e(id), e("Readings of “"+s.Measure+"” over time"))
	fmt.Fprintf(&b, `<desc id="%s-d">%s</desc>`, e(id), e(fmt.Sprintf("%d readings from %s to %s, %d of them true. Wanted: %s. The last is %s, %s.",
		len(s.Readings), r.day(from), r.day(to), good, s.Wants, readOff(last.Value, u), verdict)))
	bandTop, bandFoot := chartTop, chartTop+chartPlotH
	if hasHi {
		bandTop = y(hi)
	}
	if hasLo {
		bandFoot = y(lo)
	}
	if hasLo || hasHi {
		fmt.Fprintf(&b, `<rect class="band" x="%s" y="%s" width="%s" height="%s"/>`, n1(chartLeft), n1(bandTop), n1(chartPlotW), n1(math.Max(bandFoot-bandTop, 0)))
	}
	label := func(l measure.Length, class string) {
		fmt.Fprintf(&b, `<path class="%s" d="M%s %sH%s"/>`, class, n1(chartLeft-chartTickUp), n1(y(l)), n1(chartLeft+chartPlotW))
		fmt.Fprintf(&b, `<text x="%s" y="%s" text-anchor="end">%s</text>`, n1(chartLeft-chartTextSide), n1(y(l)+4), e(strings.TrimSuffix(exactly(l, u), " "+u.System.Name())))
	}
	if hasHi {
		label(hi, "limit")
	}
	if hasLo {
		label(lo, "limit")
	}
	if bottom == 0 && !(hasLo && lo == 0) {
		label(0, "rule")
	}
	fmt.Fprintf(&b, `<path class="axis" d="M%s %sV%sH%s"/>`, n1(chartLeft), n1(chartTop-6), n1(chartTop+chartPlotH), n1(chartLeft+chartPlotW+4))
	var line strings.Builder
	for i, v := range s.Readings {
		cmd := "L"
		if i == 0 {
			cmd = "M"
		}
		line.WriteString(cmd + n1(x(v.At)) + " " + n1(y(v.Value)))
	}
	if len(s.Readings) > 1 {
		fmt.Fprintf(&b, `<path class="line" d="%s"/>`, line.String())
	}
	for _, v := range s.Readings {
		px, py := x(v.At), y(v.Value)
		fmt.Fprintf(&b, `<g><title>%s</title>`, e(r.day(v.At)+": "+readOff(v.Value, u)))
		if v.True {
			fmt.Fprintf(&b, `<circle class="true" cx="%s" cy="%s" r="4"/>`, n1(px), n1(py))
		} else {
			fmt.Fprintf(&b, `<path class="out" d="M%s %sl9 9m0 -9l-9 9"/>`, n1(px-4.5), n1(py-4.5))
		}
		b.WriteString(`</g>`)
	}
	foot := chartHigh - 12
	if to.Sub(from) > 24*time.Hour {
		fmt.Fprintf(&b, `<text x="%s" y="%s">%s</text><text x="%s" y="%s" text-anchor="end">%s</text>`,
			n1(chartLeft), n1(foot), e(r.day(from)), n1(chartLeft+chartPlotW), n1(foot), e(r.day(to)))
	} else {
		fmt.Fprintf(&b, `<text x="%s" y="%s" text-anchor="middle">%s</text>`, n1(chartLeft+chartPlotW/2), n1(foot), e(r.day(to)))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String()) //nolint:gosec // drawn and escaped here
}

// band is what counts as true. A five-cut sum may lie on either side of zero.
func band(c *job.Check, s proof.Series) (lo, hi measure.Length, hasLo, hasHi bool) {
	switch {
	case c.Within.Set:
		return c.Nominal.Length - c.Within.Length, c.Nominal.Length + c.Within.Length, true, true
	case c.AtMost.Set || c.AtLeast.Set:
		hi, lo, hasHi, hasLo = c.AtMost.Length, c.AtLeast.Length, c.AtMost.Set, c.AtLeast.Set
		if c.FiveCut && hasHi && !hasLo {
			lo, hasLo = -hi, true
		}
		if hasHi && !hasLo {
			for _, x := range s.Readings {
				if x.Value < 0 {
					return -hi, hi, true, true
				}
			}
		}
	}
	return
}

func e(s string) string { return html.EscapeString(s) }

func n1(f float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", f), ".0") }
