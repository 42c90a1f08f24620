package share

import (
	"fmt"
	"sort"
	"strings"

	"go.yaml.in/yaml/v3"

	"caul/job"
	"caul/job/measure"
)

// Need is something a build names that the reader's shop has under another
// name, or not at all, and what becomes of it.
type Need struct {
	Kind    string   `json:"kind"` // cutter, machine, glue, clamps, place, blade
	Theirs  string   `json:"theirs"`
	What    string   `json:"what,omitempty"`    // in words: kind and size
	Choices []string `json:"choices,omitempty"` // of the reader's, nearest first
	Settled string   `json:"settled,omitempty"` // how; empty: to be answered
}

// byHand stands for a machine the reader does without.
const byHand = "by hand"

// matcher settles what a build names with what the reader's shop has.
type matcher struct {
	b    *Bundle
	shop *job.Shop
	a    Answers

	needs    []Need
	cutters  map[string]string // theirs to yours
	blades   map[string]string // "" leaves it out
	glues    map[string]string
	words    map[string]string // of machines, as a set-up has them
	places   map[string]bool   // to be left out
	auto     map[string]string // glue-ups whose clamps the shop has not: why
	unheld   map[string]bool   // clamps a step holds that the shop has not
	toShop   []addition        // to shop.yaml
	problems []error
}

// addition is one item for a list of a file.
type addition struct{ list, item, what string }

func match(b *Bundle, shop *job.Shop, a Answers) *matcher {
	m := &matcher{b: b, shop: shop, a: a, cutters: map[string]string{}, blades: map[string]string{}, glues: map[string]string{},
		words: map[string]string{}, places: map[string]bool{}, auto: map[string]string{}, unheld: map[string]bool{}}
	m.matchCutters()
	m.matchMachines()
	m.matchBlades()
	m.matchGlues()
	m.matchClamps()
	m.matchPlaces()
	return m
}

func (m *matcher) need(kind, theirs, what, settled string, choices ...string) {
	m.needs = append(m.needs, Need{Kind: kind, Theirs: theirs, What: what, Settled: settled, Choices: choices})
}

// add puts the bundle's own item on the list of what goes into shop.yaml.
func (m *matcher) add(list, id, kind, what string) bool {
	if !m.a.AddMissing {
		return false
	}
	item, err := itemOf(m.b.Files["shop.yaml"], list, id)
	if err != nil {
		m.problems = append(m.problems, err)
		return false
	}
	m.toShop = append(m.toShop, addition{list, item, kind + " " + id})
	m.need(kind, id, what, "added to your shop.yaml as theirs is: make sure that you have one")
	return true
}

func (m *matcher) matchCutters() {
	u := m.shop.Units.Length
	words := func(c *job.Cutter) string {
		w := c.Kind
		if c.Diameter.Set {
			w += ", " + exactly(c.Diameter.Length, u)
		}
		if c.Radius.Set {
			w += ", radius " + exactly(c.Radius.Length, u)
		}
		if c.Angle != 0 {
			w += fmt.Sprintf(", %g degrees", c.Angle)
		}
		return w
	}
	for i := range m.b.Shop.Cutters {
		c := &m.b.Shop.Cutters[i]
		what := words(c)
		alike := func(o *job.Cutter) bool {
			return o.Kind == c.Kind && o.Diameter.Length == c.Diameter.Length && o.Radius.Length == c.Radius.Length && o.Angle == c.Angle
		}
		if y := m.a.Cutters[c.ID]; y != "" {
			o := m.shop.CutterByID(y)
			if o == nil {
				m.problems = append(m.problems, fmt.Errorf("%w: your shop has no cutter %q to stand for %s", ErrAnswer, y, c.ID))
				continue
			}
			m.cutters[c.ID] = y
			said := "yours: " + y
			if !alike(o) {
				said += " (" + words(o) + "), which cuts another shape or size: look at every cut made with it"
			}
			m.need("cutter", c.ID, what, said)
			continue
		}
		if o := m.shop.CutterByID(c.ID); o != nil {
			if !alike(o) {
				m.need("cutter", c.ID, what, fmt.Sprintf("yours of the same name is another (%s): look at every cut made with it, or name one with --cutter", words(o)))
			}
			continue
		}
		var same string
		var near []*job.Cutter
		for k := range m.shop.Cutters {
			o := &m.shop.Cutters[k]
			if alike(o) && same == "" {
				same = o.ID
			}
			if o.Kind == c.Kind {
				near = append(near, o)
			}
		}
		if same != "" {
			m.cutters[c.ID] = same
			m.need("cutter", c.ID, what, "yours, just as large: "+same)
			continue
		}
		if m.add("cutters", c.ID, "cutter", what) {
			continue
		}
		sort.SliceStable(near, func(a, b int) bool {
			return (near[a].Diameter.Length - c.Diameter.Length).Abs() < (near[b].Diameter.Length - c.Diameter.Length).Abs()
		})
		var ids []string
		for _, o := range near {
			ids = append(ids, o.ID)
		}
		m.need("cutter", c.ID, what, "", ids...)
	}
}

func plainWord(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '-' || r == '_' }), "-")
}

// resolves counts the machines of a shop that a word may mean, as reading a
// job does: by id, else by name, else by kind.
func resolves(s *job.Shop, word string) int {
	w := plainWord(word)
	for _, by := range []func(o *job.Machine) string{
		func(o *job.Machine) string { return o.ID },
		func(o *job.Machine) string { return o.Name },
		func(o *job.Machine) string { return o.Kind },
	} {
		n := 0
		for i := range s.Machines {
			if v := by(&s.Machines[i]); v != "" && plainWord(v) == w {
				n++
			}
		}
		if n > 0 {
			return n
		}
	}
	return 0
}

// matchMachines looks at every word a set-up or a cut names a machine by.
func (m *matcher) matchMachines() {
	done := map[string]bool{}
	var order []string
	of := map[string]*job.Machine{}
	note := func(word, id string) {
		word = strings.TrimSpace(word)
		if word == "" || id == "" || done[word] {
			return
		}
		done[word] = true
		order = append(order, word)
		of[word] = m.b.Shop.MachineByID(id)
	}
	for _, s := range m.b.Job.Steps {
		word, _, _ := strings.Cut(s.SetUp, ",")
		note(word, s.Machine)
	}
	root, err := rootOf(m.b.Files["jobs/"+m.b.Job.ID+"/job.yaml"])
	if err != nil {
		m.problems = append(m.problems, err)
		return
	}
	walkScalars(root, func(key string, n *yaml.Node) {
		if key == "machine" {
			for i := range m.b.Shop.Machines {
				o := &m.b.Shop.Machines[i]
				if w := plainWord(n.Value); w == plainWord(o.ID) || w == plainWord(o.Kind) || o.Name != "" && w == plainWord(o.Name) {
					note(n.Value, o.ID)
					return
				}
			}
		}
	})
	added := map[string]bool{}
	for _, word := range order {
		t := of[word]
		if t == nil {
			continue
		}
		y, said := m.a.Machines[word], false
		if y == "" {
			y = m.a.Machines[t.ID]
		}
		switch {
		case plainWord(y) == plainWord(byHand):
			m.words[word], said = byHand, true
			m.need("machine", word, "", "done by hand")
		case y != "" && resolves(m.shop, y) == 1:
			m.words[word], said = y, true
			m.need("machine", word, "", "yours: "+y)
		case y != "":
			m.problems = append(m.problems, fmt.Errorf("%w: your shop has no machine %q to stand for %s", ErrAnswer, y, word))
			said = true
		}
		if said || resolves(m.shop, word) == 1 {
			continue
		}
		var alike []string
		for _, o := range m.shop.Machines {
			if o.Kind == t.Kind && t.Kind != "" {
				alike = append(alike, o.ID)
			}
		}
		switch {
		case len(alike) == 1:
			m.words[word] = alike[0]
			m.need("machine", word, t.Kind, "yours: "+alike[0])
		case len(alike) == 0 && (added[t.ID] || m.add("machines", t.ID, "machine", t.Kind)):
			added[t.ID] = true
		default:
			m.need("machine", word, t.Kind, "", append(alike, byHand)...)
		}
	}
}

func (m *matcher) matchBlades() {
	for _, x := range m.b.Shop.Blades {
		used := false
		for _, f := range m.b.Job.Fittings {
			used = used || f.Blade == x.ID
		}
		if !used || m.shop.BladeByID(x.ID) != nil && m.a.Blades[x.ID] == "" {
			continue
		}
		what := ""
		if x.Kerf.Set {
			what = "kerf " + exactly(x.Kerf.Length, m.shop.Units.Length)
		}
		switch y := m.a.Blades[x.ID]; {
		case y != "" && m.shop.BladeByID(y) == nil:
			m.problems = append(m.problems, fmt.Errorf("%w: your shop has no blade %q to stand for %s", ErrAnswer, y, x.ID))
		case y != "":
			m.blades[x.ID] = y
			m.need("blade", x.ID, what, "yours: "+y)
		default:
			m.blades[x.ID] = ""
			m.need("blade", x.ID, what, "left out of the fittings: say which of yours goes with each, in job.yaml or with --blade")
		}
	}
}

func (m *matcher) matchGlues() {
	seen := map[string]bool{}
	for _, g := range m.b.Job.GlueUps {
		if seen[g.Glue] {
			continue
		}
		seen[g.Glue] = true
		l := m.b.Shop.GlueByID(g.Glue)
		switch y := m.a.Glues[g.Glue]; {
		case y != "":
			m.glues[g.Glue] = y
			m.need("glue", g.Glue, "", "yours: "+y)
		case l == nil: // a generic type: every shop knows it
		case m.shop.GlueByID(l.ID) != nil:
			if o := m.shop.GlueByID(l.ID); o.Type != l.Type {
				m.need("glue", l.ID, l.Type, fmt.Sprintf("yours of the same name is %s: name another with --glue if that is not meant", o.Type))
			}
		default:
			m.glues[l.ID] = l.Type
			said := "the usual figures of " + l.Type + " stand for it"
			for _, o := range m.shop.Glues {
				if o.Type == l.Type {
					m.glues[l.ID] = o.ID
					said = "yours: " + o.ID
					break
				}
			}
			m.need("glue", l.ID, l.Type, said+"; name a bottle of your own with --glue "+l.ID+"=yours")
		}
	}
}

func (m *matcher) matchClamps() {
	for _, g := range m.b.Job.GlueUps {
		var short []string
		for _, c := range m.b.Shop.Clamps {
			n := g.Clamps[c.ID]
			o := m.shop.ClampByID(c.ID)
			switch {
			case n == 0:
			case o == nil:
				short = append(short, fmt.Sprintf("%d %s, of which you have none", n, c.ID))
			case o.Qty < n:
				short = append(short, fmt.Sprintf("%d %s, of which you have %d", n, c.ID, o.Qty))
			}
		}
		if len(short) > 0 {
			m.auto[g.ID] = strings.Join(short, "; ")
			m.need("clamps", g.ID, strings.Join(short, "; "), "clamps: auto, worked out from your own")
		}
	}
	for _, s := range m.b.Job.Steps {
		for _, c := range m.b.Shop.Clamps {
			if s.Needs[c.ID] > 0 && m.shop.ClampByID(c.ID) == nil && !m.unheld[c.ID] {
				m.unheld[c.ID] = true
				m.need("clamps", c.ID, "", "left out of the steps that hold them: your shop has none")
			}
		}
	}
}

func (m *matcher) matchPlaces() {
	for _, p := range m.b.Shop.Places {
		if m.shop.PlaceByID(p.ID) == nil {
			m.places[p.ID] = true
			m.need("place", p.ID, "", "left out: your shop has no place of that name")
		}
	}
}

// open lists what is not settled.
func (m *matcher) open() []Need {
	var out []Need
	for _, n := range m.needs {
		if n.Settled == "" {
			out = append(out, n)
		}
	}
	return out
}

// apply writes the settling into job.yaml.
func (m *matcher) apply(data []byte) ([]byte, error) {
	foreign := unitsOf(m.b) != m.shop.Units.Length.System
	if len(m.needs) == 0 && !foreign {
		return data, nil
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(data, &doc); err != nil {
		return nil, err
	}
	root := doc.Content[0]
	walkScalars(root, func(key string, n *yaml.Node) {
		swap := func(to map[string]string) {
			if y := to[n.Value]; y != "" {
				n.SetString(y)
			}
		}
		switch key {
		case "cutter":
			swap(m.cutters)
		case "blade":
			swap(m.blades)
		case "glue":
			swap(m.glues)
		case "machine":
			if m.words[n.Value] == byHand {
				n.Value = gone
			} else {
				swap(m.words)
			}
		case "setup":
			if foreign {
				n.SetString(m.withUnits(n.Value))
			}
			word, rest, more := strings.Cut(n.Value, ",")
			if y := m.words[strings.TrimSpace(word)]; y != "" {
				if more {
					y += "," + rest
				}
				n.SetString(y)
			}
		}
	})
	m.prune(root, "")
	var b strings.Builder
	enc := yaml.NewEncoder(&b)
	enc.SetIndent(2)
	if err := enc.Encode(&doc); err != nil {
		return nil, err
	}
	return []byte(b.String()), nil
}

// prune takes out what the reader's shop has nothing for.
func (m *matcher) prune(n *yaml.Node, list string) {
	switch n.Kind {
	case yaml.MappingNode:
		id := ""
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == "id" {
				id = n.Content[i+1].Value
			}
		}
		for i := 0; i+1 < len(n.Content); {
			k, v := n.Content[i].Value, n.Content[i+1]
			left, isBlade := m.blades[v.Value]
			switch {
			case k == "place" && m.places[v.Value],
				k == "blade" && v.Kind == yaml.ScalarNode && isBlade && left == "",
				k == "machine" && v.Value == gone:
				n.Content = append(n.Content[:i], n.Content[i+2:]...)
				continue
			case list == "glue-ups" && k == "clamps" && m.auto[id] != "":
				n.Content[i+1] = &yaml.Node{Kind: yaml.ScalarNode, Value: "auto"}
			case list == "steps" && k == "needs" && v.Kind == yaml.MappingNode:
				for kind := range m.unheld {
					drop(v, kind)
				}
				if len(v.Content) == 0 {
					n.Content = append(n.Content[:i], n.Content[i+2:]...)
					continue
				}
			default:
				m.prune(v, k)
			}
			i += 2
		}
	case yaml.SequenceNode:
		for _, c := range n.Content {
			m.prune(c, list)
		}
	}
}

func rootOf(data []byte) (*yaml.Node, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(data, &doc); err != nil {
		return nil, err
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode {
		return nil, fmt.Errorf("not a map")
	}
	return doc.Content[0], nil
}

// itemOf gives one item of a list in a file as YAML on one line.
func itemOf(data []byte, list, id string) (string, error) {
	root, err := rootOf(data)
	if err != nil {
		return "", err
	}
	for i := 0; i+1 < len(root.Content); i += 2 {
		if root.Content[i].Value != list {
			continue
		}
		for _, it := range root.Content[i+1].Content {
			for k := 0; k+1 < len(it.Content); k += 2 {
				if it.Content[k].Value == "id" && it.Content[k+1].Value == id {
					it.Style = yaml.FlowStyle
					b, err := encode(it)
					s := strings.TrimSpace(string(b))
					if err == nil && strings.Contains(s, "\n") {
						err = fmt.Errorf("%s %s does not fit on a line", list, id)
					}
					return s, err
				}
			}
		}
	}
	return "", fmt.Errorf("the bundle has no %s in its %s", id, list)
}

// exactly writes a length in the shop's mark where that says it, else to the
// last unit: a difference is never shown as none.
func exactly(l measure.Length, u measure.Units) string {
	s := measure.FormatUnit(l, u)
	if back, err := measure.ParseLength(s, u.System); err == nil && back == l {
		return s
	}
	return measure.Exact(l, u)
}
