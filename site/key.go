package site

import (
	"encoding/binary"
	"hash/maphash"
	"math"
	"reflect"
	"sort"
	"time"

	"caul/job"
)

var (
	seedA, seedB = maphash.MakeSeed(), maphash.MakeSeed()
	timeType     = reflect.TypeFor[time.Time]()
	zoneType     = reflect.TypeFor[*time.Location]()
)

// mark is a running mark of values: equal values give equal marks within one
// run of the program, and it is used within one only.
type mark struct{ buf []byte }

func newMark() *mark { return &mark{} }

func (p *mark) bytes(b []byte) { p.buf = append(p.buf, b...) }

func (p *mark) word(n uint64) { p.buf = binary.AppendUvarint(p.buf, n) }

func (p *mark) text(s string) {
	p.word(uint64(len(s)))
	p.buf = append(p.buf, s...)
}

func (p *mark) sum() [2]uint64 {
	return [2]uint64{maphash.Bytes(seedA, p.buf), maphash.Bytes(seedB, p.buf)}
}

// value takes in a value whole: every field, in order, maps by key. Fields
// that are left out of JSON by their tag are the engines' own and left out
// here too.
func (p *mark) value(v reflect.Value) {
	switch v.Kind() {
	case reflect.Invalid:
		p.word(0)
	case reflect.Bool:
		if v.Bool() {
			p.word(1)
		} else {
			p.word(2)
		}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		p.word(uint64(v.Int())) //nolint:gosec // a mark, not a number
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		p.word(v.Uint())
	case reflect.Float32, reflect.Float64:
		p.word(math.Float64bits(v.Float()))
	case reflect.String:
		p.text(v.String())
	case reflect.Slice, reflect.Array:
		if v.Kind() == reflect.Slice && v.Type().Elem().Kind() == reflect.Uint8 {
			p.word(uint64(v.Len()))
			p.bytes(v.Bytes())
			return
		}
		p.word(uint64(v.Len()))
		for i := range v.Len() {
			p.value(v.Index(i))
		}
	case reflect.Map:
		keys := v.MapKeys()
		sort.Slice(keys, func(a, b int) bool { return less(keys[a], keys[b]) })
		p.word(uint64(len(keys)))
		for _, k := range keys {
			p.value(k)
			p.value(v.MapIndex(k))
		}
	case reflect.Pointer, reflect.Interface:
		switch {
		case v.IsNil():
			p.word(0)
		case v.Type() == zoneType:
			// zones of one name are one zone; a clock's own is never looked into
			p.text("zone")
		default:
			p.word(1)
			p.value(v.Elem())
		}
	case reflect.Struct:
		t := v.Type()
		if t == timeType && v.CanInterface() {
			at, _ := v.Interface().(time.Time)
			_, off := at.Zone()
			p.word(uint64(at.Unix())) //nolint:gosec // a mark
			p.word(uint64(at.Nanosecond()))
			p.word(uint64(off)) //nolint:gosec // a mark
			return
		}
		for i := range v.NumField() {
			if t.Field(i).Tag.Get("json") == "-" {
				continue
			}
			p.value(v.Field(i))
		}
	}
}

func less(a, b reflect.Value) bool {
	if a.Kind() == reflect.String {
		return a.String() < b.String()
	}
	if a.CanInt() {
		return a.Int() < b.Int()
	}
	return false
}

func (p *mark) add(vs ...any) {
	for _, v := range vs {
		p.value(reflect.ValueOf(v))
	}
}

// entry marks a log entry; logs are most of a large shop, so it is written out
// and not looked through field by field. A field that is new belongs here, too:
// a test counts them.
func (p *mark) entry(e *job.Entry) {
	for _, s := range [...]string{e.File, e.ID, e.Machine, e.Did, e.Step, e.Entry, e.Check, e.Item, e.Text, e.Tap} {
		p.text(s)
	}
	_, off := e.Time.Zone()
	p.word(uint64(e.Time.Unix())) //nolint:gosec // a mark
	p.word(uint64(e.Time.Nanosecond()))
	p.word(uint64(off)) //nolint:gosec // a mark
	flags := uint64(0)
	if e.Private {
		flags |= 1
	}
	if e.Value.Set {
		flags |= 2
	}
	if e.Air != nil || e.Paid != nil {
		flags |= 4
	}
	p.word(flags)
	p.word(uint64(e.Value.Length)) //nolint:gosec // a mark
	p.word(uint64(e.Minutes))      //nolint:gosec // a mark
	p.word(uint64(e.Qty))          //nolint:gosec // a mark
	if flags&4 != 0 {
		p.add(e.Air, e.Paid)
	}
	p.word(uint64(len(e.Five)))
	for _, d := range e.Five {
		p.word(uint64(d.Length)) //nolint:gosec // a mark
	}
	if len(e.Clamps) > 0 {
		p.add(e.Clamps)
	}
	p.word(uint64(len(e.Pictures)))
	for _, x := range e.Pictures {
		p.text(x.File)
		p.text(x.Alt)
	}
}

// shopKey marks all of the shop that a job's pages may show.
func (r *renderer) shopKey() [2]uint64 {
	p := newMark()
	s := *r.in.Shop
	s.Jobs, s.Dir = nil, ""
	p.add(s, r.in.Shared, r.drawnAt(), r.in.Open != nil)
	p.text(r.zone().String())
	return p.sum()
}

// jobKey marks all that a job's pages are drawn from.
func (r *renderer) jobKey(j *job.Job, shop [2]uint64, p *mark) [2]uint64 {
	p.buf = p.buf[:0]
	bare := *j
	bare.Log = nil
	for i := range j.Log {
		p.entry(&j.Log[i])
	}
	p.add(shop, bare, r.plans[j.ID], r.items[j.ID], r.finds[j.ID], r.in.Cuts[j.ID], r.in.Bills[j.ID])
	if len(r.items[j.ID]) > 0 {
		p.add(r.in.Plan.Now, r.in.Plan.Days, r.in.Plan.Proved, r.in.Plan.Within)
	}
	return p.sum()
}
