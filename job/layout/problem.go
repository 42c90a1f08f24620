package layout

import (
	"errors"
	"fmt"
	"math/bits"
)

// MaxLength is the largest length that a problem may state, and MaxArea the
// largest area of a sheet or part with the kerf added on both sides. They keep
// every figure inside an int64.
const (
	MaxLength = int64(1) << 33
	MaxArea   = int64(1) << 62
)

// MaxParts is the largest number of parts, copies counted, in one problem.
const MaxParts = 20000

// Rect is a rectangle: its corner nearest the origin and its size.
type Rect struct {
	X, Y int64 // corner, from the left and the near edge
	W, H int64 // size along x and along y
}

// Trim is what is lost at each edge of a sheet, the kerf of the trimming cut
// included.
type Trim struct {
	Left, Right int64 // at low and high x: the ends of the grain
	Near, Far   int64 // at low and high y
}

// Stock is one kind of sheet or board.
type Stock struct {
	Name    string
	X, Y    int64  // size along and across the grain; Y may be 0 where parts have lengths only
	Trim    Trim   // lost at the edges
	Price   int64  // of one, in the smallest unit of money; 0 for what is on hand
	Qty     int    // how many there are; -1 for as many as wanted
	OnHand  bool   // already there: used before anything is bought
	Defects []Rect // in sheet coordinates, from the untrimmed corner; no part may overlap one
}

// Part is one kind of part.
type Part struct {
	Name   string
	X, Y   int64  // size along and across the grain; Y of 0 means as wide as the stock (then for all parts)
	Qty    int    // how many are wanted
	Turn   bool   // may lie turned by 90 degrees; false is locked to the grain
	Group  string // all parts of a group come from one sheet; "" for no group
	Stocks []int  // the kinds of stock it may come from, by index; nil for any
}

// Problem is a cut list and the stock to cut it from.
type Problem struct {
	Kerf         int64
	Stocks       []Stock
	Parts        []Part
	MaxStages    int   // how often a piece may change direction under the saw, first direction counted; 0 for no limit
	KeepX, KeepY int64 // the smallest offcut worth keeping, along and across the grain
}

// Axis says which size of a piece a cut divides.
type Axis int8

const (
	// None marks a piece that is not cut any further.
	None Axis = iota
	// AlongX divides the X of a piece: a crosscut, where x is the grain.
	AlongX
	// AlongY divides the Y of a piece: a rip, where x is the grain.
	AlongY
)

// String gives "none", "x" or "y".
func (a Axis) String() string {
	switch a {
	case AlongX:
		return "x"
	case AlongY:
		return "y"
	}
	return "none"
}

// Node is a piece of a sheet: the sheet inside its trim, or what a cut left.
//
// A piece with a Cut has two kids: Near, At long along the axis that is cut,
// and Far, what remains beyond the kerf. Far is nil where the kerf takes all
// that remains. A piece without a Cut is a part or an offcut.
type Node struct {
	Rect
	Cut       Axis
	At        int64 // size of Near along the axis: the fence setting
	Near, Far *Node
	Part      int  // index into Problem.Parts, -1 for no part
	Turned    bool // the part lies turned by 90 degrees
}

// Placed is one part on a sheet.
type Placed struct {
	Part       int // index into Problem.Parts
	X, Y, W, H int64
	Turned     bool
}

// Sheet is one sheet of stock and how it is cut.
type Sheet struct {
	Stock   int      // index into Problem.Stocks
	Root    *Node    // the piece inside the trim and the cuts in it
	Placed  []Placed // the parts, in the order the cuts release them
	Offcuts []Rect   // pieces without a part, at least KeepX by KeepY, largest first
}

// Reason says why a part is not in the layout.
type Reason int8

const (
	// TooLarge means that no allowed kind of stock is large enough, or free enough of defects, for the part.
	TooLarge Reason = iota + 1
	// GroupTooLarge means that no layout was found that has the whole group on one sheet.
	GroupTooLarge
	// OutOfStock means that the stock there is does not suffice, as far as the search went.
	OutOfStock
)

// String names the reason in lower case.
func (r Reason) String() string {
	switch r {
	case TooLarge:
		return "larger than any allowed stock"
	case GroupTooLarge:
		return "group does not fit on one sheet"
	case OutOfStock:
		return "not enough stock"
	}
	return "unknown"
}

// Unplaced is a part, or some of its copies, that is not in the layout.
type Unplaced struct {
	Part   int // index into Problem.Parts
	Qty    int
	Reason Reason
	Proved bool // true where no layout can hold it; false where the search found none
}

// Proof names what a bound rests on.
type Proof string

// The kinds of proof, from the plainest to the strongest.
const (
	NoProof     Proof = ""
	ByArea      Proof = "area"                    // the parts' area against the stock's
	ByDual      Proof = "dual feasible functions" // the area again, after sizes are rounded in ways that no layout can notice
	ByPatterns  Proof = "pattern relaxation"      // a weighted mix of all possible sheets cannot do it either
	BySearch    Proof = "exhaustive search"
	ByNecessity Proof = "necessity" // follows at once from the problem or from a level before
)

// Level is one level of the objective: what the layout reaches and what no
// layout can better. For Offcut larger is better and Bound is an upper bound;
// for all others smaller is better and Bound is a lower bound.
type Level struct {
	Value  int64
	Bound  int64
	Proved bool // Value is the best there is, given the levels before
	By     Proof
}

// Result is a layout and what is known about it.
type Result struct {
	Sheets   []Sheet
	Unplaced []Unplaced

	Cost     Level // sum of the prices of the sheets used
	Bought   Level // number of sheets that are not on hand
	Used     Level // number of sheets
	Offcut   Level // area of the largest single keepable offcut free of defects; its length where parts have lengths only
	Settings Level // number of different fence settings: axis and At of a cut

	Cuts   int   // number of cuts
	Stages int   // largest number of directions in a row, see Problem.MaxStages
	Work   int64 // work units spent
	Ended  bool  // the context ended before the work was done
}

// Options steer a search.
type Options struct {
	Work     int64          // work units to spend; 0 for the default. One unit is about one microsecond on one core; the last two levels get up to a tenth more.
	Seed     uint64         // equal seeds give equal answers
	Workers  int            // searches that run side by side; 0 and less mean 1. Each has the full budget.
	Progress func(Progress) // called now and then, never by two searches at once; may be nil
}

// Progress is a note on the way.
type Progress struct {
	Work, Budget int64
	Best         *Result // the best layout so far; not to be changed
}

// DefaultWork is the budget where none is given: about two seconds on one core.
const DefaultWork = int64(2_000_000)

// ErrProblem is wrapped by every error about a problem that cannot be solved
// because it is not well stated.
var ErrProblem = errors.New("cut list")

func bad(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrProblem, fmt.Sprintf(format, args...))
}

// Validate says what is wrong with the statement of the problem, or nil.
func (p *Problem) Validate() error {
	if p == nil {
		return bad("no problem given")
	}
	if p.Kerf < 0 || p.Kerf > MaxLength {
		return bad("kerf %d is out of range", p.Kerf)
	}
	if p.MaxStages < 0 {
		return bad("limit of %d stages is negative", p.MaxStages)
	}
	if p.KeepX < 0 || p.KeepY < 0 {
		return bad("smallest offcut %d x %d is negative", p.KeepX, p.KeepY)
	}
	for i, s := range p.Stocks {
		if err := s.validate(i); err != nil {
			return err
		}
		if tooLarge(s.X, s.Y, p.Kerf) {
			return bad("stock %d %q: area of %d x %d is out of range", i, s.Name, s.X, s.Y)
		}
	}
	var flat, wide int
	total := 0
	for i, q := range p.Parts {
		switch {
		case q.X <= 0 || q.X > MaxLength || q.Y < 0 || q.Y > MaxLength:
			return bad("part %d %q: size %d x %d is out of range", i, q.Name, q.X, q.Y)
		case tooLarge(q.X, q.Y, p.Kerf):
			return bad("part %d %q: area of %d x %d is out of range", i, q.Name, q.X, q.Y)
		case q.Qty < 0 || q.Qty > MaxParts:
			return bad("part %d %q: quantity %d is out of range", i, q.Name, q.Qty)
		}
		for _, s := range q.Stocks {
			if s < 0 || s >= len(p.Stocks) {
				return bad("part %d %q: stock %d does not exist", i, q.Name, s)
			}
		}
		if q.Y == 0 {
			flat++
		} else {
			wide++
		}
		if total += q.Qty; total > MaxParts {
			return bad("more than %d parts", MaxParts)
		}
	}
	if flat > 0 && wide > 0 {
		return bad("some parts have a width and some have none")
	}
	return nil
}

func tooLarge(x, y, kerf int64) bool {
	hi, lo := bits.Mul64(uint64(x+kerf), uint64(y+kerf))
	return hi != 0 || lo > uint64(MaxArea)
}

func (s *Stock) validate(i int) error {
	switch {
	case s.X <= 0 || s.X > MaxLength || s.Y < 0 || s.Y > MaxLength:
		return bad("stock %d %q: size %d x %d is out of range", i, s.Name, s.X, s.Y)
	case s.Price < 0 || s.Price > 1<<40:
		return bad("stock %d %q: price %d is out of range", i, s.Name, s.Price)
	case s.Qty < -1:
		return bad("stock %d %q: quantity %d is out of range", i, s.Name, s.Qty)
	}
	t := s.Trim
	for _, v := range [4]int64{t.Left, t.Right, t.Near, t.Far} {
		if v < 0 || v > MaxLength {
			return bad("stock %d %q: trim %d is out of range", i, s.Name, v)
		}
	}
	for _, d := range s.Defects {
		if d.W <= 0 || d.H < 0 || d.W > MaxLength || d.H > MaxLength ||
			d.X < -MaxLength || d.X > MaxLength || d.Y < -MaxLength || d.Y > MaxLength {
			return bad("stock %d %q: defect %d x %d at %d, %d is out of range", i, s.Name, d.W, d.H, d.X, d.Y)
		}
	}
	return nil
}

// flat says whether the parts have lengths only.
func (p *Problem) flat() bool {
	return len(p.Parts) > 0 && p.Parts[0].Y == 0
}

// usable is the rectangle inside the trim; W or H is below zero where the trim takes all.
func (s *Stock) usable() Rect {
	return Rect{s.Trim.Left, s.Trim.Near, s.X - s.Trim.Left - s.Trim.Right, s.Y - s.Trim.Near - s.Trim.Far}
}
