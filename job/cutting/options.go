package cutting

import (
	"caul/job"
	"caul/job/machine"
	"caul/job/measure"
)

// Options say what to lay out and how. The zero value lays out every open job
// with the shop's own figures.
type Options struct {
	Jobs       []string // ids; empty: every job that is not done
	Copies     int      // how many copies of each job, instead of what its file says; 0: as the file says
	Blade      string   // id of the blade that cuts; empty: the table saw's
	Budget     int64    // work of the search for each kind of stock, in engine units of about a microsecond; 0: the engine's default
	Workers    int      // searches side by side
	MaxStages  int      // how often a piece may turn under the saw; 0: as often as it helps
	Keep       [2]measure.Length
	Mill       *Allowance // instead of DefaultAllowance
	Limits     *Limits    // instead of DefaultLimits
	Everything bool       // lay out parts the log says are cut, too
	Entries    bool       // only entries say that a part is cut, not the steps done since: a layout is written down after its step was finished
	Progress   func(Progress)
}

// Progress is a note on the way.
type Progress struct {
	Stock        string
	Work, Budget int64
	Used         int // pieces of stock in the best layout so far
}

// Allowance is what is left on parts from boards for milling.
type Allowance struct {
	Length measure.Length // on the length of a part from a rough board, and of every strip of a panel
	Width  measure.Length // on the width of a part from a rough board
	Thick  measure.Length // that a rough board loses in dressing, up to 6/4
	Heavy  measure.Length // the same from 7/4 up
	Joint  measure.Length // on the width of a strip from a dressed board, to joint both its edges
	Panel  measure.Length // on the width of a glued-up panel, ripped off when it is trimmed
}

// DefaultAllowance is common practice, no source, except the thickness: that
// is the difference between rough and surfaced-two-sides lumber in the NHLA
// thickness table, 3/16 in up to 6/4 and 1/4 in from 7/4.
func DefaultAllowance(s measure.System) Allowance {
	if s == measure.Metric {
		return Allowance{Length: 25 * measure.MM, Width: 6 * measure.MM, Thick: 5 * measure.MM,
			Heavy: 6 * measure.MM, Joint: 3 * measure.MM, Panel: 6 * measure.MM}
	}
	return Allowance{Length: measure.Inch, Width: measure.Inch / 4, Thick: 3 * measure.Inch / 16,
		Heavy: measure.Inch / 4, Joint: measure.Inch / 8, Panel: measure.Inch / 4}
}

// Limits are the sizes below which a cut carries a caution.
type Limits struct {
	Narrow measure.Length // rip: a strip narrower than this
	Block  measure.Length // rip: gap between fence and blade under which a push block is used
	Stick  measure.Length // rip: gap under which a push stick is used
	Short  measure.Length // crosscut: a piece shorter than this
	Feed   measure.Length // rip: a piece shorter than this along the cut
	Gauge  measure.Length // crosscut: a piece wider than this does not ride on a mitre gauge
}

// DefaultLimits are common practice, no source, except Block and Stick: 50 and
// 150 mm are the gaps that the safety text for transportable table saws prints
// (wording of IEC/EN 62841-3-1, standard number not verified), here 2 and 6 in.
func DefaultLimits(s measure.System) Limits {
	if s == measure.Metric {
		return Limits{Narrow: 20 * measure.MM, Block: 50 * measure.MM, Stick: 150 * measure.MM, Short: 100 * measure.MM, Feed: 300 * measure.MM, Gauge: 600 * measure.MM}
	}
	return Limits{Narrow: 3 * measure.Inch / 4, Block: 2 * measure.Inch, Stick: 6 * measure.Inch, Short: 4 * measure.Inch, Feed: 12 * measure.Inch, Gauge: 24 * measure.Inch}
}

// keep is the smallest offcut worth keeping, along and across the grain;
// common practice, no source.
func (o *Options) keep(s measure.System) [2]measure.Length {
	if o.Keep != [2]measure.Length{} {
		return o.Keep
	}
	if s == measure.Metric {
		return [2]measure.Length{300 * measure.MM, 100 * measure.MM}
	}
	return [2]measure.Length{12 * measure.Inch, 4 * measure.Inch}
}

// kerf gives the width of the cut and says whose it is: the blade asked for,
// the first blade of a table saw, the first blade of any machine, or the usual
// kerf of the first saw the shop has, else of a table saw (job/machine; common
// practice, no source).
func kerf(shop *job.Shop, id string) (measure.Length, string, bool) {
	var any *job.Blade
	for i := range shop.Blades {
		b := &shop.Blades[i]
		if !b.Kerf.Set {
			continue
		}
		if id != "" {
			if b.ID == id {
				return b.Kerf.Length, b.ID, true
			}
			continue
		}
		if m := shop.MachineByID(b.Machine); m != nil && m.Kind == tableSaw {
			return b.Kerf.Length, b.ID, true
		}
		if any == nil {
			any = b
		}
	}
	if id == "" && any != nil {
		return any.Kerf.Length, any.ID, true
	}
	usual := map[string]measure.Length{}
	for _, k := range machine.Kinds() {
		usual[k.ID] = k.Kerf
	}
	for _, m := range shop.Machines {
		if k := usual[m.Kind]; k > 0 {
			return k, "usual for a " + m.Kind + "; common practice, no source", id == ""
		}
	}
	return machine.FullKerf, "usual for a table saw; common practice, no source", id == ""
}

const tableSaw = "table-saw"
