package proof

import (
	"fmt"
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
		if len(o.Jobs) > 0 && !has(o.Jobs, j.ID) {
			continue
		}
		p.Jobs = append(p.Jobs, j.ID)
		c := &checker{shop: s, job: j, u: s.Units.Length, proof: p}
		for i := range j.Parts {
			c.part(&j.Parts[i])
		}
		c.hardware()
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

func has(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

type checker struct {
	shop  *job.Shop
	job   *job.Job
	u     measure.Units
	proof *Proof
}

func (c *checker) say(check string, sev Severity, part string, at job.Pos, text, mend string) {
	c.proof.Findings = append(c.proof.Findings, Finding{Check: check, Severity: sev, Job: c.job.ID, Part: part, At: at, Text: text, Mend: mend})
}

func (c *checker) len(l measure.Length) string { return measure.FormatUnit(l, c.u) }

// Web left under a groove or behind a hole that is not meant to go through:
// a third of the thickness (common practice, no source).
const webShare = 3

func (c *checker) part(p *job.Part) {
	vols := volumes(c.shop, p)
	c.proof.Checked += len(vols) + 1
	for i := range vols {
		v := &vols[i]
		sd := sideOf(p, v.on)
		if v.u.a < 0 || v.v.a < 0 || v.u.b > sd.u || v.v.b > sd.v {
			c.say("leaves-part", Stop, p.ID, v.at,
				fmt.Sprintf("%s: the %s runs from %s to %s by %s to %s, but the %s is only %s by %s", p.ID, v.what,
					c.len(v.u.a), c.len(v.u.b), c.len(v.v.a), c.len(v.v.b), v.on, c.len(sd.u), c.len(sd.v)),
				"move it in, or make it smaller")
		}
		if v.through {
			continue
		}
		left := sd.deep - v.depth
		switch {
		case left <= 0:
			c.say("breaks-through", Stop, p.ID, v.at,
				fmt.Sprintf("%s: the %s is %s deep in %s of wood and comes out the other side", p.ID, v.what, c.len(v.depth), c.len(sd.deep)),
				"cut it less deep, or say `through: true` if it is meant")
		case left*webShare < sd.deep:
			c.say("thin-web", Look, p.ID, v.at,
				fmt.Sprintf("%s: the %s leaves %s of %s; a third, %s, is usual", p.ID, v.what, c.len(left), c.len(sd.deep), c.len(sd.deep/webShare)),
				"cut it less deep, or take thicker stock")
		}
	}
	for i := range vols {
		for k := i + 1; k < len(vols); k++ {
			a, b := &vols[i], &vols[k]
			if a.feature != b.feature && a.meets(b) && !(a.through && b.through) {
				c.say("features-meet", Look, p.ID, b.at,
					fmt.Sprintf("%s: the %s and the %s meet inside the wood", p.ID, a.what, b.what),
					"move one of them, or leave it if it is meant")
			}
		}
	}
}

func (c *checker) hardware() {
	for _, h := range c.job.Hardware {
		c.proof.Checked++
		if h.Step == "" {
			c.say("hardware-without-step", Look, "", h.At, fmt.Sprintf("%d %s: no step uses it", h.Qty, h.Item), "name the step that fits it: `step: ID`")
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
