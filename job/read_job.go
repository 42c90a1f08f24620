package job

import (
	"cmp"
	"fmt"
	"io/fs"
	"maps"
	"math/big"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"caul/job/measure"
)

// readJob reads one folder under jobs/.
func (r *reader) readJob(id, dir string, inside []fs.DirEntry) *Job {
	j := &Job{ID: id, Dir: dir, Copies: 1, Weight: 1, At: Pos{File: dir + "/job.yaml", Line: 1, Col: 1}}
	s := r.open(dir+"/job.yaml", true)
	if s == nil {
		return nil
	}
	if o := s.yamlRoot("job.yaml"); o != nil {
		(&jobReader{reader: r, s: s, j: j, sc: r.jobScope()}).read(o)
	}
	if b := r.open(dir+"/build.md", false); b != nil && b.checkText(false) {
		j.Build = ReadBuild(b.file, b.data, j.Steps)
	}
	r.readLog(j)
	for _, e := range inside {
		if e.Type()&fs.ModeSymlink != 0 && e.Name() != "log" && e.Name() != "build.md" && e.Name() != "job.yaml" {
			r.problem(dir+"/"+e.Name(), "put the file or folder itself there; links are not followed", "a symbolic link")
		}
		if e.Name() == "photos" && e.IsDir() {
			for _, p := range r.folder(dir+"/photos", false) {
				if p.Type()&fs.ModeSymlink != 0 {
					r.problem(dir+"/photos/"+p.Name(), "put the picture itself there; links are not followed", "a symbolic link")
				}
			}
		}
	}
	return j
}

func (r *reader) jobScope() *scope {
	sc := *r.sc
	sc.vals = maps.Clone(r.sc.vals)
	sc.broken = maps.Clone(r.sc.broken)
	return &sc
}

// jobReader reads job.yaml.
type jobReader struct {
	*reader
	s  *source
	j  *Job
	sc *scope

	refs []ref // parts and steps that are named, looked up when all are known
}

// ref is a part or a step named somewhere in the job.
type ref struct {
	part  bool
	id    string
	at    Pos
	where string
}

// refer keeps what a key names, with the place of each word, for later.
func (r *jobReader) refer(o *obj, key string, part bool, where string) {
	n := o.keys[key]
	if n == nil {
		return
	}
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		items = n.Content
	}
	for _, it := range items {
		if it.Kind != yaml.ScalarNode || it.Value == "" {
			continue
		}
		id := it.Value
		if key == "mates" {
			id, _, _ = strings.Cut(id, "/")
		}
		r.refs = append(r.refs, ref{part, id, r.s.at(it), where})
	}
}

func (r *jobReader) read(o *obj) {
	j, s, sc := r.j, r.s, r.sc
	j.Name = o.str("name")
	if j.Name == "" {
		j.Name = j.ID
	}
	j.For = o.str("for")
	j.Copies = o.integer("copies", 1, 1, 10_000)
	j.Due = o.date("due", sc)
	j.Weight = o.integer("weight", 1, 1, 1000)
	j.Species = o.str("species")
	j.Cautions, _ = o.words("cautions")
	r.units(o)
	j.Measures = o.measures("measures", sc)
	for _, n := range o.list("parts") {
		if c := s.mapping(n, "a part"); c != nil {
			j.Parts = append(j.Parts, r.part(c))
		}
	}
	for _, n := range o.list("hardware") {
		if c := s.mapping(n, "hardware"); c != nil {
			h := Hardware{At: c.pos(), Item: c.id("item", true), Qty: c.integer("qty", 1, 1, 100_000), Step: c.str("step"), Metal: c.boolean("metal"), Note: c.str("note")}
			h.Joins, _ = c.words("joins")
			r.refer(c, "joins", true, "joins")
			r.refer(c, "step", false, "hardware")
			c.done()
			j.Hardware = append(j.Hardware, h)
		}
	}
	for _, n := range o.list("glue-ups") {
		if c := s.mapping(n, "a glue-up"); c != nil {
			j.GlueUps = append(j.GlueUps, r.glueUp(c))
		}
	}
	for _, n := range o.list("steps") {
		if c := s.mapping(n, "a step"); c != nil {
			j.Steps = append(j.Steps, r.step(c))
		}
	}
	for _, n := range o.list("checks") {
		if c := s.mapping(n, "a check"); c != nil {
			ch := Check{At: c.pos(), ID: c.id("id", false), Measure: c.str("measure"), AtMost: c.dim("at-most", sc, anySign), AtLeast: c.dim("at-least", sc, anySign),
				Nominal: c.dim("nominal", sc, anySign), Within: c.dim("within", sc, positive), FiveCut: c.boolean("five-cut"), Pivot: c.dim("pivot", sc, positive), Every: c.every("every")}
			if !ch.AtMost.Set && !ch.AtLeast.Set && !ch.Within.Set && n.Kind == yaml.MappingNode && c.keys["at-most"] == nil && c.keys["at-least"] == nil && c.keys["within"] == nil {
				s.add(ch.At, "", "give `at-most:`, `at-least:`, or `nominal:` with `within:`", "the check %q says no limit", ch.ID)
			}
			c.done()
			j.Checks = append(j.Checks, ch)
		}
	}
	for _, n := range o.list("fittings") {
		if c := s.mapping(n, "a fitting"); c != nil {
			j.Fittings = append(j.Fittings, Fitting{At: c.pos(), ID: c.id("id", false), Name: c.str("name"), Kind: c.str("kind"), Blade: c.str("blade"), Cutter: c.str("cutter"),
				Angle: c.angle("angle", -90, 90), Cut: c.date("cut", sc), Kerf: c.dim("kerf", sc, positive), Hangs: c.str("hangs")})
			c.done()
		}
	}
	for _, n := range o.list("consumes") {
		if c := s.mapping(n, "something consumed"); c != nil {
			r.refer(c, "step", false, "consumes")
			co := Consumable{At: c.pos(), Item: c.id("item", true), Amount: c.amount("amount"), Step: c.str("step")}
			if an := c.get("area"); an != nil {
				if v, ok := s.scalar(an, "area"); ok {
					if _, err := measure.ParseDims(v, sc.units.System, 2); err != nil {
						if _, err3 := measure.ParseDims(v, sc.units.System, 3); err3 != nil {
							s.measureError(an, 1, "area", sc, err)
						}
					}
					co.Area = v
				}
			}
			c.done()
			j.Consumes = append(j.Consumes, co)
		}
	}
	for _, n := range o.list("assembly") {
		if c := s.mapping(n, "an assembly"); c != nil {
			j.Assembly = append(j.Assembly, r.fit(c))
		}
	}
	o.done()
	r.checkJob()
}

func (r *jobReader) part(c *obj) Part {
	s, sc := r.s, r.sc
	p := Part{At: c.pos(), ID: c.id("id", false), Name: c.str("name"), Qty: c.integer("qty", 1, 1, 10_000), From: c.str("from"), SameSheet: c.str("same-sheet"),
		Turn: c.boolean("turn"), Oversize: c.dim("oversize", sc, notNegative), FitToMeasure: c.boolean("fit-to-measure"), Held: c.str("held"), Web: c.dim("web", sc, positive), Solid: c.boolPtr("solid"), Note: c.str("note")}
	if c.need("size", "write along x across x thick, such as `size: 48 x 24 x 1/2`") {
		p.Size = s.size3(c.get("size"), "size", sc, true)
	} else {
		c.get("size")
	}
	if c.need("from", "name the stock it comes from; stock.yaml lists them") && p.From != "" && r.shop.StockByID(p.From) == nil && !r.lost["stock.yaml"] {
		ids := make([]string, 0, len(r.shop.Stock))
		for _, st := range r.shop.Stock {
			ids = append(ids, st.ID)
		}
		hint := suggest(p.From, ids, "add it to stock.yaml; there is")
		if len(ids) == 0 {
			hint = "add it to stock.yaml"
		}
		s.add(s.at(c.keys["from"]), p.From, hint, "no stock is called %q", p.From)
	}
	for _, n := range c.list("machining") {
		p.Machining = append(p.Machining, r.feature(n, &p)...)
	}
	c.done()
	return p
}

// units reads the system of a job that was drawn in another one than the shop
// measures in; bare numbers in job.yaml and the log are then of that system.
func (r *jobReader) units(o *obj) {
	n := o.get("units")
	if n == nil {
		return
	}
	v, ok := r.s.scalar(n, "units")
	if !ok {
		return
	}
	sys, err := measure.ParseSystem(v)
	if err != nil {
		r.s.add(r.s.at(n), v, "write in or mm", "no unit of length: %s", v)
		return
	}
	r.sc.units.System = sys
	r.j.Units = &sys
}

func (r *jobReader) glueUp(c *obj) GlueUp {
	s, sc := r.s, r.sc
	g := GlueUp{At: c.pos(), ID: c.id("id", false), Glue: c.str("glue"), Caul: c.dim("caul", sc, positive), Place: c.str("place"), Spread: c.span("spread"), Count: 1}
	g.Joins, _ = c.words("joins")
	r.refer(c, "joins", true, "joins")
	g.Faces, _ = c.words("faces")
	if c.need("glue", "name a generic type such as `glue: "+genericGlues()[0]+"`, or a glue of glues.yaml") && g.Glue != "" && !isGeneric(g.Glue) && r.shop.GlueByID(g.Glue) == nil && !r.lost["glues.yaml"] {
		known := genericGlues()
		for _, l := range r.shop.Glues {
			known = append(known, l.ID)
		}
		s.add(s.at(c.keys["glue"]), g.Glue, suggest(g.Glue, known, "glues"), "no glue is called %q", g.Glue)
	}
	if n := c.get("bond"); n != nil {
		if v, ok := s.scalar(n, "bond"); ok {
			g.Bond = v
			r.bond(n, v, &g)
		}
	}
	if n := c.get("clamps"); n != nil {
		if n.Kind == yaml.ScalarNode {
			if n.Value == "auto" {
				g.Auto = true
			} else {
				s.add(s.at(n), n.Value, "write `clamps: auto`, or a map such as `clamps: {bar: 8}`", "%q must be a map or auto", "clamps")
			}
		} else {
			var nodes map[string]*yaml.Node
			g.Clamps, nodes = c.counts("clamps", 1)
			r.checkClamps(nodes)
		}
	}
	if g.Place != "" && r.shop.PlaceByID(g.Place) == nil {
		r.noPlace(c, g.Place)
	}
	if n := c.get("scrape"); n != nil {
		if v, ok := s.scalar(n, "scrape"); ok {
			lag, err := parseLag(v+" after "+cmp.Or(g.ID, "core")+" clamps-on", true)
			if err != nil {
				s.add(s.at(n), v, "write least to most after clamping, such as `scrape: 30 min to 60 min`", "%q is not a time from and to: %s", "scrape", v)
			} else {
				lag.Src, lag.At = v, s.at(n)
				g.Scrape = &lag
			}
		}
	}
	c.done()
	return g
}

// bond reads `46 x 3/4` or, with a count before it, `2 x 46 x 3/4`.
func (r *jobReader) bond(n *yaml.Node, v string, g *GlueUp) {
	s, sc := r.s, r.sc
	es, err := measure.ParseDims(v, sc.units.System, 3)
	if err == nil {
		num, ok := es[0].Number()
		if !ok || !num.IsInt() || num.Sign() <= 0 || num.Cmp(big.NewRat(10_000, 1)) > 0 {
			s.add(s.at(n), v, "write how many x length x width, such as `bond: 2 x 46 x 3/4`", "a bond of three numbers begins with a count: %s", v)
			return
		}
		g.Count = int(num.Num().Int64())
		es = es[1:]
	} else {
		var err2 error
		if es, err2 = measure.ParseDims(v, sc.units.System, 2); err2 != nil {
			s.measureError(n, 1, "bond", sc, err2)
			return
		}
	}
	for i, e := range es {
		g.BondDim[i] = s.evalDim(n, e, strings.TrimSpace(e.String()), 1, 1, "bond", sc, positive)
	}
	if g.BondDim[0].Set && g.BondDim[1].Set {
		g.Area = measure.Rect(g.BondDim[0].Length, g.BondDim[1].Length).Times(int64(g.Count))
	}
}

func (r *jobReader) checkClamps(nodes map[string]*yaml.Node) {
	if r.lost["shop.yaml"] {
		return
	}
	ids := make([]string, 0, len(r.shop.Clamps))
	for _, c := range r.shop.Clamps {
		ids = append(ids, c.ID)
	}
	for _, k := range slices.Sorted(maps.Keys(nodes)) {
		if r.shop.ClampByID(k) == nil {
			r.s.add(r.s.at(nodes[k]), k, lacking(k, ids, "clamps"), "the shop has no clamp called %q", k)
		}
	}
}

func (r *jobReader) noPlace(c *obj, place string) {
	if r.lost["shop.yaml"] {
		return
	}
	ids := make([]string, 0, len(r.shop.Places))
	for _, p := range r.shop.Places {
		ids = append(ids, p.ID)
	}
	r.s.add(r.s.at(c.keys["place"]), place, lacking(place, ids, "places"), "the shop has no place called %q", place)
}

func (r *jobReader) step(c *obj) Step {
	s := r.s
	st := Step{At: c.pos(), ID: c.id("id", false), Name: c.str("name"), Takes: c.span("takes"), SetUp: c.str("setup"), Split: c.boolean("split"),
		Place: c.str("place"), Finish: c.boolean("finish"), Optional: c.boolean("optional")}
	if c.need("takes", "write the hands-on time, such as `takes: 40 min`") && st.Takes == 0 && c.keys["takes"].Kind == yaml.ScalarNode {
		if sp, err := measure.ParseSpan(c.keys["takes"].Value); err == nil && sp == 0 {
			s.add(s.at(c.keys["takes"]), c.keys["takes"].Value, "write the hands-on time, at least a minute", "%q is zero", "takes")
		}
	}
	var nodes map[string]*yaml.Node
	st.Needs, nodes = c.counts("needs", 1)
	r.checkClamps(nodes)
	st.Uses, _ = c.words("uses")
	r.refer(c, "uses", true, "uses")
	if st.Place != "" && r.shop.PlaceByID(st.Place) == nil {
		r.noPlace(c, st.Place)
	}
	words, wn := c.words("after")
	for i, w := range words {
		lag, err := parseLag(w, false)
		if err != nil {
			s.add(s.at(wn[i]), w, lagHint, "%q: %v: %s", "after", err, w)
			continue
		}
		lag.Src, lag.At = w, s.at(wn[i])
		st.After = append(st.After, lag)
	}
	if st.SetUp != "" {
		word, rest, _ := strings.Cut(st.SetUp, ",")
		word = strings.TrimSpace(word)
		m, n := r.shop.findMachine(word)
		switch {
		case plainWord(word) == "by-hand":
			st.State = normalSetUp(rest)
		case m == nil && r.lost["shop.yaml"]:
		case m == nil:
			s.add(s.at(c.keys["setup"]), word, suggest(word, append(r.shop.machineIDs(), "by hand"), "add it to `machines:` in shop.yaml; there is"), "the set-up names no machine of the shop: %s", word)
		case n > 1:
			s.add(s.at(c.keys["setup"]), word, "write the id of the one that is meant", "the shop has %d machines that %q could mean", n, word)
		default:
			st.Machine, st.State = m.ID, normalSetUp(rest)
		}
	}
	c.done()
	return st
}

// normalSetUp writes a set-up the same way however it was spaced.
func normalSetUp(s string) string {
	parts := strings.Split(strings.ToLower(s), ",")
	out := parts[:0]
	for _, p := range parts {
		if f := strings.Join(strings.Fields(p), " "); f != "" {
			out = append(out, f)
		}
	}
	return strings.Join(out, ", ")
}

func (r *jobReader) fit(c *obj) Fit {
	s, sc := r.s, r.sc
	f := Fit{At: c.pos(), ID: c.id("id", false), Fills: c.dim("fills", sc, positive), Slack: c.dim("slack", sc, notNegative)}
	c.need("fills", "write the length that the parts fill, such as `fills: 27`")
	for _, n := range c.list("parts") {
		p := s.mapping(n, "a term of an assembly")
		if p == nil {
			continue
		}
		fp := FitPart{At: p.pos(), Part: p.str("part"), Axis: p.oneOf("axis", axes), Qty: p.integer("qty", 1, 1, 10_000), Dim: p.dim("dim", sc, positive)}
		switch {
		case fp.Part == "" && p.keys["dim"] == nil:
			s.add(fp.At, "", "write `part:` with `axis:`, or a plain length as `dim:`", "a term of an assembly needs a part or a length")
		case fp.Part != "" && fp.Dim.Set:
			s.add(fp.At, "", "write two terms", "a term of an assembly has both a part and a length")
		case fp.Part != "" && fp.Axis == "" && p.keys["axis"] == nil:
			s.add(fp.At, "", "write `axis: length`, `axis: width` or `axis: thick`", "which way does the part %q lie", fp.Part)
		}
		r.refer(p, "part", true, "assembly")
		p.done()
		f.Parts = append(f.Parts, fp)
	}
	c.done()
	return f
}

var axes = []string{"length", "width", "thick"}

// every reads how often a check is repeated.
func (o *obj) every(key string) string {
	n := o.get(key)
	v, ok := o.s.scalar(n, key)
	if !ok {
		return ""
	}
	if _, _, err := ParseEvery(v); err != nil {
		o.s.add(o.s.at(n), v, "write a number of weeks, months, years or uses, or `seasonal`", "%q: %v: %s", key, err, v)
		return ""
	}
	return v
}

// ParseEvery reads "3 months", "2 weeks", "1 year", "20 uses" or "seasonal"
// (every 3 months). It gives a count and its unit: month, week, year or use.
func ParseEvery(v string) (int, string, error) {
	if v == "seasonal" {
		return 3, "month", nil
	}
	var n int
	var unit, rest string
	if c, err := fmt.Sscanf(v, "%d %s %s", &n, &unit, &rest); c != 2 || err == nil {
		return 0, "", fmt.Errorf("not a repeat")
	}
	unit = strings.TrimSuffix(unit, "s")
	switch unit {
	case "week", "month", "year", "use":
		if n < 1 || n > 10_000 {
			return 0, "", fmt.Errorf("not a repeat")
		}
		return n, unit, nil
	}
	return 0, "", fmt.Errorf("not a repeat")
}
