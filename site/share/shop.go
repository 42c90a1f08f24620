package share

import (
	"bytes"
	"regexp"
	"slices"
	"sort"

	"go.yaml.in/yaml/v3"

	"caul/job"
)

func mapping(kv ...any) *yaml.Node {
	n := &yaml.Node{Kind: yaml.MappingNode}
	for i := 0; i+1 < len(kv); i += 2 {
		v := value(kv[i+1])
		if v == nil {
			continue
		}
		n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: kv[i].(string)}, v)
	}
	return n
}

// value is nil for what is empty, so that it is left out.
func value(v any) *yaml.Node {
	switch v := v.(type) {
	case *yaml.Node:
		if v != nil && (v.Kind == yaml.SequenceNode || v.Kind == yaml.MappingNode) && len(v.Content) == 0 {
			return nil
		}
		return v
	case string:
		if v == "" {
			return nil
		}
		n := &yaml.Node{}
		n.SetString(v)
		return n
	case nil:
		return nil
	}
	n := &yaml.Node{}
	if n.Encode(v) != nil {
		return nil
	}
	return n
}

func list(items ...*yaml.Node) *yaml.Node {
	return &yaml.Node{Kind: yaml.SequenceNode, Content: items}
}

func encode(n *yaml.Node) ([]byte, error) {
	var b bytes.Buffer
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	err := e.Encode(n)
	return b.Bytes(), err
}

// shopYAML writes as much of the shop as the job's files name: its measures,
// cutters, blades, kinds of machine, clamps and places; never how many hours
// or when. The hours that stand in it are for reading the file only.
func (m *maker) shopYAML() error {
	s, j := m.in.Shop, m.j
	src := string(m.files[j.Dir+"/job.yaml"])
	named := func(id string) bool {
		return id != "" && regexp.MustCompile(`(^|[^\pL\pN-])`+regexp.QuoteMeta(id)+`($|[^\pL\pN-])`).MatchString(src)
	}
	dim := func(d job.Dim) string {
		if !d.Set {
			return ""
		}
		return m.exact(d.Length)
	}
	measures := &yaml.Node{Kind: yaml.MappingNode}
	for _, x := range m.needed(named) {
		v := mapping("is", dim(x.Dim), "ask", m.text("shop.yaml", x.Ask))
		measures.Content = append(measures.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: x.Name}, v)
	}
	machines, cutters, blades, clamps, places := list(), list(), list(), list(), list()
	used := map[string]bool{}
	for _, st := range j.Steps {
		used[st.Machine] = true
	}
	for _, f := range j.Parts {
		for _, x := range f.Machining {
			used[x.Machine] = true
		}
	}
	for _, b := range s.Blades {
		if named(b.ID) {
			used[b.Machine] = true
		}
	}
	for _, x := range s.Machines {
		if used[x.ID] || named(x.ID) {
			machines.Content = append(machines.Content, mapping("id", x.ID, "kind", x.Kind))
		}
	}
	for _, x := range s.Cutters {
		if named(x.ID) {
			n := mapping("id", x.ID, "kind", x.Kind, "diameter", dim(x.Diameter), "length", dim(x.Length), "shank", dim(x.Shank), "radius", dim(x.Radius))
			if x.Angle != 0 {
				n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: "angle"}, value(x.Angle))
			}
			cutters.Content = append(cutters.Content, n)
		}
	}
	for _, x := range s.Blades {
		if named(x.ID) {
			blades.Content = append(blades.Content, mapping("id", x.ID, "machine", x.Machine, "kerf", dim(x.Kerf)))
		}
	}
	for _, x := range s.Clamps {
		if n := mostClamps(j, x.ID); n > 0 {
			clamps.Content = append(clamps.Content, mapping("id", x.ID, "kind", x.Kind, "qty", n))
		}
	}
	for _, x := range s.Places {
		if named(x.ID) {
			places.Content = append(places.Content, mapping("id", x.ID))
		}
	}
	b, err := encode(mapping(
		"name", "A shared build",
		"units", mapping("length", s.Units.Length.System.Name(), "temperature", s.Units.Temp, "money", s.Units.Money),
		"hours", mapping("sat", "9:00-12:00"),
		"clamps", clamps, "places", places, "machines", machines, "cutters", cutters, "blades", blades, "measures", measures))
	m.files["shop.yaml"] = b
	return err
}

// needed are the shop's measures that the job refers to, and those they refer
// to, in the shop's order.
func (m *maker) needed(named func(string) bool) []job.Measure {
	want := map[string]bool{}
	own := map[string]bool{}
	for _, x := range m.j.Measures {
		own[x.Name] = true
	}
	for _, x := range m.in.Shop.Measures {
		if named(x.Name) && !own[x.Name] {
			want[x.Name] = true
		}
	}
	var out []job.Measure
	for _, x := range m.in.Shop.Measures {
		if want[x.Name] {
			out = append(out, x)
		}
	}
	return out
}

// mostClamps is the largest number of a kind that one step of the job takes.
func mostClamps(j *job.Job, id string) int {
	most := 0
	for i := range j.Steps {
		st := &j.Steps[i]
		n := st.Needs[id]
		if st.GlueUp != nil {
			n += st.GlueUp.Clamps[id]
		}
		most = max(most, n)
	}
	return most
}

// stockYAML names the kinds of stock, without price or what is on the shelf.
func (m *maker) stockYAML() error {
	kinds := map[string]bool{}
	for _, p := range m.j.Parts {
		kinds[p.From] = true
	}
	stock := list()
	for _, x := range m.in.Shop.Stock {
		if !kinds[x.ID] {
			continue
		}
		size := ""
		if x.Size[0].Set && x.Size[1].Set {
			size = m.exact(x.Size[0].Length) + " x " + m.exact(x.Size[1].Length)
			if x.Size[2].Set {
				size += " x " + m.exact(x.Size[2].Length)
			}
		}
		thick := ""
		if x.Thick.Set {
			thick = m.exact(x.Thick.Length)
		}
		n := mapping("id", x.ID, "name", m.text("stock.yaml", x.Name), "form", x.Form, "species", x.Species, "nominal", x.Nominal, "size", size, "thick", thick, "grain", x.Grain)
		if x.Surfaced {
			n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: "surfaced"}, value(true))
		}
		stock.Content = append(stock.Content, n)
	}
	b, err := encode(mapping("stock", stock))
	m.files["stock.yaml"] = b
	return err
}

// glues carries the labels the job's glue-ups go by.
func (m *maker) glues() error {
	used := map[string]bool{}
	for _, g := range m.j.GlueUps {
		used[g.Glue] = true
	}
	out := list()
	for _, l := range m.in.Shop.Glues {
		if !used[l.ID] {
			continue
		}
		points := func(ps []job.LabelPoint) *yaml.Node {
			n := &yaml.Node{Kind: yaml.MappingNode}
			ps = slices.Clone(ps)
			sort.SliceStable(ps, func(a, b int) bool { return ps[a].Temp < ps[b].Temp })
			for _, p := range ps {
				t, _ := p.Temp.MarshalText()
				n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: string(t)}, value(p.Time.String()))
			}
			return n
		}
		span := func(s interface{ String() string }, set bool) string {
			if !set {
				return ""
			}
			return s.String()
		}
		low := ""
		if l.Lowest != nil {
			t, _ := l.Lowest.MarshalText()
			low = string(t)
		}
		n := mapping("id", l.ID, "name", m.text("glues.yaml", l.Name), "type", l.Type, "open", span(l.Open, l.Open > 0), "closed", span(l.Closed, l.Closed > 0),
			"clamp", points(l.Clamp), "cure", points(l.Cure), "lowest", low)
		if l.Spread > 0 {
			n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: "spread"}, value(l.Spread))
		}
		out.Content = append(out.Content, n)
	}
	if len(out.Content) == 0 {
		return nil
	}
	b, err := encode(mapping("glues", out))
	m.files["glues.yaml"] = b
	return err
}
