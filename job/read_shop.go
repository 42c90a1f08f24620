package job

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // a shop's zone must be known on a machine without a zone database

	"go.yaml.in/yaml/v3"

	"caul/job/measure"
)

func (r *reader) readShop(s *source) bool {
	o := s.yamlRoot("shop.yaml")
	if o == nil {
		return false
	}
	sh, sc := r.shop, r.sc
	sh.At = o.at1()
	sh.Name = o.str("name")
	r.readUnits(o)
	sh.Zone = time.UTC
	if n := o.get("zone"); n != nil {
		if v, ok := s.scalar(n, "zone"); ok {
			z, err := time.LoadLocation(v)
			if err != nil || v == "Local" || v == "" {
				s.add(s.at(n), v, "write a name of the time zone database, such as Europe/Vienna or America/Denver", "no time zone of this name: %s", v)
			} else {
				sh.Zone, sc.zone = z, z
			}
		}
	}
	sh.Measures = o.measures("measures", sc)
	r.readHours(o)
	r.readAir(o)
	for _, n := range o.list("clamps") {
		if c := s.mapping(n, "a clamp"); c != nil {
			sh.Clamps = append(sh.Clamps, Clamp{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Kind: c.str("kind"),
				Qty: c.integer("qty", 1, 0, 10_000), Opening: c.dim("opening", sc, positive), Pad: c.dim("pad", sc, positive), Force: c.force("force")})
			c.done()
		}
	}
	for _, n := range o.list("places") {
		if c := s.mapping(n, "a place"); c != nil {
			sh.Places = append(sh.Places, Place{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Qty: c.integer("qty", 1, 1, 1000)})
			c.done()
		}
	}
	for _, n := range o.list("machines") {
		if c := s.mapping(n, "a machine"); c != nil {
			m := Machine{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Kind: c.str("kind"),
				SetUp: c.span("set-up"), Move: c.span("same-cutter"), Table: c.dim("capacity", sc, positive), SlotFrom: c.dim("slot-from-blade", sc, positive),
				Slot: c.dim("slot", sc, positive), SlotDeep: c.dim("slot-deep", sc, positive)}
			if m.Kind == "" {
				m.Kind = m.ID
			}
			sh.Machines = append(sh.Machines, m)
			c.done()
		}
	}
	for _, n := range o.list("cutters") {
		if c := s.mapping(n, "a cutter"); c != nil {
			sh.Cutters = append(sh.Cutters, Cutter{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Kind: c.str("kind"),
				Diameter: c.dim("diameter", sc, positive), Length: c.dim("length", sc, positive), Shank: c.dim("shank", sc, positive),
				Radius: c.dim("radius", sc, positive), Angle: c.angle("angle", 0, 180)})
			c.done()
		}
	}
	for _, n := range o.list("blades") {
		if c := s.mapping(n, "a blade"); c != nil {
			b := Blade{At: c.pos(), ID: c.id("id", true), Name: c.str("name"), Machine: c.str("machine"),
				Kerf: c.dim("kerf", sc, positive), Teeth: c.integer("teeth", 0, 1, 1000)}
			c.need("kerf", "measure the cut, not the plate, and write it, such as `kerf: 1/8`")
			sh.Blades = append(sh.Blades, b)
			c.done()
		}
	}
	if sub := s.mapping(o.get("sharing"), "`sharing`"); sub != nil {
		sh.Sharing = Sharing{Author: sub.str("author"), At: sub.pos()}
		sh.Sharing.Never, _ = sub.words("never")
		sub.done()
	}
	o.done()
	return true
}

// at1 is the beginning of the file.
func (o *obj) at1() Pos { return Pos{File: o.s.file, Line: 1 + o.s.first, Col: 1} }

func (r *reader) readUnits(o *obj) {
	sh, sc, s := r.shop, r.sc, o.s
	sh.Units = Units{Length: sc.units, Temp: sc.temp}
	u := s.mapping(o.get("units"), "`units`")
	if u == nil {
		return
	}
	if n := u.get("length"); n != nil {
		if v, ok := s.scalar(n, "length"); ok {
			sys, err := measure.ParseSystem(v)
			if err != nil {
				s.add(s.at(n), v, "write in or mm", "no unit of length for a shop: %s", v)
			} else {
				sh.Units.Length.System = sys
				sh.Units.Length.Mark = 0
				if sys == measure.Inches {
					sh.Units.Length.Mark = 64
				}
			}
		}
	}
	if n := u.get("finest"); n != nil {
		if v, ok := s.scalar(n, "finest"); ok {
			mark := -1
			if sh.Units.Length.System == measure.Inches {
				if d, found := strings.CutPrefix(v, "1/"); found {
					mark, _ = strconv.Atoi(d)
				}
			} else {
				switch v {
				case "0.1", "0.1 mm":
					mark = 1
				case "0.01", "0.01 mm":
					mark = 2
				}
			}
			try := measure.Units{System: sh.Units.Length.System, Mark: mark}
			if mark < 1 || try.Check() != nil {
				s.add(s.at(n), v, "write 1/16, 1/32, 1/64 or 1/128; in a metric shop 0.1 or 0.01", "no rule has this finest mark: %s", v)
			} else {
				sh.Units.Length.Mark = mark
			}
		}
	}
	if n := u.get("temperature"); n != nil {
		if v, ok := s.scalar(n, "temperature"); ok {
			t, err := scaleOf(v)
			if err != nil {
				s.add(s.at(n), v, err.Error(), "no temperature scale: %s", v)
			} else {
				sh.Units.Temp = t
			}
		}
	}
	if n := u.get("money"); n != nil {
		if v, ok := s.scalar(n, "money"); ok {
			if _, known := measure.Decimals(v); !known {
				s.add(s.at(n), v, "write the three-letter code of ISO 4217, such as USD or EUR", "no currency of this code: %s", v)
			} else {
				sh.Units.Money = v
			}
		}
	}
	u.done()
	sc.units, sc.temp, sc.money = sh.Units.Length, sh.Units.Temp, sh.Units.Money
}

var dayNames = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}

func dayIndex(v string) int {
	v = strings.ToLower(v)
	for i, d := range dayNames {
		if v == d || len(v) > 3 && v == strings.ToLower(weekday(i).String()) {
			return i
		}
	}
	return -1
}

func weekday(i int) time.Weekday { return time.Weekday((i + 1) % 7) }

func (r *reader) readHours(o *obj) {
	s := o.s
	n := o.get("hours")
	r.shop.Hours.At = o.at1()
	h := s.mapping(n, "`hours`")
	if h == nil {
		if n == nil {
			s.add(o.at1(), "", "add `hours:` with a day or two, such as `sat: 9:00-12:00`", "shop.yaml gives no hours: the shop never opens")
		}
		return
	}
	hours := &r.shop.Hours
	hours.At = h.pos()
	hours.Week = map[time.Weekday][]Window{}
	given := map[int]string{}
	for _, key := range h.order {
		if key == "except" || key == "least" {
			continue
		}
		from, to := dayIndex(key), -1
		if a, b, ok := strings.Cut(key, "-"); ok {
			from, to = dayIndex(a), dayIndex(b)
		} else {
			to = from
		}
		if from < 0 || to < 0 || to < from {
			s.add(s.at(h.knode[key]), key, suggest(key, append([]string{"except", "least", "mon-fri"}, dayNames...), "days"), "no day of the week: %s", key)
			h.known = append(h.known, key)
			continue
		}
		v := h.get(key)
		if v == nil {
			h.known = append(h.known, key)
			continue
		}
		ws := s.windows(v)
		for d := from; d <= to; d++ {
			if prev, dup := given[d]; dup {
				s.add(s.at(h.knode[key]), key, "give each day once", "%s is already given by %q", dayNames[d], prev)
				break
			}
			given[d] = key
			hours.Week[weekday(d)] = ws
		}
	}
	hours.Least = h.span("least")
	seen := map[string]bool{}
	for _, en := range h.list("except") {
		if e := s.mapping(en, "an exception to the hours"); e != nil {
			d := DayHours{At: e.pos(), Why: e.str("why")}
			if e.need("date", "write the day, such as `date: 2026-12-25`") {
				d.Date = e.date("date", r.sc)
			} else {
				e.get("date")
			}
			if w := e.get("open"); w != nil {
				d.Windows = s.windows(w)
			}
			e.done()
			if k := d.Date.Format("2006-01-02"); !d.Date.IsZero() {
				if seen[k] {
					s.add(d.At, "", "write one exception for the day, with all its windows", "%s is excepted twice", k)
				}
				seen[k] = true
			}
			hours.Except = append(hours.Except, d)
		}
	}
	sort.SliceStable(hours.Except, func(i, j int) bool { return hours.Except[i].Date.Before(hours.Except[j].Date) })
	h.done()
	open := false
	for _, ws := range hours.Week {
		open = open || len(ws) > 0
	}
	for _, e := range hours.Except {
		open = open || len(e.Windows) > 0
	}
	if !open {
		s.add(s.at(h.n), "", "give at least one day a window, such as `sat: 9:00-12:00`", "the shop never opens")
	}
}

// windows reads `19:00-21:30` or a list of such.
func (s *source) windows(n *yaml.Node) []Window {
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		items = n.Content
	}
	out := []Window{}
	for _, it := range items {
		v, ok := s.scalar(it, "hours")
		if !ok {
			continue
		}
		if v == "shut" {
			continue
		}
		a, b, cut := strings.Cut(strings.ReplaceAll(v, "–", "-"), "-")
		from, ok1 := clock(a)
		to, ok2 := clock(b)
		switch {
		case !cut || !ok1 || !ok2:
			s.add(s.at(it), v, "write from-to on the 24-hour clock, such as 19:00-21:30", "not shop hours: %s", v)
			continue
		case from >= to:
			s.add(s.at(it), v, "end the evening at 24:00 and begin the next day at 0:00", "the hours end before they begin: %s", v)
			continue
		}
		out = append(out, Window{From: from, To: to, At: s.at(it)})
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].From < out[j].From })
	for i := 1; i < len(out); i++ {
		if out[i].From < out[i-1].To {
			s.add(out[i].At, "", "write them as one", "these hours overlap the ones before")
		}
	}
	return out
}

func (r *reader) readAir(o *obj) {
	s := o.s
	a := s.mapping(o.get("air"), "`air`")
	if a == nil {
		return
	}
	air := &r.shop.Air
	air.At = a.pos()
	if d := s.mapping(a.get("day"), "`day`"); d != nil {
		for _, k := range d.order {
			from, ok := clock(k)
			if !ok || from >= 1440 {
				s.add(s.at(d.knode[k]), k, "write a time of day before 24:00, such as `7:00: 18 C`", "not a time of day: %s", k)
				d.known = append(d.known, k)
				continue
			}
			if t := d.temp(k, r.sc); t != nil {
				if t.C() < -40 || t.C() > 60 {
					s.add(s.at(d.keys[k]), d.keys[k].Value, "check the scale: C or F", "no shop is at %s", d.keys[k].Value)
					continue
				}
				air.Steps = append(air.Steps, AirStep{From: from, Temp: *t, At: s.at(d.knode[k])})
			}
		}
		d.done()
	}
	sort.SliceStable(air.Steps, func(i, j int) bool { return air.Steps[i].From < air.Steps[j].From })
	for i := 1; i < len(air.Steps); i++ {
		if air.Steps[i].From == air.Steps[i-1].From {
			s.add(air.Steps[i].At, "", "keep one of the two", "two temperatures from the same time of day")
		}
	}
	air.Humidity = a.integer("humidity", 0, 1, 100)
	for _, n := range a.list("seasons") {
		if c := s.mapping(n, "a season"); c != nil {
			se := SeasonAir{At: c.pos(), Name: c.id("name", false), Humidity: c.integer("humidity", 0, 1, 100)}
			if t := c.temp("temp", r.sc); t != nil {
				se.Temp = *t
			} else {
				c.need("temp", "write the season's temperature in the room where the jig lives")
			}
			c.need("humidity", "write the season's relative humidity in percent")
			c.done()
			air.Season = append(air.Season, se)
		}
	}
	a.done()
}

// checkShop looks at what the shop's files say of each other.
func (r *reader) checkShop() {
	sh := r.shop
	seen := map[string]Pos{}
	once := func(kind, id string, at Pos) {
		if id == "" {
			return
		}
		k := kind + "\x00" + id
		if first, dup := seen[k]; dup {
			where := fmt.Sprintf("line %d", first.Line)
			if first.File != at.File {
				where = first.Where()
			}
			r.at(at, id, "give one of them another id", "the %s %q is already there, on %s", kind, id, where)
			return
		}
		seen[k] = at
	}
	for _, c := range sh.Clamps {
		once("clamp", c.ID, c.At)
	}
	for _, c := range sh.Places {
		once("place", c.ID, c.At)
	}
	for _, c := range sh.Machines {
		once("machine", c.ID, c.At)
	}
	for _, c := range sh.Cutters {
		once("cutter", c.ID, c.At)
	}
	for _, c := range sh.Blades {
		once("blade", c.ID, c.At)
		if c.Machine != "" && sh.machine(c.Machine) == nil {
			r.at(c.At, c.Machine, suggest(c.Machine, sh.machineIDs(), "machines"), "the blade %q is for a machine that is not in the shop: %s", c.ID, c.Machine)
		}
	}
	for _, c := range sh.Stock {
		once("stock", c.ID, c.At)
		for _, p := range c.OnHand {
			once("piece", p.ID, p.At)
		}
	}
	for _, c := range sh.Glues {
		once("glue", c.ID, c.At)
	}
}

// at adds a problem at a place already read, with its line.
func (r *reader) at(at Pos, text, hint, format string, args ...any) {
	p := Problem{Pos: at, Text: text, Hint: hint, Msg: fmt.Sprintf(format, args...)}
	p.Line = r.lineOf(at)
	if i := strings.Index(p.Line, text); text != "" && i >= 0 {
		p.Col = len([]rune(p.Line[:i])) + 1
	}
	r.probs = append(r.probs, p)
}
