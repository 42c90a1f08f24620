package proof

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
)

// Options says what to prove.
type Options struct {
	Jobs []string  // ids; nil for all
	Now  time.Time // for re-check dates
}

// Check proves the jobs of a shop on paper. Findings come by file, line,
// column and check.
func Check(s *job.Shop, o Options) *Proof {
	p := &Proof{Jobs: []string{}, Findings: []Finding{}}
	for _, j := range s.Jobs {
		if len(o.Jobs) > 0 && !slices.Contains(o.Jobs, j.ID) {
			continue
		}
		p.Jobs = append(p.Jobs, j.ID)
		c := &checker{shop: s, job: j, u: s.Units.Length, proof: p, said: map[string]bool{}}
		for i := range j.Parts {
			p := &j.Parts[i]
			c.cuts(p)
			c.cutters(p)
			c.screws(p)
			c.mates(p)
			c.smallPart(p)
			c.stock(p)
		}
		c.fits()
		c.grain()
		c.unfitted()
		c.clampsThere()
		c.glueUpArea()
		c.order()
		c.truth(o.Now)
		c.kerfs()
		c.logNames()
	}
	if p.Checked > 0 { // there is a job with something in it
		(&checker{shop: s, job: &job.Job{}, u: s.Units.Length, proof: p, said: map[string]bool{}}).shopKinds()
	}
	sort.SliceStable(p.Findings, func(a, b int) bool {
		x, y := p.Findings[a], p.Findings[b]
		switch {
		case x.At.File != y.At.File:
			return x.At.File < y.At.File
		case x.At.Line != y.At.Line:
			return x.At.Line < y.At.Line
		case x.At.Col != y.At.Col:
			return x.At.Col < y.At.Col
		}
		return x.Check < y.Check
	})
	for _, f := range p.Findings {
		if f.Severity == Stop {
			p.Stops++
		} else {
			p.Looks++
		}
	}
	return p
}

// checker proves one job.
type checker struct {
	shop  *job.Shop
	job   *job.Job
	u     measure.Units
	proof *Proof
	said  map[string]bool
}

// ofPattern is the number of a hole in its pattern, in a finding's text.
var ofPattern = regexp.MustCompile(` \(\d+ of \d+\)`)

// say adds a finding; the same said again of another hole of the same pattern
// is said once.
func (c *checker) say(check string, sev Severity, part string, at job.Pos, text, mend string) {
	key := check + "|" + part + "|" + ofPattern.ReplaceAllString(text, "")
	if c.said[key] {
		return
	}
	c.said[key] = true
	c.proof.Findings = append(c.proof.Findings, Finding{Check: check, Severity: sev, Job: c.job.ID, Part: part, At: at, Text: text, Mend: mend})
}

func (c *checker) len(l measure.Length) string { return measure.FormatUnit(l, c.u) }

func (c *checker) unfitted() {
	for _, h := range c.job.Hardware {
		c.proof.Checked++
		if h.Step == "" {
			c.say("hardware-without-step", Look, "", h.At, fmt.Sprintf("%d %s: no step fits it", h.Qty, h.Item), "name the step that fits it: `step: ID`")
		}
	}
}

// Text lays the proof out in lines of at most width columns.
func Text(p *Proof, width int) string {
	var b strings.Builder
	for _, f := range p.Findings {
		where := ""
		if f.At.File != "" {
			where = fmt.Sprintf("%s:%d:%d: ", f.At.File, f.At.Line, f.At.Col)
		}
		wrap(&b, where+string(f.Severity)+" "+f.Check+": "+f.Text, width, "  ")
		wrap(&b, "  mend: "+f.Mend, width, "        ")
	}
	fmt.Fprintf(&b, "%d looked at: %d to stop for, %d to look at\n", p.Checked, p.Stops, p.Looks)
	return b.String()
}

func wrap(b *strings.Builder, s string, width int, indent string) {
	lead := s[:len(s)-len(strings.TrimLeft(s, " "))]
	n := 0
	for i, w := range strings.Fields(s) {
		switch {
		case i == 0:
			b.WriteString(lead)
			n = len(lead)
		case n+1+len([]rune(w)) > width:
			b.WriteString("\n" + indent)
			n = len(indent)
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(w)
		n += len([]rune(w))
	}
	b.WriteByte('\n')
}
