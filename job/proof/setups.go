package proof

import (
	"fmt"
	"sort"
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

// SetUps groups the machining of a job by machine, cutter, fence and height,
// in an order that visits each setting once: what an earlier step waits for
// comes first, then machine by machine and cutter by cutter.
func SetUps(s *job.Shop, j *job.Job) []SetUp {
	pos := stepOrder(j)
	type key struct {
		machine, cutter string
		bit             measure.Length
		fence, height   measure.Length
		hasFence        bool
		angle           float64
		through         bool
	}
	at := map[key]int{}
	var out []SetUp
	var first []int // place of the earliest step that waits for each
	for i := range j.Parts {
		p := &j.Parts[i]
		for k := range p.Machining {
			f := &p.Machining[k]
			for _, m := range settingsOf(s, p, f) {
				kk := key{m.Machine, m.Cutter, m.Bit, m.Fence, m.Height, m.HasFence, m.Angle, m.Through}
				n, ok := at[kk]
				if !ok {
					n = len(out)
					at[kk] = n
					m.Job = j.ID
					out, first = append(out, m), append(first, len(j.Steps))
					out[n].Ops = nil
				}
				op := m.Ops[0]
				op.Pieces = p.Qty * max(j.Copies, 1)
				out[n].Ops = append(out[n].Ops, op)
				if w, ok := pos[f.Before]; ok && w < first[n] {
					first[n], out[n].Before = w, f.Before
				}
			}
		}
	}
	order := make([]int, len(out))
	rank := machineRank(out, first)
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		x, y := order[a], order[b]
		if first[x] != first[y] && (first[x] < len(j.Steps) || first[y] < len(j.Steps)) && out[x].Machine != out[y].Machine {
			return first[x] < first[y]
		}
		if rx, ry := rank[out[x].Machine], rank[out[y].Machine]; rx != ry {
			return rx < ry
		}
		if first[x] != first[y] {
			return first[x] < first[y]
		}
		if out[x].Cutter != out[y].Cutter {
			return out[x].Cutter < out[y].Cutter
		}
		if out[x].Bit != out[y].Bit {
			return out[x].Bit < out[y].Bit
		}
		if out[x].Height != out[y].Height {
			return out[x].Height < out[y].Height // raising the cutter, not lowering it
		}
		return out[x].Fence < out[y].Fence
	})
	sorted := make([]SetUp, 0, len(out))
	for n, i := range order {
		out[i].N = n + 1
		out[i].Notes = notes(s, &out[i])
		sorted = append(sorted, out[i])
	}
	return sorted
}

// machineRank orders machines by the earliest step that waits for one of
// their settings, then by when they first come up.
func machineRank(sets []SetUp, first []int) map[string]int {
	best := map[string]int{}
	var names []string
	for i, s := range sets {
		b, ok := best[s.Machine]
		if !ok {
			names = append(names, s.Machine)
		}
		if !ok || first[i] < b {
			best[s.Machine] = first[i]
		}
	}
	sort.SliceStable(names, func(a, b int) bool { return best[names[a]] < best[names[b]] })
	rank := map[string]int{}
	for i, n := range names {
		rank[n] = i
	}
	return rank
}

// stepOrder gives each step its place in an order that respects what waits for
// what.
func stepOrder(j *job.Job) map[string]int {
	before := after(j)
	ids := make([]string, 0, len(j.Steps))
	for i := range j.Steps {
		ids = append(ids, j.Steps[i].ID)
	}
	sort.SliceStable(ids, func(a, b int) bool { return len(before[ids[a]]) < len(before[ids[b]]) })
	out := map[string]int{}
	for i, id := range ids {
		out[id] = i
	}
	return out
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

// settingsOf are the settings one feature needs: one, and one more for each
// mouth of its holes.
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
	if n > 1 {
		out = append(out, fmt.Sprintf("%d cuts at this setting: make them all before it is changed", n))
	}
	return out
}

// SetUpText lays the sheet of set-ups out in lines of at most width columns.
func SetUpText(sets []SetUp, u measure.Units, width int) string {
	var b strings.Builder
	for _, m := range sets {
		head := fmt.Sprintf("%d. %s", m.N, m.Machine)
		if m.Cutter != "" {
			head += ", " + m.Cutter
		}
		if m.Bit > 0 {
			head += ", " + measure.FormatUnit(m.Bit, u) + " bit"
		}
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
		if len(set) > 0 {
			head += ": " + strings.Join(set, ", ")
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
		if m.Before != "" {
			wrap(&b, "   - before "+m.Before, width, "     ")
		}
	}
	if len(sets) == 0 {
		b.WriteString("nothing to machine\n")
	}
	return b.String()
}
