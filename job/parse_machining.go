package job

import (
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"
)

// featureKinds are the kinds of feature as written in `machining:`.
var featureKinds = []string{"groove", "dado", "rabbet", "dovetail", "holes", "slot", "chamfer", "round-over", "taper", "angle-cut"}

var faces = []string{string(FaceTop), string(FaceBack), string(EdgeNear), string(EdgeFar), string(EndLeft), string(EndRight)}

// feature reads one item of `machining:`, a map with the kind as its one key.
func (r *jobReader) feature(n *yaml.Node, p *Part) []Feature {
	s := r.s
	o := s.mapping(n, "a feature")
	if o == nil {
		return nil
	}
	if len(o.order) != 1 {
		s.add(o.pos(), "", "write each as its own item, such as `- groove: {...}`", "one item of machining holds one feature, not %d", len(o.order))
		return nil
	}
	kind := o.order[0]
	if kind == "hole" {
		kind = "holes"
	}
	known := false
	for _, k := range featureKinds {
		known = known || k == kind
	}
	if !known {
		s.add(s.at(o.knode[kind]), kind, suggest(kind, featureKinds, "features"), "no kind of machining: %s", kind)
		return nil
	}
	body := o.get(o.order[0])
	if body == nil {
		s.add(o.pos(), kind, "write its sizes behind it, such as `- "+kind+": {...}`", "the %s says nothing of itself", kind)
		return nil
	}
	c := s.mapping(body, "a "+kind)
	if c == nil {
		return nil
	}
	f := Feature{Kind: kind, At: s.at(o.knode[o.order[0]])}
	if kind == "holes" {
		f.Kind = "hole"
	}
	f.ID = c.str("id")
	f.Cutter = c.str("cutter")
	r.cutterKnown(c, "cutter", f.Cutter)
	f.Machine = r.machineOf(c)
	f.Before = c.str("before")
	r.refer(c, "before", false, "before")
	f.Note = c.str("note")
	f.On = c.face("on", FaceTop)
	switch kind {
	case "groove", "dado", "dovetail":
		r.groove(c, &f)
	case "rabbet":
		f.Edges = c.faceList("edges")
		f.Width = c.dim("width", r.sc, positive)
		f.Depth = c.dim("depth", r.sc, positive)
		c.need("edges", "name the edges, such as `edges: [near-edge]`")
		c.need("width", "write how far in from the edge, such as `width: 3/8`")
		c.need("depth", "write how deep, such as `depth: 1/4`")
	case "holes":
		r.holes(c, &f, p)
	case "slot":
		r.slot(c, &f, p)
	case "chamfer":
		f.Edges = c.faceList("edges")
		f.Width = c.dim("width", r.sc, positive)
		f.Angle = 45
		if c.keys["angle"] != nil {
			f.Angle = c.angle("angle", 1, 89)
		} else {
			c.get("angle")
		}
		c.need("edges", "name the edges, such as `edges: [near-edge]`")
		c.need("width", "write how far it reaches, such as `width: 1/8`")
	case "round-over":
		f.Edges = c.faceList("edges")
		f.Radius = c.dim("radius", r.sc, positive)
		c.need("edges", "name the edges, such as `edges: [near-edge]`")
		if !f.Radius.Set && f.Cutter == "" {
			c.need("radius", "write its radius, such as `radius: 1/8`, or name the cutter")
		}
	case "taper":
		f.Edges = c.faceList("edges")
		w := c.list("widths")
		if c.need("widths", "write the width left at the left end and at the right end, such as `widths: [3, 1-1/2]`") && c.keys["widths"].Kind == yaml.SequenceNode {
			if len(w) != 2 {
				s.add(s.at(c.keys["widths"]), "", "write the width left at the left end and at the right end", "a taper has two widths")
			} else {
				f.To = [2]Dim{s.dim(w[0], "widths", r.sc, notNegative), s.dim(w[1], "widths", r.sc, notNegative)}
			}
		}
		if len(f.Edges) == 0 {
			f.Edges = []Face{EdgeFar}
		}
	case "angle-cut":
		f.Angle = c.angle("angle", -89, 89)
		f.Tilt = c.angle("tilt", -89, 89)
		if c.keys["on"] == nil {
			f.On = EndRight
		}
		if c.keys["angle"] == nil && c.keys["tilt"] == nil {
			c.need("angle", "write degrees from square, such as `angle: 45`; `tilt:` for a tilted blade")
		}
	}
	c.done()
	return []Feature{f}
}

func (r *jobReader) cutterKnown(c *obj, key, id string) {
	if id != "" && r.shop.CutterByID(id) == nil && !r.lost["shop.yaml"] {
		r.s.add(r.s.at(c.keys[key]), id, lacking(id, r.cutterIDs(), "cutters"), "the shop has no cutter called %q", id)
	}
}

func (r *jobReader) machineOf(c *obj) string {
	v := c.str("machine")
	if v == "" {
		return ""
	}
	m, n := r.shop.findMachine(v)
	switch {
	case m == nil && r.lost["shop.yaml"]:
		return ""
	case m == nil:
		r.s.add(r.s.at(c.keys["machine"]), v, lacking(v, r.shop.machineIDs(), "machines"), "the shop has no machine called %q", v)
		return ""
	case n > 1:
		r.s.add(r.s.at(c.keys["machine"]), v, "write the id of the one that is meant", "the shop has %d machines that %q could mean", n, v)
	}
	return m.ID
}

func (o *obj) face(key string, def Face) Face {
	v := o.oneOf(key, faces)
	if v == "" {
		return def
	}
	return Face(v)
}

func (o *obj) faceList(key string) []Face {
	words, nodes := o.words(key)
	var out []Face
	for i, w := range words {
		ok := false
		for _, f := range faces {
			ok = ok || f == w
		}
		if !ok {
			o.s.add(o.s.at(nodes[i]), w, suggest(w, faces, "faces"), "no face or edge of a part: %s", w)
			continue
		}
		out = append(out, Face(w))
	}
	return out
}

// depth reads `depth:` or `through: true`.
func (r *jobReader) depth(c *obj, f *Feature) {
	f.Depth = c.dim("depth", r.sc, positive)
	if n := c.get("through"); n != nil {
		f.Through = c.boolean("through")
	}
	if c.keys["depth"] == nil && !f.Through {
		c.need("depth", "write how deep, such as `depth: 3/16`, or `through: true`")
	}
}

func (r *jobReader) groove(c *obj, f *Feature) {
	r.depth(c, f)
	f.Width = c.dim("width", r.sc, positive)
	f.Angle = c.angle("angle", 0, 45)
	f.Along = c.oneOf("along", []string{"length", "width"})
	if f.Along == "" && c.keys["along"] == nil {
		f.Along = "length"
		if f.Kind == "dado" {
			f.Along = "width"
		}
	}
	if c.keys["width"] == nil && f.Cutter == "" {
		c.need("width", "write its width, or name the cutter that gives it")
	}
	f.From = EdgeNear
	if f.Along == "width" {
		f.From = EndLeft
	}
	if c.need("at", "write where its middle runs, such as `at: 2 from near-edge`") {
		n := c.get("at")
		d, from := r.offset(n, "at", notNegative)
		f.Offset = d
		if from != "" {
			f.From = from
		}
		axisOK := f.Along == "length" && (f.From == EdgeNear || f.From == EdgeFar) || f.Along == "width" && (f.From == EndLeft || f.From == EndRight)
		if f.On == FaceTop || f.On == FaceBack {
			if !axisOK {
				r.s.add(r.s.at(n), string(f.From), "along: length goes with near-edge or far-edge, along: width with left-end or right-end",
					"a %s along the %s cannot be measured from the %s", f.Kind, f.Along, f.From)
			}
		}
	} else {
		c.get("at")
	}
	f.Start = c.dim("start", r.sc, notNegative)
	f.Stop = c.dim("stop", r.sc, positive)
	if f.Start.Set && f.Stop.Set && f.Stop.Length <= f.Start.Length {
		r.s.add(f.Stop.At, f.Stop.Src, "`start` and `stop` both count from the left end, or from the near edge", "the %s stops before it starts", f.Kind)
	}
}

// offset reads `2`, `2 from near-edge`, or `slot-left + 3/8 from right-end`.
func (r *jobReader) offset(n *yaml.Node, key string, sg sign) (Dim, Face) {
	v, ok := r.s.scalar(n, key)
	if !ok {
		return Dim{}, ""
	}
	text, face := v, ""
	if i := strings.LastIndex(v, " from "); i >= 0 {
		text, face = strings.TrimSpace(v[:i]), strings.TrimSpace(v[i+6:])
	}
	d := r.s.dimText(n, text, 1, key, r.sc, sg)
	if face == "" {
		return d, ""
	}
	for _, f := range faces[2:] {
		if f == face {
			return d, Face(f)
		}
	}
	r.s.add(r.s.valuePos(n, strings.Index(v, face)+1), face, suggest(face, faces[2:], "edges and ends"), "no edge or end of a part: %s", face)
	return d, ""
}

// faceSize gives the part's two lengths in the axes of a face: along its X and Y.
func faceSize(p *Part, on Face) (x, y Dim) {
	switch on {
	case EdgeNear, EdgeFar:
		return p.Size[0], p.Size[2]
	case EndLeft, EndRight:
		return p.Size[1], p.Size[2]
	}
	return p.Size[0], p.Size[1]
}

// coord reads one coordinate of a point; from right-end and far-edge it is
// turned round, so that every point counts from the left end and near edge.
func (r *jobReader) coord(n *yaml.Node, key string, on Face, p *Part, axis int) Dim {
	d, from := r.offset(n, key, anySign)
	if !d.Set || from == "" {
		return d
	}
	size, other := faceSize(p, on)
	low, high := EndLeft, EndRight
	if axis == 1 {
		size = other
	}
	across := axis == 1 && (on == FaceTop || on == FaceBack) || axis == 0 && (on == EndLeft || on == EndRight)
	if across {
		low, high = EdgeNear, EdgeFar
	}
	if axis == 1 && !across {
		r.s.add(r.s.at(n), string(from), "count the thickness from the back, without `from`", "the second number of a point on the %s is through the thickness", on)
		return d
	}
	switch from {
	case low:
		return d
	case high:
		if !size.Set {
			return d // the size is already told
		}
		d.Length = size.Length - d.Length
		return d
	}
	r.s.add(r.s.at(n), string(from), fmt.Sprintf("count this number from %s or %s", low, high), "this number of a point cannot be measured from the %s", from)
	return d
}

func (r *jobReader) point(n *yaml.Node, key string, on Face, p *Part) (Point, bool) {
	if n.Kind != yaml.SequenceNode || len(n.Content) != 2 {
		r.s.add(r.s.at(n), "", "write [along, across] from the left end and the near edge, such as [2, 3-1/2]", "%q: a point has two numbers", key)
		return Point{}, false
	}
	pt := Point{At: r.s.at(n), X: r.coord(n.Content[0], key, on, p, 0), Y: r.coord(n.Content[1], key, on, p, 1)}
	return pt, pt.X.Set && pt.Y.Set
}

// points reads `at: [[2, 2], [2, 22]]`; one point may stand alone: `at: [2, 2]`.
func (r *jobReader) points(c *obj, key string, on Face, p *Part) []Point {
	n := c.get(key)
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode {
		hint := "write [[along, across], ...] from the left end and the near edge"
		if key == "at" && n.Kind == yaml.MappingNode {
			hint += "; a `row:` or a `grid:` stands in place of `at:`, not in it"
		}
		r.s.add(r.s.at(n), snippet(n), hint, "%q must be a list of points", key)
		return nil
	}
	items := n.Content
	if len(items) == 2 && items[0].Kind == yaml.ScalarNode && items[1].Kind == yaml.ScalarNode {
		items = []*yaml.Node{n}
	}
	var out []Point
	for _, it := range items {
		if pt, ok := r.point(it, key, on, p); ok {
			out = append(out, pt)
		}
	}
	return out
}

// slot reads a long hole from the middle of one end to the middle of the other.
func (r *jobReader) slot(c *obj, f *Feature, p *Part) {
	r.depth(c, f)
	f.Width = c.dim("width", r.sc, positive)
	if c.keys["width"] == nil && f.Cutter == "" {
		c.need("width", "write its width, or name the cutter that gives it")
	}
	for _, key := range []string{"from", "to"} {
		if !c.need(key, "write the middle of each end, such as `from: [2, 3], to: [8, 3]`") {
			c.get(key)
			continue
		}
		if pt, ok := r.point(c.get(key), key, f.On, p); ok {
			f.Points = append(f.Points, pt)
		}
	}
	f.Counterbore = r.bore(c, "counterbore", f.On, true)
	f.Screw = c.str("screw")
	f.Mates = c.str("mates")
	r.refer(c, "mates", true, "mates")
}
