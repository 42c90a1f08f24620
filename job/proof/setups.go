package proof

import (
	"fmt"
	"strings"

	"caul/job"
	"caul/job/measure"
)

// SetUp is one setting of a machine and everything that is cut at it, so that
// the setting is made once and its parts match.
type SetUp struct {
	N        int              `json:"n"`
	Job      string           `json:"job"`
	Machine  string           `json:"machine"`
	Cutter   string           `json:"cutter,omitempty"`
	Bit      measure.Length   `json:"bit,omitzero"`     // diameter, where no cutter is named
	Fence    measure.Length   `json:"fence,omitzero"`   // to the near side of the cutter, or to the middle of the bit
	Middle   bool             `json:"middle,omitempty"` // the fence is set to the middle of the bit
	HasFence bool             `json:"has_fence"`
	Show     measure.Length   `json:"show,omitzero"`   // of a cutter in front of the fence, for a rabbet
	Height   measure.Length   `json:"height,omitzero"` // of the cutter, or depth stop
	Through  bool             `json:"through,omitempty"`
	Angle    float64          `json:"angle,omitempty"`  // degrees from square as seen on the face
	Tilt     float64          `json:"tilt,omitempty"`   // degrees of the blade
	Passes   []measure.Length `json:"passes,omitempty"` // height of each, the last the full one
	Ops      []Op             `json:"ops"`
	Before   string           `json:"before,omitempty"` // step that must find it done
	Steps    []string         `json:"steps,omitempty"`  // that make it, see StepSetUps
	Again    bool             `json:"again,omitempty"`  // made a second time: a cut at it has to wait for another
	Notes    []string         `json:"notes"`

	boring bool // a hole or its mouth
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
	if mc := s.MachineByID(m.Machine); mc != nil && mc.Kind == "router-table" && (m.HasFence || m.Show > 0) {
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

// overNotes tell of parts that are sawn over their size and trimmed later: a
// fence set to the finished part is out by what is left on the edge against it.
func overNotes(s *job.Shop, j *job.Job, m *SetUp) []string {
	var out []string
	told := map[string]bool{}
	for _, o := range m.Ops {
		p := j.Part(o.Part)
		if p == nil || p.Oversize.Length <= 0 || told[o.Part] {
			continue
		}
		told[o.Part] = true
		out = append(out, fmt.Sprintf("%s is sawn %s over: what is set and marked counts from its finished edges; true those first, or add what is still to come off there", o.Part, measure.FormatUnit(p.Oversize.Length, s.Units.Length)))
	}
	return out
}

// Tool is what is in the machine: a cutter, or a bit by its diameter.
func (m *SetUp) Tool(u measure.Units) string {
	switch {
	case m.Cutter != "":
		return m.Cutter
	case m.Bit > 0:
		return sizeText(m.Bit, u) + " bit"
	}
	return ""
}

// Setting is how the machine is set: fence, height, angle. It says what the
// fence is set to and what a height is, since either read wrongly ruins a part.
func (m *SetUp) Setting(u measure.Units) string {
	var set []string
	switch {
	case m.HasFence && m.Middle:
		set = append(set, "fence "+measure.FormatUnit(m.Fence, u)+" to the middle")
	case m.HasFence:
		set = append(set, "fence "+measure.FormatUnit(m.Fence, u)+" to the cutter")
	case m.Show > 0:
		set = append(set, measure.FormatUnit(m.Show, u)+" of the cutter in front of the fence")
	}
	switch {
	case m.Through:
		set = append(set, "right through")
	case m.Height > 0 && m.bores():
		set = append(set, measure.FormatUnit(m.Height, u)+" deep")
	case m.Height > 0:
		set = append(set, "height "+measure.FormatUnit(m.Height, u))
	}
	if m.Angle != 0 {
		set = append(set, fmt.Sprintf("%g degrees", m.Angle))
	}
	if m.Tilt != 0 {
		set = append(set, fmt.Sprintf("blade tilted %g degrees", m.Tilt))
	}
	return strings.Join(set, ", ")
}

// bores tells a setting whose height is how deep a bit goes in.
func (m *SetUp) bores() bool { return m.Middle || m.Bit > 0 || m.boring }

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
