package bench

import (
	"math/big"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// Verdict is the reading that an entry wrote, held against its check; nil where
// it is not there. Its words are in decimals, as a gauge shows them.
func Verdict(s *job.Shop, j *job.Job, check, entry string) *proof.Reading {
	if j == nil || j.Check(check) == nil {
		return nil
	}
	for _, se := range proof.Readings(s, j, time.Time{}) {
		for _, r := range se.Readings {
			if se.Check == check && r.Entry == entry {
				return inDecimals(s, j.Check(check), r)
			}
		}
	}
	return nil
}

func inDecimals(s *job.Shop, c *job.Check, r proof.Reading) *proof.Reading {
	sys := s.Units.Length.System
	r.Text = gauge(r.Value, sys) + ", true"
	if !r.True {
		r.Text = gauge(r.Value, sys) + ", out: wants " + wants(c, sys)
	}
	r.Shim = strings.Replace(r.Shim, measure.FormatUnit(r.Value, s.Units.Length), gauge(r.Value, sys), 1)
	return &r
}

// verdicts are all readings of a job by their entry, and the newest of every
// check.
func verdicts(s *job.Shop, j *job.Job) (byEntry, newest map[string]*proof.Reading) {
	byEntry, newest = map[string]*proof.Reading{}, map[string]*proof.Reading{}
	for _, se := range proof.Readings(s, j, time.Time{}) {
		for _, r := range se.Readings {
			v := inDecimals(s, j.Check(se.Check), r)
			byEntry[r.Entry], newest[se.Check] = v, v
		}
	}
	return byEntry, newest
}

// wants is a check's tolerance in words.
func wants(c *job.Check, sys measure.System) string {
	var w []string
	for _, x := range []struct {
		what string
		d    job.Dim
	}{{"", c.Nominal}, {"within ", c.Within}, {"at least ", c.AtLeast}, {"at most ", c.AtMost}} {
		if x.d.Set {
			w = append(w, x.what+gauge(x.d.Length, sys))
		}
	}
	return strings.Join(w, ", ")
}

// gauge writes a length in decimals: to 0.0001 in or 0.001 mm, without closing
// zeros.
func gauge(l measure.Length, sys measure.System) string {
	unit, places, name := measure.MM, 3, " mm"
	if sys == measure.Inches {
		unit, places, name = measure.Inch, 4, " in"
	}
	text := new(big.Rat).SetFrac64(int64(l), int64(unit)).FloatString(places)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".") + name
}
