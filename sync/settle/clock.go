package settle

import (
	"bytes"
	"time"
)

// stamp is when and where a value was made.
type stamp struct {
	machine string
	when    time.Time
}

// stampOf keeps a stamp writable: UTC, and a year of four digits, however wrong
// a clock was.
func stampOf(machine string, when time.Time) stamp {
	when = when.UTC()
	if y := when.Year(); y < 1 {
		when = time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC)
	} else if y > 9999 {
		when = time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC)
	}
	return stamp{machine, when}
}

// less orders stamps by time, then machine.
func (s stamp) less(t stamp) bool {
	if !s.when.Equal(t.when) {
		return s.when.Before(t.when)
	}
	return s.machine < t.machine
}

// voice is one side of a settling: its stamp, and its edits once asked for.
type voice struct {
	side  Side
	edits []Edit
	asked bool
}

// made says when this side made a value: the latest of its edits after which
// the value was there and before which it was not. Without such an edit, the
// side's last change of the file.
func (v *voice) made(has func(File) bool) stamp {
	if !v.asked {
		v.asked = true
		if v.side.Edits != nil {
			v.edits = v.side.Edits()
		}
	}
	best, found := stampOf(v.side.Machine, v.side.When), false
	for _, e := range v.edits {
		if s := stampOf(e.Machine, e.When); has(e.After) && !has(e.Before) && (!found || best.less(s)) {
			best, found = s, true
		}
	}
	return best
}

// swapSides orders two versions so that what follows does not depend on which
// machine is at work: the older first; ties by machine name, then by bytes.
func swapSides(o, t File, a, b Side) bool {
	x, y := stampOf(a.Machine, a.When), stampOf(b.Machine, b.When)
	if x.less(y) || y.less(x) {
		return y.less(x)
	}
	if o.Exists != t.Exists {
		return o.Exists
	}
	return bytes.Compare(o.Data, t.Data) > 0
}

// settling is the state of one call: what is gathered while a file is put
// together.
type settling struct {
	path     string
	kind     Kind // of the value records made now
	old, new *voice
	records  []Record
	notes    []string
	trees    map[string]*doc // edits read as YAML, by content
}

// clash settles one value that both sides changed. Which one stands: what is
// there before what is gone, then the newer, then the bytes. It returns true
// if the new side's stands, and keeps the other in a record.
func (m *settling) clash(kind Kind, what string, base, old, new File, hasOld, hasNew func(File) bool) bool {
	so, sn := m.old.made(hasOld), m.new.made(hasNew)
	newStands := so.less(sn)
	if !newStands && !sn.less(so) {
		newStands = bytes.Compare(old.Data, new.Data) < 0
	}
	if old.Exists != new.Exists {
		newStands = new.Exists
	}
	base, old, new = base.tidy(), old.tidy(), new.tidy()
	vo := Value{old.Exists, old.Data, so.machine, so.when}
	vn := Value{new.Exists, new.Data, sn.machine, sn.when}
	r := Record{Path: m.path, Kind: kind, What: what, Base: base, Stands: vo, Other: vn}
	if newStands {
		r.Stands, r.Other = vn, vo
	}
	m.records = append(m.records, r)
	return newStands
}

// tidy has nil bytes for what is absent and only for that.
func (f File) tidy() File {
	switch {
	case !f.Exists:
		return File{}
	case f.Data == nil:
		return File{true, []byte{}}
	}
	return f
}
