package proof

import (
	"fmt"
	"strings"

	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
)

// SetUp is one setting of a machine and everything that is cut at it, so that
// the setting is made once and its parts match.
type SetUp struct {
	N        int              `json:"n"`
	Job      string           `json:"job"`
	Machine  string           `json:"machine"`
	Cutter   string           `json:"cutter,omitempty"`
	Bit      measure.Length   `json:"bit,omitzero"`   // diameter, where no cutter is named
	Fence    measure.Length   `json:"fence,omitzero"` // from the fence to the near side of the cutter
	HasFence bool             `json:"has_fence"`
	Height   measure.Length   `json:"height,omitzero"` // of the cutter, or depth stop
	Through  bool             `json:"through,omitempty"`
	Angle    float64          `json:"angle,omitempty"`
	Passes   []measure.Length `json:"passes,omitempty"` // height of each, the last the full one
	Ops      []Op             `json:"ops"`
	Before   string           `json:"before,omitempty"` // step that must find it done
	Steps    []string         `json:"steps,omitempty"`  // that make it, see StepSetUps
	Again    bool             `json:"again,omitempty"`  // made a second time: a cut at it has to wait for another
	Notes    []string         `json:"notes"`
}

// Op is one cut of a part at a setting.
type Op struct {
	Part    string `json:"part"`
	Pieces  int    `json:"pieces"` // of the part, over all copies
	Feature string `json:"feature"`
	Against string `json:"against,omitempty"` // edge that runs along the fence
	Cuts    int    `json:"cuts"`              // in each piece
	Where   string `json:"where,omitempty"`   // stops: where it begins and ends, or the holes of a row
}

// machineFor is the machine of a feature: the one it names, else the kind that
// its cutter goes into.
func machineFor(s *job.Shop, f *job.Feature, cutterID string) string {
	if f.Machine != "" {
		return f.Machine
	}
	kind := "router-table"
	if c := s.CutterByID(cutterID); c != nil && !routed[c.Kind] && c.Kind != "dovetail" && c.Kind != "chamfer" && c.Kind != "round-over" && c.Kind != "flush-trim" {
		kind = "drill-press"
	} else if c == nil && f.Kind == "hole" {
		kind = "drill-press"
	} else if f.Kind == "taper" || f.Kind == "angle-cut" {
		kind = "table-saw"
	}
	for _, m := range s.Machines {
		if m.Kind == kind {
			return m.ID
		}
	}
	return kind
}

// settingsOf are the settings one feature needs, in the order they are cut: a
// counterbore while there is wood for its point to stand in, the hole, and the
// countersink that is centred by the hole.
func settingsOf(s *job.Shop, p *job.Part, f *job.Feature) []SetUp {
	name := orKind(f)
	if name != f.Kind {
		name = f.Kind + " " + name
	}
	m := SetUp{Machine: machineFor(s, f, f.Cutter), Cutter: f.Cutter, Height: f.Depth.Length, Through: f.Through}
	op := Op{Part: p.ID, Feature: name, Cuts: 1}
	width := cutWidth(s, f)
	switch f.Kind {
	case "groove", "dado", "dovetail":
		m.Fence, m.HasFence = f.Offset.Length-width/2, true
		op.Against = string(f.From)
		op.Where = stopsOf(s, p, f)
	case "rabbet", "chamfer", "round-over":
		for _, e := range f.Edges {
			op.Against = strings.TrimPrefix(op.Against+", "+string(e), ", ")
		}
		op.Cuts = max(len(f.Edges), 1)
		if f.Kind == "rabbet" {
			m.Fence, m.HasFence = 0, true
			op.Where = "fence so that " + measure.FormatUnit(f.Width.Length, s.Units.Length) + " of the cutter shows"
		}
		if f.Kind == "chamfer" {
			m.Angle, m.Height = f.Angle, f.Width.Length
		}
		if f.Kind == "round-over" && f.Radius.Set {
			m.Height = f.Radius.Length
		}
	case "slot":
		if len(f.Points) == 2 {
			alongX := f.Points[0].Y.Length == f.Points[1].Y.Length
			c, from := f.Points[0].Y.Length, job.EdgeNear
			if !alongX {
				c, from = f.Points[0].X.Length, job.EndLeft
			}
			m.Fence, m.HasFence = c-width/2, true
			op.Against = string(from)
			op.Where = stopsOf(s, p, f)
		}
	case "hole":
		op.Cuts = len(f.Points)
		if f.Cutter == "" {
			m.Bit = width
		}
		if y, ok := sameY(f.Points); ok {
			m.Fence, m.HasFence = y, true
			op.Against = string(job.EdgeNear)
			op.Where = "from the left end: " + list(s, f.Points)
		}
	case "angle-cut", "taper":
		m.Angle = f.Angle
		if f.Tilt != 0 {
			op.Where = fmt.Sprintf("blade tilted %g degrees", f.Tilt)
		}
	}
	if cu := s.CutterByID(f.Cutter); cu != nil && routed[cu.Kind] && f.Kind != "hole" {
		depth := m.Height
		if m.Through {
			depth = sideOf(p, faceFor(f)).deep
		}
		if ps, err := machine.Passes(depth, cu.Diameter.Length, 0); err == nil && len(ps) > 1 {
			m.Passes = ps
		}
	}
	m.Ops = []Op{op}
	out := []SetUp{m}
	for _, b := range mouths(f) {
		x := SetUp{Machine: machineFor(s, f, b.Cutter), Cutter: b.Cutter, Height: boreDepth(s, b.Bore, width), Fence: m.Fence, HasFence: m.HasFence}
		o := op
		o.Feature = b.what + " of " + name
		x.Ops = []Op{o}
		if b.what == "counterbore" {
			out = append([]SetUp{x}, out...)
			continue
		}
		out = append(out, x)
	}
	return out
}

func sameY(ps []job.Point) (measure.Length, bool) {
	for _, p := range ps {
		if p.Y.Length != ps[0].Y.Length {
			return 0, false
		}
	}
	if len(ps) == 0 {
		return 0, false
	}
	return ps[0].Y.Length, true
}

func list(s *job.Shop, ps []job.Point) string {
	var w []string
	for _, p := range ps {
		w = append(w, measure.Format(p.X.Length, s.Units.Length))
	}
	return strings.Join(w, ", ")
}

// stopsOf says where a stopped cut begins and ends.
func stopsOf(s *job.Shop, p *job.Part, f *job.Feature) string {
	u := s.Units.Length
	if f.Kind == "slot" && len(f.Points) == 2 {
		a, b := f.Points[0], f.Points[1]
		if a.Y.Length == b.Y.Length {
			return fmt.Sprintf("stop blocks for %s to %s from the left end", measure.Format(a.X.Length, u), measure.Format(b.X.Length, u))
		}
		return fmt.Sprintf("stop blocks for %s to %s from the near edge", measure.Format(a.Y.Length, u), measure.Format(b.Y.Length, u))
	}
	if !f.Start.Set && !f.Stop.Set {
		return ""
	}
	sd := sideOf(p, faceFor(f))
	run, from := sd.u, "left end"
	if f.Along == "width" {
		run, from = sd.v, "near edge"
	}
	a, b := measure.Length(0), run
	if f.Start.Set {
		a = f.Start.Length
	}
	if f.Stop.Set {
		b = f.Stop.Length
	}
	return fmt.Sprintf("from %s to %s, counted from the %s", measure.Format(a, u), measure.Format(b, u), from)
}

// notes are the order of work at a setting: test cut first, then the passes,
// then every piece before the setting is changed.
func notes(s *job.Shop, m *SetUp) []string {
	u := s.Units.Length
	out := []string{"test cut in scrap of the same thickness, and measure it before a part is cut"}
	if len(m.Passes) > 1 {
		var at []string
		for _, l := range m.Passes {
			at = append(at, measure.Format(l, u))
		}
		out = append(out, fmt.Sprintf("%d passes, set to %s; every piece at one height before the next", len(m.Passes), strings.Join(at, ", ")))
	}
	if mc := s.MachineByID(m.Machine); mc != nil && mc.Kind == "router-table" && m.HasFence {
		out = append(out, "feed against the turn of the cutter, right to left with the fence behind it")
	}
	n := 0
	for _, o := range m.Ops {
		n += o.Pieces * o.Cuts
	}
	if m.Again {
		out = append(out, "made once more: what is cut here has to wait for a cut at another setting")
	}
	if n > 1 {
		out = append(out, fmt.Sprintf("%d cuts at this setting: make them all before it is changed", n))
	}
	return out
}

// Tool is what is in the machine: a cutter, or a bit by its diameter.
func (m *SetUp) Tool(u measure.Units) string {
	switch {
	case m.Cutter != "":
		return m.Cutter
	case m.Bit > 0:
		return measure.FormatUnit(m.Bit, u) + " bit"
	}
	return ""
}

// Setting is how the machine is set: fence, height, angle.
func (m *SetUp) Setting(u measure.Units) string {
	var set []string
	if m.HasFence {
		set = append(set, "fence "+measure.FormatUnit(m.Fence, u))
	}
	switch {
	case m.Through:
		set = append(set, "right through")
	case m.Height > 0:
		set = append(set, "height "+measure.FormatUnit(m.Height, u))
	}
	if m.Angle != 0 {
		set = append(set, fmt.Sprintf("%g degrees", m.Angle))
	}
	return strings.Join(set, ", ")
}

// SetUpText lays the sheet of set-ups out in lines of at most width columns.
func SetUpText(sets []SetUp, u measure.Units, width int) string {
	var b strings.Builder
	for _, m := range sets {
		head := fmt.Sprintf("%d. %s", m.N, m.Machine)
		if t := m.Tool(u); t != "" {
			head += ", " + t
		}
		if t := m.Setting(u); t != "" {
			head += ": " + t
		}
		wrap(&b, head, width, "   ")
		for _, o := range m.Ops {
			line := fmt.Sprintf("   %d x %s: %s", o.Pieces, o.Part, o.Feature)
			if o.Cuts > 1 {
				line += fmt.Sprintf(", %d in each", o.Cuts)
			}
			if o.Against != "" {
				line += ", " + o.Against + " against the fence"
			}
			if o.Where != "" {
				line += "; " + o.Where
			}
			wrap(&b, line, width, "     ")
		}
		for _, n := range m.Notes {
			wrap(&b, "   - "+n, width, "     ")
		}
		if len(m.Steps) > 0 {
			wrap(&b, "   - in the step "+strings.Join(m.Steps, ", "), width, "     ")
		}
		if m.Before != "" {
			wrap(&b, "   - before "+m.Before, width, "     ")
		}
	}
	if len(sets) == 0 {
		b.WriteString("nothing to machine\n")
	}
	return b.String()
}
