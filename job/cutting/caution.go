package cutting

import (
	"fmt"

	"caul/job/layout"
	"caul/job/measure"
)

// cautions hold for every cut. The push stick's length and use are from HSE,
// "Circular saw bench (rip saw)"; the mitre gauge from the safety text for
// transportable table saws (wording of IEC/EN 62841-3-1, standard number not
// verified); the rest is common practice, no source.
var cautions = []string{
	"guard and riving knife on, eyes and ears covered, dust drawn off; the saw's manual, local rules and people who know the machine come first",
	"push stick at least 450 mm long, used for the last 300 mm of every rip (HSE, circular saw bench)",
	"never use the rip fence as a stop for a crosscut, and never the mitre gauge and the fence together: a stop ends clear of the blade before the cut begins",
	"support a whole sheet on both sides before it is cut; two people, or a straightedge and a portable saw on the floor",
	"check a piece that is left over against its size before it is used: it carries the error of every cut before",
}

const narrowOff = "what falls on the open side is narrow: leave it until the blade has stopped"

// caution looks at what a cut leaves and how it is held.
func (m *maker) caution(st *Step, c stroke) string {
	var out []string
	f := func(l measure.Length) string { return measure.FormatUnit(l, m.units) }
	feed, across := c.from.l, c.from.w
	if c.axis == layout.AlongX {
		feed, across = c.from.w, c.from.l
	}
	if at := sliceIndex(c.from.segs, c.seg); at > 0 {
		// what was cut off before is no longer there
		if c.axis == layout.AlongX {
			across = c.from.x + c.from.l - c.seg.x
		} else {
			across = c.from.y + c.from.w - c.seg.y
		}
	}
	off := measure.Length(-1)
	if len(st.Out) > 1 {
		off = st.Out[1].W
		if c.axis == layout.AlongX {
			off = st.Out[1].L
		}
	}
	if c.axis == layout.AlongY {
		switch {
		case st.Fence < m.limit.Narrow:
			out = append(out, fmt.Sprintf("narrower than %s between blade and fence: cut it to fall on the open side, against a stop beside the fence, or by hand", f(m.limit.Narrow)))
		case st.Fence < m.limit.Block:
			out = append(out, fmt.Sprintf("gap to the fence under %s: push block", f(m.limit.Block)))
		case st.Fence < m.limit.Stick:
			out = append(out, fmt.Sprintf("gap to the fence under %s: push stick", f(m.limit.Stick)))
		}
		if off >= 0 && off < m.limit.Narrow {
			out = append(out, narrowOff)
		}
		if feed < m.limit.Feed {
			if feed < across {
				out = append(out, fmt.Sprintf("under %s along the cut and wider than that: on a sled or the mitre gauge against a stop, not along the fence", f(m.limit.Feed)))
			} else {
				out = append(out, fmt.Sprintf("under %s along the fence: too short to rip freehand, carry it on a sled or cut it by hand", f(m.limit.Feed)))
			}
		} else if feed < across && feed < 2*m.limit.Feed {
			out = append(out, "wider than it is long: carry it on a sled, it will twist off the fence")
		}
		return join(out)
	}
	if st.Fence < m.limit.Short {
		out = append(out, fmt.Sprintf("shorter than %s: hold it with a clamp or a hold-down, not with fingers", f(m.limit.Short)))
	}
	if off >= 0 && off < m.limit.Short && off > 0 {
		out = append(out, "what is left on the other side is short: leave it until the blade has stopped")
	}
	return join(out)
}

func sliceIndex(list []*piece, p *piece) int {
	for i, x := range list {
		if x == p {
			return i
		}
	}
	return -1
}

// reach says where the saw does not go as far as the cut asks; width is the
// piece's, across the grain.
func (m *maker) reach(st *Step, width measure.Length) string {
	if st.Kind != Rip {
		if width > m.limit.Gauge {
			return "too wide for a mitre gauge: mark it and use a portable saw along a straightedge"
		}
		return ""
	}
	for _, mc := range m.shop.Machines {
		if mc.Kind == tableSaw && mc.Table.Set && mc.Table.Length > 0 {
			if st.Fence > mc.Table.Length {
				return fmt.Sprintf("past the %s the %s takes: circular saw along a straightedge", m.f(mc.Table.Length), name(mc.Name, mc.ID))
			}
			return ""
		}
	}
	return ""
}

func name(s, id string) string {
	if s != "" {
		return s
	}
	return id
}
